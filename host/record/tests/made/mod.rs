//! What events of a record hold, for the tests of the crates that read records.

#![allow(dead_code, reason = "each test binary takes what it needs")]

use serde_json::{Map, Value};
use skimgauge_model::{Phase, Verdict};
use skimgauge_quantity::{Celsius, Deg, Mm};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Detail, Head, JobRevised, Judged, Take};
use skimgauge_record::section::{SaidHow, Section, StepSaid};

pub(crate) const RULE: &str = "within: the whole 95 % interval lies in the band; outside: all of it lies beyond; else too close to call (after ISO 14253-1)";

pub(crate) fn head() -> Head {
    Head {
        serial: "SG-0007".to_owned(),
        firmware: "0.1.0".to_owned(),
        calibration_date: Some("2026-11-20".to_owned()),
        calibration_sha256: Some(Hash::of(b"constants of SG-0007")),
    }
}

pub(crate) fn take(
    station: &str,
    x_mm: f64,
    y_mm: f64,
    phase: Phase,
    round: u32,
    gap_mm: f64,
) -> Take {
    Take {
        station: station.to_owned(),
        x: Mm(x_mm),
        y: Mm(y_mm),
        phase,
        round,
        gap: Mm(gap_mm),
        u_gap: Mm(0.0213),
        dof: Some(14.0),
        readings: 164,
        window_s: 1.6,
        tilt: Some(Deg(0.04)),
        level: Some(Deg(0.02)),
        lean: Some(Deg(-0.03)),
        temperature: Some(Celsius(20.4 + f64::from(round) * 0.3)),
        verdict: None,
        head: head(),
        flags: Vec::new(),
        supersedes: None,
        came: None,
        by: None,
    }
}

/// As left, and nothing beside the word.
pub(crate) fn judged(verdict: Verdict) -> Judged {
    Judged {
        verdict,
        phase: Phase::AsLeft,
        worst: None,
        worst_gap: None,
        margin: None,
        expanded_u: None,
        decision_rule: RULE.to_owned(),
        would_settle: None,
        judged_at: None,
        detail: Detail::default(),
        simulated: false,
        survey_sha256: None,
    }
}

pub(crate) fn revised(job_file: &str) -> JobRevised {
    JobRevised {
        job_file: job_file.to_owned(),
        job_file_sha256: Hash::of(job_file.as_bytes()),
        said_same: Vec::new(),
    }
}

/// Somebody's word of a step: done, or left out where there is a reason why.
pub(crate) fn step(step: &str, why: Option<&str>) -> Section {
    Section::from(StepSaid {
        step: step.to_owned(),
        how: if why.is_some() { SaidHow::LeftOut } else { SaidHow::Done },
        why: why.map(str::to_owned),
        checked: Vec::new(),
    })
}

/// One of each section, in its first version.
pub(crate) fn sections() -> Map<String, Value> {
    serde_json::from_str(include_str!("../data/sections_v1.json")).unwrap()
}
