//! `[[adjuster]]`: the emitter's three screws.

use skimgauge_model::{Adjuster, Point, Sense};
use skimgauge_quantity::{Mm, Turns};

use super::{Spec, key, spare_key};
use crate::geometry;
use crate::quantity::Kind;
use crate::table::{Table, Within, refuse_repeated_names};
use crate::thread;

/// Three points closer to a line than this, mm, carry no plane that a screw could set: the error of
/// where they are (about 1.5 mm by tape) would be a large part of their leverage.
pub const LEAST_SPREAD_MM: f64 = 5.0;

/// The `[[adjuster]]` sections.
pub static SPEC: Spec = Spec {
    name: "adjuster",
    many: true,
    set: true,
    about: "The emitter's three screws, each named by where it sits. Measure their places, and try each by\n\
            hand once: gently, and never past the first resistance.",
    keys: &[
        key("name", "\"left\"", "as you would call it out"),
        key(
            "right",
            "\"-100 mm\"",
            "from the middle of the image's top edge; to the left is negative",
        ),
        key("up", "\"80 mm\"", "above the image's top edge"),
        key("pitch", "\"0.5 mm\"", "how far one whole turn moves it"),
        spare_key("thread", "\"M3\"", "in place of pitch: M2.5 to M12, coarse"),
        key(
            "clockwise",
            "\"out\"",
            "a clockwise turn moves the emitter \"out\" from the wall, or \"in\"",
        ),
        key("travel_clockwise", "\"6 turns\"", "turns left before it stops, clockwise"),
        key("travel_anticlockwise", "\"6 turns\"", "turns left before it stops or comes out"),
    ],
    inside: &[],
    samples: &[
        &[],
        &[("name", "\"right\""), ("right", "\"100 mm\"")],
        &[("name", "\"upper\""), ("right", "\"0 mm\""), ("up", "\"140 mm\"")],
    ],
};

/// The three adjusters in the order of the file, or none if it has none.
pub(crate) fn read(tables: &[Table<'_>]) -> Option<Vec<Adjuster>> {
    let read: Vec<_> = tables.iter().map(read_one).collect();
    let names = tables
        .iter()
        .zip(&read)
        .filter_map(|(table, one)| one.as_ref().map(|one| (table, one.name.as_str())));
    refuse_repeated_names(names, "name", "adjuster");
    match tables {
        [] => return Some(Vec::new()),
        [_, _, last] => {
            let adjusters = read.into_iter().collect::<Option<Vec<_>>>()?;
            let places: Vec<_> = adjusters.iter().map(|a| [a.at.x.0, a.at.y.0]).collect();
            let spread_mm = geometry::spread_from_a_line_mm(&places);
            if spread_mm < LEAST_SPREAD_MM {
                last.wrong_here(
                    format!("the three adjusters stand in a line, to within {spread_mm:.1} mm: no turn could tilt the plane about it"),
                    format!("places that form a triangle, at least {LEAST_SPREAD_MM} mm high"),
                );
                return None;
            }
            return Some(adjusters);
        }
        _ => {}
    }
    let last = &tables[tables.len() - 1];
    last.wrong_here(
        format!(
            "[[adjuster]] is given {} time{}",
            tables.len(),
            if tables.len() == 1 { "" } else { "s" }
        ),
        "exactly three, one for each of the emitter's screws",
    );
    None
}

fn read_one(table: &Table<'_>) -> Option<Adjuster> {
    let place = Within(-10_000.0, 10_000.0);
    let travel = Within(0.0, 200.0);
    let name = table.name("name");
    let x_mm = table.quantity("right", Kind::Length, place);
    let y_mm = table.quantity("up", Kind::Length, place);
    let pitch_mm = read_pitch_mm(table);
    let clockwise = table.choice("clockwise", &[("out", Sense::Out), ("in", Sense::In)]);
    let travel_clockwise_turns = table.quantity("travel_clockwise", Kind::Turn, travel);
    let travel_anticlockwise_turns = table.quantity("travel_anticlockwise", Kind::Turn, travel);
    if travel_clockwise_turns == Some(0.0) && travel_anticlockwise_turns == Some(0.0) {
        table.wrong(
            "travel_anticlockwise",
            "this adjuster cannot be turned either way",
            "some travel, clockwise or anticlockwise",
        );
    }
    Some(Adjuster {
        name: name?,
        at: Point::mm(x_mm?, y_mm?),
        pitch: Mm(pitch_mm?),
        clockwise: clockwise?,
        travel_clockwise: Turns(travel_clockwise_turns?),
        travel_anticlockwise: Turns(travel_anticlockwise_turns?),
    })
}

fn read_pitch_mm(table: &Table<'_>) -> Option<f64> {
    let pitch_mm = table.quantity_if("pitch", Kind::Length, Within(0.05, 5.0));
    let thread = table.text_if("thread");
    match (table.has("pitch"), table.has("thread")) {
        (true, false) => pitch_mm,
        (true, true) => {
            table.wrong(
                "thread",
                "the screw is said in two ways, by pitch and by thread",
                "one of them",
            );
            None
        }
        (false, true) => {
            let thread = thread?;
            let pitch_mm = thread::coarse_pitch_mm(&thread);
            if pitch_mm.is_none() {
                let known: Vec<_> = thread::COARSE.iter().map(|&(name, _)| name).collect();
                table.wrong(
                    "thread",
                    format!("the pitch of \"{thread}\" is not known here"),
                    format!(
                        "one of {} (coarse), or its pitch in place of its thread",
                        known.join(", ")
                    ),
                );
            }
            pitch_mm
        }
        (false, false) => {
            table.missing("pitch");
            None
        }
    }
}
