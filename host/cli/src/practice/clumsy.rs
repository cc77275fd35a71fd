//! An installer who makes a person's mistakes: the wrong adjuster, the wrong way, the wrong station,
//! a key too early, a knock, a pause of an hour. What the installer notices is said and mended as a
//! person would; what goes unnoticed is left for the program to find.

use super::Person;
use super::again::AsLeft;
use super::installer::Installer;
use skimgauge_bench::Fault;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::noise::Noise;
use skimgauge_procedure::view::trim::{Advice, TrimView, TurnView};
use skimgauge_procedure::view::{LinkView, Part, State};
use skimgauge_procedure::{Stop, View, Word};
use std::time::Duration;

/// One step in so many goes wrong.
const GOES_WRONG: f64 = 0.35;
/// Of mistakes that a person can notice, so many are.
const NOTICED: f64 = 0.7;
/// After this long in one job, simulated, it does not end by itself.
const NEVER_ENDS: Duration = Duration::from_secs(3 * 3600);
/// A pause.
const PAUSE: Duration = Duration::from_secs(3600);
/// Somebody goes away in one job of so many: an hour takes this computer a while.
const PAUSES_IN: u64 = 24;

/// Of those pauses, after one in so many the emitter is found pushed.
const PUSHED_IN: u64 = 48;

/// A job makes one of these for sure, by its number; the others by chance.
const FOR_SURE: [Mistake; 8] = [
    Mistake::Pause,
    Mistake::Knock,
    Mistake::Undo,
    Mistake::Stuck,
    Mistake::WrongOne,
    Mistake::WrongWay,
    Mistake::WrongStation,
    Mistake::EarlyKey,
];

/// What goes wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Mistake {
    /// Another adjuster is turned by as much.
    WrongOne,
    /// The right one is turned the other way.
    WrongWay,
    /// The head is clipped on somewhere else.
    WrongStation,
    /// The key is pressed before anything is done.
    EarlyKey,
    /// The head is knocked.
    Knock,
    /// An hour goes by.
    Pause,
    /// It is said that the adjuster goes no further, though it does.
    Stuck,
    /// A step that was right is taken back.
    Undo,
}

/// What is being mended.
#[derive(Debug, Clone, Copy)]
enum Mending {
    /// This adjuster was turned by so much in the place of another; it was said.
    TurnsBack { adjuster: usize, turns: f64, said: bool },
    /// The head stands askew until it is lifted.
    Askew,
    /// Nothing is done until then.
    Rests(Duration),
}

/// The installer with the mistakes of this seed.
pub struct Clumsy {
    inner: Installer,
    bench: Bench,
    noise: Noise,
    step: Option<String>,
    planned: Option<Mistake>,
    mending: Option<Mending>,
    made: Vec<String>,
    paused: bool,
    /// What goes wrong for sure, until it has.
    for_sure: Option<Mistake>,
    /// After the pause the emitter is found pushed.
    pushed: bool,
    spoke: Duration,
    /// The job is played in several runs: the room as it was told last.
    left: Option<AsLeft>,
}

impl Clumsy {
    /// In this room.
    pub fn new(bench: Bench, seed: u64, left: Option<AsLeft>) -> Self {
        Self {
            inner: Installer::new(bench.clone()),
            bench,
            noise: Noise::new(seed, 0x0C1),
            step: None,
            planned: None,
            mending: None,
            made: Vec::new(),
            paused: !seed.is_multiple_of(PAUSES_IN)
                || left.is_some_and(|left| left.pushed_mm() != 0.0),
            for_sure: FOR_SURE.get(seed as usize % FOR_SURE.len()).copied(),
            pushed: seed.is_multiple_of(PUSHED_IN),
            spoke: Duration::ZERO,
            left,
        }
    }

    /// Back from an hour away, where the job can be begun again: somebody has pushed the emitter,
    /// or nobody has.
    fn comes_back(&mut self, now: Duration) -> Option<Vec<Word>> {
        self.mending = None;
        if !std::mem::take(&mut self.pushed) {
            return None;
        }
        let left = self.left.as_mut()?;
        let by_mm = self.noise.uniform(0.2, 0.8);
        self.bench.scene(|scene| scene.room.emitter.start.c_mm += by_mm);
        *left = AsLeft::of(&self.bench, left.pushed_mm() + by_mm, true);
        self.spoke = now;
        let told = format!("room: {left}");
        self.made.extend([told, "finds the emitter pushed, and begins again".to_owned()]);
        Some(vec![Word::Quit])
    }

    /// How the room stands, where that is another than it was told last.
    fn room(&mut self) -> Option<String> {
        let left = self.left.as_mut()?;
        let now = AsLeft::of(&self.bench, left.pushed_mm(), left.touched);
        (now != *left).then(|| {
            *left = now;
            format!("room: {now}")
        })
    }

