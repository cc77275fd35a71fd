//! Forces and masses: what hangs, and what holds it.

use super::{Figure, Purpose};

/// One pound, kg: NIST SP 811 (2008), appendix B.8.
pub(super) const KG_PER_LB: f64 = 0.453_592_37;
/// One pound-force, N: a pound under standard gravity, 9.806 65 m/s² (the same appendix).
pub(super) const N_PER_LBF: f64 = KG_PER_LB * 9.806_65;

/// A force given in N: in N, or with inches in pounds-force.
pub fn force(newtons: f64) -> Figure {
    Figure::new(Purpose::Force, newtons)
}

/// A mass given in kg: in kg, or with inches in pounds.
pub fn mass(kilograms: f64) -> Figure {
    Figure::new(Purpose::Mass, kilograms)
}
