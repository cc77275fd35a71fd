//! A hand that does what a first start asks for, step by step (`skimgauge ports --check`).

use crate::bench::Bench;
use crate::head::{Attitude, Place, Plate};

/// The steps that a hand sets up, in their order.
pub const STEPS: [&str; 9] =
    ["rest", "left", "back", "paper", "lift", "dark", "light", "card", "button"];

/// How far a side is lifted, or the top leaned, degrees.
const TILTED_DEG: f64 = 8.0;
/// Thickness of what lies under the feet, mm.
const CARD_MM: f64 = 0.3;
/// A warm lamp near the eye, V in a millisecond.
const LAMP_V: f64 = 1.0;
/// A card's edge before the middle of the slit, mm over the face.
const EDGE_MM: f64 = 8.5;

/// Sets up the step of this name; `false`: no such step, or none that a hand sets up.
pub fn set_up(bench: &Bench, step: &str) -> bool {
    let stands = |level_deg: f64, lean_deg: f64| {
        let plate = Plate { level_deg, lean_deg, ..Plate::default() };
        bench.scene(|scene| {
            scene.lift_mm = 0.0;
            scene.put(Place::Plate(plate), Attitude::Upright);
        });
    };
    match step {
        "rest" => stands(0.4, -0.3),
        "left" => stands(0.4 - TILTED_DEG, -0.3),
        "back" => stands(0.4, -0.3 - TILTED_DEG),
        "paper" => stands(0.0, -90.0),
        "lift" => bench.scene(|scene| scene.lift_mm = CARD_MM),
        "dark" => bench.scene(|scene| {
            scene.lift_mm = 0.0;
            scene.eye_covered = true;
        }),
        "light" => bench.scene(|scene| {
            scene.eye_covered = false;
            scene.card = Some(LAMP_V);
        }),
        "card" => bench.scene(|scene| scene.shade_mm = Some(EDGE_MM)),
        "button" => bench.scene(|scene| {
            scene.card = None;
            scene.shade_mm = None;
        }),
        _ => return false,
    }
    true
}
