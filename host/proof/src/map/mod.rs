//! Where touch is seen against where it is: offset, scale, turn and shear, fitted through all taps
//! by least squares, with their covariance; and marks that do not follow.
//!
//! `off = o + A p`, `p` the mark's place from the image's middle. Right and up have the same three
//! columns, so one set of factors serves both, and one scatter: of all taps about the fit where the
//! means of the marks scatter no more than their taps let expect, else of those means (what repeats
//! at a mark is not averaged away by tapping it again).
//!
//! A mark that bends the map is found by leaving it out: what it lies off from the map through the
//! others, over what that should scatter, is `2 F(2, dof)`; of thirteen looks one in twenty may
//! find one where there is none (Bonferroni).
//!
//! No display is straight to the last, none stands quite still, and a small bend is not surely
//! found: how far marks and rounds stray beside what taps scatter, and by how much the map is
//! another one where a mark bends it after all, are shares of the uncertainty like any other.

mod fit;
mod otherwise;
#[cfg(test)]
mod tests;

use crate::taps::Tap;
use fit::{
    Fit, Strays, as_marks_scatter, as_wide, fit, look, marks_of, mean, most_bent, moved,
    rounds_stray,
};
use nalgebra::{DMatrix, DVector};
use otherwise::{Otherwise, chances};
use serde::Serialize;
use skimgauge_metrology::coverage::{DofRule, LEVEL, Share, combined_u, effective_dof, expand};
use skimgauge_model::{Image, Point};
use skimgauge_quantity::{Mm, MmPerM};

/// Fewest marks that a map is fitted through.
pub const FEWEST: usize = 5;
/// At most so many marks are taken out as bent: with more, the map itself is not straight.
const MOST_BENT: usize = 3;

/// The figure for the bias of an aim is assumed, and known to a tenth at best: that is the worth of
/// fifty degrees of freedom (JCGM 100:2008, G.4.2).
const AIM_DOF: f64 = 50.0;
/// At the image's corners and in its middle a smooth map that is not straight strays by more than
/// at the marks, taken together: one that bends by the square of the way across by 1.6 times at the
/// corners and 1.3 times in the middle (worked out for these thirteen marks).
const STRAYS_AT_CORNERS: f64 = 1.6;

/// A value with its standard uncertainty and the half width of its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Value<T> {
    /// The value.
    pub value: T,
    /// Standard uncertainty.
    pub u: T,
    /// Half width of its 95 % interval.
    pub expanded: T,
}

/// The fitted map. Positive: touch is seen right of, above, larger, turned anticlockwise.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Map {
    /// Offset in the image's middle, right; the aim's bias is in its uncertainty.
    #[serde(rename = "right_mm")]
    pub right: Value<Mm>,
    /// The same, up.
    #[serde(rename = "up_mm")]
    pub up: Value<Mm>,
    /// Scale across, less one.
    #[serde(rename = "scale_across_mm_per_m")]
    pub scale_across: Value<MmPerM>,
    /// Scale up and down, less one.
    #[serde(rename = "scale_down_mm_per_m")]
    pub scale_down: Value<MmPerM>,
    /// Turn.
    #[serde(rename = "turn_mm_per_m")]
    pub turn: Value<MmPerM>,
    /// Shear.
    #[serde(rename = "shear_mm_per_m")]
    pub shear: Value<MmPerM>,
    /// Scatter of one tap, standard deviation on one axis.
    #[serde(rename = "scatter_mm")]
    pub scatter: Mm,
    /// Degrees of freedom of that.
    pub dof: f64,
    /// How far marks stray from the map beside that, standard deviation on one axis.
    #[serde(rename = "strays_mm")]
    pub strays: Mm,
    /// How far a whole round strays, beside what its taps scatter, standard deviation on one axis.
    #[serde(rename = "rounds_stray_mm")]
    pub rounds_stray: Mm,
    /// Taps fitted.
    pub taps: usize,
    /// Looks at marks that were counted.
    pub looks: usize,
    /// The marks do not follow one straight map, and no few of them are to blame.
    pub uneven: bool,
    /// Marks that bend it, the worst first.
    pub bent: Vec<Bent>,
    /// Between two rounds everything moved.
    pub moved: Option<Moved>,
    #[serde(skip)]
    by_strays: Share,
    #[serde(skip)]
    by_round: Share,
    /// How the last round stands to the map, right and up, mm.
    #[serde(skip)]
    last: [f64; 2],
    #[serde(skip)]
    otherwise: Otherwise,
    #[serde(skip)]
    fit: Fit,
    #[serde(skip)]
    by_aim: Share,
}

