//! What to do on the wall, in an order in which every mistake meets a check before it meets a
//! drill.

use serde::Serialize;
use skimgauge_quantity::{Mm, Name, Sentence, say};

use super::emitter::Emitter;
use super::marks::{Check, Mark, tolerance_mm};
use super::{DatumLines, SetOutInput};

/// Side unit of the right-angle check, mm: 3, 4 and 5 of it make a right angle.
const TRIANGLE_MM: f64 = 100.0;

/// One thing to do.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Step {
    /// Its place in the order, from 1.
    pub number: usize,
    /// In two or three words.
    pub title: String,
    /// What to do.
    pub says: Sentence,
    /// Marks made in this step, by name; their dimensions are in [`super::SetOut::marks`].
    pub marks: Vec<String>,
    /// Distances to measure before going on.
    pub checks: Vec<Check>,
    /// What to do if a check does not come out.
    pub otherwise: Sentence,
}

/// The steps for these marks.
pub(crate) fn steps(
    input: &SetOutInput,
    datum: DatumLines,
    emitter: Option<&Emitter>,
    marks: &[Mark],
) -> Vec<Step> {
    let tolerance_mm = tolerance_mm(input.mark_u_mm);
    let mut steps = vec![
        plumb_line(datum, tolerance_mm),
        level_line(input, datum),
        right_angle(input, datum, tolerance_mm),
    ];
    let mut groups: Vec<&str> = Vec::new();
    for mark in marks {
        if mark.of != "datum" && !groups.contains(&mark.of.as_str()) {
            groups.push(&mark.of);
        }
    }
    steps.extend(groups.into_iter().map(|of| group(of, emitter, marks, tolerance_mm)));
    if marks.iter().any(|mark| mark.drill_mm.is_some()) {
        steps.push(Step {
            title: "before drilling".to_owned(),
            says: "Have a second person measure every hole again from both lines, without the first figures in view. Hold the plates themselves, or the full-size template, to the marks. Look for cables, pipes and reinforcement at each.".into(),
            otherwise: "Do not drill. Go back to the first step whose check does not come out.".into(),
            ..Step::default()
        });
    }
    for (index, step) in steps.iter_mut().enumerate() {
        step.number = index + 1;
    }
    steps
}

fn plumb_line(datum: DatumLines, tolerance_mm: f64) -> Step {
    let from_left_mm = datum.plumb_from_wall_left_mm;
    Step {
        title: "plumb line".to_owned(),
        says: say!(
            "From the wall's left end measure {} at the level line's height and strike a plumb line through it, floor to ceiling.",
            Mm(from_left_mm).tape()
        ),
        marks: vec!["crossing".to_owned()],
        checks: vec![Check {
            from: "plumb line".into(),
            to: "left end of the wall, at the level line's height".into(),
            distance_mm: from_left_mm,
            tolerance_mm,
        }],
        otherwise: "A wall's end is seldom plumb: measure at one height only, and let the plumb bob or the laser make the line.".into(),
        ..Step::default()
    }
}

fn level_line(input: &SetOutInput, datum: DatumLines) -> Step {
    let up_mm = datum.level_above_floor_mm;
    let tolerance_mm = tolerance_mm(input.mark_u_mm);
    Step {
        title: "level line".to_owned(),
        says: say!(
            "On the plumb line measure {} up from the finished floor and strike a level line through it, past both sides of the image. Turn the level end for end and strike again: the true line lies halfway.",
            Mm(up_mm).tape()
        ),
        checks: vec![
            Check {
                from: "crossing".into(),
                to: "finished floor, down the plumb line".into(),
                distance_mm: up_mm,
                tolerance_mm,
            },
            Check {
                from: "crossing".into(),
                to: "ceiling, up the plumb line".into(),
                distance_mm: input.room.ceiling_mm - up_mm,
                tolerance_mm: 10.0,
            },
        ],
        otherwise:
            "Floor and ceiling heights that do not add up: measure the ceiling again, the clearances hang on it."
                .into(),
        ..Step::default()
    }
}

