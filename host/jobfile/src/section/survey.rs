//! `[survey]`: the board's own shape, in a file beside.

use serde::{Deserialize, Serialize};

use super::{Spec, key};
use crate::table::Table;

/// The `[survey]` section.
pub static SPEC: Spec = Spec {
    name: "survey",
    many: false,
    set: false,
    about: "The board's own shape, if it was surveyed; else what [board] says is reckoned with.",
    keys: &[key(
        "file",
        "\"survey.csv\"",
        "points as x_mm,y_mm,z_mm; the path counts from this file's folder",
    )],
    inside: &[],
    samples: &[],
};

/// Where the survey's points are.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SurveyFile {
    /// The path as written; a relative one counts from the job file's folder. Whoever reads files
    /// looks whether it is there.
    pub file: String,
}

pub(crate) fn read(table: &Table<'_>) -> Option<SurveyFile> {
    table.text("file").map(|file| SurveyFile { file })
}
