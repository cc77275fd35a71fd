//! The state of a watch, and how it changes.

use super::gate::Gate;
use super::said::{Dial, Effect, Link, Message, Said};
use super::stations::{EmitterTilt, Kept, Place, Stations, Whole};
use super::taking::{Asked, Held};
use super::ways::Ways;
use crate::lengths::Lengths;
use skimgauge_jobfile::Job;
use skimgauge_metrology::measure::seats::Seats;
use skimgauge_metrology::measure::{Arrival, At, Came, Limits, Live, Observer};
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::verdict::decide;
use skimgauge_model::Verdict;
use skimgauge_quantity::Mm;
use skimgauge_session::Told;
use skimgauge_session::Trouble;
use skimgauge_session::{Counts, Event, HeadIs, Refused};
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
    /// The button and the word to take are for somebody else, who counts them here. `None`: they
    /// take.
    pub presses: Option<u32>,
    /// What lengths are shown in.
    pub units: Lengths,
    /// How the user says things.
    pub ways: Ways,
    /// What is on its way into the record, if anything is: keys and presses are let go meanwhile.
    pub storing: Option<String>,
    /// A head that answers is asked who it is before a take of it is kept. A recording answers
    /// nothing.
    pub asks_who: bool,
    /// Takes and tilts kept so far.
    pub keeps: u32,
    pub(super) observer: Observer,
    pub(super) arrival: Arrival,
    pub(super) gate: Gate,
    /// The head's button, when it was let go last, on the head's clock.
    pub(super) button: Option<Microseconds>,
    pub(super) asked: Option<Asked>,
    pub(super) held: Option<Held>,
    /// How the head had come to the place of a take that could not be kept.
    pub(super) unkept: Option<Came>,
    untold: Vec<Message>,
    /// Where the user was at the last tick.
    was_at: Place,
    moves: u64,
    whole: Whole,
    cue_at: Duration,
    port: String,
}

impl Watch {
    /// Begins.
    pub fn new(job: Job, board: Board, today: Date, port: &str) -> Self {
        let limits = Limits {
            calibration_age_days: job.limits.calibration_age_days,
            temperature_c: job.limits.temperature,
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
            arrival: Arrival::default(),
            gate: Gate::default(),
            button: None,
            asked: None,
            held: None,
            unkept: None,
            moves: 0,
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
            ways: Ways::default(),
            storing: None,
            asks_who: true,
            keeps: 0,
            whole,
            cue_at: Duration::ZERO,
            port: port.to_owned(),
        }
    }

    /// In an earlier run the head was last known to stand here.
    pub fn stood(&mut self, at: At) {
        self.arrival.stood(at);
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
        Some(decide(Mm(value), Mm(super::stations::expanded(u, None)), self.job.bands.gap))
    }

    /// Something came from the head, or from its link.
    pub fn told(&mut self, now: Duration, told: Told) -> Vec<Effect> {
        let now_s = now.as_secs_f64();
        match told {
            Told::Lost(trouble) => {
                self.arrival.blind();
                if let Trouble::Refused { why, .. } = &trouble
                    && matches!(why, Refused::Protocol { .. } | Refused::NotAHead { .. })
                    && !matches!(self.link, Link::Lost(_))
                {
                    return vec![Effect::Quit(Some(trouble))];
                }
                self.let_go_of_held(now);
                if !matches!(&self.link, Link::Lost(known) if *known == trouble) {
                    self.say(now, true, trouble.to_string());
                }
                self.observer.link_broken();
                self.link = Link::Lost(trouble);
            }
            Told::Counts(counts) => self.counts = counts,
            Told::NotRecorded(why) => {
                self.say(
                    now,
                    true,
                    format!("The recording ends here: it cannot be written ({why}). Takes go on."),
                );
            }
            Told::End => return vec![Effect::Quit(None)],
            Told::Head(event) => return self.heard(now, now_s, event),
        }
        Vec::new()
    }

