//! Movement: jumps, knocks, shaking, rest, bad spots, slow change.

use super::super::settle::{self, Context, State};
use super::super::trace::Point;
use super::{Observer, SCATTER_ASSUMED_MM, WINDOW_LEAST_S};
use skimgauge_shared::reading::Absence;

/// The state is judged every so many readings.
const JUDGED_EVERY: u32 = 5;
/// A knock is said until it has settled again, but no longer than this, s.
const KNOCK_SAID_S: f64 = 2.0;
/// Movement so soon after someone leant on the board is still theirs, s.
const LEANT_S: f64 = 2.0;
/// And no shorter than this, so that somebody sees it, s.
const KNOCK_SEEN_S: f64 = 0.8;
/// A jump between the last three readings and the ten before counts from this on, mm and degrees,
/// or from so many standard deviations.
const JUMP_MM: f64 = 0.06;
const JUMP_DEG: f64 = 0.08;
const JUMP_SIGMA: f64 = 8.0;
/// A head that was moved shows it so soon after the gap jumped, s.
const POSE_S: f64 = 0.3;
/// So many jumps to and fro within so long are no knock but shaking, s.
const SHAKES: usize = 3;
const SHAKING_S: f64 = 0.6;
/// The stand-off scatters like a bad spot from so many times its own scatter on, and from this on,
/// mm.
const ERRATIC_RATIO: f64 = 5.0;
const ERRATIC_MM: f64 = 0.08;
/// A stand-off that stays within so little while a spot is judged comes from a sensor that no
/// longer moves: what is left is the converter's own noise, where a live sensor's is ten times
/// that.
const STILL_SPOT_UM: i32 = 2;
/// And is said for so long after, s.
const STILL_SAID_S: f64 = 0.5;
/// A spot is judged over so long, s.
const SPOT_S: f64 = 0.2;
/// A creep of the gap counts from this on, mm a minute.
const CREEP_MM_PER_MIN: f64 = 0.03;
/// With such a change of temperature a creep is warm-up, K a minute; with ten times as much it is
/// warm-up anyway.
const WARMING_K_PER_MIN: f64 = 0.3;

/// A jump of the gap or the tilt.
#[derive(Debug, Clone, Copy)]
struct Jump {
    upward: bool,
    /// The head itself turned; the light before it, or the slide, moves without that.
    head_moved: bool,
}

