//! Disks that are full, read-only, or pulled out: a file system in a file of its own, mounted for
//! the purpose.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use skimgauge_record::verify::verify;
use skimgauge_record::{Record, RecordError};

use crate::common::{cut_short, filled, stamp, take};

/// A mounted small file system; unmounted when dropped.
struct Disk {
    at: PathBuf,
    _folder: tempfile::TempDir,
}

fn done(program: &str, words: &[&str]) -> bool {
    let run =
        Command::new(program).args(words).stdout(Stdio::null()).stderr(Stdio::null()).status();
    run.is_ok_and(|status| status.success())
}

impl Disk {
    /// An ext4 file system of 2 MB in a file, or, where loop mounts are not to be had, one in
    /// memory.
    fn mount() -> Option<(Self, &'static str)> {
        let folder = tempfile::tempdir().ok()?;
        let (image, at) = (folder.path().join("image"), folder.path().join("disk"));
        fs::create_dir(&at).ok()?;
        fs::File::create(&image).and_then(|file| file.set_len(2 << 20)).ok()?;
        let (image, place) = (image.to_str()?.to_owned(), at.to_str()?.to_owned());
        let kind = if done("mkfs.ext4", &["-q", "-F", "-O", "^has_journal", &image])
            && done("mount", &["-o", "loop", &image, &place])
        {
            "ext4 in a file"
        } else if done("mount", &["-t", "tmpfs", "-o", "size=2m", "tmpfs", &place]) {
            "tmpfs"
        } else {
            return None;
        };
        Some((Self { at, _folder: folder }, kind))
    }

    fn remount(&self, how: &str) -> bool {
        done("mount", &["-o", &format!("remount,{how}"), &self.at.to_string_lossy()])
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        done("umount", &["-l", &self.at.to_string_lossy()]);
    }
}

/// Writes a file until there is no room for more of it, then leaves so many bytes free.
fn fill_up(path: &Path, free_bytes: u64) {
    let mut file = fs::File::create(path).expect("ballast");
    while file.write_all(&[1; 4096]).and_then(|()| file.sync_all()).is_ok() {}
    let length = file.metadata().expect("length").len();
    file.set_len(length.saturating_sub(free_bytes)).and_then(|()| file.sync_all()).expect("cut");
}

fn sound(path: &Path) -> bool {
    verify(path).is_ok_and(|report| report.sound())
}

/// Says how one case went.
fn case(name: &str, good: bool, detail: &dyn std::fmt::Display) -> bool {
    println!("disk: {name}: {}: {detail}", if good { "as it should" } else { "WRONG" });
    good
}

pub(crate) fn run() -> bool {
    let Some((disk, kind)) = Disk::mount() else {
        println!("disk: left out: no file system can be mounted here (that takes root)");
        return true;
    };
    println!("disk: on {kind}");
    let mut good = full(&disk);
    good &= read_only(&disk);
    good &= interrupted(&disk);
    good &= gone(disk);
    good
}

fn full(disk: &Disk) -> bool {
    let path = disk.at.join("full.sqlite");
    let mut record = filled(&path, false);
    let mut good = true;
    for round in 1..=3 {
        let ballast = disk.at.join("ballast");
        fill_up(&ballast, round * 25_000);
        let before = record.job("Hall 4").expect("shows").events.len();
        let mut taken = 0;
        let error = loop {
            match record.append("Hall 4", &stamp(60), take("top", 3.0)) {
                Ok(_) => taken += 1,
                Err(error) => break error,
            }
        };
        let kept = Record::open_read_only(&path).and_then(|record| record.job("Hall 4"));
        let kept = kept.map_or(0, |job| job.events.len());
        let told = matches!(error, RecordError::DiskFull(_)) && kept == before + taken;
        good &= case(&format!("full, round {round}, after {taken} more takes"), told, &error);
        fs::remove_file(&ballast).expect("removed");
        let again = record.append("Hall 4", &stamp(61), take("top", 3.0)).is_ok() && sound(&path);
        good &= case("room made", again, &"goes on, and is sound");
    }
    good
}

fn read_only(disk: &Disk) -> bool {
    let path = disk.at.join("locked.sqlite");
    let mut open = filled(&path, false);
    // The file system can't change while a file on it is open for writing.
    drop(open);
    if !disk.remount("ro") {
        return case("read-only", false, &"could not be set up");
    }
    let mut good = match Record::open(&path)
        .and_then(|mut record| record.note("Hall 4", &stamp(60), "x"))
    {
        Err(error) => case("read-only, note", matches!(error, RecordError::ReadOnly(_)), &error),
        Ok(_) => case("read-only, note", false, &"was accepted"),
    };
    let listed = Record::open_read_only(&path).and_then(|record| record.job("Hall 3"));
    good &=
        case("read-only, show and verify", listed.is_ok() && sound(&path), &"reads, and is sound");
    match Record::create(&disk.at.join("new.sqlite")) {
        Err(error) => {
            good &=
                case("read-only, new record", matches!(error, RecordError::ReadOnly(_)), &error);
        }
        Ok(_) => good &= case("read-only, new record", false, &"was made"),
    }
    let back = disk.remount("rw");
    open = Record::open(&path).expect("opens");
    good & case("writable again", back && open.note("Hall 4", &stamp(61), "x").is_ok(), &"goes on")
}

fn interrupted(disk: &Disk) -> bool {
    let folder = tempfile::tempdir().expect("a folder");
    let (path, cut) = (folder.path().join("a.sqlite"), disk.at.join("cut.sqlite"));
    filled(&path, false);
    for old in ["full.sqlite", "locked.sqlite"] {
        let _ = fs::remove_file(disk.at.join(old));
    }
    cut_short(&path, &cut);
    let set_up = disk.remount("ro");
    let mut good = match Record::open_read_only(&cut).and_then(|record| record.jobs()) {
        Err(error) => case(
            "interrupted, read-only",
            set_up && matches!(error, RecordError::Interrupted(_)),
            &error,
        ),
        Ok(_) => case("interrupted, read-only", false, &"was read as if nothing had happened"),
    };
    good &= disk.remount("rw");
    good & case("interrupted, writable again", sound(&cut), &"undone, and is sound")
}

fn gone(disk: Disk) -> bool {
    let path = disk.at.join("gone.sqlite");
    let mut record = filled(&path, false);
    let before = record.job("Hall 4").expect("shows").events.len();
    drop(disk);
    let good = match record.note("Hall 4", &stamp(60), "x") {
        Err(error) => case("pulled out", matches!(error, RecordError::Removed(_)), &error),
        Ok(_) => case("pulled out", false, &"was accepted"),
    };
    let folder = tempfile::tempdir().expect("a folder");
    let saved = folder.path().join("saved.sqlite");
    let saved_all = record.save_copy(&saved).is_ok()
        && sound(&saved)
        && Record::open_read_only(&saved)
            .and_then(|record| record.job("Hall 4"))
            .is_ok_and(|job| job.events.len() >= before);
    good & case("pulled out, saved elsewhere", saved_all, &"all there, and sound")
}
