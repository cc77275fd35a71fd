//! Writers killed (SIGKILL) at random moments: whatever they were told is on disk is there, and the
//! record is sound.

use std::collections::HashMap;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use skimgauge_record::photo::Photo;
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, JobId, Record};

use crate::common::{stamp, take};
use skimgauge_numbers::Numbers;

/// Set for a process that is to be killed: the record's path.
pub(crate) const CHILD: &str = "SKIMGAUGE_HARDSHIP_RECORD";

/// Longest life of a writer, ms.
const LONGEST_MS: usize = 250;

/// Opens the record and writes to it for ever, saying each event once it is on disk.
pub(crate) fn write_until_killed(path: &Path) {
    let mut out = std::io::stdout().lock();
    let mut record = Record::open_or_create(path).expect("opens");
    let who = std::process::id();
    for round in 0_u32.. {
        let job = format!("job {who} {round}");
        let mut say = |seq: u32, hash: skimgauge_record::chain::Hash| {
            writeln!(out, "{job}\t{seq}\t{hash}").and_then(|()| out.flush()).expect("told");
        };
        let opened = record
            .open_job(JobId::random().expect("random"), &job, "site = \"x\"\n", &stamp(0))
            .expect("job opened");
        say(opened.seq, opened.hash);
        for n in 0..6 {
            let taken = record.append(&job, &stamp(n), take("top", f64::from(n))).expect("taken");
            say(taken.seq, taken.hash);
        }
        let bytes = vec![who.to_le_bytes()[0] ^ round.to_le_bytes()[0]; 150_000];
        let photo = Photo { name: "x", media_type: "image/png", bytes: &bytes, caption: None };
        let attached = record.attach(&job, &stamp(9), photo).expect("attached");
        say(attached.seq, attached.hash);
        let closed = record.close(&job, &stamp(10), &[], None).expect("closed");
        say(closed.seq, closed.hash);
    }
}

fn spawn(path: &Path) -> Child {
    Command::new(std::env::current_exe().expect("own path"))
        .env(CHILD, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("starts")
}

/// What one writer said before it was killed.
fn heard(child: Child) -> Vec<(String, u32, String)> {
    let lines = BufReader::new(child.stdout.expect("piped")).split(b'\n').map_while(Result::ok);
    let line = |line: Vec<u8>| {
        let line = String::from_utf8(line).ok()?;
        let mut parts = line.split('\t');
        let (job, seq, hash) = (parts.next()?, parts.next()?, parts.next()?);
        // The kill may have cut the last line; a whole hash has 64 digits.
        (hash.len() == 64).then(|| (job.to_owned(), seq.parse().unwrap_or(0), hash.to_owned()))
    };
    lines.filter_map(line).collect()
}

/// Kills writers `runs` times, two at once in every other run.
pub(crate) fn run(runs: u64) -> bool {
    let folder = tempfile::tempdir().expect("a folder");
    let mut numbers = Numbers(1);
    let (mut told, mut lost, mut unsound, mut interrupted, mut silent) =
        (0_u64, 0_u64, 0_u64, 0_u64, 0_u64);
    let mut path = PathBuf::new();
    for run in 0..runs {
        // A record lives through twenty kills, then a new one is made: its making is killed now and
        // then, too.
        if run % 20 == 0 {
            path = folder.path().join(format!("record {run}.sqlite"));
        }
        let mut children: Vec<Child> = (0..=run % 2).map(|_| spawn(&path)).collect();
        std::thread::sleep(Duration::from_micros(numbers.below(LONGEST_MS * 1000) as u64));
        for child in &mut children {
            child.kill().expect("killed");
            child.wait().expect("gone");
        }
        let said: Vec<_> = children.into_iter().flat_map(heard).collect();
        interrupted += u64::from(PathBuf::from(format!("{}-journal", path.display())).exists());
        silent += u64::from(said.is_empty());
        told += said.len() as u64;
        let Ok(record) = Record::open_or_create(&path) else {
            unsound += 1;
            continue;
        };
        match verify(&path) {
            Ok(report) if report.sound() => {}
            other => {
                unsound += 1;
                println!("  run {run}: {other:?}");
            }
        }
        let mut jobs: HashMap<String, HashMap<u32, String>> = HashMap::new();
        for (job, seq, hash) in said {
            let events = jobs.entry(job.clone()).or_insert_with(|| {
                let events = record.job(&job).map(|job| job.events).unwrap_or_default();
                let photos = events.iter().filter_map(|event| match &event.body {
                    Body::PhotoAttached(photo) => Some(photo.sha256),
                    _ => None,
                });
                for sha256 in photos {
                    lost += u64::from(!matches!(record.photo(sha256), Ok(Some(_))));
                }
                events.into_iter().map(|event| (event.seq, event.hash.to_string())).collect()
            });
            if events.get(&seq) != Some(&hash) {
                lost += 1;
                println!("  run {run}: {job}, event {seq} is lost");
            }
        }
    }
    println!(
        "kill: {runs} runs, {told} events told to be on disk, {lost} lost, {unsound} records unsound; {interrupted} kills fell \
         into a write, {silent} before the first event"
    );
    lost == 0 && unsound == 0 && told > 0
}
