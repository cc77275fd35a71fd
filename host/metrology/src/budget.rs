//! The uncertainty budget: what goes into a result, with which weight, and what comes out.
//!
//! After JCGM 100:2008 (the GUM): each source's statement over its divisor is a standard
//! uncertainty, times its sensitivity a contribution; contributions add as squares (5.1), their
//! degrees of freedom after Welch and Satterthwaite (G.4).

use crate::coverage::{DofRule, Expanded, Share, combined_u, effective_dof, expand};
use nalgebra::DMatrix;
use serde::{Deserialize, Serialize};
use std::fmt::Write;

/// What is known of how a source's errors are spread: what its stated uncertainty must be divided
/// by.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Distribution {
    /// Found from readings; stated as a standard uncertainty (type A).
    Readings,
    /// Stated as a standard uncertainty.
    Normal,
    /// An expanded uncertainty, stated with its coverage factor.
    Expanded(f64),
    /// Anywhere within plus and minus the statement, alike: over root three.
    Rectangular,
    /// Within plus and minus the statement, the middle likelier: over root six.
    Triangular,
    /// Swings between plus and minus the statement: over root two.
    Arcsine,
}

impl Distribution {
    /// What a statement is divided by (GUM 4.3.3 to 4.3.9; arcsine from H.1.3.4).
    pub fn divisor(self) -> f64 {
        match self {
            Self::Readings | Self::Normal => 1.0,
            Self::Expanded(k) => k,
            Self::Rectangular => 3f64.sqrt(),
            Self::Triangular => 6f64.sqrt(),
            Self::Arcsine => 2f64.sqrt(),
        }
    }

    /// Its name in a table.
    pub fn name(self) -> &'static str {
        match self {
            Self::Readings => "readings",
            Self::Normal => "normal",
            Self::Expanded(_) => "certificate",
            Self::Rectangular => "rectangular",
            Self::Triangular => "triangular",
            Self::Arcsine => "arcsine",
        }
    }
}

/// One source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// What it is, with its unit if that is not the result's.
    pub source: String,
    /// Its value, in its own unit.
    pub value: f64,
    /// Its uncertainty as stated, in its own unit.
    pub stated: f64,
    /// What that statement means.
    pub distribution: Distribution,
    /// Change of the result with the source.
    pub sensitivity: f64,
    /// Degrees of freedom; `None` where the uncertainty is taken as known.
    pub dof: Option<f64>,
}

impl Entry {
    /// An entry with sensitivity one, taken as known.
    pub fn new(
        source: impl Into<String>,
        value: f64,
        stated: f64,
        distribution: Distribution,
    ) -> Self {
        Self { source: source.into(), value, stated, distribution, sensitivity: 1.0, dof: None }
    }

    /// The same with another sensitivity.
    pub fn times(mut self, sensitivity: f64) -> Self {
        self.sensitivity = sensitivity;
        self
    }

    /// The same with degrees of freedom; infinity is `None`.
    pub fn with_dof(mut self, dof: f64) -> Self {
        self.dof = dof.is_finite().then_some(dof);
        self
    }

    /// Standard uncertainty, unit of the source.
    pub fn u(&self) -> f64 {
        self.stated / self.distribution.divisor()
    }

    /// What it contributes, unit of the result; not negative.
    pub fn contribution(&self) -> f64 {
        (self.sensitivity * self.u()).abs()
    }

    fn share(&self) -> Share {
        Share { u: self.contribution(), dof: self.dof.unwrap_or(f64::INFINITY) }
    }
}

/// A result and all that makes it uncertain. The entries are independent of each other.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Budget {
    /// What is measured.
    pub quantity: String,
    /// Unit of the result and of all contributions.
    pub unit: String,
    /// The result.
    pub value: f64,
    /// The sources.
    pub entries: Vec<Entry>,
}

impl Budget {
    /// A budget without entries.
    pub fn new(quantity: impl Into<String>, unit: impl Into<String>, value: f64) -> Self {
        Self { quantity: quantity.into(), unit: unit.into(), value, entries: Vec::new() }
    }

    /// Combined standard uncertainty.
    pub fn u(&self) -> f64 {
        combined_u(&self.shares())
    }

    /// Effective degrees of freedom; infinity where all is taken as known.
    pub fn dof(&self) -> f64 {
        effective_dof(&self.shares())
    }

    /// Expanded uncertainty; `None` where the entries do not allow one (a number that is not one,
    /// less than one degree of freedom).
    pub fn expanded(&self, level: f64) -> Option<Expanded> {
        expand(self.u(), self.dof(), level, DofRule::Truncate)
    }

    /// An entry's share of the result's variance, 0 to 1.
    pub fn share(&self, entry: &Entry) -> f64 {
        let u = self.u();
        if u > 0.0 { (entry.contribution() / u).powi(2) } else { 0.0 }
    }

    /// The whole as one entry of another budget.
    pub fn as_entry(&self) -> Entry {
        Entry::new(&self.quantity, self.value, self.u(), Distribution::Normal).with_dof(self.dof())
    }

    fn shares(&self) -> Vec<Share> {
        self.entries.iter().map(Entry::share).collect()
    }

