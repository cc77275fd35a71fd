//! What was only said, only practised, or not all measured closes no step as if it had been.

mod common;

use common::made::{self, judged};
use common::{JOB, Wall, head};
use serde_json::{Value, json};
use skimgauge_jobfile::JobFile;
use skimgauge_model::Verdict;
use skimgauge_quantity::Mm;
use skimgauge_record::event::{AsLeft, Head, Judged, Touched, Unasked, ZeroChecked};
use skimgauge_record::section::{SaidHow, Section};
use skimgauge_steps::by_name::only_unproved;
use skimgauge_steps::state::{holds_others_up, is_practice, leans_on_said, next};
use skimgauge_steps::{State, Step};

fn simulated() -> Head {
    Head { serial: "SIM-0011-2233".to_owned(), ..head("simulated") }
}

fn zero_checked(head: Head) -> ZeroChecked {
    ZeroChecked {
        head,
        constants: json!({}),
        reference: "gauge".to_owned(),
        known: Mm(6.0),
        error: Mm(0.01),
        expanded_u: Mm(0.05),
        verdict: Verdict::Within,
    }
}

#[test]
fn a_step_that_a_measurement_closes_is_said_and_not_done_by_a_word() {
    let mut wall = Wall::new();
    wall.says(Step::Emitter, SaidHow::Done);
    wall.says(Step::Zero, SaidHow::Done);
    assert_eq!(wall.word(Step::Emitter), "done");
    let zero = wall.state(Step::Zero);
    assert_eq!(zero.word(), "said");
    assert_eq!(zero.not_measured().unwrap(), "said done by A. Fitter, not measured");
    wall.judged(Verdict::Within);
    let standings = wall.standings();
    assert_eq!(leans_on_said(Step::Trim, &standings), [Step::Zero]);
    assert_eq!(leans_on_said(Step::AsLeft, &standings), [Step::Zero]);
    assert_eq!(leans_on_said(Step::Square, &standings), []);
    // Measured, it is done.
    wall.put(zero_checked(head("first")));
    assert_eq!(wall.word(Step::Zero), "done");
    assert_eq!(leans_on_said(Step::Trim, &wall.standings()), []);
}

#[test]
fn what_was_said_and_not_measured_holds_up_what_leans_on_it() {
    let mut wall = Wall::new();
    for step in Step::all().filter(|step| *step != Step::Zero) {
        wall.says(step, SaidHow::LeftOut);
    }
    wall.says(Step::Zero, SaidHow::Done);
    assert!(next(&wall.standings()).is_none() && holds_others_up(&wall.standings()));
    wall.put(zero_checked(head("first")));
    assert!(!holds_others_up(&wall.standings()));
}

fn asked_for(pulls: &str) -> String {
    in_a_wall(
        "concrete",
        "proof_load = \"1.5 kN\"\nproof_time = \"60 s\"\nproof_slip = \"0.5 mm\"\n",
        pulls,
    )
}

fn in_a_wall(wall: &str, asked: &str, pulls: &str) -> String {
    let text = format!(
        "{JOB}[fixings]\nwall = \"{wall}\"\nload_factor = 1.5\n[[fixings.plate]]\nname = \"centre plate\"\nrole = \"centre\"\nwidth = \"300 mm\"\n\
         height = \"340 mm\"\nanchors = [[\"-100 mm\", \"145 mm\"], [\"100 mm\", \"145 mm\"], [\"-100 mm\", \"-145 mm\"]]\n\
         approval = \"A 1\"\ntension = \"5 kN\"\nshear = \"5 kN\"\nspacing = \"90 mm\"\nmeant_for = \"factored loads\"\n\
         {asked}\
         [[fixings.mass]]\nname = \"arm\"\nweight = \"18 kg\"\narm = \"350 mm\"\n{pulls}"
    );
    JobFile::read("job file", &text).unwrap().fixings().unwrap();
    text
}

fn pull(anchor: &str, load: &str) -> String {
    format!(
        "[[fixings.proof]]\nplate = \"centre plate\"\nanchor = \"{anchor}\"\nload = \"{load}\"\nheld = \"60 s\"\nslip = \"0.1 mm\"\n"
    )
}

