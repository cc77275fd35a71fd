//! The words that a hand at the simulated head obeys, and how they are read.

use skimgauge_bench::first_start;
use skimgauge_bench::room::gauge::Slits;
use skimgauge_bench::room::profile::Image;
use skimgauge_bench::wiring::{UnknownWiring, Wiring};
use skimgauge_jobfile::Job;

/// The words, for whoever says another.
pub const KNOWN: &str = "lift, to STATION, to RIGHT UP, to emitter, press, hold, knock, eye DEGREES, \
light off, light on, turn ADJUSTER TURNS, room VOLTS, flicker HZ, image bright|dark|off, \
gauge on|off, gauge LOW HIGH, slits low|high|both, lamp on|off, leaves MM, cover on|off, \
card on|off, upside-down on|off, end-for-end on|off, first-start STEP, miswire NAME, mend NAME";

/// More turns at once are a slip of the keyboard.
const MOST_TURNS: f64 = 20.0;
/// The swivel's range.
const MOST_DEGREES: f64 = 100.0;
/// Brighter than the sun on the eye, V in a millisecond.
const MOST_VOLTS: f64 = 100.0;
/// Faster than any lamp flickers.
const MOST_HZ: f64 = 1_000.0;
/// Higher than any gauge's slit or stack of leaves, mm.
const MOST_MM: f64 = 16.0;

/// What a hand does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Word {
    /// Takes the head off.
    Lift,
    /// Takes the head off, clips it on at this station, by its place in the job, and turns the eye
    /// to the emitter.
    ToStation(usize),
    /// Takes the head off, clips it on at this place of the image, mm, and turns the eye to the
    /// emitter.
    ToPlace(f64, f64),
    /// Takes the head off and holds it on the emitter.
    ToEmitter,
    /// Presses the head's button shortly.
    Press,
    /// Holds the head's button.
    Hold,
    /// Knocks the head where it is: it stands askew until it is lifted.
    Knock,
    /// Turns the eye: degrees from up, positive toward the right.
    Eye(f64),
    /// Switches the emitter.
    Light(bool),
    /// Turns an adjuster, by its place in the job, clockwise.
    Turn(usize, f64),
    /// The room's light: volts that it gives a pixel in a millisecond.
    Room(f64),
    /// How often a second it flickers; 0: not at all.
    Flicker(f64),
    /// The projected page.
    Image(Image),
    /// Stands the gauge before the eye, or takes it away.
    Gauge(bool),
    /// Stands a gauge before the eye whose slits are at other heights, mm.
    GaugeOf(f64, f64),
    /// Which of the gauge's slits are open.
    Slits(Slits),
    /// Switches the gauge's lamp; without it the emitter lights the slits.
    Lamp(bool),
    /// Stands the head on leaves of this height, mm; 0 takes them away.
    Leaves(f64),
    /// Puts a lid over the eye, or takes it off.
    Cover(bool),
    /// Holds a lit card before the eye, or takes it away.
    Card(bool),
    /// Turns the head upside down where it stands, or upright again.
    UpsideDown(bool),
    /// Does what this step of a first start asks for.
    FirstStart(&'static str),
    /// Builds the head with this wrong, or mends that.
    Miswire(Wiring, bool),
    /// Turns the head end for end where it stands, half a turn about the upright, or back.
    EndForEnd(bool),
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
        let unknown = || format!("\"{line}\" is not known here. Known are {KNOWN}.");
        match (word, rest) {
            ("to", place) if !place.is_empty() && place != "emitter" => {
                point(place, job).unwrap_or_else(|| station(place, job))
            }
            ("turn", rest) if !rest.is_empty() => adjuster(rest, job),
            ("first-start", rest) if !rest.is_empty() => first_start(rest),
            ("miswire" | "mend", rest) if !rest.is_empty() => wiring(rest, word == "miswire"),
            _ => plain(word, rest)
                .or_else(|| switch(word, rest))
                .map_or_else(|| measure(word, rest).unwrap_or_else(|| Err(unknown())), Ok),
        }
    }
}

/// Words that are whole.
fn plain(word: &str, rest: &str) -> Option<Word> {
    Some(match (word, rest) {
        ("lift", "") => Word::Lift,
        ("press", "") => Word::Press,
        ("hold", "") => Word::Hold,
        ("knock", "") => Word::Knock,
        ("to", "emitter") => Word::ToEmitter,
        ("image", "bright") => Word::Image(Image::Bright),
        ("image", "dark") => Word::Image(Image::Dark),
        ("image", "off") => Word::Image(Image::None),
        ("slits", "low") => Word::Slits(Slits::Low),
        ("slits", "high") => Word::Slits(Slits::High),
        ("slits", "both") => Word::Slits(Slits::Both),
        _ => return None,
    })
}

