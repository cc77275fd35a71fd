//! What a finger does with what is asked, and what the display tells of it.

use super::{Display, Hand, Setting};
use crate::limits::OfTool;
use crate::marks;
use crate::plan::{Ask, DASHES, HANDS_OFF_MS, HOLD_MS, LEAF_MS, line};
use crate::raw::{Came, Contact, Kind};
use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use skimgauge_model::Point;

/// What a finger did with something asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What the display told.
    pub contacts: Vec<Contact>,
    /// How it ended.
    pub came: Came,
    /// When, ms.
    pub to_ms: f64,
}

/// The finger, the display, and their chance.
#[derive(Debug, Clone)]
pub struct Finger {
    /// How the display sees.
    pub display: Display,
    /// How the hand touches.
    pub hand: Hand,
    chance: Pcg64Mcg,
    next_id: i64,
    now_ms: f64,
}

impl Finger {
    /// From this start of chance.
    pub fn new(display: Display, hand: Hand, seed: u64) -> Self {
        Self { display, hand, chance: Pcg64Mcg::seed_from_u64(seed), next_id: 1, now_ms: 0.0 }
    }

    /// Even, from 0 to 1.
    pub fn even(&mut self) -> f64 {
        (self.chance.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Normal, mean 0, standard deviation 1 (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.even().max(1e-300), self.even());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }

    /// How often something happens that is expected so often (Knuth).
    fn count(&mut self, expected: f64) -> usize {
        let (limit, mut product, mut count) = ((-expected).exp(), self.even(), 0);
        while product > limit {
            product *= self.even();
            count += 1;
        }
        count
    }

    /// With a bias of aim out of those that a tool's standard uncertainty allows.
    #[must_use]
    pub fn biased(mut self, allowed: OfTool) -> Self {
        self.hand.bias_mm = [self.normal() * allowed.aim.0, self.normal() * allowed.aim.0];
        self
    }

    /// Does what is asked.
    pub fn answers(&mut self, ask: &Ask, setting: &Setting, from_ms: f64) -> Answer {
        self.now_ms = from_ms;
        match ask {
            Ask::Mark { mark, round } => self.taps(*mark, *round, setting, from_ms),
            Ask::Hold { mark } => self.holds(*mark, setting, from_ms),
            Ask::Stroke { stroke } => self.draws(*stroke, setting, from_ms),
            Ask::HandsOff => self.stands_clear(setting, from_ms),
            Ask::Dashes { mark } => self.dashes(*mark, setting, from_ms),
            Ask::Leaf { station, x, y, thickness } => {
                let gaps = &self.display.gaps_mm;
                let gap = gaps.iter().find(|(known, _)| known == station).map_or(2.0, |gap| gap.1);
                let scatter = 0.12 * self.normal();
                let seen = thickness.0 + scatter > gap - self.display.depth_mm;
                let at = Point { x: *x, y: *y };
                let held = if seen {
                    vec![self.still(at, setting, from_ms + 500.0, LEAF_MS)]
                } else {
                    vec![]
                };
                let contacts = held.into_iter().map(|c| Contact { lifted: false, ..c }).collect();
                Answer { contacts, came: Came::Done, to_ms: from_ms + 500.0 + LEAF_MS }
            }
        }
    }

    fn lost(&mut self, at: Point, setting: &Setting) -> bool {
        let shadow =
            self.display.shadow.and_then(|mark| marks::at(setting.image, setting.inset, mark));
        let shadowed = shadow.is_some_and(|middle| middle.apart(at).0 < 350.0);
        self.even() < if shadowed { 0.5 } else { self.display.misses }
    }

    fn seen(&mut self, at: Point, round: u8, setting: &Setting) -> Point {
        let off = self.display.off(setting.image, at, round, self.now_ms);
        let jitter = self.display.jitter_mm;
        let [right, up] = off.map(|off| off + jitter * self.normal());
        Point::mm(at.x.0 + right, at.y.0 + up)
    }

    fn contact(&mut self, at: Point, setting: &Setting, at_ms: f64) -> Contact {
        self.next_id += 1;
        let report = setting.report(at, at_ms);
        Contact { lifted: true, ..Contact::new(self.next_id, Kind::Touch, report) }
    }

    fn taps(&mut self, mark: u8, round: u8, setting: &Setting, from_ms: f64) -> Answer {
        let at_ms = from_ms + 900.0 + 400.0 * self.even();
        let Some(at) = marks::at(setting.image, setting.inset, mark) else {
            return Answer { contacts: Vec::new(), came: Came::Done, to_ms: at_ms };
        };
        let Hand { tap_mm, bias_mm, .. } = self.hand;
        let [x, y] = bias_mm.map(|bias| bias + tap_mm * self.normal());
        let bend = self.display.bend.filter(|bend| bend.0 == mark).map_or([0.0; 2], |bend| bend.1);
        let touched = Point::mm(at.x.0 + x + bend[0], at.y.0 + y + bend[1]);
        if self.lost(at, setting) {
            return Answer { contacts: Vec::new(), came: Came::NoReaction, to_ms: at_ms + 900.0 };
        }
        let seen = self.seen(touched, round, setting);
        let mut contact = self.contact(seen, setting, at_ms);
        let seen = self.seen(touched, round, setting);
        contact.report(setting.report(seen, at_ms + 80.0));
        Answer { contacts: vec![contact], came: Came::Done, to_ms: at_ms + 120.0 }
    }

    fn still(&mut self, at: Point, setting: &Setting, from_ms: f64, for_ms: f64) -> Contact {
        let step = 1000.0 / self.display.reports_per_s;
        let first = self.seen(at, 1, setting);
        let mut contact = self.contact(first, setting, from_ms);
        for number in 1..(for_ms / step) as usize {
            let seen = self.seen(at, 1, setting);
            contact.report(setting.report(seen, from_ms + number as f64 * step));
        }
        contact
    }

    fn holds(&mut self, mark: u8, setting: &Setting, from_ms: f64) -> Answer {
        let at = marks::at(setting.image, setting.inset, mark).unwrap_or(Point::mm(0.0, -100.0));
        let contact = self.still(at, setting, from_ms + 600.0, HOLD_MS + 200.0);
        Answer { contacts: vec![contact], came: Came::Done, to_ms: from_ms + HOLD_MS + 900.0 }
    }

    fn draws(&mut self, stroke: u8, setting: &Setting, from_ms: f64) -> Answer {
        let Some((from, to)) = line(setting.image, setting.inset, stroke) else {
            return Answer { contacts: Vec::new(), came: Came::Done, to_ms: from_ms };
        };
        let length = from.apart(to).0;
        let step_ms = 1000.0 / self.display.reports_per_s;
        let way_ms = length / 0.7;
        let steps = (way_ms / step_ms) as usize;
        let per_step = self.display.breaks_per_m * length / 1000.0 / steps as f64;
        let begins = from_ms + 800.0;
        let mut contacts: Vec<Contact> = Vec::new();
        let mut gone = 0;
        let mut down = false;
        for way in 0..2 {
            let wander = [(); 3].map(|()| self.normal() * self.hand.wander_mm);
            for number in 0..steps {
                let share = number as f64 / steps as f64;
                let along = if way == 0 { share } else { 1.0 - share };
                let across: f64 = (1..4)
                    .map(|wave| {
                        wander[wave - 1] * (share * std::f64::consts::PI * wave as f64).sin()
                    })
                    .sum();
                let at = setting.on_line(from, to, along, across);
                let at_ms = begins + (way * steps + number) as f64 * step_ms;
                let far_from_ends = (0.1..0.9).contains(&along);
                let shaded =
                    number % 25 == 12 && self.display.shadow.is_some() && self.lost(at, setting);
                if far_from_ends && (shaded || self.even() < per_step) {
                    gone = 5;
                }
                if gone > 0 {
                    gone -= 1;
                    down = false;
                    continue;
                }
                let seen = self.seen(at, 1, setting);
                match contacts.last_mut().filter(|_| down) {
                    Some(contact) => contact.report(setting.report(seen, at_ms)),
                    None => {
                        let contact = self.contact(seen, setting, at_ms);
                        contacts.push(contact);
                        down = true;
                    }
                }
            }
        }
        Answer { contacts, came: Came::Done, to_ms: begins + (2 * steps) as f64 * step_ms + 300.0 }
    }

    fn stands_clear(&mut self, setting: &Setting, from_ms: f64) -> Answer {
        let count = self.count(self.display.ghosts_per_min * HANDS_OFF_MS / 60_000.0);
        let mut times: Vec<f64> = (0..count).map(|_| self.even() * HANDS_OFF_MS).collect();
        times.sort_by(f64::total_cmp);
        let contacts = times
            .into_iter()
            .map(|at_ms| {
                let at = Point {
                    x: setting.image.width * (self.even() - 0.5),
                    y: -(setting.image.height * self.even()),
                };
                self.contact(at, setting, from_ms + at_ms)
            })
            .collect();
        Answer { contacts, came: Came::Done, to_ms: from_ms + HANDS_OFF_MS + 100.0 }
    }

    fn dashes(&mut self, mark: u8, setting: &Setting, from_ms: f64) -> Answer {
        let at = marks::at(setting.image, setting.inset, mark).unwrap_or(Point::mm(0.0, -100.0));
        let mut contacts: Vec<Contact> = Vec::new();
        for number in 0..DASHES {
            let begins = from_ms + 500.0 + 300.0 * number as f64;
            let joined = self.display.joins && number > 0 && self.even() < 0.6;
            for step in 0..12u8 {
                let along = f64::from(step) * 5.0 - 30.0;
                let place = Point::mm(at.x.0 + along, at.y.0 + 6.0 * number as f64 - 30.0);
                let seen = self.seen(place, 1, setting);
                let report = setting.report(seen, begins + 10.0 * f64::from(step));
                match contacts.last_mut().filter(|_| step > 0 || joined) {
                    Some(contact) => contact.report(report),
                    None => {
                        let contact = self.contact(seen, setting, begins);
                        contacts.push(contact);
                    }
                }
            }
        }
        Answer {
            contacts,
            came: Came::Done,
            to_ms: from_ms + 500.0 + 300.0 * DASHES as f64 + 500.0,
        }
    }
}
