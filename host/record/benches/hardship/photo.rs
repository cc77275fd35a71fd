//! The largest photo that a record takes, and one byte more: attached, listed, checked, carried.

use std::time::Instant;

use skimgauge_record::photo::{LARGEST, Photo};
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, Record, RecordError};

use crate::common::{id, stamp};
use skimgauge_numbers::Numbers;

pub(crate) fn run() -> bool {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("record.sqlite");
    let mut record = Record::create(&path).expect("made");
    record.open_job(id(1), "Hall 3", "", &stamp(0)).expect("opened");
    let mut numbers = Numbers(4);
    let mut bytes: Vec<u8> = (0..LARGEST / 8).flat_map(|_| numbers.bits().to_le_bytes()).collect();
    let timed = |name: &str, work: &mut dyn FnMut() -> bool| {
        let begun = Instant::now();
        let good = work();
        println!("photo: {name}: {:.1?}{}", begun.elapsed(), if good { "" } else { ": WRONG" });
        good
    };
    let mut good = timed("64 MB attached", &mut || attach(&mut record, &bytes).is_ok());
    let sha256 =
        record.job("Hall 3").expect("shows").events.iter().find_map(|event| match &event.body {
            Body::PhotoAttached(photo) => Some(photo.sha256),
            _ => None,
        });
    let sha256 = sha256.expect("attached");
    good &= timed("read back", &mut || {
        record.photo(sha256).is_ok_and(|back| back.as_deref() == Some(&bytes[..]))
    });
    good &=
        timed("closed and sealed", &mut || record.close("Hall 3", &stamp(9), &[], None).is_ok());
    good &= timed("checked", &mut || verify(&path).is_ok_and(|report| report.sound()));
    let carried = folder.path().join("carried.sqlite");
    good &= timed("exported", &mut || record.export_job("Hall 3", &carried).is_ok());
    let mut other = Record::create(&folder.path().join("other.sqlite")).expect("made");
    good &= timed("read in elsewhere", &mut || other.import(&carried).is_ok());
    good &= other.photo(sha256).is_ok_and(|back| back.as_deref() == Some(&bytes[..]));
    // One byte more is refused, and leaves nothing.
    bytes.push(0);
    other.open_job(id(2), "Hall 4", "", &stamp(0)).expect("opened");
    let more = Photo { name: "x", media_type: "image/png", bytes: &bytes, caption: None };
    good &= matches!(other.attach("Hall 4", &stamp(1), more), Err(RecordError::BadEvent(_)));
    good & (other.job("Hall 4").is_ok_and(|job| job.events.len() == 1))
}

fn attach(record: &mut Record, bytes: &[u8]) -> Result<(), RecordError> {
    let photo = Photo { name: "wall.png", media_type: "image/png", bytes, caption: None };
    record.attach("Hall 3", &stamp(4), photo).map(|_| ())
}
