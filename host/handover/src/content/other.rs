//! Set-out, fixings, square, survey and repeatability: what their own parts recorded, shown by the
//! names of its keys.
//!
//! The parts write JSON whose keys carry their unit (`flatness_mm`, `rotation_deg`), so that a key
//! that nobody foresaw is shown with its unit all the same.

use serde_json::{Map, Value};
use skimgauge_jobfile::JobFile;
use skimgauge_record::event::{Body, Section as Recorded, SectionName};

use super::{Reading, section};
use crate::charts::trace;
use crate::document::{Block, Cell, Column, Figure, Picture, Section, Table};
use crate::plain;
use crate::units::{self, Units, angle, decimal, short};

/// Rows of one list that are printed; the rest is counted and stays in the record.
const MOST_ROWS: usize = 40;

/// Columns of one table; what is more follows it.
const MOST_COLUMNS: usize = 11;

/// The key under which a thing's name is put beside what is listed in it.
const OWN: &str = "of which";

/// Keys under which things have their names: they come first.
const NAMING: &[&str] = &[
    OWN, "name", "who", "plate", "anchor", "station", "corner", "place", "what", "case", "adjust",
];

/// How deep lists within lists are followed.
const DEEPEST: usize = 4;

/// Longest drawing that a page carries, bytes.
const LARGEST_DRAWING: usize = 1_000_000;

/// The last result of each kind of work.
pub(super) fn sections(reading: &Reading<'_>) -> Option<Section> {
    let mut blocks = Vec::new();
    for name in [
        SectionName::SetOut,
        SectionName::Fixings,
        SectionName::Square,
        SectionName::Survey,
        SectionName::Prove,
    ] {
        let last = reading
            .events(|body| match body {
                Body::Section(recorded) => Some(recorded),
                _ => None,
            })
            .filter(|(_, recorded)| recorded.section == name)
            .last();
        let Some((event, recorded)) = last else { continue };
        blocks.push(Block::Heading(heading(name).to_owned()));
        blocks.push(Block::Text(format!("{} Recorded on {}.", about(name), plain::day(event.at))));
        blocks.extend(recorded_blocks(reading, recorded));
    }
    section("other-work", "Beside the gaps", blocks)
}

fn heading(name: SectionName) -> &'static str {
    match name {
        SectionName::SetOut => "Set-out",
        SectionName::Fixings => "Fixings",
        SectionName::Square => "Square",
        SectionName::Survey => "Survey",
        SectionName::Prove => "How well the head repeats",
    }
}

fn about(name: SectionName) -> &'static str {
    match name {
        SectionName::SetOut => "Where things went on the wall, from two lines struck on it.",
        SectionName::Fixings => {
            "Loads on the anchors against the values entered from their approval. This compares numbers; it does not say that the wall \
             holds. The anchors\u{2019} approval, local building rules and a licensed engineer decide."
        }
        SectionName::Square => {
            "How far the image is from its rectangle, and what can be turned to mend it."
        }
        SectionName::Survey => {
            "The board\u{2019}s own shape, which the touch plane must clear everywhere."
        }
        SectionName::Prove => {
            "The same gap taken again and again, to see how much the takes scatter."
        }
    }
}

fn recorded_blocks(reading: &Reading<'_>, recorded: &Recorded) -> Vec<Block> {
    let mut blocks = Vec::new();
    blocks.extend(history_of(&recorded.data).and_then(|points| {
        let chart = trace::draw(&points, reading.job().and_then(JobFile::gap_band), reading.units)?;
        Some(Block::Figures(vec![Figure {
            alt: "Gap over time".to_owned(),
            picture: Picture::Chart(chart.to_string()),
            caption: format!(
                "The gap while a take settled, in {} over seconds.",
                reading.units.sign()
            ),
            wide: true,
        }]))
    }));
    let first = first_of(recorded.section);
    if let Value::Object(map) = &recorded.data {
        let (few, more): (Vec<&str>, Vec<&str>) =
            first.iter().copied().filter(|key| map.contains_key(*key)).partition(|key| {
                map.get(*key).is_some_and(|value| {
                    scalar(key, value, reading.units).is_some() && !is_drawing(value)
                })
            });
        let only = |keys: &[&str]| {
            Map::from_iter(
                keys.iter().filter_map(|key| Some(((*key).to_owned(), map.get(*key)?.clone()))),
            )
        };
        object(&only(&few), "", reading.units, 0, &mut blocks);
        for key in more {
            object(&only(&[key]), "", reading.units, 0, &mut blocks);
        }
    }
    let told: Vec<&str> = first.iter().chain(&["history"]).chain(SAID_ELSEWHERE).copied().collect();
    blocks.extend(value_blocks(&recorded.data, reading.units, &told));
    if blocks.is_empty() {
        blocks.push(Block::Small("Nothing that could be shown was recorded with it.".to_owned()));
    }
    blocks
}

