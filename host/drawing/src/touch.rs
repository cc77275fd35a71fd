//! Where touch stands against what was touched: the marks with arrows, scaled up, and the lines as
//! drawn.

use skimgauge_model::{Image, Point, Verdict};
use skimgauge_quantity::{Mm, Name, Sentence, Style, Units, plain, say};
use svg::node::element::Group;

use crate::mark::{colour, dot};
use crate::palette::{INK, PANEL, RULE, SOFT};
use crate::sheet::{Anchor, SMALL, drawn, filled, label, rectangle, sheet, short, stroke};

/// A place with what touch is off there.
#[derive(Debug, Clone, PartialEq)]
pub struct Off {
    /// Its name.
    pub name: String,
    /// Where.
    pub at: Point,
    /// Touch stands so far right of it.
    pub right: Mm,
    /// And so far above.
    pub up: Mm,
    /// What may be said of it; `None` where only the marks' means stand.
    pub verdict: Option<Verdict>,
}

/// Where touch stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Touch<'a> {
    /// The image touched.
    pub image: Image,
    /// Marks and judged places.
    pub places: &'a [Off],
    /// Pieces of the lines as drawn: right of the image's middle, above its top edge, mm.
    pub strokes: &'a [Vec<[f64; 2]>],
    /// How far touch may stand off.
    pub limit: Mm,
}

const WIDTH: f64 = 800.0;
const MARGIN: f64 = 34.0;
/// The longest arrow, in the chart's units.
const LONGEST: f64 = 60.0;
/// So many times larger than they are errors may be drawn.
const SCALES: [f64; 9] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];

/// More places than this are not told in words.
const MOST_IN_WORDS: usize = 40;

/// What the chart says, for who cannot see it.
pub fn in_words(touch: &Touch<'_>, units: Units) -> String {
    let off = |off: &Off| {
        let judged = off.verdict.map_or_else(Sentence::new, |verdict| say!(", {verdict}"));
        let name = crate::line(&off.name);
        let (right, up) = (off.right.gap().signed(), off.up.gap().signed());
        say!("{} {right} to the right, {up} upward{judged}", Name(&name))
    };
    let told = touch.places.iter().filter(|off| off.is_told()).take(MOST_IN_WORDS).map(off);
    let told = Sentence::joined(told, "; ");
    let says = say!("Where touch stands against what was touched: {told}");
    says.text(Style::printed(units))
}

impl Off {
    fn is_told(&self) -> bool {
        self.at.is_finite() && self.right.is_finite() && self.up.is_finite()
    }
}

/// The chart; none for an image that cannot be.
pub fn draw(touch: &Touch<'_>, units: Units) -> Option<svg::Document> {
    let image = touch.image.checked().ok()?;
    let scale = (WIDTH - 2.0 * MARGIN) / image.width.0;
    let (high, foot) = (image.height.0 * scale, 46.0);
    let at = |x: f64, y: f64| [MARGIN + (x + image.width.0 / 2.0) * scale, MARGIN - y * scale];
    let places: Vec<&Off> = touch.places.iter().filter(|off| off.is_told()).collect();
    let most = places.iter().map(|off| off.right.hypot(off.up).0).fold(touch.limit.0, f64::max);
    let larger = SCALES.into_iter().rev().find(|times| most * times * scale <= LONGEST);
    let larger = larger.unwrap_or(1.0);
    let mut chart = sheet(WIDTH, high + 2.0 * MARGIN + foot, &in_words(touch, units))
        .add(rectangle(at(-image.width.0 / 2.0, 0.0), [WIDTH - 2.0 * MARGIN, high], PANEL));
    for piece in touch.strokes.iter().take(400) {
        let steps = piece.iter().filter(|[x, y]| x.is_finite() && y.is_finite()).take(2000);
        let path: String = steps
            .enumerate()
            .map(|(n, [x, y])| {
                let [x, y] = at(*x, *y);
                format!("{}{} {}", if n == 0 { 'M' } else { 'L' }, short(x), short(y))
            })
            .collect();
        if !path.is_empty() {
            chart = chart.add(drawn(&path, 1.0, SOFT));
        }
    }
    for off in places {
        let from = at(off.at.x.0, off.at.y.0);
        let by = [off.right.0 * scale * larger, -off.up.0 * scale * larger];
        chart = chart.add(arrow(from, by, off.verdict)).add(dot(off.verdict, from));
    }
    let bar = touch.limit.0 * scale * larger;
    let y = high + 2.0 * MARGIN + 14.0;
    let says = say!(
        "arrows {} times larger than the board; this bar is {}, what is allowed",
        plain(larger, 0),
        touch.limit.limit()
    );
    let says = says.text(Style::printed(units));
    Some(
        chart
            .add(stroke([MARGIN, y], [MARGIN + bar, y], 3.0, INK))
            .add(stroke([MARGIN, y - 5.0], [MARGIN, y + 5.0], 1.2, INK))
            .add(stroke([MARGIN + bar, y - 5.0], [MARGIN + bar, y + 5.0], 1.2, INK))
            .add(label(says, [MARGIN, y + 24.0], SMALL, Anchor::Start, INK)),
    )
}

