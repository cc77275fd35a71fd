//! Sheets of paper being filled from the top.

use std::cell::Cell;

use usvg::Tree;

use super::face::{Faces, Weight};
use super::structure::{Kind, Structure};
use skimgauge_drawing::palette::{Colour, INK, RULE, SOFT};

/// Free at the left and right, points.
pub(super) const SIDE: f32 = 42.0;
const TOP: f32 = 44.0;
const BOTTOM: f32 = 58.0;

/// Lines of a text that stay on one sheet.
const TOGETHER: usize = 7;

/// What is drawn; places are points from the upper left.
#[derive(Debug, Clone)]
pub(super) enum Mark {
    Text { at: [f32; 2], size: f32, weight: Weight, colour: Colour, text: String },
    Box { at: [f32; 2], size: [f32; 2], colour: Colour },
    Drawing { at: [f32; 2], size: [f32; 2], tree: Box<Tree> },
}

/// A mark, and what it is part of; nothing for what is there for the eye alone.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    pub of: Option<usize>,
    pub mark: Mark,
}

/// How a text is set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Set {
    pub size: f32,
    pub weight: Weight,
    pub colour: Colour,
}

impl Set {
    pub(super) const fn new(size: f32, weight: Weight, colour: Colour) -> Self {
        Self { size, weight, colour }
    }

    /// From one line's foot to the next one's.
    pub(super) fn line(self) -> f32 {
        self.size * 1.38
    }
}

/// The sheets.
pub(super) struct Sheets<'a> {
    pub faces: &'a Faces,
    pub sheets: Vec<Vec<Placed>>,
    /// What is read out, in its order.
    pub structure: Structure,
    /// Titles of sections with their sheet and place, for the outline.
    pub titles: Vec<(String, usize, f32)>,
    /// Where the next thing goes.
    pub y: f32,
    pub size: [f32; 2],
    /// The client's sheets: little room between things, and no letters smaller than the body's.
    pub tight: bool,
    /// Set when a letter is not in the font.
    pub unknown: Cell<bool>,
    endless: bool,
}

impl<'a> Sheets<'a> {
    pub(super) fn new(faces: &'a Faces, size: [f32; 2]) -> Self {
        Self {
            faces,
            sheets: vec![Vec::new()],
            structure: Structure::default(),
            titles: Vec::new(),
            y: TOP,
            size,
            tight: false,
            unknown: Cell::new(false),
            endless: false,
        }
    }

    /// Width between the sides.
    pub(super) fn room(&self) -> f32 {
        self.size[0] - 2.0 * SIDE
    }

    /// Height of an empty sheet.
    pub(super) fn full(&self) -> f32 {
        self.size[1] - TOP - BOTTOM
    }

    pub(super) fn new_sheet(&mut self) {
        if !self.endless {
            self.sheets.push(Vec::new());
            self.y = TOP;
        }
    }

    /// Whether nothing is on this sheet yet.
    pub(super) fn fresh(&self) -> bool {
        self.y <= TOP
    }

    /// So much between things, or as much as the client's sheets have.
    pub(super) fn between(&self, wide: f32, tight: f32) -> f32 {
        if self.tight { tight } else { wide }
    }

    /// Letters of this set; on the client's sheets none smaller than the body's.
    pub(super) fn readable(&self, set: Set) -> Set {
        if self.tight { Set { size: set.size.max(BODY.size), ..set } } else { set }
    }

    /// Goes to a new sheet if this height is not left, and the sheet is not empty.
    pub(super) fn need(&mut self, height: f32) {
        if !self.endless && !self.fresh() && self.y + height > self.size[1] - BOTTOM {
            self.new_sheet();
        }
    }

    pub(super) fn skip(&mut self, height: f32) {
        if !self.fresh() {
            self.y += height;
        }
    }

