//! From the light to the live number, on the bench's own clock: exposure, read-out, wire, observer. What a
//! screen takes after that is not in it.

use crate::stand::{Stand, TODAY};
use skimgauge_bench::head::Seating;
use skimgauge_bench::room::profile::Shine;
use skimgauge_bench::{Bench, zeroed};
use skimgauge_metrology::measure::{Limits, Shown};
use skimgauge_quantity::{Mm, Style};

/// The head has settled after so long, s.
const SETTLES_S: f64 = 3.0;
/// A number is looked at so often, us.
const LOOKS_US: u64 = 1_000;
/// One that has not come after so long does not, s.
const WAITS_S: f64 = 1.0;
/// A turn of the upper adjuster, made at once.
const TURNS: f64 = 0.3;

/// What one head came to.
#[derive(Debug)]
pub(crate) struct Lag {
    /// How far the light moved, mm, and how long until the number had made nine tenths of the way, s.
    moved: (f64, Option<f64>),
    /// The light went: how long until there was no number, s.
    gone_s: Option<f64>,
    /// Changes of the last digit in half a minute of still light.
    flickers: usize,
}

/// A head of this seed, settled; the phase of its scans is another with each.
fn settled(seed: u64) -> Stand {
    let bench = Bench::new(seed);
    bench.scene(|scene| {
        scene.head.warm_up_s = 0.05;
        scene.seating = Seating::EXACT;
        // One that pulses is waited for: `pulsing` asks of those.
        scene.room.emitter.shine = Shine::STEADY;
    });
    let zeroed = zeroed::of(&bench, TODAY, "heads");
    let mut stand = Stand::new(bench, &zeroed, Limits::default());
    stand.run(SETTLES_S);
    stand.pass(seed * 3_571 % 11_100, &[]);
    stand
}

fn good(stand: &Stand) -> Option<f64> {
    match stand.live().gap_mm {
        Shown::Good { value, .. } => Some(value),
        Shown::Doubtful { .. } | Shown::Absent { .. } => None,
    }
}

/// How long until this is so, s.
fn until(stand: &mut Stand, so: impl Fn(&Stand) -> bool) -> Option<f64> {
    let from_us = stand.bench.now_us();
    while (stand.bench.now_us() - from_us) as f64 * 1e-6 < WAITS_S {
        stand.pass(LOOKS_US, &[]);
        if so(stand) {
            return Some((stand.bench.now_us() - from_us) as f64 * 1e-6);
        }
    }
    None
}

/// One head.
pub(crate) fn one(seed: u64) -> Lag {
    let mut stand = settled(seed);
    let before_mm = good(&stand).unwrap_or(f64::NAN);
    let true_mm = |stand: &Stand| stand.bench.truth().gap_mm.unwrap_or(f64::NAN);
    let was_mm = true_mm(&stand);
    let way = if seed.is_multiple_of(2) { TURNS } else { -TURNS };
    stand.bench.scene(|scene| scene.room.turn(2, way));
    let step_mm = true_mm(&stand) - was_mm;
    let there = |stand: &Stand| {
        good(stand).is_some_and(|mm| (mm - before_mm - step_mm).abs() < 0.1 * step_mm.abs() + 0.01)
    };
    let moved = (step_mm, until(&mut stand, there));

    stand.run(SETTLES_S);
    let mut texts = Vec::new();
    for _ in 0..3_000 {
        stand.tick(&[]);
        texts.extend(good(&stand).map(|mm| Mm(mm).gap().number(Style::default())));
    }
    let flickers = texts.windows(2).filter(|two| two[0] != two[1]).count();
    stand.bench.scene(|scene| scene.room.emitter.on = false);
    let gone_s = until(&mut stand, |stand| good(stand).is_none());
    Lag { moved, gone_s, flickers }
}

fn quantiles(mut values: Vec<f64>) -> [f64; 3] {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| values[((values.len() - 1) as f64 * share) as usize];
    [at(0.5), at(0.99), at(1.0)]
}

pub(crate) fn print(all: &[Lag]) {
    println!("{:>28} {:>8} {:>8} {:>8}", "ms", "p50", "p99", "most");
    for (name, of) in [
        ("light moves, number there", all.iter().map(|lag| lag.moved.1).collect::<Vec<_>>()),
        ("light goes, no number", all.iter().map(|lag| lag.gone_s).collect()),
    ] {
        let never = of.iter().filter(|s| s.is_none()).count();
        let [half, most, worst] =
            quantiles(of.iter().map(|s| 1e3 * s.unwrap_or(WAITS_S)).collect());
        println!("{name:>28} {half:>8.0} {most:>8.0} {worst:>8.0}  never: {never}");
    }
    let steps = quantiles(all.iter().map(|lag| lag.moved.0.abs()).collect());
    println!("the light moved by {:.2} to {:.2} mm", steps[0], steps[2]);
    let [half, most, worst] = quantiles(all.iter().map(|lag| lag.flickers as f64).collect());
    println!("last digit in half a minute of still light, changes: {half} {most} {worst}");
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of the 100 ms from the light to the painted digits a screen wants half.
    #[test]
    fn light_that_moves_or_goes_is_in_the_number_within_60_ms_and_still_light_stands_still() {
        for seed in 0..24 {
            let lag = one(seed);
            assert!(lag.moved.0.abs() > 0.03, "{seed}: {lag:?}");
            assert!(lag.moved.1.is_some_and(|s| s < 0.06), "{seed}: {lag:?}");
            assert!(lag.gone_s.is_some_and(|s| s < 0.06), "{seed}: {lag:?}");
            assert!(lag.flickers <= 8, "{seed}: {lag:?}");
        }
    }
}
