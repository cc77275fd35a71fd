//! `[band]`: what the gap, the level and the lean may be.

use serde::{Deserialize, Serialize};
use skimgauge_metrology::band::Band;

use super::{Spec, key};
use crate::quantity::Kind;
use crate::table::{Table, Within};

/// The `[band]` section.
pub static SPEC: Spec = Spec {
    name: "band",
    many: false,
    set: true,
    about: "What may be: low, then high. The emitter's maker says how far its plane may be from the board.",
    keys: &[
        key("gap", "[\"1.0 mm\", \"4.0 mm\"]", "touch plane to board face, anywhere on the image"),
        key(
            "level",
            "[\"-0.2 deg\", \"0.2 deg\"]",
            "roll against the image's top edge; not judged if left out",
        ),
        key("lean", "[\"-0.2 deg\", \"0.2 deg\"]", "tilt toward the board; not judged if left out"),
    ],
    inside: &[],
    samples: &[],
};

/// What may be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bands {
    /// Gap between touch plane and board face, mm; both ends above zero, for the plane may never
    /// touch the board.
    pub gap_mm: Band,
    /// Roll in the board's plane against the image's top edge, degrees; `None`: not judged.
    pub level_deg: Option<Band>,
    /// Tilt toward the board, degrees; `None`: not judged.
    pub lean_deg: Option<Band>,
}

pub(crate) fn read(table: &Table<'_>) -> Option<Bands> {
    let gap_mm = table.band("gap", Kind::Length, Within(0.05, 100.0));
    let tilt = Within(-10.0, 10.0);
    let level_deg = table.band_if("level", Kind::Angle, tilt);
    let lean_deg = table.band_if("lean", Kind::Angle, tilt);
    Some(Bands { gap_mm: gap_mm?, level_deg, lean_deg })
}
