//! A record made event by event.

#![allow(dead_code, reason = "each test binary takes what it needs")]

#[path = "../../../record/tests/made/mod.rs"]
pub(crate) mod made;

use serde_json::{Value, json};
use skimgauge_model::{Phase, Verdict};
use skimgauge_quantity::Mm;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{AsLeft, CalibrationUsed, Head, Take, TurnObserved};
use skimgauge_record::section::{SaidHow, Section};
use skimgauge_record::{Body, JobId, Record, Stamp, When};
use skimgauge_steps::{Standing, State, Step, standings, standings_by};

pub(crate) const JOB: &str = "[job]\nname = \"Hall 3\"\nclient = \"Larch Lane\"\nplace = \"north wall\"\nby = \"R. Oakes\"\n\
                   [image]\ndiagonal = \"94 in\"\naspect = \"16:10\"\n";

pub(crate) struct Wall {
    _folder: tempfile::TempDir,
    pub(crate) record: Record,
    events: u32,
}

impl Wall {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut record = Record::create(&folder.path().join("record.sqlite")).unwrap();
        record.open_job(JobId([1; 16]), "Hall 3", JOB, &stamp(0)).unwrap();
        Self { _folder: folder, record, events: 0 }
    }

    pub(crate) fn put(&mut self, body: impl Into<Body>) {
        self.events += 1;
        self.record.append("Hall 3", &stamp(self.events), body).unwrap();
    }

    pub(crate) fn section(&mut self, name: &str, change: impl FnOnce(&mut Value)) {
        let mut data = made::sections().remove(name).unwrap_or_default();
        change(&mut data);
        let whole = json!({"section": name, "data_version": 1, "data": data});
        let section: Section = serde_json::from_value(whole).unwrap();
        assert!(!matches!(section, Section::Other(_)), "{name}");
        self.put(section);
    }

    pub(crate) fn says(&mut self, step: Step, how: SaidHow) {
        let why = (how == SaidHow::LeftOut).then_some("no time");
        self.put(made::step(step.word(), why));
    }

    /// What the anchors carry, and what their proof loads found.
    pub(crate) fn anchors(&mut self, judged: &str, pulls: &[&str]) {
        self.section("fixings", |data| {
            for plate in data["plates"].as_array_mut().unwrap() {
                plate["judged"] = json!(judged);
            }
            let pull = |found: &&str| {
                json!({"anchor": "A", "load_n": 600.0, "held_s": 60.0, "slip_mm": 0.0, "found": found})
            };
            data["proof_loads"] = pulls.iter().map(pull).collect();
        });
    }

    pub(crate) fn judged(&mut self, verdict: Verdict) {
        self.put(made::judged(verdict));
    }

    /// One take, and that it is left so.
    pub(crate) fn left(&mut self) {
        let take = self.takes(head("first"));
        self.put(AsLeft { takes: vec![take], tilt: None });
    }

    pub(crate) fn takes(&mut self, head: Head) -> Hash {
        self.events += 1;
        let take = made::take("top left", -1000.0, 0.0, Phase::AsLeft, 1, 2.5);
        let take = Take { head, ..take };
        self.record.append("Hall 3", &stamp(self.events), take).unwrap().hash
    }

    pub(crate) fn turned(&mut self) {
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

    pub(crate) fn zeroed(&mut self, constants: &str) {
        self.uses(head(constants));
    }

    pub(crate) fn uses(&mut self, head: Head) {
        self.put(CalibrationUsed {
            head,
            zero: Mm(0.0),
            u_zero: Mm(0.01),
            dof: None,
            constants: Value::Null,
        });
    }

    pub(crate) fn revises(&mut self, text: &str) {
        self.put(made::revised(text));
    }

    pub(crate) fn standings(&self) -> Vec<Standing> {
        standings(&self.record.job("Hall 3").unwrap().events)
    }

    /// With this job file on disk, of which no event tells.
    pub(crate) fn state_by(&self, step: Step, file: &str) -> State {
        let events = self.record.job("Hall 3").unwrap().events;
        of(step, standings_by(&events, file))
    }

    pub(crate) fn state(&self, step: Step) -> State {
        of(step, self.standings())
    }

    /// Why a step is open.
    pub(crate) fn why(&self, step: Step) -> String {
        match self.state(step) {
            State::Open { found: Some((_, why)) } => why,
            other => panic!("{other:?}"),
        }
    }

    pub(crate) fn word(&self, step: Step) -> &'static str {
        self.state(step).word()
    }
}

pub(crate) fn of(step: Step, standings: Vec<Standing>) -> State {
    standings.into_iter().find(|standing| standing.step == step).unwrap().state
}

pub(crate) fn head(constants: &str) -> Head {
    Head { calibration_sha256: Some(Hash::of(constants.as_bytes())), ..made::head() }
}

pub(crate) fn stamp(after_s: u32) -> Stamp {
    let at = When::parse(&format!("2026-11-25T08:{:02}:{:02}+01:00", after_s / 60, after_s % 60));
    Stamp::new(at.unwrap(), "A. Fitter", "skimgauge 0.1.0").unwrap()
}

pub(crate) fn clear(data: &mut Value) {
    data["to_change_first"] = json!([]);
}
