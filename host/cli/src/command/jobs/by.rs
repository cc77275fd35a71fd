//! Who adds to a job.

use crate::keeping;
use anyhow::{Context, Result};
use skimgauge_jobfile::JobFile;
use skimgauge_record::{Record, Stamp};
use skimgauge_system::access::account;

#[derive(Debug, Clone, clap::Args)]
pub(super) struct By {
    /// Who does this; whoever the job file names without it (`by`), or the account.
    #[arg(long = "by", value_name = "NAME")]
    pub(super) name: Option<String>,
}

/// Whoever does it, and the time.
pub(super) struct Who {
    pub(super) name: String,
    pub(super) stamp: Stamp,
}

impl By {
    /// Whoever is said, or the account.
    pub(super) fn stamp(&self) -> Result<Stamp> {
        Ok(self.or(None)?.stamp)
    }

    /// Whoever is said, the job's own installer, or the account. A record that cannot be read says
    /// why when it is written to.
    pub(super) fn of(&self, job: &str, record: impl FnOnce() -> Result<Record>) -> Result<Who> {
        let Some(record) = record().ok().filter(|_| self.name.is_none()) else {
            return self.or(None);
        };
        // That there is no such job comes before who adds to it.
        let history = record.job(job)?;
        let file = history.job_file().and_then(|text| JobFile::read("", text).ok());
        self.or(file.and_then(|file| file.about.by))
    }

    fn or(&self, named: Option<String>) -> Result<Who> {
        // A blank name that somebody said is refused where it is stamped.
        let unsaid = || named.or_else(account).filter(|name| !name.trim().is_empty());
        let name = self.name.clone().or_else(unsaid).context(
            "Nobody is named: neither the job's own file (by = \"...\") nor this account says who this is. Say it with --by NAME.",
        )?;
        Ok(Who { stamp: keeping::stamp(&name)?, name })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whoever asks has mistyped the job, whoever they are.
    #[test]
    fn a_job_that_is_not_there_is_said_before_who_adds_to_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("r.sqlite");
        let mut record = Record::create(&path).unwrap();
        let stamp = keeping::stamp("R. Oakes").unwrap();
        let id = skimgauge_record::JobId([1; 16]);
        record.open_job(id, "Canteen board", "", &stamp).unwrap();
        drop(record);
        let by = By { name: None };
        let said = by.of("Canteen bord", || Ok(Record::open_read_only(&path)?));
        let said = said.err().expect("taken for a job").to_string();
        assert!(said.contains("no job named") && !said.contains("Nobody"), "{said}");
    }
}
