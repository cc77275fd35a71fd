//! `[band]`: what the gap, the level and the lean may be.

use skimgauge_model::Bands;

use super::{Spec, key};
use crate::table::{Table, Within};
use skimgauge_metrology::assess::TABLED;
use skimgauge_quantity::{Band, Deg, Mm};

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
    let gap = table.band("gap", Within::mm(0.05, 100.0)).filter(|gap| is_read(table, *gap));
    let tilt = Within(Deg(-10.0), Deg(10.0));
    let level = table.band_if("level", tilt);
    let lean = table.band_if("lean", tilt);
    Some(Bands { gap: gap?, level, lean })
}

/// Whether a head reads both ends: at one that it never reads nobody could tell a gap within from one
/// outside.
fn is_read(table: &Table<'_>, gap: Band<Mm>) -> bool {
    let read = TABLED.contains(gap.low) && TABLED.contains(gap.high);
    if !read {
        let (low, high) = (TABLED.low.0, TABLED.high.0);
        let beyond =
            if gap.low < TABLED.low { format!("under {low}") } else { format!("over {high}") };
        let wrong =
            format!("no head reads a gap {beyond} mm: nobody could tell whether it is within");
        table.wrong("gap", wrong, format!("both ends from {low} mm to {high} mm"));
    }
    read
}