/// What a person looks for first in each kind of work.
fn first_of(name: SectionName) -> &'static [&'static str] {
    match name {
        SectionName::SetOut => &["stops", "drawing", "datum", "marks", "clearances"],
        SectionName::Fixings => &["plates", "load_factor", "counted", "method"],
        SectionName::Square => &["diagonal_difference_mm", "corrections", "turnable", "remainder"],
        SectionName::Survey => &[
            "map",
            "flatness_mm",
            "least_squares_flatness_mm",
            "bow_mm",
            "twist_mm",
            "band",
            "worst",
            "bumps",
        ],
        SectionName::Prove => &[],
    }
}

/// Keys that say again what the page has told, or what only a program wants.
const SAID_ELSEWHERE: &[&str] = &["image", "image_area", "emitter_area", "homography", "next"];

/// A take's history: a list named `history` of `[time_s, gap_mm]` or of `{"time_s": ..., "gap_mm":
/// ...}`.
fn history_of(data: &Value) -> Option<Vec<[f64; 2]>> {
    let points: Vec<[f64; 2]> = data
        .get("history")?
        .as_array()?
        .iter()
        .filter_map(|point| match point {
            Value::Array(pair) => Some([pair.first()?.as_f64()?, pair.get(1)?.as_f64()?]),
            point => Some([point.get("time_s")?.as_f64()?, point.get("gap_mm")?.as_f64()?]),
        })
        .collect();
    (points.len() > 1).then_some(points)
}

/// A value out of the record as facts, tables, lists and drawings, without the keys that are shown
/// elsewhere.
pub(super) fn value_blocks(value: &Value, units: Units, without: &[&str]) -> Vec<Block> {
    let mut blocks = Vec::new();
    match value {
        Value::Object(map) => {
            let kept: Map<String, Value> = map
                .iter()
                .filter(|(key, _)| !without.contains(&key.as_str()))
                .map(|(k, v)| (k.clone(), v.clone()))
                .collect();
            object(&kept, "", units, 0, &mut blocks);
        }
        Value::Null => {}
        other => named("", other, "", units, 0, &mut blocks),
    }
    blocks
}

fn object(
    map: &Map<String, Value>,
    path: &str,
    units: Units,
    depth: usize,
    blocks: &mut Vec<Block>,
) {
    let mut facts: Vec<(String, Cell)> = Vec::new();
    for (key, value) in map {
        if let Some(cell) = scalar(key, value, units).filter(|_| !is_drawing(value)) {
            facts.push((name_of(key), cell));
        }
    }
    facts.retain(|(_, cell)| *cell != Cell::None);
    if !facts.is_empty() {
        blocks.push(Block::Facts(facts));
    }
    for (key, value) in map {
        if scalar(key, value, units).is_none() || is_drawing(value) {
            named(key, value, path, units, depth, blocks);
        }
    }
}

