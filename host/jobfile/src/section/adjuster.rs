//! `[[adjuster]]`: the emitter's three adjusters.

use skimgauge_model::{Adjuster, Point, Sense};
use skimgauge_quantity::{Mm, Turns};

use super::{Spec, key, spare_key};
use crate::geometry;
use crate::table::{Table, Within, refuse_repeated_names};
use crate::thread;

/// Three points closer to a line than this carry no plane that they could set: the error of
/// where they are (about 1.5 mm by tape) would be a large part of their leverage.
pub(crate) const LEAST_SPREAD: Mm = Mm(5.0);

/// The `[[adjuster]]` sections.
pub static SPEC: Spec = Spec {
    name: "adjuster",
    many: true,
    set: true,
    about: "The emitter's three adjusters, each named by where it sits. Measure their places, and try each by\n\
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
            let places: Vec<_> = adjusters.iter().map(|a| a.at).collect();
            let spread = geometry::spread_from_a_line(&places);
            let pairs = [(0, 1), (0, 2), (1, 2)];
            if let Some((one, other)) = pairs.into_iter().find(|&(a, b)| places[a] == places[b]) {
                tables[other].wrong(
                    "right",
                    format!(
                        "\"{}\" stands where \"{}\" does",
                        adjusters[other].name, adjusters[one].name
                    ),
                    "a place of its own for each adjuster; to the left of the middle, right is negative",
                );
                return None;
            }
            if spread < LEAST_SPREAD {
                last.wrong_here(
                    format!("the three adjusters stand in a line, to within {:.1} mm: no turn could tilt the plane about it", spread.0),
                    format!("places that form a triangle, at least {} mm high", LEAST_SPREAD.0),
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
        "exactly three, one for each of the emitter's adjusters",
    );
    None
}

fn read_one(table: &Table<'_>) -> Option<Adjuster> {
    let place = Within::mm(-10_000.0, 10_000.0);
    let travel = Within(Turns(0.0), Turns(200.0));
    let name = table.name("name");
    let x = table.quantity("right", place);
    let y = table.quantity("up", place);
    let pitch = read_pitch(table);
    let clockwise = table.choice("clockwise", &[("out", Sense::Out), ("in", Sense::In)]);
    let travel_clockwise = table.quantity("travel_clockwise", travel);
    let travel_anticlockwise = table.quantity("travel_anticlockwise", travel);
    if travel_clockwise == Some(Turns::ZERO) && travel_anticlockwise == Some(Turns::ZERO) {
        table.wrong(
            "travel_anticlockwise",
            "this adjuster cannot be turned either way",
            "some travel, clockwise or anticlockwise",
        );
    }
    Some(Adjuster {
        name: name?,
        at: Point { x: x?, y: y? },
        pitch: pitch?,
        clockwise: clockwise?,
        travel_clockwise: travel_clockwise?,
        travel_anticlockwise: travel_anticlockwise?,
    })
}

fn read_pitch(table: &Table<'_>) -> Option<Mm> {
    let pitch = table.quantity_if("pitch", Within::mm(0.05, 5.0));
    let thread = table.text_if("thread");
    match (table.has("pitch"), table.has("thread")) {
        (true, false) => pitch,
        (true, true) => {
            table.wrong(
                "thread",
                "the pitch is said in two ways, by pitch and by thread",
                "one of them",
            );
            None
        }
        (false, true) => {
            let thread = thread?;
            let pitch = thread::coarse_pitch(&thread);
            if pitch.is_none() {
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
            pitch
        }
        (false, false) => {
            table.missing("pitch");
            None
        }
    }
}
