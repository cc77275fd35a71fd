//! The plane from what was observed, with everything that is uncertain about it.

use super::Plane;
use super::board::{Board, ControlPoint, MODES};
use super::observation::{GapObservation, Observations};
use crate::coverage::chi_square_tail;
use crate::linear::{self, LinearError};
use nalgebra::{DMatrix, DVector};
use std::collections::HashMap;
use thiserror::Error;

/// Unknowns: `c`, `p`, `q` and each kind of unknown shape.
pub(crate) const UNKNOWNS: usize = 3 + MODES;

/// Stations nearer than this are one place, mm: a head is not clipped more exactly.
pub const SAME_PLACE_MM: f64 = 5.0;

/// Stations whose spread across a line is less than this share of their spread along it are in a line.
const LINE_SHARE: f64 = 0.01;

/// Chance alone fits this badly less often than this: uncertainties are widened to fit.
const STRAINED_TAIL: f64 = 0.05;

/// Chance alone fits this badly less often than this: the takes contradict one another.
const CONTRADICTION_TAIL: f64 = 0.001;

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
    #[error("station {name} is given at two places {apart_mm:.0} mm apart: one of them has the wrong name or position")]
    NameAtTwoPlaces {
        /// The name.
        name: String,
        /// Distance between them, mm.
        apart_mm: f64,
    },
    /// The board's uncertainties or sizes are not usable.
    #[error("the board's size and the uncertainty of its shape must be finite numbers, none below zero")]
    Board,
    /// The arithmetic found no answer.
    #[error("the stations do not decide the plane: {0}")]
    Undecided(LinearError),
}

/// How well the observations agree with one plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Agreement {
    /// As many observations as unknowns: the fit is exact and says nothing about itself.
    Untested,
    /// As chance would have it.
    Agrees,
    /// Worse than chance in 95 of 100: every uncertainty that comes from the takes is widened by the Birge ratio.
    Strained,
    /// Worse than chance in 999 of 1000: something moved, or the board is not as described. Widened too, and no verdict
    /// of `within` is given, because the gap at a place between the stations is then not known at all.
    Contradicts,
}

/// What is left of one observation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Index into [`Observations::gaps`].
    pub index: usize,
    /// Observed less fitted gap, mm.
    pub residual_mm: f64,
    /// The same in its own standard uncertainty; `None` where the fit must go through this observation.
    pub normalized: Option<f64>,
}

/// A gap predicted at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// The gap, mm.
    pub gap_mm: f64,
    /// Its standard uncertainty, all told, mm.
    pub u_mm: f64,
    /// Effective degrees of freedom of it.
    pub dof: f64,
    /// Share that more takes would shrink, mm.
    pub u_takes_mm: f64,
    /// Share that all gaps have in common, mm: the zero, the temperature.
    pub u_shared_mm: f64,
    /// Share from the board's shape, mm.
    pub u_board_mm: f64,
}

/// A fitted plane.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaneFit {
    /// The plane.
    pub plane: Plane,
    /// Sum of squared residuals over their uncertainties.
    pub chi_square: f64,
    /// Observations less unknowns.
    pub dof: usize,
    /// How well it all agrees.
    pub agreement: Agreement,
    /// What every uncertainty from the takes was widened by; one where nothing was.
    pub widening: f64,
    /// What is left of each gap, in the order of the observations.
    pub residuals: Vec<Residual>,
    pub(crate) board: Board,
    pub(crate) unknowns: [f64; UNKNOWNS],
    /// Of `unknowns`, from single errors and the board, before widening.
    pub(crate) single: [[f64; UNKNOWNS]; UNKNOWNS],
    /// Share of `single` that comes from each kind of unknown shape: columns.
    prior_gain: [[f64; MODES]; UNKNOWNS],
    /// Sum of `(gain u)^4 / dof` as a form in the products of bearings.
    fourth: Option<FourthPowers>,
    pub(crate) shared_variance: f64,
    shared_fourth: f64,
}

