//! The state of a watch, and how it changes.

use super::stations::{EmitterTilt, Kept, Place, Stations, Whole};
use crate::lengths::Lengths;
use crate::port::link::Told;
use crate::port::session::{Counts, Event, HeadIs, Refused};
use crate::port::trouble::Trouble;
use skimgauge_job::Job;
use skimgauge_metrology::measure::seats::Seats;
use skimgauge_metrology::measure::{Limits, Live, NotTaken, Observer, Shown};
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::verdict::Verdict;
use skimgauge_record::chain::Hash;
use skimgauge_shared::calibration::Date;
use skimgauge_shared::message::{Cue, Press, Request};
use skimgauge_shared::units::Microseconds;
use std::time::Duration;

/// Messages kept for whoever prints them; nobody says so many between two looks.
const UNTOLD_MOST: usize = 64;
/// A message to the user is shown for so long.
const MESSAGE_LASTS: Duration = Duration::from_secs(6);
const CUE_EVERY: Duration = Duration::from_millis(200);
/// A gap this far from the band's middle, in band widths, is as far as the cue tells.
const CUE_FAR_WIDTHS: f64 = 2.0;

/// The link to the head.
#[derive(Debug, Clone, PartialEq)]
pub enum Link {
    /// Opened, nobody has answered yet.
    Greeting,
    /// The head is there.
    Up(Box<HeadIs>),
    /// The link is lost and is being looked for.
    Lost(Trouble),
}

/// Something said to the user for a while.
#[derive(Debug, Clone, PartialEq)]
pub struct Message {
    /// What.
    pub text: String,
    /// Bad news?
    pub bad: bool,
    until: Duration,
}

/// What the live gap should come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dial {
    /// The gap, mm.
    pub to_mm: f64,
    /// To within this, mm.
    pub within_mm: f64,
    /// So far off is as far as the cue tells, mm.
    pub far_mm: f64,
}

/// What the user says.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// Take here, and go on.
    Take,
    /// Take again, here or, where nothing is taken here yet, at the place taken last: the former take is replaced. A head
    /// that was lifted since may stand anywhere: then this only leads back there.
    Redo,
    /// Take from one more seat here: it stands beside what was taken. Where nothing is taken here yet, this leads back to
    /// the place taken last.
    More,
    /// To the next place.
    Next,
    /// To the one before.
    Back,
    /// To this place, counted from 0.
    Go(usize),
    /// The cue on or off.
    Sound,
    /// Enough.
    Quit,
}

/// What the shell must do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Write a take to the record, then call [`Watch::kept`] or [`Watch::not_kept`].
    Keep {
        /// The station's index.
        station: usize,
        /// What stands there with the take, which is the last of its seats.
        kept: Box<Kept>,
        /// The event that it replaces.
        supersedes: Option<Hash>,
    },
    /// Write the emitter's tilt to the record.
    KeepTilt(EmitterTilt),
    /// Ask the head.
    Ask(Request),
    /// End, with this error if there is one.
    Quit(Option<Trouble>),
}

/// A watch.
pub struct Watch {
    /// The job.
    pub job: Job,
    /// The board as far as it is known.
    pub board: Board,
    /// Stations and takes.
    pub stations: Stations,
    /// The link.
    pub link: Link,
    /// Readings counted.
    pub counts: Counts,
    /// There and back.
    pub round_trip: Option<Duration>,
    /// Bytes skipped and why, last.
    pub message: Option<Message>,
    /// Whether the head ticks.
    pub sound: bool,
    /// What the live gap should come to, where that is not the band's middle: the cue leads there.
    pub dial: Option<Dial>,
    /// The button and the word to take are for somebody else, who counts them here. `None`: they take.
    pub presses: Option<u32>,
    /// What lengths are shown in.
    pub units: Lengths,
    untold: Vec<Message>,
    observer: Observer,
    /// Where the user was at the last tick.
    was_at: Place,
    /// The observer's number of the seat that was taken last.
    taken_seat: Option<u64>,
    /// The link was broken since: nobody saw what became of the head.
    unseen: bool,
    whole: Whole,
    cue_at: Duration,
    port: String,
}

