//! Whether the intervals of the map hold the truth, over many simulated rounds of taps, on displays
//! whose map is straight, bent at a mark, and on others that nobody designed for:
//!
//!     cargo run --release -p skimgauge-proof --example coverage -- [proofs a case] [first seed]
//!
//! The bias of aim is drawn anew for every proof. `right`, `scale`, `turn`: how often those of the
//! map hold the truth, where there is one such; `places`, `least`: the same of the error at each
//! place judged, over all places and at the worst one. `within`: how often the map is; of a display
//! whose error is somewhere beyond the limit that is false. `anew`: how often the display's own
//! settings are blamed.

use skimgauge_model::{Image, Point, Verdict};
use skimgauge_proof::finger::{Display, Finger, Hand, Warp, begun, taps};
use skimgauge_proof::judge::{CauseIs, Judged, What, judge};
use skimgauge_proof::limits::{Limits, Tool};
use skimgauge_proof::raw::Gap;
use std::collections::BTreeMap;

const IMAGE: Image = Image::mm(2025.0, 1265.6);

/// A kind of error of one size: the greatest over the image, as a share of the limit.
#[derive(Debug, Clone, Copy)]
enum Kind {
    Offset,
    Scale,
    Turn,
    /// This mark alone, up.
    Bend(u8),
    Barrel,
    /// At this share of the width.
    Stuck(f64),
    Drift,
    Parallax,
}

/// A display with that error, this large (mm).
fn display(kind: Kind, mm: f64) -> Display {
    let well = Display { reports_per_s: 50.0, ..Display::default() };
    let (half_m, high_m) = (IMAGE.width.0 / 2000.0, IMAGE.height.0 / 2000.0);
    let warp = |warp: Warp| Display { warp, ..well.clone() };
    match kind {
        Kind::Offset => Display { off_mm: [mm, 0.0], ..well },
        Kind::Scale => Display { slopes_mm_per_m: [[mm / half_m, 0.0], [0.0, 0.0]], ..well },
        Kind::Turn => {
            let turn = mm / half_m.hypot(high_m);
            Display { slopes_mm_per_m: [[0.0, turn], [-turn, 0.0]], ..well }
        }
        Kind::Bend(mark) => Display { bend: Some((mark, [0.0, mm])), ..well },
        Kind::Barrel => warp(Warp { barrel: -mm, ..Warp::default() }),
        Kind::Stuck(at) => warp(Warp { stuck: Some((at, 2.0 * mm)), ..Warp::default() }),
        Kind::Drift => warp(Warp { drifts: [mm, 0.0], ..Warp::default() }),
        Kind::Parallax => warp(Warp { parallax: mm, ..Warp::default() }),
    }
}

fn tapped(display: &Display, tool: Tool, seed: u64) -> (Judged, f64) {
    let limits = Limits::default();
    let mut finger = Finger::new(display.clone(), Hand::with(tool), seed).biased(limits.of(tool));
    let proof = taps(&mut finger, begun(IMAGE, tool, limits, Gap::Within));
    let until_ms = proof.asked.last().map_or(0.0, |asked| asked.to_ms);
    (judge(&proof).expect("a proof that can be judged"), until_ms)
}

#[derive(Default)]
struct Held(u64, u64);

impl Held {
    fn count(&mut self, holds: bool) {
        self.0 += u64::from(holds);
        self.1 += 1;
    }

    fn percent(&self) -> String {
        match self.1 {
            0 => "-".to_owned(),
            of => format!("{:.1}", 100.0 * self.0 as f64 / of as f64),
        }
    }
}

/// The error of the display at a place, as it is left.
fn truth(display: &Display, kind: Kind, at: Point, ms: f64) -> [f64; 2] {
    let mut off = display.off(IMAGE, at, 1, ms);
    if let Kind::Bend(mark) = kind {
        let bent = skimgauge_proof::marks::at(IMAGE, Limits::default().inset, mark);
        if bent.is_some_and(|bent| bent.apart(at).0 < 1.0) {
            off[1] += display.bend.map_or(0.0, |bend| bend.1[1]);
        }
    }
    off
}

