//! What the verdict promises, at a small number of simulated proofs; `examples/study.rs` and
//! `examples/coverage.rs` have the large ones. Tolerances are what chance does to so few.

use skimgauge_model::{Image, Verdict};
use skimgauge_proof::finger::{Display, Finger, Hand, Warp, begun, played, taps};
use skimgauge_proof::judge::{CauseIs, Judged, What, judge};
use skimgauge_proof::limits::{Limits, Tool};
use skimgauge_proof::raw::Gap;

const IMAGE: Image = Image::mm(2025.0, 1265.6);
const PROOFS: u64 = 120;

fn proofs(tool: Tool, share: f64) -> Vec<Judged> {
    let limits = Limits::default();
    let allowed = limits.of(tool);
    (0..PROOFS)
        .map(|seed| {
            let off_mm = [share * allowed.limit.0, 0.0];
            let display = Display { off_mm, reports_per_s: 50.0, ..Display::default() };
            let mut finger = Finger::new(display, Hand::with(tool), 1000 + seed).biased(allowed);
            judge(&played(&mut finger, begun(IMAGE, tool, limits, Gap::Within), &[], vec![]))
                .unwrap()
        })
        .collect()
}

fn share(judged: &[Judged], is: impl Fn(&Judged) -> bool) -> f64 {
    judged.iter().filter(|judged| is(judged)).count() as f64 / judged.len() as f64
}

#[test]
fn a_display_at_its_limit_is_seldom_within_and_a_good_one_mostly() {
    for tool in [Tool::Finger, Tool::Rod] {
        let good = proofs(tool, 0.0);
        let within = share(&good, |judged| judged.verdict == Verdict::Within);
        assert!(within >= 0.65, "{tool:?}: within in {within}");
        let set_anew = |judged: &Judged| {
            judged.cause.as_ref().is_some_and(|cause| cause.is == CauseIs::Recalibrate)
        };
        assert!(share(&good, set_anew) <= 0.01);
        for times in [1.0, 1.1, 1.5] {
            let off = proofs(tool, times);
            let false_within = share(&off, |judged| judged.verdict == Verdict::Within);
            // 2.5 % of 120 are 3; more than 8 come in less than one of a hundred such tests.
            assert!(false_within <= 0.067, "{tool:?} {times}: {false_within}");
        }
    }
}

#[test]
fn the_95_percent_interval_of_the_offset_holds_the_aims_bias() {
    for tool in [Tool::Finger, Tool::Rod] {
        let judged = proofs(tool, 0.3);
        let truth = 0.3 * Limits::default().of(tool).limit.0;
        let held = share(&judged, |judged| {
            let right = judged.map.as_ref().unwrap().right;
            (right.value.0 - truth).abs() <= right.expanded.0
        });
        assert!((0.90..=0.99).contains(&held), "{tool:?}: {held}");
    }
}

/// The taps alone, on this display; and when the last one was.
fn tapped(display: &Display, tool: Tool, seed: u64) -> (Judged, f64) {
    let limits = Limits::default();
    let mut finger = Finger::new(display.clone(), Hand::with(tool), seed).biased(limits.of(tool));
    let proof = taps(&mut finger, begun(IMAGE, tool, limits, Gap::Within));
    let until_ms = proof.asked.last().map_or(0.0, |asked| asked.to_ms);
    (judge(&proof).unwrap(), until_ms)
}

/// A barrel, and a parallax that grows toward a side, are no straight maps: what is said of the
/// corners holds all the same, and where the truth is beyond the limit it is not within.
#[test]
fn maps_that_nobody_designed_for_are_in_the_interval_and_never_within() {
    for tool in [Tool::Finger, Tool::Rod] {
        let limit = Limits::default().of(tool).limit.0;
        let barrel = Warp { barrel: -limit, ..Warp::default() };
        let parallax = Warp { parallax: limit, ..Warp::default() };
        let wanders = Warp { drifts: [limit, 0.0], ..Warp::default() };
        for (warp, least) in [(barrel, 0.88), (parallax, 0.91), (wanders, 0.91)] {
            let display = Display { warp, reports_per_s: 50.0, ..Display::default() };
            let (mut held, mut of, mut within) = (0, 0, 0);
            for seed in 0..300 {
                let (judged, ms) = tapped(&display, tool, 7000 + seed);
                for place in judged.places.iter().filter(|place| !place.by_taps) {
                    let [right, up] = display.off(IMAGE, place.at, 1, ms);
                    of += 2;
                    held += i32::from((place.right.0 - right).abs() <= place.expanded.0);
                    held += i32::from((place.up.0 - up).abs() <= place.expanded.0);
                }
                let decides = |what: What| matches!(what, What::Map | What::Still);
                let parts = judged.parts.iter().filter(|part| decides(part.what));
                let verdict = Verdict::of_all(parts.map(|part| part.verdict));
                within += i32::from(verdict == Verdict::Within);
            }
            let held = f64::from(held) / f64::from(of);
            assert!(held >= least, "{tool:?} {warp:?}: {held}");
            // 2.5 % of 300 are 7.5; more than 15 come in less than one of a hundred such tests.
            assert!(within <= 15, "{tool:?} {warp:?}: within {within} times");
        }
    }
}

/// Bent by what is found every second time: the map holds the truth all the same.
#[test]
fn a_bend_that_may_be_there_is_in_the_interval_of_the_map() {
    let display =
        Display { bend: Some((4, [1.5, 0.0])), reports_per_s: 50.0, ..Display::default() };
    let (mut held, mut found) = (0, 0);
    for seed in 0..400 {
        let map = tapped(&display, Tool::Rod, 9000 + seed).0.map.unwrap();
        held += i32::from(map.scale_across.value.0.abs() <= map.scale_across.expanded.0);
        found += i32::from(!map.bent.is_empty());
    }
    assert!((100..300).contains(&found), "found {found} times of 400");
    // 94 % of 400 are 376; fewer than 365 come in one of a hundred such tests.
    assert!(held >= 365, "held {held} times of 400");
}
