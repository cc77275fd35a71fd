//! What one plane leaves over at each station: whether the takes agree with one another.

use skimgauge_quantity::{Mm, Style, Units};
use svg::node::element::Group;

use crate::palette::{BEAM, INK, RULE, SOFT};
use crate::sheet::{Anchor, SMALL, disc, fitted, label, sheet, stroke};

/// What is left over at one station.
#[derive(Debug, Clone, PartialEq)]
pub struct Left {
    /// The station.
    pub station: String,
    /// Taken less fitted gap.
    pub residual: Mm,
}

const WIDTH: f64 = 800.0;
const NAMES: f64 = 150.0;
const NUMBERS: f64 = 90.0;
const ROW: f64 = 22.0;

/// Stations in one chart; those that fit worst come first when there are more.
pub const MOST_ROWS: usize = 24;

/// The chart, the rows as given (the worst first where there are too many); none without rows.
pub fn draw(rows: &[Left], units: Units) -> Option<svg::Document> {
    let mut rows: Vec<&Left> = rows.iter().filter(|row| row.residual.is_finite()).collect();
    if rows.is_empty() {
        return None;
    }
    if rows.len() > MOST_ROWS {
        rows.sort_by(|a, b| b.residual.abs().total_cmp(&a.residual.abs()));
        rows.truncate(MOST_ROWS);
    }
    let most = rows.iter().map(|row| row.residual.abs()).fold(Mm(1e-6), Mm::max);
    let (zero, half) = ((NAMES + WIDTH - NUMBERS) / 2.0, (WIDTH - NUMBERS - NAMES) / 2.0 - 8.0);
    let height = ROW * rows.len() as f64 + 26.0;
    let mut chart = sheet(WIDTH, height, "What one plane leaves over at each station")
        .add(label("take nearer than the plane", [zero - 8.0, 14.0], SMALL, Anchor::End, SOFT))
        .add(label("take farther than the plane", [zero + 8.0, 14.0], SMALL, Anchor::Start, SOFT))
        .add(stroke([zero, 2.0], [zero, height - 4.0], 1.2, INK));
    for (n, row) in rows.iter().enumerate() {
        let y = 26.0 + ROW * (n as f64 + 0.5);
        let x = zero + half * (row.residual / most);
        let shown = row.residual.fine().signed().text(Style::printed(units));
        let group = Group::new()
            .add(stroke([NAMES, y], [WIDTH - NUMBERS, y], 0.5, RULE))
            .add(stroke([zero, y], [x, y], 3.0, BEAM))
            .add(disc([x, y], 4.0, BEAM))
            .add(label(
                fitted(&row.station, SMALL, NAMES - 10.0),
                [NAMES - 8.0, y + 4.0],
                SMALL,
                Anchor::End,
                INK,
            ))
            .add(label(shown, [WIDTH - 4.0, y + 4.0], SMALL, Anchor::End, INK));
        chart = chart.add(group);
    }
    Some(chart)
}