    /// Of an adjuster that stops: it does not. Of the head: it is where it was carried to. Of what
    /// stood: it is as it was, unless the emitter was pushed.
    fn answers(&mut self, now: Duration, view: &View, trim: &TrimView) -> Option<Word> {
        let question = view.question.as_ref()?;
        if !self.speaks(now) {
            return None;
        }
        let pushed = self.left.as_mut().map(|left| std::mem::take(&mut left.touched));
        let no = trim.turn.is_some() || pushed == Some(true);
        Some(if no { Word::No } else { question.yes })
    }

    /// What to do now, as a text that changes with it.
    fn step_of(trim: &TrimView) -> String {
        match &trim.advice {
            Advice::Turn { adjuster, dial_to, turns: _ } => {
                let back = trim.turn.as_ref().is_some_and(|turn| turn.back);
                format!(
                    "turn {adjuster} {:?} {back} {}",
                    dial_to.map(|gap| gap.0.to_bits()),
                    trim.round
                )
            }
            advice => format!("{advice:?} {}", trim.round),
        }
    }

    fn choose(&mut self, trim: &TrimView) -> Option<Mistake> {
        let kinds: &[Mistake] = match &trim.advice {
            Advice::Turn { .. } => &[
                Mistake::WrongOne,
                Mistake::WrongWay,
                Mistake::EarlyKey,
                Mistake::Knock,
                Mistake::Stuck,
                Mistake::Undo,
            ],
            Advice::Take { .. } => &[Mistake::WrongStation, Mistake::EarlyKey, Mistake::Pause],
            Advice::Clip { .. } => &[Mistake::WrongStation, Mistake::EarlyKey, Mistake::Undo],
            _ => return None,
        };
        let sure = self.for_sure.filter(|kind| kinds.contains(kind));
        if let Some(kind) = sure.filter(|kind| *kind != Mistake::Pause || !self.paused) {
            self.paused |= kind == Mistake::Pause;
            return Some(kind);
        }
        if self.noise.unit() > GOES_WRONG {
            return None;
        }
        let at = (self.noise.unit() * kinds.len() as f64) as usize;
        let kind = kinds[at.min(kinds.len() - 1)];
        // Once a job, if at all.
        (kind != Mistake::Pause || !std::mem::replace(&mut self.paused, true)).then_some(kind)
    }

    fn speaks(&mut self, now: Duration) -> bool {
        let time = now.saturating_sub(self.spoke) >= Duration::from_secs(1);
        if time {
            self.spoke = now;
        }
        time
    }

    fn did(&mut self, what: String) {
        self.made.push(what);
    }

    /// Makes the mistake that is planned, where it can be made now; the words said with it.
    fn mistake(&mut self, now: Duration, view: &View, trim: &TrimView) -> Option<Vec<Word>> {
        let kind = self.planned?;
        let turn = trim.turn.as_ref();
        match kind {
            Mistake::WrongOne | Mistake::WrongWay => {
                let turn = turn.filter(|turn| !turn.back && view.state == State::Turn)?;
                self.planned = None;
                self.turns_wrong(turn, kind == Mistake::WrongOne);
                Some(Vec::new())
            }
            Mistake::WrongStation => {
                let wrong = self.noise.unit() * view.stations.len() as f64;
                let station = view.stations.get(wrong as usize)?;
                self.planned = None;
                let (x_mm, y_mm) = (station.at.x.0, station.at.y.0);
                self.bench.scene(|scene| {
                    scene.put(
                        skimgauge_bench::head::Place::Hand,
                        skimgauge_bench::head::Attitude::Upright,
                    );
                    scene.clip(x_mm, y_mm);
                    scene.turn_eye_to_emitter(0.0);
                });
                self.did(format!("clips the head on at {} instead", station.name));
                self.mending = Some(Mending::Askew);
                Some(Vec::new())
            }
            Mistake::EarlyKey => {
                let word = match &trim.advice {
                    Advice::Take { .. } => Word::Take,
                    _ => Word::Ready,
                };
                if !self.speaks(now) {
                    return Some(Vec::new());
                }
                self.planned = None;
                self.did("presses the key too early".to_owned());
                Some(vec![word])
            }
            Mistake::Knock => {
                turn.filter(|turn| turn.watched.is_some())?;
                self.planned = None;
                self.bench.set_fault(Fault::Knocked, true);
                self.did("knocks the head".to_owned());
                self.mending = Some(Mending::Askew);
                Some(Vec::new())
            }
            Mistake::Pause => {
                self.planned = None;
                self.did("goes away for an hour, of which no line is shown".to_owned());
                self.mending = Some(Mending::Rests(now + PAUSE));
                Some(Vec::new())
            }
            Mistake::Stuck => self.says(now, view, Word::Stuck, "says that it will not go further"),
            Mistake::Undo => self.says(now, view, Word::Undo, "takes a step back"),
        }
    }

