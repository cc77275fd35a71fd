//! `[emitter]`: the unit that throws the touch plane, and where it hangs.

use serde::{Deserialize, Serialize};
use skimgauge_site::setout::EmitterPlace;

use super::{Spec, key, spare_key};
use crate::table::{Table, Within};
use skimgauge_quantity::{Kind, Style};

/// The `[emitter]` section.
pub static SPEC: Spec = Spec {
    name: "emitter",
    many: false,
    set: true,
    about: "The unit that throws the touch plane. Its maker's instructions say where it may hang; they go first.",
    keys: &[
        spare_key("model", "\"maker and number\"", "as printed on its label").left_open(),
        key(
            "above_top",
            "\"80 mm\"",
            "from the image's top edge up to its light; often 50 mm to 100 mm",
        ),
        spare_key("right", "\"0 mm\"", "its light, right of the image's middle; 0 mm if left out"),
        spare_key(
            "lower_edge",
            "\"55 mm\"",
            "from the image's top edge up to its body's lower edge; for set-out",
        ),
        spare_key("body_right", "\"0 mm\"", "its body's middle; where its light is if left out"),
        spare_key("width", "\"220 mm\"", "of its body; for set-out"),
        spare_key("height", "\"60 mm\"", "of its body; for set-out"),
        spare_key("weight", "\"1.2 kg\"", "from its maker's sheet"),
    ],
    inside: &[],
    samples: &[],
};

/// What throws the touch plane, and where it hangs.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Emitter {
    /// As the user calls it.
    pub model: Option<String>,
    /// Its light above the image's top edge, mm.
    pub above_top_mm: Option<f64>,
    /// Its light right of the image's middle, mm.
    pub right_mm: f64,
    /// Its body's lower edge above the image's top edge, mm; below zero is under it.
    #[serde(default)]
    pub lower_edge_mm: Option<f64>,
    /// Its body's middle right of the image's middle, mm.
    #[serde(default)]
    pub body_right_mm: Option<f64>,
    /// Width of its body, mm.
    pub width_mm: Option<f64>,
    /// Height of its body, mm.
    pub height_mm: Option<f64>,
    /// Its weight, kg.
    pub weight_kg: Option<f64>,
}

impl Emitter {
    /// Light and body, for set-out.
    pub fn place(&self) -> EmitterPlace {
        EmitterPlace {
            above_top_mm: self.above_top_mm,
            right_mm: self.right_mm,
            lower_edge_mm: self.lower_edge_mm,
            body_right_mm: self.body_right_mm,
            width_mm: self.width_mm,
            height_mm: self.height_mm,
        }
    }
}

pub(crate) fn read(table: &Table<'_>) -> Option<Emitter> {
    let emitter = Emitter {
        model: table.text_if("model"),
        above_top_mm: table.mm_if("above_top", 0.0, 2000.0),
        right_mm: table.mm_if("right", -5000.0, 5000.0).unwrap_or(0.0),
        lower_edge_mm: table.mm_if("lower_edge", -500.0, 2000.0),
        body_right_mm: table.mm_if("body_right", -5000.0, 5000.0),
        width_mm: table.mm_if("width", 10.0, 3000.0),
        height_mm: table.mm_if("height", 5.0, 1000.0),
        weight_kg: table.number_if("weight", Kind::Mass, Within(0.01, 100.0)),
    };
    if let Some(beyond) = emitter.place().light_off_body() {
        table.wrong(
            "above_top",
            format!("the light would lie {}", beyond.text(Style::default())),
            "the light within the body: lower_edge (or body_right) and above_top (or right) measured again, with width and height",
        );
    }
    Some(emitter)
}