/// Words with `on` or `off`.
fn switch(word: &str, rest: &str) -> Option<Word> {
    let on = match rest {
        "on" => true,
        "off" => false,
        _ => return None,
    };
    Some(match word {
        "light" => Word::Light(on),
        "gauge" => Word::Gauge(on),
        "lamp" => Word::Lamp(on),
        "cover" => Word::Cover(on),
        "card" => Word::Card(on),
        "upside-down" => Word::UpsideDown(on),
        "end-for-end" => Word::EndForEnd(on),
        _ => return None,
    })
}

/// Words with numbers; `None`: no such word.
fn measure(word: &str, rest: &str) -> Option<Result<Word, String>> {
    let number = |text: &str| text.parse::<f64>().ok().filter(|value| value.is_finite());
    let within = |least: f64, most: f64, such: &str, make: fn(f64) -> Word| {
        let value = number(rest).filter(|value| (least..=most).contains(value));
        Some(value.map(make).ok_or_else(|| format!("{such}, {least} to {most}.")))
    };
    match word {
        _ if rest.is_empty() => None,
        "eye" => within(
            -MOST_DEGREES,
            MOST_DEGREES,
            "Where to? Such as eye -86: degrees from up, positive toward the right",
            Word::Eye,
        ),
        "room" => within(
            0.0,
            MOST_VOLTS,
            "How bright? Such as room 0.12: volts that a pixel gathers in a millisecond",
            Word::Room,
        ),
        "flicker" => within(
            0.0,
            MOST_HZ,
            "How often? Such as flicker 100: times a second, 0 for none",
            Word::Flicker,
        ),
        "leaves" => within(0.0, MOST_MM, "How high? Such as leaves 0.5: mm", Word::Leaves),
        "gauge" => {
            let heights = rest
                .split_once(char::is_whitespace)
                .and_then(|(low, high)| Some((number(low)?, number(high.trim())?)))
                .filter(|(low, high)| 0.0 < *low && low < high && *high < MOST_MM);
            let such = || {
                format!(
                    "Which? gauge on, gauge off, or such as gauge 3.01 9.02: the heights of its slits, mm, below {MOST_MM}."
                )
            };
            Some(heights.map(|(low, high)| Word::GaugeOf(low, high)).ok_or_else(such))
        }
        _ => None,
    }
}

fn first_start(step: &str) -> Result<Word, String> {
    let known = first_start::STEPS.iter().find(|known| **known == step);
    known.map(|step| Word::FirstStart(step)).ok_or_else(|| {
        format!(
            "No step of a first start is \"{step}\". There are {}.",
            first_start::STEPS.join(", ")
        )
    })
}

fn wiring(name: &str, wrong: bool) -> Result<Word, String> {
    name.parse()
        .map(|wiring| Word::Miswire(wiring, wrong))
        .map_err(|why: UnknownWiring| why.to_string())
}

/// A place that is no station: two numbers, or as a survey calls it, `790 left, 40 down`; `None`: it
/// is neither.
fn point(place: &str, job: &Job) -> Option<Result<Word, String>> {
    let number = |text: &str| text.trim().parse::<f64>().ok();
    let along = |said: &str, minus: &str, plus: &str| match said.trim().split_once(' ') {
        None if said.trim() == "middle" => Some(0.0),
        Some((length, way)) if way == minus => Some(-number(length)?),
        Some((length, way)) if way == plus => number(length),
        _ => None,
    };
    let (right, up) = match place.split_once(',') {
        Some((across, down)) => (along(across, "left", "right")?, along(down, "down", "up")?),
        None => {
            let (right, up) = place.split_once(char::is_whitespace)?;
            (number(right)?, number(up)?)
        }
    };
    let (half, high) = (job.image.width.0 / 2.0, job.image.height.0);
    // The last digit of a place that is read off a screen may lie beyond the edge.
    let within = right.abs() <= half + 0.5 && (-high - 0.5..=0.5).contains(&up);
    Some(within.then_some(Word::ToPlace(right, up)).ok_or_else(|| {
        format!(
            "The image has no such place: to -{half:.0} -{high:.0} up to {half:.0} 0, mm right of the middle of its top edge, and up."
        )
    }))
}

fn station(place: &str, job: &Job) -> Result<Word, String> {
    let numbered = place.parse().ok().filter(|number| (1..=job.stations.len()).contains(number));
    let named = || job.stations.iter().position(|station| station.name.eq_ignore_ascii_case(place));
    numbered.map(|number: usize| number - 1).or_else(named).map(Word::ToStation).ok_or_else(|| {
        let names: Vec<&str> = job.stations.iter().map(|station| station.name.as_str()).collect();
        format!("There is no station \"{place}\". There are {}, emitter.", names.join(", "))
    })
}

