//! A take: the mean over a window that has settled, with its uncertainty source by source.

use super::allan;
use super::fault::Fault;
use super::limits::Limits;
use super::settle::State;
use super::trace::Trace;
use crate::coverage::{Share, combined_u, effective_dof};
use serde::{Deserialize, Serialize};
use skimgauge_shared::calibration::Calibration;
use thiserror::Error;

/// Standard uncertainty of the temperature coefficient of a zeroed head, mm per kelvin: half of
/// what the sensor's maker allows for is left when the coefficient was measured.
const TEMPERATURE_KNOWN_U_MM_PER_K: f64 = 0.0025;
/// And where it was not measured: 0.03 % of 17 mm of span per kelvin, a usual figure for
/// triangulation sensors (from memory).
const TEMPERATURE_UNKNOWN_U_MM_PER_K: f64 = 0.005;
/// A step of the wire's numbers: 1 um of stand-off and of the sheet's middle.
const STEP_MM: f64 = 0.001;
/// A sheet whose thickness nobody told is taken as this, mm.
const SHEET_MM: f64 = 2.0;
/// A mean that is less certain than this is no take, mm.
pub(super) const SCATTER_MOST_MM: f64 = 0.03;

/// Where a part of a take's uncertainty comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// Scatter of the mean over the window.
    Scatter,
    /// What is left of the seat: the lean of the body, the board's texture.
    Seating,
    /// Steps of the numbers.
    Resolution,
    /// The zero, `z0`.
    Zero,
    /// The stand-off's scale, away from the stand-off at which the zero was found.
    Slope,
    /// The board's material, where the head was zeroed on another.
    Material,
    /// The part of the light that the board itself cuts away, where the gap is small.
    Cut,
    /// The head's temperature against that at which it was zeroed.
    Temperature,
}

impl Source {
    /// Whether all takes with one head and one calibration share this error.
    pub fn shared(self) -> bool {
        match self {
            Self::Scatter | Self::Seating | Self::Resolution | Self::Cut => false,
            Self::Zero | Self::Slope | Self::Material | Self::Temperature => true,
        }
    }

    /// Its name in a table.
    pub fn name(self) -> &'static str {
        match self {
            Self::Scatter => "scatter of the mean",
            Self::Seating => "seat",
            Self::Resolution => "resolution",
            Self::Zero => "zero",
            Self::Slope => "stand-off scale",
            Self::Material => "board's material",
            Self::Cut => "light cut by the board",
            Self::Temperature => "temperature",
        }
    }
}

/// One part of a take's uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Where it comes from.
    pub source: Source,
    /// What one standard uncertainty of the source does to the gap, mm; signed, since a shared
    /// error moves different takes different ways.
    pub effect_mm: f64,
    /// Degrees of freedom; `None` where it is taken as known.
    pub dof: Option<f64>,
}

/// One settled reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Take {
    /// Gap, mm.
    pub gap_mm: f64,
    /// Its combined standard uncertainty, mm.
    pub u_mm: f64,
    /// Effective degrees of freedom of `u_mm`; `None` where every part is taken as known.
    pub dof: Option<f64>,
    /// The uncertainty, part by part.
    pub parts: Vec<Part>,
    /// Readings averaged.
    pub readings: u32,
    /// Over so long, s.
    pub window_s: f64,
    /// End of the window on the head's clock, s.
    pub head_at_s: f64,
    /// Mean stand-off, mm.
    pub stand_off_mm: f64,
    /// Mean of the sheet's middle in the head's frame, mm.
    pub middle_mm: f64,
    /// The sheet's thickness, mm; `None` where it was not told.
    pub sheet_mm: Option<f64>,
    /// Mean level, degrees.
    pub level_deg: f64,
    /// Mean lean, degrees.
    pub lean_deg: f64,
    /// Standard uncertainty of either, degrees, without that of the head's own offsets, which all
    /// takes with one head share.
    pub tilt_u_deg: f64,
    /// The head's temperature, degrees Celsius; `None` where it is not known.
    pub temperature_c: Option<f64>,
    /// What was said of the head at the time, though it did not stand in the way.
    pub notices: Vec<Fault>,
}

impl Take {
    /// Root sum of squares of what this take shares with no other, mm.
    pub fn own_u_mm(&self) -> f64 {
        let own = self.parts.iter().filter(|p| !p.source.shared());
        own.map(|p| p.effect_mm * p.effect_mm).sum::<f64>().sqrt()
    }

    /// Effective degrees of freedom of [`Self::own_u_mm`]; `None` where all of it is taken as
    /// known.
    pub fn own_dof(&self) -> Option<f64> {
        combine(&self.parts.iter().filter(|p| !p.source.shared()).copied().collect::<Vec<_>>()).1
    }

    /// What one standard uncertainty of a source does to this take, mm, signed; zero for a source
    /// that it has not.
    pub fn effect_mm(&self, source: Source) -> f64 {
        self.parts.iter().find(|p| p.source == source).map_or(0.0, |p| p.effect_mm)
    }
}

