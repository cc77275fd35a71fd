//! What a verdict rests on.

use serde::de::DeserializeOwned;
use serde::ser::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::{Map, Value};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Deg, Mm, MmPerM};

use super::BudgetLine;

/// Plane, points, takes and tilt behind a verdict; absent or empty what was not worked out.
///
/// In JSON an object with the keys `level`, `lean`, `plane`, `covariance`, `points`, `residuals`,
/// `agreement`, `budget`. What else an object holds, of another version, is kept in [`more`] and
/// shown by the names of its keys.
///
/// [`more`]: Detail::more
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Detail {
    /// The roll of the emitter against the image's top edge.
    pub level: Option<Tilt>,
    /// The lean of the emitter toward the board.
    pub lean: Option<Tilt>,
    /// The touch plane over a flat board.
    pub plane: Option<Plane>,
    /// Covariance of `c`, `p`, `q` (mm, mm/m).
    pub covariance: Option<[[f64; 3]; 3]>,
    /// Every place that was judged.
    pub points: Vec<JudgedPoint>,
    /// What the plane leaves of each take.
    pub residuals: Vec<Residual>,
    /// Whether the takes agree with one plane.
    pub agreement: Option<Agreement>,
    /// Where the uncertainty at the place that decided comes from.
    pub budget: Vec<BudgetLine>,
    /// What a program of another version wrote beside these.
    pub more: Map<String, Value>,
}

/// Level or lean: how the emitter stands against the board, judged.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tilt {
    /// How the emitter stands against gravity.
    #[serde(rename = "emitter_deg")]
    pub emitter: Deg,
    /// How the board stands against gravity.
    #[serde(rename = "board_deg")]
    pub board: Deg,
    /// The first less the second.
    #[serde(rename = "value_deg")]
    pub value: Deg,
    /// Half width of its 95 % interval.
    #[serde(rename = "expanded_deg")]
    pub expanded: Deg,
    /// Against its band.
    pub verdict: Verdict,
}

/// A plane over the board.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plane {
    /// Gap at the middle of the image's top edge.
    #[serde(rename = "c_mm")]
    pub c: Mm,
    /// Slope to the right.
    #[serde(rename = "p_mm_per_m")]
    pub p: MmPerM,
    /// Slope upward.
    #[serde(rename = "q_mm_per_m")]
    pub q: MmPerM,
}

/// A place that was judged.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JudgedPoint {
    /// Right of the image's middle.
    #[serde(rename = "x_mm")]
    pub x: Mm,
    /// Above the image's top edge.
    #[serde(rename = "y_mm")]
    pub y: Mm,
    /// The gap there, as worked out.
    #[serde(rename = "gap_mm")]
    pub gap: Mm,
    /// Its standard uncertainty.
    #[serde(rename = "u_mm")]
    pub u: Mm,
    /// Half width of its 95 % interval.
    #[serde(rename = "expanded_mm")]
    pub expanded: Mm,
    /// Against the band; absent where nothing may be said of it.
    pub verdict: Option<Verdict>,
}

/// What the plane leaves of one take.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Residual {
    /// The station, by name or by its place.
    pub station: String,
    /// Taken less fitted gap.
    #[serde(rename = "residual_mm")]
    pub residual: Mm,
    /// The same in its own standard uncertainty, where it has one.
    pub normalized: Option<f64>,
}

/// How well the takes agree with one plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Agreement {
    /// As many takes as a plane needs: they do not check one another.
    Untested,
    /// As chance would have it.
    Agrees,
    /// Worse than chance in 95 of 100: the uncertainties were widened.
    Strained,
    /// Worse than chance in 999 of 1000: nothing is promised.
    Contradicts,
}

/// Under this key stands a detail that is no object.
const WHOLE: &str = "detail";

impl Detail {
    fn read(value: Value) -> Self {
        let mut more = match value {
            Value::Object(map) => map,
            Value::Null => Map::new(),
            other => Map::from_iter([(WHOLE.to_owned(), other)]),
        };
        let more = &mut more;
        Self {
            level: taken(more, "level"),
            lean: taken(more, "lean"),
            plane: taken(more, "plane"),
            covariance: taken(more, "covariance"),
            points: taken(more, "points").unwrap_or_else(Vec::new),
            residuals: taken(more, "residuals").unwrap_or_else(Vec::new),
            agreement: taken(more, "agreement"),
            budget: taken(more, "budget").unwrap_or_else(Vec::new),
            more: std::mem::take(more),
        }
    }

