//! Boards of the kinds that installers meet: what stands out of the frame's plane, mm. Sizes:
//! common practice, no source. Signs are drawn too.

use skimgauge_bench::noise::Noise;
use std::f64::consts::TAU;

/// A 94 inch image of 16:10, mm.
pub(crate) const WIDTH_MM: f64 = 2024.7;
/// Its height, mm.
pub(crate) const HEIGHT_MM: f64 = 1265.4;

/// Columns and rows of the grid on which truth is looked at.
const GRID: (u32, u32) = (33, 21);

/// Kinds of boards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Kind {
    Flat,
    /// As an unsurveyed board is taken to be.
    Assumed,
    /// Two and a half times that.
    Doubled,
    /// A wave in any direction.
    Ripple,
    /// A step and a kink where two panels meet.
    Joint,
    /// Lifted or sunk along a line down from an edge.
    Stud,
    /// One corner lifted.
    Corner,
    /// Third order.
    Cubic,
    /// Sagging like a plate on four points.
    Sag,
    /// A dent or a pimple 60 mm across.
    Dent,
    /// A step along a slant.
    Slant,
    /// Two corners lifted.
    Ends,
    /// A frame bent like a propeller.
    Propeller,
    /// A warped lower third.
    Warped,
    /// Bulging or sunk between edges that are straight, flatter or sharper than any one law.
    Bulge,
}

/// All of them: first those that the sums were made for, then those that nobody had in mind.
pub(crate) const KINDS: [Kind; 15] = [
    Kind::Flat,
    Kind::Assumed,
    Kind::Doubled,
    Kind::Ripple,
    Kind::Joint,
    Kind::Stud,
    Kind::Corner,
    Kind::Cubic,
    Kind::Sag,
    Kind::Dent,
    Kind::Slant,
    Kind::Ends,
    Kind::Propeller,
    Kind::Warped,
    Kind::Bulge,
];

/// A dent falls to six tenths within this, mm: it looks 60 mm across.
const DENT_MM: f64 = 25.0;

/// A board.
#[derive(Debug, Clone)]
pub(crate) struct Shape {
    assumed: f64,
    bow: [f64; 2],
    twist: f64,
    waves: Vec<[f64; 4]>,
    own: Own,
}

#[derive(Debug, Clone, Copy)]
enum Own {
    None,
    Ripple { across: f64, up: f64, phase: f64, size: f64 },
    Joint { upright: bool, at_mm: f64, step_mm: f64, kink: f64 },
    Stud { x_mm: f64, height_mm: f64, wide_mm: f64, long_mm: f64, from_top: bool },
    Corner { side: f64, bottom: bool, height_mm: f64 },
    Cubic([f64; 4]),
    Sag { height_mm: f64 },
    Dent { x_mm: f64, y_mm: f64, height_mm: f64 },
    Slant { across: f64, up: f64, at_mm: f64, step_mm: f64 },
    Ends { heights_mm: [f64; 4] },
    Propeller { height_mm: f64 },
    Warped { height_mm: f64, waves: f64, phase: f64 },
    Bulge { height_mm: f64, across: f64, down: f64 },
}

