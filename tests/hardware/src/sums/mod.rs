//! Dividers, clamps, currents and settling, from the values written in the schematic, in their
//! worst corners.

mod eye;
mod laser;
mod supply;

use crate::figures::Ratings;
use crate::interval::{Interval, corners, figures, written};
use crate::netlist::Netlist;
use std::fmt::Write;

/// One sum.
#[derive(Debug, Clone, PartialEq)]
pub struct Sum {
    /// What it is.
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// What it comes to.
    pub comes_to: Interval,
    /// What it must lie in.
    pub limit: Interval,
    /// Parts and why.
    pub why: &'static str,
}

impl Sum {
    /// Whether it holds.
    pub fn holds(&self) -> bool {
        self.comes_to.inside(&self.limit)
    }
}

/// What the sums are made of.
struct Values<'a> {
    netlist: &'a Netlist,
    ratings: &'a Ratings,
}

impl Values<'_> {
    fn part(&self, reference: &str) -> Result<Interval, String> {
        let part = self.netlist.parts.get(reference);
        let part = part.ok_or_else(|| format!("the schematic has no {reference}"))?;
        written(&part.value).map_err(|error| format!("{reference}: {error}"))
    }

    fn rating(&self, name: &str) -> Result<Interval, String> {
        self.ratings.get(name)
    }

    /// 5 V behind the fuse, with everything on: what the port gives less what cable and fuse take.
    fn supply(&self) -> Result<Interval, String> {
        let least = self.rating("usb_port")?.low
            - self.current()?.high
                * (self.rating("cable_loop")?.high + self.rating("input_fuse")?.high);
        Ok(Interval::new(least, self.rating("usb_port")?.high))
    }

    /// What the laser's converter takes at its input, A. Reckoned at 4.5 V, below which the sums
    /// about the supply do not hold.
    fn laser_input(&self) -> Result<Interval, String> {
        let (sensor, bleed) = (self.rating("sensor_current")?, self.part("R18")?);
        Ok(corners(
            [sensor, bleed, self.rating("dcdc_efficiency")?],
            |[sensor, bleed, efficiency]| 15.0 * (sensor / 1e3 + 15.0 / bleed) / efficiency / 5.0,
        ))
    }

    fn buzzer(&self) -> Result<Interval, String> {
        let inputs = [self.rating("usb_port")?, self.part("R28")?, self.rating("buzzer_coil")?];
        Ok(corners(inputs, |[volts, series, coil]| volts / (series + coil)))
    }

    /// From USB, A; the buzzer sounds half of each period.
    fn current(&self) -> Result<Interval, String> {
        let mut sum = self.laser_input()?;
        for name in ["rail_3v3_load", "pixel_line", "small_parts"] {
            let rating = self.rating(name)?;
            sum = Interval::new(sum.low + rating.low / 1e3, sum.high + rating.high / 1e3);
        }
        Ok(Interval::new(sum.low, sum.high + self.buzzer()?.high / 2.0))
    }

    /// The laser's supply, V.
    fn laser_supply(&self) -> Result<Interval, String> {
        let share = self.rating("dcdc_share")?;
        let drop = self.rating("sensor_current")?.high / 1e3 * self.rating("sensor_fuse")?.high;
        let supply = self.supply()?;
        Ok(Interval::new(3.0 * supply.low * share.low - drop, 3.0 * supply.high * share.high))
    }
}

const NO_LEAST: f64 = f64::NEG_INFINITY;

fn most(limit: f64) -> Interval {
    Interval::new(NO_LEAST, limit)
}

fn least(limit: f64) -> Interval {
    Interval::new(limit, f64::INFINITY)
}

/// All of them.
///
/// # Errors
/// A value that is missing or cannot be read.
pub fn all(netlist: &Netlist, ratings: &Ratings) -> Result<Vec<Sum>, String> {
    let values = Values { netlist, ratings };
    let mut sums = Vec::new();
    supply::of_supply(&values, &mut sums)?;
    laser::of_laser_supply(&values, &mut sums)?;
    laser::of_laser_input(&values, &mut sums)?;
    laser::of_laser_slip(&values, &mut sums)?;
    eye::of_eye(&values, &mut sums)?;
    eye::of_hand(&values, &mut sums)?;
    Ok(sums)
}

/// `hardware/sums.md`.
pub fn document(sums: &[Sum]) -> String {
    let mut text = "# Sums\n\nWhat the values in the schematic come to in their worst corners, and what that must lie in: every resistor and capacitor at\n\
        either end of its tolerance, everything else over its range in [ratings](ratings.toml), which says where each figure is from\n\
        (many are from memory: look at your parts' data sheets). `cargo run -p skimgauge-hardware --bin sums` writes this file; the test\n\
        `sums` holds it to the schematic.\n\n| sum | least | most | limit | parts, why |\n| --- | --- | --- | --- | --- |\n".to_owned();
    for sum in sums {
        let limit = match (sum.limit.low.is_finite(), sum.limit.high.is_finite()) {
            (true, true) => format!("{} to {}", figures(sum.limit.low), figures(sum.limit.high)),
            (false, _) => format!("{} at most", figures(sum.limit.high)),
            (true, false) => format!("{} at least", figures(sum.limit.low)),
        };
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "| {} | {} {unit} | {} {unit} | {limit} | {} |",
            sum.name,
            figures(sum.comes_to.low),
            figures(sum.comes_to.high),
            sum.why,
            unit = sum.unit,
        );
    }
    text
}
