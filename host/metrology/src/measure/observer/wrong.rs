//! What speaks against the readings.

use super::super::fault::{Channel, Fault};
use super::Observer;
use skimgauge_shared::calibration::{CalibrationState, Date};
use skimgauge_shared::reading::Reading;

impl Observer {
    /// All that is wrong at `now_s`, gravest first.
    pub(super) fn faults(&self, now_s: f64) -> Vec<Fault> {
        let at_s = self.delivery.at_s();
        let mut faults = Vec::new();
        let mut add = |when: bool, fault: Fault| {
            if when && !faults.contains(&fault) {
                faults.push(fault);
            }
        };
        add(self.delivery.is_stale(now_s), Fault::Stale);
        add(self.delivery.is_late(), Fault::Late);
        add(self.delivery.loses(), Fault::ReadingsLost);
        if let Some(last) = &self.last {
            self.of_parts(last, at_s).for_each(|fault| add(true, fault));
            self.light.faults(at_s, now_s).for_each(|fault| add(true, fault));
        }
        self.of_calibration().for_each(|fault| add(true, fault));
        add(self.spot.is_erratic(at_s), Fault::SpotErratic);
        if let Some(stands) = self.seat.stands() {
            add(self.seat.is_off(stands.deg, self.limits.board), Fault::NotSeated);
        }
        add(self.knock.is_said(), Fault::Knocked);
        add(self.condition.supply_is_low(&self.limits, now_s), Fault::SupplyLow);
        add(self.condition.is_too_warm_or_cold(&self.limits, now_s), Fault::TemperatureOutOfRange);
        faults.sort_unstable();
        faults
    }

    /// What the laser's sensor and the inclinometer say of themselves.
    fn of_parts(&self, last: &Reading, at_s: f64) -> impl Iterator<Item = Fault> {
        let stand_off =
            last.stand_off.absence().map(|why| Fault::of_absence(Channel::StandOff, why));
        let tilt = match self.calibration {
            Some(_) => self.tilt(last).absence(),
            None => last.tilt.absence(),
        };
        let tilt = tilt.map(|why| Fault::of_absence(Channel::Tilt, why));
        let held =
            (stand_off.is_none() && self.spot.is_frozen(at_s)).then_some(Fault::StandOffFrozen);
        let stuck = (tilt.is_none() && self.seat.is_frozen(at_s)).then_some(Fault::TiltFrozen);
        [stand_off, tilt, held, stuck].into_iter().flatten()
    }

    /// What is wrong with the head's constants.
    fn of_calibration(&self) -> impl Iterator<Item = Fault> {
        let Some(CalibrationState { check, calibration }) = &self.calibration else {
            return [Some(Fault::CalibrationAwaited), None, None, None, None].into_iter().flatten();
        };
        if let Some(fault) = Fault::of_calibration(*check) {
            return [Some(fault), None, None, None, None].into_iter().flatten();
        }
        let foreign = self.head.is_some_and(|head| head != calibration.head);
        let age_days = days(self.today) - days(calibration.date);
        let overdue = age_days as f64 > self.limits.calibration_age_days;
        [
            foreign.then_some(Fault::CalibrationOtherHead),
            (!calibration.plausible()).then_some(Fault::CalibrationDamaged),
            overdue.then_some(Fault::CalibrationOverdue),
            (age_days < 0).then_some(Fault::ZeroedAfterToday),
            self.limits.material.elsewhere.then_some(Fault::ZeroedElsewhere),
        ]
        .into_iter()
        .flatten()
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
