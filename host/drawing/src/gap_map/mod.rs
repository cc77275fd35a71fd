//! The board with its gaps: where the touch plane stands near and where far.

mod legend;

use skimgauge_model::{Image, Point, Verdict};
use skimgauge_quantity::{Band, Mm, Name, Sentence, Style, Units, say};
use svg::node::element::{Definitions, Group, Line, Pattern};

use crate::field::{Field, Grid};
use crate::mark::{dot, ring};
use crate::palette::{GAPS, INK, PAPER, SOFT};
use crate::scale::{Scale, in_units, of_units};
use crate::sheet::{
    Anchor, SMALL, drawn, filled, label, rectangle, sheet, short, stroke, width_of,
};
pub use legend::reading;

/// A gap at a place.
#[derive(Debug, Clone, PartialEq)]
pub struct MapPoint {
    /// Name of the station; empty for a place between them.
    pub name: String,
    /// Where.
    pub at: Point,
    /// The gap.
    pub gap: Mm,
    /// How it stands.
    pub verdict: Option<Verdict>,
}

/// What a gap map shows.
#[derive(Debug, Clone, PartialEq)]
pub struct GapMap<'a> {
    /// Unlike that of any other map on the page.
    pub id: &'a str,
    /// The image's size.
    pub image: Image,
    /// What a gap may be.
    pub band: Option<Band<Mm>>,
    /// Gaps that were measured.
    pub taken: &'a [MapPoint],
    /// Gaps that were worked out between them.
    pub computed: &'a [MapPoint],
    /// The place that decided the verdict.
    pub worst: Option<Point>,
    /// Where the emitter's adjusters are.
    pub adjusters: &'a [Point],
    /// What lengths are shown in.
    pub units: Units,
}

const WIDTH: f64 = 460.0;
const SIDE: f64 = 16.0;
const ABOVE: f64 = 46.0;
const LEGEND: f64 = 54.0;
const NUMBER: f64 = 15.0;

/// Stations that the map's words name.
const MOST_IN_WORDS: usize = 16;

/// With more stations than these, dots are small and only some have their number.
const MOST_WITH_NUMBERS: usize = 24;

