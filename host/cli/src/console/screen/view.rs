//! A view on the whole terminal: the digits are as big as they can be, then what to do, where, and
//! how it stands; panels have what is left.

use super::act;
use super::face;
use super::headline::Headline;
use super::number::{self, Number};
use super::{Look, bar, help, picture, room, says, stations};
use crate::console::constants;
use crate::lengths::Lengths;
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::Line;
use ratatui::widgets::{Block, Borders, Paragraph, Wrap};
use skimgauge_metrology::zero::Outcome;
use skimgauge_procedure::View;
use skimgauge_procedure::birth::Found;
use skimgauge_procedure::view::birth::BirthStep;
use skimgauge_procedure::view::trim::Advice;
use skimgauge_procedure::view::zero::ZeroView;
use skimgauge_procedure::view::{Part, State};
use skimgauge_quantity::Mm;

/// Below this nothing can be read from two metres.
const LEAST: (u16, u16) = (60, 18);
/// From so many columns on there is room for a panel beside the digits.
const PANEL_FROM: u16 = 80 + stations::COLUMNS;
/// A panel under the digits wants so many rows.
const PANEL_ROWS: u16 = 9;
/// Rows of words in big letters, and of the larger ones where there is room.
const WORD_ROWS: u16 = 3;
const TALL_WORD_ROWS: u16 = 5;
const TALL_FROM: u16 = 34;
/// Digits grow no further than this many rows: from two metres half of it is enough.
const DIGIT_ROWS_MOST: u16 = 15;

/// Where everything goes in the main column.
struct Rows {
    act: Rect,
    says: Rect,
    digits: Rect,
    state: Rect,
    bar: Rect,
    strip: Rect,
    panel: Rect,
}

/// Whether a screen of this size can show a view.
pub(super) fn fits(area: Rect) -> bool {
    area.width >= LEAST.0 && area.height >= LEAST.1
}

/// Draws a view on the whole screen.
pub(super) fn draw(frame: &mut Frame<'_>, view: &View, look: &Look<'_>) {
    let area = frame.area();
    if !fits(area) {
        let text = format!("Make this window at least {} by {} characters.", LEAST.0, LEAST.1);
        return frame.render_widget(Paragraph::new(text).wrap(Wrap { trim: true }), area);
    }
    let [top, middle, foot] =
        Layout::vertical([Constraint::Length(1), Constraint::Min(10), Constraint::Length(2)])
            .areas(area);
    let columns = usize::from(area.width);
    frame.render_widget(Paragraph::new(says::title(view, look.style, columns)), top);
    let beside = area.width >= PANEL_FROM && has_panel(view);
    let main = if beside {
        let side = (area.width - 80).min(stations::COLUMNS_MOST);
        let [main, side] =
            Layout::horizontal([Constraint::Min(80), Constraint::Length(side)]).areas(middle);
        draw_panel(frame, view, look, side);
        main
    } else {
        middle
    };
    if let Part::Zero(ZeroView { found: Some(found), .. }) = &view.part {
        draw_constants(frame, view, look, found, main);
    } else if pauses(view) && !beside {
        draw_pause(frame, view, look, main);
    } else {
        draw_main(frame, view, look, main, beside);
    }
    let lines = says::foot(view, look.beside, look.style, columns);
    frame.render_widget(Paragraph::new(lines), foot);
    if look.help {
        help::draw(frame, view, look, area);
    }
}

/// What a zeroing comes to, with what is asked of it: there is nothing else to look at.
fn draw_constants(
    frame: &mut Frame<'_>,
    view: &View,
    look: &Look<'_>,
    found: &Outcome,
    area: Rect,
) {
    let mut lines = room::wrapped(
        &says::sentences(view, look.style, usize::from(area.width)),
        usize::from(area.width),
        usize::from(area.height),
    );
    let units = Lengths(look.style.units);
    let whole = constants::outcome(found, units);
    let room = usize::from(area.height).saturating_sub(lines.len());
    let text = if whole.lines().count() <= room { whole } else { constants::brief(found, units) };
    lines.extend(text.lines().map(|line| Line::raw(line.to_owned())));
    frame.render_widget(Paragraph::new(lines), area);
}

/// A moment to look at the board: nothing is measured that has to be read from afar.
pub(super) fn pauses(view: &View) -> bool {
    matches!(&view.part, Part::Trim(trim)
        if matches!(trim.advice, Advice::Begin | Advice::Survey | Advice::Over))
}

