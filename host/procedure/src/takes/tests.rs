//! A station is a place: each way in which a head that stays where it is might be taken at another.

use super::Begin;
use crate::input::Input;
use crate::trial::{OFF, SEATED, SERIAL, Trial, head};
use crate::word::{Said, Speaker, Stop, Word};
use crate::{Output, Procedure};
use skimgauge_jobfile::Job;
use skimgauge_metrology::measure::{At, Came};
use skimgauge_quantity::Style;
use skimgauge_session::{Event, Refused, Told, Trouble};
use skimgauge_shared::message::{Press, Request, SerialNumber};
use skimgauge_shared::units::Microseconds;
use std::time::Duration;

fn at(name: &str) -> At {
    At::Station(name.to_owned())
}

fn saving(trial: &Trial) -> Option<String> {
    trial.view().saving.map(|what| what.text(Style::default()))
}

fn is_greeting(output: &Output) -> bool {
    matches!(output, Output::Ask(Request::Greet))
}

fn seated() -> Trial {
    let mut trial = Trial::new();
    trial.read(SEATED, 3_000);
    trial
}

/// The head taken at its first station.
fn taken_once() -> Trial {
    let mut trial = seated();
    assert_eq!(trial.say(Word::Take).len(), 1);
    trial.heard();
    trial
}

#[test]
fn a_held_key_takes_one_station_and_no_more() {
    let mut trial = seated();
    let mut taken = 0;
    // Ten seconds of a key that repeats thirty times a second; whatever lets the repeats through,
    // time lets them go.
    for _ in 0..300 {
        taken += trial.say(Word::Take).len();
        trial.read(SEATED, 30);
    }
    assert_eq!(taken, 1);
    assert_eq!(trial.takes.stations().taken(), 1);
}

#[test]
fn presses_and_words_in_one_breath_are_one() {
    let mut trial = seated();
    let taken: usize =
        (0..8).map(|_| trial.button(Press::Short).len() + trial.say(Word::Take).len()).sum();
    assert_eq!(taken, 1);
    assert!(trial.heard().contains("less than 0.7 s after the last"));
}

/// Three presses 10 ms apart, heard seconds later and apart: a computer that was busy meanwhile.
#[test]
fn presses_in_one_breath_that_are_heard_late_are_one() {
    let mut trial = seated();
    let mut taken = 0;
    for press in 0..3 {
        let at = Microseconds::from_millis(2_900 + 10 * press);
        let effects = trial.on(Input::Head(Told::Head(Event::Button(Press::Short, at))));
        taken += trial.follow(effects).len();
        trial.read(SEATED, 1_000);
    }
    assert_eq!(taken, 1);
    assert_eq!(trial.question(), None);
}

#[test]
fn a_head_that_stays_is_asked_about_at_each_station_and_the_answer_is_kept() {
    let mut trial = taken_once();
    for (last, here) in [("top left", "top"), ("top", "top right")] {
        trial.read(SEATED, 1_000);
        assert!(trial.say(Word::Take).is_empty());
        let question = format!("has not moved since {last}: is it at {here}?");
        assert!(trial.heard().contains(&question));
        assert!(trial.question().is_some_and(|asked| asked.contains(&question)));
        // Once more in the same breath is no answer.
        trial.read(SEATED, 300);
        assert!(trial.button(Press::Short).is_empty());
        // Nor is any press for a take, however late: whoever is impatient has answered nothing.
        for _ in 0..3 {
            trial.read(SEATED, 1_000);
            assert!(trial.button(Press::Short).is_empty() && trial.question().is_some());
        }
        trial.read(SEATED, 1_000);
        let taken = if here == "top" { trial.say(Word::Yes) } else { trial.button(Press::Long) };
        let [taken] = &taken[..] else { panic!("{}", trial.heard()) };
        assert_eq!(taken.came, Came::Said { from: at(last) });
        trial.heard();
    }
}

