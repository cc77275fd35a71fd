//! Power cut at every write: what the record asks of the disk is written down, and then each moment
//! is a moment at which the power goes. What was not synced is forgotten: all of it, none of it, or
//! some of it, torn at sectors; a name that was not synced with its folder likewise. Whatever was
//! told to be saved by then is there, and the record is sound.
//!
//! `power.c` listens between the record and the C library, so that it is the real program whose
//! writes these are. Linux with a C compiler; elsewhere it says that it was left out.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use skimgauge_record::photo::Photo;
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, JobId, Record};

use crate::common::{signer, stamp, take};
use skimgauge_numbers::Numbers;

/// Set for the process whose writes are listened to: the record's path.
pub(crate) const CHILD: &str = "SKIMGAUGE_POWER_RECORD";

/// What a disk writes at once, bytes.
const SECTOR: usize = 512;

/// Works at a job, in a folder that is not there yet, saying each event once it is saved.
pub(crate) fn work(path: &Path) {
    use std::io::Write as _;
    let say = |what: String| {
        let mut out = std::io::stdout().lock();
        out.write_all(what.as_bytes()).and_then(|()| out.flush()).expect("told");
    };
    for job in ["first", "second"] {
        // Opened anew for each, as each command does.
        let mut record = Record::open_or_create(path).expect("opens");
        let id = JobId([job.len() as u8; 16]);
        let opened = record.open_job(id, job, "site = \"x\"\n", &stamp(0)).expect("opened");
        say(format!("{job}\t{}\t{}\n", opened.seq, opened.hash));
        for n in 0..4 {
            let taken = record.append(job, &stamp(n), take("top", f64::from(n))).expect("taken");
            say(format!("{job}\t{}\t{}\n", taken.seq, taken.hash));
        }
        // More than fits into the database's memory for pages is not needed: a commit of many pages.
        let bytes: Vec<u8> = (0..60_000_u32).map(|n| (n * n % 251) as u8).collect();
        let photo = Photo { name: job, media_type: "image/png", bytes: &bytes, caption: None };
        let attached = record.attach(job, &stamp(9), photo).expect("attached");
        say(format!("{job}\t{}\t{}\n", attached.seq, attached.hash));
        let closed = record.close(job, &stamp(10), &[], Some(&signer())).expect("closed");
        say(format!("{job}\t{}\t{}\n", closed.seq, closed.hash));
    }
}

/// One line of what `power.c` wrote down.
#[derive(Debug, Clone)]
enum Did {
    Opened { file: u64, size: u64, path: PathBuf },
    Wrote { file: u64, at: usize, bytes: Vec<u8> },
    Cut { file: u64, size: usize },
    Synced { file: u64 },
    SyncedFolder { path: PathBuf },
    Removed { path: PathBuf },
    Made { path: PathBuf },
    Renamed { from: PathBuf, to: PathBuf },
    Told(String),
}

fn parsed(log: &[u8]) -> Vec<Did> {
    let mut done = Vec::new();
    let mut rest = log;
    while let Some(end) = rest.iter().position(|byte| *byte == b'\n') {
        let head = std::str::from_utf8(&rest[..end]).expect("text");
        let words: Vec<&str> = head.split(' ').collect();
        let number = |at: usize| words[at].parse::<u64>().expect("a number");
        let (a, b, count) = (number(1), number(2), number(3) as usize);
        let bytes = &rest[end + 1..end + 1 + count];
        rest = &rest[end + 1 + count..];
        let text = || String::from_utf8_lossy(bytes).into_owned();
        let path = || PathBuf::from(text());
        done.push(match words[0] {
            "O" => Did::Opened { file: a, size: b, path: path() },
            "W" => Did::Wrote { file: a, at: b as usize, bytes: bytes.to_vec() },
            "T" => Did::Cut { file: a, size: b as usize },
            "S" => Did::Synced { file: a },
            "D" => Did::SyncedFolder { path: path() },
            "U" => Did::Removed { path: path() },
            "M" => Did::Made { path: path() },
            "R" => {
                let both = text();
                let (from, to) = both.split_once('\n').expect("two names");
                Did::Renamed { from: from.into(), to: to.into() }
            }
            "Y" => Did::Told(text()),
            other => panic!("{other}?"),
        });
    }
    done
}

