//! Each kind of block on paper.

use skimgauge_drawing::mark;
use skimgauge_drawing::palette::{BEAM, INK, PANEL, RULE, SOFT, UNSURE};
use skimgauge_model::Verdict;
use usvg::Tree;

use super::face::{Faces, Weight};
use super::lists::{columns, facts, list};
use super::sheet::{BODY, Mark, SIDE, Set, Sheets};
use super::structure::Kind;
use super::table::table;
use crate::document::{Block, Caution, Document, Figure, Picture, Section, SignPlace, VerdictCard};

pub(super) const BOLD: Set = Set::new(9.0, Weight::Bold, INK);
pub(super) const SMALL: Set = Set::new(7.8, Weight::Regular, SOFT);
const TITLE: Set = Set::new(13.5, Weight::Bold, INK);
const HEADING: Set = Set::new(9.5, Weight::Bold, INK);

/// Where the client's sheets end, if the document has some.
const APPENDIX: &str = "appendix";
/// Sections that begin a sheet: the client's first is of the job, the second of what is to be done.
const FIRST_ON_A_SHEET: [&str; 3] = ["care", APPENDIX, "takes"];

/// The whole document on sheets of this size.
pub(super) fn lay_out<'a>(document: &Document, faces: &'a Faces, size: [f32; 2]) -> Sheets<'a> {
    let mut sheets = lay_out_for_client(document, faces, size);
    sheets.tight = false;
    document.sections[clients(document)..].iter().for_each(|section| part(&mut sheets, section));
    if sheets.unknown.get() {
        sheets.skip(10.0);
        sheets.paragraph(
            SIDE,
            sheets.room(),
            SMALL,
            "Some letters are not in the font of this file and show as \u{25a1}. The page as HTML has them all.",
        );
    }
    sheets.feet(&document.foot);
    sheets
}

/// Sections for the client.
fn clients(document: &Document) -> usize {
    document.sections.iter().position(|section| section.id == APPENDIX).unwrap_or(0)
}

/// Its head and what is for the client.
pub(super) fn lay_out_for_client<'a>(
    document: &Document,
    faces: &'a Faces,
    size: [f32; 2],
) -> Sheets<'a> {
    let mut sheets = Sheets::new(faces, size);
    let clients = clients(document);
    sheets.tight = clients > 0;
    head(&mut sheets, document);
    document.sections[..clients].iter().for_each(|section| part(&mut sheets, section));
    sheets
}

fn head(sheets: &mut Sheets<'_>, document: &Document) {
    let room = sheets.room();
    sheets.paragraph(SIDE, room, Set::new(9.5, Weight::Bold, BEAM), document.kind);
    let title = Kind::Title(1, document.title.clone());
    sheets.within(title, |sheets| {
        // A long name stands in fewer lines.
        let size = if document.title.chars().count() > 36 { 17.0 } else { 24.0 };
        sheets.paragraph(SIDE, room, Set::new(size, Weight::Bold, INK), &document.title);
    });
    if !document.under.is_empty() {
        sheets.paragraph(
            SIDE,
            room,
            Set::new(11.0, Weight::Regular, SOFT),
            &document.under.join(" \u{b7} "),
        );
    }
    sheets.y += sheets.between(8.0, 5.0);
    sheets.rule(SIDE, room, 1.2, BEAM);
    sheets.y += 5.0;
    sheets.rule(SIDE, room, 4.5, INK);
    sheets.y += sheets.between(16.0, 11.0);
    for warning in &document.warnings {
        let height =
            sheets.height_of(|trial| trial.paragraph(SIDE + 10.0, room - 20.0, BODY, warning));
        sheets.need(height + 14.0);
        sheets.push(Mark::Box { at: [SIDE, sheets.y], size: [3.0, height + 8.0], colour: UNSURE });
        sheets.y += 4.0;
        sheets.paragraph(SIDE + 10.0, room - 20.0, BODY, warning);
        sheets.y += 12.0;
    }
    let lead = Set::new(11.5, Weight::Regular, INK);
    match document.verdict {
        Some(verdict) => {
            let word = document.word.unwrap_or(verdict.shown());
            let width = stamp(sheets, SIDE, verdict, word) + 14.0;
            let top = sheets.y;
            sheets.paragraph(SIDE + width, room - width, lead, &document.lead);
            sheets.y = sheets.y.max(top + 22.0);
        }
        None => sheets.paragraph(SIDE, room, lead, &document.lead),
    }
}

/// A verdict large, at the current height, which stays. Gives its width.
fn stamp(sheets: &mut Sheets<'_>, x: f32, verdict: Verdict, word: &str) -> f32 {
    let set = Set::new(12.0, Weight::Bold, mark::colour(verdict));
    let width = 34.0 + sheets.faces.width(word, set.weight, set.size) + 10.0;
    let (y, height, line) = (sheets.y, 21.0, 1.2);
    for (at, size) in [
        ([x, y], [width, line]),
        ([x, y + height], [width, line]),
        ([x, y], [line, height]),
        ([x + width, y], [line, height + line]),
    ] {
        sheets.push(Mark::Box { at, size, colour: set.colour });
    }
    mark_at(sheets, [x + 6.0, y + 4.0], 13.0, verdict);
    sheets.text_at([x + 34.0, y + 15.5], set, word);
    width
}

