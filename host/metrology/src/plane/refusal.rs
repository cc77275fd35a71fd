//! When observations give no plane: said before anything is computed.

use super::board::Board;
use super::observation::{GapObservation, Observations};
use crate::linear::LinearError;
use std::collections::HashMap;
use thiserror::Error;

/// Stations nearer than this are one place, mm: a head is not clipped more exactly.
pub const SAME_PLACE_MM: f64 = 5.0;

/// Stations whose spread across a line is less than this share of their spread along it are in a
/// line.
const LINE_SHARE: f64 = 0.01;

/// Why the observations give no plane. Said to the person who can go and mend it.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PlaneError {
    /// Fewer than three different places (two, where the lean is known).
    #[error(
        "the takes are from {places} different place(s); the plane needs {needed}: take one more, away from the others"
    )]
    TooFewPlaces {
        /// Different places taken.
        places: usize,
        /// Different places that would do.
        needed: usize,
    },
    /// Three places or more, all in a line, and nothing that says how the plane leans across it.
    #[error(
        "all stations are in a line, which leaves the lean across it unknown: take one more, well away from that line"
    )]
    InALine,
    /// The lean is known, but all stations stand one above the other, so the sideways slope is not.
    #[error(
        "all stations stand one above the other, which leaves the sideways slope unknown: take one more, to the left or right"
    )]
    OneAboveTheOther,
    /// A position or gap that is not a finite number.
    #[error("the take at {place} has a {what} that is not a number: take it again")]
    NotFinite {
        /// Where.
        place: String,
        /// `position` or `gap`.
        what: &'static str,
    },
    /// An uncertainty that is zero, negative or not a number.
    #[error("the {what} has an uncertainty of {u}; it must be a number above zero")]
    BadUncertainty {
        /// `take at top left`, `lean`, `shared error zero`.
        what: String,
        /// As given.
        u: f64,
    },
    /// Degrees of freedom below one or not a number.
    #[error("the {what} has {dof} degrees of freedom; it must be one or more")]
    BadDof {
        /// `take at top left`, `lean`, `shared error zero`.
        what: String,
        /// As given.
        dof: f64,
    },
    /// One name at two places.
    #[error(
        "station {name} is given at two places {apart_mm:.0} mm apart: one of them has the wrong name or position"
    )]
    NameAtTwoPlaces {
        /// The name.
        name: String,
        /// Distance between them, mm.
        apart_mm: f64,
    },
    /// The board's uncertainties or sizes are not usable.
    #[error(
        "the board's size and the uncertainty of its shape must be finite numbers, none below zero"
    )]
    Board,
    /// The arithmetic found no answer.
    #[error("the stations do not decide the plane: {0}")]
    Undecided(LinearError),
}

pub(super) fn check(observations: &Observations, board: &Board) -> Result<(), PlaneError> {
    if !(board.u_shape_mm.is_finite() && board.u_shape_mm >= 0.0)
        || board.unknown.as_ref().is_some_and(|u| !u.is_usable())
    {
        return Err(PlaneError::Board);
    }
    for gap in &observations.gaps {
        check_gap(gap)?;
    }
    if let Some(lean) = &observations.lean {
        if !lean.q_mm_per_m.is_finite() {
            return Err(PlaneError::NotFinite { place: "the emitter".into(), what: "lean" });
        }
        check_u(lean.u_mm_per_m, false, || "lean".into())?;
        check_dof(lean.dof, || "lean".into())?;
    }
    for shared in &observations.shared {
        let what = || format!("shared error {}", shared.name);
        check_u(shared.u_mm, true, what)?;
        check_dof(shared.dof, what)?;
    }
    check_names(&observations.gaps)?;
    check_places(&observations.gaps, observations.lean.is_some())
}

fn check_gap(gap: &GapObservation) -> Result<(), PlaneError> {
    let not_finite = |what| PlaneError::NotFinite { place: gap.place(), what };
    if !(gap.x_mm.is_finite() && gap.y_mm.is_finite()) {
        return Err(not_finite("position"));
    }
    if !gap.gap_mm.is_finite() {
        return Err(not_finite("gap"));
    }
    let what = || format!("take at {}", gap.place());
    check_u(gap.u_mm, false, what)?;
    check_dof(gap.dof, what)
}

fn check_u(u: f64, may_be_zero: bool, what: impl Fn() -> String) -> Result<(), PlaneError> {
    if u.is_finite() && (u > 0.0 || (may_be_zero && u == 0.0)) {
        Ok(())
    } else {
        Err(PlaneError::BadUncertainty { what: what(), u })
    }
}

fn check_dof(dof: f64, what: impl Fn() -> String) -> Result<(), PlaneError> {
    if dof >= 1.0 { Ok(()) } else { Err(PlaneError::BadDof { what: what(), dof }) }
}

fn check_names(gaps: &[GapObservation]) -> Result<(), PlaneError> {
    let mut first: HashMap<&str, &GapObservation> = HashMap::new();
    for gap in gaps {
        if let Some(name) = &gap.station {
            let other = first.entry(name).or_insert(gap);
            let apart_mm = distance(gap, other);
            if apart_mm > SAME_PLACE_MM {
                return Err(PlaneError::NameAtTwoPlaces { name: name.clone(), apart_mm });
            }
        }
    }
    Ok(())
}

fn distance(a: &GapObservation, b: &GapObservation) -> f64 {
    (a.x_mm - b.x_mm).hypot(a.y_mm - b.y_mm)
}

/// Whether the places decide a plane: three not in a line, or, with the lean known, two not one
/// above the other.
fn check_places(gaps: &[GapObservation], lean: bool) -> Result<(), PlaneError> {
    let needed = if lean { 2 } else { 3 };
    let mut different: Vec<&GapObservation> = Vec::with_capacity(needed);
    for gap in gaps {
        if different.len() < needed && different.iter().all(|d| distance(d, gap) > SAME_PLACE_MM) {
            different.push(gap);
        }
    }
    if different.len() < needed {
        return Err(PlaneError::TooFewPlaces { places: different.len(), needed });
    }
    let n = gaps.len() as f64;
    let mean = |f: fn(&GapObservation) -> f64| gaps.iter().map(f).sum::<f64>() / n;
    let (mean_x, mean_y) = (mean(|g| g.x_mm), mean(|g| g.y_mm));
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for gap in gaps {
        let (dx, dy) = (gap.x_mm - mean_x, gap.y_mm - mean_y);
        xx += dx * dx / n;
        xy += dx * dy / n;
        yy += dy * dy / n;
    }
    if lean {
        let sideways = xx.sqrt();
        return if sideways < SAME_PLACE_MM / 2.0 || sideways < LINE_SHARE * yy.sqrt() {
            Err(PlaneError::OneAboveTheOther)
        } else {
            Ok(())
        };
    }
    let half = (xx + yy) / 2.0;
    let spread = ((xx - yy) / 2.0).hypot(xy);
    let (along, across) = ((half + spread).sqrt(), (half - spread).max(0.0).sqrt());
    if across < LINE_SHARE * along || across < SAME_PLACE_MM / 4.0 {
        Err(PlaneError::InALine)
    } else {
        Ok(())
    }
}
