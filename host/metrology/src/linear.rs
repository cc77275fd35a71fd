//! Least squares by orthogonal factors, with single and shared errors, and what each observation
//! puts into the result.
//!
//! Shared errors are carried as further unknowns, each with an observation of its own: zero, with
//! standard uncertainty one. Its column holds what one standard uncertainty of it does to every
//! observation. That is generalised least squares with covariance `diag(u^2) + F F'`, never written
//! out as a matrix of all observations by all observations, and it gives the shared errors' own
//! estimates on the way.

use nalgebra::{DMatrix, DVector};
use thiserror::Error;

/// Columns whose remainder after the ones before is smaller than this, relative to their own
/// length, add nothing.
const RANK_TOLERANCE: f64 = 1e-11;

/// Why there is no estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum LinearError {
    /// Fewer observations than unknowns.
    #[error("{observations} observations cannot decide {unknowns} unknowns")]
    TooFew {
        /// Observations given.
        observations: usize,
        /// Unknowns asked for.
        unknowns: usize,
    },
    /// Some combination of the unknowns bears on no observation.
    #[error("the observations leave a combination of the unknowns undecided")]
    Undecided,
    /// A value, coefficient or standard uncertainty is not a finite number, or an uncertainty is
    /// not above zero.
    #[error("observation {} is not usable: values must be finite, uncertainties above zero", .at + 1)]
    Unusable {
        /// Row, from zero.
        at: usize,
    },
    /// The tables given do not have one row for each observation.
    #[error("the design, the values and the uncertainties differ in length")]
    Shape,
}

/// A solved problem.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Estimates of the unknowns; the shared errors' own, in standard uncertainties, come last.
    pub estimate: DVector<f64>,
    /// Covariance of `estimate`, taking the standard uncertainties as given.
    pub covariance: DMatrix<f64>,
    /// Value minus fitted value by observation (shared errors' estimates included in the fitted
    /// value), unit of the values.
    pub residuals: DVector<f64>,
    /// Sum of squares of all residuals over their uncertainties, the shared errors' own included.
    pub chi_square: f64,
    /// Observations less unknowns; shared errors count in neither.
    pub dof: usize,
}

impl Fit {
    /// Root of chi-square over its degrees of freedom: how many times wider the residuals are than
    /// they should be. `None` where there is no degree of freedom left.
    pub fn birge_ratio(&self) -> Option<f64> {
        (self.dof > 0).then(|| (self.chi_square / self.dof as f64).sqrt())
    }

    /// What one unit of an observation (its row of the design, shared columns included, and its
    /// standard uncertainty) moves each unknown by.
    pub fn gain(&self, row: &DVector<f64>, u: f64) -> DVector<f64> {
        &self.covariance * row / (u * u)
    }
}

/// Weighted least squares: `design` has a row for each observation and a column for each unknown,
/// `u` a standard uncertainty for each observation.
pub fn solve(design: &DMatrix<f64>, values: &DVector<f64>, u: &[f64]) -> Result<Fit, LinearError> {
    solve_shared(design, &DMatrix::zeros(design.nrows(), 0), values, u)
}

/// Generalised least squares: as [`solve`], with a column of `shared` for each error that several
/// observations have in common, holding what one standard uncertainty of it does to each.
pub fn solve_shared(
    design: &DMatrix<f64>,
    shared: &DMatrix<f64>,
    values: &DVector<f64>,
    u: &[f64],
) -> Result<Fit, LinearError> {
    let (observations, unknowns, sources) = (design.nrows(), design.ncols(), shared.ncols());
    if values.len() != observations || u.len() != observations || shared.nrows() != observations {
        return Err(LinearError::Shape);
    }
    for at in 0..observations {
        let usable = u[at].is_finite()
            && u[at] > 0.0
            && values[at].is_finite()
            && design.row(at).iter().chain(shared.row(at).iter()).all(|c| c.is_finite());
        if !usable {
            return Err(LinearError::Unusable { at });
        }
    }
    if observations < unknowns {
        return Err(LinearError::TooFew { observations, unknowns });
    }
    let columns = unknowns + sources;
    let whitened = DMatrix::from_fn(observations + sources, columns, |row, column| {
        if row >= observations {
            f64::from(u8::from(column == unknowns + row - observations))
        } else if column < unknowns {
            design[(row, column)] / u[row]
        } else {
            shared[(row, column - unknowns)] / u[row]
        }
    });
    let target = DVector::from_fn(observations + sources, |row, _| {
        if row < observations { values[row] / u[row] } else { 0.0 }
    });
    let (estimate, covariance) = triangular_solution(&whitened, &target)?;
    let left = residual_of(&whitened, &estimate, &target);
    let residuals = DVector::from_fn(observations, |row, _| left[row] * u[row]);
    Ok(Fit {
        chi_square: left.norm_squared(),
        dof: observations - unknowns,
        estimate,
        covariance,
        residuals,
    })
}

