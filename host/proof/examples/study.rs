//! What the verdict promises, over many simulated proofs:
//!
//!     cargo run --release -p skimgauge-proof --example study -- [proofs a case] [first seed]
//!
//! Each row is a display with a known map error (as a share of the tool's limit) under hands whose
//! bias of aim is drawn anew for every proof. `cover`: how often the 95 % intervals hold the truth
//! (offset right, scale across, turn, and right of the mark in the worst corner); then the
//! verdicts, and how often the display's own settings are blamed.

use skimgauge_model::{Image, Verdict};
use skimgauge_proof::finger::{Display, Finger, Hand, Warp, begun, played};
use skimgauge_proof::judge::{CauseIs, Judged, judge};
use skimgauge_proof::limits::{Limits, Tool};
use skimgauge_proof::raw::Gap;

const IMAGE: Image = Image::mm(2025.0, 1265.6);

/// A kind of error of one size, mm at the place where it is greatest.
#[derive(Clone, Copy)]
enum Kind {
    Offset,
    /// Greatest at left and right edge.
    Scale,
    /// One mark alone.
    Bend,
    /// A strip between the marks, in which every touch is seen at its middle: only lines show it.
    Stuck,
}

struct Case {
    name: &'static str,
    tool: Tool,
    kind: Kind,
    times: f64,
}

struct Truth {
    right_mm: f64,
    scale: f64,
    corner_mm: f64,
}

fn display(case: &Case, limit: f64) -> (Display, Truth) {
    let size = case.times * limit;
    let well = Display { reports_per_s: 50.0, ..Display::default() };
    let half_m = IMAGE.width.0 / 2000.0;
    match case.kind {
        Kind::Offset => (
            Display { off_mm: [size, 0.0], ..well },
            Truth { right_mm: size, scale: 0.0, corner_mm: size },
        ),
        Kind::Scale => {
            let scale = size / half_m;
            let slopes_mm_per_m = [[scale, 0.0], [0.0, 0.0]];
            (Display { slopes_mm_per_m, ..well }, Truth { right_mm: 0.0, scale, corner_mm: size })
        }
        Kind::Bend => (
            Display { bend: Some((4, [size, 0.0])), ..well },
            Truth { right_mm: 0.0, scale: 0.0, corner_mm: 0.0 },
        ),
        Kind::Stuck => {
            let warp = Warp { stuck: Some((0.62, 2.0 * size)), ..Warp::default() };
            let well = Display { reports_per_s: 100.0, ..well };
            (Display { warp, ..well }, Truth { right_mm: 0.0, scale: 0.0, corner_mm: 0.0 })
        }
    }
}

fn prove(case: &Case, display: &Display, seed: u64) -> Judged {
    let limits = Limits::default();
    let allowed = limits.of(case.tool);
    let mut finger = Finger::new(display.clone(), Hand::with(case.tool), seed).biased(allowed);
    let proof = played(&mut finger, begun(IMAGE, case.tool, limits, Gap::Within), &[], vec![]);
    judge(&proof).expect("a proof that can be judged")
}

fn main() {
    let proofs: u64 = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(2000);
    println!(
        "{:<22} {:>7} {:>7} {:>7} {:>7} | {:>7} {:>8} {:>7} {:>6} {:>10}",
        "case",
        "right",
        "scale",
        "turn",
        "corner",
        "within",
        "outside",
        "close",
        "bent",
        "set anew"
    );
    let mut cases = Vec::new();
    for tool in [Tool::Finger, Tool::Rod] {
        for times in [0.0, 0.5, 1.0, 1.1, 1.5] {
            cases.push(Case { name: "offset", tool, kind: Kind::Offset, times });
        }
        for times in [1.0, 1.1, 1.5] {
            cases.push(Case { name: "scale", tool, kind: Kind::Scale, times });
        }
        for times in [0.5, 1.0, 1.5] {
            cases.push(Case { name: "bend", tool, kind: Kind::Bend, times });
        }
        for times in [1.0, 1.1, 1.5] {
            cases.push(Case { name: "stuck", tool, kind: Kind::Stuck, times });
        }
    }
    let first: u64 = std::env::args().nth(2).and_then(|n| n.parse().ok()).unwrap_or(0);
    for (case, number) in cases.iter().zip(1000 * first + 1..) {
        let limit = Limits::default().of(case.tool).limit.0;
        let (display, truth) = display(case, limit);
        let mut held = [0u32; 4];
        let mut counts = [0u32; 5];
        for at in 0..proofs {
            let judged = prove(case, &display, number * 1_000_000 + at);
            let Some(map) = &judged.map else { continue };
            let corner = &judged.places[1];
            for (count, holds) in held.iter_mut().zip([
                (map.right.value.0 - truth.right_mm).abs() <= map.right.expanded.0,
                (map.scale_across.value.0 - truth.scale).abs() <= map.scale_across.expanded.0,
                map.turn.value.0.abs() <= map.turn.expanded.0,
                (corner.right.0 - truth.corner_mm).abs() <= corner.expanded.0,
            ]) {
                *count += u32::from(holds);
            }
            let anew = judged.cause.as_ref().is_some_and(|cause| cause.is == CauseIs::Recalibrate);
            for (count, is) in counts.iter_mut().zip([
                judged.verdict == Verdict::Within,
                judged.verdict == Verdict::Outside,
                judged.verdict == Verdict::Unsure,
                !map.bent.is_empty(),
                anew,
            ]) {
                *count += u32::from(is);
            }
        }
        let percent = |count: u32| 100.0 * f64::from(count) / proofs as f64;
        let name = format!("{} {} x {}", case.tool.word(), case.name, case.times);
        let [right, scale, turn, corner] = held.map(percent);
        let [within, outside, close, bent, anew] = counts.map(percent);
        println!(
            "{name:<22} {right:>7.1} {scale:>7.1} {turn:>7.1} {corner:>7.1} | {within:>7.1} {outside:>8.1} {close:>7.1} {bent:>6.1} {anew:>10.1}"
        );
    }
}
