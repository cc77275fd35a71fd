//! A section of another version of the program, shown by the names of its keys.
//!
//! Keys carry their unit (`flatness_mm`, `rotation_deg`), so that one that nobody foresaw is shown
//! with its unit all the same. Nothing that this program writes comes here.

mod rows;
mod shown;

use serde_json::{Map, Value};
use skimgauge_quantity::Style;
use skimgauge_record::section::Other;

use super::{MOST_ROWS, drawing};
use crate::document::{Block, Cell};
use crate::plain;
use rows::rows;
use shown::{is_drawing, matrix, name_of, scalar};

/// How deep lists within lists are followed.
const DEEPEST: usize = 4;

/// What a section says, by the names of its keys.
pub(super) fn blocks(style: Style, other: &Other) -> Vec<Block> {
    let blocks = by_keys(style, &other.data);
    if blocks.is_empty() {
        return vec![Block::Small("Nothing that could be shown was recorded with it.".to_owned())];
    }
    blocks
}

/// A value out of the record as facts, tables, lists and drawings.
pub(in crate::content) fn by_keys(style: Style, value: &Value) -> Vec<Block> {
    let mut blocks = Vec::new();
    match value {
        Value::Object(map) => object(style, map, "", 0, &mut blocks),
        Value::Null => {}
        other => named(style, "", other, "", 0, &mut blocks),
    }
    blocks
}

fn object(
    style: Style,
    map: &Map<String, Value>,
    path: &str,
    depth: usize,
    blocks: &mut Vec<Block>,
) {
    let mut facts: Vec<(String, Cell)> = Vec::new();
    for (key, value) in map {
        if let Some(cell) = scalar(style, key, value).filter(|_| !is_drawing(value)) {
            facts.push((name_of(key), cell));
        }
    }
    facts.retain(|(_, cell)| *cell != Cell::None);
    if !facts.is_empty() {
        blocks.push(Block::Facts(facts));
    }
    for (key, value) in map {
        if scalar(style, key, value).is_none() || is_drawing(value) {
            named(style, key, value, path, depth, blocks);
        }
    }
}

/// Anything that is more than one number or word.
pub(super) fn named(
    style: Style,
    key: &str,
    value: &Value,
    path: &str,
    depth: usize,
    blocks: &mut Vec<Block>,
) {
    let name = if path.is_empty() {
        name_of(key)
    } else {
        format!("{path}: {}", name_of(key).to_lowercase())
    };
    match value {
        Value::String(text) if is_drawing(value) => blocks.extend(drawing(text, &name)),
        Value::Array(items) if items.is_empty() => {}
        Value::Array(items) if depth >= DEEPEST => {
            blocks.push(Block::Small(format!(
                "{name}: {}, in the record.",
                plain::count(items.len(), "entry").replace("entrys", "entries")
            )));
        }
        Value::Array(items) if items.iter().all(Value::is_object) => {
            rows(style, &name, items, depth, blocks);
        }
        Value::Array(items) if items.iter().all(|item| scalar(style, key, item).is_some()) => {
            blocks.extend(listed(style, key, name, items));
        }
        Value::Array(items)
            if items.iter().all(|item| {
                item.as_array().is_some_and(|row| row.iter().all(Value::is_number))
            }) =>
        {
            matrix(style, &name, items, blocks);
        }
        Value::Array(items) => {
            for (n, item) in items.iter().take(MOST_ROWS).enumerate() {
                named(style, &format!("{key} {}", n + 1), item, path, depth + 1, blocks);
            }
        }
        Value::Object(_) if depth >= DEEPEST => {
            blocks.push(Block::Small(format!("{name}: in the record.")));
        }
        Value::Object(map) => {
            if map.values().all(|value| scalar(style, "", value).is_some()) {
                blocks.push(Block::Heading(name));
                object(style, map, "", depth + 1, blocks);
            } else {
                object(style, map, &name, depth + 1, blocks);
            }
        }
        other => {
            if let Some(cell) = scalar(style, key, other) {
                blocks.push(Block::Facts(vec![(name, cell)]));
            }
        }
    }
}

/// Numbers or words in a row, or one under the other where they are long.
fn listed(style: Style, key: &str, name: String, items: &[Value]) -> Vec<Block> {
    let texts: Vec<String> = items
        .iter()
        .filter_map(|item| scalar(style, key, item))
        .map(|cell| cell.shown().to_owned())
        .collect();
    if texts.iter().any(|text| text.chars().count() > 24) {
        let texts = texts.into_iter().take(MOST_ROWS).collect();
        return vec![Block::Heading(name), Block::List(texts)];
    }
    vec![if texts.len() > MOST_ROWS {
        Block::Small(format!("{name}: {} values, in the record.", texts.len()))
    } else {
        Block::Facts(vec![(name, Cell::text(texts.join(", ")))])
    }]
}

#[cfg(test)]
mod tests;
