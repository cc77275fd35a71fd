//! The board's shape from a survey: bow, twist and bulge fitted to all places, and what they leave as a
//! smooth local form with its own uncertainty.
//!
//! Universal kriging: a generalised least-squares fit of the form, the local form
//! ([`Local`]) and the scatter of one reading its errors; then the local form's best estimate at
//! any place. A surveyed place is as sure as its reading, a lift that was read stays, and far from
//! all places nothing is claimed but bow and twist. How large the local form is, the survey says
//! itself: the prior counts as so many places besides those surveyed.
//!
//! Where there are more places than a small system can hold, the local form comes from those
//! nearest to the place asked for: farther ones stand behind them and say nothing more.

mod lifts;
mod slip;

use super::board::SurveyError;
use super::prior::{Expected, Local};
use super::strays::bulges;
use nalgebra::{DMatrix, DVector, Dyn, SMatrix, SVector};
pub use slip::Slip;

/// Terms of the form: a plane, two bows, a twist, a bulge between straight edges.
const TERMS: usize = 7;

type FormMatrix = SMatrix<f64, TERMS, TERMS>;
type FormVector = SVector<f64, TERMS>;

/// Up to so many places are solved together.
const TOGETHER: usize = 100;

/// Of more, so many nearest ones tell a height.
const NEAREST: usize = 16;

/// The prior's amplitude weighs as much as this many surveyed places.
const PRIOR_PLACES: f64 = 12.0;

/// The survey cannot make the local form smaller than this share of the prior's.
const LEAST_SHARE: f64 = 0.8;

/// So many places that fit as expected weigh against those near by that do not.
const CALM_PLACES: f64 = 2.0;

/// Standard deviations of the survey's own datum, mm: height in the middle, slope to an edge.
const DATUM_MM: [f64; 3] = [1.0e3, 20.0, 20.0];

/// A height and how well it is known, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Height {
    /// How far the board stands out.
    pub height_mm: f64,
    /// Its standard uncertainty.
    pub u_mm: f64,
}

/// A surveyed board's shape.
#[derive(Debug, Clone, PartialEq)]
pub struct Surface {
    size_mm: [f64; 2],
    u_mm: f64,
    local: Local,
    places: Vec<[f64; 3]>,
    /// Coefficients of the form.
    form: [f64; TERMS],
    slip: Option<Slip>,
    solved: Solved,
}

#[derive(Debug, Clone, PartialEq)]
enum Solved {
    Together(Box<Together>),
    Nearest(Nearest),
}

/// All places in one system.
#[derive(Debug, Clone, PartialEq)]
struct Together {
    /// Lower factor of the covariance of all readings.
    lower: DMatrix<f64>,
    /// `lower^-1` times the form's columns.
    basis: DMatrix<f64>,
    /// Covariance of the readings inverted, times what the form leaves.
    weights: DVector<f64>,
    /// Covariance of the form.
    form: FormMatrix,
    /// How each place differs from what the others say of it.
    off: Vec<Off>,
}

/// How a place differs from what the others say of it.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Off {
    mm: f64,
    /// In its standard deviations.
    deviations: f64,
}

/// What the form leaves, by cell.
#[derive(Debug, Clone, PartialEq)]
struct Nearest {
    low_mm: [f64; 2],
    cell_mm: f64,
    cells: [usize; 2],
    /// Where each cell begins in `order`.
    first: Vec<u32>,
    order: Vec<u32>,
    residual_mm: Vec<f64>,
}

impl Surface {
    /// From places `[x, y, height]` (mm), each height with the standard uncertainty `u_mm` (above
    /// zero), on an image of this width and height (above zero); `prior` says what to reckon with
    /// between them.
    ///
    /// # Errors
    /// [`SurveyError`] without places, or where a number is not finite.
    pub fn new(
        places: Vec<[f64; 3]>,
        u_mm: f64,
        size_mm: [f64; 2],
        prior: impl Into<Expected>,
    ) -> Result<Self, SurveyError> {
        let prior = prior.into();
        if places.is_empty() {
            return Err(SurveyError::Empty);
        }
        if let Some(at) = places.iter().position(|p| p.iter().any(|v| !v.is_finite())) {
            return Err(SurveyError::NotFinite { at });
        }
        let positive = |v: f64| v.is_finite() && v > 0.0;
        if !(positive(u_mm) && size_mm.into_iter().all(positive)) {
            return Err(SurveyError::Sizes);
        }
        let survey = Survey { places: &places, u_mm, size_mm };
        let fitted =
            if places.len() <= TOGETHER { survey.together(prior) } else { survey.nearest(prior) };
        let (form, local, slip, solved) = fitted.ok_or(SurveyError::Uneven)?;
        Ok(Self { size_mm, u_mm, local, places, form, slip, solved })
    }