fn adjuster(rest: &str, job: &Job) -> Result<Word, String> {
    let (name, turns) = rest.rsplit_once(char::is_whitespace).unwrap_or((rest, ""));
    let adjuster = job.adjusters.iter().position(|one| one.name.eq_ignore_ascii_case(name.trim()));
    let turns = turns.parse::<f64>().ok().filter(|turns| turns.abs() <= MOST_TURNS);
    match (adjuster, turns) {
        (Some(adjuster), Some(turns)) => Ok(Word::Turn(adjuster, turns)),
        (None, _) => {
            let names: Vec<&str> = job.adjusters.iter().map(|one| one.name.as_str()).collect();
            Err(format!("There is no adjuster \"{name}\". There are {}.", names.join(", ")))
        }
        (Some(_), None) => Err(format!(
            "How far? Such as turn {name} -0.25: turns, clockwise positive, {MOST_TURNS:.0} at most."
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job() -> Job {
        Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap()
    }

    #[test]
    fn words_are_read() {
        let job = job();
        for (line, word) in [
            (" lift ", Word::Lift),
            ("to top left", Word::ToStation(0)),
            ("to 2", Word::ToStation(1)),
            ("to emitter", Word::ToEmitter),
            ("to -830.5  -700", Word::ToPlace(-830.5, -700.0)),
            ("to 790 left, 40 down", Word::ToPlace(-790.0, -40.0)),
            ("to middle, 467 down", Word::ToPlace(0.0, -467.0)),
            ("press", Word::Press),
            ("hold", Word::Hold),
            ("knock", Word::Knock),
            ("light off", Word::Light(false)),
            ("light  on", Word::Light(true)),
            ("turn upper -0.25", Word::Turn(2, -0.25)),
            ("eye -86", Word::Eye(-86.0)),
            ("room 0.12", Word::Room(0.12)),
            ("flicker 100", Word::Flicker(100.0)),
            ("image bright", Word::Image(Image::Bright)),
            ("image dark", Word::Image(Image::Dark)),
            ("gauge on", Word::Gauge(true)),
            ("gauge 3.01  9.02", Word::GaugeOf(3.01, 9.02)),
            ("slits both", Word::Slits(Slits::Both)),
            ("lamp off", Word::Lamp(false)),
            ("leaves 0.5", Word::Leaves(0.5)),
            ("cover on", Word::Cover(true)),
            ("card off", Word::Card(false)),
            ("upside-down on", Word::UpsideDown(true)),
            ("end-for-end on", Word::EndForEnd(true)),
            ("first-start left", Word::FirstStart("left")),
            ("miswire tilt-swapped", Word::Miswire(Wiring::TiltSwapped, true)),
            ("mend tilt-swapped", Word::Miswire(Wiring::TiltSwapped, false)),
        ] {
            assert_eq!(Word::read(line, &job), Ok(word), "{line}");
        }
    }

    #[test]
    fn others_are_answered_with_what_is_known() {
        let job = job();
        for (line, says) in [
            ("jump", "Known are lift, to STATION"),
            ("lift it", "Known are"),
            ("light", "Known are"),
            ("roll 1", "Known are"),
            ("slide 30", "Known are"),
            ("to", "Known are"),
            ("to 4000 0", "The image has no such place: to -1012 -1265 up to 1012 0"),
            ("to nan 0", "The image has no such place"),
            ("to moon", "There is no station \"moon\". There are top left"),
            ("turn", "Known are"),
            ("turn top 1", "There is no adjuster \"top\". There are left, right, upper."),
            ("turn left", "How far?"),
            ("first-start now", "There are rest, left, back"),
            ("miswire eye", "the names are tilt-swapped"),
            ("turn left x", "How far?"),
            ("turn left 1e9", "How far?"),
            ("turn left nan", "How far?"),
            ("eye", "Known are"),
            (
                "eye 120",
                "Where to? Such as eye -86: degrees from up, positive toward the right, -100 to 100.",
            ),
            ("eye nan", "Where to?"),
            ("room -1", "How bright?"),
            ("room inf", "How bright?"),
            ("flicker x", "How often?"),
            ("image blue", "Known are"),
            ("gauge 9 3", "Which? gauge on"),
            ("gauge 3", "Which?"),
            ("leaves 99", "How high?"),
        ] {
            let why = Word::read(line, &job).unwrap_err();
            assert!(why.contains(says), "{line}: {why}");
        }
    }
}
