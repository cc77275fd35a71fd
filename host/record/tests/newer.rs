//! What a newer program may write without a new record format: kinds and versions that this one
//! does not know, branches joined. It is kept, checked, carried, and not understood.

mod common;

use std::path::{Path, PathBuf};

use common::{every_byte, filled, forge_raw, id, stamp, take};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::Unknown;
use skimgauge_record::photo::Photo;
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, Record, RecordError};

/// Payloads with odd spaces and order, so that writing them anew would show.
const PAYLOAD: &str = "{ \"b\":1,\"a\" : [ 2.50,  \"\\u00fc\"] }";

fn place() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    (folder, path)
}

fn sound(path: &Path) {
    let report = verify(path).unwrap();
    assert!(report.sound(), "{:?}", report.first_wrong());
}

#[test]
fn unknown_kinds_and_versions_are_kept_checked_and_carried() {
    let (folder, path) = place();
    drop(filled(&path, false));
    for (kind, version, payload) in
        [("plumbed", 1, PAYLOAD), ("take", 9, PAYLOAD), ("plumbed", 2, "no JSON")]
    {
        forge_raw(&path, 2, kind, version, payload, None);
    }
    sound(&path);
    assert_eq!(verify(&path).unwrap().jobs[1].unknown, 3);
    let mut record = Record::open(&path).unwrap();
    let job = record.job("Hall 4").unwrap();
    assert_eq!((job.broken.clone(), job.unknown(), job.takes().count()), (None, 3, 0));
    let unknown = Unknown { kind: "plumbed".to_owned(), version: 1, payload: PAYLOAD.to_owned() };
    assert_eq!(job.events[1].body, Body::Unknown(unknown));
    let json: serde_json::Value = serde_json::to_value(&job.events[1]).unwrap();
    assert_eq!(
        (&json["kind"], &json["version"], &json["payload"]["b"]),
        (&"plumbed".into(), &1.into(), &1.into())
    );

    // Carried byte for byte, and a second time without a change.
    let (file, elsewhere) = (folder.path().join("x.job"), folder.path().join("b.sqlite"));
    record.export_job("Hall 4", &file).unwrap();
    let mut other = Record::create(&elsewhere).unwrap();
    assert_eq!(other.import(&file).unwrap()[0].new_events, 4);
    assert_eq!(other.import(&file).unwrap()[0].new_events, 0);
    assert_eq!(other.job("Hall 4").unwrap(), job);
    assert_eq!(every_byte(&elsewhere, 1), every_byte(&path, 2));

    // Notes say nothing of what was measured; everything else might be false after what is not
    // known.
    record.note("Hall 4", &stamp(70), "a newer program was here").unwrap();
    let error = record.append("Hall 4", &stamp(71), take("top", 3.0)).unwrap_err();
    assert!(matches!(error, RecordError::NewerEvents(_)), "{error:?}");
    assert!(error.to_string().contains("Update skimgauge"), "{error}");
    assert!(matches!(
        record.close("Hall 4", &stamp(71), &[], None),
        Err(RecordError::NewerEvents(_))
    ));
    record.append("Hall 3", &stamp(71), take("top", 3.0)).unwrap();
    sound(&path);
}

#[test]
fn a_changed_byte_of_an_unknown_event_is_found() {
    let (_folder, path) = place();
    drop(filled(&path, false));
    forge_raw(&path, 2, "plumbed", 1, PAYLOAD, None);
    common::tamper(
        &path,
        "UPDATE event SET payload = replace(payload, '2.50', '2.5') WHERE job_id = 2 AND seq = 2",
    );
    assert_eq!(verify(&path).unwrap().jobs[1].broken.as_ref().map(|broken| broken.seq), Some(2));
}

#[test]
fn a_close_in_a_newer_version_closes() {
    let (_folder, path) = place();
    drop(filled(&path, false));
    forge_raw(&path, 2, "closed", 7, "{}", None);
    common::tamper(&path, "UPDATE job SET closed = 1 WHERE job_id = 2");
    sound(&path);
    let mut record = Record::open(&path).unwrap();
    assert!(matches!(record.note("Hall 4", &stamp(70), "x"), Err(RecordError::Closed(_))));
    assert!(record.jobs().unwrap().iter().any(|job| job.name == "Hall 4" && job.closed));
}

