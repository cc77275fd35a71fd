//! Hands at the gauge: what a prompt of `zero` asks for is done on the bench.

use skimgauge_bench::Bench;
use skimgauge_bench::head::Attitude;
use skimgauge_bench::room::gauge::{Gauge, Slits};

/// Seats the head anew before the gauge, lifted by so much, mm, the gauge's lamp on or off.
pub fn stand_before(bench: &Bench, gauge: Gauge, lift_mm: f64, lamp: bool) {
    bench.scene(|scene| {
        scene.clip(0.0, -700.0);
        scene.lift_mm = lift_mm;
        (scene.card, scene.eye_covered) = (None, false);
        scene.room.emitter.on = false;
        let lamp_v = gauge.lamp_v.filter(|_| lamp);
        scene.set_gauge(Some(Gauge { open: Slits::Both, lamp_v, ..gauge }));
    });
}

/// Does what a line asks for; what is typed then. `None`: it asked for nothing.
pub fn hands(bench: &Bench, gauge: Gauge, line: &str) -> Option<&'static str> {
    if line.starts_with("On the board") || line.starts_with("Check:") {
        stand_before(bench, gauge, 0.0, true);
    } else if line.starts_with("Lifted, ") {
        let high = line.contains(" 1.2 mm or so");
        stand_before(bench, gauge, if high { 1.17 } else { 0.63 }, true);
    } else if line.starts_with("Level: the head") {
        bench.scene(|scene| scene.turn_head(Attitude::Upright));
    } else if line.starts_with("Level: now") {
        bench.scene(|scene| scene.turn_head(Attitude::Reversed));
    } else if line.starts_with("Dark:") {
        bench.scene(|scene| {
            scene.turn_head(Attitude::Upright);
            scene.eye_covered = true;
        });
    } else if line.starts_with("Even light:") {
        bench.scene(|scene| {
            scene.eye_covered = false;
            scene.set_gauge(None);
            scene.card = Some(0.8);
        });
    } else if line.starts_with("Write these constants") {
        return Some("yes");
    } else {
        return None;
    }
    Some("")
}
