//! The view of a level.

use super::{Level, Link};
use crate::takes::live_of;
use crate::view::level::{AxisFound, LevelView, Line};
use crate::view::{FaultView, LinkView, Live, Offer, Part, Question, Reading, State, View};
use crate::word::Word;
use skimgauge_metrology::verdict::decide;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Deg, MmPerM, Name, Sentence, Tell, say};
use std::time::Duration;

const CAUTION: &str = "Do not look into the head's laser. Ladder: three points of contact.";

/// What was found, in words.
pub(super) fn found(thing: &str, level: &AxisFound, lean: &AxisFound) -> Sentence {
    let axis = |name: &'static str, found: &AxisFound| {
        let judged = found.verdict.map_or_else(Sentence::new, |verdict| say!(", {verdict}"));
        say!(
            "{name} {} ({}){judged}",
            found.tilt.fine().signed(),
            found.tilt.slope().figure().signed()
        )
    };
    let whose = if thing.is_empty() { Sentence::new() } else { say!("{}: ", Name(thing)) };
    say!(
        "{whose}{}; {} (only if it was turned to the other face of the same plate)",
        axis("level", level),
        axis("lean", lean)
    )
}

impl Level {
    pub(super) fn shown(&self, now: Duration) -> View {
        let live = self.observer.live(now.as_secs_f64());
        let rests = self.observer.level_rests();
        let faults: Vec<_> = live.faults.iter().map(|fault| FaultView::of(*fault, &live)).collect();
        let why = live.level_deg.why().or(live.lean_deg.why());
        let in_the_way = why.map(|fault| FaultView::of(fault, &live));
        let live = Live { rests, ..live_of(live) };
        let (stands, link) = ((now, self.situation.number()), self.link_view());
        let part = Part::Level(Box::new(self.part(&live)));
        View {
            counts: self.counts,
            state: self.state(&live),
            instruction: self.instruction(&live),
            message: self.message.as_ref().map(|(message, _)| message.clone()),
            saving: self.saving.clone(),
            question: self.question(),
            words: self.words(),
            in_the_way,
            faults,
            cautions: vec![CAUTION.into()],
            ..View::without_places(self.title.clone(), stands, link, live, part)
        }
    }

    fn question(&self) -> Option<Question> {
        let second = self.asked?;
        let (was, is) = (self.counts_of(self.first?), self.counts_of(second));
        let (was, is) = (Deg(was).fine().signed(), Deg(is).fine().signed());
        let asks = say!("marked {was}, then {is}: was the head turned end for end in between?");
        Some(Question { asks, yes: Word::Yes, yes_by_button: false })
    }

    fn link_view(&self) -> LinkView {
        match &self.link {
            Link::Greeting => LinkView::Greeting,
            Link::Up(head) => LinkView::up(head),
            Link::Lost(trouble) => LinkView::Lost { trouble: trouble.tell() },
        }
    }

    fn part(&self, live: &Live) -> LevelView {
        let thing = &self.things[self.at.min(self.things.len() - 1)];
        let verdict = |line: Line, reading: Reading<Deg>| -> Option<Verdict> {
            let Reading::Good { value, u } = reading else { return None };
            let expanded = Deg(crate::takes::expanded(u.0, None));
            let target = thing.target.filter(|_| line == thing.line)?;
            Some(decide(value, expanded, target))
        };
        LevelView {
            thing: thing.name.clone(),
            line: thing.line,
            level_slope: slope(live.level),
            lean_slope: slope(live.lean),
            target: thing.target,
            level_verdict: verdict(Line::Level, live.level),
            lean_verdict: verdict(Line::Plumb, live.lean),
            marked: self.first.is_some(),
            found: self.found.clone(),
            kept: self.kept.clone(),
        }
    }

    fn state(&self, live: &Live) -> State {
        match self.link {
            Link::Lost(_) => State::Lost,
            Link::Greeting => State::Waiting,
            Link::Up(_) if self.saving.is_some() => State::Saving,
            Link::Up(_) if self.marking.is_some() || !live.rests => State::Hold,
            Link::Up(_) if self.found.is_some() => State::Taken,
            Link::Up(_) => State::Ready,
        }
    }

    fn instruction(&self, live: &Live) -> Sentence {
        if self.saving.is_some() {
            say!("wait until it is saved")
        } else if self.marking.is_some() {
            say!("hold the head still")
        } else if self.first.is_some() {
            say!("turn the head end for end on the same spot, and mark again")
        } else if live.rests {
            say!("at rest: mark it")
        } else {
            say!("set the head on it and let it come to rest")
        }
    }

    fn words(&self) -> Vec<Offer> {
        let offer = |word: Word, does: Sentence| Offer { word, does };
        let mut words = Vec::new();
        if self.saving.is_none() {
            if self.asked.is_some() {
                words.push(offer(Word::Yes, say!("yes: it was turned")));
            }
            let again = self.first.is_some();
            words.push(offer(Word::Ready, if again { say!("mark again") } else { say!("mark") }));
            if again {
                words.push(offer(Word::Clear, say!("forget the mark")));
            }
            if self.things.len() > 1 {
                words.push(offer(Word::Other, say!("the next thing to level")));
            }
        }
        words.push(offer(Word::Quit, say!("end")));
        words
    }
}

fn slope(reading: Reading<Deg>) -> Reading<MmPerM> {
    match reading {
        Reading::Good { value, u } => Reading::Good { value: value.slope(), u: u.slope() },
        Reading::Doubtful { value, why } => Reading::Doubtful { value: value.slope(), why },
        Reading::Absent { why } => Reading::Absent { why },
    }
}
