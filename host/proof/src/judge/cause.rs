//! Where it comes from, and what to do.

use super::{Part, Sums, What};
use crate::marks;
use crate::raw::Gap;
use serde::Serialize;
use skimgauge_model::{Point, Verdict};
use skimgauge_quantity::{Mm, Name, Sentence, say};

/// Where it comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum CauseIs {
    /// The gap is to be brought within first.
    GapFirst,
    /// The display is to be set in its own settings.
    Recalibrate,
    /// The touch plane stands too high at a place.
    PlaneTooHigh,
    /// A shadow, or bright light.
    ShadowOrLight,
    /// One mark bends away from the others.
    MarkBent,
    /// Something moved.
    Moved,
    /// The map follows no straight rule.
    Uneven,
}

/// The cause, in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cause {
    /// Which.
    pub is: CauseIs,
    /// Where, by name.
    pub places: Vec<String>,
    /// What to do.
    pub says: Sentence,
}

fn listed(places: &[String]) -> Sentence {
    let mut all = Sentence::new();
    for (at, place) in places.iter().enumerate() {
        all.push(&say!("{}{}", if at == 0 { "" } else { ", " }, Name(place)));
    }
    all
}

impl Sums<'_> {
    pub(super) fn cause(&self, parts: &[Part]) -> Option<Cause> {
        self.too_high()
            .or_else(|| self.gap_first())
            .or_else(|| self.moved())
            .or_else(|| self.in_one_area())
            .or_else(|| self.bent())
            .or_else(|| self.map_alone(parts))
    }

    fn too_high(&self) -> Option<Cause> {
        let mut places: Vec<String> = self
            .dashes
            .iter()
            .filter(|dashes| dashes.joined() >= 3)
            .map(|dashes| marks::name(dashes.mark).to_owned())
            .collect();
        // By a leaf as thick as no band lets a gap be.
        if let Some(leaf) = &self.leaf {
            places.extend(leaf.too_high(Mm(10.0)).into_iter().map(str::to_owned));
        }
        places.dedup();
        (!places.is_empty()).then(|| {
            let at = listed(&places);
            let says =
                say!("the touch plane stands too high at {at}: back to the trim, with that place");
            Cause { is: CauseIs::PlaneTooHigh, places, says }
        })
    }

    /// A gap that leans looks like a map that is off; setting the display anew would hide it.
    fn gap_first(&self) -> Option<Cause> {
        (self.proof.gap != Gap::Within).then(|| Cause {
            is: CauseIs::GapFirst,
            places: Vec::new(),
            says: say!(
                "bring the gap within first: a touch plane that stands off looks like touch that stands off, and the display's own settings would only hide it"
            ),
        })
    }

    fn moved(&self) -> Option<Cause> {
        self.map.as_ref()?.moved.map(|_| Cause {
            is: CauseIs::Moved,
            places: Vec::new(),
            says: say!("something moved during the proof: the image, the emitter or the board. Fasten it, take the gaps again, then prove again"),
        })
    }

    /// Misses and breaks of which all lie in one quarter of the image.
    fn in_one_area(&self) -> Option<Cause> {
        let image = self.proof.image;
        let inset = self.proof.limits.inset;
        let mut at: Vec<Point> =
            self.all.missed.iter().filter_map(|mark| marks::at(image, inset, *mark)).collect();
        for stroke in &self.strokes {
            let Some((from, to)) = crate::plan::line(image, inset, stroke.stroke) else { continue };
            let length = from.apart(to).0.max(1.0);
            at.extend(stroke.breaks_at_mm.iter().map(|along| Point {
                x: from.x + (to.x - from.x) * (along / length),
                y: from.y + (to.y - from.y) * (along / length),
            }));
        }
        if at.len() < 2 {
            return None;
        }
        let (middle_x, middle_y) = (Mm::ZERO, -(image.height / 2.0));
        let all = |is: &dyn Fn(&Point) -> bool| at.iter().all(is);
        let (left, right) = (all(&|p| p.x < middle_x), all(&|p| p.x > middle_x));
        let (upper, lower) = (all(&|p| p.y > middle_y), all(&|p| p.y < middle_y));
        let place = match (left, right, upper, lower) {
            (true, _, true, _) => "upper left",
            (true, _, _, true) => "lower left",
            (_, true, true, _) => "upper right",
            (_, true, _, true) => "lower right",
            _ => return None,
        };
        Some(Cause {
            is: CauseIs::ShadowOrLight,
            places: vec![place.to_owned()],
            says: say!(
                "touch is lost in the {place} alone: look for a shadow (a clip, a cable, dirt on the emitter), for sun or a bright lamp there, and ask the leaf"
            ),
        })
    }

    fn bent(&self) -> Option<Cause> {
        let outside =
            self.places.iter().filter(|place| place.by_taps && place.verdict != Verdict::Within);
        let places: Vec<String> = outside.map(|place| place.name.to_owned()).collect();
        if self.map.as_ref()?.uneven {
            return Some(Cause {
                is: CauseIs::Uneven,
                places,
                says: say!(
                    "the marks follow no straight map: the display's own settings with few points cannot take it away; look for light, shadow and a board that bulges"
                ),
            });
        }
        (!places.is_empty()).then(|| {
            let at = listed(&places);
            let says = say!(
                "the mark at {at} does not follow the others: the display's own settings with few points cannot take it away; look for a shadow or a mirrored light there"
            );
            Cause { is: CauseIs::MarkBent, places, says }
        })
    }

    fn map_alone(&self, parts: &[Part]) -> Option<Cause> {
        let good = |what: What| {
            parts.iter().all(|part| part.what != what || part.verdict == Verdict::Within)
        };
        let sound = [What::Window, What::Still, What::Pointer].into_iter().all(good);
        let surely = self.places.iter().any(|place| place.surely_outside && !place.by_taps);
        (sound && surely).then(|| Cause {
            is: CauseIs::Recalibrate,
            places: Vec::new(),
            says: say!("touch is off all over in one straight way: set it in the display's own settings, after its maker's instructions, then prove again"),
        })
    }
}