    fn written(&self) -> serde_json::Result<Map<String, Value>> {
        let mut all = self.more.clone();
        put(&mut all, "level", self.level)?;
        put(&mut all, "lean", self.lean)?;
        put(&mut all, "plane", self.plane)?;
        put(&mut all, "covariance", self.covariance)?;
        put(&mut all, "points", listed(&self.points))?;
        put(&mut all, "residuals", listed(&self.residuals))?;
        put(&mut all, "agreement", self.agreement)?;
        put(&mut all, "budget", listed(&self.budget))?;
        Ok(all)
    }
}

fn listed<T>(list: &[T]) -> Option<&[T]> {
    (!list.is_empty()).then_some(list)
}

fn put(
    all: &mut Map<String, Value>,
    key: &str,
    value: Option<impl Serialize>,
) -> serde_json::Result<()> {
    if let Some(value) = value {
        all.insert(key.to_owned(), serde_json::to_value(value)?);
    }
    Ok(())
}

/// What stands under a key, if it has its form; else it stays.
fn taken<T: DeserializeOwned>(more: &mut Map<String, Value>, key: &str) -> Option<T> {
    let value = more.get(key)?;
    if value.is_null() {
        more.remove(key);
        return None;
    }
    let found = T::deserialize(value).ok()?;
    more.remove(key);
    Some(found)
}

impl Serialize for Detail {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.written().map_err(S::Error::custom)?.serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Detail {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Value::deserialize(deserializer).map(Self::read)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// As the program wrote it before it was a form.
    fn today() -> Value {
        json!({
            "level": {"emitter_deg": 0.06, "board_deg": 0.05, "value_deg": 0.01, "expanded_deg": 0.03, "verdict": "within"},
            "lean": null,
            "plane": {"c_mm": 2.4, "p_mm_per_m": 0.1, "q_mm_per_m": -0.2},
            "covariance": [[0.1, 0.0, 0.0], [0.0, 0.2, 0.0], [0.0, 0.0, 0.3]],
            "points": [{"x_mm": 0.0, "y_mm": -1.0, "gap_mm": 2.4, "u_mm": 0.1, "expanded_mm": 0.2, "verdict": "unsure"}],
            "residuals": [{"station": "top", "residual_mm": 0.01, "normalized": null}],
            "agreement": "strained",
            "budget": null,
        })
    }

    #[test]
    fn what_was_written_has_a_form_and_comes_back() {
        let read = Detail::read(today());
        assert!(read.more.is_empty(), "{:?}", read.more);
        assert_eq!(read.agreement, Some(Agreement::Strained));
        assert_eq!(read.level.map(|level| level.value), Some(Deg(0.01)));
        assert_eq!((read.points.len(), read.residuals[0].station.as_str()), (1, "top"));
        let written = serde_json::to_value(&read).unwrap();
        for (key, value) in today().as_object().unwrap() {
            assert!(value.is_null() || written[key] == *value, "{key}: {}", written[key]);
        }
        assert_eq!(Detail::read(written), read);
    }

    #[test]
    fn what_has_another_form_is_kept() {
        let odd =
            json!({"level": 0.3, "points": [{"x": 1}], "chi_square": 3.2, "agreement": "agrees"});
        let read = Detail::read(odd.clone());
        assert_eq!(read.agreement, Some(Agreement::Agrees));
        assert_eq!(read.more.keys().collect::<Vec<_>>(), ["chi_square", "level", "points"]);
        assert_eq!(serde_json::to_value(&read).unwrap(), odd);
        for none in [Value::Null, json!({})] {
            assert_eq!(Detail::read(none), Detail::default());
        }
        assert_eq!(
            serde_json::to_value(Detail::read(json!("text"))).unwrap(),
            json!({"detail": "text"})
        );
    }
}
