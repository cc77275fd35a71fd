//! `[band]`: what the gap, the level and the lean may be.

use skimgauge_model::Bands;

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

pub(crate) fn read(table: &Table<'_>) -> Option<Bands> {
    let gap = table.band("gap", Kind::Length, Within(0.05, 100.0));
    let tilt = Within(-10.0, 10.0);
    let level = table.band_if("level", Kind::Angle, tilt);
    let lean = table.band_if("lean", Kind::Angle, tilt);
    Some(Bands { gap: gap?, level, lean })
}
