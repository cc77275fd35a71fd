//! A job's record, event by event, and how its steps stand.

mod common;

use common::{JOB, Wall, clear, head, made, of};
use serde_json::{Value, json};
use skimgauge_model::Verdict;
use skimgauge_quantity::Mm;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Judged, ZeroChecked};
use skimgauge_record::section::SaidHow;
use skimgauge_steps::state::{holds_others_up, next};
use skimgauge_steps::{State, Step, Table, standings, table_is};

#[test]
fn a_new_job_has_everything_before_it() {
    let wall = Wall::new();
    let events = wall.record.job("Hall 3").unwrap().events;
    let standings = standings(&events);
    assert!(standings.iter().all(|standing| standing.state == State::Open { found: None }));
    assert_eq!(next(&standings).unwrap().step, Step::SetOut);
    assert!(holds_others_up(&standings));
}

#[test]
fn a_measurement_closes_its_step_only_where_it_found_nothing_to_do() {
    let mut wall = Wall::new();
    wall.section("set-out", |_| {});
    assert!(matches!(wall.state(Step::SetOut), State::Open { found: Some(_) }));
    wall.section("set-out", clear);
    assert_eq!(wall.word(Step::SetOut), "done");
    wall.section("set-out", |data| {
        clear(data);
        data["clearances"][0]["fit"] = json!("short");
    });
    assert!(matches!(wall.state(Step::SetOut), State::Open { found: Some(_) }));
    wall.section("set-out", |data| {
        clear(data);
        data["not_listed"] = json!("NOT listed for this size");
    });
    assert!(wall.why(Step::SetOut).contains("ask its maker before drilling"));
    wall.section("set-out", |data| {
        clear(data);
        data["assumed"] = json!(["its lower edge is taken to be as high. Enter lower_edge."]);
    });
    assert_eq!(
        wall.why(Step::SetOut),
        "assumed: its lower edge is taken to be as high. Enter lower_edge"
    );
    for verdict in [Verdict::Outside, Verdict::Unsure] {
        wall.judged(verdict);
        assert_eq!(wall.word(Step::Trim), "open");
    }
    wall.judged(Verdict::Within);
    assert_eq!(wall.word(Step::Trim), "done");
}

#[test]
fn a_measure_too_coarse_to_tell_does_not_close_square() {
    let mut wall = Wall::new();
    wall.section("square", |data| data["turn_in_this_order"] = json!([]));
    assert_eq!(wall.word(Step::Square), "done");
    wall.section("square", |data| {
        data["turn_in_this_order"] = json!([]);
        data["too_close"] = json!("too close to call");
    });
    assert!(wall.why(Step::Square).contains("too close to call"));
}

/// What no adjuster takes out and is more than may remain, and measures that speak against one
/// another: the step stays open until somebody leaves it out and says why.
#[test]
fn a_fault_that_stays_leaves_square_open_with_its_reason() {
    let mut wall = Wall::new();
    let with = |key: &'static str, value: Value| {
        move |data: &mut Value| {
            data["turn_in_this_order"] = json!([]);
            data[key] = value;
        }
    };
    wall.section("square", with("beyond", json!("its top leans 14 mm")));
    assert_eq!(wall.why(Step::Square), "its top leans 14 mm");
    let both = |agree: bool| json!({"agree": agree, "says": "the top side"});
    wall.section("square", with("corners_and_tape", both(false)));
    assert!(wall.why(Step::Square).contains("corners and tape contradict one another"));
    wall.section("square", with("corners_and_tape", both(true)));
    assert_eq!(wall.word(Step::Square), "done");
    wall.section("square", with("beyond", json!("its top leans 14 mm")));
    wall.says(Step::Square, SaidHow::LeftOut);
    assert_eq!(wall.word(Step::Square), "left out");
}

