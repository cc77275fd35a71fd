//! The look before the first take, said and left out.

use super::{EmitterOff, Saw};
use crate::takes::Takes;
use crate::trial::{SEATED, Trial, begin};
use crate::view::emitter_off::EmitterOffView;
use crate::view::{Offer, View};
use crate::word::{Said, Speaker, Word};
use crate::{Entry, Input, Output, Procedure};
use skimgauge_quantity::{Mm, Style};
use skimgauge_shared::light::Fault;
use std::time::Duration;

fn due() -> Trial<EmitterOff<Takes>> {
    let mut trial = Trial::at(EmitterOff::before(Takes::new(begin()), None));
    trial.read(SEATED, 1_500);
    trial
}

fn saw(trial: &Trial<EmitterOff<Takes>>) -> Vec<Saw> {
    let of = |entry: &Entry| match entry {
        Entry::EmitterOff { saw, .. } => Some(*saw),
        _ => None,
    };
    trial.entries.iter().filter_map(of).collect()
}

fn says(trial: &Trial<EmitterOff<Takes>>) -> String {
    trial.view().instruction.text(Style::default())
}

#[test]
fn it_is_asked_for_made_and_kept_and_then_the_walk_goes_on() {
    let mut trial = due();
    assert_eq!(trial.view().emitter_off, Some(EmitterOffView::Offered));
    assert!(says(&trial).contains("switch the emitter off"), "{}", says(&trial));
    trial.scan = Some(Fault::NoLight);
    trial.say(Word::Begin);
    trial.read(SEATED, 1_000);
    assert!(matches!(trial.view().emitter_off, Some(EmitterOffView::Off { .. })));
    assert!(trial.view().in_the_way.is_none());
    // Neither a key nor the button takes anything of darkness.
    assert!(trial.say(Word::Take).is_empty());
    trial.read(SEATED, 1_500);
    assert_eq!(trial.view().emitter_off, Some(EmitterOffView::On));
    trial.scan = None;
    trial.read(SEATED, 1_500);
    assert_eq!((trial.view().emitter_off, saw(&trial)), (None, vec![Saw::Nothing]));
    assert_eq!(trial.say(Word::Take).len(), 1, "{}", trial.heard());
    assert_eq!(saw(&trial).len(), 1);
}

#[test]
fn it_can_be_left_out_with_a_word_and_that_is_kept() {
    let mut trial = due();
    trial.say(Word::Skip);
    assert_eq!((saw(&trial), trial.view().emitter_off), (vec![Saw::LeftOut], None));
    trial.read(SEATED, 1_000);
    assert_eq!(trial.say(Word::Take).len(), 1, "{}", trial.heard());
    assert_eq!(saw(&trial).len(), 1);
}

#[test]
fn whoever_takes_at_once_has_left_it_out() {
    let mut trial = due();
    assert_eq!(trial.say(Word::Take).len(), 1, "{}", trial.heard());
    assert_eq!(saw(&trial), [Saw::LeftOut]);
    let first = trial.entries.first();
    assert!(matches!(first, Some(Entry::EmitterOff { .. })), "before the take: {first:?}");
    assert_eq!(trial.view().emitter_off, None);
}

#[test]
fn a_line_that_stays_is_kept_said_on_every_screen_and_may_be_looked_for_again() {
    let mut trial = due();
    trial.say(Word::Begin);
    trial.read(SEATED, 2_600);
    assert!(matches!(saw(&trial)[..], [Saw::Line { gap }] if (gap.0 - 2.5).abs() < 0.05));
    assert!(trial.heard().contains("a line of light stays"));
    let warned = |trial: &Trial<EmitterOff<Takes>>| {
        let cautions = trial.view().cautions;
        cautions.iter().any(|caution| caution.text(Style::default()).contains("line of light"))
    };
    assert!(warned(&trial));
    assert!(trial.takes.then.whole().line_stays);
    trial.read(SEATED, 1_000);
    trial.scan = Some(Fault::NoLight);
    trial.say(Word::Begin);
    trial.read(SEATED, 2_600);
    trial.scan = None;
    trial.read(SEATED, 1_000);
    assert_eq!(saw(&trial).last(), Some(&Saw::Nothing));
    assert!(!warned(&trial));
    assert!(!trial.takes.then.whole().line_stays);
}