    /// The surveyed places, `[x, y, height]`, mm.
    pub fn places(&self) -> &[[f64; 3]] {
        &self.places
    }

    /// Standard uncertainty of one surveyed height, mm.
    pub fn reading_u_mm(&self) -> f64 {
        self.u_mm
    }

    /// The place whose height no board has beside what the places round it say: a slip of the pen, or
    /// of the hand.
    pub fn slip(&self) -> Option<Slip> {
        self.slip
    }

    /// The local form as prior and survey together have it.
    pub fn local(&self) -> Local {
        self.local
    }

    /// Bow across, bow down, twist, mm: how far the middle stands out from the ends of its line,
    /// and how far the top right corner stands out by twist.
    pub fn form_mm(&self) -> [f64; 3] {
        [self.form[3], self.form[4], self.form[5]]
    }

    /// By how much more than [`Self::at`] says the board may stray near a place, one or more: where
    /// the places round it differ from what the others say of them, the local form is larger there
    /// than over the board.
    pub fn raised_at(&self, x_mm: f64, y_mm: f64) -> f64 {
        let Solved::Together(all) = &self.solved else { return 1.0 };
        let (mut sum, mut weight) = (CALM_PLACES, CALM_PLACES);
        for (place, off) in self.places.iter().zip(&all.off) {
            let share = self.local.share((place[0] - x_mm).hypot(place[1] - y_mm));
            sum += share * off.deviations * off.deviations;
            weight += share;
        }
        (sum / weight).max(1.0).sqrt()
    }

    /// The height at a place.
    pub fn at(&self, x_mm: f64, y_mm: f64) -> Height {
        let terms = terms(self.size_mm, x_mm, y_mm);
        let of_form: f64 = terms.iter().zip(&self.form).map(|(t, f)| t * f).sum();
        match &self.solved {
            Solved::Together(all) => {
                let variance = self.local.amplitude_mm.powi(2);
                let near = DVector::from_iterator(
                    self.places.len(),
                    self.places
                        .iter()
                        .map(|p| variance * self.local.share((p[0] - x_mm).hypot(p[1] - y_mm))),
                );
                let height_mm = of_form + near.dot(&all.weights);
                let Some(seen) = all.lower.solve_lower_triangular(&near) else {
                    return Height { height_mm, u_mm: f64::INFINITY };
                };
                let terms = FormVector::from(terms) - all.basis.tr_mul(&seen);
                let left = variance - seen.norm_squared() + terms.dot(&(all.form * terms));
                Height { height_mm, u_mm: left.max(0.0).sqrt() }
            }
            Solved::Nearest(nearest) => {
                let (local_mm, u_mm) = nearest.at(self, x_mm, y_mm);
                Height { height_mm: of_form + local_mm, u_mm }
            }
        }
    }
}

/// The form's terms at a place.
fn terms(size_mm: [f64; 2], x_mm: f64, y_mm: f64) -> [f64; TERMS] {
    let across = 2.0 * x_mm / size_mm[0];
    let down = 2.0 * y_mm / size_mm[1] + 1.0;
    let bulge = bulges(size_mm, x_mm, y_mm);
    [1.0, across, down, 1.0 / 3.0 - across * across, 1.0 / 3.0 - down * down, across * down, bulge]
}

/// Prior information on the form's terms.
fn form_information(prior: Expected) -> FormMatrix {
    let [bow_across, bow_down, twist] = prior.form_mm;
    let [middle, across, down] = DATUM_MM;
    FormMatrix::from_diagonal(
        &FormVector::from([middle, across, down, bow_across, bow_down, twist, prior.bulge_mm])
            .map(|sd| 1.0 / (sd * sd)),
    )
}

/// The amplitude that the prior and `places` of the survey come to, whose residuals are `sum` of
/// squares in the prior's own standard deviations.
fn amplitude(prior: Local, sum: f64, places: f64) -> f64 {
    let ratio = (PRIOR_PLACES + sum) / (PRIOR_PLACES + places.max(0.0));
    prior.amplitude_mm * ratio.sqrt().max(LEAST_SHARE)
}

type Fitted = ([f64; TERMS], Local, Option<Slip>, Solved);