    fn says(&mut self, now: Duration, view: &View, word: Word, what: &str) -> Option<Vec<Word>> {
        if !view.words.iter().any(|offer| offer.word == word) {
            self.planned = None;
            return None;
        }
        if !self.speaks(now) {
            return Some(Vec::new());
        }
        self.planned = None;
        self.did(what.to_owned());
        Some(vec![word])
    }

    fn turns_wrong(&mut self, turn: &TurnView, wrong_one: bool) {
        let much = turn.turns.0.clamp(-1.0, 1.0);
        let (adjuster, turns) = match wrong_one {
            true => ((turn.adjuster + 1 + usize::from(self.noise.chance(0.5))) % 3, much),
            false => (turn.adjuster, -0.5 * much),
        };
        self.bench.scene(|scene| scene.room.turn(adjuster, turns));
        self.did(format!("turns adjuster {adjuster} by {turns:+.2}, where {} was told", turn.name));
        let noticed = self.noise.chance(NOTICED);
        if wrong_one && noticed {
            self.mending = Some(Mending::TurnsBack { adjuster, turns, said: false });
        } else if noticed {
            // The other way: turned back without a word.
            self.bench.scene(|scene| scene.room.turn(adjuster, -turns));
        }
    }

    /// Mends what went wrong; `None` once it is mended.
    fn mends(&mut self, now: Duration, view: &View, trim: &TrimView) -> Option<Vec<Word>> {
        match self.mending? {
            Mending::Rests(until) if now < until => Some(Vec::new()),
            Mending::Rests(_) => self.comes_back(now),
            Mending::TurnsBack { adjuster, turns, said: false } => {
                if !view.words.iter().any(|offer| offer.word == Word::Wrong) {
                    self.bench.scene(|scene| scene.room.turn(adjuster, -turns));
                    self.mending = None;
                    return None;
                }
                if !self.speaks(now) {
                    return Some(Vec::new());
                }
                self.mending = Some(Mending::TurnsBack { adjuster, turns, said: true });
                Some(vec![Word::Wrong])
            }
            Mending::TurnsBack { adjuster, turns, said: true } => {
                let back = trim.turn.as_ref().is_some_and(|turn| turn.back);
                if !back {
                    self.mending = None;
                    return None;
                }
                self.bench.scene(|scene| scene.room.turn(adjuster, -turns));
                self.mending = None;
                Some(Vec::new())
            }
            Mending::Askew => {
                // Seen after a while, most often: lifted and put where it should be.
                if self.noise.chance(0.1) {
                    self.bench.set_fault(Fault::Knocked, false);
                    self.inner.lifts();
                    self.mending = None;
                }
                None
            }
        }
    }
}

impl Person for Clumsy {
    fn sees(&mut self, now: Duration, view: &View) -> anyhow::Result<Vec<Word>> {
        anyhow::ensure!(now < NEVER_ENDS, "The job does not end: {:?}", self.step);
        let Part::Trim(trim) = &view.part else { return Ok(Vec::new()) };
        let looks = view.emitter_off.is_some();
        if looks || !matches!(view.link, LinkView::Up { .. }) || view.state == State::Over {
            return self.inner.sees(now, view);
        }
        if let Some(words) = self.mends(now, view, trim) {
            return Ok(words);
        }
        let step = Self::step_of(trim);
        if self.step.as_ref() != Some(&step) {
            self.step = Some(step);
            self.planned = if view.question.is_none() { self.choose(trim) } else { None };
        }
        if view.question.is_some() {
            return Ok(Vec::from_iter(self.answers(now, view, trim)));
        }
        if let Some(turn) = trim.turn.as_ref().filter(|turn| turn.back) {
            // Turned back by now, or another's doing.
            let ready = view.aim.is_none_or(|aim| aim.there) || self.noise.chance(0.05);
            let says = ready && self.speaks(now) && turn.back;
            return Ok(Vec::from_iter(says.then_some(Word::Ready)));
        }
        let (planned, made) = (self.planned, self.made.len());
        if let Some(words) = self.mistake(now, view, trim) {
            if planned == self.for_sure && self.made.len() > made {
                self.for_sure = None;
            }
            return Ok(words);
        }
        let at = view.place.as_ref().map(|place| place.stop);
        if matches!(at, Some(Stop::Emitter)) {
            self.planned = None;
        }
        self.inner.patient(now);
        self.inner.sees(now, view)
    }

    fn says(&self) -> Option<&str> {
        self.inner.says()
    }

    fn is_away(&self) -> bool {
        matches!(self.mending, Some(Mending::Rests(_)))
    }

    fn news(&mut self) -> Vec<String> {
        let mut news = std::mem::take(&mut self.made);
        news.extend(self.room());
        news.extend(self.inner.news());
        news
    }
}