    /// Height that this takes up when nothing breaks it.
    pub(super) fn height_of(&self, fill: impl FnOnce(&mut Sheets<'_>)) -> f32 {
        let mut trial = Sheets::new(self.faces, self.size);
        trial.endless = true;
        trial.tight = self.tight;
        trial.y = 1000.0;
        fill(&mut trial);
        trial.y - 1000.0
    }

    pub(super) fn push(&mut self, mark: Mark) {
        let of = match mark {
            Mark::Text { .. } => self.structure.of_text(),
            Mark::Drawing { .. } => self.structure.of_picture(),
            Mark::Box { .. } => None,
        };
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.push(Placed { of, mark });
        }
    }

    /// What is filled in meanwhile is this.
    pub(super) fn within<T>(&mut self, kind: Kind, fill: impl FnOnce(&mut Self) -> T) -> T {
        let before = self.structure.begin(kind);
        let filled = fill(self);
        self.structure.end(before);
        filled
    }

    /// What is filled in meanwhile is not read out: it was before.
    pub(super) fn again(&mut self, fill: impl FnOnce(&mut Self)) {
        let before = self.structure.silence(true);
        fill(self);
        self.structure.silence(before);
    }

    /// Puts a mark beneath those that follow `index` on this sheet.
    pub(super) fn push_under(&mut self, index: usize, mark: Mark) {
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.insert(index.min(sheet.len()), Placed { of: None, mark });
        }
    }

    pub(super) fn marks(&self) -> usize {
        self.sheets.last().map_or(0, Vec::len)
    }

    /// One line at a place; `y` is its foot.
    pub(super) fn text_at(&mut self, at: [f32; 2], set: Set, text: &str) {
        let (text, unknown) = self.faces.known(text);
        self.unknown.set(self.unknown.get() || unknown);
        if text.trim().is_empty() {
            return;
        }
        let Set { size, weight, colour } = set;
        let mark = Mark::Text { at, size, weight, colour, text };
        if self.structure.is_bare() {
            self.within(Kind::Paragraph, |sheets| sheets.push(mark));
        } else {
            self.push(mark);
        }
    }

    /// Lines from here down, between `x` and `x + room`, over as many sheets as it takes.
    pub(super) fn paragraph(&mut self, x: f32, room: f32, set: Set, text: &str) {
        if self.structure.is_bare() {
            self.within(Kind::Paragraph, |sheets| sheets.lines(x, room, set, text));
        } else {
            self.lines(x, room, set, text);
        }
    }

    fn lines(&mut self, x: f32, room: f32, set: Set, text: &str) {
        let lines = self.faces.lines(text, set.weight, set.size, room);
        // A short text is not torn apart; a long one leaves no line alone at a sheet's foot.
        self.need(set.line() * lines.len().min(TOGETHER) as f32);
        for line in lines {
            self.need(set.line());
            self.text_at([x, self.y + set.size], set, &line);
            self.y += set.line();
        }
    }

    pub(super) fn rule(&mut self, x: f32, width: f32, thickness: f32, colour: Colour) {
        self.push(Mark::Box { at: [x, self.y], size: [width, thickness], colour });
    }

    /// The foot of every sheet, once all are there.
    pub(super) fn feet(&mut self, foot: &str) {
        let set = Set::new(7.5, Weight::Regular, SOFT);
        let count = self.sheets.len();
        let y = self.size[1] - 30.0;
        let (foot, _) = self.faces.known(foot);
        for n in 0..count {
            let page = format!("{} of {count}", n + 1);
            let right = self.size[0] - SIDE - self.faces.width(&page, set.weight, set.size);
            let foot = self
                .faces
                .lines(&foot, set.weight, set.size, right - SIDE - 12.0)
                .into_iter()
                .next()
                .unwrap_or_default();
            let text = |at: [f32; 2], text: String| Mark::Text {
                at,
                size: set.size,
                weight: set.weight,
                colour: set.colour,
                text,
            };
            let line = Mark::Box {
                at: [SIDE, y - 12.0],
                size: [self.size[0] - 2.0 * SIDE, 0.5],
                colour: RULE,
            };
            let marks = [line, text([SIDE, y], foot), text([right, y], page)];
            self.sheets[n].extend(marks.map(|mark| Placed { of: None, mark }));
        }
    }
}

/// The body's letters.
pub(super) const BODY: Set = Set::new(9.0, Weight::Regular, INK);
