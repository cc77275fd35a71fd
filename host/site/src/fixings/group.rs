//! Loads on the anchors of one stiff plate.
//!
//! In the plane of the wall: elastic method, direct shear by area plus moment over the polar moment
//! about the area centroid. Out of the plane: the rule that the plate turns about that centroid
//! too. What the wall does to a plate that presses on it is in [`super::contact`].

use nalgebra::{Matrix2, Vector2};
use serde::{Deserialize, Serialize};

/// Anchors no farther than this beside a line, in quadratic mean, stand in a line: a hole is
/// drilled no truer, mm.
const LINE_MM: f64 = 3.0;

/// One anchor in the plate's frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Anchor {
    /// As marked on the template.
    pub name: String,
    /// Right of the plate's middle, mm.
    pub x_mm: f64,
    /// Above the plate's middle, mm.
    pub y_mm: f64,
    /// Stress area, mm2, or any figure in proportion to it. Equal anchors: leave it out.
    #[serde(default = "one")]
    pub area: f64,
}

fn one() -> f64 {
    1.0
}

/// Force on the plate and moment about the anchors' area centroid, plate's axes (x right, y up, z
/// out of the wall).
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Load {
    /// Force to the right, N.
    pub fx_n: f64,
    /// Force upward, N.
    pub fy_n: f64,
    /// Force out of the wall, N.
    pub fz_n: f64,
    /// Moment that pulls the plate's top off the wall, N mm (about x).
    pub mx_n_mm: f64,
    /// Moment that pulls the plate's left side off the wall, N mm (about y).
    pub my_n_mm: f64,
    /// Moment that turns the plate anticlockwise on the wall, N mm (about z).
    pub mz_n_mm: f64,
}

/// Shear on one anchor from the in-plane part.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Shear {
    /// Force on the anchor to the right, N.
    pub fx_n: f64,
    /// Force on the anchor upward, N.
    pub fy_n: f64,
}

impl Shear {
    /// Size of the shear, N.
    pub fn resultant_n(self) -> f64 {
        self.fx_n.hypot(self.fy_n)
    }
}

/// The plate's edges, plate's frame, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlateEdges {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
}

/// Area centroid of the anchors, mm.
pub fn centroid_mm(anchors: &[Anchor]) -> (f64, f64) {
    let total: f64 = anchors.iter().map(|anchor| anchor.area).sum();
    let mean = |of: fn(&Anchor) -> f64| anchors.iter().map(|a| a.area * of(a)).sum::<f64>() / total;
    (mean(|a| a.x_mm), mean(|a| a.y_mm))
}

/// Shear on each anchor. A single anchor cannot take a moment in the plane: its share of `mz_n_mm`
/// is left out, and the caller has to refuse such a plate.
pub fn in_plane(anchors: &[Anchor], load: Load) -> Vec<Shear> {
    let (cx_mm, cy_mm) = centroid_mm(anchors);
    let total: f64 = anchors.iter().map(|anchor| anchor.area).sum();
    let polar: f64 = anchors
        .iter()
        .map(|a| a.area * ((a.x_mm - cx_mm).powi(2) + (a.y_mm - cy_mm).powi(2)))
        .sum();
    let turn = if polar > 0.0 { load.mz_n_mm / polar } else { 0.0 };
    anchors
        .iter()
        .map(|a| Shear {
            fx_n: a.area * (load.fx_n / total - turn * (a.y_mm - cy_mm)),
            fy_n: a.area * (load.fy_n / total + turn * (a.x_mm - cx_mm)),
        })
        .collect()
}

