//! Practice: the user turns the simulated adjusters with keys and watches the gap answer.

use super::Person;
use crate::console::screen::cut;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head;
use skimgauge_model::Adjuster;
use skimgauge_procedure::view::{Part, PlaceView};
use skimgauge_procedure::{Stop, View, Word};
use std::cmp::Ordering;
use std::time::Duration;

/// One press of a key turns an adjuster so far, turns: as little as a hand does.
const TOUCH: f64 = 1.0 / 72.0;
/// Held, it turns faster: from so many repeats on, by so much each.
const HELD: [(u32, f64); 2] = [(15, 1.0 / 12.0), (3, 1.0 / 24.0)];
/// A key that comes again sooner than this is held.
const REPEATS_WITHIN: Duration = Duration::from_millis(250);
/// One press of its capital letter turns it so far.
const HALF_TURN: f64 = 0.5;
/// One press of a key turns the eye's pointer so far, degrees.
const POINT_DEG: f64 = 5.0;
/// A key that switches something does so no more often.
const APART: Duration = Duration::from_millis(700);
/// The head is in the hand for so long.
const IN_HAND: Duration = Duration::from_millis(500);
/// Another adjuster than the one told is turned so far before a word is said.
const ANOTHER: f64 = 0.15;

/// Keys of an adjuster, clockwise and anticlockwise: they lie on the keyboard as the adjusters lie on
/// the emitter, from left to right, on every layout. No word has one of them.
pub(crate) const KEYS: [(char, char); 3] = [('f', 'v'), ('u', 'j'), ('p', 'l')];
/// An adjuster's name is cut to so many characters, or three of them leave no room on a line.
const NAME: usize = 8;

/// What the keys of the practice do, for the help; the adjusters as the foot of the screen has them.
fn help([left, middle, right]: &[Hand; 3]) -> Vec<(&'static str, String)> {
    vec![
        ("f v", format!("{} clockwise, anticlockwise: a touch; held, on and on;", left.name)),
        ("F V", "by half a turn at once".to_owned()),
        ("u j", format!("the same of {}", middle.name)),
        ("p l", format!("the same of {}", right.name)),
        ("h", "lift the head and clip it on anew".to_owned()),
        ("+ - 0", "turn the eye a little, or to the emitter".to_owned()),
        ("t", "switch the emitter on or off".to_owned()),
    ]
}

/// The user's hands in the simulated room.
pub struct Practice {
    bench: Bench,
    hands: [Hand; 3],
    at: Option<Stop>,
    /// When it was taken off, while it is in the hand.
    lifted: Option<Duration>,
    /// The adjuster that is to be turned, and what was turned of each since that was told.
    told: Option<usize>,
    since: [f64; 3],
    /// The key that came last, when, and how often it has repeated.
    held: (char, Duration, u32),
    /// When the emitter was switched last.
    switched: Option<Duration>,
    keys: Vec<char>,
    says: String,
    help: Vec<(&'static str, String)>,
}

impl Practice {
    /// In this room, whose emitter stands on these three adjusters.
    pub fn new(bench: Bench, adjusters: &[Adjuster]) -> Self {
        let hands = hands(adjusters);
        Self {
            says: said(&hands, [0.0; 3], true),
            help: help(&hands),
            bench,
            hands,
            at: None,
            lifted: None,
            told: None,
            since: [0.0; 3],
            held: ('\0', Duration::ZERO, 0),
            switched: None,
            keys: Vec::new(),
        }
    }

    fn press(&mut self, now: Duration, key: char) {
        let by = self.by(now, key);
        let small = key.to_ascii_lowercase();
        for ((clockwise, anticlockwise), hand) in KEYS.into_iter().zip(&self.hands) {
            match small {
                key if key == clockwise => return self.turn(hand.adjuster, by),
                key if key == anticlockwise => return self.turn(hand.adjuster, -by),
                _ => (),
            }
        }
        match small {
            '+' | '-' => {
                let by_deg = if key == '+' { POINT_DEG } else { -POINT_DEG };
                self.bench.scene(|scene| scene.turn_eye(scene.eye_deg() + by_deg));
            }
            '0' => self.bench.scene(|scene| scene.turn_eye_to_emitter(0.0)),
            'h' => self.lift(now),
            // Held, it switches once.
            't' if self.switched.is_none_or(|before| now.saturating_sub(before) >= APART) => {
                self.switched = Some(now);
                let on = self.bench.scene(|scene| {
                    scene.room.emitter.on = !scene.room.emitter.on;
                    scene.room.emitter.on
                });
                self.says = said(&self.hands, self.since, on);
            }
            _ => (),
        }
    }