/// A change of a file that the disk may or may not have done when the power goes.
#[derive(Debug, Clone)]
enum Change {
    Write(usize, Vec<u8>),
    Cut(usize),
}

/// A change of a folder, likewise.
#[derive(Debug, Clone)]
enum Name {
    Is(PathBuf, u64),
    Gone(PathBuf),
    Folder(PathBuf),
}

impl Name {
    fn path(&self) -> &Path {
        match self {
            Self::Is(path, _) | Self::Gone(path) | Self::Folder(path) => path,
        }
    }
}

/// What is safe on the disk, and what is on its way there.
#[derive(Debug, Clone, Default)]
struct Disk {
    files: BTreeMap<u64, Vec<u8>>,
    changes: BTreeMap<u64, Vec<Change>>,
    names: BTreeMap<PathBuf, u64>,
    folders: BTreeSet<PathBuf>,
    /// In the order in which they were done.
    naming: Vec<Name>,
    /// Names as the program sees them.
    seen: BTreeMap<PathBuf, u64>,
    /// Which of the files the system's number means now: it gives the number of one that is gone to
    /// the next.
    now: BTreeMap<u64, u64>,
}

impl Disk {
    fn did(&mut self, did: &Did) {
        match did {
            Did::Opened { file, size, path } => {
                let known = self.now.get(file).is_some_and(|own| self.seen.get(path) == Some(own));
                if !known {
                    assert_eq!(*size, 0, "{} was there before", path.display());
                    let own = self.files.len() as u64;
                    self.now.insert(*file, own);
                    self.seen.insert(path.clone(), own);
                    self.files.insert(own, Vec::new());
                    self.naming.push(Name::Is(path.clone(), own));
                }
            }
            Did::Wrote { file, at, bytes } => {
                self.change(*file, Change::Write(*at, bytes.clone()));
            }
            Did::Cut { file, size } => {
                self.change(*file, Change::Cut(*size));
            }
            Did::Synced { file } => {
                let own = self.now[file];
                let bytes = self.files.entry(own).or_default();
                let changes = std::mem::take(self.changes.entry(own).or_default());
                changes.iter().for_each(|change| apply(bytes, change));
            }
            Did::SyncedFolder { path } => {
                let (safe, waiting) = std::mem::take(&mut self.naming)
                    .into_iter()
                    .partition(|name| name.path().parent() == Some(path));
                self.naming = waiting;
                self.settle(safe);
            }
            Did::Removed { path } => {
                self.seen.remove(path);
                self.naming.push(Name::Gone(path.clone()));
            }
            Did::Made { path } => self.naming.push(Name::Folder(path.clone())),
            Did::Renamed { from, to } => {
                if let Some(file) = self.seen.remove(from) {
                    self.seen.insert(to.clone(), file);
                    self.naming.push(Name::Is(to.clone(), file));
                    self.naming.push(Name::Gone(from.clone()));
                }
            }
            Did::Told(_) => (),
        }
    }

    fn change(&mut self, file: u64, change: Change) {
        self.changes.entry(self.now[&file]).or_default().push(change);
    }

    fn settle(&mut self, names: Vec<Name>) {
        for name in names {
            match name {
                Name::Is(path, file) => drop(self.names.insert(path, file)),
                Name::Gone(path) => drop(self.names.remove(&path)),
                Name::Folder(path) => drop(self.folders.insert(path)),
            }
        }
    }

