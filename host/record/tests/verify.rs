//! A record is checked: what is whole passes, what was changed is found and named.

mod common;

use std::fs;
use std::path::Path;

use common::{filled, stamp};
use rusqlite::Connection;
use skimgauge_record::chain::Hash;
use skimgauge_record::seal::Seal;
use skimgauge_record::verify::{Report, verify};
use skimgauge_record::{JobId, Record, RecordError};

fn tamper(path: &Path, sql: &str) -> Report {
    common::tamper(path, sql);
    verify(path).unwrap()
}

#[test]
fn what_is_whole_passes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    let mut record = filled(&path, false);
    let report = verify(&path).unwrap();
    assert!(report.sound(), "{:?}", report.first_wrong());
    assert_eq!(report.seal, Seal::None);
    record.close("Hall 3", &stamp(50), &[], None).unwrap();
    let report = verify(&path).unwrap();
    assert!(report.sound(), "{:?}", report.first_wrong());
    assert_eq!(report.seal, Seal::Holds);
    assert!(report.jobs.iter().any(|job| job.name == "Hall 3" && job.closed));
    record.note("Hall 4", &stamp(51), "more").unwrap();
    assert_eq!(verify(&path).unwrap().seal, Seal::None);
}

/// Each change, and what the report must name.
const CHANGES: [(&str, &str); 23] = [
    (
        "UPDATE event SET payload = replace(payload, '3.25', '3.05') WHERE job_id = 1 AND seq = 2",
        "breaks at event 2",
    ),
    (
        "UPDATE event SET at = '2026-11-25T07:00:00+01:00' WHERE job_id = 1 AND seq = 3",
        "breaks at event 3",
    ),
    ("UPDATE event SET who = 'B. Fitter' WHERE job_id = 1 AND seq = 4", "breaks at event 4"),
    ("UPDATE event SET software = 'other' WHERE job_id = 1 AND seq = 1", "breaks at event 1"),
    ("UPDATE event SET kind = 'note' WHERE job_id = 1 AND seq = 2", "breaks at event 2"),
    ("UPDATE event SET version = 1 WHERE job_id = 1 AND seq = 2", "breaks at event 2"),
    ("UPDATE event SET rule = 1 WHERE job_id = 1 AND seq = 2", "breaks at event 2"),
    ("UPDATE event SET rule = 3 WHERE job_id = 1 AND seq = 2", "breaks at event 2"),
    ("UPDATE event SET parents = x'' WHERE job_id = 1 AND seq = 2", "breaks at event 2"),
    (
        "UPDATE event SET parents = CAST(parents || parents AS BLOB) WHERE job_id = 1 AND seq = 2",
        "breaks at event 2",
    ),
    ("UPDATE event SET parents = x'01' WHERE job_id = 1 AND seq = 2", "breaks at event 2"),
    ("UPDATE job SET id = zeroblob(16) WHERE job_id = 1", "sums up"),
    ("UPDATE event SET hash = zeroblob(32) WHERE job_id = 1 AND seq = 5", "breaks at event 5"),
    ("DELETE FROM event WHERE job_id = 1 AND seq = 3", "breaks at event 3"),
    (
        "DELETE FROM event WHERE job_id = 1 AND seq = (SELECT last_seq FROM job WHERE job_id = 1)",
        "should have",
    ),
    ("UPDATE event SET seq = seq + 100 WHERE job_id = 1 AND seq > 2", "event 3 is missing"),
    ("UPDATE job SET name = 'Hall 9' WHERE job_id = 1", "Hall 3"),
    ("UPDATE job SET verdict = 'within' WHERE job_id = 2", "sums up"),
    ("UPDATE job SET takes = takes + 1 WHERE job_id = 1", "sums up"),
    ("DELETE FROM event WHERE job_id = 1; DELETE FROM job WHERE job_id = 1", "no job number 1"),
    ("UPDATE photo SET bytes = x'00'", "photo"),
    ("DELETE FROM photo", "is missing"),
    ("INSERT INTO photo VALUES (2, zeroblob(32), x'01')", "photo"),
];

