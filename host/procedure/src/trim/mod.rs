//! Trimming a touch plane at the board: takes at stations, then at most one turn of each adjuster,
//! then takes again.
//!
//! The trim owns its takes, and decides which of what comes is for them. `guide` says what is to
//! be done next, learns from what came of it and takes steps back, `turning` is one turn, `steady`
//! tells when a live gap has come to rest, [`says`] puts it in words. The sums are in `skimgauge-metrology`.

#[cfg(test)]
mod always_ends;
mod dents;
mod drawn;
#[cfg(test)]
mod elsewhere;
#[cfg(test)]
mod going_on;
mod guide;
pub mod says;
mod shown;
mod steady;
#[cfg(test)]
mod tests;
mod turning;
#[cfg(test)]
mod walked;

use crate::output::{Message, News, Output, Touched};
use crate::takes::{Begin, Dial, Resumed, Takes};
use crate::view::board::{Field, Spot};
use crate::word::{Stop, Word};
use crate::{Entry, Input, Procedure, View};
use dents::Dents;
use guide::{Advice, Eye, Guide, Stage, Taken, Told};
use skimgauge_metrology::measure::{At, Fault};
use skimgauge_metrology::trim::blind::Missing;
use skimgauge_model::Phase;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Mm, Sentence, Turns, say};
use skimgauge_session::{Event, Told as Heard};
use skimgauge_shared::message::Press;
use skimgauge_shared::units::Microseconds;
use std::time::Duration;

/// The last few things said are kept.
const SAID: usize = 20;

/// The guided trim.
pub struct Trim {
    takes: Takes,
    guide: Guide,
    /// Where the walk was led to last, and how much was kept by then.
    led_to: Option<(Stop, u32)>,
    /// The last few things said, the newest last.
    said: Vec<Message>,
    /// Those of them that mean nothing once the turn is made.
    hints: Vec<Sentence>,
    /// The advice that was told last.
    told: Option<crate::view::trim::Advice>,
    /// The picture, and what it was made from.
    picture: (Option<Field>, Vec<Spot>),
    made_from: Option<drawn::MadeFrom>,
    /// What was kept when it was over.
    kept_at_end: u32,
    /// Takes of an earlier run may stand: the user is asked.
    resuming: bool,
    dents: Dents,
}

impl Trim {
    /// Begins. `None` where the job does not have three adjusters.
    pub fn new(begin: Begin) -> Option<Self> {
        let mut guide = Guide::new(&begin.job, &begin.board, begin.expected())?;
        if let Some(resumed) = &begin.resumed {
            guide.go_on(resumed);
        }
        let resuming = begin.resumed.as_ref().is_some_and(Resumed::stands);
        Some(Self {
            takes: Takes::new(begin),
            guide,
            led_to: None,
            said: Vec::new(),
            hints: Vec::new(),
            told: None,
            picture: (None, Vec::new()),
            made_from: None,
            kept_at_end: 0,
            resuming,
            dents: Dents::default(),
        })
    }

    /// The takes.
    pub fn takes(&self) -> &Takes {
        &self.takes
    }

    /// Whether a live gap is watched: then a press means that the head is clipped on, or that the
    /// turn is made.
    fn watches(&self) -> bool {
        matches!(self.guide.stage(), Stage::Clip { .. } | Stage::Turn(_))
    }

    /// Whether a question of the trim's own waits for its answer.
    fn asks(&self) -> bool {
        self.guide.asks().is_some() || self.dents == Dents::Asked
    }

    /// What is for the takes goes to them, the rest is the trim's.
    fn hear(&mut self, now: Duration, input: Input) {
        match input {
            Input::Head(Heard::Head(Event::Button(..))) if self.asks() => (),
            Input::Head(Heard::Head(Event::Button(press, at))) if self.watches() => {
                self.pressed(now, press, at);
            }
            Input::Said(said) if !self.takes.is_of_now(now, said) => (),
            Input::Said(said) if self.takes.asks_as_left().is_some() => {
                self.takes.hear(now, Input::Said(said));
                self.looks_at_takes();
            }
            Input::Said(said) if self.dents == Dents::Asked => match said.word {
                Word::Yes | Word::No => self.dents_answered(said.word),
                Word::Quit | Word::Sound => self.takes.hear(now, Input::Said(said)),
                // Nothing else is an answer: the question stands.
                _ => (),
            },
            Input::Said(said) if self.guide.asks().is_some() && said.word != Word::Quit => {
                self.guide.answered(now, said.word == Word::Yes);
            }
            Input::Said(said) => match said.word {
                Word::Take | Word::Redo | Word::More if self.watches() => {
                    if self.takes.counts(now, None) {
                        self.ready(now);
                    }
                }
                Word::Yes if self.watches() && self.takes.agrees(now) => self.ready(now),
                Word::Ready | Word::Begin | Word::Turned(_) => self.word(now, said.word),
                Word::Undo | Word::Wrong | Word::Stuck | Word::Skip => self.word(now, said.word),
                _ => self.takes.hear(now, Input::Said(said)),
            },
            Input::Tick => {
                self.takes.hear(now, Input::Tick);
                self.looks(now);
            }
            Input::Record(answer) => {
                self.takes.hear(now, Input::Record(answer));
                self.looks_at_takes();
            }
            other => self.takes.hear(now, other),
        }
    }

