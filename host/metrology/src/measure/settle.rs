//! Has it settled? And if not: what keeps it from settling.
//!
//! The head's own channels tell causes apart. Vibration swings the gap fast about its mean; someone
//! leaning on the board moves the gap slowly, to and fro, or turns the head with the board; drift
//! goes one way with the tilt at rest.

use super::trace::{Summary, Trace};
use serde::{Deserialize, Serialize};

/// Movements smaller than this do not matter to any verdict, mm.
const NEGLIGIBLE_MM: f64 = 0.010;
/// Movement over a window counts from this many of its standard deviations on. Looked at twenty
/// times a second, white noise crosses it less than once in an hour.
const SIGNIFICANT: f64 = 5.0;
/// Scatter counts as vibration from this many times the head's own on ...
const VIBRATION_RATIO: f64 = 2.5;
/// ... and from this on, mm.
const VIBRATION_MM: f64 = 0.025;
/// Slower swings than this are someone leaning, Hz: a person sways below about 1 Hz, a wall or a
/// lift works above (common practice, no source).
const SLOWEST_VIBRATION_HZ: f64 = 2.0;
/// Turning less than this is rest, degrees.
const TILT_REST_DEG: f64 = 0.012;
/// Rest is asked for over so long, where that much has been seen since the last change, s.
const REST_S: f64 = 1.2;
/// While it settles, over so long: what it did on the way to rest must not hold it up.
const REST_FIRST_S: f64 = 0.6;
/// After a change it is settling for so long before it is called drift, s.
const SETTLING_S: f64 = 3.0;

/// What the head is doing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum State {
    /// No usable reading.
    Waiting,
    /// Coming to rest.
    Settling {
        /// About so long to go, s.
        to_go_s: f64,
    },
    /// The light moves before a head at rest: an adjuster is being turned.
    PlaneMoving,
    /// At rest; a take can be made.
    Settled,
    /// The gap wanders one way.
    Drifting {
        /// Millimetres a minute, signed.
        mm_per_min: f64,
    },
    /// The gap swings fast.
    Vibrating {
        /// Standard deviation, mm.
        mm: f64,
    },
    /// The gap sways, or the head turns with the board.
    Leaning,
    /// Knocked a moment ago.
    Knocked,
    /// The head's own constants still move with its temperature.
    WarmingUp {
        /// Millimetres a minute, signed; zero where only the temperature shows it.
        mm_per_min: f64,
    },
}

impl State {
    /// The state in words.
    pub fn words(self) -> String {
        match self {
            Self::Waiting => "waiting for readings".into(),
            Self::Settling { to_go_s } => format!("settling, {to_go_s:.1} s to go"),
            Self::PlaneMoving => "touch plane moving".into(),
            Self::Settled => "settled".into(),
            Self::Drifting { mm_per_min } => format!("drifting {mm_per_min:+.2} mm a minute"),
            Self::Vibrating { mm } => {
                format!("vibrating by {mm:.2} mm: something shakes board or emitter")
            }
            Self::Leaning => "board moving: is someone leaning on it?".into(),
            Self::Knocked => "knocked: let go and wait".into(),
            Self::WarmingUp { mm_per_min: 0.0 } => "warming up".into(),
            Self::WarmingUp { mm_per_min } => format!("warming up, {mm_per_min:+.2} mm a minute"),
        }
    }
}

/// What the judgement needs besides the readings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Context {
    /// Readings in a window.
    pub window: usize,
    /// Readings a second.
    pub rate_hz: f64,
    /// The head's own scatter of the gap, one reading, mm; `None` before it is known.
    pub quiet_mm: Option<f64>,
    /// Since the last change (seated, knocked, fault gone), s.
    pub since_change_s: f64,
    /// Whether it has rested since: what moves then is no coming to rest any more.
    pub rested: bool,
    /// Whether gap or tilt jumped to and fro of late.
    pub shaken: bool,
    /// Whether someone leant on the board a moment ago.
    pub leant: bool,
}

