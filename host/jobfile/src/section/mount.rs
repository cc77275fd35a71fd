//! `[mount]`: plates, holes and where they go for each image size, from the mount's own sheet. For
//! set-out.

use skimgauge_model::Aspect;
use skimgauge_quantity::count;
use skimgauge_site::fixings::practice::PlateRole;
use skimgauge_site::setout::mount::{Hole, ListedSize, MountSheet, Plate, PlateOffset};

use super::{Spec, key, spare_key};
use crate::table::{Table, Within, refuse_repeated_names};

/// The `[mount]` section.
pub static SPEC: Spec = Spec {
    name: "mount",
    many: false,
    set: false,
    about: "The mount, for set-out, from its maker's sheet: its plates, and where they go for each image\n\
            size that the sheet lists. A size between two listed ones is worked out and said to be so.",
    keys: &[
        key("source", "\"sheet and edition\"", "where these figures were read").left_open(),
        spare_key("aspect", "\"16:10\"", "the aspect that the sheet is made out for"),
        spare_key(
            "throw",
            "0.27",
            "distance over image width, if the sheet says it; without quotes",
        ),
    ],
    inside: &[&PLATE, &SIZE],
    samples: &[],
};

/// The `[[mount.plate]]` sections.
pub static PLATE: Spec = Spec {
    name: "mount.plate",
    many: true,
    set: false,
    about: "The plates. Holes are places from the plate's middle, right and up; they are called A, B, C\n\
            in the order given here.",
    keys: &[
        key("name", "\"centre plate\"", "as you would call it"),
        key("role", "\"centre\"", "\"centre\" carries the arm, \"side\" steadies, or \"other\""),
        key("width", "\"300 mm\"", "of the plate"),
        key("height", "\"340 mm\"", "of the plate"),
        key(
            "holes",
            "[[\"-100 mm\", \"145 mm\"], [\"100 mm\", \"145 mm\"], [\"-100 mm\", \"-145 mm\"], [\"100 mm\", \"-145 mm\"]]",
            "from the plate's middle: right, up",
        ),
        key("drill", "\"10 mm\"", "diameter to drill, by the anchor's approval"),
    ],
    inside: &[],
    samples: &[],
};

/// The `[[mount.size]]` sections.
pub static SIZE: Spec = Spec {
    name: "mount.size",
    many: true,
    set: false,
    about: "The sizes that the sheet lists.",
    keys: &[
        key("image_width", "\"1880 mm\"", "the image's width"),
        key("plates", "[[\"0 mm\", \"350 mm\"]]", "each plate's middle, in their order: right, up"),
        spare_key("arm", "\"400 mm\"", "how far the arm is drawn out"),
    ],
    inside: &[],
    samples: &[&[], &[("image_width", "\"2155 mm\""), ("plates", "[[\"0 mm\", \"398 mm\"]]")]],
};

pub(crate) fn read(table: &Table<'_>) -> Option<MountSheet> {
    let source = table.text("source");
    let aspect = table.text_if("aspect").and_then(|text| match text.parse::<Aspect>() {
        Ok(aspect) => Some(aspect),
        Err(error) => {
            table.wrong("aspect", error.to_string(), "such as \"16:10\"");
            None
        }
    });
    let throw_ratio = table.ratio_if("throw", Within(0.05, 10.0));
    let plate_tables = table.tables(&PLATE);
    let read_plates: Vec<_> = plate_tables.iter().map(read_plate).collect();
    let names = plate_tables.iter().zip(&read_plates);
    refuse_repeated_names(
        names.filter_map(|(table, plate)| plate.as_ref().map(|plate| (table, plate.name.as_str()))),
        "name",
        "plate",
    );
    let plate_names: Option<Vec<String>> =
        read_plates.iter().map(|plate| plate.as_ref().map(|plate| plate.name.clone())).collect();
    let sizes: Vec<_> =
        table.tables(&SIZE).iter().map(|size| read_size(size, plate_names.as_deref())).collect();
    if plate_tables.is_empty() {
        table.missing_section(&PLATE);
    }
    if sizes.is_empty() {
        table.missing_section(&SIZE);
    }
    let sheet = MountSheet {
        source: source?,
        aspect,
        throw_ratio,
        plates: read_plates.into_iter().collect::<Option<_>>()?,
        sizes: sizes.into_iter().collect::<Option<_>>()?,
    };
    if !plate_tables.is_empty()
        && !sheet.sizes.is_empty()
        && let Err(error) = sheet.check()
    {
        table.wrong_here(error.to_string(), "the figures of the maker's sheet");
    }
    Some(sheet)
}

/// Words for the plates of a bracket.
pub(crate) const ROLES: [(&str, PlateRole); 3] =
    [("centre", PlateRole::Centre), ("side", PlateRole::Side), ("other", PlateRole::Other)];

fn read_plate(table: &Table<'_>) -> Option<Plate> {
    let name = table.name("name");
    let role = table.choice("role", &ROLES);
    let width_mm = table.mm("width", 20.0, 5000.0);
    let height_mm = table.mm("height", 20.0, 5000.0);
    let holes = table.points("holes", Within::mm(-2500.0, 2500.0));
    let diameter_mm = table.mm("drill", 1.0, 60.0);
    let holes = holes?.into_iter().enumerate().map(|(index, at)| {
        let name = letter(index);
        diameter_mm.map(|diameter_mm| Hole { name, x_mm: at.x.0, y_mm: at.y.0, diameter_mm })
    });
    Some(Plate {
        name: name?,
        role: role?,
        width_mm: width_mm?,
        height_mm: height_mm?,
        holes: holes.collect::<Option<_>>()?,
    })
}

fn read_size(table: &Table<'_>, plate_names: Option<&[String]>) -> Option<ListedSize> {
    let image_width_mm = table.mm("image_width", 100.0, 20_000.0);
    let places = table.points("plates", Within::mm(-10_000.0, 10_000.0));
    let arm_mm = table.mm_if("arm", 0.0, 10_000.0);
    let (places, plate_names) = (places?, plate_names?);
    if places.len() != plate_names.len() {
        table.wrong(
            "plates",
            format!(
                "expected as many places as plates; here: {} for {}",
                count(places.len(), "place"),
                count(plate_names.len(), "plate")
            ),
            format!("one [right, up] for each of: {}", plate_names.join(", ")),
        );
        return None;
    }
    let plates = places.into_iter().zip(plate_names);
    Some(ListedSize {
        image_width_mm: image_width_mm?,
        plates: plates
            .map(|(at, plate)| PlateOffset { plate: plate.clone(), x_mm: at.x.0, y_mm: at.y.0 })
            .collect(),
        arm_mm,
    })
}

/// A, B, ... Z, AA, AB, ...
pub(crate) fn letter(index: usize) -> String {
    let last = char::from(b'A' + (index % 26) as u8);
    if index < 26 { last.to_string() } else { format!("{}{last}", letter(index / 26 - 1)) }
}

#[cfg(test)]
mod tests {
    use super::letter;

    #[test]
    fn holes_are_lettered_without_end() {
        let letters: Vec<_> = [0, 25, 26, 51, 52, 701, 702].into_iter().map(letter).collect();
        assert_eq!(letters, ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]);
    }
}