#[test]
fn everything_but_yes_is_a_no() {
    for no in [Word::Unknown, Word::Next, Word::Go(Stop::Station(3)), Word::Sound] {
        let mut trial = taken_once();
        trial.read(SEATED, 1_000);
        trial.say(Word::Take);
        trial.read(SEATED, 1_000);
        trial.say(no);
        assert_eq!(trial.question(), None, "{no:?}");
        assert!(trial.heard().contains("Nothing is taken: put the head at top first."));
        trial.read(SEATED, 1_000);
        assert!(trial.say(Word::Take).is_empty(), "{no:?} was a yes");
    }
}

#[test]
fn a_question_that_nobody_answers_is_answered_with_no() {
    let mut trial = taken_once();
    trial.read(SEATED, 1_000);
    trial.say(Word::Take);
    trial.read(SEATED, 9_000);
    assert!(trial.heard().contains("Nothing is taken"));
    assert!(trial.say(Word::Take).is_empty(), "a late press is the next question");
}

#[test]
fn the_way_to_a_station_is_no_arrival_there() {
    for way in [Word::Next, Word::Go(Stop::Station(4)), Word::Go(Stop::Station(7))] {
        let mut trial = taken_once();
        trial.read(SEATED, 1_000);
        trial.say(way);
        assert!(trial.say(Word::Take).is_empty(), "{way:?}");
        assert!(trial.heard().contains("has not moved since top left"), "{way:?}");
    }
}

#[test]
fn carried_it_is_taken_at_the_next_station_without_a_question() {
    let mut trial = taken_once();
    for _ in 0..7 {
        trial.carry();
        let [taken] = &trial.say(Word::Take)[..] else { panic!("{}", trial.heard()) };
        assert_eq!(taken.came, Came::Seen);
    }
    assert_eq!(trial.takes.stations().taken(), 8);
}

#[test]
fn a_redo_stands_where_it_stood() {
    let mut trial = taken_once();
    trial.read(SEATED, 1_000);
    let [again] = &trial.say(Word::Redo)[..] else { panic!("{}", trial.heard()) };
    assert_eq!((again.came.clone(), again.seats.len()), (Came::Same, 1));
    // Led on to the next, carried there, and back again: the redo leads back and asks for the head.
    trial.carry();
    assert!(trial.say(Word::Redo).is_empty());
    assert!(trial.heard().contains("Back at top left: the head was moved since"));
}

#[test]
fn one_more_seat_needs_a_seat_of_its_own() {
    let mut trial = taken_once();
    trial.read(SEATED, 1_000);
    trial.say(Word::More);
    trial.read(SEATED, 1_000);
    assert!(trial.say(Word::More).is_empty());
    assert!(trial.heard().contains("still stands as it did"));
    trial.carry();
    let [more] = &trial.say(Word::More)[..] else { panic!("{}", trial.heard()) };
    assert_eq!((more.seats.len(), more.came.clone()), (2, Came::Seen));
}

#[test]
fn nobody_knows_what_became_of_a_head_while_the_link_was_lost() {
    let mut trial = taken_once();
    trial.on(Input::Head(Told::Lost(Trouble::Unplugged { port: "port".to_owned() })));
    trial.read(SEATED, 0);
    trial.on(Input::Head(Told::Head(Event::Up(head()))));
    trial.read(SEATED, 3_000);
    trial.heard();
    assert!(trial.say(Word::Take).is_empty());
    assert!(
        trial.heard().contains("Nobody saw what became of the head since top left: is it at top?")
    );
    trial.read(SEATED, 1_000);
    let [taken] = &trial.say(Word::Yes)[..] else { panic!("{}", trial.heard()) };
    assert_eq!(taken.came, Came::Said { from: at("top left") });
}

#[test]
fn the_gap_where_the_head_still_stands_is_not_judged_as_that_of_the_next_station() {
    let mut trial = taken_once();
    trial.read(SEATED, 3_000);
    let view = trial.view();
    assert_eq!(view.place.as_ref().and_then(|place| place.place.name()), Some("top"));
    assert_eq!(view.still_at(), Some("top left"));
    assert!(view.live.gap.good().is_some() && view.live.verdict.is_none(), "{view:?}");
    let says = view.live.says.text(Style::default());
    assert_eq!(says, "head still at top left: put it at top");
    trial.carry();
    trial.read(SEATED, 3_000);
    let view = trial.view();
    assert!(view.still_at().is_none() && view.live.verdict.is_some(), "{view:?}");
}

