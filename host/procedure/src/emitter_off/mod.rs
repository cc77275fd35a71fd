//! Once a job: the emitter switched off for two seconds, to see whether a line of light stays.
//!
//! Sun through a blind, or a lamp mirrored in a glossy board, has a profile as a sheet has, and no
//! one profile tells the two apart. So before the first take the user is asked to switch the emitter
//! off while the head looks. It can be left out; what was seen, or that nobody looked, is kept.
//!
//! [`EmitterOff`] stands before another procedure: what it does not want itself it hands on. `look`
//! is the looking.

mod look;
#[cfg(test)]
mod tests;

pub use look::Saw;

use crate::input::{Answer, Input};
use crate::output::{Message, News, Output};
use crate::situation::Numbered;
use crate::view::emitter_off::EmitterOffView;
use crate::view::{LinkView, Offer, State, View};
use crate::word::{Said, Word};
use crate::{Entry, Procedure};
use look::{Again, Came, Look, Stage};
use skimgauge_metrology::measure::Fault;
use skimgauge_quantity::{Sentence, plain, say};
use skimgauge_session::{Event, HeadIs, Told};
use std::time::Duration;

/// A message is shown for so long.
const MESSAGE_LASTS: Duration = Duration::from_secs(8);

/// A procedure with the look before its first take.
pub struct EmitterOff<P> {
    then: P,
    look: Look,
    /// It is still to be done, or left out.
    due: bool,
    /// A line of light stayed.
    line: bool,
    head: Option<Box<HeadIs>>,
    message: Option<(Message, Duration)>,
    /// That it is to be done was told to whoever is told line by line.
    told: bool,
    situation: Numbered<(Option<Stage>, bool)>,
}

impl<P: Procedure> EmitterOff<P> {
    /// Before this procedure; `saw` by the last look at this job, `None` where nobody was asked yet.
    pub fn before(then: P, saw: Option<Saw>) -> Self {
        Self {
            then,
            look: Look::new(),
            due: saw.is_none(),
            line: saw.is_some_and(Saw::is_line),
            head: None,
            message: None,
            told: false,
            situation: Numbered::from((None, false)),
        }
    }

    /// The procedure that it stood before.
    pub fn then(self) -> P {
        self.then
    }

    fn say(&mut self, now: Duration, bad: bool, says: Sentence) -> Output {
        let message = Message { says, bad, answers: Vec::new() };
        self.message = Some((message.clone(), now + MESSAGE_LASTS));
        Output::Tell(News::Message(message))
    }

    /// Whether it is to be offered: still due, or a line stayed that may be gone by now.
    fn is_offered(&self) -> bool {
        self.due || self.line
    }

    fn keep(&mut self, saw: Saw) -> Option<Output> {
        self.due = false;
        // Left out in the middle of it, it looks no longer.
        self.look.stop();
        let head = self.head.clone()?;
        Some(Output::Keep(Entry::EmitterOff { saw, head }))
    }

    /// A word that is for the look; `None` where it is for the procedure behind it.
    fn said(&mut self, now: Duration, word: Word) -> Option<Vec<Output>> {
        let looks = self.look.stage != Stage::Offered;
        match word {
            Word::Begin if !looks && self.is_offered() && !self.then_begins(now) => {
                let saving = self.then.view(now).saving;
                Some(vec![match saving {
                    // What is being taken was there first.
                    Some(what) => {
                        let says = say!("Let go: {what} is still being saved.");
                        self.say(now, true, says)
                    }
                    None => self.begin(now),
                }])
            }
            Word::Skip if !looks && self.due => {
                let kept = self.keep(Saw::LeftOut);
                let says = say!("Left out: nobody looked with the emitter off. It is kept so.");
                let told = self.say(now, false, says);
                Some(kept.into_iter().chain([told]).collect())
            }
            Word::Skip | Word::No if looks => {
                self.look.interrupt();
                Some(vec![self.say(now, false, say!("Stopped. The emitter is to be on again."))])
            }
            Word::Take | Word::Redo | Word::More if looks => {
                let says =
                    say!("Let go: first switch the emitter on again, and wait for its light.");
                Some(vec![self.say(now, true, says)])
            }
            _ => None,
        }
    }