struct Survey<'a> {
    places: &'a [[f64; 3]],
    u_mm: f64,
    size_mm: [f64; 2],
}

impl Survey<'_> {
    fn together(&self, prior: Expected) -> Option<Fitted> {
        let local = prior.local;
        let (_, as_stated, sum) = self.solve(prior, local)?;
        let free = self.places.len() as f64 - TERMS as f64;
        let local = local.with_amplitude(amplitude(local, sum, free));
        let (form, all, _) = self.solve(prior, local)?;
        let slip = slip::among(self.places, &as_stated.off);
        Some((form, local, slip, Solved::Together(Box::new(all))))
    }

    /// The form, the system, and the residuals' sum of squares.
    fn solve(&self, prior: Expected, local: Local) -> Option<([f64; TERMS], Together, f64)> {
        let (count, variance) = (self.places.len(), local.amplitude_mm.powi(2));
        let covariance = DMatrix::from_fn(count, count, |a, b| {
            let (p, q) = (self.places[a], self.places[b]);
            let own = if a == b { self.u_mm * self.u_mm } else { 0.0 };
            variance * local.share((p[0] - q[0]).hypot(p[1] - q[1])) + own
        });
        let lower = covariance.cholesky()?.unpack();
        let columns = DMatrix::from_fn(count, TERMS, |row, term| {
            terms(self.size_mm, self.places[row][0], self.places[row][1])[term]
        });
        let heights = DVector::from_iterator(count, self.places.iter().map(|p| p[2]));
        let basis = lower.solve_lower_triangular(&columns)?;
        let values = lower.solve_lower_triangular(&heights)?;
        let information = form_information(prior) + fixed(&basis.tr_mul(&basis));
        let form = information.cholesky()?.inverse();
        let right = basis.tr_mul(&values);
        let found = form * FormVector::from_iterator(right.iter().copied());
        let left = values - &basis * DVector::from_row_slice(found.as_slice());
        let sum = left.norm_squared();
        let weights = lower.tr_solve_lower_triangular(&left)?;
        let halves = lower.solve_lower_triangular(&DMatrix::identity(count, count))?;
        // Left out in turn, a place differs by its weight over the inverse's own entry.
        let off = (0..count).map(|k| {
            let of_inverse = halves.column(k).norm();
            let deviations = weights[k] / of_inverse;
            Off { mm: deviations / of_inverse, deviations }
        });
        let off = off.collect();
        Some((found.into(), Together { lower, basis, weights, form, off }, sum))
    }

    fn nearest(&self, prior: Expected) -> Option<Fitted> {
        let count = self.places.len();
        let mut information = form_information(prior) * (self.u_mm * self.u_mm);
        let mut right = FormVector::zeros();
        for &[x_mm, y_mm, height_mm] in self.places {
            let row = FormVector::from(terms(self.size_mm, x_mm, y_mm));
            information.ger(1.0, &row, &row, 1.0);
            right.axpy(height_mm, &row, 1.0);
        }
        let form: [f64; TERMS] = information.cholesky()?.solve(&right).into();
        let residual_mm: Vec<f64> = self
            .places
            .iter()
            .map(|&[x, y, height]| {
                let of_form: f64 =
                    terms(self.size_mm, x, y).iter().zip(&form).map(|(t, f)| t * f).sum();
                height - of_form
            })
            .collect();
        let local = prior.local;
        let mean = residual_mm.iter().map(|r| r * r).sum::<f64>() / count as f64;
        let shown = (mean - self.u_mm * self.u_mm).max(0.0) / local.amplitude_mm.powi(2);
        // Places nearer than the reach say the same.
        let apart = self.size_mm[0] * self.size_mm[1] / local.reach_mm.powi(2);
        let free = (count as f64).min(apart);
        let local = local.with_amplitude(amplitude(local, free * shown, free));
        let nearest = Nearest::new(self.places, residual_mm);
        let slip = nearest.slip(self.places);
        Some((form, local, slip, Solved::Nearest(nearest)))
    }
}

fn fixed(matrix: &DMatrix<f64>) -> FormMatrix {
    FormMatrix::from_iterator(matrix.iter().copied())
}

