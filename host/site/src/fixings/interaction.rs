//! Tension and shear together against what the anchor's approval allows.

use serde::{Deserialize, Serialize};

/// What one anchor may carry, from its approval. Every figure is the user's entry; nothing here is a property of an anchor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Allowable {
    /// Number or title of the approval the figures were read in, with its date.
    pub approval: String,
    /// Allowed tension for this base material, depth and edge distance, N.
    pub tension_n: f64,
    /// Allowed shear for the same, N.
    pub shear_n: f64,
    /// Whether the figures are meant for loads without or with load factors.
    pub meant_for: MeantFor,
    /// Whether steel failure governs both tension and shear in the approval.
    #[serde(default)]
    pub steel_governs: bool,
    /// Smallest spacing for which the figures hold, mm.
    pub spacing_mm: f64,
}

/// Which loads an approval's figures go with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MeantFor {
    /// Recommended or working loads: compare with loads as they are.
    LoadsAsTheyAre,
    /// Design resistances: compare with loads times a load factor.
    FactoredLoads,
}

/// How much of an anchor is used up. One is the limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Use {
    /// Tension over allowed tension.
    pub tension: f64,
    /// Shear over allowed shear.
    pub shear: f64,
    /// By the power rule: `(tension^a + shear^a)^(1/a)`.
    pub power: f64,
    /// By the straight rule: `(tension + shear) / 1.2`.
    pub straight: f64,
    /// What counts: the smaller of both rules, but never less than tension or shear alone.
    pub together: f64,
    /// The exponent `a`: 2 where steel governs both, else 1.5.
    pub exponent: f64,
}

/// The interaction rule of ETAG 001 Annex C: tension and shear each at most 1, and either their sum at most 1.2 or the
/// sum of their powers at most 1. `tension` and `shear` are shares of the allowed values; compression counts as no tension.
pub fn interaction(tension: f64, shear: f64, steel_governs: bool) -> Use {
    let exponent = if steel_governs { 2.0 } else { 1.5 };
    let (tension, shear) = (tension.max(0.0), shear.abs());
    let power = (tension.powf(exponent) + shear.powf(exponent)).powf(1.0 / exponent);
    let straight = (tension + shear) / 1.2;
    let together = power.min(straight).max(tension).max(shear);
    Use { tension, shear, power, straight, together, exponent }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Rule as excerpted from ETAG 001 Annex C in an anchor manual; sums of powers computed with numpy for each pair:
    /// tension, shear, squares, 1.5-powers, plain sum.
    #[test]
    fn interaction_sums() {
        for (tension, shear, squares, powers, sum) in [
            (0.6, 0.8, 1.000, 1.1803, 1.4),
            (0.8, 0.5, 0.89, 1.0691, 1.3),
            (0.9, 0.3, 0.90, 1.0181, 1.2),
            (0.6, 0.6, 0.72, 0.9295, 1.2),
        ] {
            let steel = interaction(tension, shear, true);
            let other = interaction(tension, shear, false);
            assert!((steel.power.powi(2) - squares).abs() < 5e-5);
            assert!((other.power.powf(1.5) - powers).abs() < 5e-5);
            assert!((other.straight * 1.2 - sum).abs() < 1e-12);
        }
    }

    #[test]
    fn who_passes_and_who_does_not() {
        let passes = |tension, shear, steel| interaction(tension, shear, steel).together <= 1.0 + 1e-9;
        assert!(passes(0.6, 0.8, true) && !passes(0.6, 0.8, false));
        assert!(passes(0.8, 0.5, true) && !passes(0.8, 0.5, false));
        // On the edge of the straight rule, beyond the 1.5-power rule: either is enough.
        assert!(passes(0.9, 0.3, false));
        assert!(passes(0.6, 0.6, false));
        assert!(!passes(1.01, 0.0, true) && !passes(0.0, 1.01, false));
    }

    proptest! {
        #[test]
        fn use_grows_in_step_with_the_load(tension in 0.0..2.0_f64, shear in 0.0..2.0_f64, factor in 1.0..3.0_f64, steel in any::<bool>()) {
            let once = interaction(tension, shear, steel).together;
            let more = interaction(tension * factor, shear * factor, steel).together;
            prop_assert!((more - once * factor).abs() < 1e-9 * more.max(1.0));
        }
    }
}
