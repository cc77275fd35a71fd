//! Verdicts from bare values, and a walk on a clock that the test moves.

use super::wiring::{PINS, POINTS, WIRES};
use super::{Begin, Birth, Certificate, Check, Found, Step, judge};
use crate::input::Input;
use crate::output::{News, Output};
use crate::trial::{SEATED, TODAY, Trial};
use crate::view::{Part, State};
use crate::word::Word;
use skimgauge_quantity::Style;
use skimgauge_session::{Event, Told};
use skimgauge_shared::message::Press;
use skimgauge_shared::units::Microseconds;

fn walk(left_out: &[(Step, &str)]) -> Trial<Birth> {
    let left_out = left_out.iter().map(|(step, why)| (*step, (*why).to_owned())).collect();
    Trial::at(Birth::new(Begin { port: "port".to_owned(), today: TODAY, left_out }))
}

/// Everything left out but these.
fn but(made: &[Step]) -> Trial<Birth> {
    let left: Vec<(Step, &str)> = Step::ALL[1..]
        .iter()
        .filter(|step| !made.contains(step))
        .map(|step| (*step, "not here"))
        .collect();
    walk(&left)
}

fn step(trial: &Trial<Birth>) -> Option<&'static str> {
    let Part::Birth(part) = trial.view().part else { panic!("no walk") };
    part.now.map(|now| part.steps[now].key)
}

fn verdict(certificate: &Certificate, name: &str) -> Option<Found> {
    certificate.check(name).map(|check| check.verdict)
}

/// Past the parts, whose scans this head without an eye never sends.
fn past_parts(trial: &mut Trial<Birth>) {
    assert_eq!(step(trial), Some("parts"));
    trial.read(SEATED, 8_000);
    assert_ne!(step(trial), Some("parts"));
}

/// Left side down by the table of signs: level falls where the left side is lifted, lean where the
/// top goes back (`hardware/assembly/6-first-start.md`).
#[test]
fn each_sign_and_each_swap_has_its_own_word() {
    let wire = |axis, moved| {
        let check: Check = judge::sign(axis, moved).unwrap();
        check.wire.map_or("", |wire| wire.says)
    };
    for axis in [0, 1] {
        let moved =
            |along: f64, across: f64| if axis == 0 { [along, across] } else { [across, along] };
        assert_eq!(wire(axis, moved(-8.0, 0.5)), "");
        let reversed = wire(axis, moved(8.0, -0.5));
        assert!(reversed.contains(["points left", "points out of the board"][axis]), "{reversed}");
        for across in [8.0, -8.0] {
            assert!(wire(axis, moved(0.5, across)).contains("swapped"));
        }
        // Nothing is said of what did not move, or moved both ways.
        assert!(judge::sign(axis, moved(-2.0, 1.0)).is_err());
        assert!(judge::sign(axis, moved(-8.0, 7.0)).is_err());
    }
}

#[test]
fn values_are_held_against_their_limits_and_no_number_holds() {
    use super::limits::{DARK, STAND_OFF, STAND_OFF_NOISE, SUPPLY};
    for (limit, good, bad) in [
        (SUPPLY, 5.0, 4.2),
        (SUPPLY, 4.5, 5.51),
        (STAND_OFF, 33.4, 29.5),
        (STAND_OFF_NOISE, 0.01, 0.031),
        (DARK, 0.1, 0.41),
    ] {
        assert!(limit.holds(good) && !limit.holds(bad) && !limit.holds(f64::NAN));
        let text = limit.say().text(Style::default());
        assert!(!text.is_empty() && !limit.from.is_empty());
    }
}

