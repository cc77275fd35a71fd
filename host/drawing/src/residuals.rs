//! What one plane leaves over at each station: whether the takes agree with one another.

use skimgauge_quantity::{Mm, Name, Sentence, Style, Units, say};
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

/// What the chart says, for who cannot see it: each station with what is left over there.
pub fn in_words(rows: &[Left], units: Units) -> String {
    let rows = worst_first(rows);
    let left =
        |row: &&Left| say!("{} {}", Name(&crate::line(&row.station)), row.residual.fine().signed());
    let told = Sentence::joined(rows.iter().map(left), ", ");
    say!("What one plane leaves over at each station: {told}").text(Style::printed(units))
}

/// As many as are shown: all in their order, or those that fit worst.
fn worst_first(rows: &[Left]) -> Vec<&Left> {
    let mut rows: Vec<&Left> = rows.iter().filter(|row| row.residual.is_finite()).collect();
    if rows.len() > MOST_ROWS {
        rows.sort_by(|a, b| b.residual.abs().total_cmp(&a.residual.abs()));
        rows.truncate(MOST_ROWS);
    }
    rows
}

/// The chart, the rows as given (the worst first where there are too many); none without rows.
pub fn draw(rows: &[Left], units: Units) -> Option<svg::Document> {
    let alt = in_words(rows, units);
    let rows = worst_first(rows);
    if rows.is_empty() {
        return None;
    }
    let most = rows.iter().map(|row| row.residual.abs()).fold(Mm(1e-6), Mm::max);
    let (zero, half) = ((NAMES + WIDTH - NUMBERS) / 2.0, (WIDTH - NUMBERS - NAMES) / 2.0 - 8.0);
    let height = ROW * rows.len() as f64 + 26.0;
    let mut chart = sheet(WIDTH, height, &alt)
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
