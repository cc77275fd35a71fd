//! Values to places along one direction, and labels that keep apart.

use skimgauge_quantity::{MM_PER_INCH, Mm, Style, Units};

/// A length in the unit shown, as a number on a scale.
pub(crate) fn in_units(length: Mm, units: Units) -> f64 {
    match units {
        Units::Mm => length.0,
        Units::Inch => length.0 / MM_PER_INCH,
    }
}

/// The length at a number on a scale in these units.
pub(crate) fn of_units(number: f64, units: Units) -> Mm {
    match units {
        Units::Mm => Mm(number),
        Units::Inch => Mm(number * MM_PER_INCH),
    }
}

/// A number on a scale of gaps, as it stands beside it.
pub(crate) fn tick_text(number: f64, units: Units) -> String {
    of_units(number, units).size().number(Style::printed(units))
}

/// A scale along one direction: values to places.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    pub(crate) low: f64,
    pub(crate) high: f64,
    from: f64,
    to: f64,
}

impl Scale {
    /// Over all these values, with a little room at the ends. Values that are no numbers don't
    /// count.
    pub(crate) fn over(values: impl IntoIterator<Item = f64>, from: f64, to: f64) -> Option<Self> {
        let (low, high) = values
            .into_iter()
            .filter(|value| value.is_finite() && value.abs() < 1e12)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                (low.min(value), high.max(value))
            });
        if low > high {
            return None;
        }
        let room = ((high - low) * 0.06).max(1e-6 * high.abs()).max(1e-9);
        Some(Self { low: low - room, high: high + room, from, to })
    }

    pub(crate) fn at(self, value: f64) -> f64 {
        self.from + (value - self.low) / (self.high - self.low) * (self.to - self.from)
    }

    /// Round values for lines across the chart, at most eight.
    pub(crate) fn ticks(self) -> Vec<f64> {
        let span = self.high - self.low;
        let power = 10_f64.powf((span / 4.0).log10().floor());
        let step =
            [1.0, 2.0, 5.0, 10.0].map(|m| m * power).into_iter().find(|step| span / step <= 6.0);
        let Some(step) = step.filter(|step| step.is_normal()) else {
            return Vec::new();
        };
        let first = (self.low / step).ceil() as i64;
        (0..8).map(|n| (first + n) as f64 * step).take_while(|tick| *tick <= self.high).collect()
    }
}

/// Places labels one under the other without overlap, moved as little as may be (least squares, by
/// pooling those that would overlap), in `low` to `high` as far as they fit. Gives each one's
/// place.
pub(crate) fn spread(wanted: &[f64], apart: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]));
    // With each label's own share of the row taken off, not overlapping means not falling.
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (n, &at) in order.iter().enumerate() {
        pools.push((wanted[at] - apart * n as f64, 1));
        while let [.., (above, above_count), (below, below_count)] = pools[..]
            && above > below
        {
            let count = above_count + below_count;
            let mean = (above * above_count as f64 + below * below_count as f64) / count as f64;
            pools.truncate(pools.len() - 2);
            pools.push((mean, count));
        }
    }
    let last = apart * wanted.len().saturating_sub(1) as f64;
    let mut places = vec![0.0; wanted.len()];
    let shifted = pools.into_iter().flat_map(|(mean, count)| std::iter::repeat_n(mean, count));
    for ((n, &at), shifted) in order.iter().enumerate().zip(shifted) {
        places[at] = shifted.min(high - last).max(low) + apart * n as f64;
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn labels_keep_apart() {
        let places = spread(&[10.0, 11.0, 90.0, 12.0], 8.0, 0.0, 100.0);
        assert_eq!(places, [3.0, 11.0, 90.0, 19.0]);
        let pushed = spread(&[99.0, 100.0], 8.0, 0.0, 100.0);
        assert_eq!(pushed, [92.0, 100.0]);
    }

    proptest! {
        #[test]
        fn ticks_are_few_and_inside(a in -1e6..1e6_f64, b in -1e6..1e6_f64) {
            let scale = Scale::over([a, b], 0.0, 100.0).unwrap();
            let ticks = scale.ticks();
            prop_assert!(ticks.len() <= 8);
            prop_assert!(ticks.iter().all(|tick| *tick >= scale.low - 1e-6 && *tick <= scale.high + 1e-6));
        }
    }
}
