//! Files made to do harm: what this program would never write, tables that are none, things that
//! are no files. Nothing is taken over, nobody waits for ever, nothing is written where nothing may
//! be.

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use common::{filled, forge, forge_raw, id, signer, stamp, take, tamper};
use rusqlite::Connection;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Body, Closed, Note, PhotoAttached, Take};
use skimgauge_record::limits::LAST_ROUND;
use skimgauge_record::photo::Photo;
use skimgauge_record::salvage::salvage;
use skimgauge_record::seal::Seal;
use skimgauge_record::verify::verify;
use skimgauge_record::{Record, RecordError};

fn place() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    (folder, path)
}

/// Every way in by which something is added.
fn add_in_every_way(record: &mut Record) -> Vec<RecordError> {
    let photo = Photo { name: "x", media_type: "image/png", bytes: b"x", caption: None };
    let ways = [
        record.append("Hall 3", &stamp(70), take("top", 3.0)),
        record.note("Hall 3", &stamp(70), "x"),
        record.attach("Hall 3", &stamp(70), photo),
        record.close("Hall 3", &stamp(70), &[], None),
        record.close("Hall 3", &stamp(70), &[], Some(&signer())),
        record.sign("Hall 3", &stamp(70), &signer()),
    ];
    ways.into_iter().map(Result::unwrap_err).collect()
}

/// One bit of one event, or the end cut off: nothing is ever added behind it, nor signed.
#[test]
fn a_broken_chain_takes_nothing_more() {
    for (damage, at) in [
        ("UPDATE event SET who = 'B. Fitter' WHERE job_id = 1 AND seq = 4", 4),
        ("DELETE FROM event WHERE job_id = 1 AND seq = 25", 25),
        (
            "UPDATE event SET payload = replace(payload, 'Hall', 'Hell') WHERE job_id = 1 AND seq = 1",
            1,
        ),
    ] {
        let (_folder, path) = place();
        drop(filled(&path, false));
        tamper(&path, damage);
        let before = fs::read(&path).unwrap();
        let mut record = Record::open(&path).unwrap();
        for error in add_in_every_way(&mut record) {
            assert!(
                matches!(&error, RecordError::Broken { seq, .. } if *seq == at),
                "{damage}: {error:?}"
            );
            let said = error.to_string();
            assert!(
                said.contains("--salvage") && said.contains("--record") && said.contains("Hall 3"),
                "{said}"
            );
        }
        assert!(
            record
                .jobs_checked()
                .unwrap()
                .iter()
                .any(|job| job.summary.name == "Hall 3" && job.broken.is_some())
        );
        assert_eq!(fs::read(&path).unwrap(), before);
        // The other job is whole.
        record.note("Hall 4", &stamp(71), "goes on").unwrap();
    }
}

/// A bit that turns while the record is open, as on a failing drive: this process has read the page
/// before, and looks again.
#[test]
fn a_bit_that_turns_in_the_course_of_the_work_is_seen_at_the_next_entry() {
    use std::io::{Seek, SeekFrom, Write};
    let (_folder, path) = place();
    let mut record = filled(&path, false);
    record.note("Hall 3", &stamp(60), "reads the pages").unwrap();
    let bytes = fs::read(&path).unwrap();
    let mut file = fs::File::options().write(true).open(&path).unwrap();
    for at in (0..bytes.len()).filter(|&at| bytes[at..].starts_with(b"torqued again")) {
        file.seek(SeekFrom::Start(at as u64)).and_then(|_| file.write_all(b"T")).unwrap();
    }
    let error = record.append("Hall 3", &stamp(61), take("top", 3.0)).unwrap_err();
    assert!(matches!(error, RecordError::Broken { seq: 4, .. }), "{error:?}");
}

/// A payload as a forger writes it: no program of ours would.
fn forged(body: &Body) -> String {
    body.payload().unwrap()
}

