//! One watch at a time on a job: the second is told of the first.

use anyhow::{Context, bail};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::path::{Path, PathBuf};

/// Longest text that is read from another's mark, bytes.
const LONGEST: u64 = 200;

/// The mark of a watch that is at work on a job: a file beside the record, locked. The system lets go of the lock when the
/// program ends, however it ends.
#[derive(Debug)]
pub struct AtWorkMark {
    path: PathBuf,
    // Locked for as long as it is open.
    _file: File,
}

impl AtWorkMark {
    /// Leaves a mark for this job of this record.
    ///
    /// # Errors
    /// Another program is at work on it: which, and what can be done. Or the mark cannot be made.
    pub fn leave(record: &Path, job: &str) -> anyhow::Result<Self> {
        let path = place(record, job);
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).with_context(|| format!("{} cannot be made.", folder.display()))?;
        }
        loop {
            let mut file = OpenOptions::new()
                .read(true)
                .write(true)
                .create(true)
                .truncate(false)
                .open(&path)
                .with_context(|| format!("{} cannot be written, so nothing could be kept.", path.display()))?;
            match file.try_lock() {
                Ok(()) => (),
                Err(TryLockError::WouldBlock) => {
                    let mut who = String::new();
                    // On some systems what is locked cannot be read either.
                    let _ = file.take(LONGEST).read_to_string(&mut who);
                    let who = who.lines().next().unwrap_or_default();
                    let who: String = who.chars().filter(|character| !character.is_control()).collect();
                    let who = if who.is_empty() { who } else { format!(" ({who})") };
                    bail!(
                        "Another skimgauge is at work on the job \"{job}\" in {}{who}. End it first; or look on without keeping \
                         anything: watch --no-record.",
                        record.display()
                    );
                }
                // A drive without locks: there is no telling, and that is no reason to keep nothing.
                Err(TryLockError::Error(_)) => (),
            }
            // Whoever was here before took its mark away between the two steps: then this one marks nothing.
            if !is_still(&file, &path) {
                continue;
            }
            let text = format!("process {}\n", std::process::id());
            let _ = file.set_len(0).and_then(|()| file.rewind()).and_then(|()| file.write_all(text.as_bytes()));
            return Ok(Self { path, _file: file });
        }
    }
}

impl Drop for AtWorkMark {
    /// The mark goes while it is still locked, so that nobody else's is taken away.
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.path);
    }
}

/// Beside the record, one for each job. However the record is called, it is the same place.
fn place(record: &Path, job: &str) -> PathBuf {
    let record = std::fs::canonicalize(record).unwrap_or_else(|_| record.to_owned());
    let mut name = record.file_name().unwrap_or_default().to_owned();
    let key = skimgauge_record::chain::Hash::of(job.as_bytes()).to_string();
    name.push(format!(".{}.at-work", key.get(..12).unwrap_or(&key)));
    record.with_file_name(name)
}

#[cfg(unix)]
fn is_still(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let id = |about: std::fs::Metadata| (about.dev(), about.ino());
    let (open, there) = (file.metadata().map(id), std::fs::metadata(path).map(id));
    matches!((open, there), (Ok(open), Ok(there)) if open == there)
}

/// Elsewhere an open file stays where it is.
#[cfg(not(unix))]
fn is_still(_: &File, _: &Path) -> bool {
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_second_is_told_of_the_first_and_may_begin_when_that_has_ended() {
        let folder = tempfile::tempdir().unwrap();
        let record = folder.path().join("record.sqlite");
        let first = AtWorkMark::leave(&record, "reading room").unwrap();
        let told = AtWorkMark::leave(&record, "reading room").unwrap_err().to_string();
        for part in ["reading room", "process ", "End it first", "--no-record"] {
            assert!(told.contains(part), "{told}");
        }
        // Another job, or another record, is another matter.
        AtWorkMark::leave(&record, "foyer").unwrap();
        AtWorkMark::leave(&folder.path().join("other.sqlite"), "reading room").unwrap();
        drop(first);
        drop(AtWorkMark::leave(&record, "reading room").unwrap());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "nothing is left beside the record");
    }

    #[test]
    fn a_mark_left_by_a_program_that_was_killed_stands_in_nobodys_way() {
        let folder = tempfile::tempdir().unwrap();
        let record = folder.path().join("record.sqlite");
        std::fs::write(place(&record, "reading room"), "process 1\n").unwrap();
        AtWorkMark::leave(&record, "reading room").unwrap();
    }
}
