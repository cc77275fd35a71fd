//! The board as a picture: where the light stands high and low over it. Told by characters; colour
//! only repeats it.

use super::watch::colour;
use super::words;
use crate::lengths::Lengths;
use crate::trim::guide::Shown;
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use skimgauge_model::Image;
use skimgauge_model::{Adjuster, Verdict};
use skimgauge_quantity::{Band, Mm};

/// Columns of a number with its mark.
const LABEL: usize = 8;

/// What the picture shows.
pub struct Picture<'a> {
    /// The image.
    pub image: Image,
    /// The band, mm.
    pub band: Band<Mm>,
    /// The gap anywhere, mm; `None` before there is a plane.
    pub gap_at: &'a dyn Fn(f64, f64) -> Option<f64>,
    /// Gaps that are written in.
    pub shown: &'a [Shown],
    /// The emitter's screws.
    pub adjusters: &'a [Adjuster; 3],
    /// The screw to turn now, and its turns, clockwise positive.
    pub turn: Option<(usize, f64)>,
    /// Where the head is, or should go, in the image's frame, mm.
    pub head: Option<(f64, f64)>,
    /// In which units gaps are written.
    pub units: Lengths,
}

/// A shade for a gap: blank in the middle of the band, dots toward its ends, and beyond them `-`
/// signs for too near and blocks for too far, the heavier the farther.
pub fn shade(gap_mm: f64, band: Band<Mm>) -> char {
    let third = band.width() / 3.0;
    match Mm(gap_mm) {
        g if !g.is_finite() => '?',
        g if g < band.low - third => '=',
        g if g < band.low => '-',
        g if g < band.low + third => '.',
        g if g <= band.high - third => ' ',
        g if g <= band.high => ':',
        g if g <= band.high + third => '░',
        g if g <= band.high + 2.0 * third => '▒',
        _ => '▓',
    }
}

/// The legend of [`shade`], one line.
pub const LEGEND: &str = "=- near  . low  : high  ░▒▓ far  ‼ worst";

