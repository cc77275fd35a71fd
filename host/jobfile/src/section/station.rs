//! `[[station]]`: where the head stands; eight round the image and, on a board that nobody surveyed,
//! one in its middle, unless the file says others.

use skimgauge_model::{Image, Point, Station};
use skimgauge_quantity::Mm;

use super::{Spec, key};
use crate::geometry;
use crate::table::{Table, Within, refuse_repeated_names};

/// How far from the image's corners the corner stations stand, along the top and the bottom edge:
/// room for the clip and for three feet on the board. Common practice, no source.
const CORNER_INSET: Mm = Mm(60.0);

/// Stations closer to a line than this cannot decide a plane.
const LEAST_SPREAD: Mm = Mm(50.0);

/// Two stations closer than this are one.
const LEAST_APART: Mm = Mm(1.0);

/// The `[[station]]` sections.
pub static SPEC: Spec = Spec {
    name: "station",
    many: true,
    set: false,
    about: "Where the head is clipped, in the order in which you walk. Without any, eight stations are taken\n\
            from the image: top left, top, top right, right, bottom right, bottom, bottom left, left; those\n\
            at the corners 60 mm in along the top and bottom edges. Without a survey the middle is the ninth:\n\
            what a board does there, its edges do not tell. The head is held on the board there by hand.\n\
            If you write any, write all: three or more, not in a line.",
    keys: &[
        key("name", "\"top left\"", "as you would call it out"),
        key(
            "right",
            "\"-950 mm\"",
            "from the middle of the image's top edge; to the left is negative",
        ),
        key("up", "\"0 mm\"", "0 mm is the top edge; on the image it is zero or negative"),
    ],
    inside: &[],
    samples: &[
        &[],
        &[("name", "\"top right\""), ("right", "\"950 mm\"")],
        &[("name", "\"bottom\""), ("right", "\"0 mm\""), ("up", "\"-1265 mm\"")],
    ],
};

/// The stations of an image whose file names none: clockwise from the top left as one faces the board
/// the corners, inset along the top and bottom edges by 60 mm (a quarter of the width on an image
/// narrower than four insets), and the middles of the edges; last its middle, unless the board is
/// surveyed.
pub fn default_set(image: Image, surveyed: bool) -> Vec<Station> {
    let half = image.width / 2.0;
    let corner = half - CORNER_INSET.min(image.width / 4.0);
    let (middle, top, low) = (Mm::ZERO, Mm::ZERO, -image.height);
    [
        ("top left", -corner, top),
        ("top", middle, top),
        ("top right", corner, top),
        ("right", half, low / 2.0),
        ("bottom right", corner, low),
        ("bottom", middle, low),
        ("bottom left", -corner, low),
        ("left", -half, low / 2.0),
        ("middle", middle, low / 2.0),
    ]
    .into_iter()
    .take(if surveyed { 8 } else { 9 })
    .map(|(name, x, y)| Station { name: name.to_owned(), at: Point { x, y } })
    .collect()
}

