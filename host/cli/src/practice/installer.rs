//! An installer who does the job by itself: reads the view, moves head and adjusters in the
//! simulated room, and says words like anybody.

use super::Person;
use super::carry::{Carry, turn_eye};
use skimgauge_bench::bench::Bench;
use skimgauge_metrology::measure::Fault;
use skimgauge_model::Image;
use skimgauge_procedure::view::emitter_off::EmitterOffView;
use skimgauge_procedure::view::trim::{Advice, TrimView, TurnView};
use skimgauge_procedure::view::{LinkView, Part, PlaceView, State, TakenView};
use skimgauge_procedure::{Stop, View, Word};
use skimgauge_quantity::{Style, Turns};
use std::time::Duration;

/// After this long without getting any further something is wrong, and it is said.
const PATIENCE: Duration = Duration::from_secs(25);
/// An adjuster is turned so far at once.
const TWIST_TURNS: f64 = 0.1;
/// Between a twist and the look at what it did.
const LOOK: Duration = Duration::from_millis(400);
/// A head newly clipped on is let go of for so long before anyone says that it is there.
const LET_GO: Duration = Duration::from_millis(500);
/// Where no light is seen, the head is watched for so long before it is said.
const LOOKS_FOR_LIGHT: Duration = Duration::from_secs(10);
/// Where the head reads nothing, it is clipped on anew so many times.
const TRIES: usize = 3;
/// The end is shown for so long.
const SHOWN: Duration = Duration::from_secs(3);

/// A turn that does not end by itself for so long is waiting for a word.
const WAITED_FOR: Duration = Duration::from_secs(3);

/// The installer.
pub struct Installer {
    bench: Bench,
    carry: Carry,
    /// What is being done, and since when.
    doing: Option<(String, Duration)>,
    look_at: Duration,
    turned: f64,
    /// Since when the gap has been where it should be.
    there: Option<Duration>,
    /// Since when the head that is watched has read nothing.
    unseen: Option<Duration>,
    says: String,
    news: Vec<String>,
    over_at: Option<Duration>,
    /// What stood at the station when its take was said.
    took: Option<Option<TakenView>>,
    /// What is being done was begun anew so many times.
    tried: usize,
}

impl Installer {
    /// Begins in this room.
    pub fn new(bench: Bench) -> Self {
        Self {
            bench,
            carry: Carry::default(),
            doing: None,
            look_at: Duration::ZERO,
            turned: 0.0,
            there: None,
            unseen: None,
            says: "the installer clips the head to the first station".to_owned(),
            news: Vec::new(),
            over_at: None,
            took: None,
            tried: 0,
        }
    }

    /// Takes the head off, to put it where it should be.
    pub(super) fn lifts(&mut self) {
        self.carry.lift();
    }

    /// Bears it that something took long: it was of its own doing.
    pub(super) fn patient(&mut self, now: Duration) {
        let too_long = |since: Duration| now.saturating_sub(since) > PATIENCE / 2;
        if let Some((_, since)) = &mut self.doing
            && too_long(*since)
        {
            *since = now;
            self.tried += 1;
            // What it seems to be waiting for may be its own seat.
            self.carry.lift();
            self.turned = 0.0;
        }
    }

    fn say(&mut self, what: String) {
        self.says = format!("installer: {what}");
        self.news.push(what);
    }

    /// Whether the clip reaches this place of the board.
    fn is_clipped(&self, place: &PlaceView) -> bool {
        let image = self.bench.scene(|scene| {
            let board = &scene.room.board;
            Image::mm(board.width_mm, board.height_mm)
        });
        place.place.point().is_none_or(|at| image.is_clipped(at))
    }

    /// Puts the head where the view is; for how long it has stood there, once it was let go of.
    fn put(&mut self, now: Duration, view: &View) -> Option<Duration> {
        let place = view.place.as_ref()?;
        let stands = self.carry.to(now, &self.bench, place);
        if self.carry.is_just_down(now) {
            self.say(match place.stop {
                Stop::Station(_) => {
                    let does = if self.is_clipped(place) { "clips" } else { "holds" };
                    format!("{does} the head at {}", place.place.name().unwrap_or("the point"))
                }
                Stop::Emitter => "holds the head on the emitter, for its level".to_owned(),
            });
        }
        stands.filter(|stands| *stands > LET_GO)
    }

