//! Back: one step after the other is taken back, and nothing learnt from it stays; the wrong
//! adjuster was turned; one that will go no further.

use super::{Advice, Ask, Guide, Stage, Told, Work};
use crate::trim::says;
use crate::trim::turning::End;
use skimgauge_model::TurnNoticed;
use skimgauge_quantity::{Name, Sentence, say};
use std::time::Duration;

/// Steps that can be taken back: more than a round has.
const MOST_STEPS: usize = 24;

/// A step of the user's, and how everything was before it.
#[derive(Debug, Clone)]
pub(super) struct Before {
    work: Work,
    step: Step,
}

/// What a step was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// The turning began.
    Begun,
    /// The head was clipped on to watch.
    Clipped,
    /// An adjuster was turned.
    Turned(usize),
    /// An adjuster was said to work the other way round.
    Reversed(usize),
}

impl Guide {
    /// Remembers how everything is before a step.
    pub(super) fn stepping(&mut self, step: Step) {
        if self.before.len() >= MOST_STEPS {
            self.before.remove(0);
        }
        self.before.push(Before { work: self.work.clone(), step });
    }

    /// What a word for it would take back; `None` where there is nothing.
    pub(crate) fn can_take_back(&self) -> Option<Sentence> {
        let last = self.before.last().filter(|_| self.no_take_since())?;
        Some(match last.step {
            Step::Begun => say!("back to the takes"),
            Step::Clipped => say!("back to clipping the head on"),
            Step::Turned(adjuster) => {
                say!("take back the turn of {}", Name(self.name_of(adjuster)))
            }
            Step::Reversed(adjuster) => {
                say!("{} works as the job says after all", Name(self.name_of(adjuster)))
            }
        })
    }

    /// Whether no take was made since the last step: what was turned shows in a take.
    fn no_take_since(&self) -> bool {
        let in_same_round =
            self.before.last().is_some_and(|before| before.work.round == self.work.round);
        in_same_round || !self.taken.iter().any(|taken| *taken)
    }

    /// One step back.
    pub(crate) fn take_back(&mut self) {
        self.asks = None;
        if !self.no_take_since() && !self.before.is_empty() {
            let says = say!(
                "The last step was a take, and what was turned shows in it: take it again with its own word."
            );
            return self.say(says, true);
        }
        let Some(Before { work, step }) = self.before.pop() else {
            return self.say(say!("There is nothing to take back."), true);
        };
        self.work = work;
        self.steady.clear();
        self.changed = Duration::ZERO;
        match step {
            Step::Begun => {
                self.advice = self.what_to_take();
                self.say(say!("Taken back: nothing is turned yet, and the takes stand."), false);
            }
            Step::Clipped => {
                self.work.seat = None;
                self.advise_clip();
                self.say(say!("Taken back: clip the head on, then say that it is there."), false);
            }
            Step::Turned(adjuster) => self.turn_back_to(adjuster),
            Step::Reversed(adjuster) => {
                self.advise_turn();
                let name = Name(self.name_of(adjuster));
                self.say(say!("Taken back: {name} works as it was said to."), false);
            }
        }
    }

    /// A turn that was said to be made is not: what stands in the record of it is taken back.
    fn turn_back_to(&mut self, adjuster: usize) {
        self.told.push(Told::Observed {
            adjuster,
            turns: None,
            station: None,
            before_mm: None,
            after_mm: None,
            predicted_mm: None,
            noticed: vec![TurnNoticed::TakenBack],
        });
        if let Stage::Turn(turning) = &mut self.work.stage {
            (turning.held, turning.doubted) = (true, false);
        }
        self.goes_on_where_it_was();
        let name = Name(self.name_of(adjuster));
        self.say(say!("Taken back: nothing was learnt from the turn of {name}."), false);
    }

    /// A turn that is watched goes on where the head watched it: there first, where it has left.
    fn goes_on_where_it_was(&mut self) {
        let Stage::Turn(turning) = &self.work.stage else { return };
        match turning.end {
            End::Reading { seen, .. } if self.stands != Some(seen.station) => {
                let back_to = Some(turning.clone());
                self.work.seat = None;
                let (ready, doubted) = (false, false);
                self.work.stage = Stage::Clip { station: seen.station, ready, doubted, back_to };
                self.advise_clip();
            }
            _ => self.advise_turn(),
        }
    }

    /// The wrong adjuster was turned: it is turned back, and the right one turned.
    pub(crate) fn wrong_one(&mut self) {
        self.asks = None;
        let just_turned = matches!(self.work.stage, Stage::Clip { .. } | Stage::Take)
            && matches!(self.before.last(), Some(Before { step: Step::Turned(_), .. }))
            && self.no_take_since();
        if just_turned {
            self.take_back();
        }
        match &mut self.work.stage {
            Stage::Turn(turning) | Stage::Clip { back_to: Some(turning), .. } => {
                (turning.back, turning.held, turning.wrong_way) = (true, true, false);
                self.say(say!("Nothing is learnt from the wrong one."), false);
            }
            _ => {
                let says =
                    say!("Nothing is being turned now. What was turned shows in the next takes.");
                self.say(says, true);
            }
        }
        if matches!(self.work.stage, Stage::Turn(_)) {
            self.advise_turn();
        }
    }

    /// The wrong one is turned back: now the right one.
    pub(super) fn is_back(&mut self) {
        let gap_mm = self.steady.last();
        let Stage::Turn(turning) = &mut self.work.stage else { return };
        if gap_mm.is_none() {
            // Nobody sees from where: it is counted.
            turning.end = End::Count { seen: None };
            self.work.seat = None;
        }
        turning.back = false;
        if let (End::Reading { seen, .. } | End::Count { seen: Some(seen) }, Some(gap_mm)) =
            (&mut turning.end, gap_mm)
        {
            seen.before_mm = gap_mm;
        }
        self.say(say!("It is turned back: now the right one."), false);
        self.advise_turn();
    }

    /// It will not go further: asked before it is believed.
    pub(crate) fn stuck(&mut self) {
        if matches!(&self.work.stage, Stage::Turn(turning) if !turning.back) {
            self.asks = Some(Ask::EndOfTravel);
        } else {
            self.say(say!("Nothing is being turned now."), true);
        }
    }

    /// What is asked, in words.
    pub(crate) fn question(&self) -> Option<Sentence> {
        Some(match (self.asks?, &self.work.stage) {
            (Ask::EndOfTravel, Stage::Turn(turning)) => say!(
                "Is it {} that you turn, {}, and does it stop although nothing jams it? Never force it. Has it come to its end?",
                Name(self.name_of(turning.adjuster)),
                says::sense(turning.turns)
            ),
            (Ask::EndOfTravel, _) => return None,
        })
    }

    /// Forgets every step: the round is over, and its takes decide.
    pub(super) fn forget_steps(&mut self) {
        self.before.clear();
    }

    fn advise_clip(&mut self) {
        if let Stage::Clip { station, .. } = self.work.stage {
            self.advice = Advice::Clip { station };
        }
    }

    pub(super) fn advise_turn(&mut self) {
        let gap_mm = self.steady.last();
        if let Stage::Turn(turning) = &self.work.stage {
            let turns = turning.left(gap_mm);
            let dial_to_mm = turning.aim_mm().map(|(to_mm, _)| to_mm);
            self.advice = Advice::Turn { adjuster: turning.adjuster, turns, dial_to_mm };
        }
    }
}
