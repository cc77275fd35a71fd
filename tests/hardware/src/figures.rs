//! Tables of figures: the body's and the ratings.

use crate::interval::Interval;
use std::collections::BTreeMap;
use toml::de::{DeTable, DeValue};

fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(n) => n.as_str().parse().ok(),
        DeValue::Float(n) => n.as_str().parse().ok(),
        _ => None,
    }
}

/// A figure of the body.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Its value.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// How far a made one may be off.
    pub tolerance: f64,
}

/// `hardware/body/params.toml`.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Body {
    /// Figures by name.
    pub figures: BTreeMap<String, Figure>,
    /// GPIO by name.
    pub pins: BTreeMap<String, u8>,
    /// Where the inclinometer's axes point.
    pub axes: BTreeMap<String, String>,
}

impl Body {
    /// Reads it.
    ///
    /// # Errors
    /// What cannot be read.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut body = Self::default();
        for (name, table) in tables(text)? {
            for (key, value) in &table {
                let (pin, words) = (number(value.get_ref()), value.get_ref().as_str());
                match (name.as_str(), pin, words) {
                    ("pins", Some(pin), _) => drop(body.pins.insert(key.clone(), pin as u8)),
                    ("tilt_axes", _, Some(way)) => {
                        body.axes.insert(key.clone(), way.to_owned());
                    }
                    _ => (),
                }
            }
            if name == "pins" || name == "tilt_axes" {
                continue;
            }
            let get = |key: &str| table.get(key).and_then(|value| number(value.get_ref()));
            let figure = Figure {
                value: get("value").ok_or_else(|| format!("{name} has no value"))?,
                unit: table
                    .get("unit")
                    .and_then(|unit| unit.get_ref().as_str())
                    .unwrap_or("")
                    .into(),
                tolerance: get("tolerance").ok_or_else(|| format!("{name} has no tolerance"))?,
            };
            body.figures.insert(name, figure);
        }
        Ok(body)
    }

    /// A figure's value.
    ///
    /// # Panics
    /// There is none of that name.
    pub fn get(&self, name: &str) -> f64 {
        self.figures.get(name).unwrap_or_else(|| panic!("params.toml has no {name}")).value
    }

    /// A figure with what it may be off by.
    ///
    /// # Panics
    /// There is none of that name.
    pub fn made(&self, name: &str) -> Interval {
        let figure = &self.figures[name];
        Interval::new(figure.value - figure.tolerance, figure.value + figure.tolerance)
    }
}

/// `hardware/ratings.toml`.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Ratings(pub BTreeMap<String, Interval>);

impl Ratings {
    /// Reads it; every rating has a range, a unit and where it is from.
    ///
    /// # Errors
    /// What cannot be read.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut ratings = BTreeMap::new();
        for (name, table) in tables(text)? {
            let words = |key: &str| {
                table.get(key).and_then(|value| value.get_ref().as_str()).map_or(0, str::len)
            };
            let range = table.get("range").and_then(|range| range.get_ref().as_array());
            let ends: Vec<f64> =
                range.into_iter().flatten().filter_map(|end| number(end.get_ref())).collect();
            match ends[..] {
                [low, high] if low <= high && words("unit") > 0 && words("from") >= 6 => {
                    ratings.insert(name, Interval::new(low, high));
                }
                _ => return Err(format!("{name}: a range, a unit and where it is from")),
            }
        }
        Ok(Self(ratings))
    }

    /// A rating.
    ///
    /// # Errors
    /// There is none of that name.
    pub fn get(&self, name: &str) -> Result<Interval, String> {
        self.0.get(name).copied().ok_or_else(|| format!("ratings.toml has no {name}"))
    }
}

type Table<'a> = BTreeMap<String, toml::Spanned<DeValue<'a>>>;

fn tables(text: &str) -> Result<Vec<(String, Table<'_>)>, String> {
    let document = DeTable::parse(text).map_err(|error| error.to_string())?.into_inner();
    let mut tables = Vec::new();
    for (name, table) in document {
        let name = name.into_inner().into_owned();
        let DeValue::Table(table) = table.into_inner() else {
            return Err(format!("{name} is no table"));
        };
        tables.push((
            name,
            table.into_iter().map(|(k, v)| (k.into_inner().into_owned(), v)).collect(),
        ));
    }
    Ok(tables)
}
