//! `[tape]` and `[corners]`: the image's corners as found, by lengths between them or against their
//! marks. For square.

use serde::{Deserialize, Serialize};
use skimgauge_site::square::quadrilateral::{CORNERS, Span};
use skimgauge_site::square::tape::TapeReading;
use skimgauge_site::square::{CornerOffset, Measured, SideBow, TopEdgeRise};

use super::{Spec, key, spare_key};
use crate::table::{Table, Within};
use skimgauge_quantity::Mm;

/// The `[tape]` section.
pub static SPEC: Spec = Spec {
    name: "tape",
    many: false,
    set: false,
    about: "The image's corners by tape: four sides and two diagonals, one more than needed, so that the\n\
            tape checks itself. On the light, not on the board's frame.",
    keys: &[
        key("top", "\"2024 mm\"", "top left to top right"),
        key("right", "\"1266 mm\"", "top right to bottom right"),
        key("bottom", "\"2039 mm\"", "bottom right to bottom left"),
        key("left", "\"1265 mm\"", "bottom left to top left"),
        key("falling", "\"2394 mm\"", "diagonal from top left to bottom right"),
        spare_key(
            "rising",
            "\"2393 mm\"",
            "diagonal from top right to bottom left: the one that checks",
        ),
        key("uncertainty", "\"1 mm\"", "of one length, standard"),
        spare_key("rise", "\"1.5 mm\"", "by a level: top edge's right end above its left end"),
        spare_key("rise_uncertainty", "\"0.5 mm\"", "of that, standard"),
    ],
    inside: &[&AGAIN, &BOW],
    samples: &[],
};

/// The `[[tape.again]]` sections.
pub static AGAIN: Spec = Spec {
    name: "tape.again",
    many: true,
    set: false,
    about: "A length measured once more: two readings of one length tell which of six is wrong.",
    keys: &[
        key("span", "\"top\"", "top, right, bottom, left, falling or rising"),
        key("length", "\"2025 mm\"", "what the tape said this time"),
    ],
    inside: &[],
    samples: &[],
};

/// The `[[tape.bow]]` sections.
pub static BOW: Spec = Spec {
    name: "tape.bow",
    many: true,
    set: false,
    about: "A side against a string stretched between its corners.",
    keys: &[
        key("side", "\"bottom\"", "top, right, bottom or left"),
        key("outward", "\"-2 mm\"", "its middle off the string; into the image is negative"),
    ],
    inside: &[],
    samples: &[],
};

/// The `[corners]` section.
pub static CORNERS_SPEC: Spec = Spec {
    name: "corners",
    many: false,
    set: false,
    about: "The image's corners against their marks on the board: how far right, how far up. Tells place\n\
            and rotation too, which a tape alone does not; goes before [tape] where both are given, and the two\n\
            have to agree.",
    keys: &[
        key("top_left", "[\"0 mm\", \"0 mm\"]", "right, up of its mark"),
        key("top_right", "[\"-1 mm\", \"1 mm\"]", "right, up of its mark"),
        key("bottom_right", "[\"8 mm\", \"1 mm\"]", "right, up of its mark"),
        key("bottom_left", "[\"-7 mm\", \"0 mm\"]", "right, up of its mark"),
        key("uncertainty", "\"0.5 mm\"", "of one figure, standard"),
    ],
    inside: &[],
    samples: &[],
};

/// What a tape said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Taped {
    /// The lengths.
    pub measured: Measured,
    /// Sides against a string.
    pub bows: Vec<SideBow>,
}

const SPANS: [(&str, Span); 6] = [
    ("top", Span::Top),
    ("right", Span::Right),
    ("bottom", Span::Bottom),
    ("left", Span::Left),
    ("falling", Span::FallingDiagonal),
    ("rising", Span::RisingDiagonal),
];

const LENGTH: Within<Mm> = Within::mm(50.0, 40_000.0);
const UNCERTAINTY: Within<Mm> = Within::mm(0.01, 100.0);

pub(crate) fn read(table: &Table<'_>) -> Option<Taped> {
    let mut readings: Vec<TapeReading> = Vec::new();
    let mut left_out = Vec::new();
    for (key, span) in SPANS {
        match table.quantity_if(key, LENGTH) {
            Some(Mm(length_mm)) => readings.push(TapeReading { span, length_mm }),
            None if !table.has(key) => left_out.push(key),
            None => {}
        }
    }
    if left_out.len() > 1 {
        let missing = left_out.join(", ");
        table.wrong_here(
            format!("[tape] lacks {missing}"),
            "six lengths; five of them at least, and then nothing checks the tape",
        );
    }
    let u = table.quantity("uncertainty", UNCERTAINTY);
    let rise_mm = table.mm_if("rise", -5000.0, 5000.0);
    let rise_u = table.quantity_if("rise_uncertainty", UNCERTAINTY);
    if table.has("rise") && !table.has("rise_uncertainty") {
        table.missing("rise_uncertainty");
    }
    let again: Vec<_> = table.tables(&AGAIN).iter().map(read_again).collect();
    readings.extend(again.into_iter().collect::<Option<Vec<_>>>()?);
    let bows: Vec<_> = table.tables(&BOW).iter().map(read_bow).collect();
    let rise = rise_mm.zip(rise_u).map(|(rise_mm, Mm(u_mm))| TopEdgeRise { rise_mm, u_mm });
    Some(Taped {
        measured: Measured::Tape { readings, u_mm: u?.0, rise },
        bows: bows.into_iter().collect::<Option<_>>()?,
    })
}

fn read_again(table: &Table<'_>) -> Option<TapeReading> {
    let span = table.choice("span", &SPANS);
    let length = table.quantity("length", LENGTH);
    Some(TapeReading { span: span?, length_mm: length?.0 })
}

fn read_bow(table: &Table<'_>) -> Option<SideBow> {
    let side = table.choice("side", &SPANS[..4]);
    let outward_mm = table.mm("outward", -200.0, 200.0);
    Some(SideBow { side: side?, outward_mm: outward_mm? })
}

pub(crate) fn read_corners(table: &Table<'_>) -> Option<Measured> {
    let keys = ["top_left", "top_right", "bottom_right", "bottom_left"];
    let corners: Vec<_> = keys
        .into_iter()
        .zip(CORNERS)
        .map(|(key, corner)| {
            let point = table.point_if(key, Within::mm(-5000.0, 5000.0));
            if point.is_none() && !table.has(key) {
                table.missing(key);
            }
            point.map(|off| CornerOffset {
                corner: corner.to_owned(),
                right_mm: off.x.0,
                up_mm: off.y.0,
            })
        })
        .collect();
    let u = table.quantity("uncertainty", UNCERTAINTY);
    Some(Measured::Offsets { corners: corners.into_iter().collect::<Option<_>>()?, u_mm: u?.0 })
}
