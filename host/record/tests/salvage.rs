//! What is saved out of a damaged record: what holds as it stands, what is whole behind the break
//! marked as such.

mod common;

use std::fs;
use std::path::Path;

use common::{filled, id, stamp};
use rusqlite::Connection;
use skimgauge_record::event::Salvaged;
use skimgauge_record::portable::Carried;
use skimgauge_record::salvage::salvage;
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, Record, RecordError};

/// Changes a record past its triggers, which are not put back.
fn damage(path: &Path, sql: &str) {
    Connection::open(path)
        .unwrap()
        .execute_batch(&format!(
            "PRAGMA foreign_keys = off; DROP TRIGGER event_stays; DROP TRIGGER event_keeps; DROP TRIGGER photo_keeps; {sql}"
        ))
        .unwrap();
}

fn saved(path: &Path, to: &Path) -> Vec<Carried> {
    let damaged = fs::read(path).unwrap();
    let carried = salvage(path, to, &stamp(100), || Ok(id(77))).unwrap();
    assert_eq!(fs::read(path).unwrap(), damaged, "the damaged record was touched");
    let report = verify(to).unwrap();
    assert!(report.sound(), "{:?}", report.first_wrong());
    carried
}

fn from_behind(record: &Record, job: &str) -> Vec<Salvaged> {
    let events = record.job(job).unwrap().events;
    events
        .into_iter()
        .filter_map(|event| match event.body {
            Body::Salvaged(saved) => Some(saved),
            _ => None,
        })
        .collect()
}

#[test]
fn what_stands_before_the_break_is_saved_and_what_is_whole_behind_it_marked() {
    let folder = tempfile::tempdir().unwrap();
    let (from, to) = (folder.path().join("a.sqlite"), folder.path().join("saved.sqlite"));
    let source = filled(&from, true);
    let whole = source.job("Hall 3").unwrap();
    damage(&from, "UPDATE event SET who = 'x' WHERE job_id = 1 AND seq = 10");
    assert!(matches!(
        source.export_job("Hall 3", &folder.path().join("x")),
        Err(RecordError::Damaged { .. })
    ));
    let carried = saved(&from, &to);
    assert_eq!((carried[0].new_events, carried[0].behind, carried[0].lost), (9, 16, 1));
    assert_eq!(carried[0].broken.as_ref().map(|broken| broken.seq), Some(10));
    assert_eq!((carried[1].new_events, &carried[1].broken, carried[1].behind), (2, &None, 0));

    let record = Record::open(&to).unwrap();
    let job = record.job("Hall 3").unwrap();
    assert_eq!(&job.events[..9], &whole.events[..9], "what holds stands as it stood");
    assert_eq!(job.summary.id, whole.summary.id);
    // Behind the break nothing counts: no take, no close.
    assert_eq!(job.takes().count(), whole.takes().filter(|take| take.event.seq < 10).count());
    assert!(!job.summary.closed);
    for (saved, was) in from_behind(&record, "Hall 3").iter().zip(&whole.events[10..]) {
        assert_eq!(
            (saved.seq, saved.hash, saved.who.as_str(), saved.broke_at),
            (was.seq, was.hash, was.who.as_str(), 10)
        );
        assert_eq!(saved.payload, was.body.payload().unwrap());
    }
    assert_eq!(saved_again(&folder.path().join("again.sqlite"), &to), 0);
}

/// A record that is whole is carried whole.
fn saved_again(to: &Path, from: &Path) -> u32 {
    let carried = salvage(from, to, &stamp(100), || Ok(id(77))).unwrap();
    assert!(carried.iter().all(|job| job.broken.is_none() && job.lost == 0));
    carried.iter().map(|job| job.behind).sum()
}

/// A bit in the first event takes the job's identity with it: what is whole is saved under a new
/// one.
#[test]
fn a_job_whose_beginning_is_gone_is_saved_under_a_new_identity() {
    let folder = tempfile::tempdir().unwrap();
    let (from, to) = (folder.path().join("a.sqlite"), folder.path().join("saved.sqlite"));
    filled(&from, false);
    damage(
        &from,
        "UPDATE event SET payload = replace(payload, 'Hall', 'Hull') WHERE job_id = 1 AND seq = 1",
    );
    let carried = saved(&from, &to);
    assert_eq!(
        (carried[0].new_events, carried[0].behind, carried[0].lost, carried[0].id),
        (0, 24, 1, id(77))
    );
    let record = Record::open(&to).unwrap();
    assert_eq!(from_behind(&record, "Hall 3").len(), 24);
    // The photo that one of them speaks of came with it.
    let attached = from_behind(&record, "Hall 3")
        .into_iter()
        .find(|saved| saved.kind == "photo attached")
        .unwrap();
    let photo: skimgauge_record::event::PhotoAttached =
        serde_json::from_str(&attached.payload).unwrap();
    assert_eq!(record.photo(photo.sha256).unwrap().unwrap().len(), 9000);
}

#[test]
fn events_that_are_gone_are_counted() {
    let folder = tempfile::tempdir().unwrap();
    let (from, to) = (folder.path().join("a.sqlite"), folder.path().join("saved.sqlite"));
    filled(&from, true);
    damage(&from, "DELETE FROM event WHERE job_id = 1 AND seq IN (5, 26); DELETE FROM photo");
    let carried = saved(&from, &to);
    assert_eq!((carried[0].new_events, carried[0].behind, carried[0].lost), (4, 20, 2));
    assert_eq!(carried[0].broken.as_ref().map(|broken| broken.seq), Some(5));
}

/// A list of jobs that says there are four thousand million events does not keep anyone waiting.
#[test]
fn a_count_that_cannot_be_is_not_believed() {
    let folder = tempfile::tempdir().unwrap();
    let (from, to) = (folder.path().join("a.sqlite"), folder.path().join("saved.sqlite"));
    filled(&from, false);
    damage(&from, "UPDATE job SET last_seq = 4294967295 WHERE job_id = 2");
    let carried = saved(&from, &to);
    assert_eq!((carried[1].new_events, carried[1].behind), (1, 0));
    assert!(carried[1].broken.is_some());
}

#[test]
fn an_old_record_is_saved_without_being_brought_up_to_date() {
    let folder = tempfile::tempdir().unwrap();
    let (from, to) = (folder.path().join("a.sqlite"), folder.path().join("saved.sqlite"));
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/record_v1.sqlite");
    fs::copy(fixture, &from).unwrap();
    let connection = Connection::open(&from).unwrap();
    connection
        .execute_batch(
            "DROP TRIGGER event_stays; UPDATE event SET who = 'x' WHERE job_id = 1 AND seq = 7",
        )
        .unwrap();
    drop(connection);
    let carried = saved(&from, &to);
    assert_eq!((carried[0].new_events, carried[0].lost), (6, 1));
    // The event after the one that was changed followed its hash, which is still there.
    let record = Record::open(&to).unwrap();
    assert!(from_behind(&record, "Hall 3").iter().all(|saved| saved.rule == 1 && saved.seq > 7));
    assert!(carried[0].behind > 5);
}
