//! The steps of a zeroing, in the order in which they are best made; any of them can be gone to,
//! left out, or taken back.

use super::gather::{Doing, Gathered};
use super::{CheckedZero, Zero};
use crate::output::{Entry, News, Output};
use crate::word::Word;
use skimgauge_metrology::zero::{Check, Pair, Stand};
use skimgauge_quantity::{Mm, Name, Sentence, count, say};
use std::time::Duration;

/// A lifted head stands at least so much higher than on the board, mm.
const LIFTED_MM: f64 = 0.2;

/// A step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stage {
    /// On the board before the gauge, counted from 0.
    Board(usize),
    /// The same, lifted.
    Lifted(usize),
    /// Upright, then end for end: level.
    Level,
    /// The eye in the dark.
    Dark,
    /// The eye in even light.
    Even,
}

impl Stage {
    /// Whether the gauge stands before the eye.
    pub(super) fn at_gauge(self) -> bool {
        matches!(self, Self::Board(_) | Self::Lifted(_))
    }

    fn lifted(self) -> bool {
        matches!(self, Self::Lifted(_))
    }

    /// Steps that are left out together: as many as were read are worked with.
    fn goes_with(self, other: Self) -> bool {
        std::mem::discriminant(&self) == std::mem::discriminant(&other)
    }
}

impl Zero {
    /// All steps, in their order.
    pub(super) fn stages(&self) -> Vec<Stage> {
        if self.begin.check {
            return vec![Stage::Board(0)];
        }
        let board = (0..self.in_all(false)).map(Stage::Board);
        let lifted = (0..self.in_all(true)).map(Stage::Lifted);
        board.chain(lifted).chain([Stage::Level, Stage::Dark, Stage::Even]).collect()
    }

    fn in_all(&self, lifted: bool) -> usize {
        let wanted = if lifted { self.begin.lifts } else { self.begin.seats };
        let wanted = if self.session.gauge.is_some() { wanted } else { 0 };
        wanted.max(self.session.stood(lifted))
    }

    /// The step at hand.
    pub(super) fn stage(&self) -> Option<Stage> {
        self.stages().get(self.at?).copied()
    }

    pub(super) fn is_done(&self, stage: Stage) -> bool {
        match stage {
            Stage::Board(_) if self.begin.check => false,
            Stage::Board(at) => at < self.session.stood(false),
            Stage::Lifted(at) => at < self.session.stood(true),
            Stage::Level => self.session.level.is_some(),
            Stage::Dark => self.session.dark.is_some(),
            Stage::Even => self.session.even.is_some(),
        }
    }

    /// Stands are read one after the other: one behind the next has no place in the session yet.
    fn is_open(&self, stage: Stage) -> bool {
        match stage {
            Stage::Board(at) | Stage::Lifted(at) => at <= self.session.stood(stage.lifted()),
            _ => true,
        }
    }

    /// A step's name in a list.
    pub(super) fn name(&self, stage: Stage) -> Sentence {
        match stage {
            Stage::Board(_) if self.begin.check => say!("check"),
            Stage::Board(at) => say!("on the board {} of {}", at + 1, self.in_all(false)),
            Stage::Lifted(at) => say!("lifted {} of {}", at + 1, self.in_all(true)),
            Stage::Level => say!("level"),
            Stage::Dark => say!("dark"),
            Stage::Even => say!("even light"),
        }
    }

    /// The first step from here on, and round again, that is neither made nor left out; the new
    /// constants once there is none.
    pub(super) fn goes_on(&mut self, now: Duration) {
        let stages = self.stages();
        let here = self.at.unwrap_or(0).min(stages.len());
        let wanted = |at: &usize| {
            let stage = stages[*at];
            !self.is_done(stage) && !self.skipped.contains(&stage) && self.is_open(stage)
        };
        self.at = (here..stages.len()).chain(0..here).find(wanted);
        self.first = None;
        match self.at {
            Some(_) => self.prompt(),
            None => self.finish(now),
        }
    }

    /// Says what is to be done.
    pub(super) fn prompt(&mut self) {
        let says = self.asks();
        self.out.push(Output::Tell(News::Step(says)));
    }

    /// Another step, as asked for.
    pub(super) fn moves(&mut self, now: Duration, word: Word) {
        if self.begin.check {
            return;
        }
        match word {
            Word::Skip => {
                let Some(stage) = self.stage() else { return };
                let left = self.stages().into_iter().filter(|other| stage.goes_with(*other));
                let left: Vec<Stage> = left.collect();
                self.skipped.extend(left);
                self.goes_on(now);
            }
            Word::Next | Word::Back => {
                let Some(to) = self.beside(word) else { return };
                self.at = Some(to);
                (self.first, self.outcome) = (None, None);
                if let Some(stage) = self.stage() {
                    self.skipped.retain(|other| !stage.goes_with(*other));
                }
                self.prompt();
            }
            Word::Clear => self.take_back(now),
            _ => (),
        }
    }

