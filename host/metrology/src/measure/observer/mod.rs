//! The one who watches a head: keeps its last readings, finds its faults, knows when it has
//! settled.

use super::allan::{self, Running};
use super::limits::Limits;
use super::settle::State;
use super::take::{self, Take};
use super::trace::{Point, Trace};
use super::trend::Trend;
use skimgauge_shared::calibration::{CalibrationState, Date};
use skimgauge_shared::message::{Pulse, SerialNumber};
use skimgauge_shared::reading::{Absence, Reading, Sample};
use skimgauge_shared::sequence::Placed;
use skimgauge_shared::units::TenThousandths;
use std::collections::VecDeque;

mod doubt;
mod movement;
mod said;

pub use said::{EyeView, Live};

/// Without a reading for so long the last one is stale, s: with what a screen or a line takes,
/// shown within 0.3 s.
pub(super) const STALE_S: f64 = 0.25;
/// An answer as quick as this tells how the head's clock stands to the host's, s.
const QUICK_S: f64 = 0.04;
/// Without a pulse for so long, temperature and supply are not known, s.
const PULSE_STALE_S: f64 = 1.5;
/// Bounds of a take's window, s.
const WINDOW_LEAST_S: f64 = 0.4;
const WINDOW_MOST_S: f64 = 2.0;
/// A mean this certain needs no longer window, mm: small beside what a good zero leaves (some 0.03
/// mm).
const SCATTER_AIM_MM: f64 = 0.004;
/// Before a head's own scatter is known it is taken as this, mm.
const SCATTER_ASSUMED_MM: f64 = 0.03;

/// Watches one head.
#[derive(Debug, Clone)]
pub struct Observer {
    limits: Limits,
    today: Date,
    head: Option<SerialNumber>,
    calibration: Option<CalibrationState>,

    last: Option<Reading>,
    last_s: f64,
    last_at_s: f64,
    least_delay_s: Option<f64>,
    late: bool,
    lost: u64,
    recent: VecDeque<(f64, u32)>,
    lost_spots: VecDeque<f64>,
    moves: u64,
    same: [(i64, f64); 3],
    board: Vec<[f64; 2]>,

    pulse: Option<Pulse>,
    pulse_s: f64,

    trace: Trace,
    tilts: VecDeque<[i32; 2]>,
    profile: Running,
    quiet_stand_off_mm: Option<f64>,
    spots: VecDeque<[i32; 2]>,
    /// When the stand-off last stood still as no living sensor's does.
    still_at_s: Option<f64>,
    /// How the head stood before it was knocked off its seat: held until it stands so again, or is
    /// clipped anew.
    displaced: Option<[f64; 2]>,
    hold_knocks: bool,
    move_expected: bool,
    erratic_at_s: Option<f64>,
    jumps: VecDeque<(f64, bool)>,
    swing: VecDeque<Point>,
    creep: Trend,
    warmth: Trend,

    state: State,
    since_judged: u32,
    changed_at_s: f64,
    /// When the head was last settled and has not moved since, whatever the light did.
    rested_at_s: Option<f64>,
    /// How it stood then, degrees.
    rested_tilt: Option<[f64; 2]>,
    knocked_at_s: Option<f64>,
    /// When the gap jumped, and how the head stood before.
    before_jump: Option<(f64, [f64; 2])>,
    leant_at_s: Option<f64>,
    candidate: Option<Take>,
}

impl Observer {
    /// Nothing seen yet.
    pub fn new(limits: Limits, today: Date) -> Self {
        Self {
            limits,
            today,
            head: None,
            calibration: None,
            last: None,
            last_s: f64::NEG_INFINITY,
            last_at_s: 0.0,
            least_delay_s: None,
            late: false,
            lost: 0,
            recent: VecDeque::new(),
            lost_spots: VecDeque::new(),
            moves: 0,
            same: [(i64::MIN, 0.0); 3],
            board: Vec::new(),
            pulse: None,
            pulse_s: f64::NEG_INFINITY,
            trace: Trace::default(),
            tilts: VecDeque::new(),
            profile: Running::new(6_000),
            quiet_stand_off_mm: None,
            spots: VecDeque::new(),
            still_at_s: None,
            displaced: None,
            hold_knocks: false,
            move_expected: false,
            erratic_at_s: None,
            jumps: VecDeque::new(),
            swing: VecDeque::new(),
            creep: Trend::default(),
            warmth: Trend::default(),
            state: State::Waiting,
            since_judged: 0,
            changed_at_s: 0.0,
            rested_at_s: None,
            rested_tilt: None,
            knocked_at_s: None,
            before_jump: None,
            leant_at_s: None,
            candidate: None,
        }
    }

