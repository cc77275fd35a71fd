//! Records: a damaged one is found or says what it said; nothing of one that is refused is taken
//! over; what is saved out of one is sound; and nothing is ever written to it.
//!
//! An input is a choice of record (first byte) and changes of it: place (four bytes, little-endian),
//! what is done there (one byte) and with what (one byte).

use crate::Target;
use skimgauge_record::salvage::salvage;
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, JobId, Record, RecordError, Stamp, When};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Records.
pub const TARGET: Target =
    Target { name: "record", check, each_run: 900, words: &["\0\0\0\0", "\0\u{10}\0\0", "\u{1}"] };

/// Records of every format that there was, closed and sealed or not.
const WHOLE: [&[u8]; 3] = [
    include_bytes!("../../../../host/record/tests/data/record_v1.sqlite"),
    include_bytes!("../../../../host/record/tests/data/record_v2.sqlite"),
    include_bytes!("../../../../host/record/tests/data/record_v2_sections.sqlite"),
];

/// What each of them says, read once.
fn says(which: usize) -> &'static str {
    static SAYS: [OnceLock<String>; WHOLE.len()] = [const { OnceLock::new() }; WHOLE.len()];
    SAYS[which].get_or_init(|| {
        let folder = folder();
        let path = folder.path().join("whole.sqlite");
        fs::write(&path, WHOLE[which]).expect("written");
        assert!(verify(&path).is_ok_and(|report| report.sound()), "fixture {which}");
        said(&path).expect("reads")
    })
}

/// In memory where there is such a place: the disk has nothing to do with it.
fn folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    let made = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
    made.expect("a folder")
}

fn stamp() -> Stamp {
    let at = When::parse("2026-11-25T09:14:03+01:00").expect("a time");
    Stamp::new(at, "A. Fitter", "test").expect("a stamp")
}

fn check(input: &[u8]) {
    let Some((choice, changes)) = input.split_first() else { return };
    let which = usize::from(*choice) % WHOLE.len();
    let bytes = changed(WHOLE[which], changes);
    let folder = folder();
    let path = folder.path().join("record.sqlite");
    fs::write(&path, &bytes).expect("written");
    let before = says(which);
    let sound = verify(&path).is_ok_and(|report| report.sound());
    if sound {
        assert_eq!(said(&path).as_deref().ok(), Some(before), "said to be whole, and is another");
    }
    imported(&path, folder.path(), sound);
    saved(&path, folder.path());
    assert!(fs::read(&path).expect("there") == bytes, "it was written to");
    let left: Vec<PathBuf> = fs::read_dir(folder.path())
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.to_string_lossy().contains(".skimgauge-"))
        .collect();
    assert!(left.is_empty(), "{left:?} is left behind");
}

fn changed(whole: &[u8], changes: &[u8]) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    for change in changes.chunks_exact(6).take(64) {
        let at = u32::from_le_bytes([change[0], change[1], change[2], change[3]]) as usize;
        let (how, with) = (change[4], change[5]);
        if bytes.is_empty() {
            break;
        }
        let at = at % bytes.len();
        match how % 8 {
            0 => bytes[at] ^= 1 << (with % 8),
            1 => bytes[at] = with,
            2 => bytes[at] = bytes[at].wrapping_add(1),
            3 => {
                let end = (at + usize::from(with) * 16).min(bytes.len());
                bytes[at..end].fill(0);
            }
            // A page that was written where another belongs, or not at all.
            4 => {
                let (to, from) = (at / 4_096 * 4_096, usize::from(with) * 4_096 % bytes.len());
                let page = bytes[from..(from + 4_096).min(bytes.len())].to_vec();
                let end = (to + page.len()).min(bytes.len());
                bytes[to..end].copy_from_slice(&page[..end - to]);
            }
            5 => bytes.truncate(at),
            6 => bytes.extend(std::iter::repeat_n(with, 512)),
            _ => drop(bytes.splice(at..at, [with])),
        }
    }
    bytes
}

/// Everything that a record says, as text.
fn said(path: &Path) -> Result<String, RecordError> {
    let record = Record::open_read_only(path)?;
    let mut text = String::new();
    for summary in record.jobs()? {
        let job = record.job(&summary.id.to_string())?;
        text += &format!("{summary:?}\n{job:?}\n");
        for event in &job.events {
            if let Body::PhotoAttached(photo) = &event.body {
                text += &format!("{:?}\n", record.photo(photo.sha256)?);
            }
        }
    }
    Ok(text)
}

fn imported(path: &Path, folder: &Path, sound: bool) {
    let ours = folder.join("ours.sqlite");
    let mut record = Record::create(&ours).expect("made");
    record.open_job(JobId([9; 16]), "ours", "x = 1\n", &stamp()).expect("opened");
    let before = fs::read(&ours).expect("there");
    let taken = record.import(path);
    drop(record);
    match taken {
        Err(error) => {
            assert!(!sound, "sound, and refused: {error}");
            assert!(fs::read(&ours).expect("there") == before, "something of it was written");
        }
        Ok(carried) => {
            assert!(sound, "taken over, and not sound");
            assert!(
                verify(&ours).is_ok_and(|report| report.sound()),
                "what was taken over verifies"
            );
            let record = Record::open_read_only(&ours).expect("opens");
            assert_eq!(record.jobs().expect("lists").len(), carried.len() + 1);
        }
    }
}

fn saved(path: &Path, folder: &Path) {
    let to = folder.join("saved.sqlite");
    let mut ids = 0_u8;
    let new_id = || {
        ids = ids.wrapping_add(1);
        Ok(JobId([100 ^ ids; 16]))
    };
    match salvage(path, &to, &stamp(), new_id) {
        Err(_) => assert!(!to.exists(), "half saved"),
        Ok(carried) => {
            let report = verify(&to).expect("opens");
            assert!(report.sound(), "{:?}", report.first_wrong());
            // A job of which nothing is whole is told as lost, and is not there.
            let saved = carried.iter().filter(|job| job.new_events > 0 || job.behind > 0).count();
            assert_eq!(report.jobs.len(), saved, "{carried:#?}");
        }
    }
}
