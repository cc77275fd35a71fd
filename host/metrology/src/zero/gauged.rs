//! The gauge's stands as observations, and what the gauge cannot take away, with its origin.

use super::fit::{Effect, Effects, Observation, Scaled, Slope, through};
use super::outcome::ZeroError;
use super::session::{Gauge, Lamp, Stand};
use super::slits::{self, Line};
use skimgauge_shared::calibration::{Calibration, PIVOT_CODE};
use skimgauge_shared::pixels::Pixels;

/// Lifts that move the stand-off by this make a scale, mm.
const LIFTED_MM: f64 = 0.5;
/// A slit whose middle stands here in the eye, mm, is seen if it is lit.
const IN_WINDOW_MM: core::ops::RangeInclusive<f64> = 0.9..=15.3;
/// Between the gauge's walls, mm, and from the middle of the nearer one to the pixels, at most, as the
/// guide has it stand (`hardware/body/params.toml`, `hardware/assembly/7-gauge.md`).
const APART_MM: f64 = 40.0;
const BEHIND_MM: f64 = 15.0;
/// A slit, mm.
const SLIT_MM: f64 = 0.3;
/// Slits of one height are in line to this (`hardware/assembly/7-gauge.md`), mm.
const OUT_OF_LINE_MM: f64 = 0.02;
/// What dirt lifts a gauge that was wiped by, at most, mm; common practice, no source.
const UNDER_GAUGE_MM: f64 = 0.005;
/// A lamp's unevenness over a slit moves its line's middle by less than this, mm: a sixtieth of
/// the slit, an evenness of a fifth across it (`slit / 12 * 0.2`).
const LAMP_MM: f64 = 0.005;
/// The same of the emitter's sheet, half as bright at one edge of the slit as at the other.
const SHEET_MM: f64 = 0.0125;
/// Play of the eye's swivel (`hardware/body/params.toml`), mm.
const SWIVEL_MM: f64 = 0.005;
/// Three leaves under the feet are unequal by less than 0.05 mm over 40 mm, which leans the eye
/// against the spot 10 mm below it, mm; common practice, no source.
const LEAVES_MM: f64 = 0.0125;

/// Limits taken as equally likely inside (GUM, JCGM 100, 4.3.7).
fn limit(from: &str, mm: f64) -> Effect {
    Effect { from: from.to_owned(), u_mm: mm / 3f64.sqrt() }
}

/// A standard uncertainty as it was stated.
fn stated(from: &str, u_mm: f64) -> Effect {
    Effect { from: from.to_owned(), u_mm }
}

/// What observations on this gauge share. `narrowest_mm` is the narrowest line seen: a sheet at a
/// slope `m` comes through two slits in line only where they overlap, `slit - apart m`, and off by
/// `m (apart / 2 + behind)`: its width says how far off it may be at most.
fn effects(gauge: &Gauge, seat_u_mm: f64, narrowest_mm: f64) -> Effects {
    let lamp = match gauge.lamp {
        Lamp::Own => limit("lamp's unevenness over a slit", LAMP_MM),
        Lamp::Emitter => {
            // Four standard deviations of a flat line are 4 / root 12 of its height; a pixel adds its
            // own.
            let flat = (narrowest_mm.powi(2) - (4.0 / 12f64.sqrt() * slits::PITCH_MM).powi(2))
                .max(0.0)
                .sqrt()
                * 12f64.sqrt()
                / 4.0;
            let lost_mm = (SLIT_MM - flat).clamp(0.0, SLIT_MM);
            let off_mm = lost_mm * (0.5 + BEHIND_MM / APART_MM);
            limit("slope of the emitter's sheet", SHEET_MM + off_mm)
        }
    };
    Effects {
        slit: vec![stated("slits' heights (label)", gauge.u_mm)],
        gauge: vec![
            lamp,
            limit("slits out of line", OUT_OF_LINE_MM * BEHIND_MM / APART_MM),
            limit("gauge's stand on the board", UNDER_GAUGE_MM),
        ],
        stand: vec![stated("lean of the seat", seat_u_mm), limit("play of the swivel", SWIVEL_MM)],
        lifted: vec![limit("unequal leaves under the feet", LEAVES_MM)],
    }
}

/// A stand's lines of light as slits of the gauge.
pub(super) fn seen(
    stand: &Stand,
    gauge: &Gauge,
    table: Option<&Pixels>,
    constants: &Calibration,
) -> Result<Vec<(usize, Line)>, slits::NoSlit> {
    let Some(profile) = &stand.still.profile else { return Err(slits::NoSlit::NoLight) };
    let over_board_mm = stand_off_mm(constants, stand.still.stand_off, None) + constants.zero.mm();
    let seen = slits::matched(&profile.lines(table), &gauge.heights_mm, over_board_mm)?;
    // By the gauge's lamp both slits are lit alike: one alone is the emitter's light, unless the other
    // one is out of the window.
    if let ([(which, line)], [low_mm, high_mm], Lamp::Own) =
        (&seen[..], &gauge.heights_mm[..], gauge.lamp)
    {
        let other_mm = if *which == 0 { high_mm - low_mm } else { low_mm - high_mm };
        if IN_WINDOW_MM.contains(&(line.middle_mm + other_mm)) {
            return Err(slits::NoSlit::OneOfTwo);
        }
    }
    Ok(seen)
}