#[test]
fn each_change_is_named() {
    for (sql, names) in CHANGES {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.sqlite");
        filled(&path, false);
        let report = tamper(&path, sql);
        let wrong = report.first_wrong().unwrap_or_else(|| panic!("not found: {sql}"));
        assert!(wrong.contains(names), "{sql}: {wrong}");
    }
}

#[test]
fn a_link_forged_onto_the_end_breaks_the_seal_at_least() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    filled(&path, true);
    assert_eq!(verify(&path).unwrap().seal, Seal::Holds);
    let report = tamper(&path, "CREATE TABLE extra (x)");
    assert_eq!(report.seal, Seal::Broken);
    assert!(report.first_wrong().unwrap().contains("tables"));
}

#[test]
fn triggers_refuse_a_careless_change() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    filled(&path, false);
    let connection = Connection::open(&path).unwrap();
    for sql in [
        "UPDATE event SET who = 'x'",
        "DELETE FROM event",
        "DELETE FROM photo",
        "UPDATE photo SET bytes = x'00'",
    ] {
        let error = connection.execute(sql, []).unwrap_err().to_string();
        assert!(error.contains("never"), "{sql}: {error}");
    }
}

#[test]
fn a_broken_chain_is_shown_up_to_the_break() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    filled(&path, false);
    tamper(&path, "UPDATE event SET who = 'B. Fitter' WHERE job_id = 1 AND seq = 4");
    let job = Record::open_read_only(&path).unwrap().job("Hall 3").unwrap();
    assert_eq!(job.events.len(), 3);
    assert_eq!(job.broken.map(|broken| broken.seq), Some(4));
}

#[test]
fn bytes_after_the_end_break_the_seal() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    filled(&path, true);
    let mut bytes = fs::read(&path).unwrap();
    bytes.extend([0; 4096]);
    fs::write(&path, &bytes).unwrap();
    assert!(!verify(&path).unwrap().sound());
    bytes.truncate(bytes.len() - 8192);
    fs::write(&path, &bytes).unwrap();
    assert!(verify(&path).is_err() || !verify(&path).unwrap().sound());
}

/// The seal as its documentation tells it, computed here from the raw file.
#[test]
fn the_seal_is_the_digest_that_is_documented() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    filled(&path, true);
    let connection = Connection::open(&path).unwrap();
    let page: usize = connection
        .query_row("SELECT rootpage FROM sqlite_schema WHERE name = 'seal'", [], |row| {
            row.get(0).map(|page: u32| page as usize)
        })
        .unwrap();
    let kept: Vec<u8> =
        connection.query_row("SELECT digest FROM seal", [], |row| row.get(0)).unwrap();
    drop(connection);
    let mut bytes = fs::read(&path).unwrap();
    // Page size: bytes 16 and 17 of the header, most significant first (SQLite file format, 1.3.2).
    let size = usize::from(u16::from_be_bytes([bytes[16], bytes[17]]));
    assert_eq!(bytes[24..28], bytes[92..96]);
    for zero in [24..28, 92..96, page * size - 32..page * size] {
        bytes[zero].fill(0);
    }
    assert_eq!(Hash::of(&bytes).0.as_slice(), kept);
}

