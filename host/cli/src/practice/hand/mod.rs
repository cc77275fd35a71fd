//! A hand at the simulated head, led by words: how others try what a person at the board would do,
//! or should not.

mod word;

use skimgauge_bench::Fault;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::first_start;
use skimgauge_bench::head::{Attitude, Place};
use skimgauge_bench::room::gauge::Gauge;
use skimgauge_bench::scene::Scene;
use skimgauge_jobfile::Job;
use skimgauge_system::input;
use std::io::{BufRead, Write};
use std::time::Duration;
pub use word::{KNOWN, Word};

/// On its way from place to place the head is in the hand for so long.
const IN_HAND_US: u64 = 500_000;
const PRESS_US: u64 = 80_000;
/// Longer than a long press.
const HOLD_US: u64 = 1_300_000;
/// The finger is off the button for so long.
const BETWEEN_US: u64 = 40_000;
/// A hand turns so far at once, and so often.
const TWIST_TURNS: f64 = 1.0 / 12.0;
const TWIST_US: u64 = 60_000;
/// A hand misses the emitter by so much when it turns the eye, degrees.
const POINTED_DEG: f64 = 4.0;
/// How deep light that flickers does.
const FLICKER: f64 = 0.5;
/// A lit card and the gauge's lamp, V in a millisecond.
const CARD_V: f64 = 1.0;
const LAMP_V: f64 = 1.0;

/// Does what a word says, in the bench's own time; what was done, in a few words. `wait` lets so
/// much of that time pass, us.
pub fn obey(word: &Word, bench: &Bench, job: &Job, wait: &dyn Fn(u64)) -> String {
    let lift = || {
        bench.set_fault(Fault::Knocked, false);
        bench.scene(|scene| scene.put(Place::Hand, Attitude::Upright));
        wait(IN_HAND_US);
    };
    let press = |time_us: u64| {
        bench.press_button(true);
        wait(time_us);
        bench.press_button(false);
        wait(BETWEEN_US);
    };
    match *word {
        Word::Lift => {
            lift();
            "in the hand".to_owned()
        }
        Word::ToStation(station) => {
            lift();
            let Some(station) = job.stations.get(station) else {
                return "no such station".to_owned();
            };
            bench.scene(|scene| {
                scene.clip(station.at.x.0, station.at.y.0);
                scene.turn_eye_to_emitter(POINTED_DEG);
            });
            format!("at {}", station.name)
        }
        Word::ToPlace(x_mm, y_mm) => {
            lift();
            bench.scene(|scene| {
                scene.clip(x_mm, y_mm);
                scene.turn_eye_to_emitter(POINTED_DEG);
            });
            format!("at {x_mm} {y_mm}")
        }
        Word::ToEmitter => {
            lift();
            bench.scene(|scene| scene.put(Place::Emitter, Attitude::Upright));
            "on the emitter".to_owned()
        }
        Word::Press => {
            press(PRESS_US);
            "pressed".to_owned()
        }
        Word::Hold => {
            press(HOLD_US);
            "held".to_owned()
        }
        Word::Knock => {
            bench.set_fault(Fault::Knocked, true);
            "knocked".to_owned()
        }
        Word::Light(on) => {
            bench.scene(|scene| scene.room.emitter.on = on);
            format!("the emitter is {}", if on { "on" } else { "off" })
        }
        Word::Turn(adjuster, turns) => turn(bench, job, adjuster, turns, wait),
        Word::FirstStart(step) => {
            first_start::set_up(bench, step);
            format!("{step}: as asked")
        }
        Word::Miswire(wiring, wrong) => {
            bench.set_wiring(wiring, wrong);
            format!("{wiring}: {}", if wrong { "wired wrong" } else { "as it should be" })
        }
        there => bench.scene(|scene| arrange(there, scene)),
    }
}

