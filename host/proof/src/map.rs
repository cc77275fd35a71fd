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

use crate::taps::Tap;
use nalgebra::{DMatrix, DVector};
use serde::Serialize;
use skimgauge_metrology::coverage::{DofRule, LEVEL, Share, combined_u, effective_dof, expand};
use skimgauge_metrology::linear;
use skimgauge_model::{Image, Point};
use skimgauge_quantity::{Mm, MmPerM};
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// Fewest marks that a map is fitted through.
pub const FEWEST: usize = 5;
/// At most so many marks are taken out as bent: with more, the map itself is not straight.
const MOST_BENT: usize = 3;
/// The chance that a search finds what is not there.
const FALSE: f64 = 0.05;
/// Only what is surer than this is left out of the map: leaving out what chance threw far makes the
/// rest look better than it is.
const LEFT_OUT: f64 = 0.005;
/// The same of a shift between two rounds, and of a map that is not straight.
const FALSE_SHIFT: f64 = 0.01;
/// Smallest scatter that is believed, mm: the grain of pixels.
const GRAIN_MM: f64 = 0.05;

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

/// Both axes: estimates of offset and slopes, and the inverse of their normal matrix.
#[derive(Debug, Clone, PartialEq)]
struct Fit {
    middle: Point,
    axes: [DVector<f64>; 2],
    inverse: DMatrix<f64>,
    s: f64,
    dof: f64,
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

/// Columns of the fit: one, right and up of the middle in metres.
fn columns(middle: Point, at: Point) -> [f64; 3] {
    [1.0, (at.x - middle.x).0 / 1000.0, (at.y - middle.y).0 / 1000.0]
}

fn fit(middle: Point, taps: &[&Tap]) -> Option<Fit> {
    let design = DMatrix::from_fn(taps.len(), 3, |row, c| columns(middle, taps[row].at)[c]);
    let ones = vec![1.0; taps.len()];
    let solved: Vec<linear::Fit> = (0..2)
        .map(|axis| {
            let values = DVector::from_fn(taps.len(), |row, _| taps[row].off[axis]);
            linear::solve(&design, &values, &ones).ok()
        })
        .collect::<Option<_>>()?;
    let dof = 2 * taps.len() - 6;
    if dof == 0 {
        return None;
    }
    let squares: f64 = solved.iter().map(|fit| fit.chi_square).sum();
    let s = (squares / dof as f64).sqrt().max(GRAIN_MM);
    let inverse = solved[0].covariance.clone();
    let axes = [solved[0].estimate.clone(), solved[1].estimate.clone()];
    Some(Fit { middle, axes, inverse, s, dof: dof as f64 })
}

impl Fit {
    fn off(&self, at: Point) -> [f64; 2] {
        let columns = DVector::from_row_slice(&columns(self.middle, at));
        std::array::from_fn(|axis| self.axes[axis].dot(&columns))
    }

