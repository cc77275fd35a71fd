//! Tension and shear together against what the anchor's approval allows.

use serde::{Deserialize, Serialize};

/// What one anchor may carry, from its approval. Every figure is the user's entry; nothing here is
/// a property of an anchor.
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
    /// Whether the approval says that steel failure governs both tension and shear.
    #[serde(default)]
    pub steel_governs: bool,
    /// Whether the approval names the straight rule, tension and shear together at most 1.2.
    #[serde(default)]
    pub straight_rule: bool,
    /// Smallest spacing for which the figures hold, mm.
    pub spacing_mm: f64,
}

impl Allowable {
    /// The rule that its approval asks for.
    pub fn rule(&self) -> Rule {
        match (self.straight_rule, self.steel_governs) {
            (true, _) => Rule::Straight,
            (false, true) => Rule::SteelGoverns,
            (false, false) => Rule::Power,
        }
    }
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

/// How tension and shear count together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rule {
    /// Sum of powers with exponent 1.5, at most 1: wherever the approval says nothing else.
    Power,
    /// Sum of squares, at most 1: where the approval says that steel governs both.
    SteelGoverns,
    /// Plain sum, at most 1.2: where the approval names it.
    Straight,
}

impl Rule {
    /// The exponent of the power rule: 2 where steel governs both, else 1.5.
    pub fn exponent(self) -> f64 {
        match self {
            Rule::SteelGoverns => 2.0,
            Rule::Power | Rule::Straight => 1.5,
        }
    }
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
    /// The exponent `a`: 2 where steel governs both, else 1.5.
    pub exponent: f64,
    /// By the straight rule: `(tension + shear) / 1.2`.
    pub straight: f64,
    /// Which rule counts.
    pub rule: Rule,
    /// What counts: by that rule, and never less than tension or shear alone.
    pub together: f64,
}

/// Tension and shear together after EN 1992-4, 7.2.3: each at most 1, and together by one rule,
/// never by the kinder of two. `tension` and `shear` are shares of the allowed values; compression
/// counts as no tension.
pub fn interaction(tension: f64, shear: f64, rule: Rule) -> Use {
    let exponent = rule.exponent();
    let (tension, shear) = (tension.max(0.0), shear.abs());
    let power = (tension.powf(exponent) + shear.powf(exponent)).powf(1.0 / exponent);
    let straight = (tension + shear) / 1.2;
    let by_rule = if rule == Rule::Straight { straight } else { power };
    Use {
        tension,
        shear,
        power,
        exponent,
        straight,
        rule,
        together: by_rule.max(tension).max(shear),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The rules of EN 1992-4:2018, 7.2.3 and Table 7.3 (from memory; the same numbers as in ETAG
    /// 001 Annex C, excerpted in an anchor manual). Sums computed with numpy for each pair:
    /// tension, shear, squares, 1.5-powers, plain sum.
    #[test]
    fn interaction_sums() {
        for (tension, shear, squares, powers, sum) in [
            (0.6, 0.8, 1.000, 1.1803, 1.4),
            (0.8, 0.5, 0.89, 1.0691, 1.3),
            (0.9, 0.3, 0.90, 1.0181, 1.2),
            (0.6, 0.6, 0.72, 0.9295, 1.2),
        ] {
            let used = |rule| interaction(tension, shear, rule).together;
            // Where one part alone is above the rule's root, that part counts.
            let alone = f64::max(tension, shear);
            assert!((used(Rule::SteelGoverns) - f64::sqrt(squares).max(alone)).abs() < 5e-5);
            assert!((used(Rule::Power).powf(1.5) - powers).abs() < 5e-5);
            assert!((used(Rule::Straight) - f64::max(sum / 1.2, alone)).abs() < 1e-12);
        }
    }

    #[test]
    fn who_passes_and_who_does_not() {
        let passes =
            |tension, shear, rule| interaction(tension, shear, rule).together <= 1.0 + 1e-9;
        assert!(passes(0.6, 0.8, Rule::SteelGoverns) && !passes(0.6, 0.8, Rule::Power));
        assert!(passes(0.8, 0.5, Rule::SteelGoverns) && !passes(0.8, 0.5, Rule::Power));
        // On the edge of the straight rule, beyond the 1.5-power rule: the rule that the approval
        // names counts, not the kinder.
        assert!(!passes(0.9, 0.3, Rule::Power) && passes(0.9, 0.3, Rule::Straight));
        assert!(passes(0.6, 0.8, Rule::SteelGoverns) && !passes(0.6, 0.8, Rule::Straight));
        assert!(passes(0.6, 0.6, Rule::Power));
        for rule in [Rule::Power, Rule::SteelGoverns, Rule::Straight] {
            assert!(!passes(1.01, 0.0, rule) && !passes(0.0, 1.01, rule));
        }
    }

    #[test]
    fn without_a_word_in_the_approval_the_exponent_is_one_and_a_half() {
        let plain = Allowable {
            approval: "00/0000".to_owned(),
            tension_n: 1.0,
            shear_n: 1.0,
            meant_for: MeantFor::FactoredLoads,
            steel_governs: false,
            straight_rule: false,
            spacing_mm: 90.0,
        };
        assert_eq!(plain.rule(), Rule::Power);
        assert_eq!(Allowable { steel_governs: true, ..plain.clone() }.rule(), Rule::SteelGoverns);
        assert_eq!(Allowable { straight_rule: true, ..plain }.rule(), Rule::Straight);
    }

    proptest! {
        #[test]
        fn use_grows_in_step_with_the_load(tension in 0.0..2.0_f64, shear in 0.0..2.0_f64, factor in 1.0..3.0_f64, which in 0..3_usize) {
            let rule = [Rule::Power, Rule::SteelGoverns, Rule::Straight][which];
            let once = interaction(tension, shear, rule).together;
            let more = interaction(tension * factor, shear * factor, rule).together;
            prop_assert!((more - once * factor).abs() < 1e-9 * more.max(1.0));
        }
    }
}