/// Judges the newest window.
pub(super) fn judge(trace: &Trace, context: Context) -> State {
    let Context { window, rate_hz, quiet_mm, since_change_s, rested, shaken, leant } = context;
    let Some(gap) = trace.summary(window, |p| f64::from(p.gap_um) * 1e-3) else {
        let missing = window.saturating_sub(trace.len()) as f64;
        return if trace.len() == 0 {
            State::Waiting
        } else {
            State::Settling { to_go_s: missing / rate_hz }
        };
    };
    let again = State::Settling { to_go_s: window as f64 / rate_hz };

    let own = quiet_mm.unwrap_or(gap.white);
    let swings = gap.scatter > VIBRATION_MM && gap.scatter > VIBRATION_RATIO * own;
    if shaken || swings && swings_hz(trace, &gap, rate_hz) > SLOWEST_VIBRATION_HZ {
        return State::Vibrating { mm: gap.scatter };
    }
    // A sway stands still at its ends: rest shows over a longer stretch, as far as there is one.
    let rest_s = if since_change_s < SETTLING_S { REST_FIRST_S } else { REST_S };
    let long = ((rest_s * rate_hz) as usize).max(window).min(trace.len());
    let Some(gap) = trace.summary(long, |p| f64::from(p.gap_um) * 1e-3) else { return again };
    let turns = turns(trace, long);
    let moves = moves(&gap, NEGLIGIBLE_MM, quiet_mm);
    if !moves && !turns {
        return State::Settled;
    }
    if since_change_s < SETTLING_S && !rested {
        return again;
    }
    let [first, second, third] = gap.thirds;
    // Noise on a slow drift turns it by less.
    let [there, back] = [second - first, third - second];
    let sways = there * back < 0.0 && there.abs().min(back.abs()) > NEGLIGIBLE_MM / 2.0;
    if turns || leant || sways {
        return State::Leaning;
    }
    // Halves lie half the stretch apart.
    State::Drifting { mm_per_min: gap.rise / (long as f64 / rate_hz / 2.0) * 60.0 }
}

/// Whether a channel moved within the window, by more than its noise and by enough to matter
/// (`least`, mm).
fn moves(summary: &Summary, least: f64, quiet_mm: Option<f64>) -> bool {
    // A mean over n of white noise has s / sqrt(n); the noise is what it is now or what the head
    // has shown before.
    let noise = quiet_mm.map_or(summary.white, |q| q.max(summary.white));
    let n = summary.count as f64;
    let [first, second, third] = summary.thirds;
    let span = first.max(second).max(third) - first.min(second).min(third);
    let beyond =
        |moved: f64, parts: f64| moved > least.max(SIGNIFICANT * noise * (2.0 * parts / n).sqrt());
    beyond(summary.rise.abs(), 2.0) || beyond(span, 3.0)
}

/// Whether the head turned within the window.
fn turns(trace: &Trace, window: usize) -> bool {
    [0, 1].into_iter().any(|axis| {
        let degrees =
            |p: &super::trace::Point| p.tilt_udeg.map_or(f64::NAN, |t| f64::from(t[axis]) * 1e-6);
        trace.summary(window, degrees).is_some_and(|s| {
            let noise = s.scatter * (4.0 / s.count as f64).sqrt();
            // Filtered noise hangs together over several readings: its means scatter more than
            // white noise would.
            s.rise.abs() > TILT_REST_DEG.max(2.0 * SIGNIFICANT * noise)
        })
    })
}

/// How often the gap swings about its line through the window, Hz; smoothed over five readings, so
/// that noise does not count as swings.
fn swings_hz(trace: &Trace, gap: &Summary, rate_hz: f64) -> f64 {
    const SMOOTHED: usize = 3;
    let n = gap.count;
    let slope = gap.rise / (n as f64 / 2.0);
    let line = |k: usize| gap.mean + slope * (k as f64 - (n as f64 - 1.0) / 2.0);
    let off: Vec<f64> =
        trace.newest(n).enumerate().map(|(k, p)| f64::from(p.gap_um) * 1e-3 - line(k)).collect();
    let smooth = off.windows(SMOOTHED).map(|w| w.iter().sum::<f64>());
    let mut side = 0.0_f64;
    let mut crossings = 0;
    for value in smooth {
        // Only excursions that are a fair part of the swing count, so that a sway with noise on it
        // stays slow.
        if value.abs() > 0.5 * SMOOTHED as f64 * gap.scatter && value.signum() != side {
            crossings += u32::from(side != 0.0);
            side = value.signum();
        }
    }
    f64::from(crossings) / 2.0 / (n as f64 / rate_hz)
}
