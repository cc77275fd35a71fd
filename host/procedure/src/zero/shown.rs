//! The view of a zeroing.

use super::Zero;
use super::gather::Doing;
use super::steps::Stage;
use crate::takes::live_of;
use crate::view::zero::{Sees, StepView, ZeroView};
use crate::view::{LinkView, Offer, Part, Question, State, View};
use crate::word::Word;
use skimgauge_metrology::measure::Bearing;
use skimgauge_quantity::{Name, Sentence, say};
use std::time::Duration;

const CAUTION: &str =
    "Invisible light: follow the emitter's label. Do not look into the head's laser.";

impl Zero {
    pub(super) fn shown(&self, now: Duration) -> View {
        let live = self.observer.live(now.as_secs_f64());
        let in_the_way = live.faults.iter().find(|fault| fault.bearing() == Bearing::NoValue);
        View {
            number: self.number,
            at_s: now.as_secs_f64(),
            title: "zero".to_owned(),
            link: LinkView::Up { head: Some(self.serial.clone()) },
            counts: self.counts,
            image: None,
            place: None,
            bands: None,
            aim: None,
            state: self.state(),
            instruction: self.instruction(),
            question: self.asked().then(|| Question {
                asks: self.asks(),
                yes: Word::Yes,
                yes_by_button: false,
            }),
            message: self.message.as_ref().map(|(message, _)| message.clone()),
            saving: self.saving(),
            stations: Vec::new(),
            emitter: None,
            whole: None,
            part: Part::Zero(self.part()),
            words: self.words(),
            in_the_way: in_the_way.map(|fault| (*fault).into()),
            faults: live.faults.iter().map(|fault| (*fault).into()).collect(),
            cautions: vec![CAUTION.into()],
            sound: false,
            live: live_of(live),
        }
    }

    fn asked(&self) -> bool {
        self.outcome.is_some() && matches!(self.doing, Doing::Nothing) && self.ended.is_none()
    }

    fn part(&self) -> ZeroView {
        let step = |stage| StepView {
            name: self.name(stage),
            done: self.is_done(stage),
            skipped: !self.is_done(stage) && self.skipped.contains(&stage),
        };
        ZeroView {
            steps: self.stages().into_iter().map(step).collect(),
            now: self.at,
            gathered: self.doing.gathered(),
            came_to: self.came_to.clone(),
            sees: match self.stage() {
                None if self.begin.check.is_none() => Sees::Nothing,
                Some(Stage::Level | Stage::Lean) => Sees::Tilt,
                _ => Sees::Eye,
            },
            found: self.outcome.clone(),
        }
    }

    fn state(&self) -> State {
        match &self.doing {
            _ if self.ended.is_some() => State::Over,
            Doing::Keeping { .. } | Doing::Writing { .. } | Doing::Recording => State::Saving,
            Doing::Nothing if self.outcome.is_some() => State::Asked,
            Doing::Nothing => State::Ready,
            _ => State::Hold,
        }
    }

    fn saving(&self) -> Option<Sentence> {
        match self.doing {
            Doing::Keeping { .. } => Some(say!("what was read")),
            Doing::Writing { .. } | Doing::Recording => Some(say!("the head's new constants")),
            _ => None,
        }
    }

    fn instruction(&self) -> Sentence {
        match &self.doing {
            Doing::Nothing => self.asks(),
            Doing::Keeping { .. } | Doing::Recording => say!("wait until it is saved"),
            Doing::Writing { .. } => say!("leave the head plugged in"),
            _ if self.stage() == Some(Stage::Roll) => {
                say!("roll the slide slowly through the light to the other side")
            }
            _ => say!("hands off: it is being read"),
        }
    }

    fn words(&self) -> Vec<Offer> {
        let offer = |word: Word, does: Sentence| Offer { word, does };
        let mut words = Vec::new();
        if matches!(self.doing, Doing::Nothing) && self.ended.is_none() {
            if self.outcome.is_some() {
                words.push(offer(Word::Yes, say!("write these constants to the head")));
            } else {
                words.push(offer(Word::Ready, say!("it is in place: read it")));
            }
            if self.begin.check.is_none() {
                if self.first.is_some() && self.stage() == Some(Stage::Level) {
                    let does = say!("upside down on the same face: level only");
                    words.push(offer(Word::Other, does));
                }
                if self.stage().is_some() {
                    words.push(offer(Word::Skip, say!("leave this step out")));
                }
                let stages = self.stages();
                for word in [Word::Next, Word::Back] {
                    let to = self.beside(word).and_then(|to| stages.get(to).copied());
                    words.extend(to.map(|to| offer(word, say!("go to {}", self.name(to)))));
                }
            }
        }
        if !self.doing.writes() {
            let does = if self.begin.check.is_some() {
                say!("end")
            } else {
                say!("end; what was read is put aside in {}", Name(&self.begin.put_aside))
            };
            words.push(offer(Word::Quit, does));
        }
        words
    }
}