/// The stations in the order of the file, or the default set. Whether they lie on the image can
/// only be told when the image could be read.
pub(crate) fn read(
    tables: &[Table<'_>],
    image: Option<Image>,
    surveyed: bool,
) -> Option<Vec<Station>> {
    let Some(last) = tables.last() else {
        return image.map(|image| default_set(image, surveyed));
    };
    let read: Vec<_> = tables.iter().map(|table| read_one(table, image)).collect();
    let names = tables
        .iter()
        .zip(&read)
        .filter_map(|(table, one)| one.as_ref().map(|one| (table, one.name.as_str())));
    refuse_repeated_names(names, "name", "station");
    if tables.len() < 3 {
        last.wrong_here(
            format!(
                "{} station{} cannot decide a plane",
                tables.len(),
                if tables.len() == 1 { "" } else { "s" }
            ),
            "three or more, or none at all for those of the image",
        );
        return None;
    }
    if tables.len() > MOST {
        last.wrong_here(format!("there are {} stations", tables.len()), format!("at most {MOST}"));
        return None;
    }
    let stations = read.into_iter().collect::<Option<Vec<_>>>()?;
    refuse_one_place_twice(tables, &stations);
    let places: Vec<_> = stations.iter().map(|s| s.at).collect();
    let spread = geometry::spread_from_a_line(&places);
    if spread < LEAST_SPREAD {
        last.wrong_here(
            format!(
                "the stations stand in a line, to within {:.1} mm: they cannot decide a plane",
                spread.0
            ),
            format!(
                "at least one station {} mm or more off the line of the others",
                LEAST_SPREAD.0
            ),
        );
    }
    Some(stations)
}

/// More stations than anyone walks.
const MOST: usize = 200;

fn read_one(table: &Table<'_>, image: Option<Image>) -> Option<Station> {
    let within = Within::mm(-20_000.0, 20_000.0);
    let name = table.name("name");
    let x = table.quantity("right", within);
    let y = table.quantity("up", within);
    if let Some(image) = image {
        if let Some(Mm(x_mm)) = x {
            refuse_beside(table, x_mm, image.width.0);
        }
        if let Some(Mm(y_mm)) = y {
            refuse_above_or_below(table, y_mm, image.height.0);
        }
    }
    Some(Station { name: name?, at: Point { x: x?, y: y? } })
}

/// Half the last digit of sides that are given in whole mm, so that a station on the edge is on the
/// image.
const SLACK_MM: f64 = 0.5;

fn refuse_beside(table: &Table<'_>, x_mm: f64, width_mm: f64) {
    let half_mm = width_mm / 2.0;
    if x_mm.abs() > half_mm + SLACK_MM {
        table.wrong(
            "right",
            format!("this station is {:.0} mm beside the image", x_mm.abs() - half_mm),
            format!(
                "from -{half_mm:.0} mm to {half_mm:.0} mm, for this image is {width_mm:.0} mm wide"
            ),
        );
    }
}

fn refuse_above_or_below(table: &Table<'_>, y_mm: f64, height_mm: f64) {
    let wrong = match y_mm {
        y_mm if y_mm > SLACK_MM => {
            format!("this station is {y_mm:.0} mm above the image's top edge")
        }
        y_mm if y_mm < -height_mm - SLACK_MM => {
            format!("this station is {:.0} mm below the image", -y_mm - height_mm)
        }
        _ => return,
    };
    let expected =
        format!("from -{height_mm:.0} mm to 0 mm, for this image is {height_mm:.0} mm high");
    table.wrong("up", wrong, expected);
}

fn refuse_one_place_twice(tables: &[Table<'_>], stations: &[Station]) {
    for (i, station) in stations.iter().enumerate() {
        let same = stations[..i].iter().find(|s| s.at.apart(station.at) < LEAST_APART);
        if let Some(same) = same {
            tables[i].wrong_here(
                format!("\"{}\" stands at the same place as \"{}\"", station.name, same.name),
                "a place of its own for each station",
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_default_set_stands_on_the_image_and_decides_a_plane() {
        for (width_mm, height_mm) in
            [(2025.0, 1265.0), (100.0, 100.0), (100.0, 400.0), (20_000.0, 5000.0)]
        {
            let image = Image::mm(width_mm, height_mm);
            let stations = default_set(image, false);
            assert_eq!(stations.len(), 9);
            assert_eq!(default_set(image, true), stations[..8]);
            for s in &stations {
                assert!(
                    s.at.x.0.abs() <= width_mm / 2.0 && s.at.y.0 <= 0.0 && s.at.y.0 >= -height_mm,
                    "{s:?}"
                );
            }
            let places: Vec<_> = stations.iter().map(|s| s.at).collect();
            assert!(geometry::spread_from_a_line(&places) > LEAST_SPREAD / 2.0);
        }
    }

    #[test]
    fn the_corners_are_inset_along_top_and_bottom() {
        let image = Image::mm(2000.0, 1000.0);
        let top_left = &default_set(image, true)[0];
        assert_eq!(
            (top_left.name.as_str(), top_left.at.x.0, top_left.at.y.0),
            ("top left", -940.0, 0.0)
        );
    }
}