/// A mark that does not follow the others.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bent {
    /// Which.
    pub mark: u8,
    /// How far it lies off from the map through the others, right.
    #[serde(rename = "right_mm")]
    pub right: Mm,
    /// And up.
    #[serde(rename = "up_mm")]
    pub up: Mm,
    /// Standard uncertainty of either.
    #[serde(rename = "u_mm")]
    pub u: Mm,
    /// That distance over its standard uncertainty.
    pub studentised: f64,
    /// Chance of as much where nothing is bent, all looks counted.
    pub chance: f64,
}

/// A shift between two rounds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Moved {
    /// The rounds, from 0.
    pub between: [u8; 2],
    /// Right.
    #[serde(rename = "right_mm")]
    pub right: Mm,
    /// Up.
    #[serde(rename = "up_mm")]
    pub up: Mm,
    /// Chance of as much where nothing moved, all looks counted.
    pub chance: f64,
}

/// What was found beside the fit itself.
struct Found {
    bent: Vec<Bent>,
    moved: Option<Moved>,
    strays: Strays,
    rounds: Strays,
    last: [f64; 2],
    otherwise: Otherwise,
    looks: usize,
    taps: usize,
}

/// The error of touch at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Error {
    /// Right, mm.
    pub right_mm: f64,
    /// Up, mm.
    pub up_mm: f64,
    /// Shares of the standard uncertainty on one axis: the taps', what the place strays, what the
    /// map may be otherwise, what a round strays, the aim's.
    shares: [Share; 5],
}

impl Error {
    /// Its size, mm.
    pub fn size_mm(&self) -> f64 {
        self.right_mm.hypot(self.up_mm)
    }

    /// Standard uncertainty on one axis, mm.
    pub fn u_mm(&self) -> f64 {
        combined_u(&self.shares)
    }

    /// Standard uncertainty without the aim's bias, mm.
    pub fn u_taps_mm(&self) -> f64 {
        combined_u(&self.shares[..4])
    }

    /// Half width of the interval on one axis at this level, mm; infinite where too little is
    /// known.
    pub fn expanded_mm(&self, level: f64) -> f64 {
        let dof = effective_dof(&self.shares);
        expand(self.u_mm(), dof, level, DofRule::AsIs).map_or(f64::INFINITY, |e| e.expanded)
    }
}

impl Map {
    /// Fitted through these taps; `None` of too few marks, or where they do not span the image.
    pub(crate) fn of(image: Image, taps: &[Tap], aim: Mm) -> Option<Self> {
        let middle = Point { x: Mm::ZERO, y: -(image.height / 2.0) };
        let mut bent: Vec<Bent> = Vec::new();
        let mut counted = 0;
        let mut otherwise = Otherwise::default();
        loop {
            let left_out = |tap: &Tap| bent.iter().any(|bent: &Bent| bent.mark == tap.mark);
            let kept: Vec<&Tap> = taps.iter().filter(|tap| !left_out(tap)).collect();
            let marks = marks_of(&kept);
            if marks.len() < FEWEST {
                return None;
            }
            counted = counted.max(marks.len());
            let here = fit(middle, &kept)?;
            let may_go = bent.len() < MOST_BENT && marks.len() > FEWEST;
            let looks = if may_go { look(middle, &kept, &marks, counted) } else { Vec::new() };
            let (each, none) = chances(&looks);
            if let Some(found) = most_bent(&looks) {
                otherwise = Otherwise::default();
                otherwise.may_be(none, &here);
                bent.push(found);
                continue;
            }
            for (look, chance) in looks.iter().zip(each) {
                otherwise.may_be(chance, &look.others);
            }
            let (fit, strays) = as_marks_scatter(here, &kept, &marks);
            let fit = as_wide(fit, taps, &bent);
            let moved = moved(&fit, &kept);
            let (rounds, last) = rounds_stray(&fit, &kept);
            let otherwise = otherwise.than(&fit);
            let (looks, taps) = (counted, kept.len());
            let found = Found { bent, moved, strays, rounds, last, otherwise, looks, taps };
            return Some(Self::made(fit, aim, found));
        }
    }