impl GapMap<'_> {
    /// The map as SVG.
    pub fn draw(&self) -> svg::Document {
        let board = self.board();
        let height = board.from[1] + board.size[1] + LEGEND;
        let mut map = sheet(WIDTH, height, &self.in_words()).add(self.hatch());
        for part in
            [self.emitter(&board), self.shading(&board), self.numbers(&board), self.legend(&board)]
        {
            map = map.add(part);
        }
        map
    }

    /// What the map says, for who cannot see it.
    pub fn in_words(&self) -> String {
        self.told().text(Style::printed(self.units))
    }

    fn told(&self) -> Sentence {
        if self.taken.is_empty() {
            return say!("Map of the board without gaps taken");
        }
        let gap =
            |point: &MapPoint| say!("{} {}", Name(&crate::line(&point.name)), point.gap.gap());
        let numbers = Sentence::joined(self.taken.iter().take(MOST_IN_WORDS).map(gap), ", ");
        match self.taken.len().saturating_sub(MOST_IN_WORDS) {
            0 => say!("Map of the board, gaps by station: {numbers}"),
            more => say!("Map of the board, gaps by station: {numbers} and {more} more"),
        }
    }

    fn board(&self) -> BoardFrame {
        let width = WIDTH - 2.0 * SIDE;
        // A tall image is made narrower rather than longer than a page.
        let scale = (width / self.image.width.0).min(1.2 * width / self.image.height.0);
        let size = [self.image.width.0 * scale, self.image.height.0 * scale];
        BoardFrame { from: [(WIDTH - size[0]) / 2.0, ABOVE], size, scale }
    }

    /// The surface behind the numbers: through what was worked out for the whole board where there
    /// is that, else through the takes.
    fn field(&self) -> Option<Field> {
        let numbers = |points: &[MapPoint]| -> Vec<[f64; 3]> {
            points.iter().map(|point| [point.at.x.0, point.at.y.0, point.gap.0]).collect()
        };
        Field::through(&numbers(self.computed)).or_else(|| Field::through(&numbers(self.taken)))
    }

    /// Six levels between seven colours: the band's ends and fifths, or fifths of what is there.
    fn levels(&self) -> Option<[f64; 6]> {
        let (low, high) = match self.band {
            Some(band) => (band.low.0, band.high.0),
            None => {
                let gaps = || {
                    self.taken
                        .iter()
                        .chain(self.computed)
                        .map(|point| point.gap.0)
                        .filter(|gap| gap.is_finite())
                };
                let (low, high) = (
                    gaps().fold(f64::INFINITY, f64::min),
                    gaps().fold(f64::NEG_INFINITY, f64::max),
                );
                if low >= high {
                    return None;
                }
                (low, high)
            }
        };
        Some(std::array::from_fn(|n| low + (high - low) * n as f64 / 5.0))
    }

    fn shading(&self, board: &BoardFrame) -> Group {
        let frame = rectangle(board.from, board.size, PAPER);
        let outline = drawn(&board.outline(), 2.0, INK);
        let (Some(field), Some(levels)) = (self.field(), self.levels()) else {
            return Group::new().add(frame).add(outline);
        };
        let columns = 44;
        let rows = ((columns as f64 * board.size[1] / board.size[0]).round() as usize).clamp(8, 60);
        let grid = Grid::over(board.from, board.size, columns, rows, |right, down| {
            field.at((right - 0.5) * self.image.width.0, -down * self.image.height.0)
        });
        let outside = self.band.is_some();
        let mut group = Group::new().add(rectangle(board.from, board.size, GAPS[0]));
        if outside {
            group = group.add(self.hatched(&board.outline()));
        }
        let mut borders = Group::new();
        // A board that lies within one or two colours still has its shape shown.
        let lines = levels.iter().filter(|level| !grid.above(**level).border.is_empty()).count();
        if lines < 2
            && let Some(scale) =
                Scale::over(grid.values().iter().map(|mm| in_units(Mm(*mm), self.units)), 0.0, 1.0)
        {
            for tick in scale.ticks() {
                let border = grid.above(of_units(tick, self.units).0).border;
                if !border.is_empty() {
                    borders = borders.add(drawn(&border, 0.7, SOFT).set("stroke-dasharray", "2 4"));
                }
            }
        }
        for (n, level) in levels.into_iter().enumerate() {
            let above = grid.above(level);
            if !above.area.is_empty() {
                group = group.add(filled(&above.area, GAPS[n + 1]));
                if n == 5 && outside {
                    group = group.add(self.hatched(&above.area));
                }
            }
            if !above.border.is_empty() {
                let limit = outside && (n == 0 || n == 5);
                borders = borders.add(if limit {
                    drawn(&above.border, 2.2, INK)
                } else {
                    drawn(&above.border, 0.7, SOFT)
                });
            }
        }
        group.add(borders).add(outline)
    }

    fn hatch(&self) -> Definitions {
        let thread = Line::new()
            .set("x1", 0)
            .set("y1", 0)
            .set("x2", 0)
            .set("y2", 7)
            .set("stroke", INK.light);
        Definitions::new().add(
            Pattern::new()
                .set("id", self.hatch_id())
                .set("width", 7)
                .set("height", 7)
                .set("patternUnits", "userSpaceOnUse")
                .set("patternTransform", "rotate(45)")
                .add(
                    thread
                        .set("class", "s-ink")
                        .set("stroke-width", 2)
                        .set("stroke-opacity", "0.45"),
                ),
        )
    }

    fn hatch_id(&self) -> String {
        let id: String =
            self.id.chars().filter(|c| c.is_ascii_alphanumeric() || *c == '-').collect();
        format!("hatch-{id}")
    }

    fn hatched(&self, path: &str) -> svg::node::element::Path {
        svg::node::element::Path::new()
            .set("d", path)
            .set("fill", format!("url(#{})", self.hatch_id()))
    }

    /// The emitter above the board, with its adjusters to scale and the light that it throws down.
    fn emitter(&self, board: &BoardFrame) -> Group {
        let mut group = Group::new();
        if self.adjusters.is_empty() {
            return group;
        }
        let places: Vec<[f64; 2]> = self
            .adjusters
            .iter()
            .map(|adjuster| board.place(*adjuster))
            .map(|[x, y]| [x.clamp(12.0, WIDTH - 12.0), y.clamp(12.0, board.from[1] - 10.0)])
            .collect();
        let low = |axis: usize| places.iter().map(|p| p[axis]).fold(f64::INFINITY, f64::min);
        let high = |axis: usize| places.iter().map(|p| p[axis]).fold(f64::NEG_INFINITY, f64::max);
        let from = [low(0) - 12.0, low(1) - 9.0];
        let size = [high(0) - low(0) + 24.0, high(1) - low(1) + 18.0];
        group = group.add(
            rectangle(from, size, PAPER)
                .set("stroke", SOFT.light)
                .set("class", "f-paper s-soft")
                .set("rx", 4),
        );
        for [x, y] in places {
            group = group.add(ring([x, y], 4.0, 1.2, INK)).add(stroke(
                [x - 2.6, y],
                [x + 2.6, y],
                1.2,
                INK,
            ));
        }
        group.add(label(
            "emitter",
            [from[0] + size[0] + 6.0, from[1] + size[1] / 2.0 + 4.0],
            SMALL,
            Anchor::Start,
            SOFT,
        ))
    }

    fn numbers(&self, board: &BoardFrame) -> Group {
        let dense = self.taken.len() > MOST_WITH_NUMBERS;
        let mut placed: Vec<[f64; 4]> = Vec::new();
        let mut dots = Group::new();
        let mut texts = Group::new();
        let taken = self.taken.iter().map(|point| (point, true));
        let near = |a: &MapPoint, b: &MapPoint| a.at.apart(b.at) < 0.03 * self.image.width;
        let computed =
            self.computed.iter().filter(|point| !self.taken.iter().any(|taken| near(taken, point)));
        for (point, taken) in taken.chain(computed.map(|point| (point, false))) {
            if !(point.at.is_finite() && point.gap.is_finite()) {
                continue;
            }
            let at = board.place(point.at);
            let at = [
                at[0].clamp(6.0, WIDTH - 6.0),
                at[1].clamp(6.0, board.from[1] + board.size[1] + 6.0),
            ];
            if taken {
                let scale = if dense { 0.5 } else { 1.0 };
                let shift = format!("translate({} {}) scale({scale})", short(at[0]), short(at[1]));
                dots = dots.add(dot(point.verdict, [0.0, 0.0]).set("transform", shift));
            }
            let text = point.gap.gap().number(Style::printed(self.units));
            let size = if taken { NUMBER } else { SMALL };
            let half = [width_of(&text, size) / 2.0 + 4.0, size * 0.5 + 4.0];
            let centre = if taken { board.inward(at, half) } else { at };
            let area = [
                centre[0] - half[0],
                centre[1] - half[1],
                centre[0] + half[0],
                centre[1] + half[1],
            ];
            let apart = if dense { 26.0 } else { 0.0 };
            let free = placed.iter().all(|p| {
                area[2] + apart < p[0]
                    || p[2] + apart < area[0]
                    || area[3] + apart < p[1]
                    || p[3] + apart < area[1]
            });
            // Where numbers would cover each other the dot alone stays: the table has them all.
            if !free {
                continue;
            }
            placed.push(area);
            let back =
                rectangle([area[0], area[1]], [2.0 * half[0], 2.0 * half[1]], PAPER).set("rx", 3);
            let colour = if taken { INK } else { SOFT };
            let number =
                label(text, [centre[0], centre[1] + size * 0.36], size, Anchor::Middle, colour);
            let number = if taken { number.set("font-weight", 700) } else { number };
            texts = texts.add(back.set("fill-opacity", "0.88")).add(number);
        }
        let mut group = Group::new();
        if let Some(worst) = self.worst.filter(|place| place.is_finite()) {
            group = group.add(ring(board.place(worst), 11.0, 2.0, INK));
        }
        if dense { group.add(dots).add(texts) } else { group.add(texts).add(dots) }
    }
}

