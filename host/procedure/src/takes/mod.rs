//! Takes: the head goes from station to station, what it says there is kept, and the whole is
//! judged.
//!
//! `stations` holds the walk and what was taken, `whole` judges it, `heard` is what the head
//! sends, `cue` what it is sent, `taking` and `coming` are what a press comes to, `held` is a take
//! on its way to the record, `record` what that answers, `owned` what a procedure that owns takes
//! tells them, `shown` the view.

mod assumed;
mod begin;
mod coming;
mod cue;
mod gate;
mod heard;
mod held;
mod kept;
mod near_band;
mod owned;
mod pointer;
mod record;
mod resumed;
mod said;
mod says;
mod shown;
pub(crate) mod stations;
mod taking;
#[cfg(test)]
mod tests;
mod whole;
mod zeroed;

pub use assumed::unsurveyed;
pub use begin::{Begin, ZeroedHere};
pub use kept::{EmitterTilt, Kept};
pub use resumed::{EarlierTake, Resumed};
pub use stations::{Stations, expanded};
pub use whole::{
    Settles, Settling, TiltVerdict, Undecided, Whole, about, contradiction, headline, remedy,
};

pub(crate) use shown::live_of;
pub(crate) use whole::TAKE_U_MM;
pub(crate) use whole::says::{AGAIN, SURVEY_IT};

use crate::input::Input;
use crate::output::{Message, News, Output};
use crate::situation::Numbered;
use crate::view::View;
use crate::word::{Said, Stop, Word};
use crate::{Entry, Procedure};
use coming::Asked;
pub(crate) use cue::Dial;
use gate::Gate;
use held::Held;
use pointer::Pointer;
use skimgauge_jobfile::Job;
use skimgauge_metrology::measure::{Arrival, At, Came, Limits, Live, Observer};
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::verdict::decide;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Mm, Sentence, say};
use skimgauge_session::{Counts, HeadIs, Trouble};
use skimgauge_shared::units::Microseconds;
use std::time::Duration;

/// A message to the user is shown for so long.
const MESSAGE_LASTS: Duration = Duration::from_secs(6);
/// For so long it is shown that something was taken.
const TAKEN_SHOWS: Duration = Duration::from_millis(1_500);

/// The link to the head.
#[derive(Debug, Clone, PartialEq)]
enum Link {
    /// Opened, nobody has answered yet.
    Greeting,
    /// The head is there.
    Up(Box<HeadIs>),
    /// The link is lost and is being looked for.
    Lost(Trouble),
}

/// What decides which words can be said and what they do.
#[derive(Debug, Clone, PartialEq)]
struct Situation {
    stop: Stop,
    up: bool,
    asked: Option<At>,
    saving: bool,
    keeps: u32,
    /// The trim's own part of it.
    stage: u64,
}

/// Takes at the stations of a job.
pub struct Takes {
    job: Job,
    board: Board,
    stations: Stations,
    link: Link,
    counts: Counts,
    message: Option<(Message, Duration)>,
    sound: bool,
    dial: Option<Dial>,
    /// What is on its way into the record: words are let go meanwhile.
    saving: Option<Sentence>,
    asks_who: bool,
    until_taken: bool,
    /// Takes and tilts kept so far.
    keeps: u32,
    kept_at: Option<Duration>,
    /// That seats scatter too much was said in this round.
    seats_said: bool,
    /// The adjusters bring it no further.
    turned_out: bool,
    observer: Observer,
    arrival: Arrival,
    gate: Gate,
    /// The head's button, when it was let go last, on the head's clock.
    button: Option<Microseconds>,
    asked: Option<Asked>,
    held: Option<Held>,
    /// Takes of an earlier run, until the user says whether they stand.
    resumed: Option<Resumed>,
    stale: bool,
    zeroed_here: Vec<ZeroedHere>,
    /// How seats scattered when the zero in force was found on this board, mm.
    zero_seats: Vec<Vec<f64>>,
    /// Whether a simulated head was heard, be it gone by now.
    pub(crate) is_simulated: bool,
    pointer: Pointer,
    /// How the head had come to the place of a take that could not be kept.
    unkept: Option<Came>,
    was_at: Stop,
    moves: u64,
    whole: Whole,
    cue_at: Duration,
    port: String,
    situation: Numbered<Situation>,
    stage: u64,
    out: Vec<Output>,
}

impl Takes {
    /// Begins.
    pub fn new(begin: Begin) -> Self {
        let Begin {
            job,
            board,
            today,
            port,
            asks_who,
            stood,
            sound,
            until_taken,
            resumed,
            zeroed_here,
            line_stays,
        } = begin;
        let limits = Limits {
            calibration_age_days: job.limits.calibration_age_days,
            temperature_c: job.limits.temperature,
            supply_least_v: job.limits.supply_least_v,
            ..Limits::default()
        };
        let mut stations = Stations::of(&job);
        stations.was_looked_at(resumed.as_ref().map_or(0, |resumed| resumed.looked));
        stations.line_stays(line_stays);
        let whole = stations.whole(&job, &board);
        let mut observer = Observer::new(limits, today);
        observer.hold_knocks(true);
        let mut arrival = Arrival::default();
        if let Some(at) = stood {
            arrival.stood(at);
        }
        let stop = stations.stop();
        let situation =
            Situation { stop, up: false, asked: None, saving: false, keeps: 0, stage: 0 };
        let situation = Numbered::from(situation);
        Self {
            observer,
            was_at: stop,
            arrival,
            gate: Gate::default(),
            button: None,
            asked: None,
            held: None,
            resumed: resumed.filter(Resumed::stands),
            stale: false,
            zeroed_here,
            zero_seats: Vec::new(),
            is_simulated: false,
            pointer: Pointer::default(),
            unkept: None,
            moves: 0,
            job,
            board,
            stations,
            link: Link::Greeting,
            counts: Counts::default(),
            message: None,
            sound,
            dial: None,
            saving: None,
            asks_who,
            until_taken,
            keeps: 0,
            kept_at: None,
            seats_said: false,
            turned_out: false,
            whole,
            cue_at: Duration::ZERO,
            port,
            situation,
            stage: 0,
            out: Vec::new(),
        }
    }

