use super::*;
use crate::section::{key, spare_key};
use skimgauge_model::Point;
use skimgauge_quantity::Mm;

static SIZE: Spec = Spec {
    name: "mount.size",
    many: true,
    set: true,
    about: "",
    keys: &[key("diagonal", "\"94 in\"", "")],
    inside: &[],
    samples: &[],
};

static MOUNT: Spec = Spec {
    name: "mount",
    many: false,
    set: true,
    about: "",
    keys: &[
        spare_key("holes", "[[\"-60 mm\", \"0 mm\"]]", ""),
        spare_key("middle", "[\"0 mm\", \"20 mm\"]", ""),
        spare_key("hinged", "false", ""),
    ],
    inside: &[&SIZE],
    samples: &[],
};

const WALL: Within<Mm> = Within::mm(-1000.0, 1000.0);

/// What `read` makes of a table's text, and how many problems it noted.
fn reading<T>(text: &str, read: impl FnOnce(&Table<'_>) -> T) -> (T, usize) {
    let parsed = DeTable::parse(text).unwrap();
    let findings = Findings::new(text);
    let value = read(&Table::open(&MOUNT, parsed.get_ref(), 0..0, &findings));
    (value, findings.into_errors("t", false).problems.len())
}

#[test]
fn places_and_lists_of_places() {
    let points = |text: &str| reading(text, |table| table.points_if("holes", WALL));
    assert_eq!(
        points("holes = [['-60 mm', '0 mm'], ['6 cm', '1 in']]"),
        (Some(vec![Point::mm(-60.0, 0.0), Point::mm(60.0, 25.4)]), 0)
    );
    assert_eq!(points("holes = []"), (Some(vec![]), 0));
    assert_eq!(points(""), (None, 0));
    assert_eq!(points("holes = ['1 mm', '2 mm']"), (None, 2));
    assert_eq!(points("holes = [['1 mm', '2'], [3, '4 mm'], ['1 mm']]"), (None, 3));
    assert_eq!(points("holes = '1 mm'"), (None, 1));
    let point = |text: &str| reading(text, |table| table.point_if("middle", WALL));
    assert_eq!(point("middle = ['0 mm', '20 mm']"), (Some(Point::mm(0.0, 20.0)), 0));
    assert_eq!(point("middle = ['0 mm', '20 m']"), (None, 1));
    assert_eq!(point("middle = [0, 20]"), (None, 2));
}

#[test]
fn flags() {
    let flag = |text: &str| reading(text, |table| table.flag_if("hinged"));
    assert_eq!(flag("hinged = true"), (Some(true), 0));
    assert_eq!(flag("hinged = 'yes'"), (None, 1));
    assert_eq!(flag(""), (None, 0));
}

#[test]
fn sections_inside_a_section() {
    let sizes = |text: &str| {
        reading(text, |table| {
            let read = |size: &Table<'_>| size.mm("diagonal", 0.0, 5000.0);
            table.tables(&SIZE).iter().map(read).collect::<Vec<_>>()
        })
    };
    assert_eq!(
        sizes("[[size]]\ndiagonal = '1 m'\n[[size]]\ndiagonal = '2 m'"),
        (vec![Some(1000.0), Some(2000.0)], 0)
    );
    assert_eq!(sizes("[[size]]\n[[size]]\ndiagnal = '2 m'"), (vec![None, None], 3));
    assert_eq!(sizes("size = 3"), (vec![], 1));
    assert_eq!(sizes("size = [3, {diagonal = '1 m'}]"), (vec![Some(1000.0)], 1));
    assert_eq!(sizes("[size]\ndiagonal = '1 m'"), (vec![], 1));
}

#[test]
fn the_nearest_key_counts_inner_sections() {
    let text = "sise = 1";
    let parsed = DeTable::parse(text).unwrap();
    let findings = Findings::new(text);
    Table::open(&MOUNT, parsed.get_ref(), 0..0, &findings);
    let errors = findings.into_errors("t", false);
    assert!(errors.problems[0].expected.contains("did you mean `size`?"), "{errors}");
}
