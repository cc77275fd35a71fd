//! Zero and scale of the stand-off on the gauge.
//!
//! `h - e - k (T - T_ref) = a + b d + c d^2`, `d` the stand-off's code from where the head stood on
//! the board; `h` a slit's height, `e` its line's middle in the eye. A straight line, unless the
//! residuals ask for more. What several observations share (a slit's own height, the gauge as a
//! whole, a seat) is carried as an error of its own, so that it neither averages out nor enters the
//! scale. The stand-off's own scatter enters through the slope; against the span of the lifts it is
//! too small to flatten a line (held against orthogonal distance regression).

use crate::budget::{Budget, Distribution, Entry};
use crate::coverage::t_factor;
use crate::linear::{Fit, LinearError, solve_shared};
use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

/// Codes are carried in thousands, so that the columns are of one size.
const CODES: f64 = 1_000.0;
/// A bend that moves the ends of the lifts by less than this is not worth a term, mm.
const BEND_MM: f64 = 0.005;
/// From seat to seat on boards the stand-off is another by up to this (three times what grit and
/// print give): there the statement must hold, mm.
const SEATS_MM: f64 = 0.2;
/// No line is known better than this, mm: a quarter of a step of the wire.
const LEAST_U_MM: f64 = 0.000_25;

/// One line of light while the head stood still.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Which stand of the head, from 0.
    pub stand: usize,
    /// Which slit, from 0.
    pub slit: usize,
    /// The slit's height over the board, mm.
    pub height_mm: f64,
    /// The line's middle in the eye, mm, and its own standard uncertainty.
    pub middle_mm: f64,
    /// See above.
    pub middle_u_mm: f64,
    /// The stand-off's code, and its standard uncertainty.
    pub code: f64,
    /// See above.
    pub code_u: f64,
    /// What temperature adds to the stand-off there, mm.
    pub warm_mm: f64,
}

/// A source of error and its standard uncertainty, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Where it comes from.
    pub from: String,
    /// Standard uncertainty, mm.
    pub u_mm: f64,
}

/// What observations share.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Effects {
    /// Of each slit by itself.
    pub slit: Vec<Effect>,
    /// Of the gauge as a whole.
    pub gauge: Vec<Effect>,
    /// Of each stand of the head by itself.
    pub stand: Vec<Effect>,
    /// Of each lifted stand, besides.
    pub lifted: Vec<Effect>,
}

/// What is left over of one line of light.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Residual {
    /// The slit, mm over the board.
    pub slit_mm: f64,
    /// How far the head was lifted, mm.
    pub lifted_mm: f64,
    /// The slit's height less what the new constants say, mm.
    pub residual_mm: f64,
    /// Standard uncertainty that it should have, mm.
    pub u_mm: f64,
}

/// What the gauge gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Scaled {
    /// The code at which `at_mm` holds.
    pub code: f64,
    /// `s + z0` there, mm.
    pub at_mm: f64,
    /// mm per code there; `None`: the head was not lifted, and the former one stays.
    pub slope: Option<f64>,
    /// Relative standard uncertainty of the slope.
    pub slope_u: f64,
    /// mm per code squared: the former one, unless the residuals asked for another.
    pub curvature: f64,
    /// They did.
    pub bent: bool,
    /// Standard uncertainty of `at_mm` there, mm.
    pub at_u_mm: f64,
    /// The same for whatever seat on a board, beside the slope's.
    pub zero_u_mm: f64,
    /// What is left over.
    pub residuals: Vec<Residual>,
    /// What makes `at_mm` uncertain.
    pub budget: Budget,
    /// Residuals' width over what it should be; `None` without one to spare.
    pub birge: Option<f64>,
    /// Degrees of freedom of that.
    pub dof: usize,
}

/// The curve in force: mm per code and what it is worth, relative.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// mm per code where the head stands on the board; may be falling.
    pub mm_per_code: f64,
    /// Relative standard uncertainty; infinity: nothing is known of it.
    pub u: f64,
    /// mm per code squared.
    pub curvature: f64,
}

/// The former slope counts beside the lifts if the two agree to this, in standard uncertainties; else
/// it is another sensor's.
const AGREE: f64 = 3.0;

/// Columns of shared errors, each with what it is called and whose it is.
struct Shared {
    names: Vec<String>,
    columns: DMatrix<f64>,
}