fn arrow([x, y]: [f64; 2], [dx, dy]: [f64; 2], verdict: Option<Verdict>) -> Group {
    let length = dx.hypot(dy);
    let colour = verdict.map_or(INK, colour);
    let group = Group::new();
    if length < 1.0 {
        return group.add(stroke([x, y], [x, y], 0.5, RULE));
    }
    let (ux, uy) = (dx / length, dy / length);
    let tip = [x + dx, y + dy];
    let head = 7.0_f64.min(length);
    let side = |sign: f64| {
        let (bx, by) = (tip[0] - ux * head, tip[1] - uy * head);
        [bx - sign * uy * head * 0.5, by + sign * ux * head * 0.5]
    };
    let ([lx, ly], [rx, ry]) = (side(1.0), side(-1.0));
    let path = format!(
        "M{} {}L{} {}L{} {}Z",
        short(tip[0]),
        short(tip[1]),
        short(lx),
        short(ly),
        short(rx),
        short(ry)
    );
    group.add(stroke([x, y], tip, 2.0, colour)).add(filled(&path, colour))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn touch<'a>(places: &'a [Off], strokes: &'a [Vec<[f64; 2]>]) -> Touch<'a> {
        Touch { image: Image::mm(2000.0, 1250.0), places, strokes, limit: Mm(10.0) }
    }

    fn off(at: Point, right: f64, up: f64, verdict: Option<Verdict>) -> Off {
        Off { name: "centre".to_owned(), at, right: Mm(right), up: Mm(up), verdict }
    }

    /// A screen reader reads the words: which mark, which way, how far, and the verdict.
    #[test]
    fn what_is_drawn_is_told_in_words() {
        let at = Point::mm(-972.0, -40.0);
        let off = [off(at, 1.25, -0.4, None), off(at, 8.0, 0.0, Some(Verdict::Within))];
        let told = in_words(&touch(&off, &[]), Units::Mm).replace('\u{a0}', " ").replace('−', "-");
        assert!(
            told.contains(": centre +1.25 mm to the right, -0.40 mm upward; centre +8.00"),
            "{told}"
        );
        assert!(told.contains("within") && !told.contains("-972"), "{told}");
        let chart = draw(&touch(&off, &[]), Units::Mm).unwrap().to_string();
        assert!(chart.contains("to the right"), "{chart}");
    }

    #[test]
    fn arrows_are_as_long_as_the_scale_says() {
        let at = Point::mm(0.0, -625.0);
        let off = [off(at, 8.0, -0.4, Some(Verdict::Within))];
        let chart = draw(&touch(&off, &[]), Units::Mm).unwrap().to_string();
        // 732 units for 2000 mm: 10 mm are 3.66, ten times larger 36.6, twenty times 73.2.
        assert!(chart.contains("arrows 10 times larger"), "{chart}");
        // 8 mm right of the middle, ten times larger: 29.3 units right of 400.
        assert!(chart.contains("x2=\"429.3\""), "{chart}");
        assert!(chart.contains("10\u{a0}mm") || chart.contains("10 mm"), "{chart}");
    }

    #[test]
    fn what_is_no_number_is_not_drawn() {
        let at = Point::mm(f64::NAN, 0.0);
        let off = [off(at, 1.0, 1.0, None), off(Point::mm(0.0, 0.0), f64::INFINITY, 1.0, None)];
        let strokes = [vec![[f64::NAN, 0.0], [1.0, -2.0]], vec![]];
        let chart = draw(&touch(&off, &strokes), Units::Inch).unwrap().to_string();
        assert!(!chart.contains("NaN") && !chart.contains("inf"), "{chart}");
        let none = Touch { image: Image::mm(0.0, 10.0), ..touch(&off, &[]) };
        assert!(draw(&none, Units::Mm).is_none());
    }
}