    /// How far a key turns.
    fn by(&mut self, now: Duration, key: char) -> f64 {
        let (last, at, repeats) = self.held;
        let is_held = last == key && now.saturating_sub(at) < REPEATS_WITHIN;
        let repeats = if is_held { repeats + 1 } else { 0 };
        self.held = (key, now, repeats);
        if key.is_ascii_uppercase() {
            return HALF_TURN;
        }
        HELD.iter().find(|(from, _)| repeats >= *from).map_or(TOUCH, |(_, by)| *by)
    }

    fn turn(&mut self, adjuster: usize, turns: f64) {
        let (turned, on) =
            self.bench.scene(|scene| (scene.room.turn(adjuster, turns), scene.room.emitter.on));
        self.since[adjuster] += turned.made_turns;
        let name = |at: usize| named(&self.hands, at);
        let other = self.told.filter(|told| *told != adjuster);
        self.says = match other.filter(|_| self.since[adjuster].abs() >= ANOTHER) {
            _ if turned.at_stop => format!("{} is at the end of its travel", name(adjuster)),
            Some(told) => format!(
                "You turned {} by {:+.2}; {} was told. Say so with w, then turn it back.",
                name(adjuster),
                self.since[adjuster],
                name(told)
            ),
            None => said(&self.hands, self.since, on),
        };
    }

    /// Which adjuster is to be turned now.
    fn hears(&mut self, view: &View) {
        let told = match &view.part {
            Part::Trim(trim) => trim.turn.as_ref().filter(|turn| !turn.back).map(|t| t.adjuster),
            _ => None,
        };
        if self.told != told {
            (self.told, self.since) = (told, [0.0; 3]);
            let on = self.bench.scene(|scene| scene.room.emitter.on);
            self.says = said(&self.hands, self.since, on);
        }
    }

    fn lift(&mut self, now: Duration) {
        self.lifted = Some(now);
        self.bench.scene(|scene| scene.put(head::Place::Hand, head::Attitude::Upright));
    }

    fn put_down(&self, place: &PlaceView) {
        self.bench.scene(|scene| match place.place.point() {
            Some(point) => {
                scene.clip(point.x.0, point.y.0);
                scene.turn_eye_to_emitter(0.0);
            }
            None => scene.put(head::Place::Emitter, head::Attitude::Upright),
        });
    }
}

/// An adjuster as its keys have it.
struct Hand {
    /// By its place in the job.
    adjuster: usize,
    /// As the foot of the screen has it.
    name: String,
}

/// The adjusters in the order of [`KEYS`]: from left to right; of two above one another the upper
/// first.
fn hands(adjusters: &[Adjuster]) -> [Hand; 3] {
    let mut order = [0, 1, 2];
    let at = |of: usize| adjusters.get(of).map_or((0.0, 0.0), |one| (one.at.x.0, -one.at.y.0));
    order.sort_by(|one, other| at(*one).partial_cmp(&at(*other)).unwrap_or(Ordering::Equal));
    order.map(|adjuster| Hand {
        adjuster,
        name: adjusters.get(adjuster).map_or_else(String::new, |one| cut(&one.name, NAME)),
    })
}

fn named(hands: &[Hand; 3], adjuster: usize) -> &str {
    hands.iter().find(|hand| hand.adjuster == adjuster).map_or("", |hand| &hand.name)
}

/// The keys of the practice and what has been turned since it was told, in 80 columns.
fn said(hands: &[Hand; 3], since: [f64; 3], on: bool) -> String {
    let light = if on { "t light" } else { "t LIGHT ON" };
    let turned = KEYS.iter().zip(hands).map(|((clockwise, back), hand)| {
        format!("{clockwise}/{back} {} {:+.2}", hand.name, since[hand.adjuster])
    });
    let turned: Vec<String> = turned.collect();
    let whole = format!("turned: {}  {light}  ? all", turned.join("  "));
    match whole.chars().count() > 80 {
        true => format!("{}  {light}", turned.join("  ")),
        false => whole,
    }
}

impl Person for Practice {
    fn sees(&mut self, now: Duration, view: &View) -> anyhow::Result<Vec<Word>> {
        let Some(place) = &view.place else { return Ok(Vec::new()) };
        self.hears(view);
        if self.at != Some(place.stop) {
            self.at = Some(place.stop);
            self.lift(now);
        }
        for key in std::mem::take(&mut self.keys) {
            self.press(now, key);
        }
        if self.lifted.is_some_and(|lifted| now.saturating_sub(lifted) >= IN_HAND) {
            self.lifted = None;
            self.put_down(place);
        }
        Ok(Vec::new())
    }

