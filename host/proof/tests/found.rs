//! What ails a display is found, with its cause.

use skimgauge_model::{Image, Verdict};
use skimgauge_proof::finger::{Ailment, Display, Finger, Hand, Warp, begun, played};
use skimgauge_proof::judge::{CauseIs, Judged, What, judge};
use skimgauge_proof::limits::{Limits, Tool};
use skimgauge_proof::raw::Gap;
use skimgauge_quantity::Style;

const IMAGE: Image = Image::mm(2025.0, 1265.6);

fn proved(ailment: Ailment, tool: Tool, gap: Gap, seed: u64) -> Judged {
    let limits = Limits::default();
    let display = Display::with(ailment, limits.of(tool));
    let mut finger = Finger::new(display, Hand::with(tool), seed).biased(limits.of(tool));
    judge(&played(&mut finger, begun(IMAGE, tool, limits, gap), &[], Vec::new())).unwrap()
}

fn tell(judged: &Judged) {
    for part in &judged.parts {
        println!("   {:?} {:?} {}", part.what, part.verdict, part.says.text(Style::default()));
    }
}

#[test]
fn each_ailment_is_found_by_its_cause() {
    for tool in [Tool::Finger, Tool::Rod] {
        for (ailment, cause, verdict) in [
            (Ailment::Offset, Some(CauseIs::Recalibrate), Some(Verdict::Outside)),
            (Ailment::Scale, Some(CauseIs::Recalibrate), Some(Verdict::Outside)),
            (Ailment::Bend, Some(CauseIs::MarkBent), Some(Verdict::Outside)),
            (Ailment::Jitter, None, Some(Verdict::Outside)),
            (Ailment::Ghosts, None, Some(Verdict::Outside)),
            (Ailment::High, Some(CauseIs::PlaneTooHigh), None),
            (Ailment::Moved, Some(CauseIs::Moved), None),
            (Ailment::Shadow, Some(CauseIs::ShadowOrLight), None),
        ] {
            let mut found = 0;
            for seed in 0..5 {
                let judged = proved(ailment, tool, Gap::Within, seed);
                let is = judged.cause.as_ref().map(|cause| cause.is);
                let as_expected = (cause.is_none() || is == cause)
                    && verdict.is_none_or(|verdict| judged.verdict == verdict)
                    && judged.verdict != Verdict::Within;
                found += usize::from(as_expected);
                if !as_expected {
                    println!("{ailment:?} {tool:?} {seed}: {:?} {is:?}", judged.verdict);
                    tell(&judged);
                }
            }
            assert!(found >= 4, "{ailment:?} {tool:?}: {found} of 5");
        }
    }
}

#[test]
fn a_good_display_is_within_only_where_the_gap_is() {
    let judged = proved(Ailment::Well, Tool::Rod, Gap::Within, 3);
    assert_eq!(judged.verdict, Verdict::Within, "{}", judged.because.text(Style::default()));
    for gap in [Gap::NotWithin, Gap::OlderThanTurn, Gap::NotJudged] {
        let judged = proved(Ailment::Well, Tool::Rod, gap, 3);
        assert_eq!(judged.verdict, Verdict::Unsure, "{gap:?}");
        assert_eq!(judged.cause.unwrap().is, CauseIs::GapFirst);
        let off = proved(Ailment::Offset, Tool::Rod, gap, 3);
        assert_ne!(off.cause.unwrap().is, CauseIs::Recalibrate, "a gap that leans looks like this");
    }
}

/// Between the marks, where no tap falls: only the lines across it show a strip in which touch
/// sticks.
#[test]
fn a_strip_in_which_touch_sticks_shows_in_the_lines() {
    for tool in [Tool::Finger, Tool::Rod] {
        let limits = Limits::default();
        let warp = Warp { stuck: Some((0.62, 2.2 * limits.of(tool).limit.0)), ..Warp::default() };
        let display = Display { warp, ..Display::default() };
        let mut finger = Finger::new(display, Hand::with(tool), 8).biased(limits.of(tool));
        let proof = begun(IMAGE, tool, limits, Gap::Within);
        let judged = judge(&played(&mut finger, proof, &[], Vec::new())).unwrap();
        let lines = judged.parts.iter().find(|part| part.what == What::Lines).unwrap();
        assert_ne!(lines.verdict, Verdict::Within, "{}", lines.says.text(Style::default()));
        // Three lines, each there and back.
        let across = judged.strokes.iter().filter(|stroke| stroke.stroke < 3);
        let jumps: usize = across.map(|stroke| stroke.jumps).sum();
        assert!(jumps >= 5, "{tool:?}: {:?}", judged.strokes);
    }
}
