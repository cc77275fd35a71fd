//! Records in which a trim wrote every take that stood once more, as left: the copies are known as
//! what they are.

mod common;

use std::fs;
use std::path::Path;

use common::{id, stamp, take};
use rusqlite::Connection;
use skimgauge_quantity::Deg;
use skimgauge_record::chain::{Hash, Row, link_first};
use skimgauge_record::event::{
    AsLeft, Body, EmitterTilt, Phase, StepUndone, Struck, StruckOut, Take,
};
use skimgauge_record::table::{TAKE_COLUMNS, write_json, write_takes};
use skimgauge_record::verify::verify;
use skimgauge_record::{JobHistory, Record};

/// Appends an event as a program of format 1 would have.
fn append_v1(path: &Path, kind: &str, payload: &serde_json::Value) -> u32 {
    let connection = Connection::open(path).unwrap();
    let (seq, before): (u32, Hash) = connection
        .query_row("SELECT last_seq + 1, last_hash FROM job WHERE job_id = 2", [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .unwrap();
    let (payload, at) = (payload.to_string(), stamp(100 + seq).at.to_string());
    let row = Row {
        seq,
        at: &at,
        who: "A. Fitter",
        software: "skimgauge 0.1.0",
        kind,
        version: 1,
        payload: &payload,
    };
    let hash = link_first(before, row);
    let columns = (2, seq, row.at, row.who, row.software, row.kind, row.version, row.payload, hash);
    connection
        .execute("INSERT INTO event VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)", columns)
        .unwrap();
    let counts = u32::from(
        kind == "take"
            && serde_json::from_str::<serde_json::Value>(&payload).unwrap()["supersedes"].is_null(),
    );
    connection
        .execute(
            "UPDATE job SET last_seq = ?1, last_hash = ?2, last_at = ?3, takes = takes + ?4 WHERE job_id = 2",
            (seq, hash, row.at, counts),
        )
        .unwrap();
    connection.execute("UPDATE seal SET digest = zeroblob(32)", []).unwrap();
    seq
}

fn v1(take: &Take, phase: Phase, supersedes: Option<u32>) -> serde_json::Value {
    let mut payload = serde_json::to_value(Take {
        phase,
        supersedes: None,
        came: None,
        by: None,
        ..take.clone()
    })
    .unwrap();
    payload.as_object_mut().unwrap().remove("came");
    payload.as_object_mut().unwrap().remove("by");
    payload["supersedes"] = serde_json::to_value(supersedes).unwrap();
    payload
}

/// As found, a round in between with a redo, and the standing takes of it written again as left, as
/// the old trim did.
fn old_trim(path: &Path) {
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/record_v1.sqlite");
    fs::copy(fixture, path).unwrap();
    let at = |station: &str, round, gap_mm| Take { round, ..take(station, gap_mm) };
    for (station, gap_mm) in [("top", 1.1), ("left", 5.2), ("right", 3.3)] {
        append_v1(path, "take", &v1(&at(station, 1, gap_mm), Phase::AsFound, None));
    }
    let between = [at("top", 2, 2.41), at("left", 2, 2.52), at("right", 2, 2.43)];
    append_v1(path, "take", &v1(&between[0], Phase::Between, None));
    let slip = append_v1(path, "take", &v1(&at("left", 2, 2.9), Phase::Between, None));
    append_v1(path, "take", &v1(&between[1], Phase::Between, Some(slip)));
    append_v1(path, "take", &v1(&between[2], Phase::Between, None));
    let tilt = |phase| {
        let head = take("top", 1.0).head;
        serde_json::to_value(EmitterTilt {
            phase,
            round: 2,
            level: Deg(0.06),
            lean: Deg(-0.01),
            u: Deg(0.01),
            head,
            by: None,
        })
        .unwrap()
    };
    append_v1(path, "emitter tilt", &tilt(Phase::Between));
    for copy in &between {
        append_v1(path, "take", &v1(copy, Phase::AsLeft, None));
    }
    append_v1(path, "emitter tilt", &tilt(Phase::AsLeft));
}

fn counted_once(job: &JobHistory) {
    assert_eq!(job.broken, None);
    assert_eq!(job.summary.takes, 6, "seven were made, one of them was replaced");
    assert_eq!(job.takes().count(), 7);
    let left: Vec<(u32, &str, f64)> = job
        .standing(Phase::AsLeft)
        .iter()
        .map(|c| (c.event.seq, c.take.station.as_str(), c.take.gap.0))
        .collect();
    assert_eq!(
        left,
        [(5, "top", 2.41), (7, "left", 2.52), (8, "right", 2.43)],
        "the takes themselves, not their copies"
    );
    let copies: Vec<(u32, u32)> = job
        .events
        .iter()
        .filter_map(|event| Some((event.seq, job.place(event.copy_of?)?)))
        .collect();
    assert_eq!(copies, [(10, 5), (11, 7), (12, 8), (13, 9)]);

    let mut text = Vec::new();
    write_takes(job, &mut text).unwrap();
    let mut table = csv::Reader::from_reader(text.as_slice());
    let lines: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let column = |name: &str| TAKE_COLUMNS.iter().position(|column| *column == name).unwrap();
    assert_eq!(lines.len(), 7);
    assert_eq!(lines.iter().filter(|line| &line[column("as_left")] == "yes").count(), 3);
    assert_eq!(&lines[5][column("supersedes")], "6");

    let mut text = Vec::new();
    write_json(job, &mut text).unwrap();
    let json: serde_json::Value = serde_json::from_slice(&text).unwrap();
    assert_eq!(json["summary"]["takes"], 6);
    let events = json["events"].as_array().unwrap();
    assert_eq!(
        events.iter().filter(|event| event["kind"] == "take" && event["copy_of"].is_null()).count(),
        7
    );
}

#[test]
fn copies_in_an_old_record_are_counted_once_before_and_after_it_is_brought_up_to_date() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    old_trim(&path);
    assert!(verify(&path).unwrap().sound(), "{:?}", verify(&path).unwrap().first_wrong());
    let record = Record::open_read_only(&path).unwrap();
    counted_once(&record.job("Hall 4").unwrap());
    assert!(
        record
            .jobs_checked()
            .unwrap()
            .iter()
            .any(|job| job.summary.name == "Hall 4" && job.summary.takes == 6)
    );
    drop(record);
    let record = Record::open(&path).unwrap();
    counted_once(&record.job("Hall 4").unwrap());
    assert!(record.jobs().unwrap().iter().any(|job| job.name == "Hall 4" && job.takes == 6));
    assert!(verify(&path).unwrap().sound());
}

/// What today's program writes twice is two takes, whatever the numbers.
#[test]
fn what_is_taken_today_is_never_a_copy() {
    let (_folder, mut record) = common::record("Hall 3");
    for phase in [Phase::Between, Phase::AsLeft] {
        record.append("Hall 3", &stamp(1), Take { phase, ..take("top", 3.0) }).unwrap();
    }
    let job = record.job("Hall 3").unwrap();
    assert_eq!(
        (job.summary.takes, job.events.iter().filter(|event| event.copy_of.is_some()).count()),
        (2, 0)
    );
}

#[test]
fn as_left_refers_and_a_later_one_stands_in_its_place() {
    let (_folder, mut record) = common::record("Hall 3");
    let mut put =
        |after_s, body: Body| record.append("Hall 3", &stamp(after_s), body).map(|kept| kept.hash);
    let between = |station: &str, round, gap_mm| Take {
        phase: Phase::Between,
        round,
        ..take(station, gap_mm)
    };
    let top = put(1, between("top", 1, 3.0).into()).unwrap();
    let left = put(2, between("left", 1, 3.1).into()).unwrap();
    put(3, AsLeft { takes: vec![top, left], tilt: None }.into()).unwrap();
    let again = put(4, between("top", 2, 2.0).into()).unwrap();
    put(5, AsLeft { takes: vec![again], tilt: None }.into()).unwrap();
    // Taken as left afterwards: in the place of what stood at its station, beside the rest.
    put(6, Take { phase: Phase::AsLeft, round: 3, ..take("right", 2.2) }.into()).unwrap();
    for (wrong, why) in [
        (AsLeft { takes: vec![], tilt: None }, "nothing was taken"),
        (AsLeft { takes: vec![top, top], tilt: None }, "named twice"),
        (AsLeft { takes: vec![Hash::NONE], tilt: None }, "there is no event"),
        (AsLeft { takes: vec![top], tilt: Some(left) }, "tilt"),
    ] {
        let error = put(7, wrong.into()).unwrap_err().to_string();
        assert!(error.contains(why), "{error}");
    }
    let job = record.job("Hall 3").unwrap();
    let stands: Vec<f64> =
        job.standing(Phase::AsLeft).iter().map(|current| current.take.gap.0).collect();
    assert_eq!(stands, [2.0, 2.2]);
    assert_eq!(job.summary.takes, 4);
    assert_eq!(job.current_takes().len(), 3);
    assert_eq!(id(1), job.summary.id);
}

/// A take that was read elsewhere than at its station is struck out: it stands nowhere, counts
/// nowhere, and nothing refers to it as standing; the next at its station stands alone.
#[test]
fn what_is_struck_out_stands_no_more() {
    let (_folder, mut record) = common::record("Hall 3");
    let mut put =
        |after_s, body: Body| record.append("Hall 3", &stamp(after_s), body).map(|kept| kept.hash);
    let wrong = put(1, take("top", 9.0).into()).unwrap();
    let left = put(2, take("left", 3.1).into()).unwrap();
    let struck = |takes| StruckOut { takes, why: Struck::LightLeaves, by: None };
    put(3, struck(vec![wrong]).into()).unwrap();
    let again = put(4, take("top", 3.0).into()).unwrap();
    let named_twice = "no take that stands, or is named twice";
    for (body, why) in [
        (struck(vec![wrong]).into(), named_twice),
        (struck(vec![left, left]).into(), named_twice),
        (struck(vec![]).into(), "nothing is named"),
        (struck(vec![Hash::NONE]).into(), "there is no event"),
        (AsLeft { takes: vec![wrong, left], tilt: None }.into(), named_twice),
        (Take { supersedes: Some(wrong), ..take("top", 3.2) }.into(), "struck out"),
    ] {
        let error = put(5, body).unwrap_err().to_string();
        assert!(error.contains(why), "{error}");
    }
    put(6, AsLeft { takes: vec![left, again], tilt: None }.into()).unwrap();
    // Found out later still.
    put(7, struck(vec![left]).into()).unwrap();
    let job = record.job("Hall 3").unwrap();
    for phase in [Phase::AsFound, Phase::AsLeft] {
        let stands: Vec<_> = job.standing(phase).iter().map(|current| current.event.hash).collect();
        assert_eq!(stands, [again], "{phase:?}");
    }
    assert_eq!((job.takes().count(), job.summary.takes), (3, 1));
    let mut table = Vec::new();
    skimgauge_record::table::write_takes(&job, &mut table).unwrap();
    let table = String::from_utf8(table).unwrap();
    let stands: Vec<&str> =
        table.lines().skip(1).map(|line| line.split(',').nth(3).unwrap()).collect();
    assert_eq!(stands, ["no", "no", "yes"]);
}

/// Only what was said of that very step is undone, and once.
#[test]
fn what_was_said_of_a_step_is_undone_once() {
    let (_folder, mut record) = common::record("Hall 3");
    let mut put =
        |after_s, body: Body| record.append("Hall 3", &stamp(after_s), body).map(|kept| kept.hash);
    let services = put(1, common::made::step("services", None).into()).unwrap();
    let focus = put(2, common::made::step("focus", None).into()).unwrap();
    let taken = put(3, take("top", 3.0).into()).unwrap();
    let undone = |said| StepUndone { step: "services".to_owned(), said, why: "wrong".to_owned() };
    let no_word = "says nothing of the step \"services\"";
    for (said, why) in [
        (vec![], "nothing is named"),
        (vec![Hash::NONE], "there is no event"),
        (vec![focus], no_word),
        (vec![taken], no_word),
        (vec![services, services], "named twice"),
    ] {
        let error = put(4, undone(said).into()).unwrap_err().to_string();
        assert!(error.contains(why), "{error}");
    }
    put(5, undone(vec![services]).into()).unwrap();
    let error = put(6, undone(vec![services]).into()).unwrap_err().to_string();
    assert!(error.contains(no_word), "{error}");
}