/// The stand-off of a code by these constants, whatever its range, mm.
pub(super) fn stand_off_mm(constants: &Calibration, code: f64, warm_k: Option<f64>) -> f64 {
    let curve = &constants.stand_off;
    let d = code - f64::from(PIVOT_CODE);
    curve.origin.mm()
        + d * f64::from(curve.slope_pm_per_code) * 1e-9
        + d * d * f64::from(curve.curvature_fm_per_code2) * 1e-12
        + warm_k.unwrap_or(0.0) * f64::from(curve.temperature_nm_per_k) * 1e-6
}

/// What the stands come to.
pub(super) struct Gauged {
    pub scaled: Scaled,
    /// Mean temperature, if every stand knew its own.
    pub reference_c: Option<f64>,
    /// How the gap that the head says scatters from seat to seat on the board, mm: for each seat, from
    /// the mean of all.
    pub seats_mm: Vec<f64>,
}

/// What is left over at each seat on the board, against what is left over of the same slit at all of
/// them: a slit that is not as high as its label says is so at every seat.
fn seats(observations: &[Observation], scaled: &Scaled, lifted: &[bool]) -> Vec<f64> {
    let rows = || observations.iter().zip(&scaled.residuals).filter(|(o, _)| !lifted[o.stand]);
    let mean = |of: &mut dyn Iterator<Item = f64>| {
        let (sum, count) = of.fold((0.0, 0), |(sum, count), one| (sum + one, count + 1));
        (count > 0).then(|| sum / f64::from(count))
    };
    let of_slit = |slit: usize| {
        let mut all = rows().filter(|(o, _)| o.slit == slit).map(|(_, left)| left.residual_mm);
        mean(&mut all).unwrap_or(0.0)
    };
    let of_stand = |stand: usize| {
        let own = rows().filter(|(o, _)| o.stand == stand);
        // The head says more where less is left over.
        mean(&mut own.map(|(o, left)| of_slit(o.slit) - left.residual_mm))
    };
    (0..lifted.len()).filter_map(of_stand).collect()
}

/// Fits the stands.
pub(super) fn fit(
    stands: &[Stand],
    gauge: &Gauge,
    seat_u_mm: f64,
    table: Option<&Pixels>,
    constants: &Calibration,
) -> Result<Gauged, ZeroError> {
    let curve = &constants.stand_off;
    let temperatures: Option<Vec<f64>> = stands.iter().map(|s| s.still.temperature_c).collect();
    let reference_c = temperatures.as_ref().map(|t| t.iter().sum::<f64>() / t.len().max(1) as f64);
    let unequal = f64::from(table.unwrap_or(&Pixels::UNCOMPARED).residual) / 65_536.0;
    let mut observations = Vec::new();
    let mut narrowest_mm = f64::INFINITY;
    for (which, stand) in stands.iter().enumerate() {
        let still = &stand.still;
        if !(still.stand_off.is_finite() && still.stand_off_u.is_finite()) {
            return Err(ZeroError::NotANumber { at: which });
        }
        let seen = seen(stand, gauge, table, constants)
            .map_err(|why| ZeroError::NoSlit { at: which, why })?;
        let warm_k = still.temperature_c.zip(reference_c).map_or(0.0, |(t, r)| t - r);
        for (slit, line) in seen {
            narrowest_mm = narrowest_mm.min(line.width_mm);
            let pixels = (line.width_mm / slits::PITCH_MM).max(2.0);
            // Of n equally bright pixels, each off by its own share, the centroid scatters by
            // root((n^2 - 1) / 12 n) of a pixel times that share.
            let unequal_mm =
                unequal * slits::PITCH_MM * ((pixels * pixels - 1.0) / (12.0 * pixels)).sqrt();
            let scatter_mm = still.profile.as_ref().map_or(0.0, |p| p.line_u_mm);
            observations.push(Observation {
                stand: which,
                slit,
                height_mm: gauge.heights_mm[slit],
                middle_mm: line.middle_mm,
                middle_u_mm: unequal_mm.hypot(scatter_mm),
                code: still.stand_off,
                code_u: still.stand_off_u,
                warm_mm: warm_k * f64::from(curve.temperature_nm_per_k) * 1e-6,
            });
        }
    }
    let lifted: Vec<bool> = stands.iter().map(|stand| stand.lifted).collect();
    let codes = |only: bool| {
        let on: Vec<f64> =
            stands.iter().filter(|s| !only || !s.lifted).map(|s| s.still.stand_off).collect();
        (!on.is_empty()).then(|| on.iter().sum::<f64>() / on.len() as f64)
    };
    let home = codes(true).or_else(|| codes(false)).ok_or(ZeroError::Nothing)?;
    let former = Slope {
        mm_per_code: f64::from(curve.slope_pm_per_code) * 1e-9
            + 2.0
                * f64::from(curve.curvature_fm_per_code2)
                * 1e-12
                * (home - f64::from(PIVOT_CODE)),
        u: curve.slope_u.fraction(),
        curvature: f64::from(curve.curvature_fm_per_code2) * 1e-12,
    };
    let span_mm = observations
        .iter()
        .map(|o| ((o.code - home) * former.mm_per_code).abs())
        .fold(0.0, f64::max);
    let found = span_mm >= LIFTED_MM && lifted.contains(&true);
    let effects = effects(gauge, seat_u_mm, narrowest_mm);
    let scaled = through(&observations, &effects, &lifted, home, former, found)
        .map_err(|_| ZeroError::StandsAlike)?;
    let seats_mm = seats(&observations, &scaled, &lifted);
    Ok(Gauged { scaled, reference_c, seats_mm })
}