/// Tension on each anchor, N, if the plate turns about the anchors' centroid and presses nowhere;
/// below zero is compression. A line of anchors has no lever across itself: that part of the moment
/// is left out, and [`super::contact`] has it.
pub fn about_centroid(anchors: &[Anchor], load: Load) -> Vec<f64> {
    let (cx_mm, cy_mm) = centroid_mm(anchors);
    let total: f64 = anchors.iter().map(|anchor| anchor.area).sum();
    let moment = |of: fn(f64, f64) -> f64| -> f64 {
        anchors.iter().map(|a| a.area * of(a.x_mm - cx_mm, a.y_mm - cy_mm)).sum()
    };
    let (ixx, iyy, ixy) = (moment(|_, y| y * y), moment(|x, _| x * x), moment(|x, y| x * y));
    // N/A = fz/A + p x + q y with moments about x and y equal to those of the load, along the
    // anchors' own two axes.
    let axes = Matrix2::new(iyy, ixy, ixy, ixx).symmetric_eigen();
    let turn = Vector2::new(-load.my_n_mm, load.mx_n_mm);
    let slope = axes.eigenvalues.iter().zip(axes.eigenvectors.column_iter()).fold(
        Vector2::zeros(),
        |sum, (spread, axis)| {
            if *spread > LINE_MM.powi(2) * total {
                sum + axis * (axis.dot(&turn) / spread)
            } else {
                sum
            }
        },
    );
    let (p, q) = (slope.x, slope.y);
    anchors
        .iter()
        .map(|a| a.area * (load.fz_n / total + p * (a.x_mm - cx_mm) + q * (a.y_mm - cy_mm)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn anchor(x_mm: f64, y_mm: f64) -> Anchor {
        Anchor { name: String::new(), x_mm, y_mm, area: 1.0 }
    }

    proptest! {
        /// Statics: the anchors' forces add up to the load, and so do their moments.
        #[test]
        fn shear_and_tension_are_in_balance(
            points in prop::collection::vec((-300.0..300.0_f64, -300.0..300.0_f64, 0.5..3.0_f64), 4..12),
            fx_n in -1e3..1e3_f64, fy_n in -1e3..1e3_f64, fz_n in -1e3..1e3_f64,
            mx_n_mm in -1e5..1e5_f64, my_n_mm in -1e5..1e5_f64, mz_n_mm in -1e5..1e5_f64,
        ) {
            let anchors: Vec<Anchor> = points.iter().map(|&(x_mm, y_mm, area)| Anchor { area, ..anchor(x_mm, y_mm) }).collect();
            let load = Load { fx_n, fy_n, fz_n, mx_n_mm, my_n_mm, mz_n_mm };
            let (cx, cy) = centroid_mm(&anchors);
            let shear = in_plane(&anchors, load);
            let moment: f64 = anchors.iter().zip(&shear).map(|(a, s)| (a.x_mm - cx) * s.fy_n - (a.y_mm - cy) * s.fx_n).sum();
            prop_assert!((shear.iter().map(|s| s.fx_n).sum::<f64>() - fx_n).abs() < 1e-6);
            prop_assert!((shear.iter().map(|s| s.fy_n).sum::<f64>() - fy_n).abs() < 1e-6);
            prop_assert!((moment - mz_n_mm).abs() < 1e-5);
            let tension = about_centroid(&anchors, load);
            // Anchors in a line, whichever way it runs, carry no moment about it.
            let second = |of: fn(f64, f64) -> f64| -> f64 {
                anchors.iter().map(|a| a.area * of(a.x_mm - cx, a.y_mm - cy)).sum()
            };
            let (xx, xy, yy) = (second(|x, _| x * x), second(|x, y| x * y), second(|_, y| y * y));
            let least = (xx + yy) / 2.0 - ((xx - yy) / 2.0).hypot(xy);
            let total: f64 = anchors.iter().map(|a| a.area).sum();
            prop_assume!(least > 1.01 * LINE_MM.powi(2) * total);
            prop_assert!((tension.iter().sum::<f64>() - fz_n).abs() < 1e-5);
            let mx: f64 = anchors.iter().zip(&tension).map(|(a, n)| (a.y_mm - cy) * n).sum();
            let my: f64 = anchors.iter().zip(&tension).map(|(a, n)| -(a.x_mm - cx) * n).sum();
            prop_assert!((mx - mx_n_mm).abs() < 1e-3 && (my - my_n_mm).abs() < 1e-3, "{mx} {my}");
        }

        /// The direction in which a plate is drawn does not matter.
        #[test]
        fn shear_turns_with_the_plate(angle in 0.0..6.2_f64, fx_n in -1e3..1e3_f64, fy_n in -1e3..1e3_f64, mz_n_mm in -1e5..1e5_f64) {
            let turn = |x: f64, y: f64| (x * angle.cos() - y * angle.sin(), x * angle.sin() + y * angle.cos());
            let points = [(-80.0, 60.0), (90.0, 50.0), (75.0, -60.0), (-75.0, -65.0)];
            let straight: Vec<Anchor> = points.iter().map(|&(x, y)| anchor(x, y)).collect();
            let turned: Vec<Anchor> = points.iter().map(|&(x, y)| { let (x, y) = turn(x, y); anchor(x, y) }).collect();
            let load = Load { fx_n, fy_n, mz_n_mm, ..Load::default() };
            let (tx_n, ty_n) = turn(fx_n, fy_n);
            let turned_load = Load { fx_n: tx_n, fy_n: ty_n, ..load };
            for (a, b) in in_plane(&straight, load).into_iter().zip(in_plane(&turned, turned_load)) {
                prop_assert!((a.resultant_n() - b.resultant_n()).abs() < 1e-6);
            }
        }
    }
}
