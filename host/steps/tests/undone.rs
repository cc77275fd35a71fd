//! What a person said of a step and takes back.

mod common;

use common::{Wall, made};
use skimgauge_model::Verdict;
use skimgauge_record::section::SaidHow;
use skimgauge_steps::undone::undo;
use skimgauge_steps::{State, Step};

fn takes_back(wall: &mut Wall, step: Step) {
    let events = wall.record.job("Hall 3").unwrap().events;
    wall.put(undo(&events, step, "the wrong step").unwrap());
}

fn words(wall: &Wall, steps: &[Step]) -> Vec<&'static str> {
    steps.iter().map(|step| wall.word(*step)).collect()
}

#[test]
fn a_step_that_is_undone_is_open_with_the_reason_and_can_be_said_anew() {
    let mut wall = Wall::new();
    for _ in 0..2 {
        wall.says(Step::Services, SaidHow::Done);
        wall.says(Step::Services, SaidHow::Done);
        takes_back(&mut wall, Step::Services);
        assert_eq!(wall.why(Step::Services), "what was said of it is undone: the wrong step");
    }
    let events = wall.record.job("Hall 3").unwrap().events;
    assert_eq!(undo(&events, Step::Services, "again"), None);
    wall.says(Step::Services, SaidHow::Done);
    assert_eq!(wall.word(Step::Services), "done");
}

/// The projector was not hung: what was done on it since does not stand, and what was done before
/// does.
#[test]
fn what_was_done_since_and_leans_on_it_is_stale() {
    let mut wall = Wall::new();
    wall.says(Step::Focus, SaidHow::Done);
    wall.says(Step::Emitter, SaidHow::Done);
    wall.says(Step::Hanging, SaidHow::Done);
    wall.section("square", |data| data["turn_in_this_order"] = serde_json::json!([]));
    assert_eq!(words(&wall, &[Step::Focus, Step::Square]), ["stale", "done"]);
    takes_back(&mut wall, Step::Hanging);
    let all = [Step::Hanging, Step::Focus, Step::Square, Step::Emitter];
    assert_eq!(words(&wall, &all), ["open", "done", "stale", "done"]);
    let State::Stale { by: Some(by), why, .. } = wall.state(Step::Square) else { panic!() };
    assert_eq!((by.kind.as_str(), why.contains("hanging")), ("step undone", true), "{why}");
}

#[test]
fn an_emitter_that_was_not_mounted_undoes_the_verdict_over_it() {
    let mut wall = Wall::new();
    wall.says(Step::Emitter, SaidHow::Done);
    wall.judged(Verdict::Within);
    wall.left();
    takes_back(&mut wall, Step::Emitter);
    let all = [Step::Emitter, Step::Trim, Step::AsLeft];
    assert_eq!(words(&wall, &all), ["open", "stale", "stale"]);
}

/// What was measured before somebody left the step out by mistake stands again.
#[test]
fn a_step_left_out_by_mistake_stands_as_it_did() {
    let mut wall = Wall::new();
    wall.judged(Verdict::Within);
    wall.put(made::step("trim", Some("the wrong step")));
    assert_eq!(wall.word(Step::Trim), "left out");
    wall.left();
    takes_back(&mut wall, Step::Trim);
    assert_eq!(words(&wall, &[Step::Trim, Step::AsLeft]), ["done", "done"]);
}