    fn says(&self) -> Option<&str> {
        Some(&self.says)
    }

    fn keys(&self) -> &[(&'static str, String)] {
        &self.help
    }

    fn key(&mut self, key: char) {
        self.keys.push(key);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_bench::head::Head;
    use skimgauge_bench::room::{Plan, Room};
    use skimgauge_jobfile::Job;

    #[test]
    fn keys_and_turns_fit_80_columns() {
        let all = [-12.25, 12.25, -12.25];
        let usual = said(&hands(&adjusters(["left", "right", "upper"])), all, false);
        assert!(usual.starts_with("turned: f/v left -12.25  u/j upper -12.25  p/l right +12.25"));
        let long = adjusters(["far left one", "far right one", "the upper one"]);
        for said in [usual, said(&hands(&long), all, false)] {
            assert!(said.chars().count() <= 80, "{said}");
        }
        let help = help(&hands(&long));
        assert!(help.iter().all(|(_, does)| does.chars().count() <= 66), "{help:?}");
    }

    /// No adjuster is called what it is not.
    #[test]
    fn the_help_names_each_adjuster_as_the_job_does() {
        let help = help(&hands(&adjusters(["left", "right", "upper"])));
        let of = |key| help.iter().find(|(keys, _)| *keys == key).unwrap().1.as_str();
        assert!(of("f v").starts_with("left clockwise"), "{}", of("f v"));
        assert_eq!((of("u j"), of("p l")), ("the same of upper", "the same of right"));
    }

    /// The practice job's, under these names.
    fn adjusters(names: [&str; 3]) -> Vec<Adjuster> {
        let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
        let named = job.adjusters.into_iter().zip(names);
        named.map(|(one, name)| Adjuster { name: name.to_owned(), ..one }).collect()
    }

    fn practice() -> Practice {
        let room = Room::planned(11, &Plan::default());
        let bench = Bench::with(room, Head::new(11), 11);
        Practice::new(bench, &adjusters(["left", "right", "upper"]))
    }

    /// A job file may have its adjusters in any order, and one below.
    #[test]
    fn keys_lie_as_the_adjusters_lie() {
        let mut three = adjusters(["right", "left", "lower"]);
        let at = |x: f64, y: f64| skimgauge_model::Point::mm(x, y);
        (three[0].at, three[1].at, three[2].at) =
            (at(100.0, 120.0), at(-100.0, 120.0), at(0.0, 60.0));
        let mut practice = Practice { hands: hands(&three), ..practice() };
        for (key, adjuster) in [('f', 1), ('u', 2), ('p', 0)] {
            let before = practice.since[adjuster];
            practice.press(Duration::from_secs(9), key);
            assert!(practice.since[adjuster] > before, "{key}");
        }
        assert!(practice.says.contains("u/j lower +0.01"), "{}", practice.says);
    }

    /// A keyboard repeats a key that is held some thirty times a second (common practice, no source).
    #[test]
    fn a_key_turns_a_touch_and_held_on_and_on() {
        let mut practice = practice();
        practice.press(Duration::from_secs(1), 'f');
        assert!((practice.since[0] - TOUCH).abs() < 1e-9);
        assert!(practice.says.contains("left +0.01"), "{}", practice.says);
        for repeat in 0..60 {
            practice.press(Duration::from_millis(2_000 + 33 * repeat), 'j');
        }
        assert!(practice.since[2] < -2.5, "{:?}", practice.since);
        practice.press(Duration::from_secs(6), 'P');
        assert!((practice.since[1] - HALF_TURN).abs() < 1e-9);
    }

    #[test]
    fn another_adjuster_than_the_one_told_is_noticed() {
        let mut practice = practice();
        practice.told = Some(0);
        practice.press(Duration::from_secs(1), 'P');
        assert!(practice.says.starts_with("You turned right by +0.50; left was told."));
        assert!(practice.says.chars().count() <= 80, "{}", practice.says);
        practice.press(Duration::from_secs(3), 'L');
        assert!(practice.says.starts_with("turned: "), "{}", practice.says);
    }
}
