//! How much one scan's middle scatters, against the design's numerical trial.

use crate::line::eye;
use skimgauge_bench::room::profile::{Beam, Light, RoomLight};
use skimgauge_head::profile::window::{Fit, Frame, Span};
use skimgauge_head::profile::{Wanted, line::Lit, look};
use skimgauge_shared::pixels::Pixels;
use skimgauge_shared::units::Microseconds;

/// Sheet and room light, V, and the trial's scatter, um.
pub(crate) const TRIAL: [(f64, f64, Option<f64>); 5] = [
    (0.5, 0.1, Some(4.0)),
    (0.5, 1.0, Some(21.0)),
    (0.05, 0.1, Some(34.0)),
    (1.5, 0.1, None),
    (1.5, 1.0, None),
];

/// Scatter over heads of one scan's middle, um: the bare window of an uncompared line; what is read
/// from it and from a compared one, with the share of scans that are read.
pub(crate) struct Row {
    pub bare_um: f64,
    uncompared: (f64, f64),
    compared: (f64, f64),
}

pub(crate) fn row(sheet_v: f64, room_v: f64, heads: u64) -> Row {
    let mut errors: [Vec<f64>; 3] = Default::default();
    for seed in 0..heads {
        let (mut line, compared, mut noise) = eye(seed);
        let uncompared = Pixels { residual: 0, ..line.uncompared() };
        let middle = 126.0 + noise.uniform(-0.5, 0.5);
        let beam = Beam {
            middle_mm: line.height_mm(middle),
            thickness_mm: 1.5,
            order: 2.0,
            volts_per_ms: sheet_v,
            azimuth_deg: 0.0,
            mirror: None,
        };
        let light = Light { beam: Some(beam), room: RoomLight::even(room_v), ..Light::default() };
        let scan = line.scan(&light, 0.0, 1_000.0);
        let frame = Frame {
            centre: 126,
            half: 24,
            left: Span { from: 78, len: 24 },
            right: Span { from: 151, len: 24 },
        };
        let bare = Fit::of(&Lit::new(&scan, &uncompared), frame, 80).map(|fit| fit.middle());
        let read = |pixels: &Pixels| {
            look(&scan, Some(Microseconds(1_000)), None, pixels, &Wanted::ANY)
                .sheet
                .ok()
                .map(|profile| profile.middle)
        };
        for (errors, seen) in errors.iter_mut().zip([bare, read(&uncompared), read(&compared)]) {
            errors.extend(seen.map(|seen| (f64::from(seen.0) / 256.0 - middle) * 63.5));
        }
    }
    let rms = |e: &Vec<f64>| (e.iter().map(|e| e * e).sum::<f64>() / e.len() as f64).sqrt();
    let both = |e: &Vec<f64>| (rms(e), e.len() as f64 / heads as f64);
    Row { bare_um: rms(&errors[0]), uncompared: both(&errors[1]), compared: both(&errors[2]) }
}

pub(crate) fn print(heads: u64) {
    println!(
        "{:>7} {:>7} {:>9} {:>9} {:>22} {:>22}",
        "sheet", "room", "trial um", "bare um", "uncompared um, read", "compared um, read"
    );
    for (sheet_v, room_v, trial_um) in TRIAL {
        let Row { bare_um, uncompared, compared } = row(sheet_v, room_v, heads);
        let trial = trial_um.map_or("-".to_owned(), |um| format!("{um:.0}"));
        let read = |(um, share): (f64, f64)| format!("{um:.1}, {:.0} %", share * 100.0);
        println!(
            "{:>7} {:>7} {trial:>9} {bare_um:>9.1} {:>22} {:>22}",
            format!("{sheet_v} V"),
            format!("{room_v} V"),
            read(uncompared),
            read(compared)
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_scan_scatters_as_in_the_trial() {
        for (sheet_v, room_v, trial_um) in TRIAL {
            let Some(trial_um) = trial_um else { continue };
            let ratio = row(sheet_v, room_v, 300).bare_um / trial_um;
            assert!((0.65..1.5).contains(&ratio), "{sheet_v} V over {room_v} V: {ratio}");
        }
    }
}