impl Watch {
    /// Begins.
    pub fn new(job: Job, board: Board, today: Date, port: &str) -> Self {
        let limits = Limits {
            calibration_age_days: job.limits.calibration_age_days,
            temperature_c: job.limits.temperature_c,
            supply_least_v: job.limits.supply_least_v,
            ..Limits::default()
        };
        let stations = Stations::of(&job);
        let whole = stations.whole(&job, &board);
        let mut observer = Observer::new(limits, today);
        observer.hold_knocks(true);
        Self {
            observer,
            was_at: stations.place(),
            taken_seat: None,
            unseen: false,
            job,
            board,
            stations,
            link: Link::Greeting,
            counts: Counts::default(),
            round_trip: None,
            message: None,
            untold: Vec::new(),
            sound: true,
            dial: None,
            presses: None,
            units: Lengths::default(),
            whole,
            cue_at: Duration::ZERO,
            port: port.to_owned(),
        }
    }

    /// The verdict over everything.
    pub fn whole(&self) -> &Whole {
        &self.whole
    }

    /// How the head is now.
    pub fn live(&self, now: Duration) -> Live {
        self.observer.live(now.as_secs_f64())
    }

    /// The live gap against the band: only a good number has a verdict.
    pub fn live_verdict(&self, live: &Live) -> Option<Verdict> {
        let (value, u) = live.gap_mm.good()?;
        Some(Verdict::of(value, super::stations::expanded(u, None), self.job.bands.gap_mm))
    }

    /// Something came from the head, or from its link.
    pub fn told(&mut self, now: Duration, told: Told) -> Vec<Effect> {
        let now_s = now.as_secs_f64();
        match told {
            Told::Lost(trouble) => {
                self.unseen = true;
                if let Trouble::Refused { why, .. } = &trouble
                    && matches!(why, Refused::Protocol { .. } | Refused::NotAHead { .. })
                    && !matches!(self.link, Link::Lost(_))
                {
                    return vec![Effect::Quit(Some(trouble))];
                }
                if !matches!(&self.link, Link::Lost(known) if *known == trouble) {
                    self.say(now, true, trouble.to_string());
                }
                self.observer.link_broken();
                self.link = Link::Lost(trouble);
            }
            Told::Counts(counts) => self.counts = counts,
            Told::NotRecorded(why) => {
                self.say(now, true, format!("The recording ends here: it cannot be written ({why}). Takes go on."));
            }
            Told::End => return vec![Effect::Quit(None)],
            Told::Head(event) => return self.heard(now, now_s, event),
        }
        Vec::new()
    }

    fn heard(&mut self, now: Duration, now_s: f64, event: Event) -> Vec<Effect> {
        match event {
            Event::Up(head) => {
                if matches!(self.link, Link::Lost(_)) {
                    let serial = head.hello.serial.map_or_else(|| "The head".to_owned(), |serial| serial.to_string());
                    self.say(now, false, format!("{serial} is back."));
                }
                self.observer.greeted(head.hello.serial);
                self.observer.calibrated(head.calibration.clone());
                self.link = Link::Up(head);
            }
            Event::Reading(arrived) => {
                self.observer.reading(&arrived.reading, arrived.placed, arrived.arrival.as_secs_f64());
            }
            Event::Pulse(pulse) => self.observer.pulse(&pulse, now_s),
            Event::Button(press, at) => {
                return match press {
                    Press::Short => self.take(now, Some(at), false),
                    Press::Long => self.again(now, Some(at), false),
                };
            }
            Event::RoundTrip { took, at } => {
                self.round_trip = Some(took);
                self.observer.answered(at.seconds(), took.as_secs_f64(), now_s);
            }
            Event::ClockJumped => {
                self.observer.link_broken();
                let text = "The head's clock jumped: it restarted, or this computer slept. Let it settle again.";
                self.say(now, true, text.to_owned());
            }
            Event::LastWords(words) => {
                self.say(
                    now,
                    true,
                    format!("The head had restarted by itself after a fault at {words}. Please report it."),
                );
            }
            Event::Refused(why) => {
                let first = matches!(self.link, Link::Greeting);
                let trouble = Trouble::Refused { port: self.port.clone(), why };
                // Plugged back in, a port may need a moment; the first time it is an answer.
                if first {
                    return vec![Effect::Quit(Some(trouble))];
                }
            }
            Event::Codes(_) | Event::Answer(_) | Event::Log(_) | Event::Skipped { .. } => (),
        }
        Vec::new()
    }

