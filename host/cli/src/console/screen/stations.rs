//! The stations with their takes: a table where there is room, else one line.

use super::{colour, room};
use ratatui::style::{Modifier, Style as Paint};
use ratatui::text::{Line, Span};
use skimgauge_metrology::verdict::JudgedAt;
use skimgauge_model::Verdict;
use skimgauge_procedure::View;
use skimgauge_procedure::view::{EmitterView, StationView};
use skimgauge_quantity::{Style, count};

/// Columns of the table with its frame: the least, and with the longest name.
pub(super) const COLUMNS: u16 = 40;
pub(super) const COLUMNS_MOST: u16 = 50;
/// Columns of a name: the least, and those of the longest one.
const NAME: usize = 14;
const NAME_MOST: usize = 24;
/// More marks than this in one line are a mere row of dots: a count says more.
const MOST_MARKS: usize = 20;

/// All of it in one line: a mark for each place, and the verdict.
pub(super) fn strip(view: &View) -> Line<'static> {
    let mut spans = Vec::new();
    if view.stations.len() <= MOST_MARKS {
        for station in &view.stations {
            let here = if station.here { "▸" } else { "" };
            let verdict = station.taken.as_ref().map(|taken| taken.verdict);
            let shape = verdict.map_or('·', |verdict| verdict.shape());
            let text = format!("{here}{}{shape} ", station.index + 1);
            spans.push(Span::styled(text, emphasis(colour(verdict), station.here)));
        }
        if let Some(emitter) = view.emitter {
            let (here, shape) = (if emitter.here { "▸" } else { "" }, mark(emitter));
            spans.push(Span::styled(
                format!("{here}e{shape} "),
                emphasis(Paint::new(), emitter.here),
            ));
        }
    }
    if let Some(whole) = &view.whole {
        let paint = colour(Some(whole.verdict)).add_modifier(Modifier::BOLD);
        let (shape, word) = (whole.verdict.shape(), whole.verdict.shown());
        let said = if whole.nothing_taken {
            "  nothing taken yet".to_owned()
        } else {
            match (whole.verdict, &whole.judged_at) {
                (Verdict::Within, JudgedAt::Board(_)) => {
                    format!("  {shape} {word}: whole board, as surveyed")
                }
                (Verdict::Within, JudgedAt::Places(read)) => {
                    format!("  {shape} {word} at {} read", count(read.len(), "place"))
                }
                _ => format!("  all: {shape} {word}"),
            }
        };
        spans.push(Span::styled(said, paint));
    }
    Line::from(spans)
}

fn emphasis(paint: Paint, here: bool) -> Paint {
    if here { paint.add_modifier(Modifier::BOLD | Modifier::REVERSED) } else { paint }
}

fn mark(emitter: EmitterView) -> char {
    if emitter.taken.is_some() { '●' } else { '·' }
}

/// A line for each place in so many columns and rows, then the verdict and why.
pub(super) fn table(
    view: &View,
    style: Style,
    (columns, rows): (usize, usize),
) -> Vec<Line<'static>> {
    // Whatever does not fit in before the verdict scrolls with the user.
    const VERDICT: usize = 5;
    let room = rows.saturating_sub(VERDICT + usize::from(view.emitter.is_some())).max(1);
    let name = columns.saturating_sub(usize::from(COLUMNS) - 2 - NAME).clamp(NAME, NAME_MOST);
    let here = view.stations.iter().position(|station| station.here).unwrap_or(0);
    let first = here.saturating_sub(room / 2).min(view.stations.len().saturating_sub(room));
    let mut lines: Vec<Line<'static>> =
        view.stations.iter().skip(first).take(room).map(|one| row(one, style, name)).collect();
    if let Some(emitter) = view.emitter {
        let level = view.whole.as_ref().and_then(|whole| whole.level);
        let value = match (emitter.taken, level) {
            (None, _) => "     ·".to_owned(),
            (Some(_), Some(level)) => {
                let shape = level.verdict.shape();
                format!("level {} {shape}", level.value.figure().signed().text(style))
            }
            (Some(_), None) => "taken".to_owned(),
        };
        let here = if emitter.here { '▸' } else { ' ' };
        lines.push(Line::raw(format!("{here} e {:<name$} {value}", "emitter")));
    }
    if let Some(whole) = &view.whole {
        let paint = colour(Some(whole.verdict)).add_modifier(Modifier::BOLD);
        let headline = format!("{} {}", whole.verdict.shape(), whole.headline.text(style));
        lines.push(Line::default());
        let said = if whole.nothing_taken {
            vec![Line::raw(whole.line().text(style))]
        } else {
            vec![Line::styled(headline, paint), Line::raw(whole.because.text(style))]
        };
        let left = rows.saturating_sub(lines.len()).max(1);
        lines.extend(room::wrapped(&said, columns, left));
    }
    lines
}

fn row(station: &StationView, style: Style, columns: usize) -> Line<'static> {
    let here = if station.here { '▸' } else { ' ' };
    let name = room::column(&station.name, columns);
    let name = Span::raw(format!("{here}{:>2} {name} ", station.index + 1));
    let Some(taken) = &station.taken else { return Line::from(vec![name, Span::raw("     ·")]) };
    let seats = if taken.seats > 1 { format!("×{}", taken.seats) } else { String::new() };
    let value = format!(
        "{:>6} ±{} {}{seats}",
        taken.gap.gap().number(style),
        taken.expanded.uncertainty().number(style),
        taken.verdict.shape(),
    );
    Line::from(vec![name, Span::styled(value, colour(Some(taken.verdict)))])
}