/// Estimate and covariance of the whitened problem, by Householder factors of its columns brought
/// to one length each.
fn triangular_solution(
    whitened: &DMatrix<f64>,
    target: &DVector<f64>,
) -> Result<(DVector<f64>, DMatrix<f64>), LinearError> {
    let columns = whitened.ncols();
    let lengths: Vec<f64> = whitened.column_iter().map(|c| c.norm()).collect();
    if lengths.iter().any(|&l| l <= 0.0 || !l.is_finite()) {
        return Err(LinearError::Undecided);
    }
    let mut scaled = whitened.clone();
    for (mut column, length) in scaled.column_iter_mut().zip(&lengths) {
        column /= *length;
    }
    let factors = scaled.qr();
    let r = factors.r();
    if r.diagonal().iter().any(|d| d.abs() < RANK_TOLERANCE) {
        return Err(LinearError::Undecided);
    }
    let solve = |right: &DVector<f64>| -> Option<DVector<f64>> {
        let mut rotated = right.clone();
        factors.q_tr_mul(&mut rotated);
        r.solve_upper_triangular(&rotated.rows(0, columns).into_owned())
    };
    let unscaled = |mut x: DVector<f64>| {
        x.iter_mut().zip(&lengths).for_each(|(x, length)| *x /= length);
        x
    };
    let first = unscaled(solve(target).ok_or(LinearError::Undecided)?);
    // One correction from residuals in about twice the working precision wins back what
    // cancellation took.
    let left = residual_of(whitened, &first, target);
    let estimate = &first + unscaled(solve(&left).ok_or(LinearError::Undecided)?);
    let inverse = r
        .solve_upper_triangular(&DMatrix::identity(columns, columns))
        .ok_or(LinearError::Undecided)?;
    let covariance = DMatrix::from_fn(columns, columns, |i, j| {
        inverse.row(i).dot(&inverse.row(j)) / (lengths[i] * lengths[j])
    });
    Ok((estimate, covariance))
}

/// `target - design * estimate`, each sum carried in two parts (Ogita, Rump and Oishi's Dot2).
fn residual_of(
    design: &DMatrix<f64>,
    estimate: &DVector<f64>,
    target: &DVector<f64>,
) -> DVector<f64> {
    DVector::from_fn(target.len(), |row, _| {
        let mut sum = target[row];
        let mut rest = 0.0;
        for (coefficient, unknown) in design.row(row).iter().zip(estimate.iter()) {
            let (product, product_error) = exact_product(-coefficient, *unknown);
            let total = sum + product;
            let back = total - sum;
            rest += (sum - (total - back)) + (product - back) + product_error;
            sum = total;
        }
        sum + rest
    })
}

/// A product and what rounding took from it (Dekker's splitting, which needs no fused instruction).
fn exact_product(a: f64, b: f64) -> (f64, f64) {
    let halves = |x: f64| {
        let shifted = 134_217_729.0 * x;
        let high = shifted - (shifted - x);
        (high, x - high)
    };
    let product = a * b;
    let ((a1, a2), (b1, b2)) = (halves(a), halves(b));
    (product, a2 * b2 - (((product - a1 * b1) - a2 * b1) - a1 * b2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shared_error_is_the_covariance_written_out() {
        let design = DMatrix::from_row_slice(4, 2, &[1.0, 0.0, 1.0, 1.0, 1.0, 2.5, 1.0, 4.0]);
        let shared = DMatrix::from_row_slice(4, 1, &[0.3, 0.3, 0.1, 0.0]);
        let values = DVector::from_vec(vec![1.0, 2.2, 3.1, 5.4]);
        let u = [0.1, 0.2, 0.1, 0.3];
        let fit = solve_shared(&design, &shared, &values, &u).unwrap();
        let full = DMatrix::from_diagonal(&DVector::from_vec(u.map(|u| u * u).to_vec()))
            + &shared * shared.transpose();
        let weight = full.try_inverse().unwrap();
        let covariance = (design.transpose() * &weight * &design).try_inverse().unwrap();
        let estimate = &covariance * design.transpose() * &weight * &values;
        let left = &values - &design * &estimate;
        assert!((fit.estimate.rows(0, 2) - estimate).norm() < 1e-12);
        assert!((fit.covariance.view((0, 0), (2, 2)) - covariance).norm() < 1e-12);
        assert!((fit.chi_square - (left.transpose() * weight * &left)[0]).abs() < 1e-9);
        assert_eq!(fit.dof, 2);
    }

    #[test]
    fn what_cannot_be_decided_is_refused() {
        let values = DVector::from_vec(vec![1.0, 2.0, 3.0]);
        let twins = DMatrix::from_row_slice(3, 2, &[1.0, 2.0, 1.0, 2.0, 1.0, 2.0]);
        assert_eq!(solve(&twins, &values, &[1.0; 3]), Err(LinearError::Undecided));
        let good = DMatrix::from_row_slice(3, 2, &[1.0, 2.0, 1.0, 3.0, 1.0, 5.0]);
        for u in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(solve(&good, &values, &[1.0, u, 1.0]), Err(LinearError::Unusable { at: 1 }));
        }
        let wide = DMatrix::from_element(1, 2, 1.0);
        let one = DVector::from_vec(vec![1.0]);
        assert_eq!(
            solve(&wide, &one, &[1.0]),
            Err(LinearError::TooFew { observations: 1, unknowns: 2 })
        );
        assert_eq!(solve(&good, &values, &[1.0]), Err(LinearError::Shape));
    }
}
