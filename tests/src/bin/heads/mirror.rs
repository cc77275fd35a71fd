//! A glossy board between emitter and eye: the sheet and its mirror image.

use crate::line::{Bare, Outcome, beam, eye};
use crate::rooms::ALLOWED_UM;
use crate::table::Tally;
use skimgauge_bench::room::profile::{Light, Mirror, RoomLight};
use skimgauge_head::profile::Wanted;
use skimgauge_shared::units::Micrometres;

/// From the sheet's middle to its image's in thicknesses: where the table's rows begin.
const ROWS: [f64; 11] = [0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 1.0, 1.25, 1.5, 2.0];
/// Nearer than this two sheets are one for any eye.
pub(crate) const APART: f64 = 0.5;

pub(crate) struct Mirrored {
    outcome: Outcome,
    error_um: f64,
    /// In thicknesses.
    apart: f64,
}

impl Mirrored {
    pub(crate) fn wrong(&self) -> bool {
        self.outcome.sure() && self.error_um.abs() > ALLOWED_UM
    }
}

/// A board that rises into the sheet until so much is left between them; its emitter's sheet is
/// known.
pub(crate) fn mirrored(seed: u64) -> Mirrored {
    let (line, pixels, mut noise) = eye(seed);
    let room = RoomLight {
        slope: noise.uniform(-1.0, 1.0),
        curve: noise.uniform(-0.5, 0.5),
        ..RoomLight::even(noise.uniform(0.0, 0.3))
    };
    let mut beam = beam(&line, &mut noise);
    beam.middle_mm = noise.uniform(2.0, 14.0);
    beam.volts_per_ms = noise.uniform(0.2, 5.0);
    let apart = noise.uniform(0.03, 2.4);
    beam.mirror = Some(Mirror {
        rise_mm: beam.middle_mm - apart * beam.thickness_mm / 2.0,
        gloss: noise.uniform(0.02, 1.0),
        grazing_mrad: noise.uniform(0.5, 20.0),
    });
    let wanted = Wanted::of(Micrometres::from_mm(beam.thickness_mm));
    let light = Light { beam: Some(beam), room, ..Light::default() };
    let outcome = Bare::new(line, pixels, light, wanted).run();
    let error_um = (outcome.middle_mm - beam.middle_mm) * 1e3;
    Mirrored { outcome, error_um, apart }
}

pub(crate) fn print(all: &[Mirrored]) {
    println!(
        "{:>12} {:>6} {:>6} {:>6} {:>8} {:>6}  not read",
        "thicknesses", "heads", "named", "right", "worst um", "wrong"
    );
    for (row, from) in ROWS.iter().enumerate() {
        let to = ROWS.get(row + 1).copied().unwrap_or(f64::INFINITY);
        let here: Vec<&Mirrored> = all.iter().filter(|m| (*from..to).contains(&m.apart)).collect();
        let named: Vec<String> =
            here.iter().filter(|m| !m.outcome.sure()).map(|m| m.outcome.said()).collect();
        let right: Vec<f64> = here
            .iter()
            .filter(|m| m.outcome.sure() && !m.wrong())
            .map(|m| m.error_um.abs())
            .collect();
        println!(
            "{from:>12} {:>6} {:>6} {:>6} {:>8.1} {:>6}  {}",
            here.len(),
            named.len(),
            right.len(),
            right.iter().copied().fold(0.0, f64::max),
            here.iter().filter(|m| m.wrong()).count(),
            Tally::of(named.into_iter()),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mirrored_sheet_half_a_thickness_away_is_named_or_right() {
        let far: Vec<Mirrored> = (0..50).map(mirrored).filter(|m| m.apart >= APART).collect();
        assert!(far.iter().all(|m| !m.wrong()));
        assert!(far.iter().any(|m| m.outcome.sure()) && far.iter().any(|m| !m.outcome.sure()));
    }
}
