//! Jumps: a head that was knocked, light that moves before a head at rest, and shaking.
//!
//! The head is one rigid body. Where it moves, its inclinometer turns, or stand-off and light move
//! against each other and leave the gap; where the light alone moves an adjuster is being turned.

use super::super::settle::State;
use super::super::trace::Point;
use std::collections::VecDeque;

/// A knock is said until it has settled again, but no longer than this, s.
const SAID_S: f64 = 2.0;
/// And no shorter than this, so that somebody sees it, s.
const SEEN_S: f64 = 0.8;
/// A jump between the last three readings and the ten before counts from this on, mm and degrees,
/// or from so many standard deviations.
const JUMP_MM: f64 = 0.06;
const JUMP_DEG: f64 = 0.08;
const JUMP_SIGMA: f64 = 8.0;
pub(super) const NEW: usize = 3;
const OLD: usize = 10;
/// A head that was moved shows it so soon after the gap jumped, s.
const POSE_S: f64 = 0.3;
/// It rested if it did so within this, s.
const RESTED_S: f64 = 1.0;
/// So many jumps to and fro within so long are no knock but shaking, s.
const SHAKES: usize = 3;
const SHAKING_S: f64 = 0.6;
/// Points farther apart are no stretch, periods.
const APART: f64 = 10.0;

/// A jump of gap, tilt or stand-off.
#[derive(Debug, Clone, Copy)]
struct Jump {
    upward: bool,
    /// The head itself moved; the light before it moves without that.
    head_moved: bool,
}

/// What else is known of the head when it is judged whether it was knocked.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stand {
    /// How it stands now, degrees.
    pub now_deg: Option<[f64; 2]>,
    /// The same, if it rests so.
    pub rests_deg: Option<[f64; 2]>,
}

/// Watches for jumps.
#[derive(Debug, Clone, Default)]
pub(super) struct Knock {
    /// The newest points since the last jump.
    since: VecDeque<Point>,
    /// The newest points, whatever jumped: each jump makes `since` begin anew, and what begins anew
    /// at every swing sees none of them turn.
    swing: VecDeque<Point>,
    jumps: VecDeque<(f64, bool)>,
    moves: u64,
    /// How the head stood before it was knocked off its seat: held until it stands so again, or is
    /// clipped anew.
    displaced: Option<[f64; 2]>,
    hold: bool,
    expected: bool,
    /// When the head was last settled and has not moved since, whatever the light did.
    rested_at_s: Option<f64>,
    /// How it stood then, degrees.
    rested_deg: Option<[f64; 2]>,
    knocked_at_s: Option<f64>,
    /// When the gap jumped, and how the head stood before.
    before_jump: Option<(f64, [f64; 2])>,
}

impl Knock {
    /// From now on a knock that left the head turned is held against it.
    pub(super) fn hold(&mut self, hold: bool) {
        self.hold = hold;
        self.displaced = None;
    }

    /// Whether it does so.
    pub(super) fn holds(&self) -> bool {
        self.hold
    }

    /// The head's next move is no knock.
    pub(super) fn expect_move(&mut self) {
        self.expected = true;
        (self.displaced, self.rested_deg) = (None, None);
    }

    /// The head's moves while it was on the board.
    pub(super) fn moves(&self) -> u64 {
        self.moves
    }

    /// Whether it is to be said that the head was knocked.
    pub(super) fn is_said(&self) -> bool {
        self.knocked_at_s.is_some() || self.displaced.is_some()
    }

    /// The readings that come do not continue what was.
    pub(super) fn interrupt(&mut self) {
        self.since.clear();
        (self.rested_at_s, self.rested_deg) = (None, None);
        (self.knocked_at_s, self.before_jump) = (None, None);
    }

    /// The head left the board: what comes is another seat.
    pub(super) fn lifted(&mut self) {
        self.interrupt();
        self.displaced = None;
        self.expected = false;
    }

    /// The link was interrupted.
    pub(super) fn forget(&mut self) {
        let Self { hold, expected, moves, .. } = *self;
        *self = Self { hold, expected, moves, ..Self::default() };
    }

    /// The next reading's point, where one scatters by `quiet_mm`. Whether the stretch of readings
    /// that belong together begins anew with it.
    pub(super) fn follow(&mut self, point: Point, quiet_mm: f64, rate_hz: f64) -> bool {
        push(&mut self.since, point);
        let shaken = self.shaken(point, quiet_mm, rate_hz);
        let mut anew = false;
        if let Some(Jump { head_moved, .. }) = jump(&self.since, quiet_mm)
            && !shaken
        {
            // Light that moves before a head at rest is an adjuster being turned; or the head's own
            // movement, which the inclinometer's filter shows a little later.
            let rested = self.rested_at_s.is_some_and(|t| point.at_s - t < RESTED_S);
            if head_moved {
                if rested {
                    self.knocked(point.at_s, self.rested_deg);
                }
                self.rested_at_s = None;
            } else if rested {
                self.before_jump = self.rested_deg.map(|deg| (point.at_s, deg));
            }
            anew = true;
        }
        if let Some((at_s, before)) = self.before_jump {
            let now = pose(&self.since).unwrap_or(before);
            if (0..2).any(|axis| (now[axis] - before[axis]).abs() > JUMP_DEG) {
                self.knocked(point.at_s, Some(before));
                self.before_jump = None;
                anew = true;
            } else if point.at_s - at_s > POSE_S {
                self.before_jump = None;
            }
        }
        if anew {
            self.since.clear();
            self.since.push_back(point);
        }
        anew
    }