    /// The power goes: what is there when it is back, file by file.
    fn after(&self, how: Loses, numbers: &mut Numbers) -> BTreeMap<PathBuf, Vec<u8>> {
        let mut disk = self.clone();
        let kept = match how {
            Loses::All => 0,
            Loses::Nothing => disk.naming.len(),
            // A folder's changes are done in their order.
            Loses::Some => numbers.below(disk.naming.len() + 1),
        };
        let naming = disk.naming[..kept].to_vec();
        disk.settle(naming);
        let root = |folder: &Path| folder.file_name().is_some_and(|name| name == "root");
        let reached = |path: &Path| {
            path.ancestors()
                .skip(1)
                .take_while(|folder| !root(folder))
                .all(|folder| disk.folders.contains(folder))
        };
        let names = disk.names.iter().filter(|(path, _)| reached(path));
        names
            .map(|(path, file)| {
                let mut bytes = disk.files.get(file).cloned().unwrap_or_default();
                for change in disk.changes.get(file).into_iter().flatten() {
                    match how {
                        Loses::All => (),
                        Loses::Nothing => apply(&mut bytes, change),
                        Loses::Some => torn(&mut bytes, change, numbers),
                    }
                }
                (path.clone(), bytes)
            })
            .collect()
    }
}

fn apply(bytes: &mut Vec<u8>, change: &Change) {
    match change {
        Change::Cut(size) => bytes.resize(*size, 0),
        Change::Write(at, new) => {
            let end = at + new.len();
            if bytes.len() < end {
                bytes.resize(end, 0);
            }
            bytes[*at..end].copy_from_slice(new);
        }
    }
}

/// Done, not done, or some of its sectors done.
fn torn(bytes: &mut Vec<u8>, change: &Change, numbers: &mut Numbers) {
    match (numbers.below(3), change) {
        (0, _) => (),
        (1, Change::Write(at, new)) => {
            let mut from = 0;
            while from < new.len() {
                let length = (SECTOR - (at + from) % SECTOR).min(new.len() - from);
                if numbers.below(2) == 0 {
                    apply(bytes, &Change::Write(at + from, new[from..from + length].to_vec()));
                }
                from += length;
            }
        }
        _ => apply(bytes, change),
    }
}

/// What the disk forgets of what was not synced.
#[derive(Debug, Clone, Copy)]
enum Loses {
    All,
    Nothing,
    Some,
}

/// What the work asks of the disk; `None` where it cannot be listened to.
fn listened(folder: &Path) -> Option<Vec<Did>> {
    if !cfg!(target_os = "linux") {
        return None;
    }
    let source = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/hardship/power.c");
    let (ear, log) = (folder.join("power.so"), folder.join("log"));
    let compiler = std::env::var_os("CC").unwrap_or_else(|| "cc".into());
    let compiled = Command::new(compiler)
        .args(["-shared", "-fPIC", "-O1", "-o"])
        .args([ear.as_os_str(), source.as_ref()])
        .arg("-ldl")
        .output()
        .ok()?;
    let wrong = String::from_utf8_lossy(&compiled.stderr);
    assert!(compiled.status.success(), "power.c does not compile: {wrong}");
    let root = folder.join("root");
    std::fs::create_dir(&root).expect("a folder");
    let status = Command::new(std::env::current_exe().expect("own path"))
        .env(CHILD, root.join("home/share/record.sqlite"))
        .env("LD_PRELOAD", &ear)
        .env("SKIMGAUGE_POWER_LOG", &log)
        .env("SKIMGAUGE_POWER_ROOT", &root)
        .stdout(Stdio::null())
        .status()
        .expect("starts");
    assert!(status.success(), "the work was not done: {status}");
    Some(parsed(&std::fs::read(&log).expect("the log")))
}