/// Fits the plane.
///
/// # Errors
/// [`PlaneError`] where the observations cannot decide it, or one of them is not usable.
pub fn fit(observations: &Observations, board: &Board) -> Result<PlaneFit, PlaneError> {
    check(observations, board)?;
    let gaps = &observations.gaps;
    let kinds = kinds_of(board);
    let rows = gaps.len() + usize::from(observations.lean.is_some());
    let bearings = Bearings::new(board);
    let row_bearing = |row: usize| match gaps.get(row) {
        Some(gap) => bearings.at(gap.x_mm, gap.y_mm),
        None => [0.0, 0.0, 1.0, 0.0, 0.0, 0.0],
    };
    let u_shape2 = board.u_shape_mm * board.u_shape_mm;
    let mut design = DMatrix::zeros(rows, 3);
    let mut shared = DMatrix::zeros(rows, kinds.len());
    let mut values = DVector::zeros(rows);
    let mut u = Vec::with_capacity(rows);
    for row in 0..rows {
        let bearing = row_bearing(row);
        (0..3).for_each(|c| design[(row, c)] = bearing[c]);
        kinds.iter().enumerate().for_each(|(c, &k)| shared[(row, c)] = bearing[3 + k]);
        match (gaps.get(row), &observations.lean) {
            (Some(gap), _) => {
                values[row] = gap.gap_mm + board.height_mm(gap.x_mm, gap.y_mm);
                u.push((gap.u_mm * gap.u_mm + u_shape2).sqrt());
            }
            (None, Some(lean)) => {
                values[row] = lean.q_mm_per_m;
                u.push(lean.u_mm_per_m);
            }
            (None, None) => {}
        }
    }
    let solved = linear::solve_shared(&design, &shared, &values, &u).map_err(PlaneError::Undecided)?;
    let place: Vec<usize> = (0..3).chain(kinds.iter().map(|k| 3 + k)).collect();
    let mut unknowns = [0.0; UNKNOWNS];
    let mut single = [[0.0; UNKNOWNS]; UNKNOWNS];
    for (i, &at) in place.iter().enumerate() {
        unknowns[at] = solved.estimate[i];
        for (j, &other) in place.iter().enumerate() {
            single[at][other] = solved.covariance[(i, j)];
        }
    }
    let mut prior_gain = [[0.0; MODES]; UNKNOWNS];
    for row in 0..UNKNOWNS {
        prior_gain[row].copy_from_slice(&single[row][3..]);
    }
    let tail = chi_square_tail(solved.chi_square, solved.dof);
    let agreement = match tail {
        _ if solved.dof == 0 => Agreement::Untested,
        t if t < CONTRADICTION_TAIL => Agreement::Contradicts,
        t if t < STRAINED_TAIL => Agreement::Strained,
        _ => Agreement::Agrees,
    };
    let widening = match agreement {
        Agreement::Strained | Agreement::Contradicts => solved.birge_ratio().unwrap_or(1.0).max(1.0),
        Agreement::Untested | Agreement::Agrees => 1.0,
    };
    let residuals = (0..gaps.len())
        .map(|index| {
            let left = u[index] * u[index] - quadratic(&single, &row_bearing(index));
            let judged = left > 1e-9 * u[index] * u[index];
            Residual {
                index,
                residual_mm: solved.residuals[index],
                normalized: judged.then(|| solved.residuals[index] / left.sqrt()),
            }
        })
        .collect();
    let mut fourth: Option<FourthPowers> = None;
    for (row, &u_row) in u.iter().enumerate() {
        let (u_taken, dof) = match (gaps.get(row), &observations.lean) {
            (Some(gap), _) => (gap.u_mm, gap.dof),
            (None, Some(lean)) => (lean.u_mm_per_m, lean.dof),
            (None, None) => continue,
        };
        if dof.is_finite() {
            // Of the row's whole variance only the take's own part has few degrees of freedom.
            let weight = u_taken.powi(4) / (u_row.powi(8) * dof);
            let gain = times(&single, &row_bearing(row));
            fourth.get_or_insert_with(|| FourthPowers::new(&place)).add(&gain, weight);
        }
    }
    Ok(PlaneFit {
        plane: Plane::from_array([unknowns[0], unknowns[1], unknowns[2]]),
        chi_square: solved.chi_square,
        dof: solved.dof,
        agreement,
        widening,
        residuals,
        board: board.clone(),
        unknowns,
        single,
        prior_gain,
        fourth,
        shared_variance: observations.shared.iter().map(|s| s.u_mm * s.u_mm).sum(),
        shared_fourth: observations.shared.iter().map(|s| s.u_mm.powi(4) / s.dof).sum(),
    })
}

impl PlaneFit {
    /// The gap at a control point, with its uncertainty and where that comes from.
    pub fn gap_at(&self, point: &ControlPoint) -> Prediction {
        let bearing = Bearings::new(&self.board).at(point.x_mm, point.y_mm);
        let gap_mm = dot(&self.unknowns, &bearing) - point.shape_mm;
        let from_board: f64 = (0..MODES)
            .map(|k| {
                let share: f64 = (0..UNKNOWNS).map(|r| self.prior_gain[r][k] * bearing[r]).sum();
                share * share
            })
            .sum();
        let single = quadratic(&self.single, &bearing);
        let widened = self.widening * self.widening;
        let takes = (single - from_board).max(0.0) * widened;
        let board = from_board * widened + point.u_shape_mm * point.u_shape_mm;
        let variance = takes + board + self.shared_variance;
        let fourth = self.shared_fourth + self.fourth.as_ref().map_or(0.0, |f| f.at(&bearing) * widened * widened);
        Prediction {
            gap_mm,
            u_mm: variance.sqrt(),
            dof: if fourth > 0.0 { variance * variance / fourth } else { f64::INFINITY },
            u_takes_mm: takes.sqrt(),
            u_shared_mm: self.shared_variance.sqrt(),
            u_board_mm: board.sqrt(),
        }
    }

