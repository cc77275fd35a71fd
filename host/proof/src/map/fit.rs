//! The fit itself, the scatter that is believed, and the searches in what it leaves.

use super::{Bent, Moved};
use crate::taps::Tap;
use nalgebra::{DMatrix, DVector};
use skimgauge_metrology::linear;
use skimgauge_model::Point;
use skimgauge_quantity::Mm;
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// The chance that a search finds what is not there.
const FALSE: f64 = 0.05;
/// Only what is surer than this is left out of the scatter: leaving out what chance threw far makes
/// the rest look better than it is.
const SURE: f64 = 0.005;
/// Where the means of the marks scatter more than this chance lets expect, they are believed.
const WIDER: f64 = 0.25;
/// The chance that a shift between two rounds, or a map that is not straight, is found where
/// there is none.
const FALSE_SHIFT: f64 = 0.01;
/// Smallest scatter that is believed, mm: the grain of pixels.
const GRAIN_MM: f64 = 0.05;

/// Both axes: estimates of offset and slopes, and the inverse of their normal matrix.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fit {
    pub(super) middle: Point,
    pub(super) axes: [DVector<f64>; 2],
    pub(super) inverse: DMatrix<f64>,
    pub(super) s: f64,
    pub(super) dof: f64,
}

/// Columns of the fit: one, right and up of the middle in metres.
pub(super) fn columns(middle: Point, at: Point) -> [f64; 3] {
    [1.0, (at.x - middle.x).0 / 1000.0, (at.y - middle.y).0 / 1000.0]
}

pub(super) fn fit(middle: Point, taps: &[&Tap]) -> Option<Fit> {
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
    pub(super) fn off(&self, at: Point) -> [f64; 2] {
        let columns = DVector::from_row_slice(&columns(self.middle, at));
        std::array::from_fn(|axis| self.axes[axis].dot(&columns))
    }

    /// Variance of the fitted value at a place, in units of one tap's.
    pub(super) fn lever(&self, at: Point) -> f64 {
        let columns = DVector::from_row_slice(&columns(self.middle, at));
        columns.dot(&(&self.inverse * &columns))
    }
}

pub(super) fn marks_of(taps: &[&Tap]) -> Vec<u8> {
    let mut marks: Vec<u8> = taps.iter().map(|tap| tap.mark).collect();
    marks.sort_unstable();
    marks.dedup();
    marks
}

pub(super) fn mean(taps: &[&Tap]) -> Option<[f64; 2]> {
    (!taps.is_empty()).then(|| {
        std::array::from_fn(|axis| {
            taps.iter().map(|tap| tap.off[axis]).sum::<f64>() / taps.len() as f64
        })
    })
}

/// Chance that `2 F(2, dof)` is at least this.
pub(super) fn chance_of(squares: f64, dof: f64) -> f64 {
    FisherSnedecor::new(2.0, dof).map_or(1.0, |f| f.sf((squares / 2.0).max(0.0)))
}

/// A look at a mark: how it lies to the map through the others.
pub(super) struct Look {
    pub(super) bent: Bent,
    /// Chance of as much where nothing is bent, of this look alone.
    pub(super) chance: f64,
    /// The map through the others.
    pub(super) others: Fit,
}

/// At every mark.
pub(super) fn look(middle: Point, taps: &[&Tap], marks: &[u8], looks: usize) -> Vec<Look> {
    let of_mark = |&mark: &u8| {
        let others: Vec<&Tap> = taps.iter().copied().filter(|tap| tap.mark != mark).collect();
        let own: Vec<&Tap> = taps.iter().copied().filter(|tap| tap.mark == mark).collect();
        let others_marks = marks_of(&others);
        let others = as_marks_scatter(fit(middle, &others)?, &others, &others_marks).0;
        let at = own.first()?.at;
        let (by_taps, by_map) = (mean(&own)?, others.off(at));
        let off = [by_taps[0] - by_map[0], by_taps[1] - by_map[1]];
        let u = others.s * (1.0 / own.len() as f64 + others.lever(at)).sqrt();
        let studentised = off[0].hypot(off[1]) / u;
        let alone = chance_of(studentised.powi(2), others.dof);
        let chance = (alone * looks as f64).min(1.0);
        let bent = Bent { mark, right: Mm(off[0]), up: Mm(off[1]), u: Mm(u), studentised, chance };
        Some(Look { bent, chance: alone, others })
    };
    marks.iter().filter_map(of_mark).collect()
}

/// The mark that lies farthest off from the map through the others, if chance does not explain it.
pub(super) fn most_bent(looks: &[Look]) -> Option<Bent> {
    let found = looks.iter().map(|look| look.bent);
    found
        .min_by(|a, b| a.chance.total_cmp(&b.chance).then(b.studentised.total_cmp(&a.studentised)))
        .filter(|bent| bent.chance <= FALSE)
}