#[test]
fn what_this_program_would_not_write_is_not_read_in() {
    let attached = |name: &str, bytes| PhotoAttached {
        name: name.to_owned(),
        media_type: "image/png".to_owned(),
        bytes,
        sha256: Hash::of(b"x"),
        caption: None,
    };
    let note = |text: &str| Body::from(Note { text: text.to_owned(), about: None });
    let cases: Vec<(Body, &str)> = vec![
        (take("top\u{1b}]0;x\u{7}", 3.0).into(), "station"),
        (take("t\u{202e}op", 3.0).into(), "station"),
        (take(&"x".repeat(301), 3.0).into(), "301 characters"),
        (Take { round: u32::MAX, ..take("top", 3.0) }.into(), "round"),
        (Take { round: LAST_ROUND + 1, ..take("top", 3.0) }.into(), "round"),
        (Take { flags: vec!["\u{9b}2J".into()], ..take("top", 3.0) }.into(), "noticed"),
        (note("a\u{1b}[2Jb"), "note"),
        (note(&"x".repeat(20_001)), "20001 characters"),
        (note("\u{2066}x"), "note"),
        (Closed { verdict: None, open_points: vec!["\r\u{1b}".to_owned()] }.into(), "left to do"),
    ];
    for (body, says) in cases {
        let (folder, path) = place();
        drop(filled(&path, false));
        forge_raw(&path, 2, body.kind(), body.version(), &forged(&body), None);
        tamper(
            &path,
            "UPDATE job SET takes = (SELECT count(*) FROM event WHERE job_id = 2 AND kind = 'take'), closed = (SELECT count(*) FROM event WHERE job_id = 2 AND kind = 'closed') WHERE job_id = 2",
        );
        assert!(verify(&path).unwrap().sound(), "{:?}", verify(&path).unwrap().first_wrong());
        let mut target = Record::create(&folder.path().join("b.sqlite")).unwrap();
        let before = fs::read(target.path()).unwrap();
        let error = target.import(&path).unwrap_err();
        assert!(matches!(error, RecordError::Foreign { .. }), "{error:?}");
        assert!(error.to_string().contains(says), "{says}: {error}");
        assert_eq!(fs::read(target.path()).unwrap(), before);
        // Nor is it written here.
        let error = target
            .open_job(id(9), "x", "", &stamp(0))
            .and_then(|_| target.append("x", &stamp(1), body));
        assert!(matches!(error, Err(RecordError::BadEvent(_))), "{error:?}");
    }
    for (name, bytes) in [("x\u{1b}.png", 1), ("x.png", (64 << 20) + 1), ("x.png", 0)] {
        let (folder, path) = place();
        drop(filled(&path, false));
        forge(&path, 2, &attached(name, bytes).into());
        let mut target = Record::create(&folder.path().join("b.sqlite")).unwrap();
        assert!(target.import(&path).is_err(), "{name:?} {bytes}");
        assert!(target.jobs().unwrap().is_empty());
    }
}

#[test]
fn names_that_steer_the_screen_are_not_read_in() {
    for name in ["Hall\u{1b}[2J", "Hall\n3", "\u{202e}3 llaH", "", &"x".repeat(121)] {
        let (folder, path) = place();
        let mut record = Record::create(&path).unwrap();
        record.open_job(id(1), "Hall 3", "", &stamp(0)).unwrap();
        drop(record);
        // Made anew from its first event, hash and all, as one would who has the source of this
        // program.
        let payload = serde_json::json!({
            "id": id(1), "name": name, "job_file": "", "job_file_sha256": Hash::of(b""),
        });
        let connection = Connection::open(&path).unwrap();
        connection
            .execute_batch("PRAGMA foreign_keys = off; DROP TRIGGER event_keeps; DELETE FROM event")
            .unwrap();
        connection.execute("UPDATE job SET last_seq = 0, name = ?1", [name]).unwrap();
        connection
            .execute_batch("CREATE TRIGGER event_keeps BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'an event is never deleted'); END")
            .unwrap();
        drop(connection);
        forge_raw(&path, 1, "job opened", 2, &payload.to_string(), Some(&[]));
        tamper(&path, "UPDATE job SET opened_at = last_at");
        assert!(verify(&path).unwrap().sound(), "{:?}", verify(&path).unwrap().first_wrong());
        let mut target = Record::create(&folder.path().join("b.sqlite")).unwrap();
        let error = target.import(&path).unwrap_err();
        assert!(matches!(error, RecordError::Foreign { .. }), "{error:?}");
        assert!(target.jobs().unwrap().is_empty());
    }
}

/// A view in the place of a table, that never ends. Each of these calls would not come back if it
/// were asked.
#[test]
fn a_table_that_is_an_endless_view_keeps_nobody_waiting() {
    for table in ["job", "event", "photo", "seal"] {
        let (folder, path) = place();
        drop(filled(&path, true));
        let connection = Connection::open(&path).unwrap();
        let query = format!("SELECT * FROM {table}");
        let columns = connection
            .prepare(&query)
            .unwrap()
            .column_names()
            .map(|name| format!("x AS {name}"))
            .collect::<Vec<_>>();
        connection
            .execute_batch(&format!(
                "PRAGMA foreign_keys = off; DROP TABLE {table}; CREATE VIEW {table} AS WITH RECURSIVE c (x) AS \
                 (SELECT 1 UNION ALL SELECT x + 1 FROM c) SELECT {} FROM c",
                columns.join(", ")
            ))
            .unwrap();
        drop(connection);
        let report = verify(&path).unwrap();
        assert!(
            report.first_wrong().unwrap().contains("tables"),
            "{table}: {:?}",
            report.first_wrong()
        );
        assert_eq!(report.seal, Seal::Unchecked);
        let mut target = Record::create(&folder.path().join("b.sqlite")).unwrap();
        let to = folder.path().join("c.sqlite");
        for error in [
            Record::open_read_only(&path).unwrap_err(),
            Record::open(&path).unwrap_err(),
            target.import(&path).unwrap_err(),
            salvage(&path, &to, &stamp(0), || Ok(id(7))).unwrap_err(),
        ] {
            assert!(matches!(error, RecordError::Damaged { .. }), "{error:?}");
        }
        assert!(!to.exists());
    }
}

