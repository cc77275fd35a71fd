//! The view of a walk.

use super::certificate::Found;
use super::step::Step;
use super::{Birth, Doing, Link, said};
use crate::takes::live_of;
use crate::view::birth::{BirthSees, BirthStep, BirthView};
use crate::view::{FaultView, LinkView, Offer, Part, Question, State, View};
use crate::word::Word;
use skimgauge_metrology::measure::Fault;
use skimgauge_quantity::{Sentence, Tell, say};
use std::time::Duration;

const CAUTION: &str = "Do not look into the head's laser, nor at its reflection.";

impl Birth {
    pub(super) fn shown(&self, now: Duration) -> View {
        let live = self.observer.live(now.as_secs_f64());
        // The head judges light as a sheet's, and a seat as on a board: here is neither.
        let link = |fault: &&Fault| matches!(fault, Fault::Stale | Fault::Late | Fault::Starting);
        let faults: Vec<FaultView> =
            live.faults.iter().filter(link).map(|fault| (*fault).into()).collect();
        let question = self.step().filter(|step| step.is_question());
        let stands = (now, self.situation.number());
        let part = Part::Birth(Box::new(self.part()));
        View {
            counts: self.counts,
            state: self.state(),
            instruction: self.instruction(),
            question: question.map(|step| Question {
                asks: step.asks(),
                yes: Word::Yes,
                yes_by_button: false,
            }),
            message: self.message.as_ref().map(|(message, _)| message.clone()),
            words: self.words(),
            in_the_way: faults.first().cloned(),
            faults,
            cautions: vec![CAUTION.into()],
            ..View::without_places("first start", stands, self.link_view(), live_of(live), part)
        }
    }

    fn link_view(&self) -> LinkView {
        match &self.link {
            Link::Greeting => LinkView::Greeting,
            Link::Up(head) => LinkView::up(head),
            Link::Lost(trouble) => LinkView::Lost { trouble: trouble.tell() },
        }
    }

    fn part(&self) -> BirthView {
        let of = |step: Step| {
            let mut found = self.checks.iter().filter(|check| check.step == step.key()).peekable();
            found.peek()?;
            Some(Found::of_all(found.map(|check| check.verdict)))
        };
        let step = |step: Step| BirthStep { key: step.key(), name: step.name(), found: of(step) };
        BirthView {
            steps: Step::ALL.into_iter().map(step).collect(),
            now: self.step().map(|_| self.at),
            gathered: match &self.doing {
                Doing::Gathering { evidence, .. } => Some(evidence.readings),
                _ => None,
            },
            checks: self.checks.clone(),
            sees: match self.step() {
                Some(step) if step.tilts() => BirthSees::Tilt,
                Some(step) if step.stands_off() => BirthSees::StandOff,
                _ => BirthSees::Nothing,
            },
        }
    }

    fn state(&self) -> State {
        match (&self.link, self.step()) {
            (Link::Lost(_), _) => State::Lost,
            (Link::Greeting, _) => State::Waiting,
            (_, None) => State::Over,
            (_, Some(step)) if step.is_question() => State::Asked,
            _ if matches!(self.doing, Doing::Waiting) => State::Ready,
            _ => State::Hold,
        }
    }

    fn instruction(&self) -> Sentence {
        match (self.step(), &self.doing) {
            (None, _) => said::over(&self.certificate()),
            (Some(step), Doing::Waiting) => step.asks(),
            (Some(_), _) => say!("hands off: it is being read"),
        }
    }

    fn words(&self) -> Vec<Offer> {
        let offer = |word: Word, does: Sentence| Offer { word, does };
        let mut words = Vec::new();
        let waits = matches!(self.doing, Doing::Waiting);
        if let Some(step) = self.step().filter(|step| waits && *step != Step::Parts) {
            match step {
                Step::Lamp | Step::Buzzer => {
                    words.push(offer(Word::Yes, say!("it does")));
                    words.push(offer(Word::No, say!("it does not")));
                }
                Step::Button => {
                    words.push(offer(Word::Ready, say!("it was pressed, and nothing came")));
                }
                Step::Left | Step::Back => {
                    words.push(offer(Word::Ready, say!("it is held so: look at it")));
                }
                _ => words.push(offer(Word::Ready, say!("it is so: look at it"))),
            }
            words.push(offer(Word::Skip, say!("leave this step out")));
            words.push(offer(Word::Back, say!("make the step before it anew")));
        }
        words.push(offer(Word::Quit, say!("end; no certificate is written")));
        words
    }
}