fn has_panel(view: &View) -> bool {
    !view.stations.is_empty()
        || matches!(view.part, Part::Trim(_) | Part::Zero(_) | Part::Birth(_))
        || matches!(&view.part, Part::Level(level) if !level.kept.is_empty())
}

fn draw_main(frame: &mut Frame<'_>, view: &View, look: &Look<'_>, area: Rect, beside: bool) {
    let sentences = says::sentences(view, look.style, usize::from(area.width));
    let numbers = number::numbers(view, look.style);
    let rows = rows(view, &sentences, &numbers, area, beside);
    act::headline(view).draw(frame, rows.act);
    draw_says(frame, &sentences, rows.says);
    draw_digits(frame, &numbers, rows.digits);
    number::state(view, look.style).draw(frame, rows.state);
    if rows.bar.height > 0 {
        draw_bar(frame, view, look, rows.bar);
    }
    if rows.strip.height > 0 {
        frame.render_widget(Paragraph::new(stations::strip(view)), rows.strip);
    }
    if rows.panel.height > 0 {
        draw_panel(frame, view, look, rows.panel);
    }
}

fn rows(view: &View, sentences: &[Line<'_>], numbers: &[Number], area: Rect, beside: bool) -> Rows {
    let good = view.live.gap.good().is_some() && !number::at_emitter(view);
    let has_bar =
        good && view.bands.is_some() && !matches!(view.part, Part::Level(_) | Part::Zero(_));
    let has_strip = !beside && !view.stations.is_empty();
    let word = if area.height >= TALL_FROM { TALL_WORD_ROWS } else { WORD_ROWS };
    let bar = if has_bar { 2 } else { 0 };
    let strip = u16::from(has_strip);
    // Where there is no pointer its rows are for the sentence that says why; with it the digits
    // give two of theirs to what is to be read.
    let says = rows_of(sentences, area.width).clamp(2, most_said(view, area));
    let left = area.height.saturating_sub(2 * word + says + bar + strip);
    let each = u16::try_from(numbers.len()).unwrap_or(1).max(1);
    let mut digits = left.min(DIGIT_ROWS_MOST.saturating_mul(each));
    // A panel has what is left over, if that is enough for it.
    let wants_panel = has_panel(view) && !beside;
    let panel = if wants_panel && left >= 10 * each + PANEL_ROWS {
        digits = digits.min(left - PANEL_ROWS);
        left - digits
    } else {
        0
    };
    let [act, says, digits, state, bar, strip, panel, _] = Layout::vertical([
        Constraint::Length(word),
        Constraint::Length(says),
        Constraint::Length(digits),
        Constraint::Length(word),
        Constraint::Length(bar),
        Constraint::Length(strip),
        Constraint::Length(panel),
        Constraint::Min(0),
    ])
    .areas(area);
    Rows { act, says, digits, state, bar, strip, panel }
}

/// Rows that sentences get at most. At the end nothing is read from afar any more, and what would
/// settle the verdict is all that matters.
fn most_said(view: &View, area: Rect) -> u16 {
    let over = view.state == State::Over;
    if over || area.height >= TALL_FROM { 7 } else { 4 }
}

/// Rows that lines take once they are wrapped between words.
fn rows_of(lines: &[Line<'_>], columns: u16) -> u16 {
    let rows = room::wrapped(lines, usize::from(columns), usize::MAX).len();
    u16::try_from(rows).unwrap_or(u16::MAX)
}

/// Sentences in their place: what does not fit is seen to be cut.
fn draw_says(frame: &mut Frame<'_>, sentences: &[Line<'_>], area: Rect) {
    let (columns, rows) = (usize::from(area.width), usize::from(area.height));
    frame.render_widget(Paragraph::new(room::wrapped(sentences, columns, rows)), area);
}

/// Columns for what a number is called, where there are several.
const CALLED: u16 = 14;

fn draw_digits(frame: &mut Frame<'_>, numbers: &[Number], area: Rect) {
    let areas = match numbers {
        // The first matters more.
        [_, _] => Layout::vertical([Constraint::Fill(3), Constraint::Fill(2)]).split(area),
        _ => Layout::vertical([Constraint::Fill(1)]).split(area),
    };
    for (number, area) in numbers.iter().zip(areas.iter()) {
        let [called, area] = Layout::horizontal([
            Constraint::Length(if number.called.is_empty() { 0 } else { CALLED }),
            Constraint::Min(0),
        ])
        .areas(*area);
        Headline::of(&[number.called], String::new(), number.style)
            .draw(frame, Rect { height: called.height.min(WORD_ROWS), ..called });
        let (columns, rows) = (usize::from(area.width), usize::from(area.height));
        let lines = match face::fitting(&number.text, columns, rows, number.ink) {
            Some(dot) => face::lines(&number.text, dot, number.ink),
            None => vec![number.text.clone()],
        };
        let lines: Vec<Line<'_>> = lines.into_iter().map(Line::from).collect();
        frame.render_widget(Paragraph::new(lines).style(number.style), area);
    }
}

fn draw_bar(frame: &mut Frame<'_>, view: &View, look: &Look<'_>, area: Rect) {
    let Some(bands) = view.bands else { return };
    let band = match view.aim {
        // Half a millimetre to either side of the gap to come to.
        Some(aim) => skimgauge_quantity::Band { low: aim.to - Mm(0.5), high: aim.to + Mm(0.5) },
        None => bands.gap,
    };
    let lines = bar::lines(band, view.live.gap.good(), usize::from(area.width), look.style);
    let paint =
        number::numbers(view, look.style).first().map_or_else(Default::default, |n| n.style);
    frame.render_widget(Paragraph::new(lines.map(Line::from).to_vec()).style(paint), area);
}

/// The board, or the stations, in place of the digits, with the same words above and below.
fn draw_pause(frame: &mut Frame<'_>, view: &View, look: &Look<'_>, area: Rect) {
    let sentences = says::sentences(view, look.style, usize::from(area.width));
    let rows = rows_of(&sentences, area.width).clamp(2, most_said(view, area));
    let [act, says, strip, panel] = Layout::vertical([
        Constraint::Length(WORD_ROWS),
        Constraint::Length(rows),
        Constraint::Length(1),
        Constraint::Min(8),
    ])
    .areas(area);
    act::headline(view).draw(frame, act);
    draw_says(frame, &sentences, says);
    frame.render_widget(Paragraph::new(stations::strip(view)), strip);
    draw_panel(frame, view, look, panel);
}

fn draw_panel(frame: &mut Frame<'_>, view: &View, look: &Look<'_>, area: Rect) {
    match &view.part {
        Part::Trim(trim) => {
            let Some(image) = view.image else { return };
            let picture = picture::lines(
                view,
                trim,
                image,
                look.style,
                (usize::from(area.width), usize::from(area.height)),
            );
            frame.render_widget(Paragraph::new(picture), area);
        }
        Part::Zero(zero) => {
            let lines: Vec<Line<'_>> = zero
                .steps
                .iter()
                .enumerate()
                .map(|(at, step)| {
                    let mark = match step {
                        _ if zero.now == Some(at) => '▸',
                        step if step.skipped => '–',
                        step if step.done => '●',
                        _ => '·',
                    };
                    Line::raw(format!("{mark} {}", step.name.text(look.style)))
                })
                .collect();
            boxed(frame, " steps ".to_owned(), lines, area);
        }
        Part::Birth(birth) => {
            let line = |(at, step): (usize, &BirthStep)| {
                let mark = match step.found {
                    _ if birth.now == Some(at) => '▸',
                    Some(Found::AsItShouldBe) => '●',
                    Some(Found::Fault) => '✕',
                    Some(Found::NotSeen) => '–',
                    None => '·',
                };
                Line::raw(format!("{mark} {}", step.name.text(look.style)))
            };
            let lines = birth.steps.iter().enumerate().map(line).collect();
            boxed(frame, " steps ".to_owned(), lines, area);
        }
        Part::Level(level) => {
            let lines =
                level.kept.iter().rev().map(|kept| {
                    Line::raw(format!("{}: {}", kept.thing, kept.says.text(look.style)))
                });
            boxed(frame, " kept ".to_owned(), lines.collect(), area);
        }
        Part::Takes | Part::Survey(_) => {
            let title = view.bands.map_or_else(String::new, |bands| {
                let band = bands.gap.low.limit().to(bands.gap.high.limit());
                format!(" gap {} ", band.text(look.style))
            });
            let inside = |cells: u16| usize::from(cells.saturating_sub(2));
            let room = (inside(area.width), inside(area.height));
            boxed(frame, title, stations::table(view, look.style, room), area);
        }
    }
}

fn boxed(frame: &mut Frame<'_>, title: String, lines: Vec<Line<'_>>, area: Rect) {
    let block = Block::new().borders(Borders::ALL).title(title);
    frame.render_widget(Paragraph::new(lines).wrap(Wrap { trim: false }).block(block), area);
}
