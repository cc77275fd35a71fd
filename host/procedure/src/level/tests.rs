//! A level on a clock that the test moves.

use super::{Level, Thing};
use crate::Input;
use crate::output::Entry;
use crate::trial::{OFF, TODAY, Trial};
use crate::view::level::{LevelView, Line};
use crate::view::{Part, State};
use crate::word::{Said, Speaker, Word};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Deg, Style};

fn thing(name: &str, most_deg: f64) -> Thing {
    let target = Band::new(Deg(-most_deg), Deg(most_deg));
    Thing { name: name.to_owned(), line: Line::Level, target }
}

fn level(things: Vec<Thing>) -> Trial<Level> {
    Trial::at(Level::new("hall", things, TODAY, "port"))
}

fn part(trial: &Trial<Level>) -> LevelView {
    let Part::Level(part) = trial.view().part else { panic!("{:?}", trial.view().part) };
    *part
}

/// Marks, and lets the time pass that this takes; what is kept.
fn mark(trial: &mut Trial<Level>) -> Vec<Entry> {
    trial.entries.clear();
    let outputs = trial.on(Input::Said(Said::by(Speaker::Keyboard, Word::Ready)));
    assert!(outputs.is_empty());
    trial.read(OFF, 2_000);
    std::mem::take(&mut trial.entries)
}

/// What two marks find on something at this angle, with a head whose own offset is another.
fn reversed(trial: &mut Trial<Level>, tilt_deg: f64, offset_deg: f64) -> Vec<Entry> {
    trial.level_deg = offset_deg + tilt_deg;
    trial.read(OFF, 2_000);
    assert!(mark(trial).is_empty());
    assert!(part(trial).marked && trial.heard().contains("end for end"));
    trial.level_deg = offset_deg - tilt_deg;
    trial.read(OFF, 2_000);
    mark(trial)
}

#[test]
fn a_reversal_takes_the_heads_own_offset_out_and_is_judged_and_kept() {
    let mut trial = level(vec![thing("left bracket", 0.2), thing("right bracket", 0.2)]);
    for (tilt_deg, verdict) in [(0.1, Verdict::Within), (0.5, Verdict::Outside)] {
        let kept = reversed(&mut trial, tilt_deg, 0.08);
        let [Entry::Levelled { found, .. }] = &kept[..] else { panic!("{kept:?}") };
        assert!((found.level.tilt - Deg(tilt_deg)).abs() < Deg(0.01), "{found:?}");
        assert!((found.level.offset - Deg(0.08)).abs() < Deg(0.01), "{found:?}");
        assert_eq!((found.level.verdict, found.thing.as_str()), (Some(verdict), "left bracket"));
        assert_eq!((found.axis(), found.lean.verdict), (found.level, None));
        assert!(found.says.text(Style::default()).starts_with("left bracket: level +0."));
        // Whoever looks at the screen sees it, too.
        assert_eq!(trial.view().message.map(|message| message.says), Some(found.says.clone()));
    }
    assert_eq!((part(&trial).kept.len(), trial.takes.found().len()), (2, 2));
    trial.say(Word::Other);
    assert_eq!((part(&trial).thing.as_str(), part(&trial).found), ("right bracket", None));
}

/// What was not turned reads what it read before, or nearly: as if there were no tilt. That is asked,
/// and nothing is kept before it is answered.
#[test]
fn a_head_that_was_not_turned_is_asked_about() {
    for second_deg in [0.8, 0.74] {
        let mut trial = level(vec![thing("left bracket", 0.2)]);
        trial.level_deg = 0.8;
        trial.read(OFF, 2_000);
        assert!(mark(&mut trial).is_empty());
        trial.level_deg = second_deg;
        trial.read(OFF, 2_000);
        assert!(mark(&mut trial).is_empty(), "{second_deg}");
        assert!(trial.heard().contains("NOT counted"), "{second_deg}");
        let view = trial.view();
        assert!(view.question.is_some() && part(&trial).marked && part(&trial).kept.is_empty());
        // Turned and marked once more, it counts, beside the first mark.
        trial.level_deg = -0.8;
        trial.read(OFF, 2_000);
        let kept = mark(&mut trial);
        let [Entry::Levelled { found, .. }] = &kept[..] else { panic!("{kept:?}") };
        assert!((found.level.tilt - Deg(0.8)).abs() < Deg(0.01), "{found:?}");
        assert!(trial.view().question.is_none());
    }
}

/// A line that is true reads the same both ways: only who turned the head knows that it was turned.
#[test]
fn a_true_line_counts_once_it_is_said_that_the_head_was_turned() {
    let mut trial = level(vec![thing("left bracket", 0.2)]);
    assert!(reversed(&mut trial, 0.0, 0.02).is_empty());
    let kept = said_yes(&mut trial);
    let [Entry::Levelled { found, .. }] = &kept[..] else { panic!("{kept:?}") };
    assert_eq!(found.level.verdict, Some(Verdict::Within));
    assert!(!part(&trial).marked && trial.view().question.is_none());
    // Said without having been asked, it says nothing.
    assert!(said_yes(&mut trial).is_empty());
}

fn said_yes(trial: &mut Trial<Level>) -> Vec<Entry> {
    trial.entries.clear();
    trial.say(Word::Yes);
    trial.read(OFF, 200);
    std::mem::take(&mut trial.entries)
}

#[test]
fn nothing_is_marked_of_a_head_that_does_not_rest() {
    let mut trial = level(Vec::new());
    // It is being turned all the while.
    let turns = |trial: &mut Trial<Level>, tenths: u32| {
        for _ in 0..tenths {
            trial.level_deg += 0.05;
            trial.read(OFF, 100);
        }
    };
    turns(&mut trial, 20);
    assert_eq!(trial.view().state, State::Hold);
    trial.on(Input::Said(Said::by(Speaker::Typed, Word::Ready)));
    turns(&mut trial, 60);
    assert!(trial.heard().contains("NOT marked") && !part(&trial).marked);
}

#[test]
fn a_mark_is_forgotten_with_a_word() {
    let mut trial = level(Vec::new());
    trial.read(OFF, 2_000);
    mark(&mut trial);
    assert!(part(&trial).marked);
    trial.say(Word::Clear);
    assert!(!part(&trial).marked);
    assert!(trial.view().words.iter().all(|offer| offer.word != Word::Clear));
}