/// Anything that is more than one number or word.
fn named(
    key: &str,
    value: &Value,
    path: &str,
    units: Units,
    depth: usize,
    blocks: &mut Vec<Block>,
) {
    let name = if path.is_empty() {
        name_of(key)
    } else {
        format!("{path}: {}", name_of(key).to_lowercase())
    };
    match value {
        Value::String(text) if is_drawing(value) => {
            if text.len() <= LARGEST_DRAWING {
                blocks.push(Block::Figures(vec![Figure {
                    picture: Picture::Drawing(text.clone()),
                    caption: name.clone(),
                    alt: format!("Drawing: {name}"),
                    wide: true,
                }]));
            } else {
                blocks.push(Block::Small(format!(
                    "{name}: too large for this page; it is in the record."
                )));
            }
        }
        Value::Array(items) if items.is_empty() => {}
        Value::Array(items) if depth >= DEEPEST => {
            blocks.push(Block::Small(format!(
                "{name}: {}, in the record.",
                plain::count(items.len(), "entry").replace("entrys", "entries")
            )));
        }
        Value::Array(items) if items.iter().all(Value::is_object) => {
            rows(&name, items, units, depth, blocks);
        }
        Value::Array(items) if items.iter().all(|item| scalar(key, item, units).is_some()) => {
            let texts: Vec<String> = items
                .iter()
                .filter_map(|item| scalar(key, item, units))
                .map(|cell| cell.shown().to_owned())
                .collect();
            let long = texts.iter().any(|text| text.chars().count() > 24);
            if long {
                blocks.push(Block::Heading(name));
                blocks.push(Block::List(texts.into_iter().take(MOST_ROWS).collect()));
            } else if texts.len() > MOST_ROWS {
                blocks
                    .push(Block::Small(format!("{name}: {} values, in the record.", texts.len())));
            } else {
                blocks.push(Block::Facts(vec![(name, Cell::text(texts.join(", ")))]));
            }
        }
        Value::Array(items)
            if items.iter().all(|item| {
                item.as_array().is_some_and(|row| row.iter().all(Value::is_number))
            }) =>
        {
            matrix(&name, items, blocks);
        }
        Value::Array(items) => {
            for (n, item) in items.iter().take(MOST_ROWS).enumerate() {
                named(&format!("{key} {}", n + 1), item, path, units, depth + 1, blocks);
            }
        }
        Value::Object(_) if depth >= DEEPEST => {
            blocks.push(Block::Small(format!("{name}: in the record.")));
        }
        Value::Object(map) => {
            if map.values().all(|value| scalar("", value, units).is_some()) {
                blocks.push(Block::Heading(name));
                object(map, "", units, depth + 1, blocks);
            } else {
                object(map, &name, units, depth + 1, blocks);
            }
        }
        other => {
            if let Some(cell) = scalar(key, other, units) {
                blocks.push(Block::Facts(vec![(name, cell)]));
            }
        }
    }
}

/// A list of things with the same keys, as a table; what does not fit into one follows it.
fn rows(name: &str, items: &[Value], units: Units, depth: usize, blocks: &mut Vec<Block>) {
    let items: Vec<Value> = items.iter().map(|item| unfolded(item, units)).collect();
    let items = items.as_slice();
    let mut keys: Vec<&str> = Vec::new();
    for key in items.iter().filter_map(Value::as_object).flat_map(Map::keys) {
        if !keys.contains(&key.as_str()) {
            keys.push(key);
        }
    }
    keys.sort_by_key(|key| NAMING.iter().position(|name| name == key).unwrap_or(NAMING.len()));
    let flat: Vec<&str> = keys
        .iter()
        .copied()
        .filter(|key| {
            items
                .iter()
                .filter_map(|item| item.get(key))
                .all(|value| scalar(key, value, units).is_some() && !is_drawing(value))
        })
        .take(MOST_COLUMNS)
        .collect();
    if !flat.is_empty() {
        let shown = &items[..items.len().min(MOST_ROWS)];
        let number =
            |key: &str| shown.iter().filter_map(|item| item.get(key)).any(Value::is_number);
        // One column, one form: where a tape would measure some of them, all are as a tape shows
        // them.
        let coarse = |key: &str| {
            shown
                .iter()
                .filter_map(|item| item.get(key)?.as_f64())
                .any(|mm| mm.abs() >= TAPE_FROM_MM)
        };
        let columns = flat
            .iter()
            .map(|key| {
                if number(key) {
                    Column::number(column_name(key, units))
                } else {
                    Column::text(name_of(key))
                }
            })
            .collect();
        let cells = shown
            .iter()
            .map(|item| {
                flat.iter()
                    .map(|key| {
                        item.get(key)
                            .map_or(Cell::None, |value| bare(key, value, coarse(key), units))
                    })
                    .collect()
            })
            .collect();
        let caption = if items.len() > shown.len() {
            format!("{name}: the first {} of {}; all are in the record", shown.len(), items.len())
        } else {
            name.to_owned()
        };
        blocks.push(Block::Table(Table { caption, columns, rows: cells }));
    }
    if flat.len() == keys.len() {
        return;
    }
    let own = |n: usize, map: &Map<String, Value>| {
        NAMING.iter().find_map(|key| map.get(*key)?.as_str()).map_or_else(
            || format!("{name} {}", n + 1),
            |own| plain::sentence(own).trim_end_matches('.').to_owned(),
        )
    };
    let things = || {
        items
            .iter()
            .take(MOST_ROWS)
            .enumerate()
            .filter_map(|(n, item)| Some((n, item.as_object()?)))
    };
    for key in keys.iter().filter(|key| !flat.contains(key)) {
        let lists = || things().filter_map(|(n, map)| Some((own(n, map), map.get(*key)?)));
        // The same list in every thing is one list with the things' names before it.
        if depth < DEEPEST
            && lists().all(|(_, value)| {
                value.as_array().is_some_and(|list| list.iter().all(Value::is_object))
            })
        {
            let joined: Vec<Value> = lists()
                .flat_map(|(own, value)| {
                    value.as_array().into_iter().flatten().filter_map(Value::as_object).map(
                        move |map| {
                            let mut map = map.clone();
                            // Not where it names the thing itself.
                            if !map
                                .values()
                                .filter_map(Value::as_str)
                                .any(|text| text.eq_ignore_ascii_case(&own))
                            {
                                map.insert(OWN.to_owned(), Value::from(own.clone()));
                            }
                            Value::Object(map)
                        },
                    )
                })
                .collect();
            if !joined.is_empty() {
                rows(
                    &format!("{name}: {}", name_of(key).to_lowercase()),
                    &joined,
                    units,
                    depth + 1,
                    blocks,
                );
            }
            continue;
        }
        for (own, value) in lists() {
            named(key, value, &own, units, depth + 1, blocks);
        }
    }
}