/// What happens at once: light, gauge, eye.
fn arrange(word: Word, scene: &mut Scene) -> String {
    let which = |on: bool, yes: &str, no: &str| (if on { yes } else { no }).to_owned();
    let mut gauge = scene.gauge().unwrap_or_default();
    match word {
        Word::Eye(degrees) => {
            scene.turn_eye(degrees);
            format!("the eye at {} degrees", scene.eye_deg())
        }
        Word::Room(volts) => {
            scene.light.volts_per_ms = volts;
            format!("room light of {volts} V in a millisecond")
        }
        Word::Flicker(hz) => {
            scene.light.flicker_hz = hz;
            scene.light.flicker = FLICKER;
            if hz > 0.0 { format!("flickering {hz} times a second") } else { "steady".to_owned() }
        }
        Word::Image(image) => {
            scene.image = image;
            format!("the image is {image:?}").to_lowercase()
        }
        Word::Gauge(on) => {
            scene.set_gauge(on.then_some(gauge));
            which(on, "the gauge before the eye", "no gauge")
        }
        Word::GaugeOf(low_mm, high_mm) => {
            scene.set_gauge(Some(Gauge { low_mm, high_mm, ..gauge }));
            format!("a gauge of {low_mm} and {high_mm} mm before the eye")
        }
        Word::Slits(open) => {
            gauge.open = open;
            scene.set_gauge(Some(gauge));
            format!("slits open: {open:?}").to_lowercase()
        }
        Word::Lamp(on) => {
            gauge.lamp_v = on.then_some(LAMP_V);
            scene.set_gauge(Some(gauge));
            which(on, "the gauge's lamp is on", "the emitter lights the gauge")
        }
        Word::Leaves(mm) => {
            scene.lift_mm = mm;
            format!("on {mm} mm of leaves")
        }
        Word::Cover(on) => {
            scene.eye_covered = on;
            which(on, "the eye is covered", "the eye is open")
        }
        Word::Card(on) => {
            scene.card = on.then_some(CARD_V);
            which(on, "a lit card before the eye", "no card")
        }
        Word::UpsideDown(on) => {
            scene.turn_head(if on { Attitude::UpsideDown } else { Attitude::Upright });
            which(on, "upside down", "upright")
        }
        Word::EndForEnd(on) => {
            scene.turn_head(if on { Attitude::Reversed } else { Attitude::Upright });
            which(on, "turned end for end", "as it is used")
        }
        _ => String::new(),
    }
}

fn turn(bench: &Bench, job: &Job, adjuster: usize, turns: f64, wait: &dyn Fn(u64)) -> String {
    let mut left = turns;
    let mut made_turns = 0.0;
    let mut at_stop = false;
    while left != 0.0 && !at_stop {
        let twist = left.clamp(-TWIST_TURNS, TWIST_TURNS);
        left -= twist;
        let turned = bench.scene(|scene| scene.room.turn(adjuster, twist));
        made_turns += turned.made_turns;
        at_stop = turned.at_stop;
        wait(TWIST_US);
    }
    let name = job.adjusters.get(adjuster).map_or("", |adjuster| &adjuster.name);
    format!(
        "{name} turned by {made_turns:+.3}{}",
        if at_stop { ", at the end of its travel" } else { "" }
    )
}

