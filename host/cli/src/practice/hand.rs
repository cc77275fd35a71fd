//! A hand at the simulated head, led by words: how others try what a person at the board would do,
//! or should not.

use skimgauge_bench::Fault;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head::{Attitude, Place};
use skimgauge_jobfile::Job;
use skimgauge_system::input;
use std::io::{BufRead, Write};
use std::time::Duration;

/// The words, for whoever says another.
pub const KNOWN: &str =
    "lift, to STATION, to emitter, press, hold, knock, light off, light on, turn ADJUSTER TURNS";

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
/// More turns at once are a slip of the keyboard.
const MOST_TURNS: f64 = 20.0;

/// What a hand does.
#[derive(Debug, Clone, PartialEq)]
pub enum Word {
    /// Takes the head off.
    Lift,
    /// Takes the head off and clips it on at this station, by its place in the job.
    ToStation(usize),
    /// Takes the head off and holds it on the emitter.
    ToEmitter,
    /// Presses the head's button shortly.
    Press,
    /// Holds the head's button.
    Hold,
    /// Knocks the head where it is: it stands askew until it is lifted.
    Knock,
    /// Switches the emitter.
    Light(bool),
    /// Turns an adjuster, by its place in the job, clockwise.
    Turn(usize, f64),
}

impl Word {
    /// Reads a line.
    ///
    /// # Errors
    /// It is no word, or there is no such station or adjuster: in a sentence that says what there
    /// is.
    pub fn read(line: &str, job: &Job) -> Result<Self, String> {
        let line = line.trim();
        let (word, rest) = line
            .split_once(char::is_whitespace)
            .map_or((line, ""), |(word, rest)| (word, rest.trim()));
        Ok(match (word, rest) {
            ("lift", "") => Self::Lift,
            ("press", "") => Self::Press,
            ("hold", "") => Self::Hold,
            ("knock", "") => Self::Knock,
            ("light", "on") => Self::Light(true),
            ("light", "off") => Self::Light(false),
            ("to", "emitter") => Self::ToEmitter,
            ("to", place) if !place.is_empty() => {
                let numbered =
                    place.parse().ok().filter(|number| (1..=job.stations.len()).contains(number));
                let named = || {
                    job.stations.iter().position(|station| station.name.eq_ignore_ascii_case(place))
                };
                match numbered.map(|number: usize| number - 1).or_else(named) {
                    Some(station) => Self::ToStation(station),
                    None => {
                        let names: Vec<&str> =
                            job.stations.iter().map(|station| station.name.as_str()).collect();
                        return Err(format!(
                            "There is no station \"{place}\". There are {}, emitter.",
                            names.join(", ")
                        ));
                    }
                }
            }
            ("turn", rest) if !rest.is_empty() => {
                let (name, turns) = rest.rsplit_once(char::is_whitespace).unwrap_or((rest, ""));
                let adjuster =
                    job.adjusters.iter().position(|one| one.name.eq_ignore_ascii_case(name.trim()));
                let turns = turns.parse::<f64>().ok().filter(|turns| turns.abs() <= MOST_TURNS);
                match (adjuster, turns) {
                    (Some(adjuster), Some(turns)) => Self::Turn(adjuster, turns),
                    (None, _) => {
                        let names: Vec<&str> =
                            job.adjusters.iter().map(|one| one.name.as_str()).collect();
                        return Err(format!(
                            "There is no adjuster \"{name}\". There are {}.",
                            names.join(", ")
                        ));
                    }
                    (Some(_), None) => {
                        return Err(format!(
                            "How far? Such as turn {name} -0.25: turns, clockwise positive, {MOST_TURNS:.0} at most."
                        ));
                    }
                }
            }
            _ => return Err(format!("\"{line}\" is not known here. Known are {KNOWN}.")),
        })
    }
}

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
                scene.roll_to_light(0.05);
            });
            format!("at {}", station.name)
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

    #[test]
    fn words_are_read_and_others_answered_with_what_is_known() {
        let job = job();
        for (line, word) in [
            (" lift ", Word::Lift),
            ("to top left", Word::ToStation(0)),
            ("to 2", Word::ToStation(1)),
            ("to EMITTER".to_lowercase().as_str(), Word::ToEmitter),
            ("press", Word::Press),
            ("hold", Word::Hold),
            ("knock", Word::Knock),
            ("light off", Word::Light(false)),
            ("light  on", Word::Light(true)),
            ("turn upper -0.25", Word::Turn(2, -0.25)),
        ] {
            assert_eq!(Word::read(line, &job), Ok(word), "{line}");
        }
        for (line, says) in [
            ("jump", "Known are lift, to STATION"),
            ("lift it", "Known are"),
            ("light", "Known are"),
            ("to", "Known are"),
            ("to moon", "There is no station \"moon\". There are top left"),
            ("turn", "Known are"),
            ("turn top 1", "There is no adjuster \"top\". There are left, right, upper."),
            ("turn left", "How far?"),
            ("turn left x", "How far?"),
            ("turn left 1e9", "How far?"),
            ("turn left nan", "How far?"),
        ] {
            let why = Word::read(line, &job).unwrap_err();
            assert!(why.contains(says), "{line}: {why}");
        }
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
            assert!(bench.truth().gap_mm.is_some());
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
}