    /// The step after this one, or before it; `None` where there is none.
    pub(super) fn beside(&self, word: Word) -> Option<usize> {
        let stages = self.stages();
        let open = |at: &usize| self.is_open(stages[*at]);
        match (word, self.at) {
            (Word::Next, Some(at)) => (at + 1..stages.len()).find(open),
            (Word::Back, at) => (0..at.unwrap_or(stages.len())).rev().find(open),
            _ => None,
        }
    }

    /// What would be taken back: the first position of a reversal, the step at hand if it was read
    /// before, else the one read last.
    pub(super) fn to_take_back(&self) -> Option<Stage> {
        let here = self.stage().filter(|stage| self.first.is_some() || self.is_done(*stage));
        let last = || self.read.iter().rev().copied().find(|stage| self.is_done(*stage));
        let of_all = || self.stages().into_iter().rev().find(|stage| self.is_done(*stage));
        here.or_else(last).or_else(of_all)
    }

    /// What was read is forgotten, and asked for again.
    fn take_back(&mut self, now: Duration) {
        if self.first.take().is_some() {
            return self.prompt();
        }
        let Some(stage) = self.to_take_back() else { return };
        let name = self.name(stage);
        let former = Box::new(self.session.clone());
        match stage {
            Stage::Board(at) | Stage::Lifted(at) => {
                let Some(place) = self.place_of(stage.lifted(), at) else { return };
                self.session.stands.remove(place);
            }
            Stage::Level => self.session.level = None,
            Stage::Dark => self.session.dark = None,
            Stage::Even => self.session.even = None,
        }
        self.read.retain(|read| *read != stage);
        self.outcome = None;
        self.came_to = None;
        let at = self.at;
        // Of stands the last one is missing then.
        self.at =
            self.stages().iter().position(|other| stage.goes_with(*other) && !self.is_done(*other));
        self.say(now, false, say!("Taken back: {name}."));
        self.keeps(former, at);
    }

    /// A stand's place in the session.
    fn place_of(&self, lifted: bool, at: usize) -> Option<usize> {
        let of_kind = self.session.stands.iter().enumerate().filter(|(_, s)| s.lifted == lifted);
        of_kind.map(|(place, _)| place).nth(at)
    }

    fn keeps(&mut self, former: Box<skimgauge_metrology::zero::Session>, at: Option<usize>) {
        self.doing = Doing::Keeping { former, at };
        self.out.push(Output::Keep(Entry::Zeroing(Box::new(self.session.clone()))));
    }

    /// What the step at hand read: into the session, and kept.
    pub(super) fn has_read(&mut self, now: Duration, read: Gathered) {
        let Some(stage) = self.stage() else { return };
        let former = Box::new(self.session.clone());
        let came_to = match (stage, read) {
            (Stage::Board(at) | Stage::Lifted(at), Gathered::Still(still)) => {
                let stand = Stand { lifted: stage.lifted(), still: *still };
                if self.begin.check {
                    return self.checked(now, &stand);
                }
                match self.stood(at, stand) {
                    Ok(says) => says,
                    Err(why) => {
                        self.say(now, true, why);
                        return self.prompt();
                    }
                }
            }
            (Stage::Level, Gathered::Turned(steps)) => {
                let Some(first) = self.first.take() else {
                    self.first = Some(steps);
                    self.reads(now, say!("Read one way round."));
                    return self.prompt();
                };
                self.session.level = Some(Pair { first, second: steps });
                say!("Read both ways round.")
            }
            (Stage::Dark, Gathered::Seen(mean)) => {
                let says = say!("Read: the dark, {}.", count(mean.scans, "profile"));
                self.session.dark = Some(*mean);
                says
            }
            (Stage::Even, Gathered::Seen(mean)) => {
                let says = say!("Read: even light, {}.", count(mean.scans, "profile"));
                self.session.even = Some(*mean);
                says
            }
            _ => return,
        };
        if let Some(why) = self.pixels_refused(stage) {
            // Held against each other at once, while the lamp still stands where it stood.
            self.session = *former;
            self.say(now, true, say!("{}", why));
            return self.prompt();
        }
        self.read.push(stage);
        self.reads(now, came_to);
        self.keeps(former, self.at);
    }