#[test]
fn loads_that_were_not_compared_do_not_close_the_fixings() {
    let mut wall = Wall::new();
    let with = |judged: &str, pulls: Value| {
        let judged = json!(judged);
        move |data: &mut Value| {
            for plate in data["plates"].as_array_mut().unwrap() {
                plate["judged"] = judged.clone();
            }
            data["proof_loads"] = pulls;
        }
    };
    let pull = |found: &str| json!({"anchor": "upper left", "load_n": 600.0, "held_s": 60.0, "slip_mm": 0.0, "found": found});
    for (judged, pulls, closed) in [
        ("not-judged", json!([]), false),
        ("beyond-allowed", json!([]), false),
        ("within-allowed", json!([pull("slipped")]), false),
        ("within-allowed", json!([pull("too-short"), pull("held")]), true),
        ("within-allowed", json!([]), true),
    ] {
        wall.section("fixings", with(judged, pulls));
        assert_eq!(wall.word(Step::Fixings) == "done", closed, "{judged}");
    }
}

/// Anchors have the same letters on every plate: one that holds on one says nothing of another.
#[test]
fn a_pull_is_of_its_plate() {
    let mut wall = Wall::new();
    let pull = |plate: &str, found: &str| json!({"plate": plate, "anchor": "A", "load_n": 600.0, "held_s": 60.0, "slip_mm": 0.0, "found": found});
    let with = |pulls: Value| move |data: &mut Value| data["proof_loads"] = pulls;
    wall.section("fixings", with(json!([pull("left", "too-short"), pull("right", "held")])));
    assert_eq!(wall.why(Step::Fixings), "anchor A of left, proof load: too short to show anything");
    wall.section("fixings", with(json!([pull("left", "held"), pull("right", "held")])));
    assert_eq!(wall.word(Step::Fixings), "done");
    wall.section("fixings", with(json!([pull("left", "held"), pull("right", "slipped")])));
    assert!(wall.why(Step::Fixings).starts_with("anchor A of right slipped"));
}

/// Why a step is open is said as it is: by the job file where the record does not tell.
#[test]
fn the_fixings_are_open_for_the_reason_that_is_so() {
    let mut wall = Wall::new();
    let plate = |spacing: &str, proof: &str| {
        format!(
            "{JOB}[fixings]\nwall = \"concrete\"\nload_factor = 1.5\n[[fixings.plate]]\nname = \"one\"\nrole = \"other\"\n\
             width = \"300 mm\"\nheight = \"340 mm\"\nanchors = [[\"-100 mm\", \"145 mm\"], [\"100 mm\", \"-145 mm\"]]\n\
             approval = \"sheet\"\ntension = \"1.5 kN\"\nshear = \"1.8 kN\"\nspacing = \"{spacing}\"\n\
             meant_for = \"factored loads\"\n{proof}\
             [[fixings.mass]]\nname = \"arm\"\nweight = \"18 kg\"\narm = \"350 mm\"\n"
        )
    };
    let data = |judged: &'static str, used: f64, found: Value| {
        move |data: &mut Value| {
            for plate in data["plates"].as_array_mut().unwrap() {
                plate["judged"] = json!(judged);
                plate["used_percent"] = json!(used);
            }
            data["proof_loads"] = found;
        }
    };
    let pull = |found: &str| json!({"anchor": "A", "load_n": 1.0, "held_s": 60.0, "slip_mm": 0.0, "found": found});
    wall.revises(&plate("900 mm", ""));
    wall.section("fixings", data("beyond-allowed", 20.0, json!([])));
    let why = wall.why(Step::Fixings);
    assert!(why.contains("apart") && !why.contains("carries more"), "{why}");
    wall.section("fixings", data("beyond-allowed", 140.0, json!([])));
    assert!(wall.why(Step::Fixings).contains("carries more"));
    wall.section("fixings", data("beyond-allowed", 20.0, json!([pull("slipped"), pull("held")])));
    assert!(wall.why(Step::Fixings).contains("slipped"));
    wall.revises(&plate("90 mm", ""));
    wall.section("fixings", data("within-allowed", 20.0, json!([])));
    assert_eq!(wall.word(Step::Fixings), "done");
    let pulled = |load: &str| {
        let asked =
            format!("proof_load = \"{load}\"\nproof_time = \"60 s\"\nproof_slip = \"0.5 mm\"\n");
        let pulls = ["A", "B"].map(|anchor| {
            format!(
                "[[fixings.proof]]\nplate = \"one\"\nanchor = \"{anchor}\"\nload = \"{load}\"\nheld = \"60 s\"\nslip = \"0.1 mm\"\n"
            )
        });
        plate("90 mm", &asked) + &pulls.concat()
    };
    wall.revises(&pulled("1 N"));
    wall.section("fixings", data("within-allowed", 20.0, json!([pull("held")])));
    assert!(wall.why(Step::Fixings).contains("proves nothing below"));
    wall.revises(&pulled("1.5 kN"));
    wall.section("fixings", data("within-allowed", 20.0, json!([pull("held")])));
    assert_eq!(wall.word(Step::Fixings), "done");
}

