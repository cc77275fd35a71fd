//! What a zeroing says of the head.

use skimgauge_quantity::{Name, Sentence, plain, say};
use skimgauge_session::HeadIs;
use skimgauge_shared::calibration::{CalibrationState, Date};
use skimgauge_shared::message::{CalibrationCheck, Refusal};

/// Which head, and how it was zeroed.
pub(super) fn opening(serial: &str, head: &HeadIs) -> Sentence {
    let state = &head.calibration;
    let zeroed = match state.check {
        CalibrationCheck::Good => say!(
            "zeroed on {} by {}",
            state.calibration.date.to_string(),
            Name(&state.calibration.by)
        ),
        CalibrationCheck::Missing => say!("never zeroed"),
        CalibrationCheck::Damaged => say!("its constants are damaged"),
        CalibrationCheck::OtherHead => say!("with the constants of another head"),
        CalibrationCheck::Unreadable => say!("its memory does not answer"),
    };
    say!("Head {}, firmware {}, {zeroed}.", Name(serial), head.hello.firmware.to_string())
}

/// A zeroing dated after today: one of the two dates is wrong, and a new zeroing would carry this
/// computer's.
pub(super) fn doubtful_date(state: &CalibrationState, today: Date) -> Option<Sentence> {
    let date = |date: Date| (date.year, date.month, date.day);
    let its = state.calibration.date;
    let after = state.check == CalibrationCheck::Good && date(its) > date(today);
    after.then(|| {
        say!(
            "This zeroing is dated {}, and this computer says that today is {}. If the computer is wrong, end here (quit) \
             and set its date: a new zeroing would carry it.",
            its.to_string(),
            today.to_string()
        )
    })
}

/// Nothing is said of a gauge.
pub(super) fn no_gauge() -> Sentence {
    say!(
        "Without the gauge neither zero nor scale is found, only level and the pixels. With one: --light and the two heights on its label, as in --light 3.002,9.004."
    )
}

/// It has not warmed up.
pub(super) fn warming(k_per_min: f64) -> Sentence {
    say!(
        "The head still changes by {} K a minute: better wait until it has warmed up.",
        plain(k_per_min, 1).signed()
    )
}

/// Why the head does not do it.
pub(super) fn refusal(why: Refusal) -> &'static str {
    match why {
        Refusal::NotStaged => "it holds nothing to write",
        Refusal::OtherHead => "the constants are another head's",
        Refusal::OutOfRange => "a constant is out of its range",
        Refusal::NoMemory => "its memory does not answer",
        Refusal::NotVerified => "what it wrote did not read back the same",
        Refusal::NotFitted => "this head cannot",
        Refusal::Busy => "it is still busy",
        Refusal::NotPressed => "its button was not pressed",
        Refusal::NothingWaits => "it waits for nothing",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_quantity::Style;
    use skimgauge_shared::calibration::Calibration;
    use skimgauge_shared::message::SerialNumber;

    #[test]
    fn a_zeroing_dated_after_today_is_said_before_another_is_made() {
        let today = Date { year: 2026, month: 6, day: 1 };
        let dated = |year, month, day| {
            let date = Date { year, month, day };
            let calibration = Calibration { date, ..Calibration::nominal(SerialNumber([1; 16])) };
            let state = CalibrationState { check: CalibrationCheck::Good, calibration };
            doubtful_date(&state, today).map(|said| said.text(Style::default()))
        };
        assert_eq!((dated(2026, 6, 1), dated(2025, 12, 31)), (None, None));
        for (year, month, day) in [(2026, 6, 2), (2026, 7, 1), (2027, 1, 1)] {
            let said = dated(year, month, day).unwrap();
            assert!(said.contains("2026-06-01") && said.contains("set its date"), "{said}");
        }
    }
}