fn right_angle(input: &SetOutInput, datum: DatumLines, tolerance_mm: f64) -> Step {
    let left_mm = datum.plumb_from_wall_left_mm;
    let side_mm = left_mm.max(input.room.wall_width_mm - left_mm);
    let direction = if side_mm > left_mm { "right" } else { "left" };
    let down_mm = datum.level_above_floor_mm;
    let times = ((side_mm / 4.0).min(down_mm / 3.0) / TRIANGLE_MM).floor().clamp(1.0, 5.0);
    let (along_mm, drop_mm, slant_mm) =
        (4.0 * times * TRIANGLE_MM, 3.0 * times * TRIANGLE_MM, 5.0 * times * TRIANGLE_MM);
    Step {
        title: "right angle".to_owned(),
        says: say!(
            "From the crossing mark {} to the {direction} on the level line and {} down the plumb line. Across, from mark to mark, it has to be {}.",
            Mm(along_mm).tape(),
            Mm(drop_mm).tape(),
            Mm(slant_mm).tape()
        ),
        checks: vec![Check {
            from: say!("{} {direction} on the level line", Mm(along_mm).tape()),
            to: say!("{} down the plumb line", Mm(drop_mm).tape()),
            distance_mm: slant_mm,
            tolerance_mm,
        }],
        otherwise: "One of the lines is not true: strike both again before any other mark.".into(),
        ..Step::default()
    }
}

fn group(of: &str, emitter: Option<&Emitter>, marks: &[Mark], tolerance_mm: f64) -> Step {
    let own: Vec<&Mark> = marks.iter().filter(|mark| mark.of == of).collect();
    let (title, says) = match of {
        "image" => (
            "image corners".to_owned(),
            "Mark the four corners, each from both lines and never from one another. Then measure both diagonals."
                .into(),
        ),
        "emitter" => ("emitter".to_owned(), emitter.map_or_else(Sentence::new, emitter_says)),
        plate => (
            plate.to_owned(),
            say!(
                "Mark the middle and every hole of {} from both lines and never from one another. Then measure its diagonals and the distances beside each mark.",
                Name(plate)
            ),
        ),
    };
    let mut checks = diagonals(&own, tolerance_mm);
    for check in own.iter().flat_map(|mark| &mark.checks) {
        let twin = |other: &Check| {
            (other.from == check.from && other.to == check.to)
                || (other.from == check.to && other.to == check.from)
        };
        if !checks.iter().any(twin) {
            checks.push(check.clone());
        }
    }
    Step {
        title,
        says,
        marks: own.iter().map(|mark| mark.name.clone()).collect(),
        checks,
        otherwise: "Measure the two marks of the distance that is off again from both lines; if both stand, strike the lines again.".into(),
        ..Step::default()
    }
}

/// What to mark of the emitter, and how light and body lie to one another.
fn emitter_says(emitter: &Emitter) -> Sentence {
    let light = emitter.light.map(|light| {
        say!("its light {} above the image's top edge", Mm(light.above_top_mm).tape())
    });
    match (emitter.body, light) {
        (Some(body), Some(light)) if body.is_assumed => say!(
            "First measure on the emitter how far its light is above its lower edge, and set out again with that: here the lower edge is taken to be \
             as high as the light. Then mark both ends of the lower edge and {light}, all from both lines."
        ),
        (Some(body), Some(light)) => {
            let up_mm = emitter.light.map_or(0.0, |light| light.above_top_mm) - body.lower_edge_mm;
            say!(
                "Mark both ends of the emitter's lower edge, {} above the image's top edge, and {light}, all from both lines: on the emitter the light \
                 has to be {} above the lower edge. Hold it there and look before drilling.",
                Mm(body.lower_edge_mm).tape(),
                Mm(up_mm).tape()
            )
        }
        (Some(body), None) => say!(
            "Mark both ends of the emitter's lower edge, {} above the image's top edge, from both lines. Where its light is, the job does not say.",
            Mm(body.lower_edge_mm).tape()
        ),
        (None, light) => say!(
            "Mark {} from both lines. Where its body's edges are, the job does not say.",
            light.unwrap_or_default()
        ),
    }
}

/// The two longest distances that cross within a group: its diagonals.
fn diagonals(own: &[&Mark], tolerance_mm: f64) -> Vec<Check> {
    let farthest = |towards: (f64, f64)| {
        let along = |mark: &Mark| mark.from_plumb_mm * towards.0 + mark.from_level_mm * towards.1;
        let low = own.iter().min_by(|a, b| along(a).total_cmp(&along(b)));
        let high = own.iter().max_by(|a, b| along(a).total_cmp(&along(b)));
        low.zip(high)
            .filter(|(low, high)| low.name != high.name)
            .map(|(low, high)| high.check_to(low, tolerance_mm))
    };
    let both: Vec<Check> =
        [farthest((1.0, -1.0)), farthest((1.0, 1.0))].into_iter().flatten().collect();
    match both.as_slice() {
        [one, other] if one.from == other.from && one.to == other.to => vec![one.clone()],
        _ => both,
    }
}