pub(super) fn mark_at(sheets: &mut Sheets<'_>, at: [f32; 2], height: f32, verdict: Verdict) {
    let width = height * (mark::SIZE[0] / mark::SIZE[1]) as f32;
    if let Ok(tree) = Tree::from_str(&mark::mark(verdict).to_string(), &sheets.faces.drawing) {
        sheets.push(Mark::Drawing { at, size: [width, height], tree: Box::new(tree) });
    }
}

fn part(sheets: &mut Sheets<'_>, section: &Section) {
    if FIRST_ON_A_SHEET.contains(&section.id) {
        sheets.new_sheet();
    }
    sheets.skip(sheets.between(16.0, 5.0));
    let first =
        section.blocks.first().map_or(0.0, |block| sheets.height_of(|trial| piece(trial, block)));
    sheets.need(34.0 + first.min(120.0));
    if !sheets.fresh() {
        sheets.rule(SIDE, sheets.room(), 0.6, RULE);
        sheets.y += sheets.between(12.0, 5.0);
    }
    let here = (section.title.clone(), sheets.sheets.len() - 1, sheets.y);
    sheets.titles.push(here);
    sheets.within(Kind::Title(2, section.title.clone()), |sheets| {
        sheets.paragraph(SIDE, sheets.room(), TITLE, &section.title);
    });
    sheets.y += sheets.between(4.0, 2.0);
    for block in &section.blocks {
        piece(sheets, block);
    }
}

fn piece(sheets: &mut Sheets<'_>, block: &Block) {
    let room = sheets.room();
    match block {
        Block::Text(text) => {
            sheets.paragraph(SIDE, sheets.between(room.min(460.0), room), BODY, text);
            sheets.y += sheets.between(6.0, 4.0);
        }
        Block::Small(text) => {
            sheets.paragraph(SIDE, room.min(470.0), SMALL, text);
            sheets.y += 6.0;
        }
        Block::Heading(text) => {
            sheets.skip(7.0);
            sheets.need(60.0);
            sheets.within(Kind::Title(3, text.clone()), |sheets| {
                sheets.paragraph(SIDE, room, HEADING, text);
            });
            sheets.y += 3.0;
        }
        Block::Facts(list) => {
            facts(sheets, SIDE, room, list);
            sheets.y += sheets.between(6.0, 2.0);
        }
        Block::Table(grid) => table(sheets, grid),
        Block::Figures(list) => figures(sheets, list),
        Block::Verdict(card) => verdict(sheets, card),
        Block::Columns(lines) => columns(sheets, lines),
        Block::List(points) => sheets.within(Kind::List, |sheets| list(sheets, points, false)),
        Block::ToDo(points) => sheets.within(Kind::List, |sheets| list(sheets, points, true)),
        Block::Caution(caution) => caution_of(sheets, caution),
        Block::Code(text) => code(sheets, text),
        Block::Sign(places) => signs(sheets, places),
    }
}

fn verdict(sheets: &mut Sheets<'_>, card: &VerdictCard) {
    let fill = |sheets: &mut Sheets<'_>| {
        let (x, room) = (SIDE + 18.0, sheets.room() - 32.0);
        sheets.y += sheets.between(10.0, 5.0);
        sheets.within(Kind::Title(3, card.heading.clone()), |sheets| {
            sheets.paragraph(x, room, Set::new(9.5, Weight::Bold, SOFT), &card.heading);
        });
        sheets.y += 4.0;
        stamp(sheets, x, card.verdict, card.verdict.shown());
        sheets.y += sheets.between(30.0, 25.0);
        sheets.paragraph(x, room, BODY, &card.says);
        sheets.y += sheets.between(6.0, 3.0);
        facts(sheets, x, room, &card.facts);
        sheets.y += sheets.between(6.0, 2.0);
    };
    let height = sheets.height_of(fill);
    sheets.need(height.min(sheets.full()));
    let (under, top) = (sheets.marks(), sheets.y);
    fill(sheets);
    // Longer than a sheet, which no verdict is, it goes without its ground.
    if sheets.y > top {
        let size = [sheets.room(), sheets.y - top];
        sheets.push_under(
            under,
            Mark::Box { at: [SIDE, top], size: [5.0, size[1]], colour: mark::colour(card.verdict) },
        );
        sheets.push_under(under, Mark::Box { at: [SIDE, top], size, colour: PANEL });
    }
    sheets.y += sheets.between(10.0, 4.0);
}