    /// Whether the procedure behind has a use of its own for the word that begins a look.
    fn then_begins(&self, now: Duration) -> bool {
        self.then.view(now).words.iter().any(|offer| offer.word == Word::Begin)
    }

    fn begin(&mut self, now: Duration) -> Output {
        if self.look.is_off() {
            let says = say!("Looking: keep the emitter off, and the head where it is.");
            return self.say(now, false, says);
        }
        let says = say!(
            "First switch it on, clip the head on and turn its eye to the emitter, so that its light is seen; then switch it off."
        );
        self.say(now, true, says)
    }

    /// What the head sends goes to the procedure behind; readings are looked at first.
    fn heard(&mut self, now: Duration, told: &Told) -> Vec<Output> {
        match told {
            Told::Head(Event::Up(head)) => {
                self.head = Some(head.clone());
                self.look.interrupt();
                Vec::new()
            }
            Told::Head(Event::ClockJumped) | Told::Lost(_) => {
                self.look.interrupt();
                Vec::new()
            }
            Told::Head(Event::Reading(arrived)) if self.is_offered() => {
                let Some(head) = &self.head else { return Vec::new() };
                let at_s = arrived.placed.position.at.seconds();
                let constants = &head.calibration.calibration;
                let came = self.look.reading(&arrived.reading, constants, at_s);
                let mut out = self.came(now, came);
                if self.due && self.look.has_seen_light() && !self.told {
                    self.told = true;
                    let answers = vec![Word::Begin];
                    let message = Message { says: asks(), bad: false, answers };
                    out.push(Output::Tell(News::Message(message)));
                }
                out
            }
            _ => Vec::new(),
        }
    }

    fn came(&mut self, now: Duration, came: Came) -> Vec<Output> {
        match came {
            Came::Nothing => Vec::new(),
            Came::SwitchOn => {
                vec![self.say(now, false, say!("Nothing stays. Switch the emitter on again."))]
            }
            Came::Saw(saw) => {
                self.line = saw.is_line();
                let says = saw.says();
                let kept = self.keep(saw);
                let told = self.say(now, self.line, says);
                kept.into_iter().chain([told]).collect()
            }
            Came::Again(why) => vec![self.say(now, true, again(why))],
        }
    }

    /// A take that is kept before anybody looked: that it was left out is kept before it.
    fn left_out_before(&mut self, outputs: Vec<Output>) -> Vec<Output> {
        let takes = |output: &Output| {
            matches!(output, Output::Keep(Entry::Take { .. } | Entry::Tilt { .. }))
        };
        let Some(at) = outputs.iter().position(takes).filter(|_| self.due) else { return outputs };
        let mut outputs = outputs;
        if let Some(kept) = self.keep(Saw::LeftOut) {
            outputs.insert(at, kept);
        }
        outputs
    }
}

impl Saw {
    /// Whether a line of light stayed.
    pub fn is_line(self) -> bool {
        matches!(self, Self::Line { .. })
    }

    /// In words.
    pub fn says(self) -> Sentence {
        match self {
            Self::Nothing => say!("With the emitter off no line of light stays."),
            Self::Line { gap } => say!(
                "With the emitter off a line of light stays, as if the gap were {}. If the emitter is off indeed: find the sun or the lamp, shade it, and look again.",
                gap.gap()
            ),
            Self::LeftOut => say!("Nobody looked with the emitter off."),
        }
    }
}

/// What is asked for.
fn asks() -> Sentence {
    say!(
        "once a job, before the first take: switch the emitter off and say so, to see whether a line of light stays; or leave it out"
    )
}

fn again(why: Again) -> Sentence {
    match why {
        Again::TooShort => {
            say!("The light came back too early. Keep the emitter off for two seconds, once more.")
        }
        Again::Moved => {
            say!(
                "The head moved meanwhile. Clip it on, see its light, and switch it off once more."
            )
        }
        Again::Blind => {
            say!(
                "The eye could not see meanwhile: too much room light, or it failed. Shade it, and look once more."
            )
        }
        Again::NotBack => {
            say!(
                "The light did not come back: was the eye turned away? Turn it to the emitter, and look once more."
            )
        }
    }
}