#[test]
fn a_proof_closes_its_step_where_it_is_within_and_a_turn_opens_it_again() {
    let mut wall = Wall::new();
    let touch = |verdict: &str| {
        json!({
            "verdict": verdict, "because": "touch", "settle": null, "cause": null,
            "image": {"width_mm": 2025.0, "height_mm": 1265.6}, "tool": "rod", "limit_mm": 3.0,
            "map": null, "places": [], "marks": [], "strokes": [], "parts": [], "told": [], "made": {},
        })
    };
    wall.judged(Verdict::Within);
    for (verdict, word) in [("outside", "open"), ("unsure", "open"), ("within", "done")] {
        wall.section("touch", |data| *data = touch(verdict));
        assert_eq!(wall.word(Step::Proof), word, "{verdict}");
    }
    wall.turned();
    assert_eq!(wall.word(Step::Proof), "stale");
}

/// Held against the gauge on this board: what came of it closes the step, or says why not.
#[test]
fn a_check_on_this_board_closes_the_zero_where_it_holds() {
    let mut wall = Wall::new();
    for (verdict, word) in
        [(Verdict::Outside, "open"), (Verdict::Unsure, "open"), (Verdict::Within, "done")]
    {
        wall.put(ZeroChecked {
            head: head("first"),
            constants: json!({}),
            reference: "gauge".to_owned(),
            known: Mm(6.0),
            error: Mm(0.01),
            expanded_u: Mm(0.05),
            verdict,
        });
        assert_eq!(wall.word(Step::Zero), word, "{verdict:?}");
    }
}

#[test]
fn what_is_turned_after_the_verdict_undoes_it() {
    let mut wall = Wall::new();
    wall.judged(Verdict::Within);
    wall.left();
    assert_eq!((wall.word(Step::Trim), wall.word(Step::AsLeft)), ("done", "done"));
    wall.turned();
    for step in [Step::Trim, Step::AsLeft] {
        let State::Stale { done, by, why } = wall.state(step) else { panic!("{step:?}") };
        assert!(by.unwrap().event > done.event && why.contains("turned"), "{why}");
    }
    wall.judged(Verdict::Within);
    assert_eq!((wall.word(Step::Trim), wall.word(Step::AsLeft)), ("done", "stale"));
}

#[test]
fn a_head_zeroed_anew_undoes_the_verdict_and_the_same_constants_do_not() {
    let mut wall = Wall::new();
    wall.zeroed("first");
    wall.judged(Verdict::Within);
    wall.zeroed("first");
    assert_eq!(wall.word(Step::Trim), "done");
    wall.zeroed("second");
    assert_eq!(wall.word(Step::Trim), "stale");
}