    /// The job.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// Stations and takes.
    pub fn stations(&self) -> &Stations {
        &self.stations
    }

    /// The verdict over everything.
    pub fn whole(&self) -> &Whole {
        &self.whole
    }

    /// How the head is now.
    pub(crate) fn live(&self, now: Duration) -> Live {
        self.with_pointer(now, self.observer.live(now.as_secs_f64()))
    }

    /// The live gap against the band: only a good number has a verdict.
    pub(crate) fn live_verdict(&self, live: &Live) -> Option<Verdict> {
        let (value, u) = live.gap_mm.good()?;
        Some(decide(Mm(value), Mm(expanded(u, None)), self.job.bands.gap))
    }

    /// What is being taken or saved just now.
    pub(crate) fn busy(&self) -> Option<Sentence> {
        self.held.as_ref().map(Held::what).or_else(|| self.saving.clone())
    }

    /// Whether a question waits for its answer.
    pub(crate) fn asks(&self) -> bool {
        self.asked.is_some()
    }

    /// Takes and tilts kept so far.
    pub(crate) fn keeps(&self) -> u32 {
        self.keeps
    }

    /// For the record, after everything before it.
    pub(crate) fn put(&mut self, entry: Entry) {
        self.out.push(Output::Keep(entry));
    }

    /// For whoever is told line by line.
    pub(crate) fn tell(&mut self, news: News) {
        self.out.push(Output::Tell(news));
    }

    fn ticks(&mut self, now: Duration) {
        let at = self.stations.stop();
        if at != self.was_at {
            // The head is on its way there; that is no knock.
            self.was_at = at;
            self.observer.expect_move();
        }
        if self.message.as_ref().is_some_and(|(_, until)| now > *until) {
            self.message = None;
        }
        if self.asked.as_ref().is_some_and(|asked| now > asked.until) {
            self.answered_no(now);
        }
        if !self.ask_who_again(now) {
            self.cues(now);
        }
    }

    /// Whether the head is off the board.
    pub(crate) fn is_off(&self) -> bool {
        self.arrival.is_off()
    }

    /// The station at which the head is known to stand, by its place in the walk.
    pub(crate) fn stands(&self) -> Option<usize> {
        let stays = self.arrival.stays_at().filter(|_| self.arrival.keeps_seat());
        let Some(At::Station(name)) = stays else { return None };
        self.stations.rows().position(|(station, _)| station.name == *name)
    }

    fn judge(&mut self) {
        self.whole = self.stations.whole(&self.job, &self.board);
        self.whole.turned_out = self.turned_out;
    }

    /// Whether the head is there.
    pub(crate) fn is_up(&self) -> bool {
        matches!(self.link, Link::Up(_))
    }

    /// Says something to the user for a while.
    pub(crate) fn say(&mut self, now: Duration, bad: bool, says: Sentence) {
        self.say_asking(now, Message { says, bad, answers: Vec::new() });
    }

    fn say_asking(&mut self, now: Duration, message: Message) {
        self.out.push(Output::Tell(News::Message(message.clone())));
        self.message = Some((message, now + MESSAGE_LASTS));
    }

    /// What follows, once it is looked whether what can be said has changed.
    pub(crate) fn follows(&mut self) -> Vec<Output> {
        self.situation.is(Situation {
            stop: self.stations.stop(),
            up: self.is_up(),
            asked: self.asked.as_ref().map(|asked| asked.at.clone()),
            saving: self.busy().is_some(),
            keeps: self.keeps,
            stage: self.stage + (u64::from(self.asks_as_left().is_some()) << 40),
        });
        std::mem::take(&mut self.out)
    }

    /// Whether a word was meant for what can be said now; said if it was not.
    pub(crate) fn is_of_now(&mut self, now: Duration, said: Said) -> bool {
        let gone = self.situation.is_gone(said.seen) && said.word != Word::Quit;
        if gone {
            let says = say!("Let go: it was meant for what stood here before. Look again.");
            self.say(now, true, says);
        }
        !gone
    }

    /// As [`Procedure::on`], with what follows left to be asked for with [`Self::follows`].
    pub(crate) fn hear(&mut self, now: Duration, input: Input) {
        match input {
            Input::Head(told) => self.told(now, told),
            Input::Said(said) if self.is_of_now(now, said) => self.said(now, said.word),
            Input::Said(_) => (),
            Input::Unread(why) => {
                self.said(now, Word::Unknown);
                self.say(now, true, why);
            }
            Input::Record(answer) => self.answered(now, answer),
            Input::Tick => self.ticks(now),
            Input::Unattended | Input::LeftOut(_) => (),
            Input::Ending => {
                if let Some(what) = self.busy() {
                    self.say(now, false, say!("Ends as soon as {what} is saved."));
                }
            }
            Input::Close => self.closes(),
        }
    }
}

impl Procedure for Takes {
    fn on(&mut self, now: Duration, input: Input) -> Vec<Output> {
        self.hear(now, input);
        self.follows()
    }

    fn view(&self, now: Duration) -> View {
        self.shown(now)
    }
}