    /// Covariance of `c` (mm), `p` and `q` (mm per metre), as used: shared errors and widening included.
    pub fn covariance(&self) -> [[f64; 3]; 3] {
        let widened = self.widening * self.widening;
        let mut covariance = [[0.0; 3]; 3];
        for (row, out) in covariance.iter_mut().enumerate() {
            for (column, out) in out.iter_mut().enumerate() {
                *out = self.single[row][column] * widened;
            }
        }
        covariance[0][0] += self.shared_variance;
        covariance
    }

    /// The unknown shape that the takes revealed, board standing out at a place, mm; zero for a surveyed board.
    pub fn found_shape_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        let bearing = Bearings::new(&self.board).at(x_mm, y_mm);
        -(3..UNKNOWNS).map(|k| self.unknowns[k] * bearing[k]).sum::<f64>()
    }

    /// The observation that fits worst, measured in its own standard uncertainty; `None` where none can be judged.
    pub fn worst(&self) -> Option<&Residual> {
        let size = |r: &Residual| r.normalized.map_or(-1.0, f64::abs);
        self.residuals.iter().filter(|r| r.normalized.is_some()).max_by(|a, b| size(a).total_cmp(&size(b)))
    }
}

/// How a gap answers to the unknowns.
pub(crate) struct Bearings<'a> {
    board: &'a Board,
}

impl<'a> Bearings<'a> {
    pub(crate) fn new(board: &'a Board) -> Self {
        Self { board }
    }

    pub(crate) fn at(&self, x_mm: f64, y_mm: f64) -> [f64; UNKNOWNS] {
        let [c, p, q] = Plane::bearing(x_mm, y_mm);
        let modes = self.board.unknown.as_ref().map_or([0.0; MODES], |u| u.modes(x_mm, y_mm));
        [c, p, q, -modes[0], -modes[1], -modes[2]]
    }
}

/// Kinds of shape that are unknown at all.
pub(crate) fn kinds_of(board: &Board) -> Vec<usize> {
    let amounts = board.unknown.map_or([0.0; MODES], |u| [u.bow_across_mm, u.bow_down_mm, u.twist_mm]);
    (0..MODES).filter(|&k| amounts[k] > 0.0).collect()
}

pub(crate) fn dot(a: &[f64; UNKNOWNS], b: &[f64; UNKNOWNS]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

pub(crate) fn times(m: &[[f64; UNKNOWNS]; UNKNOWNS], v: &[f64; UNKNOWNS]) -> [f64; UNKNOWNS] {
    std::array::from_fn(|r| dot(&m[r], v))
}

pub(crate) fn quadratic(m: &[[f64; UNKNOWNS]; UNKNOWNS], v: &[f64; UNKNOWNS]) -> f64 {
    dot(&times(m, v), v)
}

/// Products of two of the active unknowns, each once.
fn pairs<'a>(v: &'a [f64; UNKNOWNS], active: &'a [usize]) -> impl Iterator<Item = f64> + 'a {
    active.iter().enumerate().flat_map(move |(at, &i)| active[at..].iter().map(move |&j| v[i] * v[j]))
}

/// A sum of fourth powers as a form: `(gain . h)^2` is linear in the pair products of `h`, so its square is a quadratic
/// form in them, and any number of observations fold into one.
#[derive(Debug, Clone, PartialEq)]
struct FourthPowers {
    active: Vec<usize>,
    form: Vec<f64>,
}

impl FourthPowers {
    fn new(active: &[usize]) -> Self {
        let products = active.len() * (active.len() + 1) / 2;
        Self { active: active.to_vec(), form: vec![0.0; products * products] }
    }

    /// Adds `weight (gain . h)^4`.
    fn add(&mut self, gain: &[f64; UNKNOWNS], weight: f64) {
        let twice = self
            .active
            .iter()
            .enumerate()
            .flat_map(|(at, &i)| self.active[at..].iter().map(move |&j| if i == j { 1.0 } else { 2.0 }));
        let square: Vec<f64> = pairs(gain, &self.active).zip(twice).map(|(p, t)| p * t).collect();
        for (row, a) in self.form.chunks_exact_mut(square.len()).zip(&square) {
            row.iter_mut().zip(&square).for_each(|(f, b)| *f += weight * a * b);
        }
    }

    fn at(&self, bearing: &[f64; UNKNOWNS]) -> f64 {
        let mut products = [0.0; UNKNOWNS * (UNKNOWNS + 1) / 2];
        let count = self.active.len() * (self.active.len() + 1) / 2;
        products.iter_mut().zip(pairs(bearing, &self.active)).for_each(|(to, p)| *to = p);
        self.form
            .chunks_exact(count)
            .zip(&products)
            .map(|(row, a)| a * row.iter().zip(&products).map(|(f, b)| f * b).sum::<f64>())
            .sum()
    }
}

fn check(observations: &Observations, board: &Board) -> Result<(), PlaneError> {
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

/// Whether the places decide a plane: three not in a line, or, with the lean known, two not one above the other.
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
    if across < LINE_SHARE * along || across < SAME_PLACE_MM / 4.0 { Err(PlaneError::InALine) } else { Ok(()) }
}
