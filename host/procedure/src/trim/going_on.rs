//! Going on from the record after a quit, a crash, a lunch.

use super::Trim;
use crate::input::EventId;
use crate::output::{Entry, Touched};
use crate::takes::{Begin, EarlierTake, Resumed};
use crate::trial::{Trial, begin, head};
use crate::word::Word;
use skimgauge_metrology::trim::replay::{EarlierRound, EarlierTurn};
use skimgauge_model::Phase;

fn earlier(names: &[&str]) -> Resumed {
    let take = |name: &&str| EarlierTake {
        station: (*name).to_owned(),
        gap_mm: 2.5,
        own_u_mm: 0.05,
        zero_u_mm: 0.03,
        dof: None,
        readings: 50,
        window_s: 1.0,
        tilt_deg: Some((0.0, 0.0)),
        temperature_c: Some(20.0),
        event: EventId([7; 32]),
        beside: false,
    };
    Resumed {
        takes: names.iter().map(take).collect(),
        constants: Some(head().calibration.calibration),
        round: 2,
        phase: Some(Phase::Between),
        ..Resumed::default()
    }
}

fn going_on(resumed: Resumed) -> Trial<Trim> {
    let mut trial = Trial::at(Trim::new(Begin { resumed: Some(resumed), ..begin() }).unwrap());
    trial.read(crate::trial::SEATED, 500);
    trial
}

fn taken(trial: &Trial<Trim>) -> usize {
    trial.view().whole.unwrap().taken
}

/// What stands is asked about before it counts: the emitter may have been touched.
#[test]
fn what_stood_counts_once_the_user_says_that_nobody_touched_anything() {
    let mut trial = going_on(earlier(&["top left", "top right"]));
    let asks = trial.question().unwrap();
    assert!(asks.contains("2 takes stand from before, round 2"), "{asks}");
    assert!(asks.contains("untouched since?"), "{asks}");
    assert_eq!(taken(&trial), 0);
    trial.say(Word::Yes);
    assert_eq!((taken(&trial), trial.question()), (2, None));
    assert!(trial.entries.iter().any(|entry| matches!(entry, Entry::GoneOn)));
    assert_eq!(trial.takes.guide.round(), 2);
    // The others are still to be taken.
    assert!(!matches!(trial.takes.guide.advice(), super::Advice::Over));
}

#[test]
fn where_something_was_touched_everything_is_taken_anew_in_another_round() {
    for word in [Word::No, Word::Take] {
        let mut trial = going_on(earlier(&["top left", "top right"]));
        trial.say(word);
        // Whoever takes instead of answering has said no, and taken.
        assert_eq!(taken(&trial), usize::from(word == Word::Take), "{word:?}");
        assert!(!trial.entries.iter().any(|entry| matches!(entry, Entry::GoneOn)));
        assert!(trial.heard().contains("Everything is taken anew"), "{word:?}");
        // The record says so, for the next run.
        let touched = |entry: &Entry| matches!(entry, Entry::Touched(Touched::SaidSo));
        assert!(trial.entries.iter().any(touched), "{word:?}");
        assert_eq!(trial.takes.guide.round(), 3);
    }
}

/// A head that was zeroed anew, or another one: nothing is asked, the takes are stale.
#[test]
fn takes_of_a_head_that_was_zeroed_anew_are_stale() {
    let mut resumed = earlier(&["top left", "top right"]);
    let constants = resumed.constants.as_mut().unwrap();
    constants.zero = skimgauge_shared::units::Micrometres(constants.zero.0 + 40);
    let mut trial = going_on(resumed);
    assert_eq!((trial.question(), taken(&trial)), (None, 0));
    assert!(trial.heard().contains("zeroed anew, or is another one"));
}

/// It ended while an adjuster was to be turned: said, and the plane is not known any more.
#[test]
fn a_turn_that_nobody_saw_the_end_of_is_said_and_the_stations_are_taken_anew() {
    let turn =
        EarlierTurn { adjuster: 0, turns: Some(1.0), read: None, reversed: false, noticed: false };
    let rounds = vec![EarlierRound { turns: vec![turn], ..EarlierRound::default() }];
    let unfinished = Some("left".to_owned());
    let mut trial = going_on(Resumed { rounds, unfinished, round: 2, ..Resumed::default() });
    assert_eq!(trial.question(), None);
    assert!(trial.heard().contains("left was to be turned when it ended"));
    assert_eq!(trial.takes.guide.made(), &[1.0, 0.0, 0.0]);
    assert!(!matches!(trial.takes.guide.advice(), super::Advice::Begin));
}