/// Where the board lies on the drawing.
#[derive(Debug, Clone, Copy)]
struct BoardFrame {
    from: [f64; 2],
    size: [f64; 2],
    scale: f64,
}

impl BoardFrame {
    fn place(&self, point: Point) -> [f64; 2] {
        let (x, y) = (point.x.0 * self.scale, point.y.0 * self.scale);
        [self.from[0] + self.size[0] / 2.0 + x, self.from[1] - y]
    }

    fn outline(&self) -> String {
        let [x, y] = self.from;
        format!(
            "M{} {}h{}v{}h{}Z",
            short(x),
            short(y),
            short(self.size[0]),
            short(self.size[1]),
            short(-self.size[0])
        )
    }

    /// The middle of a number's box beside its dot, on the side of the board's middle.
    fn inward(&self, [x, y]: [f64; 2], half: [f64; 2]) -> [f64; 2] {
        let share = |at: f64, from: f64, size: f64| ((at - from) / size).clamp(0.0, 1.0);
        let across = share(x, self.from[0], self.size[0]);
        let down = share(y, self.from[1], self.size[1]);
        let side = |share: f64| {
            if share < 0.25 {
                1.0
            } else if share > 0.75 {
                -1.0
            } else {
                0.0
            }
        };
        let (right, below) = (side(across), side(down));
        let below = if right == 0.0 && below == 0.0 { 1.0 } else { below };
        [x + right * (half[0] + 8.0), y + below * (half[1] + 8.0)]
    }
}
