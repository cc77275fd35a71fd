//! What is said of the head: live numbers, and takes.

use super::super::fault::{Bearing, Fault};
use super::super::settle::State;
use super::super::shown::Shown;
use super::super::take::{self, Circumstances, NotTaken, Take};
use super::light::EyeView;
use super::steady::Stands;
use super::taking::{self, Around};
use super::{Observer, offset_u_deg};
use crate::coverage::Share;
use serde::{Deserialize, Serialize};
use skimgauge_shared::units::Microseconds;

/// How the head is, at one moment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Live {
    /// Gap.
    pub gap_mm: Shown,
    /// Level.
    pub level_deg: Shown,
    /// Lean.
    pub lean_deg: Shown,
    /// What is in neither level nor lean but the head's own offsets: standard uncertainty without
    /// them, degrees, where both are good.
    pub tilt_own_u_deg: Option<f64>,
    /// What it does.
    pub state: State,
    /// What is wrong, gravest first.
    pub faults: Vec<Fault>,
    /// Whether a take can be made now, or why not.
    pub can_take: Result<(), NotTaken>,
    /// What the eye sees; `None` while it sees no sheet.
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
    /// What the inclinometer's own status word says is wrong, as the head told it last.
    pub tilt_trouble: Option<String>,
    /// The pixel of the eye that stands out as no light does, counted from the board.
    pub bad_pixel: Option<u8>,
    /// Readings lost on the way since the head was greeted.
    pub lost: u64,
}

impl Observer {
    /// How the head is at `now_s`.
    pub fn live(&self, now_s: f64) -> Live {
        let faults = self.faults(now_s);
        let gone = faults.iter().any(|f| matches!(f, Fault::Stale | Fault::Late));
        let of_last = self.last.filter(|_| !gone);
        Live {
            gap_mm: self.gap(&faults, now_s),
            level_deg: self.tilt_shown(0, &faults),
            lean_deg: self.tilt_shown(1, &faults),
            tilt_own_u_deg: self.seat.stands().map(|stands| stands.own_u_deg),
            state: if gone { State::Waiting } else { self.settling.state() },
            can_take: self.can_take(&faults),
            eye: self.light.view(now_s).filter(|_| !gone),
            stand_off_mm: of_last.and_then(|r| r.stand_off.value()).map(|s| s.mm()),
            temperature_c: self.condition.temperature_c(now_s),
            warming_k_per_min: self.condition.warming_k_per_min(),
            supply_v: self.condition.supply_v(now_s),
            tilt_trouble: self.condition.tilt_trouble(now_s).map(str::to_owned),
            bad_pixel: self.light.bad_pixel(now_s),
            lost: self.delivery.lost(),
            faults,
        }
    }

    fn gap(&self, faults: &[Fault], now_s: f64) -> Shown {
        let worst = |bearing: Bearing| faults.iter().copied().find(|f| f.bearing() == bearing);
        if let Some(why) = worst(Bearing::NoValue) {
            return Shown::Absent { why };
        }
        let (settling, trace) = (&self.settling, &self.settling.trace);
        let (Some(state), Some(Stands { gap_mm: value, count, off_mm })) =
            (&self.calibration, settling.stands())
        else {
            return Shown::Absent { why: Fault::Starting };
        };
        let stand_off = trace.mean_back(0, count, |p| f64::from(p.stand_off_um) * 1e-3);
        let Some(stand_off_mm) = stand_off else {
            return Shown::Absent { why: Fault::Starting };
        };
        let doubt = worst(Bearing::Doubt);
        let pulled = trace.newest(count).any(|p| !p.sure).then_some(Fault::RoomLightPulls);
        if let Some(why) = doubt.or(pulled) {
            return Shown::Doubtful { value, why };
        }
        let own_mm = settling.quiet_mm().unwrap_or(0.0);
        let scatter = trace
            .summary(count, |p| f64::from(p.gap_um) * 1e-3)
            .map_or_else(|| settling.noise_of_one_mm(), |s| s.scatter.max(own_mm));
        let u = (scatter / (count as f64).sqrt()).hypot(off_mm);
        let parts = Circumstances {
            calibration: &state.calibration,
            limits: &self.limits,
            gap_mm: value,
            stand_off_mm,
            sheet_mm: self.light.width_mm(now_s),
            temperature_c: self.condition.temperature_c(now_s),
        }
        .parts(Share { u, dof: f64::INFINITY });
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
        let of_head = self.calibration.as_ref().map(|state| offset_u_deg(&state.calibration));
        match (self.seat.stands(), of_head) {
            (Some(stands), Some(u_deg)) => {
                Shown::Good { value: stands.deg[axis], u: stands.own_u_deg.hypot(u_deg[axis]) }
            }
            _ => Shown::Absent { why: Fault::Starting },
        }
    }

    fn can_take(&self, faults: &[Fault]) -> Result<(), NotTaken> {
        if let Some(&fault) = faults.iter().find(|f| f.bearing() > Bearing::Notice) {
            return Err(NotTaken::Fault { fault });
        }
        taking::scatter(&self.settling).map(|_| ())
    }

    /// Keep what the head says now.
    ///
    /// # Errors
    /// Why there is nothing to keep.
    pub fn take(&mut self, now_s: f64) -> Result<Take, NotTaken> {
        let faults = self.faults(now_s);
        self.can_take(&faults)?;
        let take = Take { notices: faults, ..self.make_take(now_s)? };
        self.seat.taken([take.level_deg, take.lean_deg]);
        Ok(take)
    }

    /// Keep what the head said just before its own button was pressed, which shakes it. `released`
    /// is the button's time on the head's clock. Falls back on what the head says now.
    ///
    /// # Errors
    /// Why there is nothing to keep.
    pub fn take_by_button(&mut self, now_s: f64, released: Microseconds) -> Result<Take, NotTaken> {
        let now = self.take(now_s);
        let faults = self.faults(now_s);
        let stands_in_the_way =
            faults.iter().any(|&f| f.bearing() > Bearing::Notice && f != Fault::Knocked);
        match (now, self.taking.before(released)) {
            (Ok(take), _) => Ok(take),
            (Err(_), Some(before)) if !stands_in_the_way => Ok(Take {
                notices: faults.into_iter().filter(|&f| f != Fault::Knocked).collect(),
                ..before.clone()
            }),
            (Err(why), _) => Err(why),
        }
    }

    pub(super) fn make_take(&self, now_s: f64) -> Result<Take, NotTaken> {
        taking::make(&self.settling, |gap_mm, stand_off_mm| {
            let stands = self.seat.stands()?;
            Some(Around {
                circumstances: Circumstances {
                    calibration: &self.calibration.as_ref()?.calibration,
                    limits: &self.limits,
                    gap_mm,
                    stand_off_mm,
                    sheet_mm: self.light.width_mm(now_s),
                    temperature_c: self.condition.temperature_c(now_s),
                },
                tilt_deg: stands.deg,
                tilt_u_deg: stands.own_u_deg,
            })
        })
    }
}