    /// The user said something.
    pub fn said(&mut self, now: Duration, said: Said) -> Vec<Effect> {
        match said {
            Said::Take => return self.take(now, None, false),
            Said::Redo => return self.again(now, None, false),
            Said::More => return self.again(now, None, true),
            Said::Next => self.stations.step(true),
            Said::Back => self.stations.step(false),
            Said::Go(to) => self.stations.go(to),
            Said::Sound => {
                self.sound = !self.sound;
                self.cue_at = now + CUE_EVERY;
                return vec![Effect::Ask(Request::Cue(Cue::Silent))];
            }
            Said::Quit => return vec![Effect::Quit(None)],
        }
        Vec::new()
    }

    /// Everything said since this was last asked, in order: a screen shows the last of it, lines tell it all.
    pub fn take_untold(&mut self) -> Vec<Message> {
        std::mem::take(&mut self.untold)
    }

    /// Time passed.
    pub fn tick(&mut self, now: Duration) -> Vec<Effect> {
        let at = self.stations.place();
        if at != self.was_at {
            // The head is on its way there; that is no knock.
            self.was_at = at;
            self.observer.expect_move();
        }
        if self.message.as_ref().is_some_and(|message| now > message.until) {
            self.message = None;
        }
        if !self.sound || now < self.cue_at || !matches!(self.link, Link::Up(_)) {
            return Vec::new();
        }
        self.cue_at = now + CUE_EVERY;
        vec![Effect::Ask(Request::Cue(self.cue(now)))]
    }

    /// A take is in the record.
    pub fn kept(&mut self, now: Duration, station: usize, kept: Kept) {
        let name = self.stations.rows().nth(station).map_or("", |(at, _)| &at.name);
        let (text, bad) = taken(name, &kept);
        if self.unseen || self.taken_seat == Some(self.observer.seat()) {
            self.stations.keep(station, kept);
        } else {
            self.stations.keep_anew(station, kept);
        }
        self.seen_taken();
        self.stations.on_to_missing();
        self.judge();
        self.say(now, bad, text);
    }

    /// The emitter's tilt is in the record.
    pub fn kept_tilt(&mut self, now: Duration, tilt: EmitterTilt) {
        self.stations.keep_emitter(tilt);
        self.seen_taken();
        self.stations.on_to_missing();
        self.judge();
        self.say(now, false, "emitter: tilt taken".to_owned());
    }

    /// What may be said of a station with this take, which is not kept yet: nothing where it contradicts the others.
    pub fn told_with(&self, station: usize, kept: &Kept) -> Verdict {
        let mut stations = self.stations.clone();
        stations.keep(station, kept.clone());
        stations.whole(&self.job, &self.board).told(kept.verdict)
    }

    /// A take could not be written: it does not count.
    pub fn not_kept(&mut self, now: Duration, why: &str) {
        self.say(now, true, format!("NOT taken: {why}"));
    }

    /// All takes begin anew: an adjuster was turned.
    pub fn start_round(&mut self) {
        self.stations.clear();
        self.judge();
    }

    fn judge(&mut self) {
        self.whole = self.stations.whole(&self.job, &self.board);
    }

    fn again(&mut self, now: Duration, button: Option<Microseconds>, beside: bool) -> Vec<Effect> {
        let stands_there = !self.unseen && self.taken_seat == Some(self.observer.seat());
        if self.presses.is_none() && self.stations.back_to_last() && (beside || !stands_there) {
            let name = self.stations.name();
            let text = if beside {
                format!("Back at {name}: lift the head, clip it on there again, then take one more.")
            } else {
                format!("Back at {name}: the head was moved since. Put it there, then redo.")
            };
            self.say(now, false, text);
            return Vec::new();
        }
        self.take(now, button, beside)
    }

    fn seen_taken(&mut self) {
        self.taken_seat = Some(self.observer.seat());
        self.unseen = false;
    }

