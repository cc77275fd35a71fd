//! The view of a zeroing.

use super::Zero;
use super::gather::Doing;
use super::steps::Stage;
use crate::takes::live_of;
use crate::view::zero::{Sees, StepView, ZeroView};
use crate::view::{LinkView, Offer, Part, Question, State, View};
use crate::word::Word;
use skimgauge_metrology::measure::{Bearing, Fault};
use skimgauge_quantity::{Mm, Name, Sentence, say};
use std::time::Duration;

const CAUTION: &str =
    "Invisible light: follow the emitter's label. Do not look into the head's laser.";

impl Zero {
    pub(super) fn shown(&self, now: Duration) -> View {
        let live = self.observer.live(now.as_secs_f64());
        let faults: Vec<_> = live.faults.iter().filter(|fault| self.matters(**fault)).collect();
        let in_the_way = faults.iter().find(|fault| fault.bearing() == Bearing::NoValue);
        let link = LinkView::Up { head: Some(self.serial.clone()) };
        let (stands, part) = ((now, self.situation.number()), Part::Zero(self.part()));
        View {
            counts: self.counts,
            state: self.state(),
            instruction: self.instruction(),
            question: self.asked().then(|| Question {
                asks: self.asks(),
                yes: Word::Yes,
                yes_by_button: false,
            }),
            message: self.message.as_ref().map(|(message, _)| message.clone()),
            saving: self.saving(),
            words: self.words(),
            in_the_way: in_the_way.map(|fault| (**fault).into()),
            faults: faults.iter().map(|fault| (**fault).into()).collect(),
            cautions: vec![CAUTION.into()],
            ..View::without_places("zero", stands, link, live_of(live), part)
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
                None => Sees::Nothing,
                Some(Stage::Level) => Sees::Tilt,
                Some(_) => Sees::Eye,
            },
            eye: self.eye(),
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
            Doing::Writing { .. } if !self.begin.nobody_at_head => {
                say!("press the head's button; leave it plugged in")
            }
            Doing::Writing { .. } => say!("leave the head plugged in"),
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
            if !self.begin.check {
                if self.stage().is_some() {
                    words.push(offer(Word::Skip, say!("leave this step out")));
                }
                let stages = self.stages();
                for word in [Word::Next, Word::Back] {
                    let to = self.beside(word).and_then(|to| stages.get(to).copied());
                    words.extend(to.map(|to| offer(word, say!("go to {}", self.name(to)))));
                }
                let back = self.to_take_back();
                words.extend(back.map(|s| offer(Word::Clear, say!("take back {}", self.name(s)))));
            }
        }
        if !self.doing.writes() {
            let does = if self.begin.check {
                say!("end")
            } else {
                say!("end; what was read is put aside in {}", Name(&self.begin.put_aside))
            };
            words.push(offer(Word::Quit, does));
        }
        words
    }

    /// What the eye saw last, for a step that sets light up.
    fn eye(&self) -> Option<Sentence> {
        let stage = self.stage()?;
        let seen = self.seen.as_ref()?;
        if stage.at_gauge() {
            let lines = seen.lines(None);
            return Some(match lines[..] {
                [] => say!("no line of light"),
                [one] => {
                    say!("one line of light, {}", Mm(one.middle_mm).gap())
                }
                [a, b] => say!(
                    "two lines of light, {} and {}",
                    Mm(a.middle_mm).gap(),
                    Mm(b.middle_mm).gap()
                ),
                _ => say!("{} lines of light", lines.len()),
            });
        }
        let codes = &seen.codes;
        let mean = codes.iter().sum::<f64>() / codes.len().max(1) as f64;
        (stage != Stage::Level).then(|| say!("light {} of 4095 codes", mean.round() as u32))
    }

    /// Whether a fault bears on the step at hand. The head judges light as a sheet's; a gauge's
    /// slits, a cover or a lit card are none, and no fault here.
    fn matters(&self, fault: Fault) -> bool {
        let link = matches!(fault, Fault::Stale | Fault::Late | Fault::Starting | Fault::BusStuck);
        let spot = matches!(
            fault,
            Fault::ConverterSilent
                | Fault::SpotLost
                | Fault::StandOffOutOfRange
                | Fault::StandOffFrozen
        );
        let eye = matches!(fault, Fault::EyeSilent | Fault::EyeFrozen);
        link || match self.stage() {
            Some(Stage::Board(_) | Stage::Lifted(_)) => spot || eye,
            Some(Stage::Dark | Stage::Even) => eye,
            _ => false,
        }
    }
}
