//! A list of things with the same keys, as a table.

use serde_json::{Map, Value};
use skimgauge_quantity::Style;

use super::super::MOST_ROWS;
use super::shown::{TAPE_FROM_MM, bare, column_name, is_drawing, name_of, scalar};
use super::{DEEPEST, named};
use crate::document::{Block, Cell, Column, Table};
use crate::plain;

/// Columns of one table; what is more follows it.
const MOST_COLUMNS: usize = 11;

/// The key under which a thing's name is put beside what is listed in it.
const OWN: &str = "of which";

/// Keys under which things have their names: they come first.
const NAMING: &[&str] = &[
    OWN, "name", "who", "plate", "anchor", "station", "corner", "place", "what", "case", "adjust",
];

/// A list of things with the same keys, as a table; what does not fit into one follows it.
pub(super) fn rows(
    style: Style,
    name: &str,
    items: &[Value],
    depth: usize,
    blocks: &mut Vec<Block>,
) {
    let items: Vec<Value> = items.iter().map(|item| unfolded(style, item)).collect();
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
                .all(|value| scalar(style, key, value).is_some() && !is_drawing(value))
        })
        .take(MOST_COLUMNS)
        .collect();
    if !flat.is_empty() {
        blocks.push(table(style, name, items, &flat));
    }
    keys.retain(|key| !flat.contains(key));
    if !keys.is_empty() {
        behind(style, name, items, &keys, depth, blocks);
    }
}

/// What fits into one table, a row for each thing.
fn table(style: Style, name: &str, items: &[Value], flat: &[&str]) -> Block {
    let shown = &items[..items.len().min(MOST_ROWS)];
    let number = |key: &str| shown.iter().filter_map(|item| item.get(key)).any(Value::is_number);
    // One column, one form: where a tape would measure some of them, all are as a tape shows
    // them.
    let coarse = |key: &str| {
        shown.iter().filter_map(|item| item.get(key)?.as_f64()).any(|mm| mm.abs() >= TAPE_FROM_MM)
    };
    let columns = flat
        .iter()
        .map(|key| {
            if number(key) {
                Column::number(column_name(key, style.units.sign()))
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
                    item.get(key).map_or(Cell::None, |value| bare(style, key, value, coarse(key)))
                })
                .collect()
        })
        .collect();
    let caption = if items.len() > shown.len() {
        format!("{name}: the first {} of {}; all are in the record", shown.len(), items.len())
    } else {
        name.to_owned()
    };
    Block::Table(Table { caption, columns, rows: cells })
}

/// What does not fit into the table: lists within its things.
fn behind(
    style: Style,
    name: &str,
    items: &[Value],
    keys: &[&str],
    depth: usize,
    blocks: &mut Vec<Block>,
) {
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
    for key in keys {
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
                let name = format!("{name}: {}", name_of(key).to_lowercase());
                rows(style, &name, &joined, depth + 1, blocks);
            }
            continue;
        }
        for (own, value) in lists() {
            named(style, key, value, &own, depth + 1, blocks);
        }
    }
}

/// A thing with what is one level down brought up beside the rest, where no key stands in its way.
fn unfolded(style: Style, item: &Value) -> Value {
    let Value::Object(map) = item else { return item.clone() };
    let mut flat = Map::new();
    for (key, value) in map {
        match value {
            Value::Object(inner)
                if scalar(style, key, value).is_none()
                    && inner.iter().all(|(key, value)| {
                        !map.contains_key(key)
                            && !flat.contains_key(key)
                            && scalar(style, key, value).is_some()
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