    /// The limits in force.
    pub fn limits(&self) -> &Limits {
        &self.limits
    }

    /// A head greeted: forget all readings, and the calibration if it is another head.
    pub fn greeted(&mut self, head: Option<SerialNumber>) {
        if head != self.head {
            *self = Self { head, ..Self::new(self.limits, self.today) };
        }
        self.link_broken();
    }

    /// The link was interrupted, or the rate changed: what follows does not continue what was.
    pub fn link_broken(&mut self) {
        self.last = None;
        self.last_s = f64::NEG_INFINITY;
        self.least_delay_s = None;
        self.late = false;
        self.recent.clear();
        self.pulse = None;
        self.restart();
        self.creep.clear();
        self.warmth.clear();
        self.tilts.clear();
        self.spots.clear();
        self.still_at_s = None;
        self.erratic_at_s = None;
        self.lost_spots.clear();
        self.jumps.clear();
        self.swing.clear();
        self.candidate = None;
        (self.rested_at_s, self.rested_tilt) = (None, None);
        self.knocked_at_s = None;
        self.before_jump = None;
        self.displaced = None;
        self.leant_at_s = None;
    }

    /// From now on a knock that left the head turned is held against it: no gap is good until it
    /// stands as before, or was taken off the board and clipped anew. Whoever asks for this
    /// tells of moves that are meant, by [`Observer::expect_move`].
    pub fn hold_knocks(&mut self, hold: bool) {
        self.hold_knocks = hold;
        self.displaced = None;
    }

    /// The head will now be taken to another place: its next move is no knock.
    pub fn expect_move(&mut self) {
        self.move_expected = true;
        (self.displaced, self.rested_tilt) = (None, None);
    }

    /// The head told its calibration.
    pub fn calibrated(&mut self, state: CalibrationState) {
        if self.calibration.as_ref() != Some(&state) {
            self.calibration = Some(state);
            self.restart();
            self.candidate = None;
        }
    }

    /// The calibration in use.
    pub fn calibration(&self) -> Option<&CalibrationState> {
        self.calibration.as_ref()
    }

    /// Counts the times that the head was seen to move while it was on the board: knocks, and moves
    /// that were expected.
    pub fn moves(&self) -> u64 {
        self.moves
    }

    /// The head told how it is.
    pub fn pulse(&mut self, pulse: &Pulse, now_s: f64) {
        if let Sample::Value(t) = pulse.temperature {
            self.warmth.push(pulse.at.seconds(), take::celsius(t));
        }
        self.pulse = Some(*pulse);
        self.pulse_s = now_s;
    }

    /// The head answered a question at `at_s` on its own clock, `took_s` after it was asked. A
    /// quick answer shows how the clocks stand now: a head whose clock stood still for a while,
    /// or a computer that slept, is not late for good.
    pub fn answered(&mut self, at_s: f64, took_s: f64, now_s: f64) {
        if took_s <= QUICK_S {
            let delay = now_s - at_s - took_s;
            self.least_delay_s = self.least_delay_s.map(|least| least.max(delay));
        }
    }

    /// A reading, placed in its stream, that arrived at `now_s`.
    pub fn reading(&mut self, reading: &Reading, placed: Placed, now_s: f64) {
        let at_s = placed.position.at.seconds();
        self.follow_arrival(placed, at_s, now_s);
        let broke = placed.lost > 20 || at_s < self.last_at_s;
        if broke {
            self.restart();
            self.tilts.clear();
        }
        self.last = Some(*reading);
        self.last_s = now_s;
        self.last_at_s = at_s;

        let tilt = reading.tilt.value().map(|t| [t.level.0, t.lean.0]);
        match tilt {
            Some(tilt) => {
                if self.tilts.len() == 128 {
                    self.tilts.pop_front();
                }
                self.tilts.push_back(tilt);
            }
            None => self.tilts.clear(),
        }
        self.follow_sameness(reading, at_s);

        match (reading.stand_off, eye(reading.eye), &self.calibration) {
            (Sample::Value(stand_off), Ok(ratio), Some(state)) => {
                let point = Point {
                    at_s,
                    gap_um: take::gap_um(&state.calibration, stand_off.0, ratio),
                    stand_off_um: stand_off.0,
                    eye_1e4: ratio.map_or(0, |r| r.0),
                    tilt_udeg: tilt,
                };
                self.trace.push(point);
                self.follow(point);
            }
            (stand_off, _, _) => {
                // A patch loses the spot again and again; a head that is not on a board has none at
                // all.
                if stand_off.absence() == Some(Absence::NoSpot) && self.trace.len() > 0 {
                    self.lost_spots.push_back(at_s);
                }
                if self.trace.len() > 0 {
                    self.restart();
                }
                self.spots.clear();
                self.still_at_s = None;
                // Whatever comes after need not be the same seat.
                (self.rested_at_s, self.rested_tilt) = (None, None);
                (self.knocked_at_s, self.before_jump) = (None, None);
                self.displaced = None;
                self.move_expected = false;
                self.state = State::Waiting;
            }
        }
        while self.lost_spots.front().is_some_and(|&t| at_s - t > 1.0) {
            self.lost_spots.pop_front();
        }
    }

