//! The plane from what was observed, with everything that is uncertain about it.

use super::Plane;
use super::board::{Board, ControlPoint, MODES, Unsurveyed};
use super::consistency::{Consistency, Odd};
use super::fourth::FourthPowers;
use super::observation::{Observations, SharedError};
use super::place::{PlaceTaken, PlacesTaken};
use super::refusal::{PlaneError, check};
use crate::coverage::chi_square_tail;
use crate::linear;
use nalgebra::{DMatrix, DVector};

/// Unknowns: `c`, `p`, `q` and each kind of unknown shape.
pub(crate) const UNKNOWNS: usize = 3 + MODES;

/// Chance alone fits this badly less often than this: uncertainties are widened to fit.
const STRAINED_TAIL: f64 = 0.05;

/// Chance alone fits this badly less often than this: the takes contradict one another.
pub(crate) const CONTRADICTION_TAIL: f64 = 0.001;

/// How well the observations agree with one plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Agreement {
    /// As many observations as unknowns: the fit is exact and says nothing about itself.
    Untested,
    /// As chance would have it.
    Agrees,
    /// Worse than chance in 95 of 100: every uncertainty that comes from the takes is widened by
    /// the Birge ratio.
    Strained,
    /// Worse than chance in 999 of 1000: something moved, a station was misread, or the board is
    /// not as described. Widened too, and nothing is promised: no verdict of `within` or
    /// `outside`, no turns. [`Consistency::odd`] says which reading to look at.
    Contradicts,
}

/// What is left of one observation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Index into [`Observations::gaps`].
    pub index: usize,
    /// Observed less fitted gap, mm.
    pub residual_mm: f64,
    /// The same in its own standard uncertainty; `None` where the fit must go through this
    /// observation.
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
    /// The places read, what checks them, and which is the odd one where they contradict one
    /// another.
    pub consistency: Consistency,
    /// Whether the board was surveyed; what is said of a board that was not holds at the places
    /// read.
    pub surveyed: bool,
    pub(crate) bearings: Bearings,
    /// Variance of the board's own height at a place read, in the mean, mm^2.
    pub(crate) rough: f64,
    /// Where gaps were taken, by rising x; kept only where the board's height is uncertain there.
    pub(crate) places: Vec<PlaceTaken>,
    pub(crate) unknowns: [f64; UNKNOWNS],
    /// Of `unknowns`, from single errors and the board, before widening.
    pub(crate) single: [[f64; UNKNOWNS]; UNKNOWNS],
    /// Share of `single` that comes from each kind of unknown shape: columns.
    prior_gain: [[f64; MODES]; UNKNOWNS],
    /// Sum of `(gain u)^4 / dof` as a form in the products of bearings.
    fourth: Option<FourthPowers>,
    /// What all readings share, at the gap where each is stated, mm^2.
    pub(crate) shared_variance: f64,
    shared: Vec<SharedError>,
}

/// Fits the plane.
///
/// # Errors
/// [`PlaneError`] where the observations cannot decide it, or one of them is not usable.
pub fn fit(observations: &Observations, board: &Board) -> Result<PlaneFit, PlaneError> {
    let mut fitted = bare(observations, board)?;
    fitted.consistency = Consistency::of(observations, board, &fitted);
    Ok(fitted)
}