impl Nearest {
    fn new(places: &[[f64; 3]], residual_mm: Vec<f64>) -> Self {
        let mut low_mm = [f64::INFINITY; 2];
        let mut high_mm = [f64::NEG_INFINITY; 2];
        for place in places {
            for axis in 0..2 {
                low_mm[axis] = low_mm[axis].min(place[axis]);
                high_mm[axis] = high_mm[axis].max(place[axis]);
            }
        }
        let extent = [high_mm[0] - low_mm[0], high_mm[1] - low_mm[1]].map(|mm| mm.max(1.0));
        // About four places in a cell.
        let cell_mm = (4.0 * extent[0] * extent[1] / places.len() as f64).sqrt();
        let cells = extent.map(|mm| (mm / cell_mm) as usize + 1);
        let mut nearest = Self {
            low_mm,
            cell_mm,
            cells,
            first: vec![0; cells[0] * cells[1] + 1],
            order: vec![0; places.len()],
            residual_mm,
        };
        let cell_of: Vec<usize> = places.iter().map(|p| nearest.cell(p[0], p[1])).collect();
        cell_of.iter().for_each(|&cell| nearest.first[cell + 1] += 1);
        for cell in 1..nearest.first.len() {
            nearest.first[cell] += nearest.first[cell - 1];
        }
        let mut next = nearest.first.clone();
        for (place, &cell) in cell_of.iter().enumerate() {
            nearest.order[next[cell] as usize] = place as u32;
            next[cell] += 1;
        }
        nearest
    }

    fn axis_cell(&self, axis: usize, mm: f64) -> usize {
        let cell = ((mm - self.low_mm[axis]) / self.cell_mm).max(0.0) as usize;
        cell.min(self.cells[axis] - 1)
    }

    fn cell(&self, x_mm: f64, y_mm: f64) -> usize {
        self.axis_cell(1, y_mm) * self.cells[0] + self.axis_cell(0, x_mm)
    }

    /// The places nearest to one, by the square of the distance.
    fn near(&self, places: &[[f64; 3]], x_mm: f64, y_mm: f64) -> Vec<(f64, usize)> {
        let (column, row) = (self.axis_cell(0, x_mm), self.axis_cell(1, y_mm));
        let mut found: Vec<(f64, usize)> = Vec::with_capacity(8 * NEAREST);
        let most = self.cells[0].max(self.cells[1]);
        let mut enough = None;
        for ring in 0..=most {
            // One ring more than holds enough: a corner is farther than the next side.
            if enough.is_some_and(|at| ring > at + 1) {
                break;
            }
            let rows = row.saturating_sub(ring)..=(row + ring).min(self.cells[1] - 1);
            for r in rows {
                let columns = column.saturating_sub(ring)..=(column + ring).min(self.cells[0] - 1);
                for c in columns {
                    if r.abs_diff(row).max(c.abs_diff(column)) != ring {
                        continue;
                    }
                    let cell = r * self.cells[0] + c;
                    let held = self.first[cell] as usize..self.first[cell + 1] as usize;
                    found.extend(self.order[held].iter().map(|&at| {
                        let p = places[at as usize];
                        ((p[0] - x_mm).powi(2) + (p[1] - y_mm).powi(2), at as usize)
                    }));
                }
            }
            if enough.is_none() && found.len() >= NEAREST {
                enough = Some(ring);
            }
        }
        if found.len() > NEAREST {
            found.select_nth_unstable_by(NEAREST, |a, b| a.0.total_cmp(&b.0));
            found.truncate(NEAREST);
        }
        found
    }

    /// The local form at a place and its standard uncertainty, mm.
    fn at(&self, surface: &Surface, x_mm: f64, y_mm: f64) -> (f64, f64) {
        let near = self.near(&surface.places, x_mm, y_mm);
        let (local, variance) = (surface.local, surface.local.amplitude_mm.powi(2));
        let covariance =
            nalgebra::OMatrix::<f64, Dyn, Dyn>::from_fn(near.len(), near.len(), |a, b| {
                let (p, q) = (surface.places[near[a].1], surface.places[near[b].1]);
                let own = if a == b { surface.u_mm.powi(2) } else { 0.0 };
                variance * local.share((p[0] - q[0]).hypot(p[1] - q[1])) + own
            });
        let to = DVector::from_iterator(
            near.len(),
            near.iter().map(|(square, _)| variance * local.share(square.sqrt())),
        );
        let left =
            DVector::from_iterator(near.len(), near.iter().map(|&(_, at)| self.residual_mm[at]));
        let Some(factor) = covariance.cholesky() else { return (0.0, f64::INFINITY) };
        let weights = factor.solve(&to);
        (weights.dot(&left), (variance - weights.dot(&to)).max(0.0).sqrt())
    }
}
