//! The marks of the three verdicts: two bars are the band, the dot is the value.

use skimgauge_model::Verdict;
use svg::Document;
use svg::node::element::Group;

use crate::palette::{Colour, INK, OUTSIDE, PAPER, UNSURE, WITHIN};
use crate::sheet::{disc, drawn, filled, sheet, short, stroke};

/// Width and height of a mark.
pub const SIZE: [f64; 2] = [30.0, 18.0];

/// The colour that goes with a verdict, never without its word or mark.
pub fn colour(verdict: Verdict) -> Colour {
    match verdict {
        Verdict::Within => WITHIN,
        Verdict::Outside => OUTSIDE,
        Verdict::Unsure => UNSURE,
    }
}

/// A verdict's mark: the dot between the bars, on one, or beyond.
pub fn mark(verdict: Verdict) -> Document {
    let colour = colour(verdict);
    let bars = [5.0, 19.0].map(|x| stroke([x, 2.0], [x, 16.0], 2.0, INK));
    let mut sheet = sheet(SIZE[0], SIZE[1], verdict.shown()).set("class", "mark");
    for bar in bars {
        sheet = sheet.add(bar);
    }
    match verdict {
        Verdict::Within => sheet.add(disc([12.0, 9.0], 4.0, colour)),
        Verdict::Unsure => sheet.add(disc([19.0, 9.0], 5.5, PAPER)).add(drawn(
            "M14.8 9a4.2 4.2 0 1 0 8.4 0a4.2 4.2 0 1 0 -8.4 0",
            2.4,
            colour,
        )),
        Verdict::Outside => sheet.add(filled("M25 4L30 9L25 14L20.8 9Z", colour)),
    }
}

/// The dot alone, for a place on the board: full, hollow or a diamond. A plain ring where nothing
/// was judged.
pub(crate) fn dot(verdict: Option<Verdict>, [x, y]: [f64; 2]) -> Group {
    let halo = disc([x, y], 7.0, PAPER);
    let group = Group::new().add(halo);
    match verdict {
        Some(Verdict::Within) => group.add(disc([x, y], 4.6, WITHIN)),
        Some(Verdict::Unsure) => group.add(ring([x, y], 4.0, 2.4, UNSURE)),
        Some(Verdict::Outside) => {
            let (left, right, top, bottom) =
                (short(x - 6.0), short(x + 6.0), short(y - 6.0), short(y + 6.0));
            let (x, y) = (short(x), short(y));
            group.add(filled(&format!("M{left} {y}L{x} {top}L{right} {y}L{x} {bottom}Z"), OUTSIDE))
        }
        None => group.add(ring([x, y], 3.0, 1.4, INK)),
    }
}

pub(crate) fn ring(
    [x, y]: [f64; 2],
    radius: f64,
    width: f64,
    colour: Colour,
) -> svg::node::element::Path {
    let (left, r, d) = (short(x - radius), short(radius), short(2.0 * radius));
    drawn(&format!("M{left} {}a{r} {r} 0 1 0 {d} 0a{r} {r} 0 1 0 -{d} 0", short(y)), width, colour)
}