#[test]
fn every_fault_of_the_wiring_names_a_part_and_only_known_pins_and_points() {
    for wire in WIRES {
        assert!(!wire.parts.is_empty() && wire.says.ends_with('.'), "{}", wire.says);
        for pin in wire.pins {
            assert!(PINS.iter().any(|(known, ..)| known == pin), "{pin}");
            assert!(wire.look().contains(&format!("{pin} (GPIO ")), "{}", wire.look());
        }
        for point in wire.points {
            assert!(POINTS.iter().any(|(known, _)| known == point), "{point}");
            assert!(wire.look().contains(&format!("{point} to TP3: ")), "{}", wire.look());
        }
    }
}

/// Of several the gravest counts: a fault hides what was not seen.
#[test]
fn a_fault_is_graver_than_what_was_not_seen() {
    use Found::{AsItShouldBe, Fault, NotSeen};
    assert_eq!(Found::of_all([AsItShouldBe, AsItShouldBe]), AsItShouldBe);
    assert_eq!(Found::of_all([AsItShouldBe, NotSeen]), NotSeen);
    assert_eq!(Found::of_all([NotSeen, Fault, AsItShouldBe]), Fault);
    assert_eq!(Found::of_all([]), NotSeen, "nothing was looked at");
}

#[test]
fn an_eye_that_sends_no_scan_is_at_fault_and_its_steps_are_not_asked_for() {
    let mut trial = but(&[Step::Dark, Step::Light, Step::Card]);
    past_parts(&mut trial);
    assert!(trial.is_over());
    let certificate = trial.takes.certificate();
    assert_eq!(verdict(&certificate, "eye"), Some(Found::Fault));
    let dark = certificate.check("dark").unwrap();
    assert_eq!(dark.says.text(Style::default()), "the eye is at fault: see there");
    for part in ["memory", "converter", "inclinometer", "supply", "zero"] {
        assert_eq!(verdict(&certificate, part), Some(Found::AsItShouldBe), "{part}");
    }
}

#[test]
fn a_tilt_that_is_held_is_judged_without_a_word_and_back_makes_it_anew() {
    let mut trial = but(&[Step::Rest, Step::Left]);
    past_parts(&mut trial);
    trial.say(Word::Ready);
    trial.read(SEATED, 3_000);
    assert_eq!(step(&trial), Some("left"));
    // The right side up by mistake: level rises.
    trial.level_deg = 8.0;
    trial.read(SEATED, 1_500);
    assert!(trial.is_over());
    assert_eq!(verdict(&trial.takes.certificate(), "level's sign"), Some(Found::Fault));

    let mut trial = but(&[Step::Rest, Step::Left, Step::Button]);
    past_parts(&mut trial);
    trial.say(Word::Ready);
    trial.read(SEATED, 3_000);
    trial.level_deg = 8.0;
    trial.read(SEATED, 1_500);
    assert!(trial.heard().contains("FAULT level's sign"));
    assert_eq!(step(&trial), Some("button"));
    trial.level_deg = 0.0;
    trial.say(Word::Back);
    assert_eq!(step(&trial), Some("left"));
    trial.level_deg = -8.0;
    trial.read(SEATED, 1_500);
    assert_eq!(step(&trial), Some("button"));
    let certificate = trial.takes.certificate();
    assert_eq!(verdict(&certificate, "level's sign"), Some(Found::AsItShouldBe));
    let signs = certificate.checks.iter().filter(|check| check.check == "level's sign");
    assert_eq!(signs.count(), 1);
}

#[test]
fn a_head_in_the_hand_is_not_judged() {
    let mut trial = but(&[Step::Rest, Step::Left]);
    past_parts(&mut trial);
    trial.say(Word::Ready);
    trial.read(SEATED, 3_000);
    // It sways through the very angles that count.
    for tenth in 0..30 {
        trial.level_deg = if tenth % 2 == 0 { -9.0 } else { -2.0 };
        trial.read(SEATED, 100);
    }
    assert_eq!(step(&trial), Some("left"));
    trial.level_deg = 0.0;
    trial.read(SEATED, 1_000);
    trial.say(Word::Ready);
    assert!(trial.heard().contains("Neither level nor lean moved"));
    assert_eq!(step(&trial), Some("left"));
}