fn caution_of(sheets: &mut Sheets<'_>, caution: &Caution) {
    let room = sheets.room().min(470.0);
    let fill = |sheets: &mut Sheets<'_>| {
        sheets.paragraph(SIDE + 10.0, room - 10.0, BOLD, &caution.about);
        sheets.paragraph(SIDE + 10.0, room - 10.0, BODY, &caution.says);
    };
    let height = sheets.height_of(fill);
    sheets.need(height);
    sheets.push(Mark::Box { at: [SIDE, sheets.y], size: [2.0, height], colour: INK });
    fill(sheets);
    sheets.y += 8.0;
}

fn code(sheets: &mut Sheets<'_>, text: &str) {
    let room = sheets.room();
    let set = Set::new(8.6, Weight::Regular, INK);
    let height =
        sheets.height_of(|trial| trial.paragraph(SIDE + 10.0, room - 20.0, set, text)) + 12.0;
    sheets.need(height.min(sheets.full()));
    sheets.push(Mark::Box { at: [SIDE, sheets.y], size: [room, height], colour: PANEL });
    sheets.y += 6.0;
    sheets.within(Kind::Code, |sheets| sheets.paragraph(SIDE + 10.0, room - 20.0, set, text));
    sheets.y += 12.0;
}

fn signs(sheets: &mut Sheets<'_>, places: &[SignPlace]) {
    let gap = 28.0;
    let width = (sheets.room() - gap) / 2.0;
    let small = sheets.readable(SMALL);
    sheets.need(96.0);
    for pair in places.chunks(2) {
        let top = sheets.y;
        let mut foot = top;
        for (n, place) in pair.iter().enumerate() {
            let x = SIDE + n as f32 * (width + gap);
            sheets.y = top;
            sheets.paragraph(x, width, BOLD, &place.role);
            sheets.paragraph(x, width, BODY, &place.says);
            match &place.name {
                Some(name) => {
                    sheets.y += 3.0;
                    sheets.paragraph(x, width, BOLD, name);
                }
                None => sign_line(sheets, x, width, small, "Name"),
            }
            let top = sheets.y;
            let signature = width * 0.54;
            sign_line(sheets, x, signature, small, "Signature");
            sheets.y = top;
            sign_line(
                sheets,
                x + signature + 12.0,
                width - signature - 12.0,
                small,
                "Place and date",
            );
            foot = foot.max(sheets.y);
        }
        sheets.y = foot + 8.0;
    }
}

/// A line to write on, and what goes there.
fn sign_line(sheets: &mut Sheets<'_>, x: f32, width: f32, set: Set, says: &str) {
    sheets.y += 28.0;
    sheets.rule(x, width, 0.7, INK);
    sheets.y += 2.0;
    sheets.paragraph(x, width, set, says);
}

/// A picture read, or nothing where it cannot be.
fn tree(sheets: &Sheets<'_>, figure: &Figure) -> Option<Tree> {
    let (Picture::Chart(svg) | Picture::Drawing(svg)) = &figure.picture else { return None };
    Tree::from_str(svg, &sheets.faces.drawing).ok()
}

fn figures(sheets: &mut Sheets<'_>, figures: &[Figure]) {
    let room = sheets.room();
    let caption = Set::new(8.2, Weight::Regular, SOFT);
    let mut left: &[Figure] = figures;
    while let Some(first) = left.first() {
        let pair = !first.wide && left.get(1).is_some_and(|second| !second.wide);
        let (row, rest) = left.split_at(if pair { 2 } else { 1 });
        left = rest;
        let width = if first.wide { room.min(440.0) } else { (room - 16.0) / 2.0 };
        let drawn: Vec<(&Figure, Option<Tree>, [f32; 2])> = row
            .iter()
            .map(|figure| {
                let tree = tree(sheets, figure);
                let size = tree.as_ref().map_or([width, 0.0], |tree| {
                    let (w, h) = (tree.size().width(), tree.size().height());
                    let scale = (width / w).min((sheets.full() - 60.0) / h);
                    [w * scale, h * scale]
                });
                (figure, tree, size)
            })
            .collect();
        let tallest = drawn.iter().map(|(_, _, size)| size[1]).fold(0.0, f32::max);
        sheets.need((tallest + 34.0).min(sheets.full()));
        let top = sheets.y;
        let mut foot = top;
        for (n, (figure, tree, size)) in drawn.into_iter().enumerate() {
            let x = SIDE + n as f32 * (width + 16.0);
            if let Some(tree) = tree {
                let drawing = Mark::Drawing { at: [x, top], size, tree: Box::new(tree) };
                sheets.within(Kind::Figure(figure.alt.clone()), |sheets| sheets.push(drawing));
            }
            sheets.y = top + tallest + 3.0;
            let set = if figure.wide { caption } else { BOLD };
            sheets.paragraph(x, width, set, &figure.caption);
            foot = foot.max(sheets.y);
        }
        sheets.y = foot + 10.0;
    }
}
