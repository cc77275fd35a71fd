//! The constants of the very image that is flashed: written in two steps or not at all, kept
//! through restarts and power cuts.

use skimgauge_bench::Bench;
use skimgauge_emulated_tests::{SECOND, Session, serial};
use skimgauge_emulator::Restart;
use skimgauge_shared::calibration::{Calibration, Date};
use skimgauge_shared::message::{
    Answer, CalibrationCheck, Refusal, Report, Request, ResetCause, SerialNumber,
};
use skimgauge_shared::units::Micrometres;

fn calibration(bench: &Bench, zero_um: i32) -> Calibration {
    let mut calibration = Calibration::nominal(SerialNumber(serial(bench)));
    calibration.date = Date { year: 2026, month: 4, day: 30 };
    calibration.by = heapless::String::try_from("bench").unwrap();
    calibration.zero = Micrometres(zero_um);
    calibration
}

#[test]
fn calibration_takes_two_steps_and_outlives_a_restart() {
    let bench = Bench::new(9);
    let mut session = Session::start(bench.clone());
    let wanted = calibration(&bench, -24_321);
    let cycles = bench.memory_write_cycles();

    let unasked = session.refusal(&Request::CommitCalibration { check: 1 });
    assert_eq!(unasked, Refusal::NotStaged);
    let check = session.stage(&wanted);
    assert_eq!(session.calibration().0, CalibrationCheck::Missing);
    assert_eq!(
        session.refusal(&Request::CommitCalibration { check: check ^ 1 }),
        Refusal::NotStaged
    );
    let foreign = Calibration { head: SerialNumber([7; 16]), ..wanted.clone() };
    assert_eq!(session.refusal(&Request::StageCalibration(foreign)), Refusal::OtherHead);
    let mut wild = wanted.clone();
    wild.stand_off.slope_pm_per_code = 7;
    assert_eq!(session.refusal(&Request::StageCalibration(wild)), Refusal::OutOfRange);
    assert_eq!(
        bench.memory_write_cycles(),
        cycles,
        "something was written without being asked for twice"
    );

    session.write(&wanted, None);
    for how in [Restart::Line, Restart::Power] {
        session.head.restart(how).unwrap();
        session.run(SECOND / 2);
        let hello = session.greet();
        let expected = if how == Restart::Line { ResetCause::Line } else { ResetCause::Power };
        assert_eq!((hello.reset, hello.calibration), (expected, CalibrationCheck::Good));
        assert_eq!(session.calibration(), (CalibrationCheck::Good, wanted.clone()));
    }
}

#[test]
fn power_lost_while_a_calibration_is_written_leaves_the_old_one_or_the_new_one() {
    let bench = Bench::new(10);
    let mut session = Session::start(bench.clone());
    let mut old = calibration(&bench, 1_000);
    session.write(&old, None);
    let (mut olds, mut news) = (0, 0);
    // Four pages of up to 5 ms each: from the word to well after the last.
    for trial in 0..40_u64 {
        let new = calibration(&bench, 2_000 + trial as i32);
        let check = session.stage(&new);
        session.ask(&Request::CommitCalibration { check });
        session.send(&Request::Unattended);
        session.head.run_for(300 + trial * 731).unwrap();
        session.head.restart(Restart::Power).unwrap();
        session.run(SECOND / 4);
        let (found, now) = session.calibration();
        assert_eq!(found, CalibrationCheck::Good, "cut after {} us", 300 + trial * 731);
        if now == new {
            news += 1;
            old = new;
        } else {
            assert_eq!(now, old, "cut after {} us", 300 + trial * 731);
            olds += 1;
        }
    }
    assert!(olds >= 5 && news >= 5, "the cuts did not straddle the write: {olds} old, {news} new");
}

/// The table that belongs to the constants is kept with them, and the pixels are equal from then on.
#[test]
fn the_pixels_table_is_kept_and_used() {
    let bench = Bench::new(9);
    let mut session = Session::start(bench.clone());
    let table = bench.pixel_line(|line| line.compared(0.002));
    let wanted = Calibration { pixels: table.digest(), ..calibration(&bench, -32_000) };
    // Named and not held.
    let check = session.stage(&wanted);
    let press = session.ask(&Request::CommitCalibration { check });
    assert_eq!(press, Answer::PressWanted { seconds: 10 });
    session.done(&Request::Unattended);
    session.run(SECOND / 10);
    assert_eq!(session.calibration().0, CalibrationCheck::Missing);
    session.write(&wanted, Some(table));
    session.head.restart(Restart::Power).unwrap();
    session.run(SECOND / 2);
    assert_eq!(session.calibration(), (CalibrationCheck::Good, wanted));
}

/// Asked for and not pressed, nothing is written; pressed, it is.
#[test]
fn constants_are_written_on_a_press_alone() {
    let bench = Bench::new(9);
    let mut session = Session::start(bench.clone());
    let wanted = calibration(&bench, -24_321);
    let cycles = bench.memory_write_cycles();
    let check = session.stage(&wanted);
    let commit = Request::CommitCalibration { check };
    assert_eq!(session.ask(&commit), Answer::PressWanted { seconds: 10 });
    session.run(9 * SECOND);
    assert_eq!(bench.memory_write_cycles(), cycles);
    session.until("refusal", |report| match report {
        Report::Answer(_, Answer::Refused(Refusal::NotPressed)) => Some(()),
        _ => None,
    });
    session.ask(&commit);
    bench.press_button(true);
    session.run(SECOND / 5);
    bench.press_button(false);
    session.run(SECOND / 2);
    assert_eq!(session.calibration(), (CalibrationCheck::Good, wanted));
}