    /// The head's button, while a live gap is watched.
    fn pressed(&mut self, now: Duration, press: Press, at: Microseconds) {
        let yes = press == Press::Long && self.takes.agrees(now);
        if yes || self.takes.counts(now, Some(at)) {
            self.ready(now);
        }
    }

    fn word(&mut self, now: Duration, word: Word) {
        if !self.takes.counts(now, None) {
            return;
        }
        if word != Word::Ready {
            self.takes.answered_no(now);
        }
        match word {
            Word::Begin => self.guide.begin(now),
            Word::Turned(counted) => self.guide.turned_as_told(now, counted.map(|turns| turns.0)),
            Word::Undo => self.guide.take_back(),
            Word::Wrong => self.guide.wrong_one(),
            Word::Stuck => self.guide.stuck(),
            Word::Skip => self.guide.leave_out(now),
            _ => self.ready(now),
        }
    }

    /// The head is clipped on, where it must have come to; or the turn is made.
    fn ready(&mut self, now: Duration) {
        match self.guide.stage() {
            Stage::Clip { station, .. } => {
                let Some(station) = self.guide.station(*station) else { return };
                if self.takes.stands_at(now, At::Station(station.name.clone())) {
                    self.guide.press(now);
                }
            }
            Stage::Turn(_) => self.guide.press(now),
            Stage::Take | Stage::Over => {
                let says =
                    say!("Nothing waits for that now: a station is taken with its own word.");
                self.takes.say(now, true, says);
            }
        }
    }

    /// Looks at the takes and at the live gap.
    fn looks(&mut self, now: Duration) {
        if !self.takes.is_up() {
            self.guide.live(now, None, false);
            return;
        }
        self.looks_at_takes();
        let live = self.takes.live(now);
        let knocked = live.faults.contains(&Fault::Knocked);
        // An eye that is not turned to the emitter yet tells nothing.
        let missing = match self.takes.why_no_gap(now) {
            Some(Fault::LightLeavesWindow) => Some(Missing::Part),
            Some(Fault::NoLight) => Some(Missing::All),
            _ => None,
        };
        self.guide.looks_at(now, missing, self.takes.is_off());
        self.guide.live(now, live.gap_mm.good().map(|(gap_mm, _)| gap_mm), knocked);
    }

    fn looks_at_takes(&mut self) {
        let stations = self.takes.stations();
        let taken: Vec<bool> = stations.rows().map(|(_, kept)| kept.is_some()).collect();
        let eyes = stations.rows().filter_map(|(_, kept)| {
            let take = &kept?.take;
            let first_pixel_mm = take.gap_mm - take.middle_mm;
            Some(Eye { sheet_mm: take.sheet_mm?, first_pixel_mm })
        });
        let eye = eyes.max_by(|a, b| a.sheet_mm.total_cmp(&b.sheet_mm));
        let (asked, tilt) = stations.emitter();
        let taken = Taken {
            observations: stations.observations(),
            taken,
            came_back: stations.came_back(),
            emitter_missing: asked && tilt.is_none(),
            looks: stations.looks(),
            seat_u_mm: Some(self.takes.seating_at_zero(self.takes.job().limits.seat.0).u_mm),
            eye,
        };
        self.guide.head_stands(self.takes.stands());
        self.guide.takes(taken);
        if matches!(self.guide.stage(), Stage::Over) && self.kept_at_end < self.takes.keeps() {
            self.kept_at_end = self.takes.keeps();
            self.left_as_it_is();
        }
    }