/// The fit without a look at which reading is odd.
pub(super) fn bare(observations: &Observations, board: &Board) -> Result<PlaneFit, PlaneError> {
    check(observations, board)?;
    let places = PlacesTaken::of(&observations.gaps, board);
    let kinds = kinds_of(board);
    let rows = places.all.len() + usize::from(observations.lean.is_some());
    let bearings = Bearings(board.unknown);
    let row_bearing = |row: usize| match places.all.get(row) {
        Some(place) => bearings.at(place.x_mm, place.y_mm),
        None => [0.0, 0.0, 1.0, 0.0, 0.0, 0.0],
    };
    let mut design = DMatrix::zeros(rows, 3);
    let mut shared = DMatrix::zeros(rows, kinds.len());
    let mut values = DVector::zeros(rows);
    let mut u = Vec::with_capacity(rows);
    for row in 0..rows {
        let bearing = row_bearing(row);
        (0..3).for_each(|c| design[(row, c)] = bearing[c]);
        kinds.iter().enumerate().for_each(|(c, &k)| shared[(row, c)] = bearing[3 + k]);
        match (places.all.get(row), &observations.lean) {
            (Some(place), _) => {
                values[row] = place.height_mm;
                u.push((place.variance + place.rough).sqrt());
            }
            (None, Some(lean)) => {
                values[row] = lean.q_mm_per_m;
                u.push(lean.u_mm_per_m);
            }
            (None, None) => {}
        }
    }
    let solved =
        linear::solve_shared(&design, &shared, &values, &u).map_err(PlaneError::Undecided)?;
    let active: Vec<usize> = (0..3).chain(kinds.iter().map(|k| 3 + k)).collect();
    let mut unknowns = [0.0; UNKNOWNS];
    let mut single = [[0.0; UNKNOWNS]; UNKNOWNS];
    for (i, &at) in active.iter().enumerate() {
        unknowns[at] = solved.estimate[i];
        for (j, &other) in active.iter().enumerate() {
            single[at][other] = solved.covariance[(i, j)];
        }
    }
    let mut prior_gain = [[0.0; MODES]; UNKNOWNS];
    for row in 0..UNKNOWNS {
        prior_gain[row].copy_from_slice(&single[row][3..]);
    }
    let chi_square = solved.chi_square + places.chi_square_within;
    let dof = observations.gaps.len() + usize::from(observations.lean.is_some()) - 3;
    let agreement = match chi_square_tail(chi_square, dof) {
        _ if dof == 0 => Agreement::Untested,
        t if t < CONTRADICTION_TAIL => Agreement::Contradicts,
        t if t < STRAINED_TAIL => Agreement::Strained,
        _ => Agreement::Agrees,
    };
    let widening = match agreement {
        Agreement::Strained | Agreement::Contradicts => (chi_square / dof as f64).sqrt().max(1.0),
        Agreement::Untested | Agreement::Agrees => 1.0,
    };
    let residuals = observations
        .gaps
        .iter()
        .zip(&places.of_take)
        .enumerate()
        .map(|(index, (gap, &at))| {
            let bearing = row_bearing(at);
            let own = gap.u_mm * gap.u_mm + places.all[at].rough;
            let left = own - quadratic(&single, &bearing);
            let residual_mm = gap.gap_mm + places.all[at].surveyed_mm - dot(&unknowns, &bearing);
            Residual {
                index,
                residual_mm,
                normalized: (left > 1e-9 * own).then(|| residual_mm / left.sqrt()),
            }
        })
        .collect();
    let mut fourth: Option<FourthPowers> = None;
    for (row, u_row) in u.iter().enumerate() {
        // Of the row's whole variance only the takes' own part has few degrees of freedom.
        let of_takes = match (places.all.get(row), &observations.lean) {
            (Some(place), _) => place.fourth,
            (None, Some(lean)) => lean.u_mm_per_m.powi(4) / lean.dof,
            (None, None) => 0.0,
        };
        if of_takes > 0.0 {
            let gain = times(&single, &row_bearing(row));
            fourth
                .get_or_insert_with(|| FourthPowers::new(&active))
                .add(&gain, of_takes / u_row.powi(8));
        }
    }
    Ok(PlaneFit {
        plane: Plane::from_array([unknowns[0], unknowns[1], unknowns[2]]),
        chi_square,
        dof,
        agreement,
        widening,
        residuals,
        consistency: Consistency::default(),
        surveyed: board.is_surveyed(),
        bearings,
        rough: places.all.iter().map(|p| p.rough).sum::<f64>() / places.all.len().max(1) as f64,
        places: if board.is_rough() { places.by_x() } else { Vec::new() },
        unknowns,
        single,
        prior_gain,
        fourth,
        shared_variance: observations.shared.iter().map(|s| s.u_mm * s.u_mm).sum(),
        shared: observations.shared.clone(),
    })
}