#[test]
fn an_anchor_without_the_proof_load_that_is_asked_for_leaves_the_fixings_open() {
    let mut wall = Wall::new();
    let mut worked_out = |pulls: &[String]| {
        wall.revises(&asked_for(&pulls.concat()));
        wall.section("fixings", |data: &mut Value| {
            for plate in data["plates"].as_array_mut().unwrap() {
                plate["judged"] = json!("within-allowed");
            }
            data["proof_loads"] = json!([]);
        });
        wall.state(Step::Fixings)
    };
    let open = |state: State| match state {
        State::Open { found: Some((_, why)) } => why,
        other => panic!("{other:?}"),
    };
    let none = open(worked_out(&[]));
    assert_eq!(none, "no proof load yet on A, B, C of centre plate");
    let little = open(worked_out(&[pull("A", "1.5 kN"), pull("B", "0.9 kN")]));
    assert!(little.contains("no proof load yet on C of centre plate"), "{little}");
    assert!(little.contains("anchor B was pulled with 900 N of 1500 N"), "{little}");
    let again = ["A", "B", "C"].map(|anchor| pull(anchor, "1.5 kN"));
    assert_eq!(worked_out(&again).word(), "done");
}

/// The record's own figures: within, and no pull kept.
fn worked_out(wall: &mut Wall) {
    wall.section("fixings", |data: &mut Value| {
        for plate in data["plates"].as_array_mut().unwrap() {
            plate["judged"] = json!("within-allowed");
        }
        data["proof_loads"] = json!([]);
    });
}

fn only_unproved_by(wall: &Wall, file: &str) -> Option<String> {
    let events = wall.record.job("Hall 3").unwrap().events;
    only_unproved(&events, &JobFile::read("job file", file).unwrap())
}

/// Of a weak wall only a proof load tells what an anchor holds: without one a name closes the step, and
/// says why.
#[test]
fn in_a_weak_wall_the_fixings_close_by_a_proof_load_or_by_a_name() {
    let says = |wall: &mut Wall| {
        let said = made::step("fixings", Some("screwed into the studs, by the engineer's letter"));
        let Section::Step(mut said) = said else { panic!() };
        said.how = SaidHow::Done;
        wall.put(Section::Step(said));
    };
    for weak in ["stud", "hollow masonry", "weak or unknown"] {
        let mut wall = Wall::new();
        let job = in_a_wall(weak, "", "");
        assert_eq!(only_unproved_by(&wall, &job), None, "nobody worked it out");
        wall.revises(&job);
        worked_out(&mut wall);
        let why = wall.why(Step::Fixings);
        assert_eq!(why, "the wall counts as weak, and no proof load is asked for on centre plate");
        assert_eq!(only_unproved_by(&wall, &job), Some(why));
        says(&mut wall);
        let said = wall.state(Step::Fixings);
        assert_eq!(
            said.not_measured().unwrap(),
            "said done by A. Fitter, not measured: screwed into the studs, by the engineer's letter"
        );
        // Found the same again, it stands; by another job file it does not.
        worked_out(&mut wall);
        assert_eq!(wall.word(Step::Fixings), "said");
        let pulled = in_a_wall("concrete", "", "");
        assert_eq!(only_unproved_by(&wall, &pulled), None, "not worked out by this file");
        wall.revises(&pulled);
        assert_eq!(wall.word(Step::Fixings), "stale");
        worked_out(&mut wall);
        assert_eq!(wall.word(Step::Fixings), "done");
    }
}

/// A word that says why no proof load is made changes nothing on the wall.
#[test]
fn a_word_on_the_fixings_leaves_the_bracket_level() {
    let mut wall = Wall::new();
    wall.revises(&in_a_wall("stud", "", ""));
    worked_out(&mut wall);
    let level = json!({"section": "level", "data_version": 1, "data": {
        "of": "bracket", "line": "level", "value_deg": 0.01, "known": {"expanded_deg": 0.03},
        "target_deg": {"low": -0.1, "high": 0.1}, "verdict": "within", "tool": {"own": "spirit level"},
    }});
    wall.put(serde_json::from_value::<Section>(level).unwrap());
    assert_eq!(wall.word(Step::Bracket), "done");
    wall.says(Step::Fixings, SaidHow::Done);
    assert_eq!((wall.word(Step::Fixings), wall.word(Step::Bracket)), ("said", "done"));
}