#[test]
fn without_a_head_nothing_is_offered_to_be_taken_and_nobody_says_where_it_is() {
    let takes = |trial: &Trial| {
        let words = trial.view().words;
        words.iter().any(|offer| matches!(offer.word, Word::Take | Word::Redo | Word::More))
    };
    let mut trial = taken_once();
    assert!(takes(&trial) && trial.view().still_at().is_some());
    trial.on(Input::Head(Told::Lost(Trouble::Unplugged { port: "port".to_owned() })));
    assert!(!takes(&trial) && trial.view().still_at().is_none());
}

#[test]
fn before_the_first_take_nothing_is_close_to_any_limit() {
    let line = |trial: &Trial| trial.view().whole.unwrap().line().text(Style::default());
    let said = line(&seated());
    assert!(
        said.contains(" nothing taken yet: take top left, ") && !said.contains("close"),
        "{said}"
    );
    let said = line(&taken_once());
    assert!(said.contains("too close to call: ") && !said.contains("nothing taken"), "{said}");
}

#[test]
fn another_run_goes_on_from_where_the_head_was_last() {
    let stood = |name: &str| Trial::begun(|begin| Begin { stood: Some(at(name)), ..begin });
    let mut trial = stood("bottom");
    trial.read(SEATED, 3_000);
    assert!(trial.say(Word::Take).is_empty());
    assert!(trial.heard().contains("since bottom: is it at top left?"));
    // Where it was last known to be it may be taken.
    let mut trial = stood("top left");
    trial.read(SEATED, 3_000);
    assert_eq!(trial.say(Word::Take)[0].came, Came::Same);
}

#[test]
fn a_head_pushed_along_the_edge_is_asked_about() {
    let mut trial = taken_once();
    trial.read(SEATED, 1_000);
    trial.level_deg = 0.4;
    trial.read(SEATED, 4_000);
    trial.say(Word::Go(Stop::Station(1)));
    trial.read(SEATED, 2_000);
    trial.heard();
    assert!(trial.say(Word::Take).is_empty());
    let heard = trial.heard();
    assert!(
        heard.contains(
            "The head moved since top left, but was not lifted off the board: is it at top?"
        ),
        "{heard}"
    );
}

#[test]
fn a_question_waits_until_there_is_something_to_take() {
    let mut trial = taken_once();
    trial.read(SEATED, 1_000);
    trial.in_hand = true;
    trial.read(OFF, 100);
    assert!(trial.say(Word::Take).is_empty());
    assert!(trial.question().is_none() && trial.heard().contains("NOT taken"));
}

#[test]
fn the_emitters_tilt_needs_a_head_that_left_the_board_and_stands_still() {
    let mut trial = taken_once();
    let taken = |trial: &Trial| trial.takes.stations().emitter().1.is_some();
    trial.say(Word::Go(Stop::Emitter));
    trial.read(SEATED, 1_000);
    trial.say(Word::Take);
    assert!(!taken(&trial) && trial.heard().contains("still stands at the board"));
    // However often.
    trial.read(SEATED, 1_000);
    trial.say(Word::Take);
    assert!(!taken(&trial) && trial.question().is_none());
    // In the hand it does not rest.
    trial.in_hand = true;
    trial.read(OFF, 1_000);
    trial.say(Word::Take);
    assert!(!taken(&trial) && trial.heard().contains("Hold it still"));
    // Back on the board without having been there.
    trial.in_hand = false;
    trial.read(SEATED, 2_000);
    trial.say(Word::Take);
    assert!(!taken(&trial) && trial.heard().contains("the head is not on the emitter"));
    // Whoever presses again and again means a station.
    for _ in 0..3 {
        trial.read(SEATED, 1_000);
        trial.say(Word::Take);
        trial.button(Press::Short);
    }
    assert!(!taken(&trial));
    trial.say(Word::Unknown);
    // There.
    trial.read(OFF, 2_000);
    trial.say(Word::Take);
    assert!(taken(&trial), "{}", trial.heard());
    // And from there to a station it must come back.
    trial.say(Word::Go(Stop::Station(1)));
    trial.read(OFF, 1_000);
    assert!(trial.say(Word::Take).is_empty());
    trial.read(SEATED, 2_000);
    assert_eq!(trial.say(Word::Take)[0].came, Came::Seen);
}