impl PlaneFit {
    /// Which reading is odd, where they contradict one another; `None` where they do not.
    pub fn contradiction(&self) -> Option<&Odd> {
        self.consistency.odd.as_ref()
    }

    /// The gap at a control point, with its uncertainty and where that comes from.
    pub fn gap_at(&self, point: &ControlPoint) -> Prediction {
        let bearing = self.bearings.at(point.x_mm, point.y_mm);
        let from_board: f64 = (0..MODES)
            .map(|k| {
                let share: f64 = (0..UNKNOWNS).map(|r| self.prior_gain[r][k] * bearing[r]).sum();
                share * share
            })
            .sum();
        let single = quadratic(&self.single, &bearing);
        let here = self.taken_at(point);
        let trust = here.map_or(0.0, PlaceTaken::trust);
        let rest = 1.0 - trust;
        let (taken_mm, taken_variance, taken_fourth) =
            here.map_or((0.0, 0.0, 0.0), |p| (p.height_mm, p.variance, p.fourth));
        let height_mm = rest * dot(&self.unknowns, &bearing) + trust * taken_mm;
        let widened = self.widening * self.widening;
        let takes = (rest * rest * (single - from_board).max(0.0) + trust * trust * taken_variance)
            * widened;
        let board = rest * rest * (from_board * widened + point.u_shape_mm * point.u_shape_mm);
        let gap_mm = height_mm - point.shape_mm;
        let (shared, shared_fourth) = self.shared_at(gap_mm);
        let variance = takes + board + shared;
        let of_plane = self.fourth.as_ref().map_or(0.0, |f| f.at(&bearing));
        let fourth = shared_fourth
            + (rest.powi(4) * of_plane + trust.powi(4) * taken_fourth) * widened * widened;
        Prediction {
            gap_mm,
            u_mm: variance.sqrt(),
            dof: if fourth > 0.0 { variance * variance / fourth } else { f64::INFINITY },
            u_takes_mm: takes.sqrt(),
            u_shared_mm: shared.sqrt(),
            u_board_mm: board.sqrt(),
        }
    }

    /// What all readings share.
    pub(crate) fn shared(&self) -> &[SharedError] {
        &self.shared
    }

    /// Variance of what all readings share at a gap, mm^2, and the sum of its parts' fourth powers
    /// over their degrees of freedom.
    pub(crate) fn shared_at(&self, gap_mm: f64) -> (f64, f64) {
        self.shared.iter().fold((0.0, 0.0), |(variance, fourth), shared| {
            let effect = shared.effect_mm(gap_mm);
            (variance + effect * effect, fourth + effect.powi(4) / shared.dof)
        })
    }

    /// Standard uncertainty and degrees of freedom of a reading of `gap_mm` by itself (`u_mm`,
    /// `dof`) with what all readings share.
    pub(crate) fn with_shared(&self, gap_mm: f64, u_mm: f64, dof: f64) -> (f64, f64) {
        let (shared, shared_fourth) = self.shared_at(gap_mm);
        let variance = u_mm * u_mm + shared;
        let fourth = u_mm.powi(4) / dof + shared_fourth;
        (variance.sqrt(), if fourth > 0.0 { variance * variance / fourth } else { f64::INFINITY })
    }

    /// The place where gaps were taken at a control point, where the board's height is uncertain;
    /// elsewhere `None`.
    fn taken_at(&self, point: &ControlPoint) -> Option<&PlaceTaken> {
        if self.places.is_empty() || point.u_shape_mm <= 0.0 {
            return None;
        }
        PlaceTaken::near(&self.places, point.x_mm, point.y_mm)
    }

