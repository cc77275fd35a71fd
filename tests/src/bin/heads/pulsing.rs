//! Emitters that pulse: what comes and goes of faults can be read, and nothing is good in between.

use crate::stand::{Stand, TODAY};
use skimgauge_bench::head::Seating;
use skimgauge_bench::room::profile::Shine;
use skimgauge_bench::{Bench, zeroed};
use skimgauge_metrology::measure::{Limits, Shown};

/// Pulses a second, and the share of the time that one lasts.
pub(crate) const HZ: [f64; 8] = [100.0, 140.0, 180.0, 270.0, 450.0, 900.0, 1_333.0, 2_000.0];
pub(crate) const DUTY: [f64; 5] = [0.02, 0.1, 0.3, 0.6, 0.9];
/// Looked at for so long, after the head has found the light, s.
const FOR_S: f64 = 6.0;
const FIND_S: f64 = 2.0;

/// What one emitter came to.
#[derive(Debug)]
pub(crate) struct Pulsed {
    hz: f64,
    duty: f64,
    /// Share of the looks at which a gap was good, %.
    good: f64,
    /// Times that it was good and then was not.
    lapses: u32,
    /// The shortest time for which it then was not, s.
    shortest_s: Option<f64>,
    said: Vec<&'static str>,
}

/// An emitter that pulses so, from this phase on, dims now and then or not.
pub(crate) fn pulsed(seed: u64, hz: f64, duty: f64) -> Pulsed {
    let bench = Bench::new(seed);
    bench.scene(|scene| {
        scene.head.warm_up_s = 0.05;
        scene.seating = Seating::EXACT;
        let phase = (seed as f64 * 0.381_966).fract();
        let idle_every_s = if seed % 2 == 1 { 2.7 } else { 0.0 };
        scene.room.emitter.shine = Shine { hz, duty, phase, idle: 0.4, idle_every_s };
    });
    let zeroed = zeroed::of(&bench, TODAY, "heads");
    let mut stand = Stand::new(bench, &zeroed, Limits::default());
    stand.run(FIND_S);
    let mut pulsed = Pulsed { hz, duty, good: 0.0, lapses: 0, shortest_s: None, said: Vec::new() };
    let (mut was_good, mut lapsed_at_s) = (false, None);
    let looks = (FOR_S * 100.0) as u32;
    for k in 0..looks {
        stand.tick(&[]);
        let (at_s, live) = (f64::from(k) * 0.01, stand.live());
        let good = matches!(live.gap_mm, Shown::Good { .. });
        assert!(good || live.can_take.is_err(), "a gap that is not good can be taken");
        pulsed.good += 100.0 * f64::from(u8::from(good)) / f64::from(looks);
        if let Shown::Absent { why } | Shown::Doubtful { why, .. } = live.gap_mm
            && !pulsed.said.contains(&why.name())
        {
            pulsed.said.push(why.name());
        }
        if was_good && !good {
            pulsed.lapses += 1;
            lapsed_at_s = Some(at_s);
        } else if !was_good
            && good
            && let Some(from_s) = lapsed_at_s.take()
        {
            let for_s: f64 = at_s - from_s;
            pulsed.shortest_s = Some(pulsed.shortest_s.map_or(for_s, |least| least.min(for_s)));
        }
        was_good = good;
    }
    pulsed
}

/// Each frequency and duty of one seed.
pub(crate) fn one(seed: u64) -> Pulsed {
    let (hz, duty) = (seed as usize % HZ.len(), seed as usize / HZ.len() % DUTY.len());
    pulsed(seed, HZ[hz], DUTY[duty])
}

pub(crate) fn print(all: &[Pulsed]) {
    println!(
        "{:>8} {:>6} {:>6} {:>8} {:>7} {:>11}  said",
        "Hz", "duty", "heads", "good %", "lapses", "shortest s"
    );
    for hz in HZ {
        for duty in DUTY {
            let of: Vec<&Pulsed> = all.iter().filter(|p| p.hz == hz && p.duty == duty).collect();
            if of.is_empty() {
                continue;
            }
            let shortest = of.iter().filter_map(|p| p.shortest_s).fold(f64::INFINITY, f64::min);
            let mut said: Vec<&str> = of.iter().flat_map(|p| p.said.iter().copied()).collect();
            said.sort_unstable();
            said.dedup();
            println!(
                "{hz:>8} {duty:>6} {:>6} {:>8.1} {:>7} {shortest:>11.2}  {}",
                of.len(),
                of.iter().map(|p| p.good).sum::<f64>() / of.len() as f64,
                of.iter().map(|p| p.lapses).sum::<u32>(),
                said.join(", ")
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_and_goes_with_the_pulses_can_be_read() {
        for seed in 0..(HZ.len() * DUTY.len()) as u64 {
            let pulsed = one(seed);
            assert!(pulsed.shortest_s.is_none_or(|s| s >= 0.9), "{pulsed:?}");
        }
    }
}
