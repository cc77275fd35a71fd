//! The pixel line; button, lamp, buzzer.

use super::{Sum, Values, most};
use crate::interval::{Interval, corners};

pub(super) fn of_eye(v: &Values<'_>, sums: &mut Vec<Sum>) -> Result<(), String> {
    let rail = v.rating("rail_3v3")?;
    let mut add = |name, unit, comes_to, limit, why| {
        sums.push(Sum { name, unit, comes_to, limit, why });
    };
    let (top, bottom) = (v.part("R22")?, v.part("R23")?);
    let highest = Interval::new(0.0, v.rating("usb_port")?.high);
    let pixels = corners([highest, top, bottom], |[u, a, b]| u * b / (a + b));
    add(
        "pixels, output at its supply",
        "V",
        pixels,
        most(rail.low + v.rating("pin_over_rail")?.high),
        "R22, R23; RP2040's pin",
    );
    let full = corners([Interval::new(4.8, 4.8), top, bottom], |[u, a, b]| u * b / (a + b));
    add(
        "pixels, saturated",
        "V",
        full,
        Interval::new(2.7, rail.low),
        "4.8 V typical at 5 V (from memory); the simulated line stops at 2.8 V",
    );
    let early = corners([highest, v.rating("clamp_drop")?, top], |[u, drop, r]| {
        ((u - drop) / r * 1e3).max(0.0)
    });
    add(
        "into the 3.3 V rail before it is up",
        "mA",
        early,
        most(v.rating("rail_3v3_load")?.low),
        "R22, D4",
    );
    let settles = corners(
        [top, bottom, v.part("R24")?, v.rating("pixel_node")?, v.rating("pixel_output_settles")?],
        |[a, b, series, node, output]| 4.6 * (a * b / (a + b) + series) * node * 1e-6 + output,
    );
    add(
        "pixels settle to 1 %",
        "us",
        settles,
        most(v.rating("sample_after_clock")?.low),
        "R22, R23, R24: before the conversion begins",
    );
    Ok(())
}

pub(super) fn of_hand(v: &Values<'_>, sums: &mut Vec<Sum>) -> Result<(), String> {
    let rail = v.rating("rail_3v3")?;
    let highest = Interval::new(0.0, v.rating("usb_port")?.high);
    let mut add = |name, unit, comes_to, limit, why| {
        sums.push(Sum { name, unit, comes_to, limit, why });
    };
    let lamp = corners([rail, v.rating("lamp_drop")?, v.part("R26")?], |[u, drop, r]| {
        (u - drop) / r * 1e3
    });
    let pin = v.rating("pin_current")?;
    add("lamp", "mA", lamp, Interval::new(0.8, pin.high), "R26");
    let base = corners([rail, v.rating("base_drop")?, v.part("R27")?], |[u, drop, r]| {
        (u - drop) / r * 1e3
    });
    add(
        "base of Q3",
        "mA",
        base,
        Interval::new(v.buzzer()?.high * 1e3 / v.rating("gain")?.low, pin.high),
        "R27: enough for the buzzer's current, not too much for the pin",
    );
    let heat = corners([highest, v.part("R28")?, v.rating("buzzer_coil")?], |[u, r, coil]| {
        u * u * r / (r + coil) / (r + coil)
    });
    add(
        "heat in R28, buzzer stuck on",
        "W",
        heat,
        most(0.25),
        "R28; it sounds half of each period, and only when asked",
    );
    Ok(())
}