/// A thing with what is one level down brought up beside the rest, where no key stands in its way.
fn unfolded(item: &Value, units: Units) -> Value {
    let Value::Object(map) = item else { return item.clone() };
    let mut flat = Map::new();
    for (key, value) in map {
        match value {
            Value::Object(inner)
                if scalar(key, value, units).is_none()
                    && inner.iter().all(|(key, value)| {
                        !map.contains_key(key)
                            && !flat.contains_key(key)
                            && scalar(key, value, units).is_some()
                    }) =>
            {
                flat.extend(inner.clone());
            }
            value => {
                flat.insert(key.clone(), value.clone());
            }
        }
    }
    Value::Object(flat)
}

fn matrix(name: &str, items: &[Value], blocks: &mut Vec<Block>) {
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
                .map(significant)
                .collect::<Vec<_>>()
                .join("  ")
        })
        .collect();
    blocks.push(Block::Small(format!("{name}:")));
    blocks.push(Block::Code(lines.join("\n")));
}

/// What one number or word shows with its unit; none for what is more than that.
fn scalar(key: &str, value: &Value, units: Units) -> Option<Cell> {
    Some(match value {
        Value::Null => Cell::None,
        Value::Bool(yes) => Cell::text(if *yes { "yes" } else { "no" }),
        Value::String(text) => Cell::text(plain::line(&word(text))),
        Value::Number(number) => {
            let number = number.as_f64()?;
            Cell::number(number, |number| with_unit(key, number, units))
        }
        // A value with its uncertainty, as the parts write it.
        Value::Object(map) => {
            let (found, u) =
                (map.get("value").and_then(Value::as_f64)?, map.get("u").and_then(Value::as_f64)?);
            if map.len() > 4 {
                return None;
            }
            let (found, u) = (with_unit(key, found, units), with_unit(key, u, units));
            Cell::text(format!("{found} (u {u})"))
        }
        Value::Array(_) => return None,
    })
}

/// The same for a table, whose head has the unit of lengths.
fn bare(key: &str, value: &Value, coarse: bool, units: Units) -> Cell {
    match (value.as_f64(), unit_of(key)) {
        (Some(number), Some((_, Unit::Mm))) => {
            Cell::number(number, |mm| length_number(mm, coarse, units))
        }
        _ => scalar(key, value, units).unwrap_or(Cell::None),
    }
}

/// From here on a length is shown as a tape shows it, below as a gap, mm.
const TAPE_FROM_MM: f64 = 30.0;

