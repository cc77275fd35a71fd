//! Records made by every format so far open, say what they said, and go on.
//!
//! `tests/data/record_v<n>.sqlite` was written by the program when `n` was its format and is never written again. After a
//! new step in `schema::STEPS`, write the new format's file once with
//! `cargo test -p skimgauge-record --test migrate -- --ignored`.

mod common;

use std::fs;
use std::path::PathBuf;

use common::{every_kind, signer, stamp, take};
use skimgauge_record::chain::Hash;
use skimgauge_record::photo::Photo;
use skimgauge_record::schema::VERSION;
use skimgauge_record::seal::Seal;
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, Record, RecordError};

const PHOTO: &[u8] = b"no picture, but bytes that must come back";

/// Hash of the closing event of the job "Hall 3" in format 1. An event's bytes never change, whatever the tables do.
const CLOSING_V1: &str = "c18a1fdac9d2459a2d9cd0deace4b02defac84c92771e5ab908d751bd8d5a035";

fn fixture(version: i64) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/record_v{version}.sqlite"))
}

#[test]
fn every_earlier_record_opens_and_goes_on() {
    for version in 1..=VERSION {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.sqlite");
        fs::copy(fixture(version), &path).unwrap_or_else(|error| panic!("no record in format {version}: {error}"));

        match Record::open_read_only(&path) {
            Ok(_) => assert_eq!(version, VERSION),
            Err(RecordError::Older { found, .. }) => assert_eq!(found, version),
            Err(error) => panic!("format {version}: {error}"),
        }
        let mut record = Record::open(&path).unwrap();
        let report = verify(&path).unwrap();
        assert!(report.sound(), "format {version}: {:?}", report.first_wrong());
        assert_eq!(report.seal, if version == VERSION { Seal::Holds } else { Seal::None });

        let job = record.job("Hall 3").unwrap();
        assert_eq!(job.broken, None);
        let closing = job.events.iter().find(|event| matches!(event.body, Body::Closed(_))).unwrap();
        assert_eq!(closing.hash.to_string(), CLOSING_V1);
        assert_eq!(job.current_takes()[0].take.gap_mm.to_bits(), 3.1_f64.to_bits());
        assert_eq!(record.photo(Hash::of(PHOTO)).unwrap().as_deref(), Some(PHOTO));
        record.append("Hall 4", &stamp(90), take("top", 3.0)).unwrap();
        assert!(verify(&path).unwrap().sound());
    }
}

/// The fixture of this program's own format holds each kind of event, as this program reads them.
#[test]
fn the_last_fixture_holds_every_kind() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    fs::copy(fixture(VERSION), &path).unwrap();
    let events = Record::open_read_only(&path).unwrap().job("Hall 3").unwrap().events;
    for body in every_kind() {
        assert!(events.iter().any(|event| event.body == body), "{} is not in the fixture", body.kind());
    }
    for kind in ["job opened", "photo attached", "closed", "signed"] {
        assert!(events.iter().any(|event| event.body.kind() == kind), "{kind}");
    }
}

#[test]
#[ignore = "writes the record that later formats are tested with, once for each format"]
fn write_the_fixture_of_this_format() {
    let path = fixture(VERSION);
    let mut record = Record::create(&path).unwrap();
    record.open_job("Hall 3", "site = \"Hall 3\"\n", &stamp(0)).unwrap();
    record.open_job("Hall 4", "", &stamp(0)).unwrap();
    for (body, after_s) in every_kind().into_iter().zip(1..) {
        record.append("Hall 3", &stamp(after_s), body).unwrap();
    }
    let photo = Photo { name: "wall.jpg", media_type: "image/jpeg", bytes: PHOTO, caption: Some("left anchor") };
    record.attach("Hall 3", &stamp(30), photo).unwrap();
    let closed = record.close("Hall 3", &stamp(31), &["cover plate".to_owned()], Some(&signer())).unwrap();
    println!("closing event: {}", closed.hash);
}
