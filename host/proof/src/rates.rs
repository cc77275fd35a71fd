//! Exact bounds of rates (Garwood 1936, Poisson) and of shares (Clopper and Pearson 1934,
//! binomial). "None seen" is never "none": it is fewer than the upper bound.

use statrs::distribution::{Beta, ChiSquared, ContinuousCDF};

/// One-sided confidence of every upper bound that is said.
pub const LEVEL: f64 = 0.95;

/// The rate below which the true one lies with confidence `level`, where `count` events were seen
/// in `exposure` (minutes, metres). `None` unless the exposure is finite and above zero, and
/// `level` between 0 and 1.
pub fn rate_below(count: usize, exposure: f64, level: f64) -> Option<f64> {
    if !(usable(level) && exposure.is_finite() && exposure > 0.0) {
        return None;
    }
    let chi = ChiSquared::new(2.0 * (count as f64 + 1.0)).ok()?;
    Some(quantile(&chi, level, chi_start(count as f64 + 1.0)) / 2.0 / exposure)
}

/// The rate above which the true one lies with confidence `level`; zero where nothing was seen.
/// `None` as [`rate_below`].
pub fn rate_above(count: usize, exposure: f64, level: f64) -> Option<f64> {
    if !(usable(level) && exposure.is_finite() && exposure > 0.0) {
        return None;
    }
    if count == 0 {
        return Some(0.0);
    }
    let chi = ChiSquared::new(2.0 * count as f64).ok()?;
    Some(quantile(&chi, 1.0 - level, chi_start(count as f64)) / 2.0 / exposure)
}

/// The share below which the true one lies with confidence `level`, where `count` of `of` were so.
/// `None` unless `0 < of`, `count <= of`, and `level` between 0 and 1.
pub fn share_below(count: usize, of: usize, level: f64) -> Option<f64> {
    if !usable(level) || of == 0 || count > of {
        return None;
    }
    if count == of {
        return Some(1.0);
    }
    let beta = Beta::new(count as f64 + 1.0, (of - count) as f64).ok()?;
    Some(quantile(&beta, level, 1.0))
}

/// The share above which the true one lies with confidence `level`. `None` as [`share_below`].
pub fn share_above(count: usize, of: usize, level: f64) -> Option<f64> {
    if !usable(level) || of == 0 || count > of {
        return None;
    }
    if count == 0 {
        return Some(0.0);
    }
    let beta = Beta::new(count as f64, (of - count) as f64 + 1.0).ok()?;
    Some(quantile(&beta, 1.0 - level, 1.0))
}

fn usable(level: f64) -> bool {
    level > 0.0 && level < 1.0
}

/// Well above any quantile that is asked for.
fn chi_start(half_dof: f64) -> f64 {
    2.0 * half_dof + 20.0 * (2.0 * half_dof).sqrt() + 100.0
}

/// A quantile of something that is not negative, by halving: to the last digits, whatever the
/// shape.
fn quantile(of: &impl ContinuousCDF<f64, f64>, probability: f64, above: f64) -> f64 {
    let (mut low, mut high) = (0.0, above);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if of.cdf(middle) < probability { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}
