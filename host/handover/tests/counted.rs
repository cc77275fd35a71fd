//! What counts on the page: only what still holds, and what was read on the board.

mod common;

use common::Bench;
use skimgauge_handover::{Options, page};
use skimgauge_jobfile::demo_job;
use skimgauge_quantity::Mm;
use skimgauge_record::JobHistory;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Head, JobRevised, Judged, Phase, Section, Verdict};
use skimgauge_record::section::{SaidHow, StepSaid};

fn of(history: &JobHistory) -> String {
    page(history, &Options::default())
}

/// A section of the page without its markup.
fn text(page: &str, id: &str) -> String {
    let from = page.find(&format!("<section id=\"{id}\"")).unwrap_or_else(|| panic!("no {id}"));
    let section = &page[from..from + page[from..].find("</section>").unwrap()];
    let mut out = String::new();
    let mut inside = false;
    for c in section.chars() {
        match c {
            '<' => inside = true,
            '>' => {
                inside = false;
                out.push(' ');
            }
            c if !inside => out.push(c),
            _ => {}
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn opened() -> Bench {
    Bench::new("practice wall", demo_job())
}

fn revise(bench: &mut Bench, job_file: &str) {
    bench.append(JobRevised {
        job_file: job_file.to_owned(),
        job_file_sha256: Hash::of(job_file.as_bytes()),
        said_same: Vec::new(),
    });
}

/// Taken at four stations, and judged as left.
fn left(bench: &mut Bench) {
    for (name, x, y) in [
        ("top left", -950.0, 0.0),
        ("top right", 950.0, 0.0),
        ("bottom left", -950.0, -1200.0),
        ("bottom right", 950.0, -1200.0),
    ] {
        bench.append(common::take(name, x, y, Phase::AsLeft, 1, 2.5));
    }
    bench.append(as_left(false));
}

/// The band was agreed anew after the verdict: by that nobody judged it yet.
#[test]
fn a_verdict_by_another_band_is_none() {
    let mut bench = opened();
    left(&mut bench);
    assert!(of(&bench.history()).contains("stamp within"));
    for (from, to, holds) in [("8 turns", "9 turns", false), ("R. Oakes", "R. Elm", true)] {
        let mut bench = opened();
        left(&mut bench);
        revise(&mut bench, &demo_job().replace(from, to));
        assert_eq!(of(&bench.history()).contains("stamp within"), holds, "{from}");
    }
    revise(&mut bench, &demo_job().replace("\"4.0 mm\"", "\"2.0 mm\""));
    let page = of(&bench.history());
    assert!(!page.contains("stamp within"), "{page}");
    let open = text(&page, "open-points");
    assert!(open.contains("no longer holds: the job file was changed since: [band]"), "{open}");
    assert!(open.contains("not been judged as it is left"), "{open}");
}

/// Turned after it was left so: neither the takes nor the verdict are of what stands now.
#[test]
fn what_was_taken_before_the_last_turn_is_not_as_left() {
    let mut bench = opened();
    left(&mut bench);
    let before = of(&bench.history());
    let gaps = text(&before, "gaps");
    assert!(gaps.contains("2.50") && gaps.contains("left"), "{gaps}");
    common::turn(&mut bench, "left", 0.5, "bottom left", [2.5, 2.9, 2.9], 1);
    let history = bench.history();
    assert!(history.standing(Phase::AsLeft).is_empty());
    let page = of(&history);
    assert!(!page.contains("stamp within"), "{page}");
    assert!(text(&page, "open-points").contains("not been judged as it is left"));
}

/// What a simulated head read stands under its word on every place of the page.
#[test]
fn a_practice_is_no_handover() {
    let simulated = |head: &mut Head| {
        head.serial = "SIM-0011-2233".to_owned();
    };
    let mut bench = opened();
    let mut take = common::take("top left", -950.0, 0.0, Phase::AsLeft, 1, 2.5);
    simulated(&mut take.head);
    bench.append(take.clone());
    bench.append(as_left(true));
    let page = of(&bench.history());
    assert!(page.contains("Practice, no handover"), "{page}");
    assert!(page.contains("simulated: within") && !page.contains("</svg> within"), "{page}");
    assert!(page.contains("Verdicts (simulated)"), "{page}");
    let steps = text(&page, "steps-in-short");
    assert!(steps.contains("simulated"), "{steps}");
    // A real head comes: of the practice nothing is left but that it was one.
    take.head.serial = "SG-0007".to_owned();
    take.gap = Mm(3.25);
    bench.append(take);
    let page = of(&bench.history());
    assert!(!page.contains("Practice, no handover") && !page.contains("stamp within"), "{page}");
    assert!(page.contains("also holds a practice"), "{page}");
    bench.append(as_left(false));
    assert!(of(&bench.history()).contains("stamp within"));
}

fn as_left(simulated: bool) -> Judged {
    Judged {
        verdict: Verdict::Within,
        phase: Phase::AsLeft,
        worst: None,
        worst_gap: None,
        margin: None,
        expanded_u: None,
        decision_rule: common::RULE.to_owned(),
        would_settle: None,
        judged_at: None,
        detail: Default::default(),
        simulated,
        survey_sha256: None,
    }
}

/// Said by somebody, where the head would have told: the page says so, and of what leans on it too.
#[test]
fn what_was_said_and_not_measured_says_so_on_the_page() {
    let mut bench = opened();
    bench.append(Section::from(StepSaid {
        step: "zero".to_owned(),
        how: SaidHow::Done,
        why: None,
        checked: Vec::new(),
    }));
    bench.append(as_left(false));
    let page = of(&bench.history());
    for id in ["steps-in-short", "steps", "open-points"] {
        let said = text(&page, id);
        assert!(said.contains("aid done by") && said.contains("not measured"), "{id}: {said}");
    }
    let steps = text(&page, "steps");
    assert!(steps.contains("eans on zero, which was said and not measured"), "{steps}");
}