    fn heard(&mut self, now: Duration, now_s: f64, event: Event) -> Vec<Effect> {
        match event {
            Event::Up(head) => {
                if let Some(trouble) = self.not_the_jobs(&head) {
                    return vec![Effect::Quit(Some(trouble))];
                }
                if matches!(self.link, Link::Lost(_)) {
                    let serial = head
                        .hello
                        .serial
                        .map_or_else(|| "The head".to_owned(), |serial| serial.to_string());
                    self.say(now, false, format!("{serial} is back."));
                }
                self.observer.greeted(head.hello.serial);
                self.observer.calibrated(head.calibration.clone());
                self.link = Link::Up(head);
            }
            Event::Same => return self.held.take().map(|held| held.effect).into_iter().collect(),
            Event::Reading(arrived) => {
                let (reading, at_s) = (&arrived.reading, arrived.placed.position.at.seconds());
                self.observer.reading(reading, arrived.placed, arrived.arrival.as_secs_f64());
                self.arrival.reading(reading.stand_off.absence(), at_s);
                if std::mem::replace(&mut self.moves, self.observer.moves()) < self.moves {
                    self.arrival.moved();
                }
            }
            Event::Pulse(pulse) => self.observer.pulse(&pulse, now_s),
            Event::Button(press, at) => {
                return match press {
                    Press::Short => self.press(now, &Said::Take, Some(at)),
                    Press::Long => match self.answered_yes(now, Some(at)) {
                        Some(effects) => effects,
                        None => self.press(now, &Said::Redo, Some(at)),
                    },
                };
            }
            Event::RoundTrip { took, at } => {
                self.round_trip = Some(took);
                self.observer.answered(at.seconds(), took.as_secs_f64(), now_s);
            }
            Event::ClockJumped => {
                self.observer.link_broken();
                self.arrival.blind();
                self.let_go_of_held(now);
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
        if matches!(said, Said::Take | Said::Redo | Said::More) {
            return self.press(now, &said, None);
        }
        if let Some(effects) = self.is_on_emitter(now, &said) {
            return effects;
        }
        if said == Said::Yes
            && let Some(effects) = self.answered_yes(now, None)
        {
            return effects;
        }
        self.answered_no(now);
        let moves = matches!(said, Said::Next | Said::Back | Said::Go(_));
        if moves && self.lets_go_while_storing(now) {
            return Vec::new();
        }
        match said {
            Said::Next => self.stations.step(true),
            Said::Back => self.stations.step(false),
            Said::Go(to) if to >= self.stations.rows().len() && !self.stations.emitter().0 => {
                let text = "This job asks for no tilt of the emitter: its file has no band for level or lean.";
                self.say(now, true, text.to_owned());
            }
            Said::Go(to) => self.stations.go(to),
            Said::Take | Said::Redo | Said::More | Said::Yes | Said::Other => (),
            Said::Sound => {
                self.sound = !self.sound;
                self.cue_at = now + CUE_EVERY;
                return vec![Effect::Ask(Request::Cue(Cue::Silent))];
            }
            Said::Quit => return vec![Effect::Quit(None)],
        }
        Vec::new()
    }

    /// Everything said since this was last asked, in order: a screen shows the last of it, lines
    /// tell it all.
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
        if self.asked.as_ref().is_some_and(|asked| now > asked.until) {
            self.answered_no(now);
        }
        if let Some(request) = self.ask_who_again(now) {
            return vec![Effect::Ask(request)];
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
        self.keeps = self.keeps.saturating_add(1);
        // What came back from another seat speaks for the board, not for a slip.
        if kept.came == Came::Same {
            self.stations.keep(station, kept);
        } else {
            self.stations.keep_anew(station, kept);
        }
        self.stations.on_to_missing();
        self.judge();
        self.say(now, bad, text);
    }

    /// The emitter's tilt is in the record.
    pub fn kept_tilt(&mut self, now: Duration, tilt: EmitterTilt) {
        self.keeps = self.keeps.saturating_add(1);
        self.stations.keep_emitter(tilt);
        self.stations.on_to_missing();
        self.judge();
        self.say(now, false, "emitter: tilt taken".to_owned());
    }

    /// All takes begin anew: an adjuster was turned.
    pub fn start_round(&mut self) {
        self.stations.clear();
        self.judge();
    }

    fn judge(&mut self) {
        self.whole = self.stations.whole(&self.job, &self.board);
    }

    /// Why this head may not be used: the job file asks for another.
    fn not_the_jobs(&self, head: &HeadIs) -> Option<Trouble> {
        let wanted = self.job.head.as_ref()?.serial.trim();
        let found = head.hello.serial.map(|serial| serial.to_string());
        let same = found.as_ref().is_some_and(|found| found.eq_ignore_ascii_case(wanted));
        (!same).then(|| Trouble::NotTheJobs {
            port: self.port.clone(),
            found,
            wanted: wanted.to_owned(),
        })
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
            let nearness =
                ((1.0 - off_mm / dial.far_mm.max(dial.within_mm)).clamp(0.0, 1.0) * 255.0) as u8;
            return if off_mm <= dial.within_mm { Cue::There } else { Cue::Seek { nearness } };
        }
        if self.live_verdict(&live) == Some(Verdict::Within) {
            return Cue::There;
        }
        let band = self.job.bands.gap;
        let away = (Mm(gap_mm) - band.middle()).abs() / (band.width() * CUE_FAR_WIDTHS);
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