/// A trigger that answers every new event with one of its own.
#[test]
fn a_record_with_a_trigger_that_nobody_of_us_wrote_is_not_written_to() {
    let (_folder, path) = place();
    drop(filled(&path, false));
    Connection::open(&path)
        .unwrap()
        .execute_batch(
            "CREATE TRIGGER more AFTER INSERT ON event BEGIN UPDATE job SET takes = takes + 1; END",
        )
        .unwrap();
    assert!(matches!(Record::open(&path), Err(RecordError::Damaged { .. })));
    // Reading asks no trigger.
    let history = Record::open_read_only(&path).unwrap().job("Hall 3").unwrap();
    assert_eq!((history.broken, history.altered), (None, true), "read, and said");
    assert!(!verify(&path).unwrap().sound());
}

#[cfg(unix)]
#[test]
fn devices_and_pipes_are_no_records() {
    let (folder, path) = place();
    let pipe = folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    let mut places =
        vec![PathBuf::from("/dev/zero"), PathBuf::from("/dev/null"), folder.path().to_owned()];
    match made {
        Ok(status) if status.success() => places.push(pipe),
        _ => eprintln!("left out: a pipe; mkfifo does not run here"),
    }
    let mut record = filled(&path, false);
    for place in places {
        for error in [
            verify(&place).unwrap_err(),
            Record::open(&place).unwrap_err(),
            Record::open_or_create(&place).unwrap_err(),
            Record::open_read_only(&place).unwrap_err(),
            record.import(&place).unwrap_err(),
        ] {
            assert!(matches!(error, RecordError::NoFile { .. }), "{}: {error:?}", place.display());
            let said = error.to_string();
            assert!(
                ["is a device", "is a pipe", "is a folder"].iter().any(|what| said.contains(what)),
                "{said}"
            );
        }
    }
}

#[test]
fn a_file_larger_than_is_read_at_once_is_not_read_in() {
    let (folder, path) = place();
    let mut record = filled(&path, false);
    let large = folder.path().join("large.job");
    // Sparse: it takes no room.
    fs::File::create(&large).and_then(|file| file.set_len(3_000_000_000)).unwrap();
    let error = record.import(&large).unwrap_err();
    assert!(matches!(error, RecordError::Foreign { .. }), "{error:?}");
}

/// Whoever knows the format can give a job another's identity, or one event twice: seen, not
/// followed.
#[test]
fn what_stands_twice_is_found() {
    let (_folder, path) = place();
    drop(filled(&path, false));
    tamper(&path, "UPDATE job SET id = (SELECT id FROM job WHERE job_id = 1) WHERE job_id = 2");
    let report = verify(&path).unwrap();
    assert!(
        report.findings.iter().any(|finding| finding.contains("identity")),
        "{:?}",
        report.findings
    );
    let (_folder, path) = place();
    drop(filled(&path, false));
    tamper(
        &path,
        "INSERT INTO event SELECT job_id, 26, at, who, software, kind, version, payload, rule, parents, hash FROM event WHERE job_id = 1 AND seq = 25; UPDATE job SET last_seq = 26 WHERE job_id = 1",
    );
    assert_eq!(verify(&path).unwrap().jobs[0].broken.as_ref().map(|broken| broken.seq), Some(26));
}

#[cfg(unix)]
#[test]
fn a_new_record_is_its_owners_alone() {
    use std::os::unix::fs::PermissionsExt;
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    let (folder, _) = place();
    let named = folder.path().join("named by the user");
    fs::create_dir(&named).unwrap();
    fs::set_permissions(&named, fs::Permissions::from_mode(0o755)).unwrap();
    let path = named.join("record.sqlite");
    let mut record = Record::open_or_create(&path).unwrap();
    record.open_job(id(1), "Hall 3", "", &stamp(0)).unwrap();
    record.export_job("Hall 3", &named.join("x.job")).unwrap();
    assert_eq!((mode(&path), mode(&named.join("x.job")), mode(&named)), (0o600, 0o600, 0o755));
    // An old record that was open to others is its owner's alone once it is brought up to date, and
    // so is the copy of it as it was.
    let old = named.join("old.sqlite");
    fs::copy(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/record_v1.sqlite"), &old)
        .unwrap();
    fs::set_permissions(&old, fs::Permissions::from_mode(0o640)).unwrap();
    let record = Record::open(&old).unwrap();
    assert_eq!((mode(&old), mode(&record.moved_on().unwrap().copy)), (0o600, 0o600));
}