impl<P: Procedure> Procedure for EmitterOff<P> {
    fn on(&mut self, now: Duration, input: Input) -> Vec<Output> {
        if self.message.as_ref().is_some_and(|(_, until)| now > *until) {
            self.message = None;
        }
        let mut out = Vec::new();
        let handed_on = match input {
            Input::Head(told) => {
                out = self.heard(now, &told);
                // The button means a take, and there is nothing to be taken of darkness.
                let button = matches!(told, Told::Head(Event::Button(..)));
                (!(button && self.look.stage != Stage::Offered)).then_some(Input::Head(told))
            }
            Input::Said(said) => match self.said(now, said.word) {
                Some(own) => {
                    out = own;
                    None
                }
                None => {
                    let seen = said.seen.map(|seen| seen.wrapping_sub(self.situation.number()));
                    Some(Input::Said(Said { seen, ..said }))
                }
            },
            other => Some(other),
        };
        if let Some(Input::Record(Answer::Kept { entry, .. })) = &handed_on
            && entry.is_take()
        {
            // What was taken is told in its place.
            self.message = None;
        }
        if let Some(input) = handed_on {
            let after = self.then.on(now, input);
            out.extend(self.left_out_before(after));
        }
        let stage = self.is_offered().then_some(kind(self.look.stage));
        self.situation.is((stage, self.line));
        out
    }

    fn view(&self, now: Duration) -> View {
        let view = self.then.view(now);
        let message = self.message.as_ref().map(|(message, _)| message.clone());
        let mut view = View {
            number: view.number.wrapping_add(self.situation.number()),
            message: message.or(view.message),
            ..view
        };
        if self.line {
            let says = say!("A line of light stayed with the emitter off.");
            view.cautions.insert(0, says);
        }
        let up = matches!(view.link, LinkView::Up { .. });
        let busy = view.question.is_some() || view.saving.is_some();
        if !self.is_offered() || !up || busy {
            return view;
        }
        self.offers(view)
    }
}

impl<P: Procedure> EmitterOff<P> {
    fn offers(&self, mut view: View) -> View {
        let offer = |word: Word, does: Sentence| Offer { word, does };
        let looks = self.look.stage != Stage::Offered;
        if looks {
            // What the head says now is no fault: the emitter is meant to be off.
            view.in_the_way = None;
            view.state = State::Hold;
            view.words.retain(|offer| matches!(offer.word, Word::Sound | Word::Quit));
            view.words.insert(0, offer(Word::Skip, say!("stop looking")));
        } else {
            let begins = view.words.iter().any(|offer| offer.word == Word::Begin);
            let begin = offer(Word::Begin, say!("the emitter is off: look"));
            let mut own = Vec::from_iter((!begins).then_some(begin));
            own.extend(self.due.then(|| offer(Word::Skip, say!("leave this look out"))));
            // What answers the head comes first.
            let at = view.words.len().min(1);
            view.words.splice(at..at, own);
        }
        view.emitter_off = match self.look.stage {
            Stage::Offered if !self.due => None,
            Stage::Offered => Some(EmitterOffView::Offered),
            Stage::Off { .. } => {
                Some(EmitterOffView::Off { to_go_s: self.look.to_go_s().unwrap_or_default() })
            }
            Stage::Back { .. } => Some(EmitterOffView::On),
        };
        match view.emitter_off {
            Some(EmitterOffView::Offered) if self.look.has_seen_light() => {
                view.instruction = asks();
                // As asked: that is no fault of the head's.
                if view.live.gap.why() == Some(Fault::NoLight) {
                    (view.in_the_way, view.state) = (None, State::Ready);
                    view.instruction = say!("the light is gone: say that the emitter is off");
                }
            }
            Some(EmitterOffView::Off { to_go_s }) => {
                view.instruction = say!("keep the emitter off: {} s", plain(to_go_s, 1));
            }
            Some(EmitterOffView::On) => view.instruction = say!("switch the emitter on again"),
            Some(EmitterOffView::Offered) | None => {}
        }
        view
    }
}

/// The stage without its time.
fn kind(stage: Stage) -> Stage {
    match stage {
        Stage::Offered => Stage::Offered,
        Stage::Off { .. } => Stage::Off { since_s: 0.0 },
        Stage::Back { .. } => Stage::Back { since_s: 0.0 },
    }
}
