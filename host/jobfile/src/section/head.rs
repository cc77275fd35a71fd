//! `[head]`: which head this job is measured with.

use serde::{Deserialize, Serialize};

use super::{Spec, key};
use crate::table::Table;

/// The `[head]` section.
pub static SPEC: Spec = Spec {
    name: "head",
    many: false,
    set: false,
    about: "The head to measure with, if it must be one in particular; `skimgauge ports` lists them.",
    keys: &[key("serial", "\"SG-0007\"", "its serial number, as `skimgauge ports` shows it")
        .left_open()],
    inside: &[],
    samples: &[],
};

/// The head that this job asks for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HeadChoice {
    /// Its serial number, as it tells it itself.
    pub serial: String,
}

pub(crate) fn read(table: &Table<'_>) -> Option<HeadChoice> {
    table.name("serial").map(|serial| HeadChoice { serial })
}
