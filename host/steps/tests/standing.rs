//! A job's record, event by event, and how its steps stand.

use serde_json::{Value, json};
use skimgauge_model::{Phase, Verdict};
use skimgauge_quantity::Mm;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{
    AsLeft, CalibrationUsed, Detail, Head, JobRevised, Judged, Take, TurnObserved, ZeroChecked,
};
use skimgauge_record::section::{SaidHow, Section, StepSaid};
use skimgauge_record::{Body, JobId, Record, Stamp, When};
use skimgauge_steps::standing::{holds_others_up, next};
use skimgauge_steps::{State, Step, standings};

const JOB: &str = "[job]\nname = \"Hall 3\"\nclient = \"Larch Lane\"\nplace = \"north wall\"\nby = \"R. Oakes\"\n\
                   [image]\ndiagonal = \"94 in\"\naspect = \"16:10\"\n";

struct Wall {
    _folder: tempfile::TempDir,
    record: Record,
    events: u32,
}

impl Wall {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut record = Record::create(&folder.path().join("record.sqlite")).unwrap();
        record.open_job(JobId([1; 16]), "Hall 3", JOB, &stamp(0)).unwrap();
        Self { _folder: folder, record, events: 0 }
    }

    fn put(&mut self, body: impl Into<Body>) {
        self.events += 1;
        self.record.append("Hall 3", &stamp(self.events), body).unwrap();
    }

    fn section(&mut self, name: &str, change: impl FnOnce(&mut Value)) {
        let all: Value =
            serde_json::from_str(include_str!("../../record/tests/data/sections_v1.json")).unwrap();
        let mut data = all[name].clone();
        change(&mut data);
        let whole = json!({"section": name, "data_version": 1, "data": data});
        let section: Section = serde_json::from_value(whole).unwrap();
        assert!(!matches!(section, Section::Other(_)), "{name}");
        self.put(section);
    }

    fn says(&mut self, step: Step, how: SaidHow) {
        let why = (how == SaidHow::LeftOut).then(|| "no time".to_owned());
        self.put(Section::from(StepSaid {
            step: step.word().to_owned(),
            how,
            why,
            checked: Vec::new(),
        }));
    }

    fn judged(&mut self, verdict: Verdict) {
        self.put(Judged {
            verdict,
            phase: Phase::AsLeft,
            worst: None,
            worst_gap: None,
            margin: None,
            expanded_u: None,
            decision_rule: String::new(),
            would_settle: None,
            judged_at: None,
            detail: Detail::default(),
        });
    }

    /// One take, and that it is left so.
    fn left(&mut self) {
        self.events += 1;
        let take = Take {
            station: "top left".to_owned(),
            x: Mm(-1000.0),
            y: Mm(0.0),
            phase: Phase::AsLeft,
            round: 1,
            gap: Mm(2.5),
            u_gap: Mm(0.02),
            dof: None,
            readings: 90,
            window_s: 1.0,
            tilt: None,
            level: None,
            lean: None,
            temperature: None,
            verdict: None,
            head: head("first"),
            flags: Vec::new(),
            supersedes: None,
            came: None,
            by: None,
        };
        let take = self.record.append("Hall 3", &stamp(self.events), take).unwrap().hash;
        self.put(AsLeft { takes: vec![take], tilt: None });
    }

    fn turned(&mut self) {
        self.put(TurnObserved {
            adjuster: "left".to_owned(),
            advice: None,
            turns: None,
            station: Some("top left".to_owned()),
            gap_before: Some(Mm(3.0)),
            gap_after: Some(Mm(2.0)),
            gap_predicted: None,
            flags: Vec::new(),
            by: None,
        });
    }

    fn zeroed(&mut self, constants: &str) {
        self.put(CalibrationUsed {
            head: head(constants),
            zero: Mm(0.0),
            u_zero: Mm(0.01),
            dof: None,
            constants: Value::Null,
        });
    }

    fn state(&self, step: Step) -> State {
        let events = self.record.job("Hall 3").unwrap().events;
        standings(&events).into_iter().find(|standing| standing.step == step).unwrap().state
    }

    fn word(&self, step: Step) -> &'static str {
        self.state(step).word()
    }
}

fn head(constants: &str) -> Head {
    Head {
        serial: "SG-0007".to_owned(),
        firmware: "0.2.0".to_owned(),
        calibration_date: None,
        calibration_sha256: Some(Hash::of(constants.as_bytes())),
    }
}

fn stamp(after_s: u32) -> Stamp {
    let at = When::parse(&format!("2026-11-25T08:{:02}:{:02}+01:00", after_s / 60, after_s % 60));
    Stamp::new(at.unwrap(), "A. Fitter", "skimgauge 0.1.0").unwrap()
}

fn clear(data: &mut Value) {
    data["to_change_first"] = json!([]);
}

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
    for verdict in [Verdict::Outside, Verdict::Unsure] {
        wall.judged(verdict);
        assert_eq!(wall.word(Step::Trim), "open");
    }
    wall.judged(Verdict::Within);
    assert_eq!(wall.word(Step::Trim), "done");
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
        assert!(by.event > done.event && why.contains("turned"), "{why}");
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
fn another_image_in_the_job_file_undoes_what_was_measured_of_the_first() {
    let mut wall = Wall::new();
    wall.section("set-out", clear);
    let revised = |text: String| JobRevised {
        job_file_sha256: Hash::of(text.as_bytes()),
        job_file: text,
        said_same: Vec::new(),
    };
    wall.put(revised(format!("# a remark\n{JOB}")));
    assert_eq!(wall.word(Step::SetOut), "done");
    wall.put(revised(JOB.replace("94 in", "96 in")));
    assert_eq!(wall.word(Step::SetOut), "stale");
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
    wall.put(Section::from(StepSaid {
        step: "paint".to_owned(),
        how: SaidHow::Done,
        why: None,
        checked: Vec::new(),
    }));
    let events = wall.record.job("Hall 3").unwrap().events;
    assert_eq!(standings(&events).len(), Step::all().count());
}
