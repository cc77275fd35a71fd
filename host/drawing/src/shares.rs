//! Where an uncertainty comes from: each source's share of the variance.

use skimgauge_quantity::{Style, Units};
use svg::node::element::Group;

use crate::palette::{BEAM, INK, PANEL, SOFT};
use crate::sheet::{Anchor, LETTER, SMALL, drawn, fitted, label, rectangle, sheet, short};

/// A source of uncertainty and what it makes of the whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// Where it comes from.
    pub source: String,
    /// Its share of the variance, 0 to 1.
    pub share: f64,
}

const WIDTH: f64 = 800.0;
const NAMES: f64 = 230.0;
const NUMBERS: f64 = 70.0;
const ROW: f64 = 24.0;

/// The chart, largest share first; none without lines.
pub fn draw(lines: &[Share]) -> Option<svg::Document> {
    let mut lines: Vec<&Share> =
        lines.iter().filter(|line| line.share.is_finite() && line.share >= 0.0).collect();
    if lines.is_empty() {
        return None;
    }
    lines.sort_by(|a, b| b.share.total_cmp(&a.share));
    let height = ROW * lines.len() as f64 + 8.0;
    let alt: Vec<String> =
        lines.iter().map(|line| format!("{} {}", line.source, percent(line.share))).collect();
    let mut chart = sheet(WIDTH, height, &format!("Shares of the uncertainty: {}", alt.join(", ")));
    let full = WIDTH - NAMES - NUMBERS;
    for (n, line) in lines.iter().enumerate() {
        let y = 4.0 + ROW * n as f64;
        let length = full * line.share.min(1.0);
        let bar = Group::new()
            .add(rectangle([NAMES, y + 4.0], [full, ROW - 8.0], PANEL))
            .add(rectangle([NAMES, y + 4.0], [length, ROW - 8.0], BEAM))
            .add(drawn(
                &format!("M{} {}v{}", short(NAMES), short(y + 1.0), short(ROW - 2.0)),
                1.0,
                SOFT,
            ))
            .add(label(
                fitted(&line.source, SMALL, NAMES - 12.0),
                [NAMES - 8.0, y + 16.0],
                SMALL,
                Anchor::End,
                INK,
            ))
            .add(label(percent(line.share), [WIDTH - 4.0, y + 16.5], LETTER, Anchor::End, INK));
        chart = chart.add(bar);
    }
    Some(chart)
}

/// A share in whole percent; what is there but less than one says so.
pub fn percent(share: f64) -> String {
    skimgauge_quantity::share(share).text(Style::printed(Units::Mm))
}
