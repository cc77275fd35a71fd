//! What bears on the plane: gaps at stations, the emitter's lean, and the errors that all gaps
//! share.
use serde::{Deserialize, Serialize};
use skimgauge_model::Station;

/// A gap at a place, from a take.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GapObservation {
    /// The station's name, where it has one.
    pub station: Option<String>,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// The gap, mm.
    pub gap_mm: f64,
    /// Standard uncertainty of this one take, without what all takes share, mm. Above zero.
    pub u_mm: f64,
    /// Degrees of freedom of `u_mm`; infinity where it is taken as known.
    pub dof: f64,
}

impl GapObservation {
    /// A gap at a named station, its uncertainty taken as known.
    pub fn at(station: &Station, gap_mm: f64, u_mm: f64) -> Self {
        Self {
            station: Some(station.name.clone()),
            ..Self::bare(station.at.x.0, station.at.y.0, gap_mm, u_mm)
        }
    }

    /// A gap at a place without a name, its uncertainty taken as known.
    pub fn bare(x_mm: f64, y_mm: f64, gap_mm: f64, u_mm: f64) -> Self {
        Self { station: None, x_mm, y_mm, gap_mm, u_mm, dof: f64::INFINITY }
    }

    /// The place as a person would say it.
    pub(crate) fn place(&self) -> String {
        self.station
            .clone()
            .unwrap_or_else(|| format!("x {:.0} mm, y {:.0} mm", self.x_mm, self.y_mm))
    }
}

/// The plane's upward slope from the emitter's lean relative to the board's. It bears on `q` alone:
/// gravity cannot see a turn about a vertical axis.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LeanObservation {
    /// Upward slope of the plane over the board, mm per metre.
    pub q_mm_per_m: f64,
    /// Its standard uncertainty, mm per metre. Above zero.
    pub u_mm_per_m: f64,
    /// Degrees of freedom of it.
    pub dof: f64,
}

impl LeanObservation {
    /// From the angle by which the touch plane leans from the board away from the viewer's side at
    /// the bottom, that is: positive where the gap grows upward. Degrees, both.
    pub fn from_degrees(lean_deg: f64, u_deg: f64) -> Self {
        let tangent = lean_deg.to_radians().tan();
        Self {
            q_mm_per_m: 1000.0 * tangent,
            u_mm_per_m: 1000.0 * u_deg.to_radians() * (1.0 + tangent * tangent),
            dof: f64::INFINITY,
        }
    }
}

/// An error that all gaps have in common: one that moves each by the same amount (the zero, the
/// temperature), or by so much a millimetre of the gap (the stand-off's scale). It keeps its sign
/// over the board: where the gap is larger than that at which the scale was found, a scale moves it
/// one way, and the other way where it is smaller.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SharedError {
    /// What it is: `zero`, `temperature`.
    pub name: String,
    /// Its standard uncertainty at the gap `at_mm`, mm. Zero or more.
    pub u_mm: f64,
    /// Degrees of freedom of it.
    pub dof: f64,
    /// How much more it is for each millimetre of the gap beyond `at_mm`.
    #[serde(default)]
    pub per_mm: f64,
    /// The gap at which it is `u_mm`, mm.
    #[serde(default)]
    pub at_mm: f64,
}

impl SharedError {
    /// One that moves every gap by the same amount.
    pub fn even(name: &str, u_mm: f64, dof: f64) -> Self {
        Self { name: name.to_owned(), u_mm, dof, per_mm: 0.0, at_mm: 0.0 }
    }

    /// One that moves a gap by so much for each millimetre away from the gap `at_mm`, taken as
    /// known.
    pub fn scale(name: &str, per_mm: f64, at_mm: f64) -> Self {
        Self { name: name.to_owned(), u_mm: 0.0, dof: f64::INFINITY, per_mm, at_mm }
    }

    /// What one standard uncertainty of it does to a gap, mm, signed.
    pub fn effect_mm(&self, gap_mm: f64) -> f64 {
        self.u_mm + self.per_mm * (gap_mm - self.at_mm)
    }
}

/// Everything observed in one round.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Observations {
    /// Gaps at stations; one station may be taken several times.
    pub gaps: Vec<GapObservation>,
    /// The emitter's lean, where it was taken.
    pub lean: Option<LeanObservation>,
    /// What all gaps share.
    pub shared: Vec<SharedError>,
}
