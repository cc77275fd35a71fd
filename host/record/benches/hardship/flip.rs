//! Single bits flipped at random places of a record: each is found by `verify`, or changes nothing
//! that is ever read.

use std::fs::OpenOptions;
use std::io::{Read as _, Seek as _, SeekFrom, Write as _};
use std::path::Path;
use std::time::Instant;

use skimgauge_record::seal::Seal;
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, Record, RecordError};

use crate::common::{append_every_kind, filled, id, signer, stamp};
use skimgauge_numbers::Numbers;

/// Everything that a record says, as text.
fn dump(path: &Path) -> Result<String, RecordError> {
    let record = Record::open_read_only(path)?;
    let mut text = String::new();
    for summary in record.jobs()? {
        let job = record.job(&summary.name)?;
        text += &format!("{job:?}\n");
        for event in &job.events {
            if let Body::PhotoAttached(photo) = &event.body {
                text += &format!("{:?}\n", record.photo(photo.sha256)?);
            }
        }
    }
    Ok(text)
}

/// Flips `count` bits in a sealed record, and a tenth as many in one that is not sealed.
pub(crate) fn run(count: u64) -> bool {
    let sealed = flip(count, true);
    let open = flip(count / 10, false);
    sealed && open
}

fn flip(count: u64, close: bool) -> bool {
    // In memory where there is such a place: the disk has nothing to do with it.
    let shm = Path::new("/dev/shm");
    let folder = if shm.is_dir() { tempfile::tempdir_in(shm) } else { tempfile::tempdir() }
        .expect("a folder");
    let path = folder.path().join("record.sqlite");
    let mut record = filled(&path, false);
    record.open_job(id(5), "Hall 5", "", &stamp(0)).expect("opened");
    append_every_kind(&mut record, "Hall 5", 60);
    if close {
        for job in ["Hall 3", "Hall 4", "Hall 5"] {
            record.close(job, &stamp(70), &[], Some(&signer())).expect("closed");
        }
    }
    drop(record);
    assert!(
        verify(&path).is_ok_and(|report| report.sound() && (report.seal == Seal::Holds) == close)
    );
    let before = dump(&path).expect("reads");
    let bytes = std::fs::metadata(&path).expect("there").len();

    let mut file = OpenOptions::new().read(true).write(true).open(&path).expect("opens");
    let mut put = |at: u64, mask: u8| {
        let mut byte = [0];
        file.seek(SeekFrom::Start(at)).and_then(|_| file.read_exact(&mut byte)).expect("read");
        file.seek(SeekFrom::Start(at))
            .and_then(|_| file.write_all(&[byte[0] ^ mask]))
            .expect("written");
    };
    let mut numbers = Numbers(2);
    let (mut refused, mut named, mut harmless, mut missed) = (0_u64, 0_u64, 0_u64, 0_u64);
    let begun = Instant::now();
    for _ in 0..count {
        let (at, mask) = (numbers.below(bytes as usize) as u64, 1 << numbers.below(8));
        put(at, mask);
        match verify(&path) {
            Err(_) => refused += 1,
            Ok(report) if !report.sound() => named += 1,
            Ok(_) if dump(&path).is_ok_and(|now| now == before) => harmless += 1,
            Ok(_) => {
                missed += 1;
                println!("  missed: byte {at}, mask {mask:#04x}");
            }
        }
        put(at, mask);
    }
    let each_us = begun.elapsed().as_micros() / u128::from(count.max(1));
    assert!(verify(&path).is_ok_and(|report| report.sound()), "the record came through");
    println!(
        "flip: {} record of {bytes} bytes, {count} single bits: {named} named, {refused} refused at opening, {harmless} not found \
         and without effect on anything read, {missed} missed; {each_us} us each",
        if close { "closed" } else { "open, unsealed" }
    );
    // A sealed file has no bit that may change.
    missed == 0 && (!close || harmless == 0)
}