/// The next run knows of it from the record.
#[test]
fn a_line_of_an_earlier_run_is_warned_of_and_can_be_looked_for_again() {
    let line = Some(Saw::Line { gap: Mm(2.0) });
    let mut trial = Trial::at(EmitterOff::before(Takes::new(begin()), line));
    trial.read(SEATED, 1_500);
    let view = trial.view();
    assert!(view.cautions.iter().any(|c| c.text(Style::default()).contains("line of light")));
    assert!(view.words.iter().any(|offer| offer.word == Word::Begin));
}

#[test]
fn a_job_that_was_looked_at_is_not_asked_again() {
    let mut trial = Trial::at(EmitterOff::before(Takes::new(begin()), Some(Saw::Nothing)));
    trial.read(SEATED, 1_500);
    assert_eq!(trial.view().emitter_off, None);
    assert!(trial.view().words.iter().all(|offer| offer.word != Word::Begin));
    trial.say(Word::Take);
    assert!(saw(&trial).is_empty());
}

/// A word that carries the number of a view that is gone is refused, whichever of the two machines
/// the view was of.
#[test]
fn a_word_meant_for_what_stood_there_before_is_let_go() {
    let mut trial = due();
    let seen = Some(trial.view().number);
    trial.say(Word::Skip);
    let take = Said { word: Word::Take, by: Speaker::Phone, seen };
    let outputs = trial.on(Input::Said(take));
    assert!(!outputs.iter().any(|output| matches!(output, Output::Keep(_))), "{outputs:?}");
    assert!(trial.heard().contains("it was meant for what stood here before"));
    let take = Said { seen: Some(trial.view().number), ..take };
    let outputs = trial.on(Input::Said(take));
    assert_eq!(trial.follow(outputs).len(), 1, "{}", trial.heard());
}

/// A take that waits for its head to say who it is was there first; what leaves a look out in the
/// middle ends it.
#[test]
fn a_look_begun_while_a_take_is_on_its_way_keeps_nobody_from_taking() {
    let mut trial = due();
    let held = trial.on(Input::Said(Said::by(Speaker::Typed, Word::Take)));
    assert!(matches!(held[..], [Output::Ask(_)]), "{held:?}");
    trial.on(Input::Said(Said::by(Speaker::Typed, Word::Begin)));
    assert!(trial.heard().contains("still being saved"));
    assert_eq!(trial.follow(held).len(), 1);
    trial.carry();
    assert_eq!(trial.say(Word::Take).len(), 1, "{}", trial.heard());

    let mut trial = due();
    trial.say(Word::Begin);
    trial.takes.keep(Saw::LeftOut);
    trial.read(SEATED, 1_000);
    assert_eq!(trial.say(Word::Take).len(), 1, "{}", trial.heard());
}

/// Takes that could be begun, as a trim can that knows enough.
struct Begins {
    takes: Takes,
    begun: u32,
}

impl Procedure for Begins {
    fn on(&mut self, now: Duration, input: Input) -> Vec<Output> {
        if let Input::Said(Said { word: Word::Begin, .. }) = input {
            self.begun += 1;
            return Vec::new();
        }
        self.takes.on(now, input)
    }

    fn view(&self, now: Duration) -> View {
        let mut view = self.takes.view(now);
        view.words.push(Offer { word: Word::Begin, does: "begin to turn".into() });
        view
    }
}

#[test]
fn where_turning_can_begin_the_word_begins_it() {
    let begins = Begins { takes: Takes::new(begin()), begun: 0 };
    let mut trial = Trial::at(EmitterOff::before(begins, None));
    trial.read(SEATED, 1_500);
    trial.say(Word::Begin);
    assert_eq!(trial.takes.then.begun, 1);
    assert_eq!(trial.view().emitter_off, Some(EmitterOffView::Offered));
}