/// Fits. `home` is the code at which the head stands on the board, `former` the slope in force;
/// `lifted` says which stands count as lifted, `found` whether the slope is to be found.
///
/// # Errors
/// The observations do not decide it.
pub fn through(
    observations: &[Observation],
    effects: &Effects,
    lifted: &[bool],
    home: f64,
    former: Slope,
    found: bool,
) -> Result<Scaled, LinearError> {
    let problem = Problem::of(observations, effects, lifted, home, former, found);
    let (fit, bent) = problem.solved(lifted, former)?;
    let n = problem.terms(bent);
    let wider = inflation(&fit);
    let former_slope = former.mm_per_code * CODES;
    let slope = if found { fit.estimate[1] } else { former_slope };
    let slope_u_mm =
        if found { fit.covariance[(1, 1)].sqrt() * wider } else { former.u * former_slope.abs() };
    let variance = |off_mm: f64| {
        let at = powers(off_mm / slope, n);
        let at = DVector::from_fn(fit.estimate.len(), |k, _| at.get(k).copied().unwrap_or(0.0));
        (at.transpose() * &fit.covariance * &at)[0] * wider * wider
    };
    let slope_u = (slope_u_mm / slope).abs();
    // The two together cover the fit's own statement wherever the head may stand on a board.
    let zero_u_mm = [-SEATS_MM, 0.0, SEATS_MM]
        .into_iter()
        .map(|off| variance(off) - if found { (slope_u * off).powi(2) } else { 0.0 })
        .fold(0.0, f64::max)
        .sqrt();
    let residuals = observations
        .iter()
        .enumerate()
        .map(|(row, o)| Residual {
            slit_mm: o.height_mm,
            lifted_mm: if lifted[o.stand] { problem.d[row] * slope } else { 0.0 },
            residual_mm: problem.residual(&fit, row, n),
            u_mm: problem.shared.columns.row(row).norm().hypot(problem.u[row]),
        })
        .collect();
    Ok(Scaled {
        code: home,
        at_mm: fit.estimate[0],
        slope: found.then_some(slope / CODES),
        slope_u,
        curvature: former.curvature + if bent { fit.estimate[2] / (CODES * CODES) } else { 0.0 },
        bent,
        at_u_mm: variance(0.0).sqrt(),
        zero_u_mm,
        residuals,
        budget: budget(&fit, n, &problem.shared, wider, zero_u_mm),
        birge: fit.birge_ratio(),
        dof: fit.dof,
    })
}

/// What is solved.
struct Problem {
    /// Codes from home, thousands.
    d: Vec<f64>,
    values: DVector<f64>,
    u: Vec<f64>,
    shared: Shared,
    found: bool,
}

fn powers(d: f64, n: usize) -> Vec<f64> {
    (0..n).map(|k| d.powi(k as i32)).collect()
}

impl Problem {
    fn of(
        observations: &[Observation],
        effects: &Effects,
        lifted: &[bool],
        home: f64,
        former: Slope,
        found: bool,
    ) -> Self {
        let d: Vec<f64> = observations.iter().map(|o| (o.code - home) / CODES).collect();
        let values = DVector::from_fn(observations.len(), |row, _| {
            let o = &observations[row];
            // The former bend stays, unless the residuals ask for another.
            let bend = former.curvature * (CODES * d[row]).powi(2);
            let kept = if found { 0.0 } else { former.mm_per_code * CODES * d[row] };
            o.height_mm - o.middle_mm - o.warm_mm - bend - kept
        });
        let u = observations.iter().map(|o| o.middle_u_mm.max(LEAST_U_MM)).collect();
        let shared = shared(observations, effects, lifted, former.mm_per_code);
        Self { d, values, u, shared, found }
    }

    fn terms(&self, bent: bool) -> usize {
        1 + usize::from(self.found) + usize::from(bent)
    }

    /// Solved, with the slope's former value and uncertainty as one more observation of it alone.
    fn with(&self, bent: bool, prior: Option<(f64, f64)>) -> Result<Fit, LinearError> {
        let (rows, n) = (self.d.len(), self.terms(bent));
        let all = rows + usize::from(prior.is_some());
        let of_slope = |k: usize| f64::from(u8::from(k == 1));
        let design = DMatrix::from_fn(all, n, |row, k| {
            self.d.get(row).map_or(of_slope(k), |d| d.powi(k as i32))
        });
        let shared = self.shared.columns.clone().resize_vertically(all, 0.0);
        let (value, u) = prior.unwrap_or_default();
        let values = self.values.clone().resize_vertically(all, value);
        let u: Vec<f64> = self.u.iter().copied().chain(prior.map(|_| u)).collect();
        solve_shared(&design, &shared, &values, &u)
    }

