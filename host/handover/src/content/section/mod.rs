//! Work beside the gaps: each section in its own file, by its own form.

mod fixings;
mod level;
mod other;
mod repeats;
mod set_out;
mod square;
mod survey;
mod touch;

use skimgauge_quantity::{Figure as Quantity, Mm, Sentence, Units, say};
use skimgauge_record::Event;
use skimgauge_record::event::Body;
use skimgauge_record::section::{Found, Levelled, Said, Section as Recorded};

use super::{Reading, section};
use crate::document::{Block, Cell, Column, Figure, Picture, Section, Table};
use crate::plain;
pub(super) use other::by_keys;

/// Longest drawing that a page carries, bytes.
const LARGEST_DRAWING: usize = 1_000_000;

/// Rows of one list that are printed; the rest is counted and stays in the record.
const MOST_ROWS: usize = 40;

/// In the order in which a client reads them; what is not known comes last.
const ORDER: [&str; 7] = ["touch", "set-out", "fixings", "level", "square", "survey", "prove"];

/// The last result of each kind of work.
pub(super) fn sections(reading: &Reading<'_>) -> Option<Section> {
    let mut last: Vec<(&Event, &Recorded)> = Vec::new();
    let mut levelled: Vec<(&Event, &Levelled)> = Vec::new();
    let recorded = reading.events(|body| match body {
        Body::Section(recorded) => Some(recorded),
        _ => None,
    });
    for (event, recorded) in recorded {
        if let Recorded::Level(level) = recorded {
            levelled.retain(|(_, known)| (&known.of, known.line) != (&level.of, level.line));
            levelled.push((event, level));
        }
        if let Recorded::Step(_) = recorded {
            // Beside all other steps, in their own part.
            continue;
        }
        last.retain(|(_, known)| known.word() != recorded.word());
        last.push((event, recorded));
    }
    let place = |word: &str| ORDER.iter().position(|known| *known == word).unwrap_or(ORDER.len());
    last.sort_by_key(|(_, recorded)| place(recorded.word()));
    let mut blocks = Vec::new();
    for (event, recorded) in last {
        let (title, about) = about(recorded);
        blocks.push(Block::Heading(title));
        blocks.push(Block::Text(format!("{about} Recorded on {}.", plain::day(event.at))));
        match recorded {
            Recorded::SetOut(set_out) => blocks.extend(set_out::blocks(reading, set_out)),
            Recorded::Fixings(fixings) => blocks.extend(fixings::blocks(reading, fixings)),
            Recorded::Square(square) => blocks.extend(square::blocks(reading, square)),
            Recorded::Survey(survey) => blocks.extend(survey::blocks(reading, survey)),
            Recorded::Prove(repeats) => blocks.extend(repeats::blocks(reading, repeats)),
            Recorded::Touch(touch) => blocks.extend(touch::blocks(reading, touch)),
            Recorded::Level(_) => blocks.extend(level::blocks(reading, &levelled)),
            Recorded::Step(_) => {}
            Recorded::Other(other) => blocks.extend(other::blocks(reading.style, other)),
        }
    }
    section("other-work", "Beside the gaps", blocks)
}

fn about(recorded: &Recorded) -> (String, &'static str) {
    let (title, about) = match recorded {
        Recorded::SetOut(_) => {
            ("Set-out", "Where things went on the wall, from two lines struck on it.")
        }
        Recorded::Fixings(_) => (
            "Fixings",
            "Loads on the anchors against the values entered from their approval. This compares numbers; it does not say that the wall \
             holds. The anchors\u{2019} approval, local building rules and a licensed engineer decide.",
        ),
        Recorded::Square(_) => (
            "Square",
            "How far the image is from its rectangle, and what can be turned to mend it.",
        ),
        Recorded::Survey(_) => {
            ("Survey", "The board\u{2019}s own shape, which the touch plane must clear everywhere.")
        }
        Recorded::Prove(_) => (
            "How well the head repeats",
            "The same gap taken again and again, to see how much the takes scatter.",
        ),
        Recorded::Touch(_) => (
            "Touch",
            "Taps, lines and a minute hands off on the display itself: where touch was seen against where it was. \
             A hand\u{2019}s own bias of aim cannot be told from an offset of the display; it is in the uncertainty.",
        ),
        Recorded::Level(_) => (
            "Level and plumb",
            "How what hangs on the wall stands against gravity, before the emitter goes onto it.",
        ),
        Recorded::Step(_) => ("Steps", "What a person said of a step of the job."),
        Recorded::Other(other) => {
            let title = plain::sentence(&other.section).trim_end_matches('.').replace('-', " ");
            return (
                title,
                "In a form that this version of the program does not know; shown by the names that it was written under.",
            );
        }
    };
    (title.to_owned(), about)
}

