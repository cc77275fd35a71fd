//! Faults on demand: found, named rightly, in time, and never taken.

use crate::stand::{Stand, TODAY};
use skimgauge_bench::{Bench, Fault as Cause, zeroed};
use skimgauge_metrology::measure::{Fault, Limits, Shown, State};
use std::collections::BTreeMap;

/// What became of one fault.
#[derive(Debug)]
pub(crate) struct Broken {
    cause: Cause,
    /// From setting it to its first being said, s; `None` in two seconds.
    found_s: Option<f64>,
    /// Looks, more than 0.3 s after.
    looks: u32,
    /// Of these, at which a gap was still shown as good.
    shown_good: u32,
    /// And at which it could be taken.
    takeable: u32,
    said: Vec<&'static str>,
}

/// How a cause is meant to be said.
fn is_said(cause: Cause, faults: &[Fault], state: State) -> bool {
    let any = |wanted: &[Fault]| faults.iter().any(|f| wanted.contains(f));
    match cause {
        Cause::NoLight => any(&[Fault::NoLight]),
        Cause::TooMuchLight => any(&[Fault::TooMuchLight]),
        Cause::TooMuchRoomLight => any(&[Fault::TooMuchRoomLight]),
        // A weak edge is found by what it does to the middle.
        Cause::UnevenRoomLight => any(&[Fault::UnevenRoomLight, Fault::RoomLightPulls]),
        Cause::TwoSheets => any(&[Fault::TwoSheets]),
        Cause::LightLeavesWindow => any(&[Fault::LightLeavesWindow]),
        Cause::SheetTooThick | Cause::SheetTooThin => any(&[Fault::WrongThickness]),
        Cause::EyeTurnedAway => any(&[Fault::EyeTurnedAway, Fault::NoLight]),
        // Beside the sheet it is a second one; with the emitter off one cannot tell it from a sheet.
        Cause::LineOfLight => any(&[Fault::TwoSheets, Fault::SecondSheet]),
        Cause::PixelsDead => any(&[Fault::DeadPixels]),
        Cause::PixelsFrozen | Cause::PixelsUnplugged => any(&[Fault::EyeFrozen, Fault::EyeSilent]),
        Cause::StandoffTooNear => any(&[Fault::StandOffOutOfRange]),
        Cause::SpotLost => any(&[Fault::SpotLost]),
        Cause::GlossyPatch => any(&[Fault::SpotErratic, Fault::SpotLost]),
        Cause::StandoffFrozen | Cause::ConverterFrozen => any(&[Fault::StandOffFrozen]),
        Cause::ConverterSilent => any(&[Fault::ConverterSilent]),
        Cause::BusStuck => any(&[Fault::BusStuck]),
        Cause::InclinometerSilent => any(&[Fault::InclinometerSilent, Fault::InclinometerFrame]),
        Cause::InclinometerFrames => any(&[Fault::InclinometerFrame]),
        Cause::InclinometerSelfTest
        | Cause::InclinometerStatusTwo
        | Cause::InclinometerStatusError => any(&[Fault::InclinometerSelfTest]),
        Cause::InclinometerFrozen => any(&[Fault::TiltFrozen]),
        Cause::SupplyLow => any(&[Fault::SupplyLow]),
        Cause::TooHot | Cause::TooCold => any(&[Fault::TemperatureOutOfRange]),
        // On a board that nobody measured a foot off shows as the jump that it was.
        Cause::NotSeated => any(&[Fault::NotSeated, Fault::Knocked]),
        Cause::Knocked => any(&[Fault::Knocked]),
        Cause::CalibrationMissing => any(&[Fault::CalibrationMissing]),
        Cause::CalibrationDamaged => any(&[Fault::CalibrationDamaged]),
        Cause::CalibrationOfOtherHead => any(&[Fault::CalibrationOtherHead]),
        Cause::MemorySilent => any(&[Fault::CalibrationUnreadable]),
        Cause::SomeoneLeaning => state == State::Leaning || any(&[Fault::Knocked]),
        Cause::Vibration => matches!(state, State::Vibrating { .. }),
    }
}

/// A fault is to be found within 0.3 s; what moves the board shows itself over a longer stretch.
fn in_time_s(cause: Cause) -> f64 {
    if matches!(cause, Cause::SomeoneLeaning | Cause::Vibration) { 1.0 } else { 0.3 }
}