    /// The budget as a table in plain text, one line a source, with the result below it at this
    /// level of confidence.
    pub fn table(&self, level: f64) -> String {
        let head = [
            "source",
            "value",
            "stated",
            "distribution",
            "divisor",
            "u",
            "sensitivity",
            "contribution",
            "dof",
            "share",
        ];
        let mut rows: Vec<[String; 10]> = vec![head.map(str::to_owned)];
        rows.extend(self.entries.iter().map(|e| {
            [
                e.source.clone(),
                figures(e.value, 6),
                figures(e.stated, 3),
                e.distribution.name().to_owned(),
                figures(e.distribution.divisor(), 4),
                figures(e.u(), 3),
                figures(e.sensitivity, 3),
                figures(e.contribution(), 3),
                e.dof.map_or_else(|| "-".to_owned(), |dof| format!("{dof:.0}")),
                format!("{:.1} %", 100.0 * self.share(e)),
            ]
        }));
        let widths: [usize; 10] =
            std::array::from_fn(|c| rows.iter().map(|r| r[c].chars().count()).max().unwrap_or(0));
        let mut text = format!("{}, {}\n", self.quantity, self.unit);
        for row in &rows {
            let mut line = String::new();
            for (column, (cell, width)) in row.iter().zip(widths).enumerate() {
                // Words to the left, numbers to the right.
                let _ = match column {
                    0 | 3 => write!(line, "{cell:<width$}  "),
                    _ => write!(line, "{cell:>width$}  "),
                };
            }
            text.push_str(line.trim_end());
            text.push('\n');
        }
        let _ = write!(text, "result {}, u = {}", figures(self.value, 8), figures(self.u(), 3));
        match self.expanded(level) {
            Some(x) => {
                let dof = if x.dof.is_finite() {
                    format!("{:.1}", x.dof)
                } else {
                    "unlimited".to_owned()
                };
                let _ = writeln!(
                    text,
                    ", {dof} degrees of freedom, k = {:.2}, U = {} {} ({} %)",
                    x.k,
                    figures(x.expanded, 3),
                    self.unit,
                    figures(level * 100.0, 5)
                );
            }
            None => text.push_str(", too little known for an interval\n"),
        }
        text
    }
}

/// A number with so many significant figures, in the plain form unless that would be long.
pub fn figures(x: f64, digits: usize) -> String {
    if x == 0.0 || !x.is_finite() {
        return format!("{x}");
    }
    let digits = digits.max(1);
    // The exponent after rounding: 9.996 with three figures is 10.0.
    let rounded: f64 = format!("{x:.*e}", digits - 1).parse().unwrap_or(x);
    let exponent = rounded.abs().log10().floor() as i32;
    if (-4..9).contains(&exponent) {
        let decimals = (digits as i32 - 1 - exponent).max(0) as usize;
        let text = format!("{x:.decimals$}");
        return if text.contains('.') && digits > 4 {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        };
    }
    format!("{x:.*e}", digits - 1)
}

/// Covariance of the means of quantities read together, `readings[quantity][reading]` (GUM 5.2.3).
/// `None` unless all have the same number of readings, at least two.
pub fn covariance_of_means(readings: &[Vec<f64>]) -> Option<DMatrix<f64>> {
    let n = readings.first()?.len();
    if n < 2 || readings.iter().any(|r| r.len() != n) {
        return None;
    }
    let means: Vec<f64> = readings.iter().map(|r| r.iter().sum::<f64>() / n as f64).collect();
    let scale = (n * (n - 1)) as f64;
    Some(DMatrix::from_fn(readings.len(), readings.len(), |i, j| {
        readings[i]
            .iter()
            .zip(&readings[j])
            .map(|(a, b)| (a - means[i]) * (b - means[j]))
            .sum::<f64>()
            / scale
    }))
}

/// Covariance of results from the covariance of their inputs; `sensitivities` has a row for each
/// result (GUM 5.2.2 and H.2.3, in matrix form). `None` where the sizes do not fit.
pub fn propagate(sensitivities: &DMatrix<f64>, covariance: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let fits = covariance.is_square() && sensitivities.ncols() == covariance.nrows();
    fits.then(|| sensitivities * covariance * sensitivities.transpose())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_significant_ones() {
        for (x, digits, want) in [
            (9.996, 3, "10.0"),
            (0.0123456, 3, "0.0123"),
            (31.6638, 3, "31.7"),
            (50_000_623.0, 6, "50000623"),
            (-1.2e-6, 3, "-1.20e-6"),
            (215.0, 6, "215"),
            (0.0, 3, "0"),
        ] {
            assert_eq!(figures(x, digits), want);
        }
    }

    #[test]
    fn nothing_known_is_said() {
        let mut budget = Budget::new("gap", "mm", 3.0);
        budget.entries.push(Entry::new("guess", 0.0, 0.1, Distribution::Normal).with_dof(0.5));
        assert_eq!(budget.expanded(0.95), None);
        assert!(budget.table(0.95).contains("too little known"));
        assert_eq!(covariance_of_means(&[vec![1.0], vec![2.0]]), None);
        assert_eq!(propagate(&DMatrix::zeros(1, 2), &DMatrix::zeros(3, 3)), None);
    }
}
