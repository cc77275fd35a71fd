//! Records made by every format so far open, say what they said, and go on.
//!
//! `tests/data/record_v<n>.sqlite` was written by the program when `n` was its format and is never
//! written again. After a new step in `schema::STEPS`, write the new format's file once with
//! `cargo test -p skimgauge-record --test migrate -- --ignored`.

mod common;

use std::fs;
use std::path::PathBuf;

use common::{append_every_kind, id, sections, signer, stamp, take};
use rusqlite::Connection;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Phase, Section, Verdict};
use skimgauge_record::photo::Photo;
use skimgauge_record::schema::VERSION;
use skimgauge_record::seal::Seal;
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, JobHistory, JobId, MovedOn, Record, RecordError};

const PHOTO: &[u8] = b"no picture, but bytes that must come back";

/// Hash of the closing event of the job "Hall 3" in format 1. An event's bytes never change,
/// whatever the tables do.
const CLOSING_V1: &str = "c18a1fdac9d2459a2d9cd0deace4b02defac84c92771e5ab908d751bd8d5a035";

fn fixture(version: i64) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/record_v{version}.sqlite"))
}

/// A copy of the record in this format, in a folder that goes when it is dropped.
fn copied(version: i64) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    fs::copy(fixture(version), &path)
        .unwrap_or_else(|error| panic!("no record in format {version}: {error}"));
    (folder, path)
}

/// What each record of these tests says, in whatever format.
fn says_what_it_said(version: i64, job: &JobHistory) {
    assert_eq!(job.broken, None, "format {version}");
    let closing = job.events.iter().find(|event| matches!(event.body, Body::Closed(_))).unwrap();
    if version == 1 {
        assert_eq!(closing.hash.to_string(), CLOSING_V1);
        assert_eq!(job.summary.id, JobId::of_first(job.events[0].hash));
    }
    assert_eq!(job.standing(Phase::AsFound)[0].take.gap.0.to_bits(), 3.1_f64.to_bits());
    assert_eq!(job.summary.takes, 1);
    assert_eq!(job.verdict(Phase::AsLeft).map(|judged| judged.verdict), Some(Verdict::Unsure));
    // What is spoken of by number in format 1, and by hash from then on.
    let gaps: Vec<f64> = job.takes().map(|current| current.take.gap.0).collect();
    assert_eq!(gaps, [3.3, 3.1]);
    let first = job.takes().next().unwrap().event.hash;
    assert_eq!(job.takes().nth(1).unwrap().take.supersedes, Some(first));
    for event in &job.events {
        match &event.body {
            Body::Note(note) => assert_eq!(note.about, Some(first)),
            Body::Judged(judged) => {
                let settle = judged.would_settle.as_ref().map(|said| said.text_in_mm());
                assert_eq!(settle.as_deref(), Some("two more takes at the bottom"));
                assert_eq!(judged.worst.as_ref().map(|worst| worst.at.x.0), Some(-1012.5));
            }
            // It has no form of those that are known, and is kept as it stands.
            Body::Section(Section::Other(other)) => {
                let data = serde_json::json!({"worst_mm": 1.5});
                assert_eq!((other.section.as_str(), &other.data), ("square", &data));
            }
            Body::Section(known) => panic!("{known:?}"),
            Body::TurnObserved(seen) => {
                let advice = job.event(seen.advice.unwrap()).unwrap();
                assert!(matches!(advice.body, Body::TurnAdvised(_)));
            }
            Body::Signed(signed) => assert_eq!(signed.hash, closing.hash),
            _ => {}
        }
    }
}

/// A record holds names of people: it is for whoever made it, however open the old one was.
#[cfg(unix)]
fn assert_owners_alone(path: &std::path::Path) {
    use std::os::unix::fs::PermissionsExt;
    assert_eq!(fs::metadata(path).unwrap().permissions().mode() & 0o777, 0o600);
}

#[cfg(not(unix))]
fn assert_owners_alone(_: &std::path::Path) {}

#[test]
fn every_earlier_record_is_read_as_it_is_and_left_alone() {
    for version in 1..=VERSION {
        let (_folder, path) = copied(version);
        let before = fs::read(&path).unwrap();
        let record = Record::open_read_only(&path).unwrap();
        says_what_it_said(version, &record.job("Hall 3").unwrap());
        assert_eq!(record.jobs().unwrap().len(), 2);
        assert!(record.jobs_checked().unwrap().iter().all(|job| job.broken.is_none()));
        assert_eq!(record.photo(Hash::of(PHOTO)).unwrap().as_deref(), Some(PHOTO));
        let report = verify(&path).unwrap();
        assert!(report.sound(), "format {version}: {:?}", report.first_wrong());
        assert_eq!(report.seal, Seal::Holds);
        assert_eq!(
            report.jobs[0].signatures.iter().filter(|signature| signature.wrong.is_none()).count(),
            1
        );
        assert_eq!(fs::read(&path).unwrap(), before);
    }
}

