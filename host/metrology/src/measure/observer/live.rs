//! What is said of the head: live numbers, and takes.

use super::super::fault::{Bearing, Fault};
use super::super::settle::State;
use super::super::shown::Shown;
use super::super::take::{self, Circumstances, NotTaken, SCATTER_MOST_MM, Take};
use super::super::trace::Point;
use super::{Observer, SCATTER_ASSUMED_MM};
use crate::coverage::Share;
use serde::{Deserialize, Serialize};
use skimgauge_shared::reading::Tilt;
use skimgauge_shared::units::Microseconds;

/// The live number is a mean over so long while nothing has settled, s.
const LIVE_S: f64 = 0.15;
/// Standard uncertainty of the inclinometer's offsets after reversal, and of a head that had none,
/// degrees.
const TILT_OFFSET_U_DEG: f64 = 0.01;
const TILT_OFFSET_NOMINAL_U_DEG: f64 = 0.6;
/// The inclinometer's step, degrees: 90 / 2^14.
const TILT_STEP_DEG: f64 = 90.0 / 16_384.0;
/// A tilt whose two halves differ by less than this is at rest, degrees: five times their own
/// scatter.
const TILT_REST_DEG: f64 = 0.012;
/// Its filter lets neighbours hang together: this many readings count as one.
const TILT_CORRELATED: f64 = 8.0;
/// A take by the head's own button is the last one settled before the press, not older than this,
/// s.
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
    /// How fast that rises, K a minute, where it is known to: a zero had better wait while it
    /// does.
    pub warming_k_per_min: Option<f64>,
    /// Supply of the head, V.
    pub supply_v: Option<f64>,
    /// Readings lost on the way since the head was greeted.
    pub lost: u64,
}

impl Observer {
    /// Level and lean over the last readings, and their standard uncertainty, degrees: over as many
    /// as nothing has turned in, a second at most.
    pub(super) fn tilt(&self) -> Option<([f64; 2], f64)> {
        const STRETCHES: [usize; 3] = [100, 50, 20];
        let still = STRETCHES
            .into_iter()
            .find(|&count| count <= self.tilts.len() && self.tilt_rests(count));
        let count = self.tilts.len().min(still.unwrap_or(20));
        if count < 3 {
            return None;
        }
        let n = count as f64;
        let newest = || self.tilts.iter().rev().take(count);
        let mean = self.mean_tilt(count)?;
        let variance = [0, 1].map(|axis| {
            newest().map(|t| (f64::from(t[axis]) * 1e-6 - mean[axis]).powi(2)).sum::<f64>()
                / (n - 1.0)
        });
        let scatter = variance[0].max(variance[1]) * (TILT_CORRELATED / n).min(1.0);
        let zeroed =
            self.calibration.as_ref().is_some_and(|c| c.calibration.tilt_offset != Tilt::default());
        let offset = if zeroed { TILT_OFFSET_U_DEG } else { TILT_OFFSET_NOMINAL_U_DEG };
        Some((mean, (scatter + offset * offset + TILT_STEP_DEG * TILT_STEP_DEG / 12.0).sqrt()))
    }

    /// Mean of the last `count` tilts, degrees; `None` if there are fewer.
    pub(super) fn mean_tilt(&self, count: usize) -> Option<[f64; 2]> {
        let newest = || self.tilts.iter().rev().take(count);
        let mean =
            |axis: usize| newest().map(|t| f64::from(t[axis])).sum::<f64>() / count as f64 * 1e-6;
        (self.tilts.len() >= count).then(|| [mean(0), mean(1)])
    }

    /// Whether the head did not turn over its last `count` tilts.
    fn tilt_rests(&self, count: usize) -> bool {
        let half = count / 2;
        let mean = |axis: usize, from: usize| {
            self.tilts
                .iter()
                .rev()
                .skip(from)
                .take(half)
                .map(|t| f64::from(t[axis]) * 1e-6)
                .sum::<f64>()
                / half as f64
        };
        (0..2).all(|axis| (mean(axis, 0) - mean(axis, half)).abs() < TILT_REST_DEG)
    }

    /// Whether the tilt has been at rest for the last half second, wherever the head stands: enough
    /// for a level.
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
            stand_off_mm: self
                .last
                .filter(|_| !gone)
                .and_then(|r| r.stand_off.value())
                .map(|s| s.mm()),
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
            (&self.calibration, self.trace.mean_back(0, count, |p| f64::from(p.gap_um) * 1e-3))
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
        .parts(Share { u: scatter / (count as f64).sqrt(), dof: f64::INFINITY });
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

    pub(super) fn mean_eye(&self, count: usize) -> Option<f64> {
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
    fn settled_enough(&self) -> Result<Share, NotTaken> {
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
        let before = self
            .profile
            .deviation(octave)
            .map(|um| um * 1e-3 * (f64::from(1_u32 << octave) / window as f64).sqrt());
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

    /// Keep what the head said just before its own button was pressed, which shakes it. `released`
    /// is the button's time on the head's clock. Falls back on what the head says now.
    pub fn take_by_button(&mut self, now_s: f64, released: Microseconds) -> Result<Take, NotTaken> {
        let now = self.take(now_s);
        let faults = self.faults(now_s);
        let stands_in_the_way =
            faults.iter().any(|&f| f.bearing() > Bearing::Notice && f != Fault::Knocked);
        match (now, &self.candidate) {
            (Ok(take), _) => Ok(take),
            (Err(_), Some(before))
                if !stands_in_the_way
                    && (released.seconds() - before.head_at_s).abs() < BUTTON_S =>
            {
                Ok(Take {
                    notices: faults.into_iter().filter(|&f| f != Fault::Knocked).collect(),
                    ..before.clone()
                })
            }
            (Err(why), _) => Err(why),
        }
    }

    pub(super) fn make_take(&self) -> Result<Take, NotTaken> {
        let scatter = self.settled_enough()?;
        let window = self.window();
        let unsettled = NotTaken::Unsettled { state: self.state };
        let mean = |channel: &dyn Fn(&Point) -> f64| {
            self.trace.mean_back(0, window, channel).ok_or(unsettled)
        };
        let (Some(state), Some((tilt, tilt_u_deg)), Some(last)) =
            (&self.calibration, self.tilt(), self.trace.last())
        else {
            return Err(unsettled);
        };
        let gap_mm = mean(&|p| f64::from(p.gap_um) * 1e-3)?;
        let eye_ratio = self.mean_eye(window);
        let temperature_c = self.temperature_c(self.last_s);
        let parts = Circumstances {
            calibration: &state.calibration,
            limits: &self.limits,
            gap_mm,
            eye_ratio,
            temperature_c,
        }
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