    fn made(fit: Fit, aim: Mm, found: Found) -> Self {
        let Found { bent, moved, strays, rounds, last, otherwise, looks, taps } = found;
        let u = |at: usize| fit.s * fit.inverse[(at, at)].max(0.0).sqrt();
        let both = fit.s * (fit.inverse[(1, 1)] + fit.inverse[(2, 2)]).max(0.0).sqrt();
        let value = |value: f64, u_taps: f64, u_otherwise: f64, others: [Share; 2]| {
            let [round, aim] = others;
            let shares = [
                Share { u: u_taps, dof: fit.dof },
                Share { u: u_otherwise, dof: f64::INFINITY },
                round,
                aim,
            ];
            let u = combined_u(&shares);
            let expanded = expand(u, effective_dof(&shares), LEVEL, DofRule::AsIs);
            (value, u, expanded.map_or(f64::INFINITY, |e| e.expanded))
        };
        let none = Share { u: 0.0, dof: f64::INFINITY };
        let of_round = Share { u: rounds.mm, dof: rounds.dof };
        let by_aim = Share { u: aim.0, dof: AIM_DOF };
        let length = |axis: usize| {
            let else_ = otherwise.u(|axes| axes[axis][0]);
            let (value, u, expanded) = value(fit.axes[axis][0], u(0), else_, [of_round, by_aim]);
            Value { value: Mm(value), u: Mm(u), expanded: Mm(expanded) }
        };
        let slope = |u: f64, of: &dyn Fn(&[DVector<f64>; 2]) -> f64| {
            let (value, u, expanded) = value(of(&fit.axes), u, otherwise.u(of), [none; 2]);
            Value { value: MmPerM(value), u: MmPerM(u), expanded: MmPerM(expanded) }
        };
        Self {
            right: length(0),
            up: length(1),
            scale_across: slope(u(1), &|[right, _]| right[1]),
            scale_down: slope(u(2), &|[_, up]| up[2]),
            turn: slope(both / 2.0, &|[right, up]| (up[1] - right[2]) / 2.0),
            shear: slope(both, &|[right, up]| up[1] + right[2]),
            scatter: Mm(fit.s),
            dof: fit.dof,
            strays: Mm(strays.mm),
            rounds_stray: Mm(rounds.mm),
            taps,
            looks,
            uneven: strays.surely,
            bent,
            moved,
            by_strays: Share { u: STRAYS_AT_CORNERS * strays.mm, dof: strays.dof },
            by_round: of_round,
            last,
            by_aim,
            otherwise,
            fit,
        }
    }

    /// The error of touch at a place, by the map and as the last round left it; how far a place may
    /// stray from the map is in its uncertainty.
    pub fn error(&self, at: Point) -> Error {
        let [right_mm, up_mm] = self.fit.off(at);
        let u = self.fit.s * self.fit.lever(at).max(0.0).sqrt();
        let otherwise = Share { u: self.otherwise.u_at(self.fit.middle, at), dof: f64::INFINITY };
        self.error_of([right_mm, up_mm], u, self.by_strays, otherwise)
    }

    /// The error of touch at a mark by the taps there alone; `None` without any.
    pub(crate) fn error_by_taps(&self, mark: u8, taps: &[Tap]) -> Option<Error> {
        let own: Vec<&Tap> = taps.iter().filter(|tap| tap.mark == mark).collect();
        let u = self.fit.s / (own.len() as f64).sqrt();
        let none = Share { u: 0.0, dof: f64::INFINITY };
        Some(self.error_of(mean(&own)?, u, none, none))
    }

    fn error_of(&self, off: [f64; 2], u: f64, strays: Share, otherwise: Share) -> Error {
        let by_taps = Share { u, dof: self.fit.dof };
        let shares = [by_taps, strays, otherwise, self.by_round, self.by_aim];
        let [right_mm, up_mm] = [off[0] + self.last[0], off[1] + self.last[1]];
        Error { right_mm, up_mm, shares }
    }

    /// Covariance of offset, slope across and slope up of one axis (mm, mm/m), of the taps alone.
    pub fn covariance(&self) -> DMatrix<f64> {
        &self.fit.inverse * (self.fit.s * self.fit.s)
    }

    /// What a mark's taps leave of the map, right and up, mm, and that over what it should scatter.
    pub(crate) fn residual(&self, mark: u8, taps: &[Tap]) -> Option<([f64; 2], f64)> {
        let own: Vec<&Tap> = taps.iter().filter(|tap| tap.mark == mark).collect();
        let by_taps = mean(&own)?;
        let at = own[0].at;
        let by_map = self.fit.off(at);
        let left = [by_taps[0] - by_map[0], by_taps[1] - by_map[1]];
        let bent = self.bent.iter().any(|bent| bent.mark == mark);
        let lever = self.fit.lever(at) * if bent { 1.0 } else { -1.0 };
        let scatter = self.fit.s * (1.0 / own.len() as f64 + lever).max(1e-6).sqrt();
        Some((left, left[0].hypot(left[1]) / scatter))
    }
}
