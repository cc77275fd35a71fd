//! What the colours and marks of a map mean.

use skimgauge_quantity::{Band, Mm, Sentence, Style, Units, say};
use svg::node::element::Group;

use super::{BoardFrame, GapMap, WIDTH};
use crate::palette::{GAPS, INK, SOFT};
use crate::sheet::{Anchor, SMALL, drawn, label, rectangle, short, stroke};

impl GapMap<'_> {
    pub(super) fn legend(&self, board: &BoardFrame) -> Group {
        let Some(levels) = self.levels().filter(|_| self.field().is_some()) else {
            return Group::new();
        };
        let top = board.from[1] + board.size[1] + 16.0;
        let outside = self.band.is_some();
        let used = if outside { 0..7 } else { 1..6 };
        let each = 40.0;
        let left = (WIDTH - each * used.len() as f64) / 2.0;
        let mut group = Group::new();
        let edge = |n: usize| left + each * (n - used.start) as f64;
        for n in used.clone() {
            let [x, y] = [edge(n), top];
            group = group.add(rectangle([x, y], [each, 12.0], GAPS[n]));
            if outside && (n == 0 || n == 6) {
                let path = format!("M{} {}h{each}v12h-{each}Z", short(x), short(y));
                group = group.add(self.hatched(&path));
            }
        }
        let (first, last) = (edge(used.start), edge(used.end - 1) + each);
        group = group.add(drawn(
            &format!("M{} {}H{}v12H{}Z", short(first), short(top), short(last), short(first)),
            0.8,
            SOFT,
        ));
        for n in [0, 5] {
            let x = edge(n + 1);
            group = group.add(stroke([x, top - 3.0], [x, top + 15.0], 2.0, INK)).add(label(
                Mm(levels[n]).limit().text(Style::printed(self.units)),
                [x, top + 28.0],
                SMALL,
                Anchor::Middle,
                INK,
            ));
        }
        if outside {
            group = group
                .add(label("too near", [first - 6.0, top + 10.5], SMALL, Anchor::End, INK))
                .add(label("too far", [last + 6.0, top + 10.5], SMALL, Anchor::Start, INK))
                .add(label("the band", [WIDTH / 2.0, top + 28.0], SMALL, Anchor::Middle, SOFT));
        }
        group
    }
}

/// Seven names under a row of the legend fit nowhere; this tells the same in a sentence.
pub fn reading(units: Units, band: Option<Band<Mm>>) -> Sentence {
    let scale = match band {
        Some(band) => say!(
            "Violet: the touch plane is nearer to the board; orange: farther. Hatched: outside the band of {}; the heavy line is the band\u{2019}s end.",
            band.low.limit().to(band.high.limit())
        ),
        None => say!("Violet: the touch plane is nearer to the board; orange: farther."),
    };
    say!(
        "Numbers are gaps between touch plane and board in {}. {scale} Shading and lines between the numbers are interpolated. Full dot: within; hollow: too close to call; diamond: outside; small ring: not judged by itself. The large ring is the place that decided the verdict.",
        units.word()
    )
}
