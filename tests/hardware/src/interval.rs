//! Values with a least and a most, and what a formula of them comes to in its worst corners.

use std::fmt;

/// From the least to the most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// The least.
    pub low: f64,
    /// The most.
    pub high: f64,
}

impl Interval {
    /// From one to the other.
    pub const fn new(low: f64, high: f64) -> Self {
        Self { low, high }
    }

    /// A value that is off by a share of itself at most.
    pub fn within(value: f64, share: f64) -> Self {
        Self::new(value * (1.0 - share), value * (1.0 + share))
    }

    /// Whether all of it lies in another.
    pub fn inside(&self, of: &Self) -> bool {
        of.low <= self.low && self.high <= of.high
    }

    /// Times a number above nothing.
    #[must_use]
    pub fn times(&self, factor: f64) -> Self {
        Self::new(self.low * factor, self.high * factor)
    }
}

impl fmt::Display for Interval {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {}", figures(self.low), figures(self.high))
    }
}

/// Four figures.
pub fn figures(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let places = (3 - value.abs().log10().floor() as i32).clamp(0, 9) as usize;
    let text = format!("{value:.places$}");
    let text = if text.contains('.') { text.trim_end_matches('0') } else { &text };
    text.trim_end_matches('.').to_owned()
}

/// The least and the most of a formula over every corner of its inputs. Right for formulas that go
/// one way in each input, as those of dividers, currents and times do.
pub fn corners<const N: usize>(
    inputs: [Interval; N],
    formula: impl Fn([f64; N]) -> f64,
) -> Interval {
    let mut found = Interval::new(f64::INFINITY, f64::NEG_INFINITY);
    for corner in 0..1_u32 << N {
        let mut at = [0.0; N];
        for (i, input) in inputs.iter().enumerate() {
            at[i] = if corner >> i & 1 == 0 { input.low } else { input.high };
        }
        let value = formula(at);
        found = Interval::new(found.low.min(value), found.high.max(value));
    }
    found
}

/// A value as the schematic writes it: `12.1 k, 0.1 %`, `4.7 uF, 10 %, 50 V`; what follows the
/// tolerance is for whoever buys it. In ohms or farads.
///
/// # Errors
/// What cannot be read.
pub fn written(text: &str) -> Result<Interval, String> {
    let mut fields = text.split(',').map(str::trim);
    let value = fields.next().unwrap_or_default();
    let (number, unit) = value.split_once(' ').unwrap_or((value, ""));
    let number: f64 = number.parse().map_err(|_| format!("`{text}`: no number"))?;
    let factor = match unit {
        "" => 1.0,
        "k" => 1e3,
        "M" => 1e6,
        "uF" => 1e-6,
        "nF" => 1e-9,
        "pF" => 1e-12,
        other => return Err(format!("`{text}`: no unit `{other}`")),
    };
    let tolerance = fields.next().and_then(|field| field.strip_suffix(" %"));
    let tolerance: f64 = tolerance
        .and_then(|tolerance| tolerance.parse().ok())
        .ok_or_else(|| format!("`{text}`: no tolerance"))?;
    Ok(Interval::within(number * factor, tolerance / 100.0))
}