    /// What the guide tells goes to the record and to the user.
    fn keep(&mut self, told: Told) {
        let name = |at: Option<usize>| {
            at.and_then(|at| self.guide.station(at)).map(|station| station.name.clone())
        };
        let adjuster = |at: usize| self.guide.name_of(at).to_owned();
        if let Told::Observed { .. } = told {
            let hints = std::mem::take(&mut self.hints);
            self.said.retain(|said| !hints.contains(&said.says));
        }
        match told {
            Told::Advised { adjuster: which, turns, station, target_gap_mm } => {
                self.takes.put(Entry::Advised {
                    adjuster: adjuster(which),
                    turns: Turns(turns),
                    station: name(station),
                    target_gap: target_gap_mm.map(Mm),
                });
            }
            Told::Observed {
                adjuster: which,
                turns,
                station,
                before_mm,
                after_mm,
                predicted_mm,
                noticed,
            } => self.takes.put(Entry::Observed {
                adjuster: adjuster(which),
                turns: turns.map(Turns),
                station: name(station),
                before: before_mm.map(Mm),
                after: after_mm.map(Mm),
                predicted: predicted_mm.map(Mm),
                noticed,
            }),
            Told::Disproved { station } => {
                if let Some(station) = name(Some(station)) {
                    self.takes.put(Entry::StruckOut { station });
                }
                self.takes.forget(station);
            }
            Told::ReadsOtherwise => self.takes.put(Entry::Touched(Touched::ReadsOtherwise)),
            Told::Believed(board) => self.takes.believe(*board),
            Told::Judged => self.judged(),
            Told::NewRound => {
                self.takes.start_round();
                self.led_to = None;
                self.takes.put(Entry::Round(Phase::Between));
                self.say(say!("the adjusters are turned: take the stations again"), false);
            }
            Told::Over => self.over(),
            Told::Say { says, bad } => self.say(says, bad),
            Told::Unsaid(says) => self.said.retain(|said| said.says != says),
            Told::Hint { says, bad } => {
                self.hints.push(says.clone());
                self.say(says, bad);
            }
        }
    }

    fn judged(&mut self) {
        if let Some(answer) = self.guide.answer() {
            // What would settle it is said at the end: now the adjusters are turned.
            let (word, round) = (answer.word(), self.guide.round());
            let (board, image) = (self.guide.board(), self.guide.image());
            let plane = says::light(&answer.fit.plane, board, image);
            self.say(plane, false);
            let says = say!("round {round}: {} {}", word.shape(), word.shown());
            self.say(says, word != Verdict::Within);
        }
        self.takes.put(Entry::Judged(Box::new(self.takes.whole().clone())));
    }

    fn over(&mut self) {
        self.kept_at_end = self.takes.keeps();
        self.takes.is_turned_out();
        self.left_as_it_is();
        let whole = self.takes.whole_view();
        let bad = whole.verdict != skimgauge_model::Verdict::Within;
        self.say(whole.line(), bad);
        self.asks_for_dents();
    }

    /// The takes that stand are those of the installation as it is left.
    fn left_as_it_is(&mut self) {
        self.takes.put(Entry::AsLeft);
        self.takes.put(Entry::Judged(Box::new(self.takes.whole().clone())));
    }

    fn say(&mut self, says: Sentence, bad: bool) {
        let message = Message { says, bad, answers: Vec::new() };
        self.takes.tell(News::Guide(message.clone()));
        self.said.push(message);
        if self.said.len() > SAID {
            self.said.remove(0);
        }
    }

    /// What is to be done now steers the walk and the cue, and is told where it has changed.
    fn steers(&mut self) {
        for told in self.guide.drain() {
            self.keep(told);
        }
        let dial = match self.guide.stage() {
            Stage::Turn(turning) => turning.aim_mm().map(|(to_mm, within_mm)| Dial {
                to_mm,
                within_mm,
                far_mm: turning.predicted_mm().map_or(1.0, |mm| mm.abs().max(1.0)),
            }),
            _ => None,
        };
        let keeps = self.takes.keeps();
        // Led there once after each take: who then goes elsewhere wants to.
        let lead = self.wanted().filter(|to| self.led_to != Some((*to, keeps)));
        if lead.is_some() {
            self.led_to = lead.map(|to| (to, keeps));
        }
        let stage = shown::stage(self.guide.stage(), self.guide.advice());
        self.takes.steer(dial, lead, stage | u64::from(self.dents == Dents::Asked) << 41);
        self.tells_advice();
        self.draws();
    }

    /// Where something is to be done now.
    fn wanted(&self) -> Option<Stop> {
        match self.guide.advice() {
            Advice::Take { station } | Advice::Clip { station } => Some(Stop::Station(*station)),
            Advice::TakeEmitter => Some(Stop::Emitter),
            Advice::Begin | Advice::Turn { .. } | Advice::Survey | Advice::Over => None,
        }
    }

    fn tells_advice(&mut self) {
        let advice = self.advice();
        if self.told.as_ref().is_some_and(|told| shown::is_same(told, &advice)) {
            return;
        }
        self.told = Some(advice.clone());
        let says = self.advice_says();
        self.takes.tell(News::Advice { advice, says });
    }
}

impl Procedure for Trim {
    fn on(&mut self, now: Duration, input: Input) -> Vec<Output> {
        self.hear(now, input);
        if self.resuming && !self.takes.resumes() {
            self.resuming = false;
            if self.takes.stations().taken() == 0 {
                self.guide.takes_anew();
                if !self.takes.were_stale() {
                    self.takes.put(Entry::Phase(Phase::Between));
                }
            }
        }
        self.steers();
        self.takes.follows()
    }

    fn view(&self, now: Duration) -> View {
        self.shown(now)
    }
}
