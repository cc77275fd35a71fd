//! `[[station]]`: where the head is clipped; eight round the image unless the file says others.

use skimgauge_model::{Point, Station};
use skimgauge_quantity::Mm;
use skimgauge_site::image::Image;

use super::{Spec, key};
use crate::geometry;
use crate::quantity::Kind;
use crate::table::{Table, Within, refuse_repeated_names};

/// How far from the image's corners the corner stations stand, along the top and the bottom edge,
/// mm: room for the clip and for three feet on the board. Common practice, no source.
pub const CORNER_INSET_MM: f64 = 60.0;

/// Stations closer to a line than this, mm, cannot decide a plane.
pub const LEAST_SPREAD_MM: f64 = 50.0;

/// Two stations closer than this, mm, are one.
pub const LEAST_APART_MM: f64 = 1.0;

/// The `[[station]]` sections.
pub static SPEC: Spec = Spec {
    name: "station",
    many: true,
    set: false,
    about: "Where the head is clipped, in the order in which you walk. Without any, eight stations are taken\n\
            from the image: top left, top, top right, right, bottom right, bottom, bottom left, left; those\n\
            at the corners 60 mm in along the top and bottom edges. If you write any, write all: three or\n\
            more, not in a line.",
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

/// The eight stations of an image, clockwise from the top left as one faces the board: the corners,
/// inset along the top and bottom edges by [`CORNER_INSET_MM`] (a quarter of the width on an image
/// narrower than four insets), and the middles of the edges.
pub fn default_set(image: Image) -> Vec<Station> {
    let half_mm = image.width_mm / 2.0;
    let corner_mm = half_mm - CORNER_INSET_MM.min(image.width_mm / 4.0);
    let low_mm = -image.height_mm;
    [
        ("top left", -corner_mm, 0.0),
        ("top", 0.0, 0.0),
        ("top right", corner_mm, 0.0),
        ("right", half_mm, low_mm / 2.0),
        ("bottom right", corner_mm, low_mm),
        ("bottom", 0.0, low_mm),
        ("bottom left", -corner_mm, low_mm),
        ("left", -half_mm, low_mm / 2.0),
    ]
    .into_iter()
    .map(|(name, x_mm, y_mm)| Station { name: name.to_owned(), at: Point::mm(x_mm, y_mm) })
    .collect()
}

/// The stations in the order of the file, or the default set. Whether they lie on the image can
/// only be told when the image could be read.
pub(crate) fn read(tables: &[Table<'_>], image: Option<Image>) -> Option<Vec<Station>> {
    let Some(last) = tables.last() else {
        return image.map(default_set);
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
            "three or more, or none at all for the eight of the image",
        );
        return None;
    }
    if tables.len() > MOST {
        last.wrong_here(format!("there are {} stations", tables.len()), format!("at most {MOST}"));
        return None;
    }
    let stations = read.into_iter().collect::<Option<Vec<_>>>()?;
    refuse_one_place_twice(tables, &stations);
    let places: Vec<_> = stations.iter().map(|s| [s.at.x.0, s.at.y.0]).collect();
    let spread_mm = geometry::spread_from_a_line_mm(&places);
    if spread_mm < LEAST_SPREAD_MM {
        last.wrong_here(
            format!("the stations stand in a line, to within {spread_mm:.1} mm: they cannot decide a plane"),
            format!("at least one station {LEAST_SPREAD_MM} mm or more off the line of the others"),
        );
    }
    Some(stations)
}

/// More stations than anyone walks.
const MOST: usize = 200;

fn read_one(table: &Table<'_>, image: Option<Image>) -> Option<Station> {
    let within = Within(-20_000.0, 20_000.0);
    let name = table.name("name");
    let x_mm = table.quantity("right", Kind::Length, within);
    let y_mm = table.quantity("up", Kind::Length, within);
    if let Some(image) = image {
        // Half the last digit of sides that are given in whole mm, so that a station on the edge is
        // on the image.
        let slack_mm = 0.5;
        let half_mm = image.width_mm / 2.0;
        if let Some(x_mm) = x_mm.filter(|x_mm| x_mm.abs() > half_mm + slack_mm) {
            table.wrong(
                "right",
                format!("this station is {:.0} mm beside the image", x_mm.abs() - half_mm),
                format!(
                    "from -{half_mm:.0} mm to {half_mm:.0} mm, for this image is {:.0} mm wide",
                    image.width_mm
                ),
            );
        }
        if let Some(y_mm) =
            y_mm.filter(|y_mm| *y_mm > slack_mm || *y_mm < -image.height_mm - slack_mm)
        {
            let wrong = if y_mm > 0.0 {
                format!("this station is {y_mm:.0} mm above the image's top edge")
            } else {
                format!("this station is {:.0} mm below the image", -y_mm - image.height_mm)
            };
            let lowest_mm = -image.height_mm;
            table.wrong(
                "up",
                wrong,
                format!(
                    "from {lowest_mm:.0} mm to 0 mm, for this image is {:.0} mm high",
                    image.height_mm
                ),
            );
        }
    }
    Some(Station { name: name?, at: Point::mm(x_mm?, y_mm?) })
}

fn refuse_one_place_twice(tables: &[Table<'_>], stations: &[Station]) {
    for (i, station) in stations.iter().enumerate() {
        let same = stations[..i].iter().find(|s| s.at.apart(station.at) < Mm(LEAST_APART_MM));
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
            let image = Image { width_mm, height_mm };
            let stations = default_set(image);
            assert_eq!(stations.len(), 8);
            for s in &stations {
                assert!(
                    s.at.x.0.abs() <= width_mm / 2.0 && s.at.y.0 <= 0.0 && s.at.y.0 >= -height_mm,
                    "{s:?}"
                );
            }
            let places: Vec<_> = stations.iter().map(|s| [s.at.x.0, s.at.y.0]).collect();
            assert!(geometry::spread_from_a_line_mm(&places) > LEAST_SPREAD_MM / 2.0);
        }
    }

    #[test]
    fn the_corners_are_inset_along_top_and_bottom() {
        let image = Image { width_mm: 2000.0, height_mm: 1000.0 };
        let top_left = &default_set(image)[0];
        assert_eq!(
            (top_left.name.as_str(), top_left.at.x.0, top_left.at.y.0),
            ("top left", -940.0, 0.0)
        );
    }
}
