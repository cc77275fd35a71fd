//! The readings of one stretch, and whether they have come to rest.

use super::super::allan::{self, Running};
use super::super::settle::{self, Context, State};
use super::super::trace::{Point, Trace};
use super::super::trend::Trend;
use super::steady::{Stands, Steady};

/// Bounds of a take's window, s.
pub(super) const WINDOW_LEAST_S: f64 = 0.4;
const WINDOW_MOST_S: f64 = 2.0;
/// The live number is a mean over no more than this while nothing has settled, s; while it is shaken,
/// over no less: a mean of less would swing with it.
const LIVE_S: f64 = 0.15;
/// A mean this certain needs no longer window, mm: small beside what a good zero leaves (some 0.02
/// mm).
const SCATTER_AIM_MM: f64 = 0.004;
/// Before a head's own scatter is known it is taken as this, mm.
const SCATTER_ASSUMED_MM: f64 = 0.03;
/// Readings a second, before they were counted.
const RATE_HZ: f64 = 90.0;
/// The state is judged every so many readings.
const JUDGED_EVERY: u32 = 4;
/// At rest for so long it has come to rest, s.
const RESTED_S: f64 = 0.4;
/// Movement so soon after someone leant on the board is still theirs, s.
const LEANT_S: f64 = 2.0;
/// A creep of the gap counts from this on, mm a minute.
const CREEP_MM_PER_MIN: f64 = 0.03;
/// With such a change of temperature a creep is warm-up, K a minute; with ten times as much it is
/// warm-up anyway.
const WARMING_K_PER_MIN: f64 = 0.3;
/// The head's own scatter is of about so many of its last readings.
const NOISE_OF: u32 = 6_000;

/// Follows one stretch of readings after the other.
#[derive(Debug, Clone)]
pub(super) struct Settling {
    pub(super) trace: Trace,
    noise: Running,
    creep: Trend,
    steady: Steady,
    state: State,
    since_judged: u32,
    changed_at_s: f64,
    /// Since when it rests, and whether it did so for long enough in this stretch.
    rests_at_s: Option<f64>,
    rested: bool,
    leant_at_s: Option<f64>,
}

impl Default for Settling {
    fn default() -> Self {
        Self {
            trace: Trace::default(),
            noise: Running::new(NOISE_OF),
            creep: Trend::default(),
            steady: Steady::default(),
            state: State::Waiting,
            since_judged: 0,
            changed_at_s: 0.0,
            rests_at_s: None,
            rested: false,
            leant_at_s: None,
        }
    }
}

impl Settling {
    /// The stretch ends here.
    pub(super) fn restart(&mut self, at_s: f64) {
        self.trace.clear();
        self.noise.interrupt();
        self.creep.clear();
        self.steady.clear();
        self.state = State::Waiting;
        self.since_judged = 0;
        self.changed_at_s = at_s;
        (self.rests_at_s, self.rested) = (None, false);
    }

    /// The link was interrupted; what is known of the head's own noise stays.
    pub(super) fn forget(&mut self, at_s: f64) {
        self.restart(at_s);
        self.leant_at_s = None;
    }

    /// The next reading's point. Whether it is time to judge.
    pub(super) fn push(&mut self, point: Point, at_first: impl Fn(State) -> State) -> bool {
        self.trace.push(point);
        if self.state == State::Waiting {
            self.state = at_first(State::Settling { to_go_s: WINDOW_LEAST_S });
        }
        self.creep.push(point.at_s, f64::from(point.gap_um) * 1e-3);
        let live = (LIVE_S * self.rate_hz()) as usize;
        let (least, most) = match self.state {
            State::Settled => (0, self.window()),
            State::Vibrating { .. } => (live, live),
            _ => (0, live),
        };
        self.steady.follow(&self.trace, least, most, self.noise_of_one_mm());
        if self.state == State::Settled {
            self.noise.push(point.gap_um);
        }
        self.since_judged += 1;
        let due = self.since_judged >= JUDGED_EVERY;
        if due {
            self.since_judged = 0;
        }
        due
    }

    /// What it does, by the stretch alone.
    pub(super) fn judge(&mut self, at_s: f64, shaken: bool, warming_k_per_min: f64) -> State {
        let context = Context {
            window: self.quiet_window(),
            rate_hz: self.rate_hz(),
            quiet_mm: self.quiet_mm(),
            since_change_s: at_s - self.changed_at_s,
            rested: self.rested,
            shaken,
            leant: self.leant_at_s.is_some_and(|t| at_s - t < LEANT_S),
        };
        let mut state = settle::judge(&self.trace, context);
        self.rests_at_s = (state == State::Settled).then(|| self.rests_at_s.unwrap_or(at_s));
        self.rested |= self.rests_at_s.is_some_and(|since_s| at_s - since_s >= RESTED_S);
        if state == State::Settled {
            state = self.slow_change(warming_k_per_min).unwrap_or(state);
        } else if !matches!(state, State::Settling { .. }) {
            self.creep.clear();
        }
        if state == State::Leaning && !context.leant {
            self.leant_at_s = Some(at_s);
        }
        state
    }