#[test]
fn the_button_is_heard_or_said_to_be_silent_and_lamp_and_buzzer_are_asked_of_the_person() {
    let mut trial = but(&[Step::Button, Step::Lamp, Step::Buzzer]);
    past_parts(&mut trial);
    let pressed = |press| Input::Head(Told::Head(Event::Button(press, Microseconds(1))));
    let outputs = trial.on(pressed(Press::Long));
    trial.follow(outputs);
    assert!(trial.heard().contains("Let go of it"));
    assert_eq!(step(&trial), Some("button"));
    let outputs = trial.on(pressed(Press::Short));
    let asks = |output: &Output| matches!(output, Output::Ask(request) if format!("{request:?}").contains("Identify"));
    assert!(outputs.iter().any(asks), "the lamp shows itself: {outputs:?}");
    assert_eq!((step(&trial), trial.view().state), (Some("lamp"), State::Asked));
    // A button pressed meanwhile, or any other word, answers nothing.
    trial.on(pressed(Press::Short));
    trial.say(Word::Ready);
    assert_eq!(step(&trial), Some("lamp"));
    trial.read(SEATED, 1_000);
    trial.say(Word::Yes);
    trial.read(SEATED, 1_000);
    trial.say(Word::No);
    assert!(trial.is_over());
    let certificate = trial.takes.certificate();
    assert_eq!(verdict(&certificate, "button"), Some(Found::AsItShouldBe));
    assert_eq!(verdict(&certificate, "lamp"), Some(Found::AsItShouldBe));
    assert_eq!(verdict(&certificate, "buzzer"), Some(Found::Fault));
}

#[test]
fn a_restart_during_the_walk_is_a_fault_of_the_supply() {
    let mut trial = but(&[Step::Rest]);
    past_parts(&mut trial);
    trial.on(Input::Head(Told::Head(Event::ClockJumped)));
    let certificate = trial.takes.certificate();
    let check = certificate.check("stays up").unwrap();
    assert_eq!((check.verdict, check.value), (Found::Fault, Some(1.0)));
    assert!(check.wire.unwrap().look().contains("TP1 to TP3: 4.5 to 5.5 V"));
}

#[test]
fn nobody_there_leaves_out_what_wants_a_hand_and_an_end_before_the_end_is_said() {
    let mut trial = but(&[Step::Rest, Step::Button]);
    trial.on(Input::Unattended);
    trial.read(SEATED, 9_000);
    assert!(trial.is_over());
    let rest = trial.takes.certificate().check("tilt at rest").unwrap().says.clone();
    assert_eq!(rest.text(Style::default()), "nobody was there to do it");

    let mut trial = but(&[Step::Rest]);
    past_parts(&mut trial);
    let ended = trial.on(Input::Said(crate::Said::by(crate::Speaker::Typed, Word::Quit)));
    assert!(matches!(ended[..], [Output::End(None)]));
    assert!(!trial.takes.is_over());
    let certificate = trial.takes.certificate();
    assert_eq!(verdict(&certificate, "tilt at rest"), Some(Found::NotSeen));
    for name in Step::ALL.iter().flat_map(|step| step.checks()) {
        assert!(certificate.check(name).is_some(), "{name}");
    }
}

#[test]
fn each_step_is_told_once() {
    let mut trial = walk(&[]);
    let mut steps = Vec::new();
    for _ in 0..80 {
        trial.read(SEATED, 100);
        let outputs = trial.on(Input::Tick);
        steps.extend(outputs.into_iter().filter_map(|output| match output {
            Output::Tell(News::Step(says)) => Some(says.text(Style::default())),
            _ => None,
        }));
    }
    assert!(steps.len() <= 1, "{steps:?}");
    assert_eq!(step(&trial), Some("rest"));
    let asks = trial.view().instruction.text(Style::default());
    assert!(asks.contains("as it hangs"), "{asks}");
}