    /// Solved, and whether with a bend: it is taken where it is more than chance (95 %) and more
    /// than a trifle, and a level is left over to show it.
    fn solved(&self, lifted: &[bool], former: Slope) -> Result<(Fit, bool), LinearError> {
        let mut straight = self.with(false, None)?;
        let slope = former.mm_per_code * CODES;
        let slope_u = former.u * slope.abs();
        if self.found && slope_u.is_finite() && slope_u > 0.0 {
            let own_u = straight.covariance[(1, 1)].sqrt() * inflation(&straight);
            if (straight.estimate[1] - slope).abs() <= AGREE * slope_u.hypot(own_u) {
                straight = self.with(false, Some((slope, slope_u)))?;
            }
        }
        let reach = self.d.iter().map(|d| d.abs()).fold(0.0, f64::max);
        let levels = lifted.iter().filter(|lifted| **lifted).count() + 1;
        let may_bend = self.found && levels > 3;
        let bent = if may_bend { self.with(true, None).ok() } else { None }.filter(|fit| {
            let (bend, bend_u) = (fit.estimate[2], fit.covariance[(2, 2)].sqrt() * inflation(fit));
            let k = t_factor(0.95, fit.dof as f64).unwrap_or(f64::INFINITY);
            bend.abs() > k * bend_u && bend.abs() * reach * reach > BEND_MM
        });
        let is_bent = bent.is_some();
        Ok((bent.unwrap_or(straight), is_bent))
    }

    /// Value less what the curve alone says: shared errors' estimates are left in, as a user would
    /// see them.
    fn residual(&self, fit: &Fit, row: usize, n: usize) -> f64 {
        let curve: f64 =
            powers(self.d[row], n).iter().zip(fit.estimate.iter()).map(|(x, b)| x * b).sum();
        self.values[row] - curve
    }
}

/// Residuals wider than they should be widen the result; narrower ones do not narrow it.
fn inflation(fit: &Fit) -> f64 {
    fit.birge_ratio().map_or(1.0, |b| b.max(1.0))
}

fn shared(
    observations: &[Observation],
    effects: &Effects,
    lifted: &[bool],
    mm_per_code: f64,
) -> Shared {
    let rows = observations.len();
    let mut names = Vec::new();
    let mut columns: Vec<DVector<f64>> = Vec::new();
    let mut add = |from: &str, u: &dyn Fn(&Observation) -> f64| {
        let column = DVector::from_fn(rows, |row, _| u(&observations[row]));
        if column.iter().any(|u| *u != 0.0) {
            names.push(from.to_owned());
            columns.push(column);
        }
    };
    let one = |is: bool, u: f64| if is { u } else { 0.0 };
    let slits = observations.iter().map(|o| o.slit + 1).max().unwrap_or(0);
    for effect in &effects.slit {
        for slit in 0..slits {
            add(&effect.from, &|o| one(o.slit == slit, effect.u_mm));
        }
    }
    for effect in &effects.gauge {
        add(&effect.from, &|_| effect.u_mm);
    }
    for (stand, lifted) in lifted.iter().enumerate() {
        for effect in &effects.stand {
            add(&effect.from, &|o| one(o.stand == stand, effect.u_mm));
        }
        for effect in effects.lifted.iter().filter(|_| *lifted) {
            add(&effect.from, &|o| one(o.stand == stand, effect.u_mm));
        }
        add("stand-off's scatter", &|o| one(o.stand == stand, o.code_u * mm_per_code.abs()));
    }
    Shared { columns: DMatrix::from_fn(rows, columns.len(), |r, c| columns[c][r]), names }
}

/// What the zero's uncertainty is made of: of each shared error its own part of the estimate's
/// variance, the rest the eye's.
fn budget(fit: &Fit, unknowns: usize, shared: &Shared, wider: f64, zero_u_mm: f64) -> Budget {
    let mut budget = Budget::new("zero", "mm", 0.0);
    let mut all = 0.0;
    let mut parts: Vec<(&str, f64)> = Vec::new();
    for (k, name) in shared.names.iter().enumerate() {
        let square = fit.covariance[(0, unknowns + k)].powi(2);
        all += square;
        match parts.iter_mut().find(|(other, _)| other == name) {
            Some((_, sum)) => *sum += square,
            None => parts.push((name, square)),
        }
    }
    let eye = (fit.covariance[(0, 0)] - all).max(0.0);
    let entry = |from: &str, square: f64, kind| Entry::new(from, 0.0, square.sqrt(), kind);
    budget.entries = parts.iter().map(|(n, s)| entry(n, *s, Distribution::Normal)).collect();
    budget.entries.push(entry("eye's scatter, pixels unequal", eye, Distribution::Readings));
    if wider > 1.0 {
        let more = budget.u().powi(2) * (wider * wider - 1.0);
        let entry = entry("residuals wider than stated", more, Distribution::Readings);
        budget.entries.push(entry.with_dof(fit.dof as f64));
    }
    let more = zero_u_mm.powi(2) - budget.u().powi(2);
    if more > 1e-12 {
        budget.entries.push(entry("allowance for other seats", more, Distribution::Normal));
    }
    budget
}