fn row(tool: Tool, kind: Kind, times: f64, proofs: u64, seed: u64) {
    let display = display(kind, times * Limits::default().of(tool).limit.0);
    let slopes = display.slopes_mm_per_m;
    let straight = matches!(kind, Kind::Offset | Kind::Scale | Kind::Turn | Kind::Bend(_));
    let [mut right, mut scale, mut turn, mut within, mut outside, mut bent, mut uneven, mut anew] =
        std::array::from_fn(|_| Held::default());
    let mut places: BTreeMap<&str, Held> = BTreeMap::new();
    for at in 0..proofs {
        let (judged, ms) = tapped(&display, tool, seed + at);
        let Some(map) = &judged.map else { continue };
        if straight {
            right.count((map.right.value.0 - display.off_mm[0]).abs() <= map.right.expanded.0);
            let across = map.scale_across;
            scale.count((across.value.0 - slopes[0][0]).abs() <= across.expanded.0);
            let turned = (slopes[0][1] - slopes[1][0]) / 2.0;
            turn.count((map.turn.value.0 - turned).abs() <= map.turn.expanded.0);
        }
        for place in &judged.places {
            let [x, y] = truth(&display, kind, place.at, ms);
            let held = places.entry(place.name).or_default();
            held.count((place.right.0 - x).abs() <= place.expanded.0);
            held.count((place.up.0 - y).abs() <= place.expanded.0);
        }
        let is = |verdict: Verdict| {
            let decide = |what: What| matches!(what, What::Map | What::Still);
            let parts = judged.parts.iter().filter(|part| decide(part.what));
            Verdict::of_all(parts.map(|part| part.verdict)) == verdict
        };
        within.count(is(Verdict::Within));
        outside.count(is(Verdict::Outside));
        bent.count(!map.bent.is_empty());
        uneven.count(map.uneven || map.moved.is_some());
        anew.count(judged.cause.as_ref().is_some_and(|cause| cause.is == CauseIs::Recalibrate));
    }
    let all = places.values().fold(Held::default(), |a, b| Held(a.0 + b.0, a.1 + b.1));
    let often = places.values().filter(|held| held.1 * 2 > proofs);
    let share = |held: &Held| held.0 as f64 / held.1.max(1) as f64;
    let least = often.min_by(|a, b| share(a).total_cmp(&share(b)));
    println!(
        "{:<26} {:>6} {:>6} {:>6} | {:>6} {:>6} | {:>6} {:>7} {:>6} {:>6} {:>6}",
        format!("{} {kind:?} x {times}", tool.word()),
        right.percent(),
        scale.percent(),
        turn.percent(),
        all.percent(),
        least.unwrap_or(&Held::default()).percent(),
        within.percent(),
        outside.percent(),
        bent.percent(),
        uneven.percent(),
        anew.percent()
    );
}

fn main() {
    let mut numbers = std::env::args().skip(1).filter_map(|n| n.parse::<u64>().ok());
    let (proofs, first) = (numbers.next().unwrap_or(2000), numbers.next().unwrap_or(1));
    println!(
        "{:<26} {:>6} {:>6} {:>6} | {:>6} {:>6} | {:>6} {:>7} {:>6} {:>6} {:>6}",
        "case",
        "right",
        "scale",
        "turn",
        "places",
        "least",
        "within",
        "outside",
        "bent",
        "uneven",
        "anew"
    );
    let mut number = first * 1000;
    for tool in [Tool::Finger, Tool::Rod] {
        let mut next = |kind: Kind, times: &[f64]| {
            for times in times {
                number += 1;
                row(tool, kind, *times, proofs, number * 1_000_000);
            }
        };
        next(Kind::Offset, &[0.0, 1.0, 1.1, 1.5]);
        next(Kind::Scale, &[0.5, 1.0, 1.1, 1.5]);
        next(Kind::Turn, &[0.5, 1.0, 1.1, 1.5]);
        next(Kind::Bend(4), &[0.25, 0.5, 0.75, 1.0, 1.1, 1.5]);
        next(Kind::Bend(2), &[0.25, 0.5, 0.75, 1.0, 1.1, 1.5]);
        next(Kind::Barrel, &[0.25, 0.5, 1.0, 1.1, 1.5]);
        next(Kind::Parallax, &[0.25, 0.5, 1.0, 1.1, 1.5]);
        next(Kind::Drift, &[0.25, 0.5, 1.0, 1.1, 1.5]);
        next(Kind::Stuck(0.74), &[0.5, 1.0, 1.1, 1.5]);
        next(Kind::Stuck(0.6), &[1.0, 1.5]);
    }
}