#[test]
fn every_earlier_record_is_brought_up_to_date_and_goes_on_a_copy_of_it_kept() {
    for version in 1..=VERSION {
        let (folder, path) = copied(version);
        let mut record = Record::open(&path).unwrap();
        let copy = folder.path().join("record.format-1.sqlite");
        let moved_on = (version < VERSION).then_some(MovedOn { from: version, copy: copy.clone() });
        assert_eq!(record.moved_on(), moved_on.as_ref());
        assert_eq!(copy.exists(), version < VERSION);
        if version < VERSION {
            assert_eq!(
                fs::read(&copy).unwrap(),
                fs::read(fixture(version)).unwrap(),
                "byte for byte"
            );
        }
        let report = verify(&path).unwrap();
        assert!(report.sound(), "format {version}: {:?}", report.first_wrong());
        assert_eq!(report.seal, if version == VERSION { Seal::Holds } else { Seal::None });
        says_what_it_said(version, &record.job("Hall 3").unwrap());
        record.append("Hall 4", &stamp(90), take("top", 3.0)).unwrap();
        // By its identity, too.
        let id = record.job("Hall 4").unwrap().summary.id;
        record.note(&id.to_string(), &stamp(91), "more").unwrap();
        assert!(verify(&path).unwrap().sound());
        if version < VERSION {
            assert_owners_alone(&path);
        }
        // Once is enough.
        assert_eq!(Record::open(&path).unwrap().moved_on(), None);
    }
}

#[test]
fn the_copy_is_never_put_over_another_file_and_without_it_nothing_is_done() {
    let (folder, path) = copied(1);
    let taken = folder.path().join("record.format-1.sqlite");
    fs::write(&taken, "someone's").unwrap();
    let record = Record::open(&path).unwrap();
    assert_eq!(record.moved_on().unwrap().copy, folder.path().join("record.format-1-2.sqlite"));
    assert_eq!(fs::read(&taken).unwrap(), b"someone's");

    // A folder in which nothing can be made, for accounts that may not write everywhere.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let (folder, path) = copied(1);
        let set =
            |mode| fs::set_permissions(folder.path(), fs::Permissions::from_mode(mode)).unwrap();
        set(0o555);
        let may_anyway = fs::write(folder.path().join("x"), "x").is_ok();
        let found = Record::open(&path);
        set(0o755);
        if may_anyway {
            eprintln!("left out: this account may write anywhere");
            return;
        }
        assert!(
            matches!(found, Err(RecordError::NoCopy { .. } | RecordError::NoPermission(_))),
            "{found:?}"
        );
        assert_eq!(fs::read(&path).unwrap(), fs::read(fixture(1)).unwrap());
    }
}

/// Two that open at once agree: one brings it up to date, one copy is kept.
#[test]
fn two_that_bring_it_up_to_date_at_once_agree() {
    let (folder, path) = copied(1);
    std::thread::scope(|scope| {
        for n in 0..3 {
            let path = &path;
            scope.spawn(move || {
                Record::open(path).unwrap().note("Hall 4", &stamp(90 + n), "x").unwrap()
            });
        }
    });
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    assert!(verify(&path).unwrap().sound());
    assert_eq!(Record::open(&path).unwrap().job("Hall 4").unwrap().events.len(), 4);
}

/// What was broken before stays broken at the same place, in either way of reading, and is not sewn
/// together.
#[test]
fn a_break_stays_where_it_was() {
    let (_folder, path) = copied(1);
    let connection = Connection::open(&path).unwrap();
    let trigger = "CREATE TRIGGER event_keeps BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'an event is never deleted'); END";
    connection
        .execute_batch("DROP TRIGGER event_keeps; DELETE FROM event WHERE job_id = 1 AND seq = 7")
        .unwrap();
    connection.execute_batch(trigger).unwrap();
    drop(connection);
    let broken = |record: &Record| record.job("Hall 3").unwrap().broken.unwrap().seq;
    assert_eq!(broken(&Record::open_read_only(&path).unwrap()), 7);
    let mut record = Record::open(&path).unwrap();
    assert_eq!(broken(&record), 7);
    assert!(matches!(
        record.sign("Hall 3", &stamp(99), &signer()),
        Err(RecordError::Broken { seq: 7, .. })
    ));
    record.note("Hall 4", &stamp(90), "the other job goes on").unwrap();
}