    /// Once dark and even light are both read they must make a table.
    fn pixels_refused(&self, stage: Stage) -> Option<String> {
        let (Some(dark), Some(even)) = (&self.session.dark, &self.session.even) else {
            return None;
        };
        if !matches!(stage, Stage::Dark | Stage::Even) {
            return None;
        }
        use skimgauge_metrology::zero::pixels::{Pixels, compare};
        compare(even, dark, &Pixels::UNCOMPARED).err().map(|why| why.to_string())
    }

    fn reads(&mut self, now: Duration, says: Sentence) {
        self.came_to = Some(says.clone());
        self.say(now, false, says);
    }

    /// A stand before the gauge, if the eye saw its slits there.
    fn stood(&mut self, at: usize, stand: Stand) -> Result<Sentence, Sentence> {
        let constants = &self.begin.head.calibration.calibration;
        let seen =
            self.session.sees(&stand, constants).map_err(|why| say!("{}", why.to_string()))?;
        let lifted_mm = self.session.lifted_mm(&stand, constants);
        if let Some(mm) = lifted_mm.filter(|mm| stand.lifted && mm.abs() < LIFTED_MM) {
            return Err(say!(
                "The head stands {} higher than on the board: that is not lifted. Something flat under all three feet, {} high.",
                Mm(mm).fine(),
                Mm(0.5).size().to(Mm(3.0).size())
            ));
        }
        let readings = stand.still.readings;
        match self.place_of(stand.lifted, at) {
            // Taken again: in the place of what stood there.
            Some(place) => self.session.stands[place] = stand,
            None => self.session.stands.push(stand),
        }
        Ok(match seen[..] {
            [a, b] => {
                say!("Read: both slits, at {} and {} in the eye.", Mm(a.1).gap(), Mm(b.1).gap())
            }
            [a, ..] => {
                say!("Read: the slit at {}, at {} in the eye.", Mm(a.0).size(), Mm(a.1).gap())
            }
            [] => say!("Read: {}.", count(readings, "reading")),
        })
    }

    /// A check's one stand: what it comes to.
    fn checked(&mut self, now: Duration, stand: &Stand) {
        let constants = &self.begin.head.calibration.calibration;
        let Some(gauge) = &self.session.gauge else { return };
        match Check::of(stand, gauge, self.session.seat_u_mm, constants) {
            Ok(check) => {
                let (head, reference) = (self.begin.head.clone(), self.reference());
                let checked = CheckedZero { head, check, reference };
                self.out.push(Output::Keep(Entry::ZeroChecked(Box::new(checked))));
                self.end(now, super::Ended::Checked(check.checked), check.sentence());
            }
            Err(why) => {
                self.say(now, true, say!("{}", why.to_string()));
                self.prompt();
            }
        }
    }

    /// What is to be done now, in words.
    pub(super) fn asks(&self) -> Sentence {
        if self.outcome.is_some() {
            return say!("Write these constants to the head, dated today?");
        }
        let light = match self.session.gauge.as_ref().map(|gauge| gauge.lamp) {
            Some(skimgauge_metrology::zero::Lamp::Emitter) => {
                "the emitter's light through its slits"
            }
            _ => "its lamp on, the emitter off",
        };
        match self.stage() {
            None => Sentence::new(),
            Some(Stage::Board(_)) if self.begin.check => say!(
                "Check: the head on the board, the gauge before its eye, {}. Wipe both feet and gauge first. Then hands off.",
                Name(light)
            ),
            Some(Stage::Board(0)) => say!(
                "On the board: wipe feet and gauge. The head on the board, the gauge before its eye, {}. Then hands off.",
                Name(light)
            ),
            Some(Stage::Board(at)) => say!(
                "On the board, {} of {}: lift the head off and seat it anew before the gauge.",
                at + 1,
                self.in_all(false)
            ),
            Some(Stage::Lifted(at)) => say!(
                "Lifted, {} of {}: something flat under all three feet, {} or so, three alike; the gauge stays on the board.",
                at + 1,
                self.in_all(true),
                Mm([0.6, 1.2, 0.9, 1.5][at % 4]).size()
            ),
            Some(Stage::Level) if self.first.is_some() => {
                say!(
                    "Level: now turned end for end, half a turn about the upright, at the same mark."
                )
            }
            Some(Stage::Level) => {
                say!(
                    "Level: the head upright on its lower edge, on a shelf or table, at a mark that it can come back to."
                )
            }
            Some(Stage::Dark) => say!("Dark: cover the eye's slit whole, with a finger or tape."),
            Some(Stage::Even) => say!(
                "Even light: the gauge away; white paper a hand's breadth before the eye, lit from the side."
            ),
        }
    }
}