fn length_number(mm: f64, coarse: bool, units: Units) -> String {
    if coarse {
        units.length(mm).trim_end_matches(units.sign()).trim_end_matches('\u{a0}').to_owned()
    } else {
        units.gap_number(mm)
    }
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

fn with_unit(key: &str, number: f64, units: Units) -> String {
    match unit_of(key) {
        Some((_, Unit::Mm)) => {
            format!(
                "{}\u{a0}{}",
                length_number(number, number.abs() >= TAPE_FROM_MM, units),
                units.sign()
            )
        }
        Some((_, Unit::MmPerM)) => units.slope(number),
        Some((_, Unit::Deg)) => angle(number),
        Some((_, Unit::Plain(sign))) => format!("{}\u{a0}{sign}", significant(number)),
        None => significant(number),
    }
}

/// Four digits, or all of a whole number.
fn significant(number: f64) -> String {
    if !number.is_finite() {
        return units::NONE.to_owned();
    }
    if number == number.trunc() && number.abs() < 1e7 {
        return decimal(number, 0);
    }
    let size = number.abs().log10().floor();
    if (-5.0..7.0).contains(&size) {
        short(number, (3.0 - size).max(0.0) as usize)
    } else {
        format!("{number:.3e}")
    }
}

/// A key as a name: `flatness_mm` becomes `Flatness`.
fn name_of(key: &str) -> String {
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

fn column_name(key: &str, units: Units) -> String {
    match unit_of(key) {
        Some((_, Unit::Mm)) => format!("{}, {}", name_of(key), units.sign()),
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

fn is_drawing(value: &Value) -> bool {
    value.as_str().is_some_and(|text| {
        let start = text.trim_start();
        start.starts_with("<svg") || (start.starts_with("<?xml") && start.contains("<svg"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    fn facts(blocks: &[Block]) -> Vec<(String, String)> {
        blocks
            .iter()
            .filter_map(|block| match block {
                Block::Facts(facts) => Some(
                    facts
                        .iter()
                        .map(|(name, cell)| (name.clone(), cell.shown().replace('\u{a0}', " "))),
                ),
                _ => None,
            })
            .flatten()
            .collect()
    }

    #[test]
    fn keys_tell_their_units() {
        let data = json!({"flatness_mm": 1.234, "rotation_deg": 0.5, "tension_n": 812.3, "width_mm": 1200.0, "feasible": true});
        let shown = facts(&value_blocks(&data, Units::Mm, &[]));
        assert!(shown.contains(&("Flatness".to_owned(), "1.23 mm".to_owned())), "{shown:?}");
        assert!(shown.contains(&("Rotation".to_owned(), "0.50\u{b0}".to_owned())), "{shown:?}");
        assert!(shown.contains(&("Tension".to_owned(), "812.3 N".to_owned())), "{shown:?}");
        assert!(shown.contains(&("Width".to_owned(), "1200 mm".to_owned())), "{shown:?}");
        assert!(shown.contains(&("Feasible".to_owned(), "yes".to_owned())), "{shown:?}");
        let inch = facts(&value_blocks(&data, Units::Inch, &[]));
        assert!(inch.contains(&("Width".to_owned(), "47 1/4 in".to_owned())), "{inch:?}");
    }

    #[test]
    fn a_value_with_its_uncertainty_is_one_fact() {
        let shown =
            facts(&value_blocks(&json!({"size_mm": {"value": 3.1, "u": 0.4}}), Units::Mm, &[]));
        assert_eq!(shown, [("Size".to_owned(), "3.10 mm (u 0.40 mm)".to_owned())]);
    }

    #[test]
    fn long_lists_are_cut_and_counted() {
        let points: Vec<Value> = (0..1000).map(|n| json!({"x_mm": n, "z_mm": 0.1})).collect();
        let blocks = value_blocks(&json!({ "points": points }), Units::Mm, &[]);
        let Some(Block::Table(table)) = blocks.first() else { panic!("no table: {blocks:?}") };
        assert_eq!(table.rows.len(), MOST_ROWS);
        assert!(table.caption.contains("of 1000"), "{}", table.caption);
    }

    #[test]
    fn drawings_are_told_apart_from_texts() {
        let blocks = value_blocks(
            &json!({"drawing": "<svg xmlns='http://www.w3.org/2000/svg'/>"}),
            Units::Mm,
            &[],
        );
        assert!(
            matches!(&blocks[..], [Block::Figures(figures)] if matches!(figures[0].picture, Picture::Drawing(_)))
        );
    }

    fn any_json() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<f64>().prop_map(Value::from),
            ".{0,30}".prop_map(Value::from),
        ];
        leaf.prop_recursive(6, 60, 6, |inner| {
            prop_oneof![
                proptest::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
                proptest::collection::vec(("[a-z_]{0,12}(_mm|_deg)?", inner), 0..6)
                    .prop_map(|pairs| Value::Object(pairs.into_iter().collect())),
            ]
        })
    }

    proptest! {
        #[test]
        fn no_data_panics(data in any_json()) {
            let _ = value_blocks(&data, Units::Inch, &["history"]);
            let _ = history_of(&data);
        }
    }
}