impl Observer {
    pub(super) fn follow(&mut self, point: Point) {
        self.follow_spot(point);
        let shaken = self.shaken(point);
        if let Some(Jump { head_moved, .. }) =
            self.jump(|from, to, channel| self.trace.mean_back(from, to, channel))
            && !shaken
        {
            // Light that moves before a head at rest is an adjuster being turned; or the head's own
            // movement, which the inclinometer's filter shows a little later.
            let rested = self.rested_at_s.is_some_and(|t| point.at_s - t < 1.0);
            if head_moved {
                if rested {
                    self.knocked(point.at_s, self.rested_tilt);
                }
                self.rested_at_s = None;
            } else if rested {
                self.before_jump = self.rested_tilt.map(|tilt| (point.at_s, tilt));
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
            self.state = known.unwrap_or(if self.rested_at_s.is_some() {
                State::PlaneMoving
            } else {
                settling
            });
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
        self.moves += 1;
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
            self.trace.mean_back(from, to, |p| {
                p.tilt_udeg.map_or(f64::NAN, |t| f64::from(t[axis]) * 1e-6)
            })
        };
        Some([degrees(0)?, degrees(1)?])
    }

    /// Whether the last three readings stand apart from the ten before. `mean_back` gives a mean of
    /// the readings from the one so far back until before another.
    fn jump(
        &self,
        mean_back: impl Fn(usize, usize, &dyn Fn(&Point) -> f64) -> Option<f64>,
    ) -> Option<Jump> {
        let jump = |channel: &dyn Fn(&Point) -> f64| {
            let now = mean_back(0, 3, channel)?;
            Some(now - mean_back(3, 13, channel)?)
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

    /// Whether there were many jumps to and fro of late. They are looked for in readings of their
    /// own: each jump makes the trace begin anew, and what begins anew at every swing sees none
    /// of them turn.
    fn shaken(&mut self, point: Point) -> bool {
        let at_s = point.at_s;
        let follows = |last: &Point| (0.0..10.0 / self.rate_hz()).contains(&(at_s - last.at_s));
        if !self.swing.back().is_some_and(follows) {
            self.swing.clear();
        }
        if self.swing.len() == 13 {
            self.swing.pop_front();
        }
        self.swing.push_back(point);
        while self.jumps.front().is_some_and(|&(t, _)| at_s - t > SHAKING_S || t > at_s) {
            self.jumps.pop_front();
        }
        let mean_back = |from: usize, to: usize, channel: &dyn Fn(&Point) -> f64| {
            let points = self.swing.iter().rev().skip(from).take(to - from);
            (self.swing.len() >= to).then(|| points.map(channel).sum::<f64>() / (to - from) as f64)
        };
        if let Some(Jump { upward, .. }) = self.jump(mean_back) {
            match self.jumps.back_mut() {
                Some(last) if last.1 == upward => last.0 = at_s,
                _ => self.jumps.push_back((at_s, upward)),
            }
        }
        let shaken = self.shakes();
        if shaken {
            (self.knocked_at_s, self.before_jump) = (None, None);
        }
        shaken
    }

    fn shakes(&self) -> bool {
        self.jumps.len() >= SHAKES
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
            shaken: self.shakes(),
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
        let rests = match state {
            // Shaken, it stands where it stood if a long mean says so.
            State::Vibrating { .. } => self.mean_tilt(100),
            _ => self.tilt().map(|(now, _)| now).filter(|_| self.level_rests()),
        };
        let turned_deg = |before: [f64; 2]| {
            rests.map(|now| (0..2).map(|axis| (now[axis] - before[axis]).abs()).fold(0.0, f64::max))
        };
        let stands_as = |before: [f64; 2]| {
            turned_deg(before).is_some_and(|turned_deg| turned_deg < 0.7 * JUMP_DEG)
        };
        if self.displaced.is_some_and(stands_as) {
            self.displaced = None;
        }
        let knocked = self.knocked_at_s.is_some_and(|t| at_s - t < KNOCK_SAID_S);
        match state {
            State::Settled => {
                if self.state != State::Settled {
                    self.profile.interrupt();
                }
                self.rested_at_s = Some(at_s);
                self.rested_tilt = self.tilt().map(|(tilt, _)| tilt);
                if self.knocked_at_s.is_some_and(|t| at_s - t < KNOCK_SEEN_S) {
                    state = State::Knocked;
                } else {
                    self.knocked_at_s = None;
                }
            }
            // One knock does not swing for a whole window.
            State::Vibrating { .. } => {
                self.knocked_at_s = None;
                // No jump shows among so many.
                if let Some(before) =
                    self.rested_tilt.filter(|_| self.hold_knocks && !self.move_expected)
                    && turned_deg(before).is_some_and(|turned_deg| turned_deg > JUMP_DEG)
                {
                    self.displaced.get_or_insert(before);
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
        // The rate is measured, and wavers by a reading.
        if self.spots.len() + 2 < count {
            self.still_at_s = None;
            return;
        }
        // Root mean square step over root two, without the two largest: a single move of the slide
        // is two steps at most.
        let white = |channel: usize| {
            let steps = self
                .spots
                .iter()
                .zip(self.spots.iter().skip(1))
                .map(|(a, b)| f64::from(b[channel] - a[channel]));
            let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
            for square in steps.map(|s| s * s) {
                sum += square;
                if square > first {
                    (first, second) = (square, first);
                } else if square > second {
                    second = square;
                }
            }
            ((sum - first - second).max(0.0) / (2.0 * (self.spots.len() - 3) as f64)).sqrt()
        };
        let stand_off_mm = white(0) * 1e-3;
        let scale_mm = self.calibration.as_ref().map_or(0.0, |c| c.calibration.eye.scale.mm());
        let eye_mm = white(1) * 1e-4 * scale_mm;
        let quiet = self.quiet_stand_off_mm;
        if stand_off_mm > ERRATIC_MM.max(ERRATIC_RATIO * quiet.unwrap_or(0.0))
            && eye_mm < 0.5 * stand_off_mm
        {
            self.erratic_at_s = Some(point.at_s);
        }
        let (low, high) =
            self.spots.iter().fold((i32::MAX, i32::MIN), |(l, h), s| (l.min(s[0]), h.max(s[0])));
        let most_um = if self.spot_is_still() { 2 * STILL_SPOT_UM } else { STILL_SPOT_UM };
        if self.spots.len() >= 16 && high - low <= most_um {
            self.still_at_s = Some(point.at_s);
        }
        if self.state == State::Settled {
            let before = quiet.unwrap_or(stand_off_mm);
            self.quiet_stand_off_mm =
                Some((0.99 * before * before + 0.01 * stand_off_mm.powi(2)).sqrt());
        }
    }

    /// Whether the stand-off stands still, or did a moment ago: the converter's own noise may stir
    /// it once in a while.
    pub(super) fn spot_is_still(&self) -> bool {
        self.still_at_s.is_some_and(|t| self.last_at_s - t < STILL_SAID_S)
    }

    pub(super) fn warming_k_per_min(&self) -> Option<f64> {
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
            Some(mm_per_min) if warming > WARMING_K_PER_MIN => {
                Some(State::WarmingUp { mm_per_min })
            }
            Some(mm_per_min) => Some(State::Drifting { mm_per_min }),
            None if warming > 10.0 * WARMING_K_PER_MIN => {
                Some(State::WarmingUp { mm_per_min: 0.0 })
            }
            None => None,
        }
    }
}
