//! Square as text.

use super::{columns, listed, paragraph, said};
use crate::lengths::Lengths;
use skimgauge_quantity::{Deg, Mm, say};
use skimgauge_site::square::SquareReport;
use skimgauge_site::square::quadrilateral::Span;
use skimgauge_site::square::split::Found;

/// The whole report.
pub fn text(report: &SquareReport, units: Lengths) -> String {
    let mut text = short(report, units);
    text += &format!("\nLengths of the fitted corners, {}\n", units.sign());
    let read = |span: Span| {
        let of: Vec<String> = report
            .readings
            .iter()
            .filter(|reading| reading.span == span)
            .map(|r| units.length_number(r.read_mm, 1))
            .collect();
        of.join(", ")
    };
    let rows: Vec<Vec<String>> = Span::ALL
        .into_iter()
        .zip(report.spans_mm)
        .map(|(span, fitted_mm)| {
            vec![span.name().to_owned(), read(span), units.length_number(fitted_mm, 1)]
        })
        .collect();
    text += &columns(&["", "read", "fitted"], &rows, &[1, 2]);
    text += &format!("  diagonals differ by {}\n", units.length(report.diagonal_difference_mm, 1));
    text += &both_ways(report, units);
    text + &listed("Cautions", &report.cautions)
}

/// What is turned, in its order, and what is left.
fn steps(report: &SquareReport, units: Lengths) -> String {
    let (turn, leave): (Vec<_>, Vec<_>) = report.corrections.iter().partition(|step| step.to_turn);
    let mut text = if turn.is_empty() {
        "  nothing is to be turned by this measure\n"
    } else {
        "  turn, in this order\n"
    }
    .to_owned();
    for (index, step) in turn.into_iter().enumerate() {
        let then = Mm(step.then_worst_corner_mm).tape();
        let of = if report.not_measured.is_some() { "off that rectangle" } else { "out" };
        let says = say!("{}; then the worst corner is {then} {of}", step.says);
        text += &said(&format!("    {}. ", index + 1), &says, units.style());
    }
    for step in leave {
        text += &said("    - ", &step.says, units.style());
    }
    text
}

/// Tape and corners, length by length.
fn both_ways(report: &SquareReport, units: Lengths) -> String {
    let Some(beside) = &report.beside else { return String::new() };
    let rows: Vec<Vec<String>> = beside
        .lengths
        .iter()
        .map(|length| {
            let apart = length.apart_mm;
            vec![
                length.span.map_or("top edge's rise to the right", Span::name).to_owned(),
                units.length_number(length.tape_mm, 1),
                units.length_number(length.corners_mm, 1),
                units.length_change_number(apart.value, 1),
                format!("± {}", units.uncertainty_number(apart.expanded())),
                if apart.is_clear() { "clear" } else { "" }.to_owned(),
            ]
        })
        .collect();
    let title = format!("\nBy tape and by the corners, {}\n", units.sign());
    title + &columns(&["", "tape", "corners", "apart", "95 %", ""], &rows, &[1, 2, 3])
}

/// What changes when a measure is entered anew.
pub fn short(report: &SquareReport, units: Lengths) -> String {
    let mut text = format!(
        "SQUARE  image wanted {} x {}\n",
        units.length_number(report.image.width.0, 1),
        units.length(report.image.height.0, 1)
    );
    if let Some(tape) = &report.tape {
        text += &said("  tape: ", &say!("{}.", tape.says), units.style());
        if let Some(twist_mm) =
            tape.twist_if_tape_is_right_mm.filter(|_| tape.agrees == Some(false))
        {
            text += &paragraph(
                "  ",
                &format!(
                    "If every length is right, the board is twisted: its diagonals pass {} apart.",
                    units.length(twist_mm, 0)
                ),
            );
        }
    }
    if let Some(beside) = &report.beside {
        text += &said("  corners and tape: ", &say!("{}.", beside.says), units.style());
    }
    if report.contradicts() {
        return text + "  Turn nothing: of measures that cannot all be right no corners follow.\n";
    }
    let turnable = &report.turnable;
    let mut rows = Vec::new();
    let mut row = |name: &str, found: Option<Found>, unit: &str| {
        let (value, by) = match found {
            Some(found) if unit == "deg" => {
                let by = Deg(found.expanded()).fine_uncertainty().number(units.style());
                (format!("{:+.3}", found.value), format!("± {by} {unit}"))
            }
            Some(found) => (
                units.length_change_number(found.value, 1),
                format!("± {} {}", units.uncertainty_number(found.expanded()), units.sign()),
            ),
            None => ("not measured".to_owned(), String::new()),
        };
        let clear = if found.is_some_and(Found::is_clear) { "clear" } else { "" };
        rows.push(vec![name.to_owned(), value, by, clear.to_owned()]);
    };
    row("rotation, anticlockwise", turnable.rotation_deg, "deg");
    row("vertical trapezoid, top less bottom", Some(turnable.vertical_trapezoid_mm), "mm");
    row("horizontal trapezoid, right less left", Some(turnable.horizontal_trapezoid_mm), "mm");
    row("size, in width", Some(turnable.size_mm), "mm");
    row("shift, to the right", turnable.shift_right_mm, "mm");
    row("shift, upward", turnable.shift_up_mm, "mm");
    row("remains: too wide for its height", Some(report.remainder.stretch_mm), "mm");
    row("remains: top leans right", Some(report.remainder.skew_mm), "mm");
    text += &columns(&["", "found", "95 %", ""], &rows, &[1]);
    text += &match report.not_measured {
        Some(_) => format!(
            "  corners, {} off a true rectangle that is laid over them as well as it goes\n",
            units.sign()
        ),
        None => format!("  corners, {} from where they should be\n", units.sign()),
    };
    let corners: Vec<Vec<String>> = report
        .corners
        .iter()
        .map(|c| {
            let angle = format!("{:.2}", c.angle_deg);
            vec![
                c.corner.to_owned(),
                units.length_change_number(c.right_mm, 1),
                units.length_change_number(c.up_mm, 1),
                angle,
            ]
        })
        .collect();
    text += &columns(&["", "right", "up", "angle deg"], &corners, &[1, 2, 3]);
    if let Some(says) = &report.not_measured {
        text += &said("  measured: ", &say!("{}.", says), units.style());
    }
    text += &steps(report, units);
    text += &said("  remains: ", &say!("{}.", report.remainder.says), units.style());
    if let Some(says) = &report.beyond {
        text += &said("  NOT SQUARE: ", &say!("{}.", says), units.style());
    }
    if let Some(says) = &report.too_close {
        text += &said("  NOT SQUARE YET: ", &say!("{}.", says), units.style());
    }
    text
}
