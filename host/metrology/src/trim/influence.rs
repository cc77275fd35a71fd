//! What one turn of each adjuster does to the plane.

use super::TrimError;
use crate::plane::Plane;
use nalgebra::SMatrix;
use skimgauge_model::{Adjuster, Sense};
use skimgauge_quantity::{Mm, Turns};

/// Adjusters whose triangle is flatter than this, mm, are in a line: their positions are not known
/// more exactly.
const LEAST_HEIGHT_MM: f64 = 5.0;

/// What is not known exactly of the emitter's adjusters, before any turn has been watched. Common
/// practice, no source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GeometryUncertainty {
    /// Standard uncertainty of an adjuster's position, each way, mm.
    pub u_position_mm: f64,
    /// Standard uncertainty of a pitch as a share of it.
    pub u_pitch_share: f64,
}

impl Default for GeometryUncertainty {
    fn default() -> Self {
        Self { u_position_mm: 1.5, u_pitch_share: 0.02 }
    }
}

/// Change of `c` (mm), `p` and `q` (mm per metre) for one clockwise turn of each adjuster.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Influence {
    /// By adjuster, then by `c`, `p`, `q`.
    pub by_adjuster: [[f64; 3]; 3],
}

impl Influence {
    /// From where the adjusters stand: heights of three points make a plane.
    ///
    /// # Errors
    /// [`TrimError::InALine`], [`TrimError::BadAdjuster`].
    pub fn of(adjusters: &[Adjuster; 3]) -> Result<Self, TrimError> {
        for adjuster in adjusters {
            let bad =
                |what, value| TrimError::BadAdjuster { name: adjuster.name.clone(), what, value };
            for value in [adjuster.at.x, adjuster.at.y] {
                if !value.is_finite() {
                    return Err(bad("position", value.0));
                }
            }
            if !(adjuster.pitch.is_finite() && adjuster.pitch > Mm::ZERO) {
                return Err(bad("pitch", adjuster.pitch.0));
            }
            for travel in [adjuster.travel_clockwise, adjuster.travel_anticlockwise] {
                if travel.0.is_nan() || travel < Turns::ZERO {
                    return Err(bad("travel", travel.0));
                }
            }
        }
        let places = [0, 1, 2].map(|i| [adjusters[i].at.x.0, adjusters[i].at.y.0]);
        let height_mm = least_height(&places);
        if height_mm < LEAST_HEIGHT_MM {
            let names = adjusters.iter().map(|a| a.name.as_str()).collect::<Vec<_>>().join(", ");
            return Err(TrimError::InALine { names, height_mm });
        }
        let advance = [0, 1, 2].map(|i| adjusters[i].pitch.0 * sign(adjusters[i].clockwise));
        Ok(Self { by_adjuster: columns(&places, &advance) })
    }

    /// Change of the gap at a place for one clockwise turn of each adjuster, mm.
    pub fn effect(&self, x_mm: f64, y_mm: f64) -> [f64; 3] {
        let bearing = Plane::bearing(x_mm, y_mm);
        self.by_adjuster.map(|column| column.iter().zip(bearing).map(|(a, b)| a * b).sum())
    }

    /// Change of the gap at a place for these turns, clockwise by adjuster, mm.
    pub fn moved_mm(&self, x_mm: f64, y_mm: f64, turns: &[f64; 3]) -> f64 {
        by_turns(&self.effect(x_mm, y_mm), turns)
    }

    /// The plane after `turns` (clockwise, by adjuster).
    pub fn turned(&self, plane: Plane, turns: &[f64; 3]) -> Plane {
        let mut values = plane.to_array();
        for (column, n) in self.by_adjuster.iter().zip(turns) {
            values.iter_mut().zip(column).for_each(|(v, a)| *v += a * n);
        }
        Plane::from_array(values)
    }

    /// Covariance of the nine entries, by adjuster then `c`, `p`, `q`: what the stated uncertainty
    /// of pitches and positions makes of them, to first order.
    pub fn prior_covariance(
        adjusters: &[Adjuster; 3],
        geometry: GeometryUncertainty,
    ) -> SMatrix<f64, 9, 9> {
        let places = [0, 1, 2].map(|i| [adjusters[i].at.x.0, adjusters[i].at.y.0]);
        let advance = [0, 1, 2].map(|i| adjusters[i].pitch.0 * sign(adjusters[i].clockwise));
        let nine = |places: &[[f64; 2]; 3], advance: &[f64; 3]| {
            let c = columns(places, advance);
            SMatrix::<f64, 9, 1>::from_fn(|r, _| c[r / 3][r % 3])
        };
        let mut covariance = SMatrix::<f64, 9, 9>::zeros();
        for screw in 0..3 {
            for axis in 0..2 {
                let step = |by: f64| {
                    let mut moved = places;
                    moved[screw][axis] += by;
                    nine(&moved, &advance)
                };
                let change = (step(0.5) - step(-0.5)) * geometry.u_position_mm;
                covariance += change * change.transpose();
            }
            let mut only = [0.0; 3];
            only[screw] = advance[screw] * geometry.u_pitch_share;
            let change = nine(&places, &only);
            covariance += change * change.transpose();
        }
        covariance
    }
}

/// What these turns do where one turn of each adjuster has this effect, mm.
pub(super) fn by_turns(effect: &[f64; 3], turns: &[f64; 3]) -> f64 {
    effect.iter().zip(turns).map(|(effect, turns)| effect * turns).sum()
}

fn sign(clockwise: Sense) -> f64 {
    match clockwise {
        Sense::Out => 1.0,
        Sense::In => -1.0,
    }
}

fn twice_area(p: &[[f64; 2]; 3]) -> f64 {
    (p[1][0] - p[0][0]) * (p[2][1] - p[0][1]) - (p[2][0] - p[0][0]) * (p[1][1] - p[0][1])
}

fn least_height(places: &[[f64; 2]; 3]) -> f64 {
    let side =
        |a: usize, b: usize| (places[a][0] - places[b][0]).hypot(places[a][1] - places[b][1]);
    let longest = side(0, 1).max(side(1, 2)).max(side(2, 0));
    if longest > 0.0 { twice_area(places).abs() / longest } else { 0.0 }
}

/// The plane through height `advance` at one place and zero at the other two, for each place.
fn columns(places: &[[f64; 2]; 3], advance: &[f64; 3]) -> [[f64; 3]; 3] {
    let area = twice_area(places);
    [0, 1, 2].map(|i| {
        let ([x1, y1], [x2, y2]) = (places[(i + 1) % 3], places[(i + 2) % 3]);
        let scale = advance[i] / area;
        [scale * (x1 * y2 - x2 * y1), 1000.0 * scale * (y1 - y2), 1000.0 * scale * (x2 - x1)]
    })
}
