//! What hangs, and what it hangs on.

mod common;

use common::{JOB, Wall, clear, stamp};
use skimgauge_record::section::SaidHow;
use skimgauge_steps::{State, Step, gate};

fn plate(mass: &str) -> String {
    format!(
        "{JOB}[fixings]\nwall = \"concrete\"\nload_factor = 1.5\n[[fixings.plate]]\nname = \"one\"\nrole = \"centre\"\n\
         width = \"300 mm\"\nheight = \"340 mm\"\nanchors = [[\"-100 mm\", \"145 mm\"], [\"100 mm\", \"-145 mm\"]]\n\
         [[fixings.mass]]\nname = \"arm\"\nweight = \"{mass}\"\narm = \"350 mm\"\n"
    )
}

/// Anchors found good, and a load hung on them.
fn hung() -> Wall {
    let mut wall = Wall::new();
    wall.revises(&plate("18 kg"));
    wall.anchors("within-allowed", &["held"]);
    wall.says(Step::Hanging, SaidHow::Done);
    assert_eq!(wall.word(Step::Hanging), "done");
    assert_eq!(danger(&wall), None);
    wall
}

fn danger(wall: &Wall) -> Option<String> {
    gate::hangs_unproved(&wall.standings())
}

#[test]
fn a_load_hangs_no_better_than_its_anchors() {
    for (judged, pull) in [("beyond-allowed", "held"), ("within-allowed", "slipped")] {
        let mut wall = hung();
        wall.anchors(judged, &[pull]);
        let State::Stale { why, by: Some(by), .. } = wall.state(Step::Hanging) else { panic!() };
        assert!(why.contains("found wanting") && by.kind == "section", "{why} {by:?}");
        let danger = danger(&wall).unwrap();
        assert!(danger.contains("Keep people from below") && danger.contains("have it held"));
        // Taken down, or found good: the danger is over, and what hangs is said anew.
        wall.says(Step::Hanging, SaidHow::LeftOut);
        assert_eq!(gate::hangs_unproved(&wall.standings()), None);
    }
    let mut wall = hung();
    wall.anchors("beyond-allowed", &[]);
    wall.anchors("within-allowed", &["held"]);
    assert_eq!((wall.word(Step::Hanging), danger(&wall)), ("stale", None));
}

#[test]
fn other_marks_undo_what_hangs_by_them() {
    let mut wall = hung();
    wall.section("set-out", clear);
    assert_eq!((wall.word(Step::Fixings), wall.word(Step::Hanging)), ("stale", "stale"));
    assert!(danger(&wall).unwrap().contains("the marks on the wall are others"));
}

#[test]
fn other_loads_in_the_job_file_undo_what_hangs() {
    let wall = hung();
    let State::Stale { why, by: None, .. } = wall.state_by(Step::Hanging, &plate("180 kg")) else {
        panic!("{:?}", wall.state_by(Step::Hanging, &plate("180 kg")))
    };
    assert!(why.contains("not proved") && why.contains("[fixings]"), "{why}");
    assert!(matches!(wall.state_by(Step::Hanging, &plate("18 kg")), State::Done(_)), "as it was");
}

/// The anchors themselves are not left out: they are worked out, or somebody answers for them.
#[test]
fn left_out_fixings_carry_nothing_and_a_name_answers_for_them() {
    let mut wall = Wall::new();
    for step in [Step::SetOut, Step::Services, Step::Fixings, Step::Bracket] {
        wall.says(step, SaidHow::LeftOut);
    }
    let missing = |wall: &Wall| {
        let missing = gate::missing(Step::Hanging, &wall.standings());
        missing.into_iter().map(|missing| missing.step).collect::<Vec<_>>()
    };
    assert_eq!(missing(&wall), [Step::Fixings]);
    wall.says(Step::Hanging, SaidHow::Done);
    assert_eq!(wall.word(Step::Hanging), "stale");
    assert!(danger(&wall).unwrap().contains("left out (no time)"));
    wall.says(Step::Fixings, SaidHow::Done);
    assert_eq!((wall.word(Step::Fixings), wall.word(Step::Hanging)), ("said", "done"));
    assert_eq!((missing(&wall), danger(&wall)), (vec![], None));
}

/// Programs took it for done before: closed so, nothing has come after it since.
#[test]
fn a_job_closed_with_a_load_on_fixings_left_out_stands_as_it_was_closed() {
    let mut wall = Wall::new();
    wall.says(Step::Fixings, SaidHow::LeftOut);
    wall.says(Step::Hanging, SaidHow::Done);
    let open = wall.state(Step::Hanging);
    assert!(matches!(open, State::Stale { .. }), "of an open job something can be done: {open:?}");
    wall.record.close("Hall 3", &stamp(30), &[], None).unwrap();
    assert_eq!(wall.word(Step::Hanging), "done");
    let warning = danger(&wall).unwrap();
    assert!(warning.starts_with("WARNING") && warning.contains("left out (no time)"), "{warning}");
    assert!(!warning.contains("no longer") && !warning.contains("take it down"), "{warning}");
    // Left out only when it hung, it was undone before the job was closed.
    let mut wall = hung();
    wall.says(Step::Fixings, SaidHow::LeftOut);
    wall.record.close("Hall 3", &stamp(30), &[], None).unwrap();
    assert_eq!(wall.word(Step::Hanging), "stale");
    assert!(danger(&wall).unwrap().starts_with("DANGER"));
}
