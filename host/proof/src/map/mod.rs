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

mod fit;
#[cfg(test)]
mod tests;

use crate::taps::Tap;
use fit::{Fit, as_wide, fit, marks_of, mean, most_bent, moved, with_scatter};
use nalgebra::DMatrix;
use serde::Serialize;
use skimgauge_metrology::coverage::{DofRule, LEVEL, Share, combined_u, effective_dof, expand};
use skimgauge_model::{Image, Point};
use skimgauge_quantity::{Mm, MmPerM};

/// Fewest marks that a map is fitted through.
pub const FEWEST: usize = 5;
/// At most so many marks are taken out as bent: with more, the map itself is not straight.
const MOST_BENT: usize = 3;

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
    fit: Fit,
    #[serde(skip)]
    aim_mm: f64,
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

/// The error of touch at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Error {
    /// Right, mm.
    pub right_mm: f64,
    /// Up, mm.
    pub up_mm: f64,
    /// Shares of the standard uncertainty on one axis: the taps', the aim's.
    shares: [Share; 2],
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
        self.shares[0].u
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
        let mut looks = 0;
        loop {
            let left_out = |tap: &Tap| bent.iter().any(|bent: &Bent| bent.mark == tap.mark);
            let kept: Vec<&Tap> = taps.iter().filter(|tap| !left_out(tap)).collect();
            let marks = marks_of(&kept);
            if marks.len() < FEWEST {
                return None;
            }
            looks = looks.max(marks.len());
            let next = (bent.len() < MOST_BENT && marks.len() > FEWEST)
                .then(|| most_bent(middle, &kept, &marks, looks))
                .flatten();
            match next {
                Some(found) => bent.push(found),
                None => {
                    let (fit, uneven) = with_scatter(fit(middle, &kept)?, &kept, &marks);
                    let fit = as_wide(fit, taps, &bent);
                    let moved = moved(&fit, &kept);
                    let taps = kept.len();
                    return Some(Self::made(fit, aim, taps, looks, uneven, bent, moved));
                }
            }
        }
    }

    fn made(
        fit: Fit,
        aim: Mm,
        taps: usize,
        looks: usize,
        uneven: bool,
        bent: Vec<Bent>,
        moved: Option<Moved>,
    ) -> Self {
        let u = |at: usize| fit.s * fit.inverse[(at, at)].max(0.0).sqrt();
        let both = fit.s * (fit.inverse[(1, 1)] + fit.inverse[(2, 2)]).max(0.0).sqrt();
        let value = |value: f64, u_taps: f64, u_aim: f64| {
            let shares =
                [Share { u: u_taps, dof: fit.dof }, Share { u: u_aim, dof: f64::INFINITY }];
            let u = combined_u(&shares);
            let expanded = expand(u, effective_dof(&shares), LEVEL, DofRule::AsIs);
            (value, u, expanded.map_or(f64::INFINITY, |e| e.expanded))
        };
        let length = |at: usize| {
            let (value, u, expanded) = value(fit.axes[at][0], u(0), aim.0);
            Value { value: Mm(value), u: Mm(u), expanded: Mm(expanded) }
        };
        let slope = |slope: f64, u: f64| {
            let (value, u, expanded) = value(slope, u, 0.0);
            Value { value: MmPerM(value), u: MmPerM(u), expanded: MmPerM(expanded) }
        };
        let [right, up] = [&fit.axes[0], &fit.axes[1]];
        Self {
            right: length(0),
            up: length(1),
            scale_across: slope(right[1], u(1)),
            scale_down: slope(up[2], u(2)),
            turn: slope((up[1] - right[2]) / 2.0, both / 2.0),
            shear: slope(up[1] + right[2], both),
            scatter: Mm(fit.s),
            dof: fit.dof,
            taps,
            looks,
            uneven,
            bent,
            moved,
            aim_mm: aim.0,
            fit,
        }
    }

    /// The error of touch at a place, by the map.
    pub fn error(&self, at: Point) -> Error {
        let [right_mm, up_mm] = self.fit.off(at);
        let u = self.fit.s * self.fit.lever(at).max(0.0).sqrt();
        Error { right_mm, up_mm, shares: self.shares(u) }
    }

    /// The error of touch at a mark by the taps there alone; `None` without any.
    pub(crate) fn error_by_taps(&self, mark: u8, taps: &[Tap]) -> Option<Error> {
        let own: Vec<&Tap> = taps.iter().filter(|tap| tap.mark == mark).collect();
        let [right_mm, up_mm] = mean(&own)?;
        let u = self.fit.s / (own.len() as f64).sqrt();
        Some(Error { right_mm, up_mm, shares: self.shares(u) })
    }

    fn shares(&self, u_taps: f64) -> [Share; 2] {
        [Share { u: u_taps, dof: self.fit.dof }, Share { u: self.aim_mm, dof: f64::INFINITY }]
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
