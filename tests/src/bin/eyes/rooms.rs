//! Emitter off and on, in smooth, stepped and flickering light.

use crate::stand::{Kind, Outcome, Stand, beam, eye, shine};
use crate::table::{Tally, quantile};
use skimgauge_bench::room::profile::{Light, Shine};
use skimgauge_head::profile::Wanted;

/// A middle may be wrong by so much, um.
pub(crate) const ALLOWED_UM: f64 = 20.0;

/// The emitter is off.
pub(crate) fn off(seed: u64, kind: Kind) -> Outcome {
    let (line, pixels, mut noise) = eye(seed);
    let room = kind.light(&mut noise);
    Stand::new(line, pixels, Light { beam: None, shine: Shine::STEADY, room }, Wanted::ANY).run()
}

/// The emitter is on; the middle's error, um.
pub(crate) fn on(seed: u64, kind: Kind) -> (Outcome, f64) {
    let (line, pixels, mut noise) = eye(seed);
    let room = kind.light(&mut noise);
    let beam = beam(&line, &mut noise);
    let light = Light { beam: Some(beam), shine: shine(&mut noise), room };
    let outcome = Stand::new(line, pixels, light, Wanted::ANY).run();
    let error_um = (outcome.middle_mm - beam.middle_mm) * 1e3;
    (outcome, error_um)
}

pub(crate) fn print_off(kind: Kind, all: &[Outcome]) {
    let scans: u32 = all.iter().map(|o| o.scans).sum();
    let middles: u32 = all.iter().map(|o| o.ever).sum();
    let heads = all.iter().filter(|o| o.ever > 0).count();
    let gaps = all.iter().filter(|o| o.sure()).count();
    println!(
        "{:<20} {:>6} heads, {scans} scans: {middles} middles in {heads} heads, {gaps} gaps",
        kind.name(),
        all.len()
    );
    println!("{:<20} said: {}", "", Tally::of(all.iter().map(Outcome::said)));
    for (nth, outcome) in all.iter().enumerate().filter(|(_, o)| o.ever > 0).take(10) {
        println!("{:<20} false: the {nth}th from the first seed, {} scans", "", outcome.ever);
    }
    if heads == 0 {
        // The rule of three: none in n is below 3/n at 95 %.
        println!("{:<20} at 95 %: in less than {:.4} % of rooms", "", 300.0 / all.len() as f64);
    }
}

pub(crate) fn print_on(kind: Kind, all: &[(Outcome, f64)]) {
    let mut errors: Vec<f64> = all.iter().filter(|(o, _)| o.sure()).map(|(_, e)| e.abs()).collect();
    errors.sort_by(f64::total_cmp);
    let wrong = errors.iter().filter(|e| **e > ALLOWED_UM).count();
    let [median, most, worst] = [0.5, 0.95, 1.0].map(|q| quantile(&errors, q));
    println!(
        "{:<20} {:>6} heads, read {:>5}: median {median:.1} um, 95 % {most:.1}, worst {worst:.1}; beyond {ALLOWED_UM} um: {wrong}",
        kind.name(),
        all.len(),
        errors.len(),
    );
    let not = all.iter().filter(|(o, _)| !o.sure()).map(|(o, _)| o.said());
    println!("{:<20} not read: {}", "", Tally::of(not));
    let far = all.iter().enumerate().filter(|(_, (o, e))| o.sure() && e.abs() > ALLOWED_UM);
    for (nth, (_, error_um)) in far.take(10) {
        println!("{:<20} wrong: the {nth}th from the first seed, {error_um:.1} um", "");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The study's claim on few heads; `eyes` itself has ten thousand.
    #[test]
    fn no_middle_with_the_emitter_off_and_none_wrong_with_it_on() {
        let mut read = 0;
        for kind in Kind::ALL {
            for seed in 0..8 {
                assert_eq!(off(seed, kind).ever, 0, "{kind:?} {seed}");
                let (outcome, error_um) = on(seed, kind);
                assert!(
                    !outcome.sure() || error_um.abs() <= ALLOWED_UM,
                    "{kind:?} {seed}: {error_um}"
                );
                read += u32::from(outcome.sure());
            }
        }
        assert!(read >= 6, "{read}");
    }
}
