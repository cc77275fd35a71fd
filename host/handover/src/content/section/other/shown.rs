//! Keys and values of a form that is not known, as a person may read them.

use serde_json::Value;
use skimgauge_quantity::{Deg, Figure, Mm, MmPerM, Style};

use crate::document::{Block, Cell};
use crate::plain;

pub(super) fn matrix(style: Style, name: &str, items: &[Value], blocks: &mut Vec<Block>) {
    if items.len() > 8 {
        blocks
            .push(Block::Small(format!("{name}: {} rows of numbers, in the record.", items.len())));
        return;
    }
    let numbers = || items.iter().filter_map(Value::as_array).flatten().filter_map(Value::as_f64);
    let largest = numbers().map(f64::abs).fold(0.0, f64::max);
    // What rounding left of a zero is a zero.
    let clean = |number: f64| if number.abs() < 1e-12 * largest { 0.0 } else { number };
    let lines: Vec<String> = items
        .iter()
        .filter_map(Value::as_array)
        .map(|row| {
            row.iter()
                .take(8)
                .filter_map(Value::as_f64)
                .map(clean)
                .map(|number| significant(number, style))
                .collect::<Vec<_>>()
                .join("  ")
        })
        .collect();
    blocks.push(Block::Small(format!("{name}:")));
    blocks.push(Block::Code(lines.join("\n")));
}

/// What one number or word shows with its unit; none for what is more than that.
pub(super) fn scalar(style: Style, key: &str, value: &Value) -> Option<Cell> {
    Some(match value {
        Value::Null => Cell::None,
        Value::Bool(yes) => Cell::text(if *yes { "yes" } else { "no" }),
        Value::String(text) => Cell::text(plain::line(&word(text))),
        Value::Number(number) => {
            let number = number.as_f64()?;
            Cell::number(number, |number| with_unit(key, number, style))
        }
        // A value with its uncertainty, as the parts write it.
        Value::Object(map) => {
            let (found, u) =
                (map.get("value").and_then(Value::as_f64)?, map.get("u").and_then(Value::as_f64)?);
            if map.len() > 4 {
                return None;
            }
            let (found, u) = (with_unit(key, found, style), with_unit(key, u, style));
            Cell::text(format!("{found} (u {u})"))
        }
        Value::Array(_) => return None,
    })
}

/// The same for a table, whose head has the unit of lengths.
pub(super) fn bare(style: Style, key: &str, value: &Value, coarse: bool) -> Cell {
    match (value.as_f64(), unit_of(key)) {
        (Some(number), Some((_, Unit::Mm))) => {
            Cell::number(number, |mm| length(mm, coarse).cell(style))
        }
        _ => scalar(style, key, value).unwrap_or(Cell::None),
    }
}

/// From here on a length is shown as a tape shows it, below as a gap, mm.
pub(super) const TAPE_FROM_MM: f64 = 30.0;

/// A length as a tape shows it, or as a gap.
fn length(mm: f64, coarse: bool) -> Figure {
    if coarse { Mm(mm).tape() } else { Mm(mm).gap() }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Unit {
    Mm,
    MmPerM,
    Deg,
    Plain(&'static str),
}

/// Key endings that are units, the longer ones first.
const ENDINGS: &[(&str, Unit)] = &[
    ("_mm_per_mm", Unit::Plain("mm per mm")),
    ("_mm_per_m", Unit::MmPerM),
    ("_mm", Unit::Mm),
    ("_udeg", Unit::Plain("\u{b5}\u{b0}")),
    ("_deg", Unit::Deg),
    ("_percent", Unit::Plain("%")),
    ("_turns", Unit::Plain("turns")),
    ("_kg", Unit::Plain("kg")),
    ("_kn", Unit::Plain("kN")),
    ("_nm", Unit::Plain("Nm")),
    ("_um", Unit::Plain("\u{b5}m")),
    ("_n", Unit::Plain("N")),
    ("_c", Unit::Plain("\u{b0}C")),
    ("_s", Unit::Plain("s")),
    ("_v", Unit::Plain("V")),
    ("_in", Unit::Plain("in")),
    ("_hz", Unit::Plain("Hz")),
];

/// The key without its unit, and the unit.
fn unit_of(key: &str) -> Option<(&str, Unit)> {
    ENDINGS.iter().find_map(|(ending, unit)| {
        key.strip_suffix(ending).filter(|stem| !stem.is_empty()).map(|stem| (stem, *unit))
    })
}

fn with_unit(key: &str, number: f64, style: Style) -> String {
    match unit_of(key) {
        Some((_, Unit::Mm)) => length(number, number.abs() >= TAPE_FROM_MM).text(style),
        Some((_, Unit::MmPerM)) => MmPerM(number).figure().text(style),
        Some((_, Unit::Deg)) => Deg(number).figure().text(style),
        Some((_, Unit::Plain(sign))) => format!("{}\u{a0}{sign}", significant(number, style)),
        None => significant(number, style),
    }
}

/// Four digits, or all of a whole number.
fn significant(number: f64, style: Style) -> String {
    let fixed = |decimals: u8| skimgauge_quantity::plain(number, decimals).number(style);
    if number == number.trunc() && number.abs() < 1e7 {
        return fixed(0);
    }
    let size = number.abs().log10().floor();
    if (-5.0..7.0).contains(&size) {
        plain::trimmed(fixed((3.0 - size).max(0.0) as u8))
    } else {
        format!("{number:.3e}")
    }
}

/// A key as a name: `flatness_mm` becomes `Flatness`.
pub(super) fn name_of(key: &str) -> String {
    let stem = unit_of(key).map_or(key, |(stem, _)| stem);
    let text = match stem {
        "c" => "middle of the top edge".to_owned(),
        "p" => "slope to the right".to_owned(),
        "q" => "slope upward".to_owned(),
        "x" => "right".to_owned(),
        "y" => "up".to_owned(),
        "z" => "out".to_owned(),
        "dof" => "degrees of freedom".to_owned(),
        "chi_square" => "chi-square".to_owned(),
        "says" => "in words".to_owned(),
        stem => plain::line(&stem.replace(['_', '-'], " ")),
    };
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

pub(super) fn column_name(key: &str, sign: &str) -> String {
    match unit_of(key) {
        Some((_, Unit::Mm)) => format!("{}, {sign}", name_of(key)),
        _ => name_of(key),
    }
}

/// A word that the parts write for other programs, for people: `within-allowed` becomes `within
/// allowed`.
fn word(text: &str) -> String {
    let machine =
        !text.is_empty() && text.chars().all(|c| c.is_ascii_lowercase() || c == '-' || c == '_');
    match text {
        "unsure" => "too close to call".to_owned(),
        text if machine => text.replace(['-', '_'], " "),
        text => text.to_owned(),
    }
}

pub(super) fn is_drawing(value: &Value) -> bool {
    value.as_str().is_some_and(|text| {
        let start = text.trim_start();
        start.starts_with("<svg") || (start.starts_with("<?xml") && start.contains("<svg"))
    })
}
