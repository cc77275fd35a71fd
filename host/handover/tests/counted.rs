//! What counts on the page: only what still holds, and what was read on the board.

mod common;

use common::made::{self, judged, revised};
use common::{Bench, section, shown, text};
use skimgauge_jobfile::demo_job;
use skimgauge_quantity::Mm;
use skimgauge_record::event::{Head, Judged, Phase, Verdict};
use skimgauge_record::section::{SaidHow, Section};

/// What a person reads in a section.
fn read(page: &str, id: &str) -> String {
    text(section(page, id))
}

fn opened() -> Bench {
    Bench::new("practice wall", demo_job())
}

/// Taken at four stations, and judged as left.
fn left(bench: &mut Bench) {
    common::take_as_left(bench, None);
    bench.append(judged(Verdict::Within));
}

/// The band was agreed anew after the verdict: by that nobody judged it yet.
#[test]
fn a_verdict_by_another_band_is_none() {
    let mut bench = opened();
    left(&mut bench);
    assert!(shown(&bench.history()).contains("stamp within"));
    for (from, to, holds) in [("8 turns", "9 turns", false), ("R. Oakes", "R. Elm", true)] {
        let mut bench = opened();
        left(&mut bench);
        bench.append(revised(&demo_job().replace(from, to)));
        assert_eq!(shown(&bench.history()).contains("stamp within"), holds, "{from}");
    }
    bench.append(revised(&demo_job().replace("\"4.0 mm\"", "\"2.0 mm\"")));
    let page = shown(&bench.history());
    assert!(!page.contains("stamp within"), "{page}");
    let open = read(&page, "open-points");
    assert!(open.contains("no longer holds: the job file was changed since: [band]"), "{open}");
    assert!(open.contains("not been judged as it is left"), "{open}");
}

/// Turned after it was left so: neither the takes nor the verdict are of what stands now.
#[test]
fn what_was_taken_before_the_last_turn_is_not_as_left() {
    let mut bench = opened();
    left(&mut bench);
    let before = shown(&bench.history());
    let gaps = read(&before, "gaps");
    assert!(gaps.contains("2.50") && gaps.contains("left"), "{gaps}");
    common::turn(&mut bench, "left", 0.5, "bottom left", [2.5, 2.9, 2.9], 1);
    let history = bench.history();
    assert!(history.standing(Phase::AsLeft).is_empty());
    let page = shown(&history);
    assert!(!page.contains("stamp within"), "{page}");
    assert!(read(&page, "open-points").contains("not been judged as it is left"));
}

/// What a simulated head read stands under its word on every place of the page.
#[test]
fn a_practice_is_no_handover() {
    let simulated = |head: &mut Head| {
        head.serial = "SIM-0011-2233".to_owned();
    };
    let mut bench = opened();
    let mut take = made::take("top left", -950.0, 0.0, Phase::AsLeft, 1, 2.5);
    simulated(&mut take.head);
    bench.append(take.clone());
    bench.append(Judged { simulated: true, ..judged(Verdict::Within) });
    let page = shown(&bench.history());
    assert!(page.contains("Practice, no handover"), "{page}");
    assert!(page.contains("simulated: within") && !page.contains("</svg> within"), "{page}");
    assert!(page.contains("Verdicts (simulated)"), "{page}");
    let steps = read(&page, "steps-in-short");
    assert!(steps.contains("simulated"), "{steps}");
    // A real head comes: of the practice nothing is left but that it was one.
    take.head.serial = "SG-0007".to_owned();
    take.gap = Mm(3.25);
    bench.append(take);
    let page = shown(&bench.history());
    assert!(!page.contains("Practice, no handover") && !page.contains("stamp within"), "{page}");
    assert!(page.contains("also holds a practice"), "{page}");
    bench.append(judged(Verdict::Within));
    assert!(shown(&bench.history()).contains("stamp within"));
}

/// Said by somebody, where the head would have told: the page says so, and of what leans on it too.
#[test]
fn what_was_said_and_not_measured_says_so_on_the_page() {
    let mut bench = opened();
    bench.append(made::step("zero", None));
    bench.append(judged(Verdict::Within));
    let page = shown(&bench.history());
    for id in ["steps-in-short", "steps", "open-points"] {
        let said = read(&page, id);
        assert!(said.contains("aid done by") && said.contains("not measured"), "{id}: {said}");
    }
    let steps = read(&page, "steps");
    assert!(steps.contains("eans on zero, which was said and not measured"), "{steps}");
    // Why, where somebody said it: once.
    let Section::Step(mut said) = made::step("fixings", Some("by the engineer's letter")) else {
        panic!()
    };
    said.how = SaidHow::Done;
    bench.append(Section::Step(said));
    let page = shown(&bench.history());
    for id in ["steps-in-short", "steps", "open-points"] {
        let said = read(&page, id);
        assert_eq!(said.matches("y the engineer").count(), 1, "{id}: {said}");
    }
}