    fn follow_arrival(&mut self, placed: Placed, at_s: f64, now_s: f64) {
        self.lost += u64::from(placed.lost);
        self.recent.push_back((at_s, placed.lost));
        while self.recent.front().is_some_and(|&(t, _)| at_s - t > 1.0 || t > at_s) {
            self.recent.pop_front();
        }
        // The quickest arrival so far tells how the two clocks stand; it may age by 200 ppm, more
        // than crystals differ.
        let delay = now_s - at_s;
        let elapsed = (at_s - self.last_at_s).clamp(0.0, 10.0);
        let least = self.least_delay_s.map_or(delay, |least| delay.min(least + 2e-4 * elapsed));
        self.least_delay_s = Some(least);
        self.late = delay - least > STALE_S;
    }

    fn follow_sameness(&mut self, reading: &Reading, at_s: f64) {
        let values = [
            reading.stand_off.value().map(|s| i64::from(s.0)),
            reading.eye.value().map(|r| i64::from(r.0)),
            reading
                .tilt
                .value()
                .map(|t| i64::from(t.level.0) << 32 | i64::from(t.lean.0) & 0xFFFF_FFFF),
        ];
        for (same, value) in self.same.iter_mut().zip(values) {
            match value {
                Some(value) if value == same.0 => {}
                Some(value) => *same = (value, at_s),
                None => *same = (i64::MIN, at_s),
            }
        }
    }

    /// Forget the readings of this stretch.
    fn restart(&mut self) {
        self.trace.clear();
        self.profile.interrupt();
        self.creep.clear();
        self.state = State::Waiting;
        self.since_judged = 0;
        self.changed_at_s = self.last_at_s;
    }

    fn quiet_mm(&self) -> Option<f64> {
        self.profile.deviation(5).and(self.profile.deviation(0)).map(|um| um * 1e-3)
    }

    fn rate_hz(&self) -> f64 {
        self.trace.rate_hz(50).filter(|r| r.is_finite() && *r > 0.0).unwrap_or(100.0)
    }

    /// Readings in a window of so long, s.
    fn readings_in(&self, seconds: f64) -> usize {
        ((seconds * self.rate_hz()).ceil() as usize).clamp(6, 900)
    }

    /// Readings in the window that the head's own noise asks for.
    fn quiet_window(&self) -> usize {
        let (least, most) = (self.readings_in(WINDOW_LEAST_S), self.readings_in(WINDOW_MOST_S));
        let quiet = self.quiet_mm();
        let white = || self.trace.summary(least, |p| f64::from(p.gap_um)).map(|s| s.white);
        let white = if quiet.is_none() { white() } else { None };
        allan::window(
            |octave| match quiet {
                Some(_) => self.profile.deviation(octave),
                None => white.map(|w| w / f64::from(1 << octave).sqrt()),
            },
            SCATTER_AIM_MM * 1e3,
            least,
            most,
        )
    }

    /// Readings in a take's window: shaking needs the longest.
    fn window(&self) -> usize {
        match self.state {
            State::Vibrating { .. } => self.readings_in(WINDOW_MOST_S),
            _ => self.quiet_window(),
        }
    }

    fn fresh_pulse(&self, now_s: f64) -> Option<&Pulse> {
        self.pulse.as_ref().filter(|_| now_s - self.pulse_s <= PULSE_STALE_S)
    }

    fn temperature_c(&self, now_s: f64) -> Option<f64> {
        self.fresh_pulse(now_s)?.temperature.value().map(take::celsius)
    }

    fn supply_v(&self, now_s: f64) -> Option<f64> {
        self.fresh_pulse(now_s)?.supply.value().map(|v| v.volts())
    }
}

/// The eye's ratio; none on a head without an eye; an error where it should say something and does
/// not.
fn eye(sample: Sample<TenThousandths>) -> Result<Option<TenThousandths>, Absence> {
    match sample {
        Sample::Value(ratio) => Ok(Some(ratio)),
        Sample::Absent(Absence::NotFitted) => Ok(None),
        Sample::Absent(absence) => Err(absence),
    }
}
