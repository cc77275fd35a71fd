//! From standard uncertainties to an interval: effective degrees of freedom, coverage factor,
//! expanded uncertainty.
//!
//! After JCGM 100:2008 (the GUM), annex G. Degrees of freedom may be any positive number; infinity
//! says that a standard uncertainty is taken as exactly known.

use statrs::distribution::{ChiSquared, ContinuousCDF, Normal, StudentsT};
use std::sync::OnceLock;

/// The level of confidence of every interval that the project states.
pub const LEVEL: f64 = 0.95;

/// Beyond this many degrees of freedom the t distribution is told from the normal one by its
/// leading terms alone.
const LARGE_DOF: f64 = 1.0e6;

/// One independent share of a combined standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// Sensitivity times standard uncertainty, in the unit of the result; the sign does not
    /// matter.
    pub u: f64,
    /// Degrees of freedom behind it; infinity where it is taken as known.
    pub dof: f64,
}

/// What to do with degrees of freedom that are not whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DofRule {
    /// Down to the next whole number: the wider interval. The rule of the project.
    #[default]
    Truncate,
    /// Use them as they are.
    AsIs,
}

/// A standard uncertainty with what makes an interval of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expanded {
    /// Standard uncertainty, unit of the value.
    pub u: f64,
    /// Effective degrees of freedom, before any rounding.
    pub dof: f64,
    /// Coverage factor.
    pub k: f64,
    /// Half width of the interval, `k u`.
    pub expanded: f64,
}

/// Two-sided coverage factor of Student's t: the interval of plus and minus this many standard
/// uncertainties holds the share `level` of the distribution. `None` unless `0 < level < 1` and
/// `dof > 0`.
///
/// GUM table G.2 holds rounded values.
pub fn t_factor(level: f64, dof: f64) -> Option<f64> {
    let level_fits = level > 0.0 && level < 1.0;
    if !level_fits || dof.is_nan() || dof <= 0.0 {
        return None;
    }
    let upper = 0.5 + level / 2.0;
    let normal = Normal::new(0.0, 1.0).ok()?;
    if dof > LARGE_DOF {
        let z = normal.inverse_cdf(upper);
        // Leading term of the expansion of t in 1/dof (Abramowitz and Stegun 26.7.5); zero at
        // infinity.
        return Some(z + z * (z * z + 1.0) / (4.0 * dof));
    }
    let t = StudentsT::new(0.0, 1.0, dof).ok()?;
    Some(polished(t.inverse_cdf(upper), upper, &t))
}

/// A quantile after two Newton steps: the library's own search stops at an absolute tolerance.
fn polished(start: f64, probability: f64, t: &StudentsT) -> f64 {
    use statrs::distribution::Continuous;
    (0..2).fold(start, |x, _| {
        let step = (t.cdf(x) - probability) / t.pdf(x);
        if step.is_finite() && step.abs() < 0.1 * x.abs() { x - step } else { x }
    })
}

/// Root of the sum of squares of independent shares.
pub fn combined_u(shares: &[Share]) -> f64 {
    shares.iter().map(|s| s.u * s.u).sum::<f64>().sqrt()
}

/// Effective degrees of freedom after Welch and Satterthwaite (GUM G.2b). Infinity where every
/// share that counts is taken as known, and where there is no share at all.
pub fn effective_dof(shares: &[Share]) -> f64 {
    let variance: f64 = shares.iter().map(|s| s.u * s.u).sum();
    let fourth: f64 = shares.iter().filter(|s| s.u != 0.0).map(|s| s.u.powi(4) / s.dof).sum();
    if fourth > 0.0 { variance * variance / fourth } else { f64::INFINITY }
}

/// Expanded uncertainty of a standard uncertainty. `None` where `u` is negative or not a number, or
/// the level or the degrees of freedom are out of range (less than one degree cannot be truncated).
pub fn expand(u: f64, dof: f64, level: f64, rule: DofRule) -> Option<Expanded> {
    if u.is_nan() || u < 0.0 {
        return None;
    }
    let used = match rule {
        DofRule::Truncate => truncated(dof),
        DofRule::AsIs => dof,
    };
    let k = t_factor(level, used)?;
    Some(Expanded { u, dof, k, expanded: k * u })
}