    /// The head was moved from rest, where it stood so before.
    fn knocked(&mut self, at_s: f64, before: Option<[f64; 2]>) {
        self.rested_at_s = None;
        self.moves += 1;
        if std::mem::take(&mut self.expected) {
            return;
        }
        self.knocked_at_s = Some(at_s);
        if self.hold && self.displaced.is_none() {
            self.displaced = before;
        }
    }

    /// Whether there were many jumps to and fro of late.
    fn shaken(&mut self, point: Point, quiet_mm: f64, rate_hz: f64) -> bool {
        let at_s = point.at_s;
        let follows = |last: &Point| (0.0..APART / rate_hz).contains(&(at_s - last.at_s));
        if !self.swing.back().is_some_and(follows) {
            self.swing.clear();
        }
        push(&mut self.swing, point);
        while self.jumps.front().is_some_and(|&(t, _)| at_s - t > SHAKING_S || t > at_s) {
            self.jumps.pop_front();
        }
        if let Some(Jump { upward, .. }) = jump(&self.swing, quiet_mm) {
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

    /// Whether it is being shaken.
    pub(super) fn shakes(&self) -> bool {
        self.jumps.len() >= SHAKES
    }

    /// What it does while nothing is known yet of a stretch.
    pub(super) fn at_first(&self, settling: State) -> State {
        match (self.knocked_at_s, self.rested_at_s) {
            (Some(_), _) => State::Knocked,
            (None, Some(_)) => State::PlaneMoving,
            (None, None) => settling,
        }
    }

    /// What it does, as judged from its readings alone, with what is known of knocks.
    pub(super) fn judged(&mut self, state: State, at_s: f64, stand: Stand) -> State {
        let Stand { now_deg, rests_deg } = stand;
        let turned_deg = |before: [f64; 2]| {
            rests_deg
                .map(|now| (0..2).map(|axis| (now[axis] - before[axis]).abs()).fold(0.0, f64::max))
        };
        let stands_as =
            |before: [f64; 2]| turned_deg(before).is_some_and(|turned| turned < 0.7 * JUMP_DEG);
        if self.displaced.is_some_and(stands_as) {
            self.displaced = None;
        }
        let within = |s: f64| self.knocked_at_s.is_some_and(|t| at_s - t < s);
        match state {
            State::Settled => {
                self.rested_at_s = Some(at_s);
                self.rested_deg = now_deg;
                if within(SEEN_S) {
                    return State::Knocked;
                }
                self.knocked_at_s = None;
            }
            // One knock does not swing for a whole window.
            State::Vibrating { .. } => {
                self.knocked_at_s = None;
                // No jump shows among so many.
                if let Some(before) = self.rested_deg.filter(|_| self.hold && !self.expected)
                    && turned_deg(before).is_some_and(|turned| turned > JUMP_DEG)
                {
                    self.displaced.get_or_insert(before);
                }
            }
            _ if within(SAID_S) => return State::Knocked,
            _ => self.knocked_at_s = None,
        }
        state
    }
}

fn push(points: &mut VecDeque<Point>, point: Point) {
    if points.len() == NEW + OLD {
        points.pop_front();
    }
    points.push_back(point);
}

/// Mean of the points from `from` back to before `to`, counted from the newest.
fn mean_back(
    points: &VecDeque<Point>,
    from: usize,
    to: usize,
    channel: &dyn Fn(&Point) -> f64,
) -> Option<f64> {
    let sum: f64 = points.iter().rev().skip(from).take(to - from).map(channel).sum();
    (points.len() >= to).then(|| sum / (to - from) as f64)
}

fn degrees(axis: usize) -> impl Fn(&Point) -> f64 {
    move |point| point.tilt_udeg.map_or(f64::NAN, |tilt| f64::from(tilt[axis]) * 1e-6)
}

/// The tilt of the newest points, degrees.
fn pose(points: &VecDeque<Point>) -> Option<[f64; 2]> {
    let axis = |axis: usize| mean_back(points, 0, NEW, &degrees(axis));
    Some([axis(0)?, axis(1)?])
}

/// Whether the newest points stand apart from those before.
fn jump(points: &VecDeque<Point>, quiet_mm: f64) -> Option<Jump> {
    let jump = |channel: &dyn Fn(&Point) -> f64| {
        Some(mean_back(points, 0, NEW, channel)? - mean_back(points, NEW, NEW + OLD, channel)?)
    };
    let spread = (1.0 / NEW as f64 + 1.0 / OLD as f64).sqrt();
    let least_mm = JUMP_MM.max(JUMP_SIGMA * quiet_mm * spread);
    let beyond = |jump: f64, least: f64| (jump.abs() > least).then_some(jump > 0.0);
    let turned = |axis: usize| beyond(jump(&degrees(axis))?, JUMP_DEG);
    let stand_off_mm = jump(&|p| f64::from(p.stand_off_um) * 1e-3)?;
    let gap_mm = jump(&|p| f64::from(p.gap_um) * 1e-3)?;
    // The body along the board's normal: the light in the eye moves against it, and the gap stays.
    let shifted =
        beyond(stand_off_mm, least_mm).filter(|_| gap_mm.abs() < 0.5 * stand_off_mm.abs());
    let head_moved = turned(0).or_else(|| turned(1)).or(shifted);
    let upward = beyond(gap_mm, least_mm).or(head_moved)?;
    Some(Jump { upward, head_moved: head_moved.is_some() })
}

#[cfg(test)]
mod tests {
    use super::*;

    const HZ: f64 = 90.0;
    const QUIET_MM: f64 = 0.015;

    /// A head that has settled, and then `then` for so many readings; the machine and how often a
    /// stretch began anew.
    fn after(then: impl Fn(usize) -> [i32; 3], count: usize) -> (Knock, u32) {
        let mut knock = Knock::default();
        let mut anew = 0;
        let mut feed = |knock: &mut Knock, k: usize, [stand_off, middle, lean]: [i32; 3]| {
            let noise = (k * k * 7 + k * 13) as i32 % 21 - 10;
            let point = Point {
                at_s: k as f64 / HZ,
                gap_um: stand_off + middle + noise,
                stand_off_um: stand_off + noise,
                middle_um: middle,
                sure: true,
                tilt_udeg: Some([0, lean]),
            };
            anew += u32::from(knock.follow(point, QUIET_MM, HZ));
        };
        for k in 0..50 {
            feed(&mut knock, k, [25_000, -22_000, 0]);
        }
        let rests = Stand { now_deg: Some([0.0; 2]), rests_deg: Some([0.0; 2]) };
        assert_eq!(knock.judged(State::Settled, 0.55, rests), State::Settled);
        for k in 0..count {
            feed(&mut knock, 50 + k, then(k));
        }
        (knock, anew)
    }

    #[test]
    fn a_head_that_turns_or_is_shifted_was_knocked() {
        for then in [[25_000, -22_000, 200_000], [25_150, -22_150, 0], [25_000, -21_800, 150_000]] {
            let (knock, anew) = after(|_| then, 20);
            assert!(knock.is_said() && knock.moves() == 1 && anew > 0, "{then:?}");
        }
    }

    #[test]
    fn light_that_moves_alone_is_an_adjuster() {
        let (knock, anew) = after(|k| [25_000, -22_000 - 20 * k.min(60) as i32, 0], 90);
        assert!(!knock.is_said() && knock.moves() == 0 && anew > 0);
        let (knock, anew) = after(|_| [25_000, -22_000, 0], 90);
        assert!(!knock.is_said() && anew == 0);
    }

    #[test]
    fn an_expected_move_counts_and_is_no_knock() {
        let mut knock = Knock::default();
        knock.hold(true);
        knock.expect_move();
        knock.knocked(1.0, Some([0.0; 2]));
        assert!(!knock.is_said() && knock.moves() == 1);
        knock.knocked(2.0, Some([0.0; 2]));
        assert!(knock.is_said() && knock.moves() == 2);
    }

    /// Settled, a knock is said for a moment all the same; and where it left the head turned, until
    /// it stands as before or was lifted.
    #[test]
    fn a_displaced_head_is_held_until_it_stands_as_before_or_is_lifted() {
        let turned = Stand { now_deg: Some([0.0, 0.2]), rests_deg: Some([0.0, 0.2]) };
        let back = Stand { now_deg: Some([0.0, 0.01]), rests_deg: Some([0.0, 0.01]) };
        let mut knock = Knock::default();
        knock.hold(true);
        knock.knocked(1.0, Some([0.0; 2]));
        assert_eq!(knock.judged(State::Settled, 1.5, turned), State::Knocked);
        assert_eq!(knock.judged(State::Settled, 2.5, turned), State::Settled);
        assert!(knock.is_said());
        knock.interrupt();
        assert!(knock.is_said(), "light that comes and goes is no new seat");
        knock.judged(State::Settled, 3.0, back);
        assert!(!knock.is_said());
        knock.knocked(4.0, Some([0.0; 2]));
        knock.lifted();
        assert!(!knock.is_said());
    }

    #[test]
    fn to_and_fro_is_shaking() {
        let swing = |k: usize| (80.0 * (k as f64 / HZ * 9.0 * std::f64::consts::TAU).sin()) as i32;
        let (knock, _) = after(|k| [25_000, -22_000 + 2 * swing(k), 1_000 * swing(k)], 60);
        assert!(knock.shakes() && !knock.is_said());
    }
}