/// An anchor pulled far beyond its proof load proves nothing, whatever it holds later; no word says
/// otherwise.
#[test]
fn an_anchor_pulled_far_too_hard_leaves_the_fixings_open() {
    let mut wall = Wall::new();
    let every = |load: &str| ["A", "B", "C"].map(|anchor| pull(anchor, load)).concat();
    let job = asked_for(&(every("40 kN") + &every("1.5 kN")));
    wall.revises(&job);
    worked_out(&mut wall);
    let why = wall.why(Step::Fixings);
    assert!(why.contains("anchor A was pulled with 40000 N, far beyond the 1500 N"), "{why}");
    assert_eq!(only_unproved_by(&wall, &job), None);
    wall.revises(&asked_for(&every("1.8 kN")));
    worked_out(&mut wall);
    assert_eq!(wall.word(Step::Fixings), "done");
}

#[test]
fn takes_from_before_the_last_turn_do_not_show_how_it_is_left() {
    let mut wall = Wall::new();
    let before = wall.takes(head("first"));
    wall.turned();
    wall.put(AsLeft { takes: vec![before], tilt: None });
    let State::Open { found: Some((_, why)) } = wall.state(Step::AsLeft) else { panic!() };
    assert!(why.contains("before the last turn"), "{why}");
    let after = wall.takes(head("first"));
    wall.put(AsLeft { takes: vec![before, after], tilt: None });
    assert_eq!(wall.word(Step::AsLeft), "open");
    wall.put(AsLeft { takes: vec![after], tilt: None });
    assert_eq!(wall.word(Step::AsLeft), "done");
}

#[test]
fn what_somebody_moved_undoes_the_verdict_as_a_turn_does() {
    let mut wall = Wall::new();
    wall.judged(Verdict::Within);
    wall.left();
    wall.put(Touched { why: Unasked::SaidSo, by: None });
    assert_eq!((wall.word(Step::Trim), wall.word(Step::AsLeft)), ("stale", "stale"));
}

/// A whole job with a simulated head comes to its end, each step that the head closed labelled.
#[test]
fn a_practice_is_called_one_to_its_end() {
    let mut wall = Wall::new();
    wall.uses(simulated());
    wall.put(zero_checked(simulated()));
    wall.put(Judged { simulated: true, ..judged(Verdict::Outside) });
    let State::Open { found: Some((_, why)) } = wall.state(Step::Trim) else { panic!() };
    assert!(why.contains("simulated"), "{why}");
    wall.put(Judged { simulated: true, ..judged(Verdict::Within) });
    let take = wall.takes(simulated());
    wall.put(AsLeft { takes: vec![take], tilt: None });
    let standings = wall.standings();
    for step in [Step::Zero, Step::Trim, Step::AsLeft] {
        assert_eq!(wall.word(step), "simulated", "{step:?}");
    }
    assert!(is_practice(&standings) && holds_others_up(&standings));
    assert_eq!(next(&standings).unwrap().step, Step::SetOut);
}

/// What a real head read counts, and nothing of the practice before or after it.
#[test]
fn in_a_job_that_a_real_head_read_a_practice_closes_and_undoes_nothing() {
    let mut wall = Wall::new();
    wall.uses(simulated());
    wall.put(zero_checked(simulated()));
    wall.put(Judged { simulated: true, ..judged(Verdict::Within) });
    wall.zeroed("first");
    for step in [Step::Zero, Step::Trim] {
        let State::Open { found: Some((_, why)) } = wall.state(step) else { panic!("{step:?}") };
        assert!(why.contains("practised with a simulated head"), "{why}");
    }
    wall.judged(Verdict::Within);
    wall.uses(simulated());
    wall.turned();
    wall.put(Judged { simulated: true, ..judged(Verdict::Outside) });
    assert_eq!(wall.word(Step::Trim), "done");
    assert!(!is_practice(&wall.standings()));
}
