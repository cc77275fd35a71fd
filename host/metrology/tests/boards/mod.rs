//! Boards of the kinds that installers meet, seeded: what stands out of the frame's plane, mm.
//! Sizes: common practice, no source. Signs are drawn too.
#![allow(dead_code, reason = "each test takes what it needs")]

use super::common::Dice;
use skimgauge_metrology::plane::board::{Board, Unsurveyed};

pub(crate) const WIDTH_MM: f64 = 2024.7;
pub(crate) const HEIGHT_MM: f64 = 1265.4;

/// What is reckoned with where nobody has surveyed.
pub(crate) const UNKNOWN: Unsurveyed = Unsurveyed {
    width_mm: WIDTH_MM,
    height_mm: HEIGHT_MM,
    bow_across_mm: 0.36,
    bow_down_mm: 0.36,
    twist_mm: 0.2,
};

/// As the program takes a board that nobody has surveyed.
pub(crate) fn unsurveyed() -> Board {
    Board { u_shape_mm: 0.03, ..Board::unsurveyed(UNKNOWN) }
}

/// Places at the corners and in the middle of each side, clockwise from the top left.
pub(crate) fn edge() -> Vec<(f64, f64)> {
    let (w, h) = (WIDTH_MM / 2.0, -HEIGHT_MM);
    vec![(-w, 0.0), (0.0, 0.0), (w, 0.0), (w, h / 2.0), (w, h), (0.0, h), (-w, h), (-w, h / 2.0)]
}

/// Kinds of boards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
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
}

pub(crate) const KINDS: [Kind; 8] = [
    Kind::Flat,
    Kind::Assumed,
    Kind::Doubled,
    Kind::Ripple,
    Kind::Joint,
    Kind::Stud,
    Kind::Corner,
    Kind::Cubic,
];

/// A board.
pub(crate) struct Shape {
    assumed: f64,
    bow: [f64; 2],
    twist: f64,
    waves: Vec<[f64; 4]>,
    kind: Kind,
    /// What the kind needs: sizes and places.
    of_kind: [f64; 6],
}

impl Shape {
    pub(crate) fn new(kind: Kind, dice: &mut Dice) -> Self {
        let waves = (0..12)
            .map(|_| {
                let angle = dice.uniform(0.0, std::f64::consts::TAU);
                let per_mm = std::f64::consts::TAU / dice.uniform(80.0, 250.0);
                // Twelve of them make up the roughness.
                let size = 0.03 * (2.0f64 / 12.0).sqrt();
                [
                    angle.cos() * per_mm,
                    angle.sin() * per_mm,
                    dice.uniform(0.0, std::f64::consts::TAU),
                    size,
                ]
            })
            .collect();
        let sign = |dice: &mut Dice| dice.uniform(-1.0, 1.0).signum();
        let of_kind = match kind {
            Kind::Ripple => {
                let angle = dice.uniform(0.0, std::f64::consts::TAU);
                let per_mm = std::f64::consts::TAU / dice.uniform(600.0, 1600.0);
                let phase = dice.uniform(0.0, std::f64::consts::TAU);
                [
                    angle.cos() * per_mm,
                    angle.sin() * per_mm,
                    phase,
                    dice.uniform(0.1, 0.4),
                    0.0,
                    0.0,
                ]
            }
            Kind::Joint => {
                let (upright, share) = (dice.uniform(0.0, 1.0), dice.uniform(0.15, 0.85));
                [
                    upright.round(),
                    share,
                    sign(dice) * dice.uniform(0.2, 0.6),
                    sign(dice) * 0.0007,
                    0.0,
                    0.0,
                ]
            }
            Kind::Stud => {
                let height = sign(dice) * dice.uniform(0.3, 1.2);
                let edge = dice.uniform(0.0, 1.0).round();
                [
                    dice.uniform(-0.5, 0.5) * WIDTH_MM,
                    height,
                    dice.uniform(80.0, 220.0),
                    dice.uniform(200.0, 600.0),
                    edge,
                    0.0,
                ]
            }
            Kind::Corner => {
                let side = sign(dice);
                [side, dice.uniform(0.0, 1.0).round(), dice.uniform(0.3, 1.2), 0.0, 0.0, 0.0]
            }
            Kind::Cubic => {
                [dice.normal(0.5), dice.normal(0.5), dice.normal(0.5), dice.normal(0.5), 0.0, 0.0]
            }
            Kind::Flat | Kind::Assumed | Kind::Doubled => [0.0; 6],
        };
        let assumed = match kind {
            Kind::Flat => 0.0,
            Kind::Assumed => 1.0,
            Kind::Doubled => 2.5,
            _ => 0.7,
        };
        Self {
            assumed,
            bow: [dice.normal(0.36), dice.normal(0.36)],
            twist: dice.normal(0.2),
            waves,
            kind,
            of_kind,
        }
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
        let k = &self.of_kind;
        let own = match self.kind {
            Kind::Ripple => k[3] * (k[0] * x + k[1] * y + k[2]).sin(),
            Kind::Joint => {
                let past =
                    if k[0] > 0.5 { x - (k[1] - 0.5) * WIDTH_MM } else { -y - k[1] * HEIGHT_MM };
                if past > 0.0 { k[2] + k[3] * past } else { 0.0 }
            }
            Kind::Stud => {
                let from_edge = if k[4] > 0.5 { -y } else { HEIGHT_MM + y };
                k[1] * (-((x - k[0]) / k[2]).powi(2) / 2.0).exp() * (-from_edge / k[3]).exp()
            }
            Kind::Corner => {
                let (across, down) = (
                    (1.0 + k[0] * a) / 2.0,
                    if k[1] > 0.5 { -y / HEIGHT_MM } else { 1.0 + y / HEIGHT_MM },
                );
                k[2] * (across * down).powi(2)
            }
            Kind::Cubic => {
                k[0] * a * (a * a - 0.6)
                    + k[1] * d * (d * d - 0.6)
                    + k[2] * a * a * d
                    + k[3] * a * d * d
            }
            Kind::Flat | Kind::Assumed | Kind::Doubled => 0.0,
        };
        self.assumed * usual + own
    }
}