/// Obeys line after line until there are no more, and answers each.
pub fn listen(lines: impl BufRead, mut out: impl Write, bench: &Bench, job: &Job) {
    let wait = |us: u64| {
        let until_us = bench.now_us() + us;
        while bench.now_us() < until_us {
            std::thread::sleep(Duration::from_millis(2));
        }
    };
    for line in input::lines(lines).filter(|line| !line.trim().is_empty()) {
        let answer =
            Word::read(&line, job).map_or_else(|why| why, |word| obey(&word, bench, job, &wait));
        // Who says words need not read the answers.
        let _ = writeln!(out, "{answer}").and_then(|()| out.flush());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::RefCell;

    fn job() -> Job {
        Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap()
    }

    /// Every word on a bench whose clock the test moves: where the head is, and whether it was in
    /// the hand long enough.
    #[test]
    fn the_head_goes_where_it_is_sent_by_way_of_the_hand() {
        let (job, bench) = (job(), Bench::new(3));
        let in_hand_us = RefCell::new(0);
        let wait = |us: u64| {
            if bench.scene(|scene| scene.place()) == Place::Hand {
                *in_hand_us.borrow_mut() += us;
            }
            bench.advance_to(bench.now_us() + us);
        };
        let place = || bench.scene(|scene| scene.place());
        for (station, at) in job.stations.iter().enumerate() {
            in_hand_us.replace(0);
            let word = Word::read(&format!("to {}", at.name), &job).unwrap();
            assert_eq!(obey(&word, &bench, &job, &wait), format!("at {}", at.name));
            assert_eq!(place(), Place::Board { x_mm: at.at.x.0, y_mm: at.at.y.0 }, "{station}");
            assert!(
                *in_hand_us.borrow() >= 300_000,
                "off the board for {} us",
                in_hand_us.borrow()
            );
            let truth = bench.truth();
            assert!(truth.gap_mm.is_some() && truth.away_deg.abs() < 5.0, "{truth:?}");
        }
        assert_eq!(obey(&Word::ToEmitter, &bench, &job, &wait), "on the emitter");
        assert_eq!(place(), Place::Emitter);
        obey(&Word::Light(false), &bench, &job, &wait);
        obey(&Word::ToStation(0), &bench, &job, &wait);
        assert_eq!(bench.truth().gap_mm, None);
        obey(&Word::Light(true), &bench, &job, &wait);
        let before_mm = bench.truth().gap_mm.unwrap();
        assert_eq!(obey(&Word::Turn(2, 0.2), &bench, &job, &wait), "upper turned by +0.200");
        assert!((bench.truth().gap_mm.unwrap() - before_mm).abs() > 0.05);
        obey(&Word::Knock, &bench, &job, &wait);
        assert!(bench.scene(|scene| scene.has(Fault::Knocked)));
        obey(&Word::Lift, &bench, &job, &wait);
        assert!(
            !bench.scene(|scene| scene.has(Fault::Knocked)),
            "seated anew it stands as it should"
        );
    }

    /// What a session at the head needs to be tried in any room, and on the gauge.
    #[test]
    fn light_eye_and_gauge_are_as_they_are_told() {
        let (job, bench) = (job(), Bench::new(3));
        let wait = |us: u64| bench.advance_to(bench.now_us() + us);
        let say = |line: &str| obey(&Word::read(line, &job).unwrap(), &bench, &job, &wait);
        assert_eq!(say("room 0.12"), "room light of 0.12 V in a millisecond");
        assert_eq!(say("flicker 100"), "flickering 100 times a second");
        assert_eq!(say("image bright"), "the image is bright");
        bench.scene(|scene| {
            assert_eq!((scene.light.volts_per_ms, scene.light.flicker_hz), (0.12, 100.0));
        });
        say("to top left");
        let facing_deg = bench.truth().away_deg;
        assert_eq!(say("eye 0"), "the eye at 0 degrees");
        assert!((bench.truth().away_deg - facing_deg).abs() > 80.0);
        assert_eq!(say("flicker 0"), "steady");
        assert_eq!(say("gauge on"), "the gauge before the eye");
        assert_eq!(bench.truth().gap_mm, Some(3.0));
        say("slits high");
        assert_eq!(bench.truth().gap_mm, Some(9.0));
        say("gauge 3.01 9.02");
        assert_eq!(bench.truth().gap_mm, Some(9.02));
        let before_mm = bench.truth().standoff_mm.unwrap();
        assert_eq!(say("leaves 0.5"), "on 0.5 mm of leaves");
        assert!((bench.truth().standoff_mm.unwrap() - before_mm - 0.5).abs() < 1e-9);
        assert_eq!(bench.truth().gap_mm, Some(9.02));
        say("gauge off");
        say("cover on");
        assert_eq!(bench.truth().gap_mm, None);
        say("cover off");
        say("card on");
        assert_eq!(bench.truth().gap_mm, None);
        say("upside-down on");
        assert_eq!(bench.scene(|scene| scene.attitude()), Attitude::UpsideDown);
    }
}