    /// Variance of the fitted value at a place, in units of one tap's.
    fn lever(&self, at: Point) -> f64 {
        let columns = DVector::from_row_slice(&columns(self.middle, at));
        columns.dot(&(&self.inverse * &columns))
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
                Some(found) if found.chance <= LEFT_OUT => bent.push(found),
                found => {
                    let (fit, uneven) = with_scatter(fit(middle, &kept)?, &kept, &marks);
                    let moved = moved(&fit, &kept);
                    let taps = kept.len();
                    bent.extend(found);
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
        let bent = self.bent.iter().any(|bent| bent.mark == mark && bent.chance <= LEFT_OUT);
        let lever = self.fit.lever(at) * if bent { 1.0 } else { -1.0 };
        let scatter = self.fit.s * (1.0 / own.len() as f64 + lever).max(1e-6).sqrt();
        Some((left, left[0].hypot(left[1]) / scatter))
    }
}

fn marks_of(taps: &[&Tap]) -> Vec<u8> {
    let mut marks: Vec<u8> = taps.iter().map(|tap| tap.mark).collect();
    marks.sort_unstable();
    marks.dedup();
    marks
}

fn mean(taps: &[&Tap]) -> Option<[f64; 2]> {
    (!taps.is_empty()).then(|| {
        std::array::from_fn(|axis| {
            taps.iter().map(|tap| tap.off[axis]).sum::<f64>() / taps.len() as f64
        })
    })
}

/// Chance that `2 F(2, dof)` is at least this.
fn chance_of(squares: f64, dof: f64) -> f64 {
    FisherSnedecor::new(2.0, dof).map_or(1.0, |f| f.sf((squares / 2.0).max(0.0)))
}

/// The mark that lies farthest off from the map through the others, if chance does not explain it.
fn most_bent(middle: Point, taps: &[&Tap], marks: &[u8], looks: usize) -> Option<Bent> {
    let of_mark = |&mark: &u8| {
        let others: Vec<&Tap> = taps.iter().copied().filter(|tap| tap.mark != mark).collect();
        let own: Vec<&Tap> = taps.iter().copied().filter(|tap| tap.mark == mark).collect();
        let others_marks = marks_of(&others);
        let (fit, _) = with_scatter(fit(middle, &others)?, &others, &others_marks);
        let at = own.first()?.at;
        let (by_taps, by_map) = (mean(&own)?, fit.off(at));
        let off = [by_taps[0] - by_map[0], by_taps[1] - by_map[1]];
        let u = fit.s * (1.0 / own.len() as f64 + fit.lever(at)).sqrt();
        let studentised = off[0].hypot(off[1]) / u;
        let chance = (chance_of(studentised.powi(2), fit.dof) * looks as f64).min(1.0);
        Some(Bent { mark, right: Mm(off[0]), up: Mm(off[1]), u: Mm(u), studentised, chance })
    };
    let found = marks.iter().filter_map(of_mark);
    found
        .min_by(|a, b| a.chance.total_cmp(&b.chance).then(b.studentised.total_cmp(&a.studentised)))
        .filter(|bent| bent.chance <= FALSE)
}

/// The fit with the scatter that its marks' means show, where that is more than chance; and whether
/// it is.
fn with_scatter(fit: Fit, taps: &[&Tap], marks: &[u8]) -> (Fit, bool) {
    let mut between = 0.0;
    let mut within = 0.0;
    for &mark in marks {
        let own: Vec<&Tap> = taps.iter().copied().filter(|tap| tap.mark == mark).collect();
        let Some(mean) = mean(&own) else { continue };
        let by_map = fit.off(own[0].at);
        for axis in 0..2 {
            between += own.len() as f64 * (mean[axis] - by_map[axis]).powi(2);
            within += own.iter().map(|tap| (tap.off[axis] - mean[axis]).powi(2)).sum::<f64>();
        }
    }
    let dof_between = (2 * marks.len()) as f64 - 6.0;
    let dof_within = (2 * taps.len()) as f64 - (2 * marks.len()) as f64;
    if dof_between < 1.0 || dof_within < 1.0 {
        return (fit, false);
    }
    let (between, within) = (between / dof_between, within / dof_within);
    let chance = FisherSnedecor::new(dof_between, dof_within)
        .map_or(1.0, |f| f.sf(between / within.max(GRAIN_MM * GRAIN_MM)));
    if chance > FALSE {
        return (fit, false);
    }
    let s = between.sqrt().max(GRAIN_MM);
    (Fit { s, dof: dof_between, ..fit }, chance <= FALSE_SHIFT)
}

/// The greatest shift between two rounds, if chance does not explain it.
fn moved(fit: &Fit, taps: &[&Tap]) -> Option<Moved> {
    let left = |round: u8| -> Option<([f64; 2], f64)> {
        let own: Vec<&Tap> = taps.iter().copied().filter(|tap| tap.round == round).collect();
        if own.len() < 3 {
            return None;
        }
        let sum = own.iter().fold([0.0; 2], |sum, tap| {
            let by_map = fit.off(tap.at);
            std::array::from_fn(|axis| sum[axis] + tap.off[axis] - by_map[axis])
        });
        Some((sum.map(|sum| sum / own.len() as f64), own.len() as f64))
    };
    let pairs = [[0, 1], [0, 2], [1, 2]];
    let found = pairs.into_iter().filter_map(|between| {
        let ((a, a_taps), (b, b_taps)) = (left(between[0])?, left(between[1])?);
        let off = [b[0] - a[0], b[1] - a[1]];
        let squares =
            (off[0].powi(2) + off[1].powi(2)) / (fit.s * fit.s * (1.0 / a_taps + 1.0 / b_taps));
        let chance = (chance_of(squares, fit.dof) * 3.0).min(1.0);
        Some(Moved { between, right: Mm(off[0]), up: Mm(off[1]), chance })
    });
    found.min_by(|a, b| a.chance.total_cmp(&b.chance)).filter(|moved| moved.chance <= FALSE_SHIFT)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marks;

    const IMAGE: Image = Image::mm(2025.0, 1265.6);

    fn taps() -> Vec<Tap> {
        let rows = include_str!("../tests/data/map_taps.csv").lines().skip(1);
        rows.map(|row| {
            let cells: Vec<f64> = row.split(',').map(|cell| cell.parse().unwrap()).collect();
            let (mark, round) = (cells[0] as u8, cells[1] as u8);
            let at = marks::at(IMAGE, 0.05, mark).unwrap();
            Tap { mark, round, at, off: [cells[2], cells[3]] }
        })
        .collect()
    }

    /// `tests/data/map_reference.py`: numpy's least squares of both axes as one problem, scipy's t
    /// quantile.
    #[test]
    fn the_map_is_that_of_numpy() {
        let map = Map::of(IMAGE, &taps(), Mm(2.0)).unwrap();
        assert!(map.bent.is_empty() && !map.uneven && map.moved.is_none());
        let slopes = [map.scale_across, map.scale_down, map.turn, map.shear];
        let mut found: Vec<[f64; 3]> =
            [map.right, map.up].iter().map(|v| [v.value.0, v.u.0, v.expanded.0]).collect();
        found.extend(slopes.iter().map(|v| [v.value.0, v.u.0, v.expanded.0]));
        let rows = include_str!("../tests/data/map_numpy.csv").lines().skip(1);
        let rows: Vec<Vec<&str>> = rows.map(|row| row.split(',').collect()).collect();
        for (row, found) in rows.iter().zip(&found) {
            for (cell, found) in row[1..].iter().zip(found) {
                let numpy: f64 = cell.parse().unwrap();
                assert!((numpy - found).abs() < 1e-9 * numpy.abs().max(1.0), "{}: {found}", row[0]);
            }
        }
        let scatter: f64 = rows[6][1].parse().unwrap();
        assert!((map.scatter.0 - scatter).abs() < 1e-9);
        assert_eq!(map.dof, 72.0);
    }

    #[test]
    fn one_bent_mark_is_named_and_leaves_the_map_alone() {
        let straight = Map::of(IMAGE, &taps(), Mm(2.0)).unwrap();
        let mut bent = taps();
        for tap in bent.iter_mut().filter(|tap| tap.mark == 7) {
            tap.off[1] += 15.0;
        }
        let map = Map::of(IMAGE, &bent, Mm(2.0)).unwrap();
        assert_eq!(map.bent.iter().map(|bent| bent.mark).collect::<Vec<_>>(), [7]);
        let right = marks::at(IMAGE, 0.05, 7).unwrap();
        let moved = map.error(right).up_mm - straight.error(right).up_mm;
        assert!(moved.abs() < 2.5, "the map without it: {moved}");
    }

    #[test]
    fn too_few_marks_or_marks_in_a_line_give_no_map() {
        let few: Vec<Tap> = taps().into_iter().filter(|tap| tap.mark < 4).collect();
        assert!(Map::of(IMAGE, &few, Mm(2.0)).is_none());
        assert!(Map::of(IMAGE, &[], Mm(2.0)).is_none());
        let mut line = taps();
        line.iter_mut().for_each(|tap| tap.at.y = Mm(-100.0));
        assert!(Map::of(IMAGE, &line, Mm(2.0)).is_none());
    }
}
