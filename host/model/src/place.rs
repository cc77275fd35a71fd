//! Where something is: at a station, at another point of the board, on the emitter.

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use skimgauge_quantity::{Mm, Name, Sentence, say};

use crate::image::Image;

/// A point on the board's face, in the image's frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// Right of the image's middle.
    #[serde(rename = "x_mm")]
    pub x: Mm,
    /// Above the image's top edge; zero or less on the image.
    #[serde(rename = "y_mm")]
    pub y: Mm,
}

impl Point {
    /// From bare millimetres, right and up.
    pub const fn mm(x_mm: f64, y_mm: f64) -> Self {
        Self { x: Mm(x_mm), y: Mm(y_mm) }
    }

    /// How far it is from another.
    pub fn apart(self, other: Self) -> Mm {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// Whether both of its numbers are.
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }
}

/// A point with a name of its own: where the head is clipped on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(from = "WrittenStation")]
pub struct Station {
    /// As the user says it: `top left`, `bottom`.
    pub name: String,
    /// Where it is.
    #[serde(flatten)]
    pub at: Point,
}

/// As it stands in JSON. Read so, not flattened: on that way a number is held in a form which a
/// JSON library that keeps every digit hands over as something else.
#[derive(Deserialize)]
struct WrittenStation {
    name: String,
    x_mm: Mm,
    y_mm: Mm,
}

impl From<WrittenStation> for Station {
    fn from(written: WrittenStation) -> Self {
        Self { name: written.name, at: Point { x: written.x_mm, y: written.y_mm } }
    }
}

/// What the user is at, or what is spoken of.
///
/// In JSON a station is `{"name", "x_mm", "y_mm"}`, another point the same without a name, and the
/// emitter, which is at no point of the board, `{"name": "emitter"}`.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// A station of the job, or another point that has a name.
    Station(Station),
    /// A point of the board without a name of its own.
    Point(Point),
    /// The emitter, with the head on it.
    Emitter,
}

/// The emitter's name, among those of stations.
const EMITTER: &str = "emitter";

impl Place {
    /// Where it is on the board; `None` for the emitter.
    pub fn point(&self) -> Option<Point> {
        match self {
            Self::Station(station) => Some(station.at),
            Self::Point(point) => Some(*point),
            Self::Emitter => None,
        }
    }

    /// Its name, if it has one.
    pub fn name(&self) -> Option<&str> {
        match self {
            Self::Station(station) => Some(&station.name),
            Self::Point(_) => None,
            Self::Emitter => Some(EMITTER),
        }
    }

    /// As it is called: by its name, or by where it is on the image.
    pub fn called(&self, image: Image) -> Sentence {
        match self {
            Self::Station(station) => say!("{}", Name(&station.name)),
            Self::Point(point) => image.whereabouts(*point),
            Self::Emitter => say!("emitter"),
        }
    }

    /// As the end of `the gap …`: `at top left`, `300 mm right of the middle, 200 mm down`.
    pub fn at(&self, image: Image) -> Sentence {
        match self {
            Self::Station(station) => say!("at {}", Name(&station.name)),
            Self::Point(point) => image.at(*point),
            Self::Emitter => say!("on the emitter"),
        }
    }
}

impl From<Station> for Place {
    fn from(station: Station) -> Self {
        Self::Station(station)
    }
}

impl From<Point> for Place {
    fn from(point: Point) -> Self {
        Self::Point(point)
    }
}

/// A place as it stands in JSON.
#[derive(Serialize, Deserialize)]
struct Written {
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    x_mm: Option<Mm>,
    #[serde(skip_serializing_if = "Option::is_none")]
    y_mm: Option<Mm>,
}

impl Serialize for Place {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let point = self.point();
        let name = self.name().map(str::to_owned);
        Written { name, x_mm: point.map(|point| point.x), y_mm: point.map(|point| point.y) }
            .serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Place {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let Written { name, x_mm, y_mm } = Written::deserialize(deserializer)?;
        let point = x_mm.zip(y_mm).map(|(x, y)| Point { x, y });
        match (name, point) {
            (Some(name), Some(at)) => Ok(Self::Station(Station { name, at })),
            (None, Some(point)) => Ok(Self::Point(point)),
            (Some(name), None) if name == EMITTER && x_mm.is_none() && y_mm.is_none() => {
                Ok(Self::Emitter)
            }
            _ => Err(D::Error::custom("a place wants x_mm and y_mm, unless it is the emitter")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use skimgauge_quantity::{Style, Units};

    fn station(name: &str) -> Station {
        Station { name: name.to_owned(), at: Point { x: Mm(-900.0), y: Mm(-632.5) } }
    }

    #[test]
    fn in_json_a_station_is_as_it_was() {
        let json = r#"{"name":"left","x_mm":-900.0,"y_mm":-632.5}"#;
        assert_eq!(serde_json::to_string(&station("left")).unwrap(), json);
        assert_eq!(serde_json::from_str::<Station>(json).unwrap(), station("left"));
        assert_eq!(serde_json::to_string(&Place::from(station("left"))).unwrap(), json);
        // A record may have whole numbers.
        assert_eq!(
            serde_json::from_str::<Point>(r#"{"x_mm":3,"y_mm":0}"#).unwrap(),
            Point { x: Mm(3.0), y: Mm(0.0) }
        );
    }

    #[test]
    fn the_three_kinds_of_place_are_told_apart() {
        assert_eq!(serde_json::to_string(&Place::Emitter).unwrap(), r#"{"name":"emitter"}"#);
        // A station that somebody called so is still a station.
        for place in [Place::Emitter, station("emitter").into(), station("left").at.into()] {
            let json = serde_json::to_string(&place).unwrap();
            assert_eq!(serde_json::from_str::<Place>(&json).unwrap(), place, "{json}");
        }
        for json in
            [r#"{"name":"left"}"#, r#"{"x_mm":1.0}"#, r#"{"name":"emitter","x_mm":1.0}"#, "{}"]
        {
            assert!(serde_json::from_str::<Place>(json).is_err(), "{json}");
        }
    }

    #[test]
    fn a_place_is_called_by_its_name_or_by_where_it_is() {
        let image = Image { width: Mm(2000.0), height: Mm(1200.0) };
        let inch = Style::typed(Units::Inch);
        let shelf = Place::from(station("shelf at 100 mm"));
        assert_eq!(shelf.at(image).text(inch), "at shelf at 100 mm");
        assert_eq!(Place::Emitter.at(image).text(inch), "on the emitter");
        let point = Place::from(Point { x: Mm(304.8), y: Mm(-254.0) });
        assert_eq!(point.called(image).text(inch), "12 in right of the middle, 10 in down");
        assert_eq!(
            (point.name(), shelf.name(), Place::Emitter.point()),
            (None, Some("shelf at 100 mm"), None)
        );
    }

    proptest! {
        #[test]
        fn places_come_back(name in prop::option::of(".{0,12}"), x in -1e5..1e5_f64, y in -1e5..1e5_f64) {
            let at = Point { x: Mm(x), y: Mm(y) };
            let place = name.map_or(Place::Point(at), |name| Place::Station(Station { name, at }));
            let json = serde_json::to_string(&place).unwrap();
            prop_assert_eq!(serde_json::from_str::<Place>(&json).unwrap(), place);
        }
    }
}
