//! The board as a picture: where the light stands high and low over it. Told by characters; colour
//! only repeats it.

use super::colour;
use ratatui::style::{Modifier, Style as Paint};
use ratatui::text::{Line, Span};
use skimgauge_model::{Image, Point, Verdict};
use skimgauge_procedure::View;
use skimgauge_procedure::view::board::Spot;
use skimgauge_procedure::view::trim::TrimView;
use skimgauge_quantity::{Band, Mm, Style};

/// Columns of a number with its marks.
const LABEL: usize = 8;
/// More gaps than this written in hide one another.
const MOST_SPOTS: usize = 9;

/// The legend of [`shade`], one line.
pub(super) const LEGEND: &str = "=- near  . low  : high  ░▒▓ far  ‼ worst  ~ not read";

/// A shade for a gap: blank in the middle of the band, dots toward its ends, and beyond them `-`
/// signs for too near and blocks for too far, the heavier the farther.
fn shade(gap: Mm, band: Band<Mm>) -> char {
    let third = band.width() / 3.0;
    match gap {
        gap if !gap.is_finite() => '?',
        gap if gap < band.low - third => '=',
        gap if gap < band.low => '-',
        gap if gap < band.low + third => '.',
        gap if gap <= band.high - third => ' ',
        gap if gap <= band.high => ':',
        gap if gap <= band.high + third => '░',
        gap if gap <= band.high + third * 2.0 => '▒',
        _ => '▓',
    }
}

/// The picture of a trim in so many columns and rows, the emitter's adjusters above it and the
/// legend below.
pub(super) fn lines(
    view: &View,
    trim: &TrimView,
    image: Image,
    style: Style,
    (columns, rows): (usize, usize),
) -> Vec<Line<'static>> {
    let (columns, rows) = (columns.max(30), rows.max(8));
    let (width, height) = (columns - 2, rows - 4);
    let mut canvas = Canvas { image, width, cells: vec![vec![(' ', Paint::new()); width]; height] };
    if let (Some(field), Some(bands)) = (&trim.field, view.bands) {
        canvas.shades(|point| field.at(point), bands.gap);
    }
    for spot in trim.spots.iter().take(MOST_SPOTS) {
        canvas.label(spot, style);
    }
    if let Some(point) = view.place.as_ref().and_then(|place| place.place.point()) {
        canvas.head(point);
    }
    let mut lines = vec![adjusters(trim, columns), Line::raw(format!("┌{}┐", "─".repeat(width)))];
    for row in canvas.cells {
        let mut spans = vec![Span::raw("│")];
        spans.extend(runs(row));
        spans.push(Span::raw("│"));
        lines.push(Line::from(spans));
    }
    lines.push(Line::raw(format!("└{}┘", "─".repeat(width))));
    lines.push(Line::styled(LEGEND, Paint::new().add_modifier(Modifier::DIM)));
    lines
}

/// The adjusters from above, as they sit from left to right, and which is to be turned.
fn adjusters(trim: &TrimView, columns: usize) -> Line<'static> {
    let mut order: Vec<_> = trim.adjusters.iter().collect();
    order.sort_by(|a, b| a.at.x.total_cmp(&b.at.x));
    let mut spans = vec![Span::raw("emitter:")];
    for adjuster in order {
        let turn = trim.turn.as_ref().filter(|_| adjuster.now);
        let arrow = turn.and_then(|turn| turn.left.rotation()).map(|rotation| rotation.arrow());
        let (text, paint) = match (adjuster.now, arrow) {
            (true, Some(arrow)) => {
                let paint = Paint::new().add_modifier(Modifier::REVERSED | Modifier::BOLD);
                (format!(" {arrow}[{}]{arrow}", adjuster.name), paint)
            }
            (true, None) => {
                (format!("  [{}] ", adjuster.name), Paint::new().add_modifier(Modifier::BOLD))
            }
            (false, _) => (format!("  o {} ", adjuster.name), Paint::new()),
        };
        spans.push(Span::styled(text, paint));
    }
    let line = Line::from(spans);
    let pad = columns.saturating_sub(line.width()) / 2;
    let mut padded = vec![Span::raw(" ".repeat(pad))];
    padded.extend(line.spans);
    Line::from(padded)
}

struct Canvas {
    image: Image,
    width: usize,
    cells: Vec<Vec<(char, Paint)>>,
}

impl Canvas {
    fn point(&self, row: usize, column: usize) -> Point {
        let across = (column as f64 + 0.5) / self.width as f64 - 0.5;
        let down = (row as f64 + 0.5) / self.cells.len() as f64;
        Point { x: self.image.width * across, y: self.image.height * -down }
    }

    fn cell(&self, point: Point) -> (usize, usize) {
        let at = |share: f64, count: usize| {
            ((share.clamp(0.0, 1.0) * count as f64) as usize).min(count.saturating_sub(1))
        };
        let column = at(point.x / self.image.width + 0.5, self.width);
        (column, at(-(point.y / self.image.height), self.cells.len()))
    }

    fn shades(&mut self, gap_at: impl Fn(Point) -> Option<Mm>, band: Band<Mm>) {
        for row in 0..self.cells.len() {
            for column in 0..self.width {
                let Some(gap) = gap_at(self.point(row, column)) else { continue };
                let verdict = if band.contains(gap) { Verdict::Within } else { Verdict::Outside };
                self.cells[row][column] = (shade(gap, band), colour(Some(verdict)));
            }
        }
    }

    fn label(&mut self, spot: &Spot, style: Style) {
        let (column, row) = self.cell(spot.at);
        let mark = if spot.worst { '‼' } else { ' ' };
        let shape = spot.verdict.map_or(' ', |verdict| verdict.shape());
        let text = format!("{:>5}{shape}{mark}", spot.number(style));
        let last = self.width.saturating_sub(text.chars().count());
        let from = column.saturating_sub(LABEL / 2).min(last);
        self.write(row, from, &text, colour(spot.verdict).add_modifier(Modifier::BOLD));
    }

    fn head(&mut self, point: Point) {
        const HEAD: &str = "[head]";
        let (column, row) = self.cell(point);
        let row = if row + 1 < self.cells.len() { row + 1 } else { row.saturating_sub(1) };
        let from = column.min(self.width.saturating_sub(HEAD.len()));
        self.write(row, from, HEAD, Paint::new().add_modifier(Modifier::REVERSED));
    }

    fn write(&mut self, row: usize, from: usize, text: &str, paint: Paint) {
        let Some(row) = self.cells.get_mut(row) else { return };
        for (cell, letter) in row.iter_mut().skip(from).zip(text.chars()) {
            *cell = (letter, paint);
        }
    }
}

fn runs(row: Vec<(char, Paint)>) -> Vec<Span<'static>> {
    let mut spans: Vec<(String, Paint)> = Vec::new();
    for (letter, paint) in row {
        match spans.last_mut() {
            Some((text, last)) if *last == paint => text.push(letter),
            _ => spans.push((letter.to_string(), paint)),
        }
    }
    spans.into_iter().map(|(text, paint)| Span::styled(text, paint)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shades_rise_with_the_gap_and_no_two_mean_the_same() {
        let band = Band { low: Mm(1.0), high: Mm(4.0) };
        let shades: String = [-1.0, 0.5, 1.5, 2.5, 3.5, 4.5, 5.5, 9.0]
            .map(|gap| shade(Mm(gap), band))
            .into_iter()
            .collect();
        assert_eq!(shades, "=-. :░▒▓");
        assert_eq!(shade(Mm(f64::NAN), band), '?');
    }
}
