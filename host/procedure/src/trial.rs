//! A head for tests, reading by reading, on a clock that the test moves: of this crate and of those
//! that run its procedures (feature `trial`).

use crate::input::{Answer, EventId, Input};
use crate::output::{Entry, News, Output};
use crate::takes::{Begin, Kept, Takes, unsurveyed};
use crate::view::Part;
use crate::view::trim::TrimView;
use crate::word::{Said, Speaker, Word};
use crate::{Procedure, View};
use skimgauge_jobfile::Job;
use skimgauge_model::{Place, Point};
use skimgauge_quantity::Style;
use skimgauge_session::{Arrived, Event, HeadIs, Told};
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::light::{Fault, Light, LightState, Trust};
use skimgauge_shared::message::{
    CalibrationCheck, Capabilities, Hello, PROTOCOL, Press, Pulse, Rate, Request, ResetCause,
    SCHEMA, SerialNumber, Token, Version,
};
use skimgauge_shared::reading::{Absence, Reading, Sample, TiltSteps};
use skimgauge_shared::sequence::{Placed, Position};
use skimgauge_shared::units::{CentiCelsius, Micrometres, Microseconds, Millivolts};
use std::time::Duration;

/// The day of all tests.
pub const TODAY: Date = Date { year: 2026, month: 6, day: 1 };
/// The head's.
pub const SERIAL: SerialNumber = SerialNumber([1; 16]);
/// What the head adds to a gap, um.
const STAND_OFF_UM: f64 = 30_500.0;
/// The gap comes to some 2.5 mm.
pub const SEATED: Sample<Micrometres> = Sample::Value(Micrometres(33_000));
/// The sheet's middle then.
const MIDDLE: Micrometres = Micrometres(2_100);
/// Off the board.
pub const OFF: Sample<Micrometres> = Sample::Absent(Absence::NoSpot);

/// A walk of the practice job with a head that is up.
pub struct Trial<P = Takes> {
    /// The procedure.
    pub takes: P,
    number: u32,
    /// Degrees that the head stands turned by; while it is in the hand it never rests.
    pub level_deg: f64,
    /// It never rests.
    pub in_hand: bool,
    /// What the eye says is wrong with the light.
    pub scan: Option<Fault>,
    /// What was kept so far.
    pub entries: Vec<Entry>,
    heard: String,
    over: bool,
}

/// The head, up and zeroed by its maker.
pub fn head() -> Box<HeadIs> {
    let mut calibration = Calibration::nominal(SERIAL);
    calibration.date = TODAY;
    let hello = Hello {
        protocol: PROTOCOL,
        schema: SCHEMA,
        firmware: Version { major: 0, minor: 1, patch: 0 },
        serial: Some(SERIAL),
        reset: ResetCause::Power,
        capabilities: Capabilities::BUZZER,
        at: Microseconds(0),
        made: 0,
        rate: Rate { per_second: 100, conversions: 2 },
        calibration: CalibrationCheck::Good,
        token: Token::NONE,
    };
    Box::new(HeadIs {
        hello,
        calibration: CalibrationState { check: CalibrationCheck::Good, calibration },
    })
}

impl Default for Trial {
    fn default() -> Self {
        Self::new()
    }
}

impl Trial {
    /// At the stations of the practice job.
    pub fn new() -> Self {
        Self::of(Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap())
    }

    /// At those of this job.
    pub fn of(job: Job) -> Self {
        Self::begun(|begin| Begin { job, ..begin })
    }

    /// Begun otherwise.
    pub fn begun(with: impl FnOnce(Begin) -> Begin) -> Self {
        Trial::at(Takes::new(with(begin())))
    }
}

/// What a trim's view has of its own.
pub fn part(view: &View) -> &TrimView {
    let Part::Trim(part) = &view.part else { panic!("{:?}", view.part) };
    part
}

/// The practice job, at a head.
pub fn begin() -> Begin {
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let board = unsurveyed(&job);
    Begin::new(job, board, TODAY, "port")
}

impl<P: Procedure> Trial<P> {
    /// At this procedure, with a head that is up.
    pub fn at(takes: P) -> Self {
        let mut trial = Self {
            takes,
            number: 0,
            level_deg: 0.0,
            in_hand: false,
            scan: None,
            heard: String::new(),
            entries: Vec::new(),
            over: false,
        };
        trial.on(Input::Head(Told::Head(Event::Up(head()))));
        trial
    }

    /// Something comes now; what follows is told and not carried out.
    pub fn on(&mut self, input: Input) -> Vec<Output> {
        let outputs = self.takes.on(self.now(), input);
        self.tell(&outputs);
        outputs
    }

    /// What is told is heard.
    pub fn tell(&mut self, outputs: &[Output]) {
        for output in outputs {
            self.over |= matches!(output, Output::End(_));
            if let Output::Tell(News::Message(message) | News::Guide(message)) = output {
                self.heard += &message.says.text(Style::default());
                self.heard.push('\n');
            }
        }
    }

    /// How it stands.
    pub fn view(&self) -> View {
        self.takes.view(self.now())
    }

