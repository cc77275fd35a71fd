//! Means of what has an uncertainty each, how much they differ beyond it, and scatter within groups.

/// A value and its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// What many estimates of one kind of thing come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Their mean.
    pub mean: f64,
    /// Its standard uncertainty.
    pub u_mean: f64,
    /// Standard deviation from thing to thing, beyond what the estimates' own uncertainty explains.
    pub between: f64,
    /// How many.
    pub count: usize,
}

/// Smaller uncertainties are not believed: nothing would weigh against them.
const LEAST_U: f64 = 1e-9;

fn weighted(estimates: &[Estimate], more: f64) -> (f64, f64) {
    let weights = || estimates.iter().map(|e| 1.0 / (e.u.max(LEAST_U).powi(2) + more));
    let whole: f64 = weights().sum();
    let mean = weights().zip(estimates).map(|(w, e)| w * e.value).sum::<f64>() / whole;
    (mean, whole)
}

/// Several estimates of one thing: their mean, with the larger of the uncertainty that they state
/// and the one that their scatter shows. `None` for none.
pub fn mean(estimates: &[Estimate]) -> Option<Estimate> {
    if estimates.is_empty() {
        return None;
    }
    let (value, whole) = weighted(estimates, 0.0);
    let stated = 1.0 / whole.sqrt();
    let count = estimates.len() as f64;
    let shown = if estimates.len() > 1 {
        let square: f64 = estimates.iter().map(|e| (e.value - value).powi(2)).sum();
        (square / (count - 1.0) / count).sqrt()
    } else {
        0.0
    };
    Some(Estimate { value, u: stated.max(shown) })
}

/// Estimates of many things of one kind: a random-effects mean after DerSimonian and Laird (1986).
/// `None` for none.
pub fn spread(estimates: &[Estimate]) -> Option<Spread> {
    if estimates.is_empty() {
        return None;
    }
    let (first, whole) = weighted(estimates, 0.0);
    let weights: Vec<f64> = estimates.iter().map(|e| 1.0 / e.u.max(LEAST_U).powi(2)).collect();
    let q: f64 = weights.iter().zip(estimates).map(|(w, e)| w * (e.value - first).powi(2)).sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    let scale = whole - squares / whole;
    let between = if estimates.len() > 1 && scale > 0.0 {
        ((q - (estimates.len() as f64 - 1.0)) / scale).max(0.0)
    } else {
        0.0
    };
    let (mean, whole) = weighted(estimates, between);
    Some(Spread {
        mean,
        u_mean: 1.0 / whole.sqrt(),
        between: between.sqrt(),
        count: estimates.len(),
    })
}

/// Standard deviation within groups of repeats, all together, and its degrees of freedom; `None`
/// where no group repeats.
pub fn within<'a>(groups: impl IntoIterator<Item = &'a [f64]>) -> Option<(f64, usize)> {
    let (mut square, mut dof) = (0.0, 0);
    for group in groups.into_iter().filter(|group| group.len() > 1) {
        let mean = group.iter().sum::<f64>() / group.len() as f64;
        square += group.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
        dof += group.len() - 1;
    }
    (dof > 0).then(|| ((square / dof as f64).sqrt(), dof))
}

/// The value that a share of the others lies below, between neighbours in proportion; `None` for
/// none.
pub fn quantile(values: &[f64], share: f64) -> Option<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|value| value.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let place = share.clamp(0.0, 1.0) * last as f64;
    let (low, part) = (place.floor() as usize, place.fract());
    let high = (low + 1).min(last);
    Some(sorted[low] + part * (sorted[high] - sorted[low]))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn estimates(values: &[(f64, f64)]) -> Vec<Estimate> {
        values.iter().map(|(value, u)| Estimate { value: *value, u: *u }).collect()
    }

    #[test]
    fn a_mean_weighs_by_uncertainty_and_believes_the_scatter() {
        // Worked by hand: weights 4 and 1.
        let found = mean(&estimates(&[(1.0, 0.5), (2.0, 1.0)])).unwrap();
        assert!((found.value - 1.2).abs() < 1e-12, "{found:?}");
        let scattered = mean(&estimates(&[(0.0, 0.01), (2.0, 0.01)])).unwrap();
        assert!((scattered.u - 1.0).abs() < 1e-12, "{scattered:?}");
        assert_eq!(mean(&[]), None);
    }

    /// Worked by hand with equal uncertainties: then it is the usual variance less their own.
    #[test]
    fn the_spread_is_what_uncertainty_does_not_explain() {
        let found = spread(&estimates(&[(1.0, 0.5), (2.0, 0.5), (3.0, 0.5)])).unwrap();
        assert!((found.mean - 2.0).abs() < 1e-12);
        assert!((found.between - (1.0_f64 - 0.25).sqrt()).abs() < 1e-12, "{found:?}");
        assert!((found.u_mean - (1.0_f64 / 3.0).sqrt()).abs() < 1e-12, "{found:?}");
        let alike = spread(&estimates(&[(1.0, 0.5), (1.1, 0.5)])).unwrap();
        assert_eq!(alike.between, 0.0);
        assert_eq!(spread(&[]), None);
        assert_eq!(spread(&estimates(&[(3.0, 0.1)])).map(|s| (s.mean, s.count)), Some((3.0, 1)));
    }

    /// Nine laboratories of Kacker, "Combining information from interlaboratory evaluations using a
    /// random effects model", Metrologia 41 (2004), 132 to 136, table 1, first row: 0.5359 there.
    /// To all places as R's metafor has it (`rma`, method DL), as kept in the tests of statsmodels.
    #[test]
    fn laboratories_that_differ_come_out_as_published() {
        let values = [61.00, 61.40, 62.21, 62.30, 62.34, 62.60, 62.70, 62.84, 65.90];
        let variances: [f64; 9] =
            [0.2025, 1.2100, 0.0900, 0.2025, 0.3844, 0.5625, 0.0676, 0.0225, 1.8225];
        let all: Vec<(f64, f64)> = values.into_iter().zip(variances.map(f64::sqrt)).collect();
        let found = spread(&estimates(&all)).unwrap();
        assert!((found.between - 0.5359).abs() < 1e-3, "{found:?}");
        assert!((found.between.powi(2) - 0.288_049_246_973_751).abs() < 1e-9, "{found:?}");
        assert!((found.mean - 62.390_138_604_450_4).abs() < 1e-9, "{found:?}");
        assert!((found.u_mean - 0.245_749_668_040_304).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn scatter_within_groups_takes_each_about_its_own_mean() {
        let (sd, dof) = within([&[1.0, 3.0][..], &[10.0], &[5.0, 5.0, 8.0]]).unwrap();
        assert_eq!(dof, 3);
        assert!((sd - ((2.0 + 6.0) / 3.0_f64).sqrt()).abs() < 1e-12);
        assert_eq!(within([&[1.0][..], &[]]), None);
    }

    #[test]
    fn quantiles_lie_between_neighbours() {
        let values = [4.0, 1.0, 3.0, 2.0];
        assert_eq!(quantile(&values, 0.5), Some(2.5));
        assert_eq!((quantile(&values, 0.0), quantile(&values, 1.0)), (Some(1.0), Some(4.0)));
        assert_eq!(quantile(&[], 0.5), None);
    }
}