#[test]
fn an_emitter_that_carries_the_spot_is_said_to_with_a_word_of_its_own() {
    let mut trial = taken_once();
    trial.say(Word::Go(Stop::Emitter));
    trial.carry();
    trial.say(Word::Take);
    trial.read(SEATED, 1_000);
    trial.say(Word::Go(Stop::Emitter));
    assert!(trial.takes.stations().emitter().1.is_some(), "{}", trial.heard());
    // Without the question before it the word only leads there.
    let mut trial = taken_once();
    trial.carry();
    trial.say(Word::Go(Stop::Emitter));
    trial.read(SEATED, 1_000);
    trial.say(Word::Go(Stop::Emitter));
    assert!(trial.takes.stations().emitter().1.is_none());
}

#[test]
fn a_take_is_kept_only_of_a_head_that_says_who_it_is() {
    let mut trial = seated();
    let effects = trial.on(Input::Said(Said::by(Speaker::Typed, Word::Take)));
    assert!(matches!(effects[..], [Output::Ask(Request::Greet)]), "{effects:?}");
    assert_eq!(saving(&trial), Some("top left".to_owned()));
    // Another one answers: the link says so, and nothing is kept.
    let (found, wanted) = (SerialNumber([2; 16]), SERIAL);
    let why = Refused::OtherHead { found: Some(found), wanted };
    let outputs = trial.on(Input::Head(Told::Head(Event::Refused(why.clone()))));
    assert!(outputs.is_empty());
    let trouble = Trouble::Refused { port: "port".to_owned(), why };
    let outputs = trial.on(Input::Head(Told::Lost(trouble)));
    assert!(outputs.iter().all(|output| matches!(output, Output::Tell(_))), "{outputs:?}");
    let heard = trial.heard();
    assert!(
        heard.contains("NOT taken")
            && heard.contains(&found.to_string())
            && heard.contains(&wanted.to_string())
    );
    assert_eq!((saving(&trial), trial.takes.stations().taken()), (None, 0));
}

#[test]
fn a_head_that_never_says_who_it_is_is_not_taken_and_nothing_hangs() {
    let mut trial = seated();
    let now = trial.now();
    trial.on(Input::Said(Said::by(Speaker::Typed, Word::Take)));
    let mut asked = 0;
    for tenth in 1..40 {
        let outputs = trial.takes.on(now + Duration::from_millis(100 * tenth), Input::Tick);
        asked += outputs.iter().filter(|out| is_greeting(out)).count();
        trial.tell(&outputs);
    }
    assert!((4..8).contains(&asked), "{asked}");
    assert!(trial.heard().contains("NOT taken: the head did not say who it is"));
    assert_eq!(saving(&trial), None);
}

#[test]
fn the_job_says_which_head() {
    let text = |serial: &str| {
        format!("{}\n[head]\nserial = \"{serial}\"\n", skimgauge_jobfile::demo_job())
    };
    let job = |serial: &str| Job::parse("demo.toml", &text(serial)).unwrap();
    let mut right = Trial::of(job(&SERIAL.to_string().to_lowercase()));
    right.read(SEATED, 3_000);
    assert_eq!(right.say(Word::Take).len(), 1);
    let mut wrong = Trial::of(job("SG-0007"));
    let outputs = wrong.on(Input::Head(Told::Head(Event::Up(head()))));
    let [Output::End(Some(trouble))] = &outputs[..] else { panic!("{outputs:?}") };
    let said = trouble.to_string();
    assert!(said.contains("SG-0007") && said.contains(&SERIAL.to_string()), "{said}");
    wrong.read(SEATED, 3_000);
    assert!(wrong.say(Word::Take).is_empty());
}

#[test]
fn a_recording_says_that_it_is_at_its_end() {
    let mut trial = taken_once();
    trial.heard();
    let outputs = trial.on(Input::Head(Told::End));
    assert!(matches!(outputs.last(), Some(Output::End(None))));
    assert!(trial.heard().contains("The recording is at its end."));
}
