//! A control chart of single values and their moving ranges, after ISO 7870-2 (Shewhart control
//! charts): limits three standard deviations from the mean, the standard deviation told from what
//! lies between one value and the next, so that a drift does not widen them.

/// What a mean range of two is divided by to give a standard deviation (`d2` for n = 2;
/// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2).
const D2: f64 = 1.128;

/// Upper limit of ranges of two, in mean ranges (`D4` for n = 2; NIST/SEMATECH e-Handbook, 6.3.2.1).
const D4: f64 = 3.267;

/// Fewest values that make a chart: with fewer the limits say nothing.
pub const FEWEST: usize = 5;

/// So many values make the limits; later ones are held against them. ISO 7870-2 asks for 20 or more
/// (from memory); with fewer, all make them.
pub const BASE: usize = 20;

/// So many in a row on one side of the mean (test 2 of Nelson, "The Shewhart control chart: tests for
/// special causes", Journal of Quality Technology 16 (1984), 237 to 239).
const ONE_SIDE: usize = 9;

/// So many in a row, each above the one before, or each below (test 3 there).
const IN_A_ROW: usize = 6;

/// What is out of the ordinary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sign {
    /// A value beyond its limits.
    Beyond,
    /// A jump from one value to the next beyond its limit.
    Jump,
    /// Nine in a row on one side of the mean.
    OneSide,
    /// Six in a row that rise, or that fall.
    Drift,
}

/// The chart of a row of values.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Of those that make the limits.
    pub mean: f64,
    /// Mean of the ranges from one to the next.
    pub mean_range: f64,
    /// Limits of the values.
    pub lower: f64,
    /// The same.
    pub upper: f64,
    /// Limit of the ranges.
    pub upper_range: f64,
    /// What is out of the ordinary, by the place of the value at which it shows, from 0.
    pub signs: Vec<(usize, Sign)>,
}

impl Chart {
    /// The chart of these values, in their order; `None` for fewer than [`FEWEST`], or where one is
    /// no number.
    pub fn of(values: &[f64]) -> Option<Self> {
        if values.len() < FEWEST || values.iter().any(|value| !value.is_finite()) {
            return None;
        }
        let base = &values[..values.len().min(BASE)];
        let ranges: Vec<f64> = values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
        let mean = base.iter().sum::<f64>() / base.len() as f64;
        let base_ranges = &ranges[..base.len() - 1];
        let mean_range = base_ranges.iter().sum::<f64>() / base_ranges.len() as f64;
        let three = 3.0 * mean_range / D2;
        let mut chart = Self {
            mean,
            mean_range,
            lower: mean - three,
            upper: mean + three,
            upper_range: D4 * mean_range,
            signs: Vec::new(),
        };
        chart.signs = chart.signs_of(values, &ranges);
        Some(chart)
    }

    fn signs_of(&self, values: &[f64], ranges: &[f64]) -> Vec<(usize, Sign)> {
        let mut signs = Vec::new();
        let side = |value: f64| (value - self.mean).partial_cmp(&0.0);
        for at in 0..values.len() {
            if !(self.lower..=self.upper).contains(&values[at]) {
                signs.push((at, Sign::Beyond));
            }
            if at > 0 && ranges[at - 1] > self.upper_range {
                signs.push((at, Sign::Jump));
            }
            if let Some(last) = last(values, at, ONE_SIDE)
                && values[at] != self.mean
                && last.iter().all(|value| side(*value) == side(values[at]))
            {
                signs.push((at, Sign::OneSide));
            }
            if let Some(last) = last(values, at, IN_A_ROW)
                && (last.windows(2).all(|pair| pair[0] < pair[1])
                    || last.windows(2).all(|pair| pair[0] > pair[1]))
            {
                signs.push((at, Sign::Drift));
            }
        }
        signs
    }

    /// Where something out of the ordinary first shows, from 0.
    pub fn first_sign(&self) -> Option<(usize, Sign)> {
        self.signs.iter().copied().min()
    }
}

/// The last `many` values up to this place.
fn last(values: &[f64], at: usize, many: usize) -> Option<&[f64]> {
    values.get((at + 1).checked_sub(many)?..=at)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 8258:1991 (since then ISO 7870-2), the example of individuals: moisture of ten lots of
    /// skim milk powder in per cent, to the two places given there. The standard was not at hand: from
    /// memory, and the same numbers and limits stand in the tests of a library that follows it.
    #[test]
    fn the_standards_example_of_single_values() {
        let moisture = [2.9, 3.2, 3.6, 4.3, 3.8, 3.5, 3.0, 3.1, 3.6, 3.5];
        let chart = Chart::of(&moisture).unwrap();
        for (found, printed) in [
            (chart.mean, 3.45),
            (chart.mean_range, 0.38),
            (chart.upper, 4.46),
            (chart.lower, 2.44),
            (chart.upper_range, 1.24),
        ] {
            // There the mean range is rounded before the limits are made of it.
            assert!((found - printed).abs() < 0.008, "{found} {printed}");
        }
        assert_eq!(chart.signs, []);
    }

    /// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (pmc322.htm), individuals control
    /// charts: flow rate of ten batches.
    #[test]
    fn the_handbooks_example_of_flow_rates() {
        let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        let chart = Chart::of(&flow).unwrap();
        for (found, printed) in [
            (chart.mean, 50.81),
            (chart.mean_range, 1.8778),
            (chart.upper, 55.8041),
            (chart.lower, 45.8159),
        ] {
            assert!((found - printed).abs() < 6e-4, "{found} {printed}");
        }
        assert_eq!(chart.signs, []);
    }

    /// Montgomery and Runger, "Applied statistics and probability for engineers", third edition, 16-6,
    /// table 16-3: concentration of twenty batches.
    #[test]
    fn the_textbooks_example_of_concentrations() {
        let concentration = [
            102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1,
            98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0,
        ];
        let chart = Chart::of(&concentration).unwrap();
        for (found, printed, places) in [
            (chart.mean, 99.1, 0.05),
            (chart.mean_range, 2.59, 0.005),
            // There the mean and the mean range are rounded before the limits are made of them.
            (chart.upper, 105.99, 0.012),
            (chart.lower, 92.21, 0.012),
        ] {
            assert!((found - printed).abs() <= places, "{found} {printed}");
        }
        assert_eq!(chart.signs, []);
    }

    #[test]
    fn each_sign_shows_where_it_comes() {
        let calm = |at: usize| if at.is_multiple_of(2) { 1.0 } else { -1.0 };
        let with = |change: &dyn Fn(usize) -> f64| -> Vec<(usize, Sign)> {
            Chart::of(&(0..24).map(change).collect::<Vec<_>>()).unwrap().signs
        };
        assert_eq!(with(&calm), []);
        let jumped = with(&|at| if at == 21 { 9.0 } else { calm(at) });
        assert_eq!(jumped, [(21, Sign::Beyond), (21, Sign::Jump), (22, Sign::Jump)]);
        let side: Vec<f64> = (0..30).map(|at| calm(at) + if at < 20 { 0.0 } else { 1.5 }).collect();
        assert_eq!(Chart::of(&side).unwrap().signs, [(28, Sign::OneSide), (29, Sign::OneSide)]);
        let rising = with(&|at| if at < 18 { calm(at) } else { 0.2 * at as f64 - 4.0 });
        assert_eq!(rising, [(22, Sign::Drift), (23, Sign::Drift)]);
        for few in [&[][..], &[1.0; 4], &[1.0, 2.0, f64::NAN, 1.0, 2.0, 1.0]] {
            assert_eq!(Chart::of(few), None);
        }
    }
}