    /// What is asked.
    pub fn question(&self) -> Option<String> {
        self.view().question.map(|question| question.asks.text(Style::default()))
    }

    /// The time.
    pub fn now(&self) -> Duration {
        Duration::from_millis(u64::from(self.number) * 10)
    }

    /// Where on the board the view has the user; `None` on the emitter.
    pub fn place(&self) -> Option<Point> {
        match self.view().place.unwrap().place {
            Place::Station(station) => Some(station.at),
            Place::Point(point) => Some(point),
            Place::Emitter => None,
        }
    }

    /// The head is taken off the board.
    pub fn lift(&mut self) {
        self.in_hand = true;
        self.read(OFF, 500);
        self.in_hand = false;
    }

    /// Readings for so long of a head that stands at this gap, mm; off the board without one.
    pub fn read_gap(&mut self, gap_mm: Option<f64>, ms: u32) {
        let seated = |gap_mm| Sample::Value(Micrometres((STAND_OFF_UM + 1e3 * gap_mm) as i32));
        self.read(gap_mm.map_or(OFF, seated), ms);
    }

    /// Readings with this stand-off for so long.
    pub fn read(&mut self, stand_off: Sample<Micrometres>, ms: u32) {
        for _ in 0..ms / 10 {
            self.number += 1;
            let number = self.number;
            let at = Microseconds::from_millis(u64::from(number) * 10);
            let arrival = self.now();
            // A live sensor's last digit moves.
            let jitter = Micrometres([0, 7, -6, 3, -4][number as usize % 5]);
            let sway = if self.in_hand { (f64::from(number) * 0.05).sin() } else { 0.0 };
            let level = ((self.level_deg + sway) * 16_384.0 / 90.0) as i16 + (number % 3) as i16;
            let light = if self.scan.is_some() { Light::No } else { Light::Seen };
            let wobble = Micrometres([0, -5, 4, 2][number as usize % 4]);
            let reading = Reading {
                sequence: number as u8,
                at_low_us: at.0 as u32,
                stand_off: stand_off.map(|s| s + jitter),
                middle: match self.scan {
                    None => Sample::Value(MIDDLE + wobble),
                    Some(_) => Sample::Absent(Absence::NoMiddle),
                },
                tilt: Sample::Value(TiltSteps { level, lean: (number % 2) as i16 }),
                state: LightState::new(self.scan, light, Trust::Sure, false),
            };
            let placed = Placed { position: Position { number, at }, lost: 0 };
            if number % 20 == 1 {
                let pulse = Pulse {
                    at,
                    made: number,
                    unsent: 0,
                    refused_frames: 0,
                    temperature: Sample::Value(CentiCelsius(2_000)),
                    supply: Sample::Value(Millivolts(5_000)),
                    tilt_status: 0,
                    latest_start_us: 0,
                };
                self.on(Input::Head(Told::Head(Event::Pulse(pulse))));
            }
            let arrived = Arrived { reading, placed, arrival };
            let outputs = self.on(Input::Head(Told::Head(Event::Reading(arrived))));
            self.follow(outputs);
            if number.is_multiple_of(10) {
                let outputs = self.on(Input::Tick);
                self.follow(outputs);
            }
        }
    }

    /// Off the board, a while in the hand, and on again, at rest.
    pub fn carry(&mut self) {
        self.in_hand = true;
        self.read(OFF, 500);
        self.in_hand = false;
        self.read(SEATED, 2_000);
    }

    /// Says something, lets the head say who it is, and keeps what follows. Takes that came of it.
    pub fn say(&mut self, word: Word) -> Vec<Kept> {
        let outputs = self.on(Input::Said(Said::by(Speaker::Keyboard, word)));
        self.follow(outputs)
    }

    /// The head's button.
    pub fn button(&mut self, press: Press) -> Vec<Kept> {
        let at = Microseconds::from_millis(u64::from(self.number) * 10);
        let outputs = self.on(Input::Head(Told::Head(Event::Button(press, at))));
        self.follow(outputs)
    }

    /// Carries out what follows, as a shell does. Takes that came of it.
    pub fn follow(&mut self, outputs: Vec<Output>) -> Vec<Kept> {
        let mut taken = Vec::new();
        for output in outputs {
            match output {
                Output::Ask(Request::Greet) => {
                    let outputs = self.on(Input::Head(Told::Head(Event::Same)));
                    taken.extend(self.follow(outputs));
                }
                Output::Keep(entry) => {
                    self.entries.push(entry.clone());
                    let mut id = [0; 32];
                    id[..4].copy_from_slice(&self.number.to_le_bytes());
                    let event = Some(EventId(id));
                    if let Entry::Take { kept, .. } = &entry {
                        taken.push(Kept { event, ..(**kept).clone() });
                    }
                    let answer = Answer::Kept { entry, event, place: Some(self.number) };
                    let outputs = self.on(Input::Record(answer));
                    taken.extend(self.follow(outputs));
                }
                _ => (),
            }
        }
        taken
    }

    /// Whether it has ended.
    pub fn is_over(&self) -> bool {
        self.over
    }

    /// Everything said since the last call.
    pub fn heard(&mut self) -> String {
        std::mem::take(&mut self.heard)
    }
}
