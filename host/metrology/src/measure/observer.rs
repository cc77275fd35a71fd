//! The one who watches a head: keeps its last readings, finds its faults, knows when it has settled.

use super::allan::{self, Running};
use super::fault::{Bearing, Channel, Fault};
use super::limits::{BoardTilt, Limits};
use super::settle::{self, Context, State};
use super::shown::Shown;
use super::take::{self, Circumstances, NotTaken, SCATTER_MOST_MM, Take};
use super::trace::{Point, Trace};
use super::trend::Trend;
use serde::{Deserialize, Serialize};
use skimgauge_shared::calibration::{CalibrationState, Date};
use skimgauge_shared::message::{Pulse, SerialNumber};
use skimgauge_shared::reading::{Absence, Reading, Sample, Tilt};
use skimgauge_shared::sequence::Placed;
use skimgauge_shared::units::{Microseconds, TenThousandths};
use std::collections::VecDeque;

/// Without a reading for so long the last one is stale, s.
pub const STALE_S: f64 = 0.3;
/// Without a pulse for so long, temperature and supply are not known, s.
const PULSE_STALE_S: f64 = 1.5;
/// Beyond this the eye is not trusted.
const EYE_TRUSTED: f64 = 0.8;
/// Bounds of a take's window, s.
const WINDOW_LEAST_S: f64 = 0.4;
const WINDOW_MOST_S: f64 = 2.0;
/// A mean this certain needs no longer window, mm: small beside what a good zero leaves (some 0.03 mm).
const SCATTER_AIM_MM: f64 = 0.004;
/// The live number is a mean over so long while nothing has settled, s.
const LIVE_S: f64 = 0.15;
/// The state is judged every so many readings.
const JUDGED_EVERY: u32 = 5;
/// A knock is said until it has settled again, but no longer than this, s.
const KNOCK_SAID_S: f64 = 2.0;
/// Movement so soon after someone leant on the board is still theirs, s.
const LEANT_S: f64 = 2.0;
/// And no shorter than this, so that somebody sees it, s.
const KNOCK_SEEN_S: f64 = 0.8;
/// A jump between the last three readings and the ten before counts from this on, mm and degrees, or from
/// so many standard deviations.
const JUMP_MM: f64 = 0.06;
const JUMP_DEG: f64 = 0.08;
const JUMP_SIGMA: f64 = 8.0;
/// A head that was moved shows it so soon after the gap jumped, s.
const POSE_S: f64 = 0.3;
/// So many jumps to and fro within so long are no knock but shaking, s.
const SHAKES: usize = 3;
const SHAKING_S: f64 = 0.6;
/// Before a head's own scatter is known it is taken as this, mm.
const SCATTER_ASSUMED_MM: f64 = 0.03;
/// The stand-off scatters like a bad spot from so many times its own scatter on, and from this on, mm.
const ERRATIC_RATIO: f64 = 5.0;
const ERRATIC_MM: f64 = 0.08;
/// A bad spot comes and goes: it is said for so long, s.
const ERRATIC_SAID_S: f64 = 2.0;
/// A stand-off that stays within so little while a spot is judged comes from a sensor that no longer moves: what is left
/// is the converter's own noise, where a live sensor's is ten times that.
const STILL_SPOT_UM: i32 = 2;
/// A spot is judged over so long, s.
const SPOT_S: f64 = 0.2;
/// The same number for so long is a frozen sensor, s.
const FROZEN_S: f64 = 0.25;
/// A creep of the gap counts from this on, mm a minute.
const CREEP_MM_PER_MIN: f64 = 0.03;
/// With such a change of temperature a creep is warm-up, K a minute; with ten times as much it is warm-up anyway.
const WARMING_K_PER_MIN: f64 = 0.3;
/// Standard uncertainty of the inclinometer's offsets after reversal, and of a head that had none, degrees.
const TILT_OFFSET_U_DEG: f64 = 0.01;
const TILT_OFFSET_NOMINAL_U_DEG: f64 = 0.6;
/// The inclinometer's step, degrees: 90 / 2^14.
const TILT_STEP_DEG: f64 = 90.0 / 16_384.0;
/// A tilt whose two halves differ by less than this is at rest, degrees: five times their own scatter.
const TILT_REST_DEG: f64 = 0.012;
/// Its filter lets neighbours hang together: this many readings count as one.
const TILT_CORRELATED: f64 = 8.0;
/// From so many takes on their middle tells how the board stands, to within what its own shape turns a head, degrees: a
/// board that bows by 1 mm over 1.3 m turns it by 0.17 at either edge.
const BOARD_TAKES: usize = 3;
const BOARD_SHAPE_DEG: f64 = 0.6;
/// A take by the head's own button is the last one settled before the press, not older than this, s.
const BUTTON_S: f64 = 1.0;