    fn take(&mut self, now: Duration, button: Option<Microseconds>, beside: bool) -> Vec<Effect> {
        if let Some(presses) = &mut self.presses {
            *presses += 1;
            return Vec::new();
        }
        if !matches!(self.link, Link::Up(_)) {
            self.say(now, true, "NOT taken: the head is not connected".to_owned());
            return Vec::new();
        }
        let station = match self.stations.place() {
            Place::Station(station) => station,
            Place::Emitter => return self.take_tilt(now),
        };
        let beside = beside && self.stations.here().is_some();
        if beside && self.taken_seat == Some(self.observer.seat()) {
            let text = "NOT taken: the head still stands as it did. Lift it off the board, clip it on again, then take one more.";
            self.say(now, true, text.to_owned());
            return Vec::new();
        }
        let now_s = now.as_secs_f64();
        let taken = match button {
            Some(released) => self.observer.take_by_button(now_s, released),
            None => self.observer.take(now_s),
        };
        match taken {
            Ok(take) => {
                let supersedes = self.stations.here().filter(|_| !beside).and_then(|kept| kept.event);
                let kept = self.stations.with(station, take, beside, self.job.bands.gap_mm);
                kept.map(|kept| Effect::Keep { station, kept: Box::new(kept), supersedes }).into_iter().collect()
            }
            Err(why) => {
                self.refuse(now, &why);
                Vec::new()
            }
        }
    }

    fn take_tilt(&mut self, now: Duration) -> Vec<Effect> {
        let live = self.live(now);
        match (live.level_deg, live.lean_deg) {
            (Shown::Good { value: level_deg, u: u_level }, Shown::Good { value: lean_deg, u: u_lean }) => {
                vec![Effect::KeepTilt(EmitterTilt { level_deg, lean_deg, u_deg: u_level.max(u_lean) })]
            }
            (level, lean) => {
                let why = level.why().or(lean.why());
                let text = why
                    .map_or("the tilt is not known".to_owned(), |why| format!("{} {}", why.sentence(), why.remedy()));
                self.say(now, true, format!("NOT taken: {text}"));
                Vec::new()
            }
        }
    }

    fn refuse(&mut self, now: Duration, why: &NotTaken) {
        self.say(now, true, format!("NOT taken: {why}"));
    }

    /// Says something to the user for a while.
    pub fn say(&mut self, now: Duration, bad: bool, text: String) {
        let message = Message { text, bad, until: now + MESSAGE_LASTS };
        if self.untold.len() < UNTOLD_MOST {
            self.untold.push(message.clone());
        }
        self.message = Some(message);
    }

    fn cue(&self, now: Duration) -> Cue {
        let live = self.live(now);
        let Some((gap_mm, _)) = live.gap_mm.good() else { return Cue::Doubtful };
        if let Some(dial) = self.dial {
            let off_mm = (gap_mm - dial.to_mm).abs();
            let nearness = ((1.0 - off_mm / dial.far_mm.max(dial.within_mm)).clamp(0.0, 1.0) * 255.0) as u8;
            return if off_mm <= dial.within_mm { Cue::There } else { Cue::Seek { nearness } };
        }
        if self.live_verdict(&live) == Some(Verdict::Within) {
            return Cue::There;
        }
        let band = self.job.bands.gap_mm;
        let away = (gap_mm - band.middle()).abs() / (band.width() * CUE_FAR_WIDTHS);
        Cue::Seek { nearness: ((1.0 - away).clamp(0.0, 1.0) * 255.0) as u8 }
    }
}

/// A take as the user is told of it, and whether that is bad news.
fn taken(name: &str, kept: &Kept) -> (String, bool) {
    let gap_mm = kept.seats.last().map_or(kept.take.gap_mm, |seat| seat.gap_mm);
    let text = format!("{name}: {gap_mm:.2} mm taken");
    let mean = format!("{} seats, mean {:.2} mm", kept.seats.len(), kept.take.gap_mm);
    match kept.agree {
        _ if kept.seats.len() < 2 => (text, false),
        Seats::Agreeing => (format!("{text}; {mean}"), false),
        Seats::Differing { range_mm } => (
            format!(
                "{text}; {mean}, but they differ by {range_mm:.2} mm: wipe the board and the feet there, and take it anew"
            ),
            true,
        ),
    }
}
