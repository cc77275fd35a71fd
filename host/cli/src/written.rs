//! The files that this program writes, and how each is known again: by what stands in it, never by
//! its name.

use crate::jobs;
use skimgauge_jobfile::Job;
use skimgauge_system::output::{Kind, Outputs, Replace};
use std::path::{Path, PathBuf};

/// Where a kind's mark has to stand, bytes from the beginning.
const NEAR_THE_START: usize = 1_024;

/// A handover as HTML: its head names the program that made it.
pub const PAGE: Kind = Kind { name: "a handover page", is: |bytes| is_page_of(bytes, "skimgauge") };

/// A head's birth certificate as a page.
pub const BIRTH_PAGE: Kind =
    Kind { name: "a birth certificate", is: |bytes| is_page_of(bytes, "skimgauge birth") };

/// The same for programs.
pub const BIRTH: Kind = Kind {
    name: "a birth certificate as JSON",
    is: |bytes| {
        serde_json::from_slice::<serde_json::Value>(bytes)
            .is_ok_and(|certificate| certificate["kind"] == "birth")
    },
};

/// What the jobs teach, as a page: its head names the program that made it.
pub const LESSONS: Kind = Kind {
    name: "a page of what the jobs teach",
    is: |bytes| is_page_of(bytes, "skimgauge lessons"),
};

/// A page whose head names this maker.
fn is_page_of(bytes: &[u8], maker: &str) -> bool {
    let start = start(bytes);
    start.starts_with("<!DOCTYPE html>")
        && start.contains(&format!(r#"<meta name="generator" content="{maker}">"#))
}

/// A PDF whose description names this program as its creator (ISO 32000-1, 14.3.3).
pub const PDF: Kind = Kind {
    name: "a PDF",
    is: |bytes| {
        bytes.starts_with(b"%PDF-") && bytes.windows(CREATOR.len()).any(|part| part == CREATOR)
    },
};
const CREATOR: &[u8] = b"/Creator(skimgauge)";

/// A drawing as SVG: its first element says who drew it.
pub const DRAWING: Kind = Kind {
    name: "a drawing",
    is: |bytes| {
        let start = start(bytes);
        start.starts_with("<svg ") && start.split('>').next().is_some_and(|svg| svg.contains(DRAWN))
    },
};

const DRAWN: &str = r#"data-drawn-by="skimgauge""#;

/// A table of surveyed points.
pub const POINTS: Kind = Kind {
    name: "a table of surveyed points",
    // Above it may stand what the points were read of.
    is: |bytes| {
        let begins = start(bytes);
        let header = begins.lines().find(|line| !line.starts_with('#'));
        matches!(header, Some(skimgauge_tables::SURVEY | skimgauge_tables::SURVEY_PRACTISED))
    },
};

/// A job's takes as a table.
pub const TAKES: Kind =
    Kind { name: "a table of takes", is: |bytes| start(bytes).starts_with("seq,at,who,stands,") };

/// A job as JSON.
pub const JOB_JSON: Kind = Kind {
    name: "a job as JSON",
    is: |bytes| {
        start(bytes)
            .trim_start_matches(['{', '\n', ' '])
            .starts_with(r#""format": "skimgauge job""#)
    },
};

/// A job file to begin with.
pub const JOB_FILE: Kind = Kind { name: "a job file", is: |bytes| start(bytes).starts_with('#') };

/// A recording.
pub const RECORDING: Kind = Kind {
    name: "a recording",
    is: |bytes| bytes.starts_with(skimgauge_session::recording::MAGIC),
};

/// Firmware for a boot loader, or the beginning of it.
pub const UF2: Kind =
    Kind { name: "a firmware file", is: |bytes| bytes.is_empty() || bytes.starts_with(b"UF2\n") };

/// A file that nothing could be written to.
pub const NOTHING: Kind = Kind { name: "an empty file", is: <[u8]>::is_empty };

/// A touch proof as it was made.
pub const PROOF: Kind = Kind {
    name: "a touch proof",
    is: |bytes| serde_json::from_slice::<skimgauge_proof::raw::Proof>(bytes).is_ok(),
};

/// A zeroing that was put aside.
pub const ZEROING: Kind = Kind {
    name: "a zeroing that was put aside",
    is: |bytes| serde_json::from_slice::<skimgauge_metrology::zero::Session>(bytes).is_ok(),
};

fn start(bytes: &[u8]) -> std::borrow::Cow<'_, str> {
    String::from_utf8_lossy(&bytes[..bytes.len().min(NEAR_THE_START)])
}

/// Spares a record, and what SQLite keeps beside it while it writes.
pub fn sparing_record(outputs: Outputs, record: &Path) -> Outputs {
    ["-journal", "-wal", "-shm"].into_iter().fold(
        outputs.sparing(record, "the record"),
        |outputs, ending| {
            let mut name = record.as_os_str().to_owned();
            name.push(ending);
            outputs.sparing(&PathBuf::from(name), "the record's own")
        },
    )
}

/// The files of a command that reads this job file and keeps in this record, if it does.
pub fn outputs<B>(replace: Replace, file: &Path, job: &Job<B>, record: Option<&Path>) -> Outputs {
    let mut outputs = Outputs::new(replace).sparing(file, "the job file");
    if let Some(survey) = &job.survey {
        outputs = outputs.sparing(&jobs::beside(file, &survey.file), "the job's survey");
    }
    match record {
        Some(record) => sparing_record(outputs, record),
        None => outputs,
    }
}