impl Picture<'_> {
    /// The picture in so many columns and rows, the emitter's screws above it.
    pub fn lines(&self, columns: u16, rows: u16) -> Vec<Line<'static>> {
        let (columns, rows) = (usize::from(columns.max(30)), usize::from(rows.max(8)));
        let mut lines = self.emitter(columns);
        let height = rows - lines.len() - 2;
        let width = columns - 2;
        let mut cells = self.shades(width, height);
        let worst = self.worst();
        for (at, shown) in self.shown.iter().enumerate().take(9) {
            self.label(&mut cells, shown, Some(at) == worst);
        }
        if let Some((x_mm, y_mm)) = self.head {
            let (column, row) = self.cell(width, height, x_mm, y_mm);
            let row = if row + 1 < height { row + 1 } else { row.saturating_sub(1) };
            write(
                &mut cells[row],
                column.min(width.saturating_sub(6)),
                "[head]",
                Style::new().add_modifier(Modifier::REVERSED),
            );
        }
        lines.push(Line::from(format!("┌{}┐", "─".repeat(width))));
        for row in cells {
            let mut spans = vec![Span::raw("│")];
            spans.extend(runs(row));
            spans.push(Span::raw("│"));
            lines.push(Line::from(spans));
        }
        lines.push(Line::from(format!("└{}┘", "─".repeat(width))));
        lines
    }

    /// Two lines: the screws from above, and what is to be done with them.
    fn emitter(&self, columns: usize) -> Vec<Line<'static>> {
        let mut order: Vec<usize> = (0..3).collect();
        order.sort_by(|a, b| self.adjusters[*a].at.x.0.total_cmp(&self.adjusters[*b].at.x.0));
        let mut spans = vec![Span::raw("emitter:")];
        for at in order {
            let name = &self.adjusters[at].name;
            let (text, style) = match self.turn {
                Some((turned, turns)) if turned == at => {
                    let arrow = if turns > 0.0 { '↻' } else { '↺' };
                    (
                        format!(" {arrow}[{name}]{arrow}"),
                        Style::new().add_modifier(Modifier::REVERSED | Modifier::BOLD),
                    )
                }
                _ => (format!("  o {name} "), Style::new()),
            };
            spans.push(Span::raw(" "));
            spans.push(Span::styled(text, style));
        }
        let line = Line::from(spans);
        let pad = columns.saturating_sub(line.width()) / 2;
        let mut padded = vec![Span::raw(" ".repeat(pad))];
        padded.extend(line.spans);
        vec![Line::from(padded)]
    }

    fn place(&self, width: usize, height: usize, column: usize, row: usize) -> (f64, f64) {
        let across = (column as f64 + 0.5) / width as f64 - 0.5;
        let down = (row as f64 + 0.5) / height as f64;
        (across * self.image.width.0, -down * self.image.height.0)
    }

    fn cell(&self, width: usize, height: usize, x_mm: f64, y_mm: f64) -> (usize, usize) {
        let at = |share: f64, count: usize| ((share * count as f64) as usize).min(count - 1);
        (
            at((x_mm / self.image.width.0 + 0.5).clamp(0.0, 1.0), width),
            at((-y_mm / self.image.height.0).clamp(0.0, 1.0), height),
        )
    }

    fn shades(&self, width: usize, height: usize) -> Vec<Vec<(char, Style)>> {
        let cell = |row: usize, column: usize| {
            let (x_mm, y_mm) = self.place(width, height, column, row);
            match (self.gap_at)(x_mm, y_mm) {
                Some(gap_mm) => {
                    let inside = self.band.contains(Mm(gap_mm));
                    (
                        shade(gap_mm, self.band),
                        colour(Some(if inside { Verdict::Within } else { Verdict::Outside })),
                    )
                }
                None => (' ', Style::new()),
            }
        };
        (0..height).map(|row| (0..width).map(|column| cell(row, column)).collect()).collect()
    }

    /// The point whose interval reaches furthest toward, or past, an end of the band.
    fn worst(&self) -> Option<usize> {
        let room = |s: &Shown| self.band.inside(Mm(s.gap_mm)).0 - s.expanded_mm;
        (0..self.shown.len()).min_by(|a, b| room(&self.shown[*a]).total_cmp(&room(&self.shown[*b])))
    }

    fn label(&self, cells: &mut [Vec<(char, Style)>], shown: &Shown, worst: bool) {
        let (height, width) = (cells.len(), cells[0].len());
        let (column, row) = self.cell(width, height, shown.point.x_mm, shown.point.y_mm);
        let mark = if worst { '‼' } else { ' ' };
        let shape = shown.verdict.map_or(' ', words::shape);
        let text = format!("{:>5}{shape}{mark}", self.units.gap_number(shown.gap_mm));
        let from = column.saturating_sub(LABEL / 2).min(width.saturating_sub(text.chars().count()));
        write(&mut cells[row], from, &text, colour(shown.verdict).add_modifier(Modifier::BOLD));
    }
}

fn write(row: &mut [(char, Style)], from: usize, text: &str, style: Style) {
    for (offset, character) in text.chars().enumerate() {
        if let Some(cell) = row.get_mut(from + offset) {
            *cell = (character, style);
        }
    }
}

fn runs(row: Vec<(char, Style)>) -> Vec<Span<'static>> {
    let mut spans: Vec<(String, Style)> = Vec::new();
    for (character, style) in row {
        match spans.last_mut() {
            Some((text, last)) if *last == style => text.push(character),
            _ => spans.push((character.to_string(), style)),
        }
    }
    spans.into_iter().map(|(text, style)| Span::styled(text, style)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shades_rise_with_the_gap_and_no_two_mean_the_same() {
        let band = Band { low: Mm(1.0), high: Mm(4.0) };
        let shades: String = [-1.0, 0.5, 1.5, 2.5, 3.5, 4.5, 5.5, 9.0]
            .map(|gap| shade(gap, band))
            .into_iter()
            .collect();
        assert_eq!(shades, "=-. :░▒▓");
        assert_eq!(shade(f64::NAN, band), '?');
    }
}
