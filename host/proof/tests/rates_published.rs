//! Exact bounds of rates and shares beside published figures.

use skimgauge_proof::rates::{rate_above, rate_below, share_above, share_below};

fn near(found: Option<f64>, published: f64, to: f64) {
    let found = found.unwrap();
    assert!((found - published).abs() <= to, "{found} for {published}");
}

/// Two-sided 95 %: each side 97.5 %. Garwood, Biometrika 28 (1936) 437-442; 3.689 of none as in the
/// documentation of R's epitools (`pois.exact`), the others from memory of that table.
#[test]
fn poisson_limits_are_those_of_garwoods_table() {
    for (count, low, high) in [
        (0, 0.0, 3.689),
        (1, 0.0253, 5.572),
        (2, 0.242, 7.225),
        (5, 1.623, 11.668),
        (10, 4.795, 18.390),
        (20, 12.217, 30.888),
    ] {
        near(rate_below(count, 1.0, 0.975), high, 6e-4);
        near(rate_above(count, 1.0, 0.975), low, 6e-4);
    }
    // Documentation of R's `poisson.test`: the Welsh nickel workers, 137 deaths where 24.19893 were
    // expected (from memory).
    near(rate_below(137, 24.19893, 0.975), 6.692709, 1e-5);
    near(rate_above(137, 24.19893, 0.975), 4.753125, 1e-5);
    // None in a minute says fewer than 3.0 (the rule of three), one-sided 95 %.
    near(rate_below(0, 1.0, 0.95), 2.995732, 1e-6);
    near(rate_below(0, 3.0, 0.95), 0.998577, 1e-6);
}

/// Clopper and Pearson, Biometrika 26 (1934) 404-413. 682 of 925: the documentation of R's
/// `binom.test` after Conover, Practical Nonparametric Statistics, 97 (from memory).
#[test]
fn binomial_limits_are_those_of_clopper_and_pearson() {
    near(share_above(682, 925, 0.975), 0.7076683, 1e-7);
    near(share_below(682, 925, 0.975), 0.7654066, 1e-7);
    // One-sided 95 %: 1 - 0.05^(1/n) of none in n, exactly.
    for n in [1, 5, 39, 60, 300] {
        near(share_below(0, n, 0.95), 1.0 - 0.05f64.powf(1.0 / n as f64), 1e-9);
    }
    near(share_below(0, 39, 0.95), 0.074, 5e-4);
    near(share_below(1, 39, 0.95), 0.116, 5e-4);
    near(share_below(3, 20, 0.975), 0.3789, 5e-5);
    near(share_above(3, 20, 0.975), 0.0321, 5e-5);
}

#[test]
fn what_cannot_be_is_none() {
    for exposure in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(rate_below(1, exposure, 0.95), None);
        assert_eq!(rate_above(1, exposure, 0.95), None);
    }
    assert_eq!(share_below(2, 1, 0.95), None);
    assert_eq!(share_below(0, 0, 0.95), None);
    assert_eq!(rate_below(0, 1.0, 1.0), None);
    assert_eq!(share_above(0, 5, 0.95), Some(0.0));
    assert_eq!(share_below(5, 5, 0.95), Some(1.0));
}
