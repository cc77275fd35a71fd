//! The touch proof as a command: practice, a proof's file judged again, what is no proof.

use crate::{EXE, WIDE, job, said};
use serde_json::Value;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Detail, Judged, Phase, Verdict};
use skimgauge_record::{Record, Stamp, When};
use skimgauge_tests::command::Place;

fn practised(place: &Place, ailment: &str, more: &[&str]) -> (Option<i32>, Value) {
    let mut args = vec!["prove", "--job", "job.toml", "--tool", "rod", "--practice", ailment];
    args.extend(["--json"]);
    args.extend(more);
    let output = place.run(args);
    let found =
        serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", said(&output)));
    (output.status.code(), found)
}

#[test]
fn practice_has_a_verdict_a_cause_and_an_exit_status_and_keeps_nothing() {
    let place = Place::new(EXE, &job(WIDE));
    for (ailment, status, verdict, cause) in [
        ("well", 0, "within", None),
        ("offset", 1, "outside", Some("recalibrate")),
        ("high", 1, "outside", Some("plane-too-high")),
        ("moved", 3, "unsure", Some("moved")),
    ] {
        let (code, found) = practised(&place, ailment, &[]);
        assert_eq!(code, Some(status), "{ailment}");
        assert_eq!(found["verdict"], verdict, "{ailment}");
        assert_eq!(found["cause"]["is"].as_str(), cause, "{ailment}");
    }
    assert!(!place.record().exists());
}

#[test]
fn a_proof_from_its_file_is_judged_as_it_was_and_the_file_is_not_written_over() {
    let place = Place::new(EXE, &job(WIDE));
    let leaf = ["--leaf", "1 mm", "--leaf", "2.5 mm", "--save", "proof.json"];
    let (code, made) = practised(&place, "bend", &leaf);
    assert_eq!(code, Some(1));
    assert_eq!(made["leaf"]["stations"].as_array().unwrap().len(), 4);
    let again = place.run(["prove", "--from", "proof.json", "--json"]);
    assert_eq!(again.status.code(), Some(1));
    let mut found = serde_json::from_slice::<Value>(&again.stdout).unwrap();
    // A file may be written by anybody: which one it was stands with the verdict.
    let before = std::fs::read(place.path("proof.json")).unwrap();
    let sha256 = Hash::of(&before).to_string();
    let from = found.as_object_mut().unwrap().remove("from").unwrap();
    assert_eq!(from, serde_json::json!({"file": "proof.json", "sha256": sha256}));
    assert_eq!(found, made);
    let told = place.run(["prove", "--from", "proof.json"]).stdout;
    let told = String::from_utf8(told).unwrap();
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains(&format!("From the file proof.json (SHA-256 {sha256}), not from touch")));
    let args = ["--job", "job.toml", "--practice", "well", "--seed", "2", "--save", "proof.json"];
    let refused = place.run(["prove"].iter().chain(&args));
    assert_eq!(refused.status.code(), Some(2), "{}", said(&refused));
    assert_eq!(std::fs::read(place.path("proof.json")).unwrap(), before);
}

#[test]
fn what_is_no_proof_is_refused_in_a_sentence() {
    let place = Place::new(EXE, &job(WIDE));
    for (name, text) in [
        ("empty.json", ""),
        ("other.json", r#"{"form":1,"image":{"width_mm":2000,"height_mm":1250}}"#),
        ("list.json", "[1,2,3]"),
        ("cut.json", r#"{"form":1,"#),
    ] {
        std::fs::write(place.path(name), text).unwrap();
        let output = place.run(["prove", "--from", name]);
        assert_eq!(output.status.code(), Some(2), "{name}");
        let told = said(&output);
        assert!(told.contains(name) && told.contains("no proof"), "{told}");
    }
    let output = place.run(["prove", "--job", "job.toml", "--practice", "toothache"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("shadow"), "{}", said(&output));
    let output = place.run(["prove", "--job", "job.toml", "--leave-out", "cellar"]);
    assert!(said(&output).contains("upper left quarter"), "{}", said(&output));
}

/// A whole job can be practised: its proof is kept where a record is named, as simulated, and closes no
/// more than a simulated one does.
#[test]
fn a_practised_proof_is_kept_in_the_record_that_is_named() {
    let place = Place::new(EXE, &job(WIDE));
    let practice = ["--record", "practice.sqlite"];
    let proof = || {
        let next = ["next", "--job", "job.toml", "--json"].into_iter().chain(practice);
        let told: Value = serde_json::from_slice(&place.run(next).stdout).unwrap();
        let steps = told["steps"].as_array().unwrap().clone();
        steps.into_iter().find(|step| step["step"] == "proof").unwrap()["state"].clone()
    };
    // Nothing is judged in that record: as at the board it is too close to call, and closes nothing.
    let (code, found) = practised(&place, "well", &practice);
    assert_eq!(
        (code, &found["verdict"], &found["simulated"]),
        (Some(3), &"unsure".into(), &true.into())
    );
    assert_eq!(proof(), "open");
    let when = When::parse("2026-11-25T09:14:03+01:00").unwrap();
    let stamp = Stamp::new(when, "R. Oakes", "test").unwrap();
    let mut record = Record::open(&place.path("practice.sqlite")).unwrap();
    let judged = Judged {
        verdict: Verdict::Within,
        phase: Phase::AsLeft,
        worst: None,
        worst_gap: None,
        margin: None,
        expanded_u: None,
        decision_rule: "practice".to_owned(),
        would_settle: None,
        judged_at: None,
        detail: Detail::default(),
        simulated: true,
        survey_sha256: None,
    };
    record.append("test wall", &stamp, judged).unwrap();
    drop(record);
    let (code, found) = practised(&place, "well", &practice);
    assert_eq!((code, &found["verdict"]), (Some(0), &"within".into()));
    assert_eq!(proof(), "simulated");
    assert!(!place.record().exists(), "kept in the usual record");
}