/// Why nothing was taken.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, Error)]
#[serde(tag = "because", rename_all = "snake_case")]
pub enum NotTaken {
    /// A fault stands in the way.
    #[error("{}: {} {}", .fault.name(), .fault.sentence(), .fault.remedy())]
    Fault {
        /// The gravest.
        fault: Fault,
    },
    /// It has not settled.
    #[error("{}", .state.words())]
    Unsettled {
        /// What it does instead.
        state: State,
    },
    /// The mean scatters too much.
    #[error(
        "The mean still scatters by {u_mm:.3} mm. Keep hands off the board and wait, or move to a steadier place."
    )]
    Noisy {
        /// Standard uncertainty of the mean, mm.
        u_mm: f64,
    },
}

/// Standard uncertainty of the mean over the newest `window` points, mm, and its degrees of
/// freedom: the Allan deviation at the longest averages of which the window itself holds enough,
/// carried to the window's length; or what the head has shown over such lengths before
/// (`before_mm`), if that is more.
pub(super) fn scatter(trace: &Trace, window: usize, before_mm: Option<f64>) -> Option<Share> {
    let gaps: Vec<f64> = trace.newest(window).map(|p| f64::from(p.gap_um) * 1e-3).collect();
    let longest = (window / 6).max(1);
    let carried = |m: usize| {
        let u = allan::overlapping(&gaps, m)? * (m as f64 / window as f64).sqrt();
        Some(Share { u, dof: allan::degrees_of_freedom(window, m) })
    };
    let now = [carried(1)?, carried(longest)?]
        .into_iter()
        .reduce(|a, b| if b.u > a.u { b } else { a })?;
    // A minute of quiet readings stands behind what was seen before.
    Some(match before_mm {
        Some(before) if before > now.u => Share { u: before, dof: 50.0 },
        _ => now,
    })
}

/// What a gap's uncertainty is made of, besides its scatter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Circumstances<'a> {
    pub calibration: &'a Calibration,
    pub limits: &'a Limits,
    pub gap_mm: f64,
    pub stand_off_mm: f64,
    pub sheet_mm: Option<f64>,
    pub temperature_c: Option<f64>,
}

impl Circumstances<'_> {
    /// All parts, with this scatter.
    pub(super) fn parts(&self, scatter: Share) -> Vec<Part> {
        let Self { calibration, limits, gap_mm, stand_off_mm, sheet_mm, temperature_c } = *self;
        let known = |source, effect_mm| Part { source, effect_mm, dof: None };
        let curve = &calibration.stand_off;
        let mut parts = vec![
            Part {
                source: Source::Scatter,
                effect_mm: scatter.u,
                dof: scatter.dof.is_finite().then_some(scatter.dof),
            },
            Part { source: Source::Seating, effect_mm: limits.seat_u_mm, dof: limits.seat_dof },
        ];
        let cut_mm = cut_mm(gap_mm, sheet_mm.unwrap_or(SHEET_MM));
        if cut_mm > 0.0 {
            parts.push(known(Source::Cut, cut_mm));
        }
        if limits.material.u_mm > 0.0 {
            parts.push(known(Source::Material, limits.material.u_mm));
        }
        let per_k = if curve.temperature_nm_per_k == 0 {
            TEMPERATURE_UNKNOWN_U_MM_PER_K
        } else {
            TEMPERATURE_KNOWN_U_MM_PER_K
        };
        // Without a temperature it may be anywhere that the head is trusted at.
        let away_k = temperature_c.map_or(limits.temperature_c.width().0 / 12f64.sqrt(), |t| {
            t - curve.reference.celsius()
        });
        let away_mm = stand_off_mm + calibration.zero.mm();
        parts.extend([
            known(Source::Resolution, STEP_MM / 6f64.sqrt()),
            known(Source::Zero, calibration.zero_u.mm()),
            known(Source::Slope, away_mm * curve.slope_u.fraction()),
            known(Source::Temperature, away_k * per_k),
        ]);
        parts
    }
}

/// How far the middle of the light rises because the board cuts off what lies behind its face, mm:
/// a sheet with a raised cosine's profile and this thickness, its middle `gap_mm` over the face.
/// Half of the share that is cut, over the profile's height at its middle.
fn cut_mm(gap_mm: f64, thickness_mm: f64) -> f64 {
    let u = (-gap_mm / thickness_mm).clamp(-0.5, 0.5);
    let cut = 0.5 + u + (std::f64::consts::TAU * u).sin() / std::f64::consts::TAU;
    cut * thickness_mm / 4.0
}

/// Combined standard uncertainty and effective degrees of freedom of parts.
pub(super) fn combine(parts: &[Part]) -> (f64, Option<f64>) {
    let shares: Vec<Share> = parts
        .iter()
        .map(|p| Share { u: p.effect_mm, dof: p.dof.unwrap_or(f64::INFINITY) })
        .collect();
    let dof = effective_dof(&shares);
    (combined_u(&shares), dof.is_finite().then_some(dof))
}
