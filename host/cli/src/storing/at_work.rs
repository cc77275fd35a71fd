//! One watch at a time on a job: the second is told of the first.

use anyhow::bail;
use skimgauge_record::chain::Hash;
use skimgauge_system::mark::{Mark, NotMarked};
use skimgauge_system::names::is_device;
use std::path::{Path, PathBuf};

/// The mark of a watch that is at work on a job, beside the record.
#[derive(Debug)]
pub struct AtWorkMark {
    _mark: Mark,
}

impl AtWorkMark {
    /// Leaves a mark for this job of this record.
    ///
    /// # Errors
    /// Another program is at work on it: which, and what can be done. Or the mark cannot be made.
    pub fn leave(record: &Path, job: &str) -> anyhow::Result<Self> {
        if is_device(record) {
            bail!("{} is a device, and no record: choose another name.", record.display());
        }
        match Mark::leave(&place(record, job)) {
            Ok(mark) => Ok(Self { _mark: mark }),
            Err(NotMarked::Taken(who)) => {
                let who = who.map_or_else(String::new, |who| format!(" ({who})"));
                bail!(
                    "Another skimgauge is at work on the job \"{job}\" in {}{who}. End it first; or look on without keeping \
                     anything: watch --no-record.",
                    record.display()
                )
            }
            Err(NotMarked::System { path, source }) => {
                let cannot =
                    format!("{} cannot be written, so nothing could be kept.", path.display());
                Err(anyhow::Error::new(source).context(cannot))
            }
        }
    }
}

/// Beside the record, one for each job. However the record is called, it is the same place.
fn place(record: &Path, job: &str) -> PathBuf {
    let record = std::fs::canonicalize(record).unwrap_or_else(|_| record.to_owned());
    let mut name = record.file_name().unwrap_or_default().to_owned();
    let key = Hash::of(job.as_bytes()).to_string();
    name.push(format!(".{}.at-work", key.get(..12).unwrap_or(&key)));
    record.with_file_name(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_second_is_told_of_the_first() {
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
        assert_eq!(
            std::fs::read_dir(folder.path()).unwrap().count(),
            0,
            "nothing is left beside the record"
        );
    }
}