/// Cuts the power after each thing that was done, in these many ways each.
pub(crate) fn run(ways: u64) -> bool {
    let shm = Path::new("/dev/shm");
    let folder = if shm.is_dir() { tempfile::tempdir_in(shm) } else { tempfile::tempdir() }
        .expect("a folder");
    let Some(done) = listened(folder.path()) else {
        println!("power: left out: it takes Linux and a C compiler");
        return true;
    };
    let syncs = done.iter().filter(|did| matches!(did, Did::Synced { .. })).count();
    assert!(syncs > 40, "{syncs} syncs in {} calls: the ear hears nothing", done.len());
    let place = folder.path().join("back");
    let (told, cuts, wrong) = cut(&done, ways, &place, &mut |what| println!("  {what}"));
    println!(
        "power: {} calls, {syncs} of them syncs, {told} events told to be saved; {cuts} cuts, {wrong} after which something told \
         was not there or the record not sound",
        done.len()
    );
    // Were nothing asked of the disk, or its folders' names not, this would show.
    let heard = |deaf: fn(&Did) -> bool| {
        let done: Vec<Did> = done.iter().filter(|did| !deaf(did)).cloned().collect();
        cut(&done, 1, &place, &mut |_| ()).2 > 0
    };
    let shows = heard(|did| matches!(did, Did::Synced { .. }))
        && heard(|did| matches!(did, Did::SyncedFolder { .. }));
    println!("power: without its syncs, and without those of its folders, losses show: {shows}");
    wrong == 0 && told == 14 && shows
}

/// How many events were told to be saved, how many cuts there were, and after how many something was
/// wrong.
fn cut(done: &[Did], ways: u64, place: &Path, say: &mut impl FnMut(String)) -> (usize, u64, u64) {
    let (mut disk, mut numbers) = (Disk::default(), Numbers(3));
    let mut told: Vec<(String, u32, String)> = Vec::new();
    let (mut cuts, mut wrong) = (0_u64, 0_u64);
    for (moment, did) in done.iter().enumerate() {
        disk.did(did);
        if let Did::Told(line) = did {
            let mut words = line.trim_end().split('\t').map(str::to_owned);
            let mut word = || words.next().expect("three words");
            told.push((word(), word().parse().expect("a place"), word()));
        }
        for way in 0..ways {
            let how = match way {
                0 => Loses::All,
                1 => Loses::Nothing,
                _ => Loses::Some,
            };
            cuts += 1;
            if let Err(what) = back(&disk.after(how, &mut numbers), place, &told) {
                wrong += 1;
                if wrong < 20 {
                    say(format!(
                        "power goes after call {moment} ({}), {how:?}: {what}",
                        short(did)
                    ));
                }
            }
        }
    }
    (told.len(), cuts, wrong)
}

fn short(did: &Did) -> String {
    match did {
        Did::Wrote { file, at, bytes } => format!("{} bytes at {at} of {file}", bytes.len()),
        other => format!("{other:?}"),
    }
}

/// The power is back: the record is opened as ever.
fn back(
    files: &BTreeMap<PathBuf, Vec<u8>>,
    place: &Path,
    told: &[(String, u32, String)],
) -> Result<(), String> {
    let _ = std::fs::remove_dir_all(place);
    std::fs::create_dir(place).map_err(|error| error.to_string())?;
    for (path, bytes) in files {
        let name = path.file_name().expect("a name");
        std::fs::write(place.join(name), bytes).map_err(|error| error.to_string())?;
    }
    let path = place.join("record.sqlite");
    let record = Record::open_or_create(&path).map_err(|error| error.to_string())?;
    let report = verify(&path).map_err(|error| error.to_string())?;
    if let Some(what) = report.first_wrong() {
        return Err(what);
    }
    for (job, seq, hash) in told {
        let events = record.job(job).map_err(|error| format!("{job}: {error}"))?.events;
        let event = events.iter().find(|event| event.seq == *seq);
        let event = event.ok_or_else(|| format!("{job}, event {seq} is lost"))?;
        if event.hash.to_string() != *hash {
            return Err(format!("{job}, event {seq} is another"));
        }
        if let Body::PhotoAttached(photo) = &event.body
            && !matches!(record.photo(photo.sha256), Ok(Some(_)))
        {
            return Err(format!("{job}, the photo of event {seq} is lost"));
        }
    }
    Ok(())
}