    fn take(&mut self, now: Duration, view: &View, is_new: bool) -> Option<Word> {
        let here = view.stations.iter().find(|station| station.here);
        let stood = here.and_then(|station| station.taken.clone());
        // Asked for once more at once, it is the same to do, and another seat all the same.
        let took = self.took.take_if(|before| is_new || *before != stood).is_some();
        if (is_new || took) && stood.is_some() {
            // Taken again, it is from a new seat.
            self.carry.lift();
        }
        let stands = self.put(now, view)?;
        let good = match view.place.as_ref()?.stop {
            Stop::Station(_) => !turn_eye(&self.bench) && view.live.can_take,
            Stop::Emitter => stands > LET_GO * 3 && view.live.rests,
        };
        if is_new {
            self.tried = 0;
        }
        // What is no sheet either may be the edge of one that stands outside what the head sees.
        // Seat after seat the same: nobody tries for ever.
        let waited = stands > LOOKS_FOR_LIGHT * 3 / 2 || self.tried >= TRIES && stands > LOOK * 5;
        let no_gap = waited && view.live.gap.good().is_none();
        let dark = no_gap || stands > LOOKS_FOR_LIGHT && sees_no_light(view);
        let word = if good { Word::Take } else { Word::Skip };
        let says = good || (dark && offers(view, Word::Skip));
        let says = says && view.saving.is_none() && self.carry.speaks(now);
        if says && word == Word::Take {
            self.took = Some(stood);
        }
        says.then_some(word)
    }

    /// Switches the emitter off for a moment, and on again.
    fn look(&mut self, now: Duration, view: &View, off: EmitterOffView) -> Option<Word> {
        let bench = self.bench.clone();
        let on = bench.scene(|scene| scene.room.emitter.on);
        let switch = |on: bool| bench.scene(|scene| scene.room.emitter.on = on);
        match off {
            EmitterOffView::Offered if on => {
                self.put(now, view)?;
                if !turn_eye(&self.bench) && view.live.can_take && view.saving.is_none() {
                    switch(false);
                    self.say("switches the emitter off for two seconds".to_owned());
                }
                None
            }
            EmitterOffView::Offered => self.carry.speaks(now).then_some(Word::Begin),
            EmitterOffView::Off { .. } => None,
            EmitterOffView::On => {
                switch(true);
                None
            }
        }
    }

    fn clip(&mut self, now: Duration, view: &View) -> Option<Word> {
        let stands = self.put(now, view)?;
        let sees = view.live.gap.good().is_some();
        let there = !turn_eye(&self.bench) && (sees || stands > LET_GO * 4);
        let asked = offers(view, Word::Ready);
        (there && asked && view.state != State::Turn && self.carry.speaks(now))
            .then_some(Word::Ready)
    }

    /// Turns a little further toward the gap that was advised.
    fn twist(&mut self, now: Duration, view: &View, turn: &TurnView) -> Option<Word> {
        if turn_eye(&self.bench) || now < self.look_at {
            return None;
        }
        let Some(watched) = turn.watched else { return self.twist_by_count(now, view, turn) };
        let Some(gap) = view.live.gap.good() else {
            let unseen = now.saturating_sub(*self.unseen.get_or_insert(now));
            return if unseen < LOOKS_FOR_LIGHT {
                None
            } else {
                self.twist_unseen(now, view, turn)
            };
        };
        self.unseen = None;
        let to_go = watched.to - gap;
        // Well inside what counts as there, so that it stays there.
        if to_go.abs() < watched.within * 0.6 {
            // A turn that was taken back waits for the word.
            let waited = now.saturating_sub(*self.there.get_or_insert(now)) >= WAITED_FOR;
            let says = waited && view.saving.is_none() && self.carry.speaks(now);
            return says.then_some(Word::Ready);
        }
        self.there = None;
        let per_turn = (watched.to - watched.from) / turn.turns.0;
        let left = to_go / per_turn;
        if !left.is_finite() {
            return None;
        }
        let twist = (0.8 * left).clamp(-TWIST_TURNS, TWIST_TURNS);
        // A large way to go is turned without looking after every twist.
        let bold = left.abs() > 4.0 * TWIST_TURNS;
        self.look_at = if bold { now + LOOK / 5 } else { now + LOOK };
        // Far more turned than told, or the wrong way: the one who told wants to know.
        let too_far = (self.turned + twist).abs() > 1.5 * turn.turns.0.abs() + 0.5;
        if turn.wrong_way || too_far {
            let turned = Word::Turned(Some(Turns(self.turned)));
            return self.carry.speaks(now).then_some(turned);
        }
        self.turned += twist;
        self.bench.scene(|scene| scene.room.turn(turn.adjuster, twist));
        None
    }

    /// Where the head stops reading on the way, the rest by count: then it is said to be turned as told.
    fn twist_unseen(&mut self, now: Duration, view: &View, turn: &TurnView) -> Option<Word> {
        let word = self.twist_by_count(now, view, turn)?;
        Some(if word == Word::Ready { Word::Turned(None) } else { word })
    }

