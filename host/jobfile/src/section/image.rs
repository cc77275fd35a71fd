//! `[image]`: the picture on the board, by diagonal and aspect or by width and height.

use skimgauge_model::{Aspect, Image, ImageError};

use super::{Spec, key, spare_key};
use crate::table::{Table, Within};
use skimgauge_quantity::Mm;

/// The `[image]` section.
pub static SPEC: Spec = Spec {
    name: "image",
    many: false,
    set: true,
    about: "The picture on the board, measured on the picture itself. Give its diagonal and aspect,\n\
            or its width and height.\n\
            All places in this file are counted from the middle of its top edge: right as you face the\n\
            board, and up; below the edge, up is negative.",
    keys: &[
        key("diagonal", "\"94 in\"", "corner to corner"),
        key("aspect", "\"16:10\"", "width to height"),
        spare_key("width", "\"2025 mm\"", "in place of diagonal and aspect"),
        spare_key("height", "\"1265 mm\"", "in place of diagonal and aspect"),
    ],
    inside: &[],
    samples: &[],
};

/// A side of an image.
const SIDE: Within<Mm> = Within::mm(100.0, 20_000.0);

pub(crate) fn read(table: &Table<'_>) -> Option<Image> {
    let by_sides = table.has("width") || table.has("height");
    let by_diagonal = table.has("diagonal") || table.has("aspect");
    let width = table.quantity_if("width", SIDE);
    let height = table.quantity_if("height", SIDE);
    let diagonal = table.quantity_if("diagonal", SIDE);
    let aspect = table.text_if("aspect");
    let aspect = aspect.and_then(|text| match text.parse::<Aspect>() {
        Ok(aspect) => Some(aspect),
        Err(error) => {
            table.wrong(
                "aspect",
                error.to_string(),
                "width to height with a colon between, such as \"16:10\", \"16:9\" or \"4:3\"",
            );
            None
        }
    });
    match (by_diagonal, by_sides) {
        (true, true) => {
            let key = if table.has("width") { "width" } else { "height" };
            table.wrong(
                key,
                "the image's size is said in two ways",
                "either diagonal and aspect, or width and height",
            );
            None
        }
        (false, false) => {
            table.wrong_here(
                "[image] does not say how large the image is",
                "diagonal and aspect, or width and height",
            );
            None
        }
        (false, true) => {
            for key in ["width", "height"] {
                if !table.has(key) {
                    table.missing(key);
                }
            }
            Some(Image { width: width?, height: height? })
        }
        (true, false) => {
            for key in ["diagonal", "aspect"] {
                if !table.has(key) {
                    table.missing(key);
                }
            }
            possible(table, "diagonal", aspect?.image(diagonal?))
        }
    }
}

/// The image, or `None` with the reason noted at a key.
fn possible(table: &Table<'_>, key: &str, image: Result<Image, ImageError>) -> Option<Image> {
    image.map_err(|error| table.wrong(key, error.to_string(), "an image that fits a board")).ok()
}
