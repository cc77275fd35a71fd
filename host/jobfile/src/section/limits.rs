//! `[limits]`: when a head is not to be trusted, what a hand can do, and how far off square the image
//! may stay. Each has a default.

use serde::{Deserialize, Serialize};
use skimgauge_metrology::measure::MATERIAL_MM;
use skimgauge_metrology::trim::person::Person;
use skimgauge_quantity::{Band, Celsius, Kind, Mm, Turns};
use skimgauge_site::square::MAY_REMAIN;

use super::{Spec, spare_key};
use crate::table::{Table, Within};

/// The `[limits]` section.
pub static SPEC: Spec = Spec {
    name: "limits",
    many: false,
    set: true,
    about: "When to doubt the head, what a hand can do, and how far off square the image may stay. What is\n\
            left out is as shown here.",
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
        spare_key("walk", "\"5 s\"", "to walk from one station to the next"),
        spare_key("clip", "\"10 s\"", "to clip the head on and let it settle"),
        spare_key("instruction", "\"6 s\"", "to read an instruction and find the adjuster"),
        spare_key("turn", "\"2 s\"", "to turn an adjuster once round"),
        spare_key("place", "\"6 s\"", "to move the head to one place of a survey and read it"),
        spare_key("seat", "\"0.05 mm\"", "how much the gap scatters from seat to seat"),
        spare_key(
            "material",
            "\"0.2 mm\"",
            "how far the laser may read this board off where the head was zeroed on another",
        ),
        spare_key(
            "square",
            "0.0025",
            "how far a corner may be off, by one fault or all together, share of the width; common practice, no source",
        ),
    ],
    inside: &[],
    samples: &[],
};

/// When to doubt the head, what a hand can do, and how far off square the image may stay.
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
    /// Seconds that things take a person: the trim asks for what costs least of them.
    pub person: Person,
    /// Scatter from seat to seat, standard uncertainty. Default 0.05 mm: common practice, no
    /// source. What `zero` and stations taken twice show is looked at beside it.
    #[serde(rename = "seat_mm")]
    pub seat: Mm,
    /// How far the laser may read this board off, at most, against the one on which the head was
    /// zeroed; not counted where that was this one. Default [`MATERIAL_MM`].
    #[serde(rename = "material_mm")]
    pub material: Mm,
    /// How far a corner of the image may be off, by one fault or by all together, as a share of its
    /// width. Default
    /// [`MAY_REMAIN`].
    pub square: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            calibration_age_days: 365.0,
            temperature: Band { low: Celsius(5.0), high: Celsius(40.0) },
            supply_least_v: 4.4,
            smallest_turn: Turns(5.0 / 360.0),
            person: Person::default(),
            seat: Mm(0.05),
            material: Mm(MATERIAL_MM),
            square: MAY_REMAIN,
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
    let seconds = |key: &str| table.number_if(key, Kind::Time, Within(0.1, 600.0));
    let usual = default.person;
    let person = Person {
        walk_s: seconds("walk").unwrap_or(usual.walk_s),
        clip_s: seconds("clip").unwrap_or(usual.clip_s),
        instruction_s: seconds("instruction").unwrap_or(usual.instruction_s),
        turn_s: seconds("turn").unwrap_or(usual.turn_s),
        place_s: seconds("place").unwrap_or(usual.place_s),
    };
    let seat = table.quantity_if("seat", Within::mm(0.005, 1.0));
    let material = table.quantity_if("material", Within::mm(0.0, 2.0));
    let square = table.ratio_if("square", Within(0.0002, 0.02));
    Some(Limits {
        calibration_age_days: age_s.map_or(default.calibration_age_days, |age_s| age_s / DAY_S),
        temperature: temperature.unwrap_or(default.temperature),
        supply_least_v: supply_least_v.unwrap_or(default.supply_least_v),
        smallest_turn: smallest_turn.unwrap_or(default.smallest_turn),
        person,
        seat: seat.unwrap_or(default.seat),
        material: material.unwrap_or(default.material),
        square: square.unwrap_or(default.square),
    })
}
