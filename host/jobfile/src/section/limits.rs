//! `[limits]`: when a head is not to be trusted, and what a hand can do. Each has a default.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Band, Celsius, Kind, Turns};

use super::{Spec, spare_key};
use crate::table::{Table, Within};

/// The `[limits]` section.
pub static SPEC: Spec = Spec {
    name: "limits",
    many: false,
    set: true,
    about: "When to doubt the head, and what a hand can do. What is left out is as shown here.",
    keys: &[
        spare_key(
            "calibration_age",
            "\"365 days\"",
            "a head zeroed longer ago is said to be overdue",
        ),
        spare_key("temperature", "[\"5 C\", \"40 C\"]", "readings outside are said to be doubtful"),
        spare_key("supply", "\"4.4 V\"", "lowest supply of the head"),
        spare_key(
            "smallest_turn",
            "\"5 deg\"",
            "smallest turn of an adjuster that a hand can make",
        ),
    ],
    inside: &[],
    samples: &[],
};

/// When to doubt the head, and what a hand can do.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// Longest time since the head was zeroed, days. Default 365: yearly, common practice, no
    /// source.
    pub calibration_age_days: f64,
    /// Temperatures at which the head is trusted. Default 5 to 40: common
    /// practice, no source.
    #[serde(rename = "temperature_c")]
    pub temperature: Band<Celsius>,
    /// Lowest supply of the head, V. Default 4.4, the least that a low-power USB port delivers
    /// (from memory).
    pub supply_least_v: f64,
    /// Smallest turn that a hand can make. Default 1/72 (5 degrees): common practice, no
    /// source.
    #[serde(rename = "smallest_turn_turns")]
    pub smallest_turn: Turns,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            calibration_age_days: 365.0,
            temperature: Band { low: Celsius(5.0), high: Celsius(40.0) },
            supply_least_v: 4.4,
            smallest_turn: Turns(5.0 / 360.0),
        }
    }
}

pub(crate) fn read(table: &Table<'_>) -> Option<Limits> {
    const DAY_S: f64 = 86_400.0;
    let default = Limits::default();
    let age_s = table.number_if("calibration_age", Kind::Time, Within(DAY_S, 3650.0 * DAY_S));
    let temperature = table.band_if("temperature", Within(Celsius(-40.0), Celsius(85.0)));
    let supply_least_v = table.number_if("supply", Kind::Voltage, Within(1.0, 30.0));
    let smallest_turn = table.quantity_if("smallest_turn", Within(Turns(1.0 / 360.0), Turns(0.5)));
    Some(Limits {
        calibration_age_days: age_s.map_or(default.calibration_age_days, |age_s| age_s / DAY_S),
        temperature: temperature.unwrap_or(default.temperature),
        supply_least_v: supply_least_v.unwrap_or(default.supply_least_v),
        smallest_turn: smallest_turn.unwrap_or(default.smallest_turn),
    })
}