/// Names with their figures; what was not measured is left out.
struct Facts<'r, 'a> {
    reading: &'r Reading<'a>,
    facts: Vec<(String, Cell)>,
}

impl<'r, 'a> Facts<'r, 'a> {
    fn new(reading: &'r Reading<'a>) -> Self {
        Self { reading, facts: Vec::new() }
    }

    fn cell(mut self, name: &str, cell: Cell) -> Self {
        if cell != Cell::None {
            self.facts.push((name.to_owned(), cell));
        }
        self
    }

    fn length(self, name: &str, length: Mm, show: fn(Mm) -> Quantity) -> Self {
        let cell = self.reading.fact(length.0, show(length));
        self.cell(name, cell)
    }

    fn length_if(self, name: &str, length: Option<Mm>, show: fn(Mm) -> Quantity) -> Self {
        match length {
            Some(length) => self.length(name, length, show),
            None => self,
        }
    }

    /// A value with its standard uncertainty.
    fn found<T: Copy>(
        self,
        name: &str,
        found: Option<Found<T>>,
        value: impl Fn(T) -> f64,
        show: impl Fn(T) -> Quantity,
        u: impl Fn(T) -> Quantity,
    ) -> Self {
        let Some(found) = found else { return self };
        let said = say!("{} (u {})", show(found.value), u(found.u));
        let cell = Cell::number(value(found.value), |_| said.text(self.reading.style));
        self.cell(name, cell)
    }

    fn block(self) -> Option<Block> {
        (!self.facts.is_empty()).then_some(Block::Facts(self.facts))
    }
}

/// Sentences under a title; nothing where there are none.
fn listed(reading: &Reading<'_>, title: &str, said: &[Said]) -> Vec<Block> {
    let said: Vec<String> = said
        .iter()
        .map(|said| reading.said(said))
        .filter(|text| !text.is_empty())
        .take(MOST_ROWS)
        .collect();
    if said.is_empty() {
        return Vec::new();
    }
    vec![Block::Small(format!("{title}:")), Block::List(said)]
}

/// A table, its rows cut to what a page carries; nothing without rows.
fn table(caption: &str, mut columns: Vec<Column>, mut rows: Vec<Vec<Cell>>) -> Option<Block> {
    let all = rows.len();
    rows.truncate(MOST_ROWS);
    super::work::drop_empty(&mut columns, &mut rows);
    let caption = match all {
        0 => return None,
        all if all > rows.len() => {
            format!("{caption}: the first {} of {all}; all are in the record", rows.len())
        }
        _ => caption.to_owned(),
    };
    Some(Block::Table(Table { caption, columns, rows }))
}

/// A drawing that the record has with its lengths in millimetres and, since there are such, in
/// inches.
fn drawing_in_units(
    reading: &Reading<'_>,
    (in_mm, in_inches): (&str, Option<&str>),
    caption: &str,
) -> Option<Block> {
    match (reading.style.units, in_inches) {
        (Units::Mm, _) => drawing(in_mm, caption),
        (Units::Inch, Some(in_inches)) => drawing(in_inches, caption),
        (Units::Inch, None) => drawing(in_mm, &format!("{caption}; in millimetres")),
    }
}

/// A drawing out of the record.
fn drawing(svg: &str, caption: &str) -> Option<Block> {
    let start = svg.trim_start();
    if !(start.starts_with("<svg") || (start.starts_with("<?xml") && start.contains("<svg"))) {
        return None;
    }
    if svg.len() > LARGEST_DRAWING {
        return Some(Block::Small(format!(
            "{caption}: too large for this page; it is in the record."
        )));
    }
    Some(Block::Figures(vec![Figure {
        picture: Picture::Drawing(svg.to_owned()),
        caption: caption.to_owned(),
        alt: format!("Drawing: {caption}"),
        wide: true,
    }]))
}

/// A sentence as a fact.
fn told(reading: &Reading<'_>, sentence: &Sentence) -> Cell {
    Cell::text(sentence.text(reading.style))
}