    /// The same by count, until all of it is made.
    fn twist_by_count(&mut self, now: Duration, view: &View, turn: &TurnView) -> Option<Word> {
        if turn.wrong_way {
            return self.carry.speaks(now).then_some(Word::Turned(None));
        }
        let left = turn.turns.0 - self.turned;
        if left.abs() < 1e-9 {
            let ready = view.saving.is_none() && self.carry.speaks(now);
            return ready.then_some(Word::Ready);
        }
        let twist = left.clamp(-TWIST_TURNS, TWIST_TURNS);
        self.look_at = now + LOOK / 5;
        self.turned += twist;
        self.bench.scene(|scene| scene.room.turn(turn.adjuster, twist));
        None
    }

    /// Whether something new is to be done.
    ///
    /// # Errors
    /// Nothing gets any further.
    fn is_new(&mut self, now: Duration, view: &View, trim: &TrimView) -> anyhow::Result<bool> {
        // A turn's count goes down while it is followed; it stays the same.
        let to_do = match &trim.advice {
            Advice::Turn { adjuster, dial_to: Some(dial_to), .. } => {
                format!("turn {adjuster} to {:.3}", dial_to.0)
            }
            Advice::Turn { adjuster, turns, dial_to: None } => {
                format!("turn {adjuster} by {:.3}", turns.0)
            }
            advice => format!("{advice:?}, round {}", trim.round),
        };
        match &self.doing {
            Some((doing, since)) if *doing == to_do => {
                let over = matches!(trim.advice, Advice::Over | Advice::Survey);
                anyhow::ensure!(
                    over || now.saturating_sub(*since) <= PATIENCE,
                    "The demonstration gets no further in round {}: asked to {}, its head at work says: {}.",
                    trim.round,
                    view.instruction.text(Style::default()),
                    view.live.says.text(Style::default())
                );
                Ok(false)
            }
            _ => {
                self.unseen = None;
                // A turn that is counted after all counts on.
                let adjuster = |doing: &str| {
                    doing
                        .strip_prefix("turn ")
                        .and_then(|turn| turn.split(' ').next().map(str::to_owned))
                };
                let before = self.doing.take().and_then(|(before, _)| adjuster(&before));
                let counts_on = before.is_some()
                    && before == adjuster(&to_do)
                    && matches!(trim.advice, Advice::Turn { dial_to: None, .. })
                    && trim.turn.as_ref().is_some_and(|turn| !turn.wrong_way);
                self.doing = Some((to_do, now));
                if !counts_on {
                    self.turned = 0.0;
                }
                Ok(true)
            }
        }
    }
}

fn offers(view: &View, word: Word) -> bool {
    view.words.iter().any(|offer| offer.word == word)
}

/// Whether what is wrong is that the light is not where the head looks.
fn sees_no_light(view: &View) -> bool {
    let why = view.live.gap.why();
    matches!(why, Some(Fault::NoLight | Fault::LightLeavesWindow))
}

impl Person for Installer {
    fn sees(&mut self, now: Duration, view: &View) -> anyhow::Result<Vec<Word>> {
        let Part::Trim(trim) = &view.part else { return Ok(Vec::new()) };
        if !matches!(view.link, LinkView::Up { .. }) {
            return Ok(Vec::new());
        }
        let is_new = self.is_new(now, view, trim)?;
        if let Some(question) = &view.question {
            // The head is where it was carried to.
            return Ok(Vec::from_iter(self.carry.speaks(now).then_some(question.yes)));
        }
        if let Some(off) = view.emitter_off {
            return Ok(Vec::from_iter(self.look(now, view, off)));
        }
        if let Some(wanted) = view.place.as_ref().and_then(|place| place.wanted) {
            return Ok(Vec::from_iter(self.carry.speaks(now).then_some(Word::Go(wanted))));
        }
        let word = match (&trim.advice, &trim.turn) {
            (Advice::Take { .. } | Advice::TakeEmitter, _) => self.take(now, view, is_new),
            (Advice::Begin, _) => self.carry.speaks(now).then_some(Word::Begin),
            (Advice::Clip { .. }, _) => self.clip(now, view),
            (Advice::Turn { .. }, Some(turn)) => {
                if is_new {
                    self.says = match turn.turns.rotation() {
                        Some(way) => format!("installer: turns {} {}", turn.name, way.word()),
                        None => format!("installer: leaves {} as it is", turn.name),
                    };
                }
                self.twist(now, view, turn)
            }
            (Advice::Turn { .. }, None) => None,
            (Advice::Survey | Advice::Over, _) => {
                let over_at = *self.over_at.get_or_insert(now + SHOWN);
                (now > over_at).then_some(Word::Quit)
            }
        };
        Ok(Vec::from_iter(word))
    }

    fn says(&self) -> Option<&str> {
        Some(&self.says)
    }

    fn news(&mut self) -> Vec<String> {
        std::mem::take(&mut self.news)
    }
}