    /// What it does, all considered.
    pub(super) fn is(&mut self, state: State) {
        if state == State::Settled && self.state != State::Settled {
            self.noise.interrupt();
        }
        self.state = state;
    }

    /// The live number.
    pub(super) fn stands(&self) -> Option<Stands> {
        self.steady.stands()
    }

    /// How one reading scatters, as far as it is known, mm.
    pub(super) fn noise_of_one_mm(&self) -> f64 {
        self.quiet_mm().unwrap_or(SCATTER_ASSUMED_MM)
    }

    pub(super) fn state(&self) -> State {
        self.state
    }

    fn slow_change(&self, warming_k_per_min: f64) -> Option<State> {
        let creep = self
            .creep
            .per_minute()
            .filter(|(slope, u)| slope.abs() > CREEP_MM_PER_MIN && slope.abs() > 5.0 * u)
            .map(|(slope, _)| slope);
        match creep {
            Some(mm_per_min) if warming_k_per_min > WARMING_K_PER_MIN => {
                Some(State::WarmingUp { mm_per_min })
            }
            Some(mm_per_min) => Some(State::Drifting { mm_per_min }),
            None if warming_k_per_min > 10.0 * WARMING_K_PER_MIN => {
                Some(State::WarmingUp { mm_per_min: 0.0 })
            }
            None => None,
        }
    }

    /// The head's own scatter of one reading, mm, once it is known.
    pub(super) fn quiet_mm(&self) -> Option<f64> {
        self.noise.deviation(5).and(self.noise.deviation(0)).map(|um| um * 1e-3)
    }

    /// What averages over `2^octave` readings were seen to scatter by, mm.
    pub(super) fn noise_mm(&self, octave: usize) -> Option<f64> {
        self.noise.deviation(octave).map(|um| um * 1e-3)
    }

    pub(super) fn rate_hz(&self) -> f64 {
        self.trace.rate_hz(50).filter(|r| r.is_finite() && *r > 0.0).unwrap_or(RATE_HZ)
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
                Some(_) => self.noise.deviation(octave),
                None => white.map(|w| w / f64::from(1 << octave).sqrt()),
            },
            SCATTER_AIM_MM * 1e3,
            least,
            most,
        )
    }

    /// Readings in a take's window: shaking needs the longest.
    pub(super) fn window(&self) -> usize {
        match self.state {
            State::Vibrating { .. } => self.readings_in(WINDOW_MOST_S),
            _ => self.quiet_window(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HZ: f64 = 90.0;

    /// Judged as it comes: the states, one a reading, and the machine.
    fn run(seconds: f64, gap_um: impl Fn(f64) -> f64) -> (Settling, Vec<State>) {
        let mut settling = Settling::default();
        let states = (0..(seconds * HZ) as usize)
            .map(|k| {
                let at_s = k as f64 / HZ;
                let noise = (k * k * 7 + k * 13) as i32 % 21 - 10;
                let gap_um = gap_um(at_s) as i32 + noise;
                let point = Point {
                    at_s,
                    gap_um,
                    stand_off_um: 25_000,
                    middle_um: gap_um - 25_000,
                    sure: true,
                    tilt_udeg: Some([0, 0]),
                };
                if settling.push(point, |settling| settling) {
                    let state = settling.judge(at_s, false, 0.0);
                    settling.is(state);
                }
                settling.state()
            })
            .collect();
        (settling, states)
    }

    #[test]
    fn what_rests_has_settled_within_half_a_second() {
        let (settling, states) = run(3.0, |_| 3_000.0);
        let first = states.iter().position(|s| *s == State::Settled).unwrap();
        assert!(first as f64 / HZ < 0.5, "{first}");
        assert!(states[first..].iter().all(|s| *s == State::Settled));
        assert!(settling.quiet_mm().is_some_and(|mm| (0.004..0.009).contains(&mm)));
    }

    #[test]
    fn what_creeps_does_not_settle_for_good() {
        let (_, states) = run(40.0, |t| 3_000.0 + 80.0 * t / 60.0);
        assert!(matches!(states[states.len() - 1], State::Drifting { .. }), "{:?}", states.last());
        let (_, states) = run(6.0, |t| 3_000.0 + 50.0 * t);
        let drifts = states.iter().filter(|s| matches!(s, State::Drifting { .. })).count();
        assert!(drifts > 200 && !states[60..].contains(&State::Settled), "{drifts}");
    }

    #[test]
    fn a_stretch_that_ends_leaves_what_is_known_of_the_noise() {
        let (mut settling, _) = run(3.0, |_| 3_000.0);
        let quiet = settling.quiet_mm();
        settling.forget(3.0);
        assert_eq!((settling.state(), settling.trace.len()), (State::Waiting, 0));
        assert_eq!(settling.quiet_mm(), quiet);
    }
}