/// What only a start shows.
fn shows_at_start(cause: Cause) -> bool {
    matches!(
        cause,
        Cause::CalibrationMissing
            | Cause::CalibrationDamaged
            | Cause::CalibrationOfOtherHead
            | Cause::MemorySilent
    )
}

/// Settles a head at the top and sets the fault that is this seed's turn.
pub(crate) fn one(seed: u64) -> Broken {
    let cause = Cause::ALL[(seed % Cause::ALL.len() as u64) as usize];
    let bench = Bench::new(seed);
    bench.scene(|scene| scene.head.warm_up_s = 0.05);
    let zeroed = zeroed::of(&bench, TODAY, "heads");
    let mut stand = Stand::new(bench, &zeroed, Limits::default());
    stand.observer.hold_knocks(true);
    stand.run(1.5);
    stand.bench.set_fault(cause, true);
    if shows_at_start(cause) {
        stand.restart();
    }
    let from_us = stand.bench.now_us();
    let mut broken =
        Broken { cause, found_s: None, looks: 0, shown_good: 0, takeable: 0, said: Vec::new() };
    for _ in 0..200 {
        stand.tick(&[]);
        let after_s = (stand.bench.now_us() - from_us) as f64 * 1e-6;
        let live = stand.live();
        if broken.found_s.is_none() && is_said(cause, &live.faults, live.state) {
            broken.found_s = Some(after_s);
        }
        for fault in &live.faults {
            if !broken.said.contains(&fault.name()) {
                broken.said.push(fault.name());
            }
        }
        if after_s > 0.3 && !shows_at_start(cause) || after_s > 1.0 {
            broken.looks += 1;
            broken.shown_good += u32::from(matches!(live.gap_mm, Shown::Good { .. }));
            broken.takeable += u32::from(live.can_take.is_ok());
        }
    }
    broken
}

/// The table of faults.
pub(crate) fn print(all: &[Broken]) {
    let mut by_cause: BTreeMap<Cause, Vec<&Broken>> = BTreeMap::new();
    for broken in all {
        by_cause.entry(broken.cause).or_default().push(broken);
    }
    println!(
        "{:<26} {:>6} {:>7} {:>9} {:>9} {:>11} {:>9}  said",
        "fault", "heads", "missed", "median s", "worst s", "shown good", "takeable"
    );
    for (cause, all) in by_cause {
        let mut times: Vec<f64> = all.iter().filter_map(|b| b.found_s).collect();
        times.sort_by(f64::total_cmp);
        let at = |q: f64| {
            times.get(((times.len().max(1) - 1) as f64 * q) as usize).copied().unwrap_or(f64::NAN)
        };
        let missed = all.iter().filter(|b| b.found_s.is_none_or(|t| t > in_time_s(cause))).count();
        let sum = |count: fn(&Broken) -> u32| f64::from(all.iter().map(|b| count(b)).sum::<u32>());
        let share = |count: fn(&Broken) -> u32| 100.0 * sum(count) / sum(|b| b.looks);
        let mut said: Vec<&str> = all.iter().flat_map(|b| b.said.iter().copied()).collect();
        said.sort_unstable();
        said.dedup();
        println!(
            "{:<26} {:>6} {missed:>7} {:>9.2} {:>9.2} {:>10.1}% {:>8.1}%  {}",
            format!("{cause:?}"),
            all.len(),
            at(0.5),
            at(1.0),
            share(|b| b.shown_good),
            share(|b| b.takeable),
            said.join(", ")
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Someone who leans on the board is found within a second, however lately the head had settled.
    #[test]
    fn leaning_is_found_within_a_second() {
        let all = Cause::ALL.len() as u64;
        let leaning = Cause::ALL.iter().position(|c| *c == Cause::SomeoneLeaning).unwrap() as u64;
        for turn in 0..12 {
            let broken = one(leaning + turn * all);
            assert_eq!(broken.cause, Cause::SomeoneLeaning);
            assert!(broken.found_s.is_some_and(|s| s <= 1.0), "{turn}: {broken:?}");
            assert_eq!(broken.takeable, 0, "{turn}: {broken:?}");
        }
    }
}
