//! A contact from down to up, compactly.

use serde::{Deserialize, Serialize};

/// Pixels are kept in these parts.
const PX: f64 = 100.0;
/// Milliseconds are kept in these parts: the grain of a browser's clock.
const MS: f64 = 10.0;

/// What touches, as the browser says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Touch.
    Touch,
    /// A mouse, or a display that passes for one: one contact.
    Mouse,
    /// A pen.
    Pen,
}

/// One contact from down to up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// Told apart by this while it lasts.
    pub id: i64,
    /// What touches.
    pub kind: Kind,
    /// Largest width that the display reports, px; 0 or 1 where it reports none.
    #[serde(default)]
    pub width: f64,
    /// Largest pressure, 0 to 1.
    #[serde(default)]
    pub pressure: f64,
    /// It was lifted; else the browser took it away, or nobody saw its end.
    pub lifted: bool,
    /// Time in 0.1 ms, x and y in 0.01 px, one report after the other: the first as it is, each
    /// further one as what it adds.
    pub path: Vec<i64>,
}

/// One report of a contact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Report {
    /// When, ms since the proof began.
    pub at_ms: f64,
    /// CSS pixels from the left.
    pub x: f64,
    /// And from the top.
    pub y: f64,
}

impl Contact {
    /// A contact that begins with this report.
    pub fn new(id: i64, kind: Kind, first: Report) -> Self {
        let mut contact =
            Self { id, kind, width: 0.0, pressure: 0.0, lifted: false, path: Vec::new() };
        contact.report(first);
        contact
    }

    /// With this report after those so far.
    pub fn report(&mut self, report: Report) {
        let last = self.last_parts();
        let parts = [report.at_ms * MS, report.x * PX, report.y * PX];
        for (part, before) in parts.into_iter().zip(last) {
            let now =
                if part.is_finite() { part.round().clamp(-1e15, 1e15) as i64 } else { before };
            self.path.push(now - before);
        }
    }

    fn last_parts(&self) -> [i64; 3] {
        self.path
            .chunks_exact(3)
            .fold([0; 3], |sum, step| std::array::from_fn(|at| sum[at].saturating_add(step[at])))
    }

    /// Its reports.
    pub fn reports(&self) -> Vec<Report> {
        let mut sum = [0i64; 3];
        self.path
            .chunks_exact(3)
            .map(|step| {
                sum = std::array::from_fn(|at| sum[at].saturating_add(step[at]));
                Report { at_ms: sum[0] as f64 / MS, x: sum[1] as f64 / PX, y: sum[2] as f64 / PX }
            })
            .collect()
    }

    /// When it came down, ms.
    pub fn down_ms(&self) -> f64 {
        self.path.first().map_or(0.0, |first| *first as f64 / MS)
    }

    /// When it was last heard of, ms.
    pub fn up_ms(&self) -> f64 {
        self.last_parts()[0] as f64 / MS
    }
}
