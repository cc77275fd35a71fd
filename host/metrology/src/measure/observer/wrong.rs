//! What speaks against the readings.

use super::super::fault::{Channel, Fault};
use super::super::limits::BoardTilt;
use super::{Observer, STALE_S};
use skimgauge_shared::calibration::Date;

/// Beyond this the eye is not trusted.
const EYE_TRUSTED: f64 = 0.8;
/// A bad spot comes and goes: it is said for so long, s.
const ERRATIC_SAID_S: f64 = 2.0;
/// The same number for so long is a frozen sensor, s.
const FROZEN_S: f64 = 0.25;
/// From so many takes on their middle tells how the board stands, to within what its own shape
/// turns a head, degrees: a board that bows by 1 mm over 1.3 m turns it by 0.17 at either edge.
const BOARD_TAKES: usize = 3;
const BOARD_SHAPE_DEG: f64 = 0.6;

impl Observer {
    /// All that is wrong at `now_s`, gravest first.
    pub(super) fn faults(&self, now_s: f64) -> Vec<Fault> {
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
            add(
                last.stand_off.value().is_some()
                    && (self.spot_is_still() || same_for(0) > FROZEN_S),
                Fault::StandOffFrozen,
            );
            add(last.eye.value().is_some() && same_for(1) > FROZEN_S, Fault::EyeFrozen);
            add(last.tilt.value().is_some() && same_for(2) > FROZEN_S, Fault::TiltFrozen);
            add(
                last.eye.value().is_some_and(|r| r.ratio().abs() > EYE_TRUSTED),
                Fault::EyeOffCentre,
            );
        }
        match &self.calibration {
            None => add(true, Fault::CalibrationAwaited),
            Some(state) => {
                if let Some(fault) = Fault::of_calibration(state.check) {
                    add(true, fault);
                } else {
                    let calibration = &state.calibration;
                    add(
                        self.head.is_some_and(|head| head != calibration.head),
                        Fault::CalibrationOtherHead,
                    );
                    add(!calibration.plausible(), Fault::CalibrationDamaged);
                    let age_days = days(self.today) - days(calibration.date);
                    add(
                        age_days as f64 > self.limits.calibration_age_days,
                        Fault::CalibrationOverdue,
                    );
                    add(age_days < 0, Fault::ZeroedAfterToday);
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
            add(t < band.low.0 || t > band.high.0, Fault::TemperatureOutOfRange);
        }
        let (lost, kept) =
            self.recent.iter().fold((0, 0), |(l, k), r| (l + u64::from(r.1), k + 1_u64));
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
