//! What the port gives, and the buses.

use super::{Sum, Values, most};
use crate::interval::{Interval, corners};

pub(super) fn of_supply(v: &Values<'_>, sums: &mut Vec<Sum>) -> Result<(), String> {
    let rail = v.rating("rail_3v3")?;
    let mut add = |name, unit, comes_to, limit, why| {
        sums.push(Sum { name, unit, comes_to, limit, why });
    };
    add(
        "current from USB",
        "mA",
        v.current()?.times(1e3),
        most(400.0),
        "what the image's USB descriptor asks for; a port gives 500 mA once the head is configured",
    );
    add(
        "5 V behind the fuse",
        "V",
        v.supply()?,
        Interval::new(4.5, 5.5),
        "the pixel line wants 4.5 V to 5.5 V",
    );
    let attached = ["C1", "C20", "C21"]
        .iter()
        .try_fold(0.0, |sum, c| Ok::<_, String>(sum + v.part(c)?.high))?;
    add(
        "capacitors at the plug",
        "uF",
        Interval::new(0.0, attached * 1e6),
        most(10.0),
        "C1, C20, C21; USB 2.0, 7.2.4.1. The board's own come on top: look at its drawing",
    );
    let half =
        corners([v.rating("usb_port")?, v.part("R5")?, v.part("R6")?], |[u, a, b]| u * b / (a + b));
    add("supply, halved", "V", half, most(rail.low), "R5, R6, at AIN3");
    let ratio = corners([v.part("R5")?, v.part("R6")?], |[a, b]| 2.0 * b / (a + b));
    add("halving, off by", "of 1", ratio, Interval::new(0.98, 1.02), "R5, R6");
    let rise =
        corners([v.part("R3")?, v.rating("bus_capacitance")?], |[r, c]| 0.8473 * r * c * 1e-3);
    add(
        "rise of the I2C bus",
        "ns",
        rise,
        most(v.rating("bus_rise")?.high),
        "R3; UM10204, 7.1: 0.8473 R C",
    );
    let sink = corners([rail, v.part("R3")?], |[u, r]| (u - 0.4) / r * 1e3);
    add(
        "current into a pulled-down bus",
        "mA",
        sink,
        most(v.rating("bus_sink")?.high),
        "R3, R4; UM10204, 7.1",
    );
    Ok(())
}