/// How much marks stray from the map beside what their taps scatter.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Strays {
    /// Standard deviation on one axis, mm, and the degrees of freedom it is from.
    pub(super) mm: f64,
    pub(super) dof: f64,
    /// More than chance.
    pub(super) surely: bool,
}

/// The fit with the scatter that its marks' means show, where that is larger; and what they stray.
pub(super) fn as_marks_scatter(fit: Fit, taps: &[&Tap], marks: &[u8]) -> (Fit, Strays) {
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
        return (fit, Strays::default());
    }
    let (between, within) = (between / dof_between, within / dof_within);
    let each = taps.len() as f64 / marks.len() as f64;
    let chance = FisherSnedecor::new(dof_between, dof_within)
        .map_or(1.0, |f| f.sf(between / within.max(GRAIN_MM * GRAIN_MM)));
    let strays = Strays {
        mm: ((between - within) / each).max(0.0).sqrt(),
        dof: dof_between,
        surely: chance <= FALSE_SHIFT,
    };
    let fit = if chance > WIDER {
        fit
    } else {
        Fit { s: between.sqrt().max(GRAIN_MM), dof: dof_between, ..fit }
    };
    (fit, strays)
}

/// The fit with the scatter of all marks but those that surely bend it, where that is larger.
pub(super) fn as_wide(fit: Fit, taps: &[Tap], bent: &[Bent]) -> Fit {
    let surely = |tap: &Tap| bent.iter().any(|bent| bent.mark == tap.mark && bent.chance <= SURE);
    let wide: Vec<&Tap> = taps.iter().filter(|tap| !surely(tap)).collect();
    match self::fit(fit.middle, &wide) {
        Some(wide) if wide.s > fit.s => Fit { s: wide.s, dof: wide.dof, ..fit },
        _ => fit,
    }
}

/// How far whole rounds stray from the map beside what their taps scatter, and how the last one
/// stands to it: as touch wanders, that is how it is left. Of what the last one lies off, the share
/// is believed that is no scatter.
pub(super) fn rounds_stray(fit: &Fit, taps: &[&Tap]) -> (Strays, [f64; 2]) {
    let mut numbers: Vec<u8> = taps.iter().map(|tap| tap.round).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let rounds: Vec<([f64; 2], f64)> =
        numbers.into_iter().filter_map(|round| left(fit, taps, round)).collect();
    let (Some((last, of_last)), true) = (rounds.last(), rounds.len() > 1) else {
        return (Strays::default(), [0.0; 2]);
    };
    let dof = 2.0 * (rounds.len() as f64 - 1.0);
    let squares = |(off, of): &([f64; 2], f64)| of * (off[0].powi(2) + off[1].powi(2));
    let between = rounds.iter().map(squares).sum::<f64>() / dof;
    let each = rounds.iter().map(|(_, of)| of).sum::<f64>() / rounds.len() as f64;
    let variance = ((between - fit.s * fit.s) / each).max(0.0);
    let share = variance / (variance + fit.s * fit.s / of_last);
    (Strays { mm: variance.sqrt(), dof, surely: false }, last.map(|off| share * off))
}

/// What a round lies off from the map, the mean over its taps, and how many they are.
fn left(fit: &Fit, taps: &[&Tap], round: u8) -> Option<([f64; 2], f64)> {
    let own: Vec<&Tap> = taps.iter().copied().filter(|tap| tap.round == round).collect();
    if own.len() < 3 {
        return None;
    }
    let sum = own.iter().fold([0.0; 2], |sum, tap| {
        let by_map = fit.off(tap.at);
        std::array::from_fn(|axis| sum[axis] + tap.off[axis] - by_map[axis])
    });
    Some((sum.map(|sum| sum / own.len() as f64), own.len() as f64))
}

/// The greatest shift between two rounds, if chance does not explain it.
pub(super) fn moved(fit: &Fit, taps: &[&Tap]) -> Option<Moved> {
    let pairs = [[0, 1], [0, 2], [1, 2]];
    let found = pairs.into_iter().filter_map(|between| {
        let ((a, a_taps), (b, b_taps)) =
            (left(fit, taps, between[0])?, left(fit, taps, between[1])?);
        let off = [b[0] - a[0], b[1] - a[1]];
        let squares =
            (off[0].powi(2) + off[1].powi(2)) / (fit.s * fit.s * (1.0 / a_taps + 1.0 / b_taps));
        let chance = (chance_of(squares, fit.dof) * 3.0).min(1.0);
        Some(Moved { between, right: Mm(off[0]), up: Mm(off[1]), chance })
    });
    found.min_by(|a, b| a.chance.total_cmp(&b.chance)).filter(|moved| moved.chance <= FALSE_SHIFT)
}