impl Own {
    fn new(kind: Kind, noise: &mut Noise) -> Self {
        let sign = |noise: &mut Noise| if noise.chance(0.5) { 1.0 } else { -1.0 };
        match kind {
            Kind::Flat | Kind::Assumed | Kind::Doubled => Own::None,
            Kind::Ripple => {
                let (angle, per_mm) = (noise.uniform(0.0, TAU), TAU / noise.uniform(600.0, 1600.0));
                Own::Ripple {
                    across: angle.cos() * per_mm,
                    up: angle.sin() * per_mm,
                    phase: noise.uniform(0.0, TAU),
                    size: noise.uniform(0.1, 0.4),
                }
            }
            Kind::Joint => {
                let upright = noise.chance(0.5);
                let share = noise.uniform(0.15, 0.85);
                Own::Joint {
                    upright,
                    at_mm: if upright { (share - 0.5) * WIDTH_MM } else { share * HEIGHT_MM },
                    step_mm: sign(noise) * noise.uniform(0.2, 0.6),
                    kink: sign(noise) * 0.0007,
                }
            }
            Kind::Stud => Own::Stud {
                x_mm: noise.uniform(-0.5, 0.5) * WIDTH_MM,
                height_mm: sign(noise) * noise.uniform(0.3, 1.2),
                wide_mm: noise.uniform(80.0, 220.0),
                long_mm: noise.uniform(200.0, 600.0),
                from_top: noise.chance(0.5),
            },
            Kind::Corner => Own::Corner {
                side: sign(noise),
                bottom: noise.chance(0.5),
                height_mm: noise.uniform(0.3, 1.2),
            },
            Kind::Cubic => Own::Cubic([0; 4].map(|_| noise.normal(0.5))),
            Kind::Sag => Own::Sag { height_mm: sign(noise) * noise.uniform(0.3, 1.2) },
            Kind::Dent => Own::Dent {
                x_mm: noise.uniform(-0.5, 0.5) * WIDTH_MM,
                y_mm: -noise.unit() * HEIGHT_MM,
                height_mm: sign(noise) * noise.uniform(0.3, 1.2),
            },
            Kind::Slant => {
                let angle = noise.uniform(0.0, TAU);
                let (across, up) = (angle.cos(), angle.sin());
                let (x, y) = (noise.uniform(-0.35, 0.35), noise.uniform(-0.85, -0.15));
                Own::Slant {
                    across,
                    up,
                    at_mm: across * x * WIDTH_MM + up * y * HEIGHT_MM,
                    step_mm: sign(noise) * noise.uniform(0.2, 0.6),
                }
            }
            Kind::Ends => {
                let first = (4.0 * noise.unit()) as usize;
                let second = (first + 1 + (3.0 * noise.unit()) as usize) % 4;
                let mut heights_mm = [0.0; 4];
                for corner in [first, second] {
                    heights_mm[corner] = sign(noise) * noise.uniform(0.3, 1.2);
                }
                Own::Ends { heights_mm }
            }
            Kind::Propeller => Own::Propeller { height_mm: sign(noise) * noise.uniform(0.4, 1.2) },
            Kind::Warped => Own::Warped {
                height_mm: sign(noise) * noise.uniform(0.3, 1.0),
                waves: noise.uniform(0.5, 2.0),
                phase: noise.uniform(0.0, TAU),
            },
            Kind::Bulge => Own::Bulge {
                height_mm: sign(noise) * noise.uniform(0.3, 2.0),
                across: noise.uniform(1.5, 4.0),
                down: noise.uniform(1.5, 4.0),
            },
        }
    }

    /// How far it stands out at a place, mm; `a` and `d` go from minus one to one to the right and up.
    fn at(self, x: f64, y: f64, a: f64, d: f64) -> f64 {
        match self {
            Own::None => 0.0,
            Own::Ripple { across, up, phase, size } => size * (across * x + up * y + phase).sin(),
            Own::Joint { upright, at_mm, step_mm, kink } => {
                let past_mm = if upright { x } else { -y } - at_mm;
                if past_mm > 0.0 { step_mm + kink * past_mm } else { 0.0 }
            }
            Own::Stud { x_mm, height_mm, wide_mm, long_mm, from_top } => {
                let from_edge_mm = if from_top { -y } else { HEIGHT_MM + y };
                let beside = (x - x_mm) / wide_mm;
                height_mm * (-beside * beside / 2.0 - from_edge_mm / long_mm).exp()
            }
            Own::Corner { side, bottom, height_mm } => {
                let across = (1.0 + side * a) / 2.0;
                let along = if bottom { -y / HEIGHT_MM } else { 1.0 + y / HEIGHT_MM };
                height_mm * (across * along).powi(2)
            }
            Own::Cubic(k) => {
                k[0] * a * (a * a - 0.6)
                    + k[1] * d * (d * d - 0.6)
                    + k[2] * a * a * d
                    + k[3] * a * d * d
            }
            Own::Sag { height_mm } => height_mm * (sagging(a) + 0.4 * sagging(d)),
            Own::Dent { x_mm, y_mm, height_mm } => {
                let square = (x - x_mm).powi(2) + (y - y_mm).powi(2);
                height_mm * (-square / (2.0 * DENT_MM * DENT_MM)).exp()
            }
            Own::Slant { across, up, at_mm, step_mm } => {
                if across * x + up * y > at_mm {
                    step_mm
                } else {
                    0.0
                }
            }
            Own::Ends { heights_mm } => {
                let near = |k: usize| {
                    let right = if k == 1 || k == 2 { 1.0 + a } else { 1.0 - a };
                    let high = if k < 2 { 1.0 + d } else { 1.0 - d };
                    (right * high / 4.0).powi(2)
                };
                heights_mm.iter().enumerate().map(|(k, mm)| mm * near(k)).sum()
            }
            Own::Propeller { height_mm } => height_mm * d * (a + a * a * a) / 2.0,
            Own::Warped { height_mm, waves, phase } => {
                let into = ((-d - 1.0 / 3.0) * 1.5).max(0.0);
                height_mm * into * into * (waves * TAU * a / 2.0 + phase).sin()
            }
            Own::Bulge { height_mm, across, down } => {
                height_mm * (1.0 - a.abs().powf(across)) * (1.0 - d.abs().powf(down))
            }
        }
    }
}