/// A photo that only an unknown event speaks of is neither called a stray nor lost on the way.
#[test]
fn bytes_that_an_unknown_event_names_go_with_it() {
    let (folder, path) = place();
    let mut record = filled(&path, false);
    let photo = Photo { name: "x", media_type: "image/png", bytes: b"drawing", caption: None };
    record.attach("Hall 3", &stamp(50), photo).unwrap();
    drop(record);
    forge_raw(&path, 2, "sketched", 1, &format!("{{\"of\":\"{}\"}}", Hash::of(b"drawing")), None);
    let record = Record::open(&path).unwrap();
    record.export_job("Hall 4", &folder.path().join("x.job")).unwrap();
    sound(&folder.path().join("x.job"));
    let mut other = Record::create(&folder.path().join("b.sqlite")).unwrap();
    other.import(&folder.path().join("x.job")).unwrap();
    assert_eq!(other.photo(Hash::of(b"drawing")).unwrap().as_deref(), Some(b"drawing".as_slice()));
    sound(&folder.path().join("b.sqlite"));
}

/// Two branches of a job, joined by an event with two parents, are read, checked and gone on with.
#[test]
fn a_join_of_two_branches_is_read_and_gone_on_with() {
    let (_folder, path) = place();
    let record = filled(&path, false);
    let root = record.job("Hall 4").unwrap().events[0].hash;
    drop(record);
    let note = |text: &str| format!("{{\"text\":\"{text}\",\"about\":null}}");
    let one = forge_raw(&path, 2, "note", 2, &note("on site"), Some(&[root]));
    let two = forge_raw(&path, 2, "note", 2, &note("in the office"), Some(&[root]));
    let report = verify(&path).unwrap();
    let broken = report.jobs[1].broken.as_ref().unwrap();
    assert!(broken.why.contains("nothing follows event 2"), "a loose end: {broken:?}");
    let mut both = [one, two];
    both.sort();
    forge_raw(&path, 2, "joined", 9, "{}", Some(&both));
    sound(&path);
    let mut record = Record::open(&path).unwrap();
    assert_eq!(record.job("Hall 4").unwrap().events[3].parents, both);
    record.note("Hall 4", &stamp(80), "goes on").unwrap();
    sound(&path);
}

#[test]
fn parents_that_cannot_be_are_found() {
    let (_folder, path) = place();
    drop(filled(&path, false));
    let whole = std::fs::read(&path).unwrap();
    let first = Record::open_read_only(&path).unwrap().job("Hall 4").unwrap().events[0].hash;
    let later = Hash([0xff; 32]);
    for parents in
        [&[][..], &[first, first], &[later, first], &[Hash([0; 32]), first], &[later], &[first; 8]]
    {
        std::fs::write(&path, &whole).unwrap();
        forge_raw(&path, 2, "joined", 1, "{}", Some(parents));
        let broken = verify(&path).unwrap().jobs[1].broken.clone();
        assert_eq!(broken.map(|broken| broken.seq), Some(2), "{parents:?}");
    }
    // An event by the rule of format 1 does not follow one by the rule of today.
    std::fs::write(&path, &whole).unwrap();
    forge_raw(&path, 2, "note", 1, "{\"text\":\"x\",\"about\":null}", None);
    common::tamper(&path, "UPDATE event SET rule = 1 WHERE job_id = 2 AND seq = 2");
    assert!(!verify(&path).unwrap().sound());
}

#[test]
fn a_job_of_the_same_name_stands_beside_the_other() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let mut here = filled(&path("a.sqlite"), false);
    let mut there = Record::create(&path("b.sqlite")).unwrap();
    there.open_job(id(40), "Hall 3", "", &stamp(5)).unwrap();
    there.append("Hall 3", &stamp(6), take("bottom", 9.0)).unwrap();
    there.export_job("Hall 3", &path("x.job")).unwrap();
    let carried = here.import(&path("x.job")).unwrap();
    assert!(carried[0].namesake && carried[0].new_events == 2);
    let error = here.job("Hall 3").unwrap_err().to_string();
    assert!(error.contains(&id(1).to_string()) && error.contains(&id(40).to_string()), "{error}");
    assert!(matches!(here.note("Hall 3", &stamp(90), "x"), Err(RecordError::NameShared { .. })));
    assert_eq!(here.job(&id(40).to_string()).unwrap().current_takes()[0].take.gap.0, 9.0);
    here.note(&id(40).to_string()[..8], &stamp(90), "by the first digits").unwrap();
    assert!(here.job(&id(1).to_string()).unwrap().events.len() > 20);
    sound(&path("a.sqlite"));
}
