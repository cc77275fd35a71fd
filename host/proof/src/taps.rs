//! From what came while a mark was asked for to a tap, or to a miss; what else came is counted.

use crate::marks;
use crate::plan::Ask;
use crate::raw::{Asked, Came, Contact, Kind, Proof, Report};
use skimgauge_model::Point;

/// A contact farther from what was asked than this is not its answer.
pub(crate) const NEAR_MM: f64 = 150.0;
/// A contact at least so wide is the side of a hand, mm.
const PALM_MM: f64 = 45.0;

/// A tap on a mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tap {
    pub(crate) mark: u8,
    pub(crate) round: u8,
    /// Where the mark is.
    pub(crate) at: Point,
    /// Where touch was seen, less where the mark is, mm.
    pub(crate) off: [f64; 2],
}

/// All taps, and what came beside them.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Taps {
    pub(crate) taps: Vec<Tap>,
    /// Marks whose taps were not seen, once for each.
    pub(crate) missed: Vec<u8>,
    /// Sides of hands.
    pub(crate) palms: usize,
    /// Contacts away from every asked place.
    pub(crate) away: usize,
    /// Contacts that came as a mouse or a pen.
    pub(crate) mouse: usize,
    pub(crate) pen: usize,
    pub(crate) touch: usize,
    /// Most contacts seen at the same time.
    pub(crate) at_once: usize,
}

impl Taps {
    pub(crate) fn of(proof: &Proof) -> Self {
        let mut all = Self::default();
        for asked in proof.standing() {
            all.count_kinds(&asked.contacts);
            let Ask::Mark { mark, round } = asked.ask else {
                all.beside(proof, asked);
                continue;
            };
            let Some(at) = marks::at(proof.image, proof.limits.inset, mark) else { continue };
            let answer = (asked.came == Came::Done).then(|| answer(proof, asked, at)).flatten();
            match answer {
                Some((chosen, off)) => {
                    all.taps.push(Tap { mark, round, at, off });
                    all.others(proof, asked, Some(chosen));
                }
                None => {
                    all.missed.push(mark);
                    all.others(proof, asked, None);
                }
            }
        }
        all.at_once = at_once(proof);
        all
    }

    fn count_kinds(&mut self, contacts: &[Contact]) {
        for contact in contacts {
            match contact.kind {
                Kind::Touch => self.touch += 1,
                Kind::Mouse => self.mouse += 1,
                Kind::Pen => self.pen += 1,
            }
        }
    }

    fn others(&mut self, proof: &Proof, asked: &Asked, chosen: Option<usize>) {
        let others = asked.contacts.iter().enumerate().filter(|(at, _)| Some(*at) != chosen);
        for (_, contact) in others {
            let beside = chosen.is_some_and(|chosen| overlap(contact, &asked.contacts[chosen]));
            if beside || is_palm(proof, contact) || at_asked_place(proof, asked, contact) {
                self.palms += 1;
            } else {
                self.away += 1;
            }
        }
    }

    /// While something else is asked than a tap: what is far from all that was asked.
    fn beside(&mut self, proof: &Proof, asked: &Asked) {
        if matches!(asked.ask, Ask::HandsOff) {
            // Counted by itself.
            return;
        }
        for contact in &asked.contacts {
            if is_palm(proof, contact) {
                self.palms += 1;
            } else if !at_asked_place(proof, asked, contact) {
                self.away += 1;
            }
        }
    }
}

/// The contact that answers: of those near the mark, the nearest; and its place less the mark's.
fn answer(proof: &Proof, asked: &Asked, at: Point) -> Option<(usize, [f64; 2])> {
    let near = asked.contacts.iter().enumerate().filter_map(|(index, contact)| {
        let place = first_place(proof, contact)?;
        let off = [(place.x - at.x).0, (place.y - at.y).0];
        let far = off[0].hypot(off[1]);
        (far <= NEAR_MM && !is_palm(proof, contact)).then_some((index, off, far))
    });
    near.min_by(|a, b| a.2.total_cmp(&b.2)).map(|(index, off, _)| (index, off))
}

fn first_place(proof: &Proof, contact: &Contact) -> Option<Point> {
    contact.reports().first().map(|first: &Report| proof.place(*first))
}

impl Proof {
    /// Whether a contact is an answer to what was asked: it began there, and is no side of a hand.
    pub fn is_answer(&self, asked: &Asked, contact: &Contact) -> bool {
        at_asked_place(self, asked, contact) && !is_palm(self, contact)
    }
}

/// As wide as the side of a hand.
pub(crate) fn is_palm(proof: &Proof, contact: &Contact) -> bool {
    let window = proof.window_at(contact.down_ms());
    contact.width / window.width * proof.image.width.0 >= PALM_MM
}

/// Whether a contact began near what was asked.
pub(crate) fn at_asked_place(proof: &Proof, asked: &Asked, contact: &Contact) -> bool {
    let Some(place) = first_place(proof, contact) else { return false };
    if let Ask::Stroke { stroke } = asked.ask {
        let Some((from, to)) = crate::plan::line(proof.image, proof.limits.inset, stroke) else {
            return false;
        };
        return crate::strokes::beside(from, to, place).abs() <= NEAR_MM;
    }
    let at = asked.ask.at(proof.image, proof.limits.inset);
    at.is_some_and(|at| at.apart(place).0 <= NEAR_MM)
}

fn overlap(a: &Contact, b: &Contact) -> bool {
    a.down_ms() <= b.up_ms() && b.down_ms() <= a.up_ms()
}

/// Most contacts at the same time.
fn at_once(proof: &Proof) -> usize {
    let mut ends: Vec<(f64, i32)> = proof
        .standing()
        .flat_map(|asked| &asked.contacts)
        .flat_map(|contact| [(contact.down_ms(), 1), (contact.up_ms(), -1)])
        .collect();
    // One that comes as another goes: counted as after it.
    ends.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut now = 0;
    let mut most = 0;
    for (_, change) in ends {
        now = (now + change).max(0);
        most = most.max(now);
    }
    // A tap that is down and up in the same moment.
    let any = proof.standing().any(|asked| !asked.contacts.is_empty());
    usize::try_from(most).unwrap_or(0).max(usize::from(any))
}