/// A short run of what the bench does at length.
#[test]
fn no_flipped_bit_is_missed_in_a_sealed_record() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    filled(&path, true);
    let whole = fs::read(&path).unwrap();
    // Every byte of the header and of the seal, and a spread over the rest.
    let spread = (100..whole.len()).step_by(97).map(|byte| (byte, byte % 8));
    let header = (0..100).flat_map(|byte| (0..8).map(move |bit| (byte, bit)));
    for (byte, bit) in header.chain(spread) {
        let mut bytes = whole.clone();
        bytes[byte] ^= 1 << bit;
        fs::write(&path, &bytes).unwrap();
        match verify(&path) {
            Ok(report) => assert!(!report.sound(), "bit {bit} of byte {byte} was missed"),
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    }
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(96))]
    /// Whole stretches overwritten: found, never a panic, and nothing is written.
    #[test]
    fn no_overwritten_stretch_is_missed_and_none_panics(at in 0.0..1.0_f64, stretch in proptest::collection::vec(proptest::prelude::any::<u8>(), 1..3000)) {
        thread_local!(static WHOLE: Vec<u8> = {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("record.sqlite");
            filled(&path, true);
            fs::read(&path).unwrap()
        });
        let whole = WHOLE.with(Clone::clone);
        let mut bytes = whole.clone();
        let at = (at * bytes.len() as f64) as usize;
        bytes[at..].iter_mut().zip(&stretch).for_each(|(byte, new)| *byte = *new);
        proptest::prop_assume!(bytes != whole);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.sqlite");
        fs::write(&path, &bytes).unwrap();
        proptest::prop_assert!(!verify(&path).is_ok_and(|report| report.sound()));
        if let Ok(record) = Record::open_read_only(&path) {
            let _ = record.jobs();
            let _ = record.job("Hall 3");
        }
        let _ = skimgauge_record::salvage::salvage(&path, &folder.path().join("saved.sqlite"), &stamp(90), JobId::random);
        proptest::prop_assert_eq!(fs::read(&path).unwrap(), bytes);
    }
}

#[test]
fn what_is_no_record_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("some.file");
    assert!(matches!(verify(&path), Err(RecordError::Missing(_))));
    assert!(matches!(verify(folder.path()), Err(RecordError::NoFile { .. })));
    fs::write(&path, "").unwrap();
    assert!(matches!(verify(&path), Err(RecordError::NotARecord(_))));
    for garbage in
        [b"a shopping list".to_vec(), vec![0; 8192], (0..=255).cycle().take(100_000).collect()]
    {
        fs::write(&path, &garbage).unwrap();
        for error in [
            verify(&path).unwrap_err(),
            Record::open(&path).unwrap_err(),
            Record::open_or_create(&path).unwrap_err(),
        ] {
            assert!(matches!(error, RecordError::NotARecord(_)), "{error:?}");
        }
        assert_eq!(fs::read(&path).unwrap(), garbage);
    }
    fs::remove_file(&path).unwrap();
    Connection::open(&path).unwrap().execute_batch("CREATE TABLE shopping (item TEXT)").unwrap();
    assert!(matches!(Record::open_or_create(&path), Err(RecordError::NotARecord(_))));
}

#[test]
fn a_newer_record_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    filled(&path, true);
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let before = fs::read(&path).unwrap();
    for error in [
        Record::open(&path).unwrap_err(),
        Record::open_read_only(&path).unwrap_err(),
        verify(&path).unwrap_err(),
    ] {
        assert!(matches!(error, RecordError::Newer { found: 99, .. }), "{error:?}");
        assert!(error.to_string().contains("Update skimgauge"));
    }
    assert_eq!(fs::read(&path).unwrap(), before);
}

/// A file cut short in the middle of a write: its journal beside it, as a killed process or a power
/// cut leaves them.
#[test]
fn an_interrupted_write_is_undone() {
    let folder = tempfile::tempdir().unwrap();
    let (path, cut) = (folder.path().join("record.sqlite"), folder.path().join("cut.sqlite"));
    filled(&path, false);
    let before = verify(&path).unwrap();
    common::cut_short(&path, &cut);
    let raw = fs::read(&cut).unwrap();
    assert_ne!(raw, fs::read(&path).unwrap(), "the write did not reach the file");
    let report = verify(&cut).unwrap();
    assert!(report.sound(), "{:?}", report.first_wrong());
    assert_eq!(report.jobs, before.jobs);
    Record::open(&cut).unwrap().note("Hall 4", &stamp(60), "goes on").unwrap();
}