/// Down to a whole number, but a hair below a whole number counts as that number: rounding must not
/// cost a degree.
fn truncated(dof: f64) -> f64 {
    if dof.is_finite() { (dof * (1.0 + 1e-9)).floor() } else { dof }
}

/// Coverage factors at whole degrees of freedom for one level, each worked out once: a map of ten
/// thousand points asks for the same few again and again.
///
/// Above [`FactorTable::LAST`] degrees the factor there is used, which is 0.02 % wide at most at 95
/// %; at infinity the normal one.
#[derive(Debug, Clone)]
pub struct FactorTable {
    level: f64,
    at: Vec<f64>,
    at_infinity: f64,
}

impl FactorTable {
    /// Highest finite number of degrees that has a factor of its own.
    pub const LAST: usize = 4000;

    /// An empty table; `None` unless `0 < level < 1`.
    pub fn new(level: f64) -> Option<Self> {
        Some(Self { level, at: Vec::new(), at_infinity: t_factor(level, f64::INFINITY)? })
    }

    /// The factor at `dof` degrees, truncated to a whole number; infinite below one degree, where
    /// nothing is known.
    pub fn factor(&mut self, dof: f64) -> f64 {
        if dof == f64::INFINITY {
            return self.at_infinity;
        }
        let whole = truncated(dof);
        if whole.is_nan() || whole < 1.0 {
            return f64::INFINITY;
        }
        let index = (whole as usize).min(Self::LAST);
        if self.at.len() <= index {
            self.at.resize(index + 1, f64::NAN);
        }
        if self.at[index].is_nan() {
            self.at[index] = self.worked_out(index);
        }
        self.at[index]
    }

    fn worked_out(&self, dof: usize) -> f64 {
        let work_out = || t_factor(self.level, dof as f64).unwrap_or(f64::INFINITY);
        match USUAL.get(dof) {
            Some(known) if self.level.to_bits() == LEVEL.to_bits() => *known.get_or_init(work_out),
            _ => work_out(),
        }
    }
}

/// The factors at [`LEVEL`] that are asked for at every verdict, each worked out once and for all.
static USUAL: [OnceLock<f64>; 256] = [const { OnceLock::new() }; 256];

/// Share of the chi-square distribution with `dof` degrees of freedom that lies above `chi_square`:
/// how often chance alone fits at least this badly. One where there is no degree of freedom left;
/// zero for a value that is not finite.
pub fn chi_square_tail(chi_square: f64, dof: usize) -> f64 {
    if dof == 0 {
        return 1.0;
    }
    if !chi_square.is_finite() {
        return 0.0;
    }
    ChiSquared::new(dof as f64).map_or(0.0, |d| d.sf(chi_square.max(0.0)))
}

/// Share of a normal distribution (`mean`, `u`) that lies outside `low..high`, right in its own size
/// however small. `u` must be positive; a value that is not a number gives one.
pub fn nonconformance_probability(mean: f64, u: f64, low: f64, high: f64) -> f64 {
    /// No double is as small as what lies beyond.
    const NOTHING: f64 = 38.0;
    let (below, above) = ((mean - low) / u, (high - mean) / u);
    if below > NOTHING && above > NOTHING {
        return 0.0;
    }
    match (u > 0.0, Normal::new(0.0, 1.0)) {
        (true, Ok(normal)) if below.is_finite() && above.is_finite() => {
            (normal.sf(below) + normal.sf(above)).min(1.0)
        }
        _ => 1.0,
    }
}

/// Share of a normal distribution (`mean`, `u`) that lies inside `low..high`: the conformance
/// probability of JCGM 106:2012, 7. Either limit may be infinite. `u` must be positive; a value
/// that is not a number gives zero.
pub fn conformance_probability(mean: f64, u: f64, low: f64, high: f64) -> f64 {
    let Ok(normal) = Normal::new(mean, u) else {
        return 0.0;
    };
    let at = |limit: f64| {
        if limit == f64::NEG_INFINITY {
            0.0
        } else if limit == f64::INFINITY {
            1.0
        } else {
            normal.cdf(limit)
        }
    };
    (at(high) - at(low)).max(0.0)
}
