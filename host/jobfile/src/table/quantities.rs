//! Quantities of a table: lengths, angles, turns and the like, places, bands.

use super::{Table, Value};
use skimgauge_model::Point;
use skimgauge_quantity::read::{self, Fault};
use skimgauge_quantity::{Band, Kind, Mm, Quantity, count};
use toml::de::DeValue;

/// Values that make sense, both ends included.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Within<T>(pub(crate) T, pub(crate) T);

impl Within<Mm> {
    pub(crate) const fn mm(low: f64, high: f64) -> Self {
        Self(Mm(low), Mm(high))
    }
}

impl<T: Quantity> Within<T> {
    fn values(self) -> Within<f64> {
        Within(self.0.value(), self.1.value())
    }
}

impl Table<'_> {
    /// A quantity that must be there.
    pub(crate) fn quantity<T: Quantity>(&self, key: &str, within: Within<T>) -> Option<T> {
        self.need(key, |value| self.read_quantity(value, within))
    }

    /// A quantity, if written.
    pub(crate) fn quantity_if<T: Quantity>(&self, key: &str, within: Within<T>) -> Option<T> {
        self.read_quantity(self.filled(key)?, within)
    }

    /// A length that must be there, mm.
    pub(crate) fn mm(&self, key: &str, low: f64, high: f64) -> Option<f64> {
        self.quantity(key, Within::mm(low, high)).map(|length| length.0)
    }

    /// A length, if written, mm.
    pub(crate) fn mm_if(&self, key: &str, low: f64, high: f64) -> Option<f64> {
        self.quantity_if(key, Within::mm(low, high)).map(|length| length.0)
    }

    /// A weight, force, voltage or time that must be there, in the base unit of its kind.
    pub(crate) fn number(&self, key: &str, kind: Kind, within: Within<f64>) -> Option<f64> {
        self.need(key, |value| self.read_number(value, kind, within))
    }

    /// A weight, force, voltage or time, if written, in the base unit of its kind.
    pub(crate) fn number_if(&self, key: &str, kind: Kind, within: Within<f64>) -> Option<f64> {
        self.read_number(self.filled(key)?, kind, within)
    }

    fn read_quantity<T: Quantity>(&self, value: &Value<'_>, within: Within<T>) -> Option<T> {
        self.read_number(value, T::KIND, within.values()).map(T::of)
    }

    fn read_number(&self, value: &Value<'_>, kind: Kind, within: Within<f64>) -> Option<f64> {
        let text = self.quantity_text(value, kind)?;
        let number = match read::read(text, kind) {
            Ok(number) => number,
            Err(unread) => {
                let expected = match unread.fault() {
                    Fault::UnknownUnit { .. } | Fault::WrongKind { .. } => unread.expected(),
                    _ => quoted_quantity(kind),
                };
                self.note(value, unread.fault().to_string(), expected);
                return None;
            }
        };
        if number < within.0 || number > within.1 {
            let base = kind.base_unit();
            let side = if number < within.0 { "small" } else { "large" };
            self.note(
                value,
                format!(
                    "{} is too {side} to be meant: is the unit right?",
                    self.findings.quoted(value.span())
                ),
                format!("from {} {base} to {} {base}", within.0, within.1),
            );
            return None;
        }
        Some(number)
    }

    /// The text of a quantity; a bare number or anything else is noted.
    fn quantity_text<'v>(&self, value: &'v Value<'_>, kind: Kind) -> Option<&'v str> {
        match value.get_ref() {
            DeValue::String(text) => return Some(text),
            DeValue::Integer(_) | DeValue::Float(_) => {
                let said = self.findings.quoted(value.span());
                let wrong = format!("`{said}` is a bare number: it does not say its unit");
                self.note(value, wrong, quoted_quantity(kind));
            }
            _ => self.not_a(value, quoted_quantity(kind)),
        }
        None
    }

    /// A place as `[right, up]`, if written.
    pub(crate) fn point_if(&self, key: &str, within: Within<Mm>) -> Option<Point> {
        self.read_point(self.find(key)?, within)
    }

    /// A list of places as `[[right, up], ...]`, which must be there.
    pub(crate) fn points(&self, key: &str, within: Within<Mm>) -> Option<Vec<Point>> {
        if !self.has(key) {
            self.missing(key);
        }
        self.points_if(key, within)
    }

    /// A list of places as `[[right, up], ...]`, if written.
    pub(crate) fn points_if(&self, key: &str, within: Within<Mm>) -> Option<Vec<Point>> {
        let value = self.find(key)?;
        let DeValue::Array(items) = value.get_ref() else {
            self.not_a(
                value,
                "a list of places, such as [[\"-60 mm\", \"0 mm\"], [\"60 mm\", \"0 mm\"]]",
            );
            return None;
        };
        // Every place is looked at, so that every problem is noted.
        let places: Vec<_> = items.iter().map(|item| self.read_point(item, within)).collect();
        places.into_iter().collect()
    }

    fn read_point(&self, value: &Value<'_>, within: Within<Mm>) -> Option<Point> {
        let example = Kind::Length.example();
        let DeValue::Array(items) = value.get_ref() else {
            let expected =
                format!("a list in square brackets, such as [\"{example}\", \"{example}\"]");
            self.not_a(value, expected);
            return None;
        };
        let [right, up] = &items[..] else {
            let wrong = format!("a place has two lengths, right and up; here are {}", items.len());
            self.note(value, wrong, "such as [\"-60 mm\", \"15 mm\"]");
            return None;
        };
        let (x, y) = (self.read_quantity(right, within), self.read_quantity(up, within));
        Some(Point { x: x?, y: y? })
    }

    /// A band `[low, high]` that must be there.
    pub(crate) fn band<T: Quantity>(&self, key: &str, within: Within<T>) -> Option<Band<T>> {
        self.need(key, |value| self.read_band(value, within))
    }

    /// A band `[low, high]`, if written.
    pub(crate) fn band_if<T: Quantity>(&self, key: &str, within: Within<T>) -> Option<Band<T>> {
        self.read_band(self.find(key)?, within)
    }

    fn read_band<T: Quantity>(&self, value: &Value<'_>, within: Within<T>) -> Option<Band<T>> {
        let sample = "two values, low then high";
        let DeValue::Array(items) = value.get_ref() else {
            self.not_a(value, format!("{sample}, in square brackets"));
            return None;
        };
        let [low_item, high_item] = &items[..] else {
            self.note(
                value,
                format!("a band has two ends; here: {}", count(items.len(), "value")),
                sample,
            );
            return None;
        };
        let low = self.read_quantity(low_item, within);
        let high = self.read_quantity(high_item, within);
        let (low, high) = (low?, high?);
        let band = Band::new(low, high);
        if band.is_none() {
            let said = |item: &Value<'_>| self.findings.quoted(item.span());
            let (low_said, high_said) = (said(low_item), said(high_item));
            let wrong = if low > high {
                format!("the low end {low_said} is above the high end {high_said}")
            } else {
                format!(
                    "the low end {low_said} and the high end {high_said} are the same: nothing would ever pass"
                )
            };
            self.note(value, wrong, sample);
        }
        band
    }
}

/// What is expected where a quantity stands.
fn quoted_quantity(kind: Kind) -> String {
    format!(
        "{} in double quotes with its unit, such as \"{}\" (units: {})",
        kind.described(),
        kind.example(),
        kind.units().join(", ")
    )
}
