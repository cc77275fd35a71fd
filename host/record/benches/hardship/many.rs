//! Ten thousand jobs: how long a list and one job take, from opening the file to having the values.

use std::path::Path;
use std::time::{Duration, Instant};

use skimgauge_record::verify::verify;
use skimgauge_record::{JobId, Record};

use crate::common::{append_every_kind, stamp, take};

/// What each is to take on an idle computer; printed beside what it took, and judged by nobody here.
const LIST: Duration = Duration::from_millis(50);
/// The same with each chain gone through, as `jobs list` does to mark those that are broken.
const LIST_CHECKED: Duration = Duration::from_secs(2);
const SHOW: Duration = Duration::from_millis(20);
const REPEATS: usize = 21;

/// Makes `jobs` jobs, one of them large, and times list and show.
pub(crate) fn run(jobs: u64) {
    // Made where a commit costs nothing, timed on the disk.
    let shm = Path::new("/dev/shm");
    let making = if shm.is_dir() { tempfile::tempdir_in(shm) } else { tempfile::tempdir() }
        .expect("a folder");
    let folder = tempfile::tempdir().expect("a folder");
    let (made, path) = (making.path().join("record.sqlite"), folder.path().join("record.sqlite"));
    let mut record = Record::create(&made).expect("made");
    let begun = Instant::now();
    let (mut events, mut kinds) = (0_u64, 0);
    for n in 0..jobs {
        let job = format!("Hall {n}");
        let mut id = [0; 16];
        id[..8].copy_from_slice(&(n + 1).to_be_bytes());
        record
            .open_job(JobId(id), &job, &"# a job file of usual length\n".repeat(60), &stamp(0))
            .expect("opened");
        kinds = append_every_kind(&mut record, &job, 1).len() as u64;
        events += kinds;
    }
    let append_us = begun.elapsed().as_micros() / u128::from((events + jobs).max(1));
    record.open_job(JobId([0xff; 16]), "large", "", &stamp(0)).expect("opened");
    for n in 0..1000 {
        record.append("large", &stamp(2), take("top", f64::from(n))).expect("appended");
    }
    drop(record);
    std::fs::copy(&made, &path).expect("copied");
    let bytes = std::fs::metadata(&path).expect("there").len();

    let time = |work: &dyn Fn()| {
        let mut times: Vec<Duration> = (0..REPEATS)
            .map(|_| {
                let begun = Instant::now();
                work();
                begun.elapsed()
            })
            .collect();
        times.sort();
        (times[REPEATS / 2], times[REPEATS - 1])
    };
    let open = || Record::open_read_only(&path).expect("opens");
    let list = time(&|| assert_eq!(open().jobs().expect("lists").len() as u64, jobs + 1));
    let checked =
        time(&|| assert_eq!(open().jobs_checked().expect("lists").len() as u64, jobs + 1));
    let middle = format!("Hall {}", jobs / 2);
    let show =
        time(&|| assert_eq!(open().job(&middle).expect("shows").events.len(), kinds as usize + 1));
    let large = time(&|| assert_eq!(open().job("large").expect("shows").events.len(), 1001));
    let once = |work: &dyn Fn()| {
        let begun = Instant::now();
        work();
        begun.elapsed()
    };
    let seal = once(&|| Record::open(&path).and_then(|mut record| record.seal()).expect("sealed"));
    let check = once(&|| assert!(verify(&path).is_ok_and(|report| report.sound())));
    println!("many: {jobs} jobs, {} MB; appending in memory {append_us} us each", bytes >> 20);
    println!(
        "many: sealing the file, as closing a job does, {seal:.1?}; checking all of it {check:.1?}"
    );
    for (name, (median, worst), aim) in [
        ("list", list, LIST),
        ("list, each chain checked", checked, LIST_CHECKED),
        ("show", show, SHOW),
        ("show, 1000 takes", large, SHOW),
    ] {
        println!(
            "many: {name}: median {median:.1?}, worst of {REPEATS} {worst:.1?}, aim {aim:?} idle"
        );
    }
}