#[test]
fn work_done_again_undoes_what_stands_on_it_and_the_same_result_does_not() {
    let mut wall = Wall::new();
    wall.section("set-out", clear);
    wall.says(Step::Services, SaidHow::Done);
    wall.section("set-out", clear);
    assert_eq!(wall.word(Step::Services), "done");
    wall.section("set-out", |data| {
        clear(data);
        data["width_mm"] = json!(1990.0);
    });
    assert_eq!(wall.word(Step::Services), "stale");
    wall.says(Step::Focus, SaidHow::Done);
    wall.says(Step::Hanging, SaidHow::Done);
    assert_eq!(wall.word(Step::Focus), "stale");
    wall.says(Step::Focus, SaidHow::Done);
    assert_eq!(wall.word(Step::Focus), "done");
}

#[test]
fn what_is_left_out_says_why_and_is_not_to_do() {
    let mut wall = Wall::new();
    wall.says(Step::Survey, SaidHow::LeftOut);
    let State::LeftOut { by, why } = wall.state(Step::Survey) else { panic!() };
    assert_eq!((by.who.as_str(), why.as_str()), ("A. Fitter", "no time"));
    for step in Step::all() {
        wall.says(step, SaidHow::LeftOut);
    }
    let events = wall.record.job("Hall 3").unwrap().events;
    assert!(next(&standings(&events)).is_none() && !holds_others_up(&standings(&events)));
}

#[test]
fn a_step_of_a_newer_program_is_passed_over() {
    let mut wall = Wall::new();
    wall.put(made::step("paint", None));
    let events = wall.record.job("Hall 3").unwrap().events;
    assert_eq!(standings(&events).len(), Step::all().count());
}

/// The table is another file's matter: what the record kept of it tells whether it is the same.
/// A survey, and a verdict over it: by the hashes that were kept with each, the table being this now.
fn by_table(survey: Option<Hash>, judged_over: Option<Hash>, now: Table) -> [State; 2] {
    let mut wall = Wall::new();
    wall.section("survey", |data| {
        data["band"]["verdict"] = json!("within");
        if let Some(survey) = survey {
            data["table_sha256"] = json!(survey);
        }
    });
    wall.put(Judged { survey_sha256: judged_over, ..made::judged(Verdict::Within) });
    let events = wall.record.job("Hall 3").unwrap().events;
    let mut found = standings(&events);
    table_is(&mut found, &events, now);
    [Step::Survey, Step::Trim].map(|step| of(step, found.clone()))
}

#[test]
fn a_survey_and_what_was_judged_over_it_stand_as_long_as_its_table_does() {
    let kept = Hash::of(b"heights");
    let words = |with, over, now| by_table(with, over, now).map(|state| state.word());
    assert_eq!(words(Some(kept), Some(kept), Table::Is(kept)), ["done", "done"]);
    let other = Table::Is(Hash::of(b"others"));
    for (now, says) in
        [(other, "is another"), (Table::Gone, "is gone"), (Table::Unread, "cannot be read")]
    {
        for state in by_table(Some(kept), Some(kept), now) {
            let State::Stale { why, by: None, .. } = state else { panic!("{now:?}") };
            assert!(why.contains(says), "{why}");
        }
        // Each by its own: judged over a table that nobody kept as a survey, or before a table was
        // kept with a verdict.
        assert_eq!(words(None, Some(kept), now), ["done", "stale"]);
        assert_eq!(words(Some(kept), None, now), ["stale", "done"]);
        assert_eq!(words(None, None, now), ["done", "done"], "an older record says nothing of it");
    }
}

/// Whoever quits midway reads that it is not finished, and not that it is too close to call.
#[test]
fn a_survey_broken_off_is_said_to_be_unfinished() {
    let mut wall = Wall::new();
    let unsure = |data: &mut Value| data["band"]["verdict"] = json!("unsure");
    wall.section("survey", |data| {
        unsure(data);
        data["points"] = json!(1);
        data["twist_mm"] = Value::Null;
    });
    let says = "not finished: 1 place surveyed so far, not all over the image";
    assert_eq!(wall.why(Step::Survey), says);
    wall.section("survey", unsure);
    assert!(wall.why(Step::Survey).starts_with("too close to call"));
}