    /// How the gap at a point answers to the unknowns, one for fully; and the variance of it that
    /// no other point has part in, mm^2.
    pub(crate) fn answers(&self, point: &ControlPoint) -> (f64, f64) {
        match self.taken_at(point) {
            Some(place) => (1.0 - place.trust(), place.trust() * place.variance),
            None => (1.0, point.u_shape_mm * point.u_shape_mm),
        }
    }

    /// Covariance of `c` (mm), `p` and `q` (mm per metre), as used: shared errors and widening
    /// included.
    pub fn covariance(&self) -> [[f64; 3]; 3] {
        let widened = self.widening * self.widening;
        let mut covariance = [[0.0; 3]; 3];
        for (row, out) in covariance.iter_mut().enumerate() {
            for (column, out) in out.iter_mut().enumerate() {
                *out = self.single[row][column] * widened;
            }
        }
        let [c_mm, p, q] = self.plane.to_array();
        for shared in &self.shared {
            let effect = [shared.effect_mm(c_mm), shared.per_mm * p, shared.per_mm * q];
            for (row, a) in effect.iter().enumerate() {
                effect.iter().enumerate().for_each(|(column, b)| covariance[row][column] += a * b);
            }
        }
        covariance
    }

    /// The unknown shape that the takes revealed, board standing out at a place, mm; zero for a
    /// surveyed board.
    pub fn found_shape_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        let bearing = self.bearings.at(x_mm, y_mm);
        -(3..UNKNOWNS).map(|k| self.unknowns[k] * bearing[k]).sum::<f64>()
    }

    /// The ways in which the board may bend other than fitted, each one standard uncertainty long
    /// and independent of the others; none for a board whose shape is known.
    pub(crate) fn bends(&self) -> Vec<[f64; MODES]> {
        let Some(unknown) = self.bearings.0 else { return Vec::new() };
        if [unknown.bow_across_mm, unknown.bow_down_mm, unknown.twist_mm]
            .iter()
            .all(|mm| *mm <= 0.0)
        {
            return Vec::new();
        }
        let covariance = nalgebra::Matrix3::from_fn(|r, c| self.single[3 + r][3 + c])
            * (self.widening * self.widening);
        let eigen = covariance.symmetric_eigen();
        (0..MODES)
            .filter(|&k| eigen.eigenvalues[k] > 0.0)
            .map(|k| {
                (eigen.eigenvectors.column(k) * eigen.eigenvalues[k].sqrt()).into_owned().into()
            })
            .collect()
    }

    /// Change of the gap at a control point with the touch plane held, for such a bend, mm.
    pub(crate) fn bend_mm(&self, bend: &[f64; MODES], point: &ControlPoint) -> f64 {
        let bearing = self.bearings.at(point.x_mm, point.y_mm);
        let (share, _) = self.answers(point);
        share * bend.iter().zip(&bearing[3..]).map(|(a, b)| a * b).sum::<f64>()
    }

    /// The observation that fits worst, measured in its own standard uncertainty; `None` where none
    /// can be judged.
    pub fn worst(&self) -> Option<&Residual> {
        let size = |r: &Residual| r.normalized.map_or(-1.0, f64::abs);
        self.residuals
            .iter()
            .filter(|r| r.normalized.is_some())
            .max_by(|a, b| size(a).total_cmp(&size(b)))
    }
}

/// How a gap answers to the unknowns, over a board whose bow and twist may be among them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bearings(pub(crate) Option<Unsurveyed>);

impl Bearings {
    pub(crate) fn at(&self, x_mm: f64, y_mm: f64) -> [f64; UNKNOWNS] {
        let [c, p, q] = Plane::bearing(x_mm, y_mm);
        let modes = self.0.as_ref().map_or([0.0; MODES], |u| u.modes(x_mm, y_mm));
        [c, p, q, -modes[0], -modes[1], -modes[2]]
    }
}

/// Kinds of shape that are unknown at all.
pub(crate) fn kinds_of(board: &Board) -> Vec<usize> {
    let amounts =
        board.unknown.map_or([0.0; MODES], |u| [u.bow_across_mm, u.bow_down_mm, u.twist_mm]);
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