/// What the eye sees.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EyeView {
    /// `r`, -1 to 1; positive when the light is above the eye's centre (farther from the board).
    pub ratio: f64,
    /// Near enough to the centre for a take.
    pub centred: bool,
}

/// How the head is, at one moment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Live {
    /// Gap.
    pub gap_mm: Shown,
    /// Level.
    pub level_deg: Shown,
    /// Lean.
    pub lean_deg: Shown,
    /// What it does.
    pub state: State,
    /// What is wrong, gravest first.
    pub faults: Vec<Fault>,
    /// Whether a take can be made now, or why not.
    pub can_take: Result<(), NotTaken>,
    /// The eye; `None` on a head without one, or while it says nothing.
    pub eye: Option<EyeView>,
    /// Stand-off of the last reading, mm.
    pub stand_off_mm: Option<f64>,
    /// Temperature of the head, degrees Celsius.
    pub temperature_c: Option<f64>,
    /// How fast that rises, K a minute, where it is known to: a zero had better wait while it does.
    pub warming_k_per_min: Option<f64>,
    /// Supply of the head, V.
    pub supply_v: Option<f64>,
    /// Readings lost on the way since the head was greeted.
    pub lost: u64,
}

/// A jump of the gap or the tilt.
#[derive(Debug, Clone, Copy)]
struct Jump {
    upward: bool,
    /// The head itself turned; the light before it, or the slide, moves without that.
    head_moved: bool,
}

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
    same: [(i64, f64); 3],
    board: Vec<[f64; 2]>,

    pulse: Option<Pulse>,
    pulse_s: f64,

    trace: Trace,
    tilts: VecDeque<[i32; 2]>,
    profile: Running,
    quiet_stand_off_mm: Option<f64>,
    spots: VecDeque<[i32; 2]>,
    still_spot: bool,
    /// How the head stood before it was knocked off its seat: held until it stands so again, or is clipped anew.
    displaced: Option<[f64; 2]>,
    hold_knocks: bool,
    move_expected: bool,
    erratic_at_s: Option<f64>,
    jumps: VecDeque<(f64, bool)>,
    creep: Trend,
    warmth: Trend,

    state: State,
    since_judged: u32,
    changed_at_s: f64,
    /// When the head was last settled and has not moved since, whatever the light did.
    rested_at_s: Option<f64>,
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
            same: [(i64::MIN, 0.0); 3],
            board: Vec::new(),
            pulse: None,
            pulse_s: f64::NEG_INFINITY,
            trace: Trace::default(),
            tilts: VecDeque::new(),
            profile: Running::new(6_000),
            quiet_stand_off_mm: None,
            spots: VecDeque::new(),
            still_spot: false,
            displaced: None,
            hold_knocks: false,
            move_expected: false,
            erratic_at_s: None,
            jumps: VecDeque::new(),
            creep: Trend::default(),
            warmth: Trend::default(),
            state: State::Waiting,
            since_judged: 0,
            changed_at_s: 0.0,
            rested_at_s: None,
            knocked_at_s: None,
            before_jump: None,
            leant_at_s: None,
            candidate: None,
        }
    }

    /// Other limits from now on.
    pub fn set_limits(&mut self, limits: Limits) {
        self.limits = limits;
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
        self.still_spot = false;
        self.erratic_at_s = None;
        self.lost_spots.clear();
        self.jumps.clear();
        self.candidate = None;
        self.rested_at_s = None;
        self.knocked_at_s = None;
        self.before_jump = None;
        self.displaced = None;
        self.leant_at_s = None;
    }

    /// From now on a knock that left the head turned is held against it: no gap is good until it stands as before, or was
    /// taken off the board and clipped anew. Whoever asks for this tells of moves that are meant, by
    /// [`Observer::expect_move`].
    pub fn hold_knocks(&mut self, hold: bool) {
        self.hold_knocks = hold;
        self.displaced = None;
    }

    /// The head will now be taken to another place: its next move is no knock.
    pub fn expect_move(&mut self) {
        self.move_expected = true;
        self.displaced = None;
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

    /// The head told how it is.
    pub fn pulse(&mut self, pulse: &Pulse, now_s: f64) {
        if let Sample::Value(t) = pulse.temperature {
            self.warmth.push(pulse.at.seconds(), take::celsius(t));
        }
        self.pulse = Some(*pulse);
        self.pulse_s = now_s;
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
                // A patch loses the spot again and again; a head that is not on a board has none at all.
                if stand_off.absence() == Some(Absence::NoSpot) && self.trace.len() > 0 {
                    self.lost_spots.push_back(at_s);
                }
                if self.trace.len() > 0 {
                    self.restart();
                }
                self.spots.clear();
                self.still_spot = false;
                // Whatever comes after need not be the same seat.
                (self.rested_at_s, self.knocked_at_s, self.before_jump) = (None, None, None);
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
        // The quickest arrival so far tells how the two clocks stand; it may age by 200 ppm, more than crystals differ.
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
            reading.tilt.value().map(|t| i64::from(t.level.0) << 32 | i64::from(t.lean.0) & 0xFFFF_FFFF),
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

    fn follow(&mut self, point: Point) {
        self.follow_spot(point);
        if let Some(Jump { upward, head_moved }) = self.jump()
            && !self.shaken(point.at_s, upward)
        {
            // Light that moves before a head at rest is an adjuster being turned; or the head's own movement, which the
            // inclinometer's filter shows a little later.
            let rested = self.rested_at_s.is_some_and(|t| point.at_s - t < 1.0);
            if head_moved {
                if rested {
                    self.knocked(point.at_s, self.pose(3, 13));
                }
                self.rested_at_s = None;
            } else if rested {
                self.before_jump = self.pose(3, 13).map(|pose| (point.at_s, pose));
            }
            self.restart();
            self.trace.push(point);
            if self.tilts.len() > 3 {
                self.tilts.drain(..self.tilts.len() - 3);
            }
        }
        if let Some((at_s, before)) = self.before_jump {
            let now = self.pose(0, 3).unwrap_or(before);
            if (0..2).any(|axis| (now[axis] - before[axis]).abs() > JUMP_DEG) {
                self.knocked(point.at_s, Some(before));
                self.before_jump = None;
                self.restart();
                self.trace.push(point);
            } else if point.at_s - at_s > POSE_S {
                self.before_jump = None;
            }
        }
        if self.state == State::Waiting {
            let known = self.knocked_at_s.map(|_| State::Knocked);
            let settling = State::Settling { to_go_s: WINDOW_LEAST_S };
            self.state = known.unwrap_or(if self.rested_at_s.is_some() { State::PlaneMoving } else { settling });
        }
        self.creep.push(point.at_s, f64::from(point.gap_um) * 1e-3);
        if self.state == State::Settled {
            self.profile.push(point.gap_um);
        }
        self.since_judged += 1;
        if self.since_judged >= JUDGED_EVERY {
            self.since_judged = 0;
            self.judge(point.at_s);
        }
    }

    /// The head was moved from rest, where it stood so before.
    fn knocked(&mut self, at_s: f64, before: Option<[f64; 2]>) {
        self.rested_at_s = None;
        if std::mem::take(&mut self.move_expected) {
            return;
        }
        self.knocked_at_s = Some(at_s);
        if self.hold_knocks && self.displaced.is_none() {
            self.displaced = before;
        }
    }

    /// Tilt, degrees, as a mean of the points from `from` back to before `to`.
    fn pose(&self, from: usize, to: usize) -> Option<[f64; 2]> {
        let degrees = |axis: usize| {
            self.trace.mean_back(from, to, |p| p.tilt_udeg.map_or(f64::NAN, |t| f64::from(t[axis]) * 1e-6))
        };
        Some([degrees(0)?, degrees(1)?])
    }

    /// Whether the last three readings stand apart from the ten before.
    fn jump(&self) -> Option<Jump> {
        let jump = |channel: &dyn Fn(&Point) -> f64| {
            let now = self.trace.mean_back(0, 3, channel)?;
            Some(now - self.trace.mean_back(3, 13, channel)?)
        };
        let spread = (1.0_f64 / 3.0 + 0.1).sqrt();
        let quiet = self.quiet_mm().unwrap_or(SCATTER_ASSUMED_MM);
        let beyond = |jump: f64, least: f64| (jump.abs() > least).then_some(jump > 0.0);
        let axis = |axis: usize| {
            let degrees = |p: &Point| p.tilt_udeg.map_or(f64::NAN, |t| f64::from(t[axis]) * 1e-6);
            beyond(jump(&degrees)?, JUMP_DEG)
        };
        let least_mm = JUMP_MM.max(JUMP_SIGMA * quiet * spread);
        let turned = axis(0).or_else(|| axis(1));
        let upward = beyond(jump(&|p| f64::from(p.gap_um) * 1e-3)?, least_mm).or(turned)?;
        Some(Jump { upward, head_moved: turned.is_some() })
    }

    /// Whether this jump is one of many to and fro.
    fn shaken(&mut self, at_s: f64, upward: bool) -> bool {
        while self.jumps.front().is_some_and(|&(t, _)| at_s - t > SHAKING_S || t > at_s) {
            self.jumps.pop_front();
        }
        let turned = self.jumps.back().is_none_or(|&(_, before)| before != upward);
        match self.jumps.back_mut() {
            Some(last) if !turned => last.0 = at_s,
            _ => self.jumps.push_back((at_s, upward)),
        }
        let shaken = self.jumps.len() >= SHAKES;
        if shaken {
            self.knocked_at_s = None;
        }
        shaken
    }

    fn judge(&mut self, at_s: f64) {
        let window = self.quiet_window();
        let rate_hz = self.rate_hz();
        let fitted = self.last.is_some_and(|r| r.eye.absence() != Some(Absence::NotFitted));
        let context = Context {
            window,
            rate_hz,
            quiet_mm: self.quiet_mm(),
            since_change_s: at_s - self.changed_at_s,
            eye: fitted,
            leant: self.leant_at_s.is_some_and(|t| at_s - t < LEANT_S),
        };
        let mut state = settle::judge(&self.trace, context);
        if state == State::Settled {
            state = self.slow_change().unwrap_or(state);
        } else if !matches!(state, State::Settling { .. }) {
            self.creep.clear();
        }
        if state == State::Leaning && !context.leant {
            self.leant_at_s = Some(at_s);
        }
        let knocked = self.knocked_at_s.is_some_and(|t| at_s - t < KNOCK_SAID_S);
        match state {
            State::Settled => {
                if self.state != State::Settled {
                    self.profile.interrupt();
                }
                self.rested_at_s = Some(at_s);
                let stands_as = |before: [f64; 2]| {
                    let now = self.tilt().map_or(before, |(now, _)| now);
                    (0..2).all(|axis| (now[axis] - before[axis]).abs() < 0.7 * JUMP_DEG)
                };
                if self.displaced.is_some_and(stands_as) {
                    self.displaced = None;
                }
                if self.knocked_at_s.is_some_and(|t| at_s - t < KNOCK_SEEN_S) {
                    state = State::Knocked;
                } else {
                    self.knocked_at_s = None;
                }
            }
            _ if knocked => state = State::Knocked,
            _ => self.knocked_at_s = None,
        }
        self.state = state;
        if let Ok(take) = self.make_take() {
            self.candidate = Some(take);
        }
    }

    /// A bad spot shows in the stand-off alone; all else that moves also moves the eye.
    fn follow_spot(&mut self, point: Point) {
        let count = ((SPOT_S * self.rate_hz()) as usize).clamp(8, 100);
        while self.spots.len() >= count {
            self.spots.pop_front();
        }
        self.spots.push_back([point.stand_off_um, i32::from(point.eye_1e4)]);
        if self.spots.len() < count {
            self.still_spot = false;
            return;
        }
        // Root mean square step over root two, without the two largest: a single move of the slide is two steps at most.
        let white = |channel: usize| {
            let steps =
                self.spots.iter().zip(self.spots.iter().skip(1)).map(|(a, b)| f64::from(b[channel] - a[channel]));
            let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
            for square in steps.map(|s| s * s) {
                sum += square;
                if square > first {
                    (first, second) = (square, first);
                } else if square > second {
                    second = square;
                }
            }
            ((sum - first - second).max(0.0) / (2.0 * (count - 3) as f64)).sqrt()
        };
        let stand_off_mm = white(0) * 1e-3;
        let scale_mm = self.calibration.as_ref().map_or(0.0, |c| c.calibration.eye.scale.mm());
        let eye_mm = white(1) * 1e-4 * scale_mm;
        let quiet = self.quiet_stand_off_mm;
        if stand_off_mm > ERRATIC_MM.max(ERRATIC_RATIO * quiet.unwrap_or(0.0)) && eye_mm < 0.5 * stand_off_mm {
            self.erratic_at_s = Some(point.at_s);
        }
        let (low, high) = self.spots.iter().fold((i32::MAX, i32::MIN), |(l, h), s| (l.min(s[0]), h.max(s[0])));
        let most_um = if self.still_spot { 2 * STILL_SPOT_UM } else { STILL_SPOT_UM };
        self.still_spot = count >= 16 && high - low <= most_um;
        if self.state == State::Settled {
            let before = quiet.unwrap_or(stand_off_mm);
            self.quiet_stand_off_mm = Some((0.99 * before * before + 0.01 * stand_off_mm.powi(2)).sqrt());
        }
    }

    fn warming_k_per_min(&self) -> Option<f64> {
        self.warmth.per_minute().filter(|(k, u)| k.abs() > 4.0 * u).map(|(k, _)| k)
    }

    fn slow_change(&self) -> Option<State> {
        let warming = self.warming_k_per_min().map_or(0.0, f64::abs);
        let creep = self
            .creep
            .per_minute()
            .filter(|(slope, u)| slope.abs() > CREEP_MM_PER_MIN && slope.abs() > 5.0 * u)
            .map(|(slope, _)| slope);
        match creep {
            Some(mm_per_min) if warming > WARMING_K_PER_MIN => Some(State::WarmingUp { mm_per_min }),
            Some(mm_per_min) => Some(State::Drifting { mm_per_min }),
            None if warming > 10.0 * WARMING_K_PER_MIN => Some(State::WarmingUp { mm_per_min: 0.0 }),
            None => None,
        }
    }

    /// All that is wrong at `now_s`, gravest first.
    fn faults(&self, now_s: f64) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut add = |when: bool, fault: Fault| {
            if when && !faults.contains(&fault) {
                faults.push(fault);
            }
        };
        add(now_s - self.last_s > STALE_S, Fault::Stale);
        add(self.late, Fault::Late);
        if let Some(last) = self.last {
            for (channel, absence) in [
                (Channel::StandOff, last.stand_off.absence()),
                (Channel::Eye, last.eye.absence()),
                (Channel::Tilt, last.tilt.absence()),
            ] {
                if let Some(fault) = absence.and_then(|a| Fault::of_absence(channel, a)) {
                    add(true, fault);
                }
            }
            let same_for = |at: usize| self.last_at_s - self.same[at].1;
            add(last.stand_off.value().is_some() && (self.still_spot || same_for(0) > FROZEN_S), Fault::StandOffFrozen);
            add(last.eye.value().is_some() && same_for(1) > FROZEN_S, Fault::EyeFrozen);
            add(last.tilt.value().is_some() && same_for(2) > FROZEN_S, Fault::TiltFrozen);
            add(last.eye.value().is_some_and(|r| r.ratio().abs() > EYE_TRUSTED), Fault::EyeOffCentre);
        }
        match &self.calibration {
            None => add(true, Fault::CalibrationAwaited),
            Some(state) => {
                if let Some(fault) = Fault::of_calibration(state.check) {
                    add(true, fault);
                } else {
                    let calibration = &state.calibration;
                    add(self.head.is_some_and(|head| head != calibration.head), Fault::CalibrationOtherHead);
                    add(!calibration.plausible(), Fault::CalibrationDamaged);
                    let age_days = days(self.today) - days(calibration.date);
                    add(age_days as f64 > self.limits.calibration_age_days, Fault::CalibrationOverdue);
                }
            }
        }
        let erratic = self.erratic_at_s.is_some_and(|t| self.last_at_s - t < ERRATIC_SAID_S);
        add(erratic || self.lost_spots.len() >= 3, Fault::SpotErratic);
        if let Some((mean, _)) = self.tilt() {
            let board = self.board();
            let off = [mean[0] - board.level_deg, mean[1] - board.lean_deg];
            add(off.iter().any(|d| d.abs() > board.tolerance_deg), Fault::NotSeated);
        }
        add(self.knocked_at_s.is_some() || self.displaced.is_some(), Fault::Knocked);
        if let Some(v) = self.supply_v(now_s) {
            add(v < self.limits.supply_least_v, Fault::SupplyLow);
        }
        if let Some(t) = self.temperature_c(now_s) {
            let band = self.limits.temperature_c;
            add(t < band.low || t > band.high, Fault::TemperatureOutOfRange);
        }
        let (lost, kept) = self.recent.iter().fold((0, 0), |(l, k), r| (l + u64::from(r.1), k + 1_u64));
        add(kept >= 5 && lost * 9 > kept, Fault::ReadingsLost);
        faults.sort_unstable();
        faults
    }

    /// How the board stands: as the limits say, until enough takes have shown it better.
    fn board(&self) -> BoardTilt {
        let stated = self.limits.board;
        if self.board.len() < BOARD_TAKES {
            return stated;
        }
        let median = |axis: usize| {
            let mut tilts: Vec<f64> = self.board.iter().map(|t| t[axis]).collect();
            tilts.sort_by(f64::total_cmp);
            tilts[tilts.len() / 2]
        };
        let tolerance_deg = stated.tolerance_deg.min(BOARD_SHAPE_DEG);
        BoardTilt { level_deg: median(0), lean_deg: median(1), tolerance_deg }
    }

    /// Another board from now on.
    pub fn another_board(&mut self) {
        self.board.clear();
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

    /// Level and lean over the last readings, and their standard uncertainty, degrees: over as many as nothing has turned
    /// in, a second at most.
    fn tilt(&self) -> Option<([f64; 2], f64)> {
        const STRETCHES: [usize; 3] = [100, 50, 20];
        let still = STRETCHES.into_iter().find(|&count| count <= self.tilts.len() && self.tilt_rests(count));
        let count = self.tilts.len().min(still.unwrap_or(20));
        if count < 3 {
            return None;
        }
        let n = count as f64;
        let newest = || self.tilts.iter().rev().take(count);
        let mean = [0, 1].map(|axis| newest().map(|t| f64::from(t[axis])).sum::<f64>() / n * 1e-6);
        let variance = [0, 1]
            .map(|axis| newest().map(|t| (f64::from(t[axis]) * 1e-6 - mean[axis]).powi(2)).sum::<f64>() / (n - 1.0));
        let scatter = variance[0].max(variance[1]) * (TILT_CORRELATED / n).min(1.0);
        let zeroed = self.calibration.as_ref().is_some_and(|c| c.calibration.tilt_offset != Tilt::default());
        let offset = if zeroed { TILT_OFFSET_U_DEG } else { TILT_OFFSET_NOMINAL_U_DEG };
        Some((mean, (scatter + offset * offset + TILT_STEP_DEG * TILT_STEP_DEG / 12.0).sqrt()))
    }

    /// Whether the head did not turn over its last `count` tilts.
    fn tilt_rests(&self, count: usize) -> bool {
        let half = count / 2;
        let mean = |axis: usize, from: usize| {
            self.tilts.iter().rev().skip(from).take(half).map(|t| f64::from(t[axis]) * 1e-6).sum::<f64>() / half as f64
        };
        (0..2).all(|axis| (mean(axis, 0) - mean(axis, half)).abs() < TILT_REST_DEG)
    }

    /// Whether the tilt has been at rest for the last half second, wherever the head stands: enough for a level.
    pub fn level_rests(&self) -> bool {
        self.tilts.len() >= 50 && self.tilt_rests(50)
    }

    /// How the head is at `now_s`.
    pub fn live(&self, now_s: f64) -> Live {
        let faults = self.faults(now_s);
        let gone = faults.iter().any(|f| matches!(f, Fault::Stale | Fault::Late));
        let state = if gone { State::Waiting } else { self.state };
        let eye = self.eye_view().filter(|_| !gone);
        Live {
            gap_mm: self.gap(&faults, now_s),
            level_deg: self.tilt_shown(0, &faults),
            lean_deg: self.tilt_shown(1, &faults),
            state,
            can_take: self.can_take(&faults),
            eye,
            stand_off_mm: self.last.filter(|_| !gone).and_then(|r| r.stand_off.value()).map(|s| s.mm()),
            temperature_c: self.temperature_c(now_s),
            warming_k_per_min: self.warming_k_per_min(),
            supply_v: self.supply_v(now_s),
            lost: self.lost,
            faults,
        }
    }

    fn eye_view(&self) -> Option<EyeView> {
        let ratio = self.last?.eye.value()?.ratio();
        Some(EyeView { ratio, centred: ratio.abs() <= self.limits.eye_take_most })
    }

    fn gap(&self, faults: &[Fault], now_s: f64) -> Shown {
        let worst = |bearing: Bearing| faults.iter().copied().find(|f| f.bearing() == bearing);
        if let Some(why) = worst(Bearing::NoValue) {
            return Shown::Absent { why };
        }
        let settled = self.state == State::Settled;
        let wanted = if settled { self.window() } else { (LIVE_S * self.rate_hz()) as usize };
        let count = self.trace.len().min(wanted.max(3));
        let (Some(state), Some(value)) =
            (&self.calibration, self.trace.mean_back(0, count, |p| f64::from(p.gap_um) * 1e-3).filter(|_| count >= 3))
        else {
            return Shown::Absent { why: Fault::Starting };
        };
        if let Some(why) = worst(Bearing::Doubt) {
            return Shown::Doubtful { value, why };
        }
        let scatter = self
            .trace
            .summary(count, |p| f64::from(p.gap_um) * 1e-3)
            .map_or(SCATTER_ASSUMED_MM, |s| s.scatter.max(self.quiet_mm().unwrap_or(0.0)));
        let parts = Circumstances {
            calibration: &state.calibration,
            limits: &self.limits,
            gap_mm: value,
            eye_ratio: self.mean_eye(count),
            temperature_c: self.temperature_c(now_s),
        }
        .parts(crate::coverage::Share { u: scatter / (count as f64).sqrt(), dof: f64::INFINITY });
        Shown::Good { value, u: take::combine(&parts).0 }
    }

    fn tilt_shown(&self, axis: usize, faults: &[Fault]) -> Shown {
        let lacks = |f: &&Fault| {
            matches!(
                f,
                Fault::Stale
                    | Fault::Late
                    | Fault::InclinometerSilent
                    | Fault::InclinometerFrame
                    | Fault::InclinometerSelfTest
                    | Fault::TiltFrozen
                    | Fault::TiltOutOfRange
            )
        };
        if let Some(&why) = faults.iter().find(lacks) {
            return Shown::Absent { why };
        }
        match self.tilt() {
            Some((mean, u)) => Shown::Good { value: mean[axis], u },
            None => Shown::Absent { why: Fault::Starting },
        }
    }

    fn mean_eye(&self, count: usize) -> Option<f64> {
        self.last?.eye.value()?;
        self.trace.mean_back(0, count, |p| f64::from(p.eye_1e4) * 1e-4)
    }

    fn can_take(&self, faults: &[Fault]) -> Result<(), NotTaken> {
        if let Some(&fault) = faults.iter().find(|f| f.bearing() > Bearing::Notice) {
            return Err(NotTaken::Fault { fault });
        }
        self.settled_enough().map(|_| ())
    }

    /// The scatter of a take that could be made of the newest window.
    fn settled_enough(&self) -> Result<crate::coverage::Share, NotTaken> {
        let shakes = matches!(self.state, State::Vibrating { .. });
        if self.state != State::Settled && !shakes {
            return Err(NotTaken::Unsettled { state: self.state });
        }
        let window = self.window();
        let unsettled = NotTaken::Unsettled { state: self.state };
        if self.trace.len() < window {
            return Err(unsettled);
        }
        if let Some(ratio) = self.mean_eye(window)
            && ratio.abs() > self.limits.eye_take_most
        {
            return Err(NotTaken::OffCentre { ratio });
        }
        let octave = (window as u32).ilog2() as usize;
        let before =
            self.profile.deviation(octave).map(|um| um * 1e-3 * (f64::from(1_u32 << octave) / window as f64).sqrt());
        let scatter = take::scatter(&self.trace, window, before).ok_or(unsettled)?;
        // Shaking that the window averages away does no harm.
        if shakes && scatter.u > SCATTER_MOST_MM / 2.0 {
            return Err(unsettled);
        }
        if scatter.u > SCATTER_MOST_MM {
            return Err(NotTaken::Noisy { u_mm: scatter.u });
        }
        Ok(scatter)
    }

    /// Keep what the head says now.
    pub fn take(&mut self, now_s: f64) -> Result<Take, NotTaken> {
        let faults = self.faults(now_s);
        self.can_take(&faults)?;
        let mut take = self.make_take()?;
        take.temperature_c = self.temperature_c(now_s);
        take.notices = faults;
        if self.board.len() == 64 {
            self.board.remove(0);
        }
        self.board.push([take.level_deg, take.lean_deg]);
        Ok(take)
    }

    /// Keep what the head said just before its own button was pressed, which shakes it. `released` is the button's time
    /// on the head's clock. Falls back on what the head says now.
    pub fn take_by_button(&mut self, now_s: f64, released: Microseconds) -> Result<Take, NotTaken> {
        let now = self.take(now_s);
        let faults = self.faults(now_s);
        let stands_in_the_way = faults.iter().any(|&f| f.bearing() > Bearing::Notice && f != Fault::Knocked);
        match (now, &self.candidate) {
            (Ok(take), _) => Ok(take),
            (Err(_), Some(before))
                if !stands_in_the_way && (released.seconds() - before.head_at_s).abs() < BUTTON_S =>
            {
                Ok(Take { notices: faults.into_iter().filter(|&f| f != Fault::Knocked).collect(), ..before.clone() })
            }
            (Err(why), _) => Err(why),
        }
    }

    fn make_take(&self) -> Result<Take, NotTaken> {
        let scatter = self.settled_enough()?;
        let window = self.window();
        let unsettled = NotTaken::Unsettled { state: self.state };
        let mean = |channel: &dyn Fn(&Point) -> f64| self.trace.mean_back(0, window, channel).ok_or(unsettled);
        let (Some(state), Some((tilt, tilt_u_deg)), Some(last)) = (&self.calibration, self.tilt(), self.trace.last())
        else {
            return Err(unsettled);
        };
        let gap_mm = mean(&|p| f64::from(p.gap_um) * 1e-3)?;
        let eye_ratio = self.mean_eye(window);
        let temperature_c = self.temperature_c(self.last_s);
        let parts =
            Circumstances { calibration: &state.calibration, limits: &self.limits, gap_mm, eye_ratio, temperature_c }
                .parts(scatter);
        let (u_mm, dof) = take::combine(&parts);
        Ok(Take {
            gap_mm,
            u_mm,
            dof,
            parts,
            readings: window as u32,
            window_s: window as f64 / self.rate_hz(),
            head_at_s: last.at_s,
            stand_off_mm: mean(&|p| f64::from(p.stand_off_um) * 1e-3)?,
            eye_ratio,
            level_deg: tilt[0],
            lean_deg: tilt[1],
            tilt_u_deg,
            temperature_c,
            notices: Vec::new(),
        })
    }
}

/// The eye's ratio; none on a head without an eye; an error where it should say something and does not.
fn eye(sample: Sample<TenThousandths>) -> Result<Option<TenThousandths>, Absence> {
    match sample {
        Sample::Value(ratio) => Ok(Some(ratio)),
        Sample::Absent(Absence::NotFitted) => Ok(None),
        Sample::Absent(absence) => Err(absence),
    }
}

/// Days since a day long ago, in the Gregorian calendar.
fn days(date: Date) -> i64 {
    // March begins the year, so that a leap day is its last.
    let (year, month) = (i64::from(date.year), i64::from(date.month));
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let leap = year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400);
    year * 365 + leap + (153 * month + 2) / 5 + i64::from(date.day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_between_dates() {
        let day = |year, month, day| days(Date { year, month, day });
        assert_eq!(day(2024, 3, 1) - day(2024, 2, 28), 2);
        assert_eq!(day(2026, 3, 1) - day(2026, 2, 28), 1);
        assert_eq!(day(2026, 1, 1) - day(2025, 1, 1), 365);
        assert_eq!(day(2100, 3, 1) - day(2100, 2, 28), 1);
    }
}