/// How far a beam that rests at eight tenths of its half length sags, `t` from its middle in half
/// lengths: one between the middle and the rests, from its bending moment integrated twice.
fn sagging(t: f64) -> f64 {
    const REST: f64 = 0.8;
    let between = |t: f64| t.powi(4) / 24.0 + (0.5 - REST) * t * t / 2.0;
    let slope = |t: f64| t.powi(3) / 6.0 + (0.5 - REST) * t;
    let (t, at_rest) = (t.abs(), between(REST));
    let height = if t <= REST {
        between(t) - at_rest
    } else {
        // Beyond the rest the load's moment alone bends it.
        let (past, left) = (t - REST, 1.0 - REST);
        let bent = (1.0 - t).powi(4) / 24.0 - left.powi(4) / 24.0 + left.powi(3) / 6.0 * past;
        slope(REST) * past + bent
    };
    height / -at_rest
}

impl std::fmt::Display for Shape {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{:.2} of bow {:.2?}, twist {:.2}, {:?}",
            self.assumed, self.bow, self.twist, self.own
        )
    }
}

impl Shape {
    /// A board of a kind.
    pub(crate) fn new(kind: Kind, noise: &mut Noise) -> Self {
        let own = Own::new(kind, noise);
        let assumed = match kind {
            Kind::Flat => 0.0,
            Kind::Assumed => 1.0,
            Kind::Doubled => 2.5,
            _ => 0.7,
        };
        // Twelve of them make up a roughness of 0.03 mm.
        let size = 0.03 * (2.0f64 / 12.0).sqrt();
        let waves = (0..12)
            .map(|_| {
                let (angle, per_mm) = (noise.uniform(0.0, TAU), TAU / noise.uniform(80.0, 250.0));
                [angle.cos() * per_mm, angle.sin() * per_mm, noise.uniform(0.0, TAU), size]
            })
            .collect();
        let bow = [noise.normal(0.36), noise.normal(0.36)];
        Self { assumed, bow, twist: noise.normal(0.2), waves, own }
    }

    /// Where truth is looked at on it: the grid, and what is too small for that.
    pub(crate) fn looked_at(&self) -> Vec<(f64, f64)> {
        let small = match self.own {
            Own::Dent { x_mm, y_mm, .. } => Some((x_mm, y_mm)),
            _ => None,
        };
        grid().chain(small).collect()
    }

    /// How far it stands out at a place, mm.
    pub(crate) fn at(&self, x: f64, y: f64) -> f64 {
        let (a, d) = (2.0 * x / WIDTH_MM, 2.0 * y / HEIGHT_MM + 1.0);
        let waves: f64 = self
            .waves
            .iter()
            .map(|[kx, ky, phase, size]| size * (kx * x + ky * y + phase).sin())
            .sum();
        let usual =
            self.bow[0] * (1.0 - a * a) + self.bow[1] * (1.0 - d * d) + self.twist * a * d + waves;
        self.assumed * usual + self.own.at(x, y, a, d)
    }
}

impl Shape {
    /// Its dent or bump, `[x, y, height]`, mm.
    pub(crate) fn dent(&self) -> Option<[f64; 3]> {
        match self.own {
            Own::Dent { x_mm, y_mm, height_mm } => Some([x_mm, y_mm, height_mm]),
            _ => None,
        }
    }

    /// Of its height at a place what a dent or bump narrower than this makes, mm.
    pub(crate) fn dented_mm(&self, x: f64, y: f64, narrower_mm: f64) -> f64 {
        /// It looks so wide, mm.
        const LOOKS_MM: f64 = 60.0;
        match self.own {
            Own::Dent { .. } if LOOKS_MM < narrower_mm => self.own.at(x, y, 0.0, 0.0),
            Own::Bulge { .. } if HEIGHT_MM < narrower_mm => {
                self.own.at(x, y, 2.0 * x / WIDTH_MM, 2.0 * y / HEIGHT_MM + 1.0)
            }
            _ => 0.0,
        }
    }
}

/// Where truth is looked at.
pub(crate) fn grid() -> impl Iterator<Item = (f64, f64)> {
    let (columns, rows) = GRID;
    (0..columns * rows).map(move |k| {
        let across = f64::from(k % columns) / f64::from(columns - 1) - 0.5;
        let down = f64::from(k / columns) / f64::from(rows - 1);
        (across * WIDTH_MM, -down * HEIGHT_MM)
    })
}

#[cfg(test)]
mod tests {
    use super::{DENT_MM, sagging};

    #[test]
    fn a_sagging_beam_rests_at_its_rests_and_has_no_kink_there() {
        assert!((sagging(0.0) - 1.0).abs() < 1e-12 && sagging(1.0) < 0.0);
        assert!(sagging(0.8).abs() < 1e-12 && sagging(-0.8).abs() < 1e-12);
        let slope = |t: f64| (sagging(t + 1e-6) - sagging(t - 1e-6)) / 2e-6;
        assert!((slope(0.8 - 2e-6) - slope(0.8 + 2e-6)).abs() < 1e-4);
        const { assert!(DENT_MM < 63.0, "narrower than the grid: its middle is looked at as well") };
    }
}
