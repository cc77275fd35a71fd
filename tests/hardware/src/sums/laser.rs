//! The laser sensor: its supply, its output, a slip at its plug.

use super::{Sum, Values, least, most};
use crate::interval::{Interval, corners};
use skimgauge_shared::calibration::{CODE_UV, NO_SPOT_CODE, STAND_OFF_CODES};

pub(super) fn of_laser_supply(v: &Values<'_>, sums: &mut Vec<Sum>) -> Result<(), String> {
    let mut add = |name, unit, comes_to, limit, why| {
        sums.push(Sum { name, unit, comes_to, limit, why });
    };
    let supply = v.supply()?;
    add(
        "laser's supply",
        "V",
        v.laser_supply()?,
        Interval::new(10.8, 26.4),
        "U5, F2; sensors for 12 V to 24 V, 10 % either way",
    );
    add(
        "load of the laser's converter",
        "W",
        corners([v.rating("sensor_current")?, v.part("R18")?], |[i, r]| {
            15.0 * (i / 1e3 + 15.0 / r)
        }),
        Interval::new(0.1, 1.0),
        "sensor and R18 at 15 V: from a tenth of 1 W to all of it",
    );
    let bleed = corners([v.laser_supply()?, v.part("R18")?], |[u, r]| u * u / r);
    add("heat in R18", "W", bleed, most(0.25), "half of what it is made for");
    let on = corners([supply, v.part("R12")?, v.part("R13")?], |[u, up, down]| {
        (u - 0.2) * up / (up + down)
    });
    add("gate of Q1 when on", "V", on, v.rating("gate_wants")?, "R12, R13");
    let ramp = corners(
        [supply, v.part("R13")?, v.part("C10")?, v.rating("gate_threshold")?],
        |[u, r, c, gate]| (u - gate - 0.2) / r / c,
    );
    let inrush = corners([ramp, v.part("C11")?], |[ramp, c]| ramp * c * 1e3);
    add("inrush when the laser is let on", "mA", inrush, most(100.0), "R13 and C10 slope, C11");
    let pull = corners(
        [
            v.rating("rail_3v3")?,
            v.rating("base_drop")?,
            v.part("R10")?,
            v.part("R11")?,
            v.rating("gain")?,
        ],
        |[u, base, r, down, gain]| ((u - base) / r - base / down) * gain * 1e3,
    );
    let wanted = corners([supply, v.part("R13")?], |[u, r]| u / r * 1e3);
    add(
        "current that Q2 can pull",
        "mA",
        pull,
        least(wanted.high),
        "R10, R11; more than R13 lets through",
    );
    let dark =
        corners([v.part("R11")?, v.rating("pin_leakage")?], |[r, leakage]| r * leakage * 1e-6);
    add(
        "laser_enable with no image",
        "V",
        dark,
        most(v.rating("base_drop")?.low - 0.2),
        "R11 against the pin's leakage: 0.2 V below what opens Q2",
    );
    Ok(())
}

pub(super) fn of_laser_input(v: &Values<'_>, sums: &mut Vec<Sum>) -> Result<(), String> {
    let rail = v.rating("rail_3v3")?;
    let code = |code: i16| f64::from(code) * f64::from(CODE_UV) * 1e-6;
    let range = Interval::new(code(*STAND_OFF_CODES.start()), code(*STAND_OFF_CODES.end()));
    let lost = Interval::new(code(NO_SPOT_CODE), rail.low + v.rating("pin_over_rail")?.high);
    let mut add = |name, unit, comes_to, limit, why| {
        sums.push(Sum { name, unit, comes_to, limit, why });
    };
    let (top, bottom, burden) = (v.part("R15")?, v.part("R16")?, v.part("R14")?);
    let at = |volts| corners([volts, top, bottom], |[u, a, b]| u * b / (a + b));
    add(
        "stand_off over the sensor's range",
        "V",
        at(v.rating("sensor_range")?),
        range,
        "R15, R16; `STAND_OFF_CODES` of the code",
    );
    add(
        "stand_off, spot lost",
        "V",
        at(v.rating("sensor_lost")?),
        lost,
        "R15, R16; from `NO_SPOT_CODE` of the code to the converter's supply and 0.3 V",
    );
    let loaded = |milliamperes| {
        corners([milliamperes, burden, top, bottom], |[i, r, a, b]| {
            i / 1e3 * (r * (a + b) / (r + a + b)) * b / (a + b)
        })
    };
    add(
        "stand_off over 4 mA to 20 mA",
        "V",
        loaded(v.rating("loop_range")?),
        range,
        "R14 with JP1 bridged, R15, R16",
    );
    add(
        "stand_off at 22 mA",
        "V",
        loaded(Interval::new(22.0, 22.0)),
        lost,
        "the same; a sensor's fault current",
    );
    add(
        "heat in R14",
        "W",
        corners([burden], |[r]| 0.022 * 0.022 * r),
        most(0.3),
        "at 22 mA; half of what it is made for",
    );
    Ok(())
}

pub(super) fn of_laser_slip(v: &Values<'_>, sums: &mut Vec<Sum>) -> Result<(), String> {
    let rail = v.rating("rail_3v3")?;
    let (top, bottom) = (v.part("R15")?, v.part("R16")?);
    let mut add = |name, unit, comes_to, limit, why| {
        sums.push(Sum { name, unit, comes_to, limit, why });
    };
    let stuck = corners(
        [v.laser_supply()?, rail, v.rating("clamp_drop")?, top, bottom],
        |[u, rail, drop, a, b]| ((u - rail - drop) / a - (rail + drop) / b) * 1e3,
    );
    add(
        "into the 3.3 V rail, output on 15 V",
        "mA",
        stuck,
        Interval::new(0.0, v.rating("rail_3v3_load")?.low),
        "D3, R15: less than the rail's own load takes",
    );
    let converter = corners(
        [v.rating("clamp_drop")?, v.rating("pin_over_rail")?, v.part("R17")?],
        |[drop, bears, r]| ((drop - bears).max(0.0)) / r * 1e3,
    );
    add(
        "into the converter's pin, the same",
        "mA",
        converter,
        most(v.rating("converter_pin_current")?.high),
        "D3, R17",
    );
    let settling =
        corners([v.part("C13")?, top, bottom], |[c, a, b]| 10.4 * c * (a * b / (a + b)) * 1e6);
    add(
        "stand_off settles to 1 in 2^15",
        "us",
        settling,
        most(v.rating("conversion")?.low),
        "C13, R15, R16: within one conversion",
    );
    Ok(())
}