/// The first record of this format says what the same events say today, in whatever version.
#[test]
fn the_first_fixture_of_this_format_says_what_this_program_says() {
    let folder = tempfile::tempdir().unwrap();
    let written = write_all_kinds(&folder.path().join("new.sqlite"));
    let (_folder, path) = copied(VERSION);
    let bodies = |record: &Record| -> Vec<Body> {
        record.job("Hall 3").unwrap().events.into_iter().map(|event| event.body).collect()
    };
    // Its signature is over other bytes: those of today's versions; and some kinds came later.
    let later = |body: &Body| {
        let measured = matches!(body, Body::EmitterOff(_) | Body::ZeroChecked(_));
        let step = matches!(body, Body::Section(Section::Step(_)) | Body::StepUndone(_));
        measured || step || matches!(body, Body::StruckOut(_) | Body::Touched(_))
    };
    let same = |body: &Body| !matches!(body, Body::Signed(_)) && !later(body);
    let (kept, written) = (bodies(&Record::open_read_only(&path).unwrap()), bodies(&written));
    let of_then =
        |bodies: &[Body]| bodies.iter().filter(|b| same(b)).map(as_of_then).collect::<Vec<_>>();
    let (kept, written) = (of_then(&kept), of_then(&written));
    assert_eq!(kept.len(), written.len());
    for (kept, written) in kept.iter().zip(&written) {
        assert_eq!(kept, written);
    }
}

/// What an event says, without what versions since then added, hashes of other events among it: they
/// are of other bytes.
fn as_of_then(body: &Body) -> serde_json::Value {
    fn bare(value: &mut serde_json::Value) {
        match value {
            serde_json::Value::Object(fields) => {
                for since in ["by", "version", "seats_mm"] {
                    fields.remove(since);
                }
                fields.values_mut().for_each(bare);
            }
            serde_json::Value::Array(list) => list.iter_mut().for_each(bare),
            serde_json::Value::String(text)
                if text.len() == 64 && text.bytes().all(|byte| byte.is_ascii_hexdigit()) =>
            {
                *text = "an event".to_owned();
            }
            _ => {}
        }
    }
    let mut value = serde_json::to_value(body).unwrap();
    bare(&mut value);
    value
}

/// The fixture of today's versions of every event is, to the last hash, what this program writes.
#[test]
fn the_last_fixture_is_what_this_program_writes() {
    let folder = tempfile::tempdir().unwrap();
    let written = write_all_kinds(&folder.path().join("new.sqlite"));
    let path = folder.path().join("kept.sqlite");
    fs::copy(last_fixture(), &path).unwrap();
    let kept = Record::open_read_only(&path).unwrap();
    for job in ["Hall 3", "Hall 4"] {
        assert!(kept.job(job).unwrap() == written.job(job).unwrap(), "{job}");
    }
    let sections = kept.job("Hall 4").unwrap();
    let known = |body: &Body| matches!(body, Body::Section(section) if !matches!(section, Section::Other(_)));
    assert_eq!(sections.events.iter().filter(|event| known(&event.body)).count(), 5);
    let kinds: Vec<String> =
        kept.job("Hall 3").unwrap().events.iter().map(|e| e.body.kind().to_owned()).collect();
    for kind in [
        "job opened",
        "photo attached",
        "closed",
        "signed",
        "as left",
        "salvaged",
        "emitter off",
        "zero checked",
        "struck out",
        "step undone",
        "touched",
    ] {
        assert!(kinds.iter().any(|known| known == kind), "{kind}");
    }
}

#[test]
#[ignore = "writes the record that later formats are tested with, once for each format"]
fn write_the_fixture_of_this_format() {
    write_all_kinds(&last_fixture());
}

/// Of this format, with today's version of every event.
fn last_fixture() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join(format!("tests/data/record_v{VERSION}_sections.sqlite"))
}

fn write_all_kinds(path: &std::path::Path) -> Record {
    let mut record = Record::create(path).unwrap();
    record.open_job(id(1), "Hall 3", "site = \"Hall 3\"\n", &stamp(0)).unwrap();
    record.open_job(id(2), "Hall 4", "", &stamp(0)).unwrap();
    append_every_kind(&mut record, "Hall 3", 1);
    for (n, section) in (50..).zip(sections()) {
        record.append("Hall 4", &stamp(n), section).unwrap();
    }
    let photo = Photo {
        name: "wall.jpg",
        media_type: "image/jpeg",
        bytes: PHOTO,
        caption: Some("left anchor"),
    };
    record.attach("Hall 3", &stamp(30), photo).unwrap();
    record.close("Hall 3", &stamp(31), &["cover plate".to_owned()], Some(&signer())).unwrap();
    record
}
