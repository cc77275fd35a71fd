use super::*;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::message::{CalibrationCheck, Capabilities, Rate, ResetCause, Version};
use skimgauge_shared::reading::{Absence, Sample};

const SERIAL: SerialNumber = SerialNumber([0x5A; 16]);

fn hello(made: u32) -> Report {
    Report::Hello(Hello {
        protocol: PROTOCOL,
        firmware: Version { major: 0, minor: 1, patch: 0 },
        serial: Some(SERIAL),
        reset: ResetCause::Watchdog,
        capabilities: Capabilities::EYE,
        at: Microseconds(u64::from(made) * 10_000),
        made,
        rate: Rate { per_second: 100, conversions: 2 },
        calibration: CalibrationCheck::Good,
    })
}

fn constants() -> Report {
    let calibration = Calibration::nominal(SERIAL);
    Report::Calibration(CalibrationState { check: CalibrationCheck::Good, calibration })
}

fn reading(number: u32) -> Report {
    let absent = Absence::NoAnswer;
    Report::Reading(Reading {
        sequence: number as u8,
        at_low_us: number.wrapping_mul(10_000),
        stand_off: Sample::Absent(absent),
        eye: Sample::Absent(absent),
        tilt: Sample::Absent(absent),
    })
}

fn pulse(made: u32) -> Report {
    Report::Pulse(Pulse {
        at: Microseconds(u64::from(made) * 10_000),
        made,
        unsent: 0,
        refused_frames: 0,
        temperature: Sample::Absent(Absence::NoAnswer),
        supply: Sample::Absent(Absence::NoAnswer),
        light: Sample::Absent(Absence::NoAnswer),
        latest_start_us: 0,
    })
}

fn hear(session: &mut Session, at_ms: u64, reports: &[Report]) -> Vec<Event> {
    let mut told = Vec::new();
    for report in reports {
        let mut buffer = [0; MAX_FRAME];
        let frame = encode(report, &mut buffer).unwrap().to_vec();
        session.poll(Duration::from_millis(at_ms), &frame, &mut |event| told.push(event));
    }
    told
}

fn asks_to_greet(session: &mut Session) -> bool {
    let mut decoder = Decoder::new();
    let out = session.take_out();
    out.iter()
        .any(|byte| matches!(decoder.feed::<Request>(*byte), Fed::Message(Request::Greet { .. })))
}

/// Up since 20 s, 2 000 readings made, the last of them heard.
fn long_up() -> Session {
    let mut session = Session::new(None, Duration::ZERO);
    hear(&mut session, 20_000, &[hello(1_999), constants(), reading(2_000)]);
    session.take_out();
    session
}

#[test]
fn a_head_that_restarts_unseen_is_greeted_again_and_nothing_is_counted_that_was_not_made() {
    for first in [reading(3), pulse(3)] {
        let mut session = long_up();
        assert_eq!(hear(&mut session, 20_500, &[first]), [Event::ClockJumped]);
        assert!(asks_to_greet(&mut session));
        // What it sends before it is known again is nobody's.
        assert_eq!(hear(&mut session, 20_510, &[reading(4)]), []);
        let told = hear(&mut session, 20_520, &[hello(5), constants(), reading(6)]);
        assert!(matches!(told[..], [Event::Up(_), Event::Reading(_)]), "{told:?}");
        assert_eq!((session.counts().received, session.counts().lost), (2, 0));
    }
}

#[test]
fn the_greeting_of_a_head_that_restarted_is_as_good_as_any() {
    let mut session = long_up();
    let told = hear(&mut session, 20_500, &[hello(0), constants(), reading(1)]);
    assert!(matches!(told[..], [Event::ClockJumped, Event::Up(_), Event::Reading(_)]), "{told:?}");
    assert_eq!((session.counts().received, session.counts().lost), (2, 0));
}

/// Whoever is at the port is asked again at least every five seconds, and says who it is.
#[test]
fn a_head_changed_for_another_while_the_port_stays_is_found_within_5_s() {
    let mut session = long_up();
    let mut greeted = 0;
    for ms in (20_000..40_000).step_by(10) {
        session.poll(Duration::from_millis(ms), &[], &mut |event| panic!("{event:?}"));
        greeted += u32::from(asks_to_greet(&mut session));
    }
    assert!(greeted >= 4, "{greeted} greetings in 20 s");
    assert_eq!(hear(&mut session, 40_000, &[hello(2_001), reading(2_002)])[0], Event::Same);
    // Another one with the very same clock and count.
    let other = SerialNumber([0x77; 16]);
    let Report::Hello(mine) = hello(2_003) else { unreachable!() };
    let told = hear(
        &mut session,
        40_010,
        &[Report::Hello(Hello { serial: Some(other), ..mine }), reading(2_004)],
    );
    assert_eq!(told, [Event::Refused(Refused::OtherHead { found: Some(other), wanted: SERIAL })]);
}

#[test]
fn last_words_are_told_once_however_often_it_is_greeted() {
    let mut session = long_up();
    let words = || Report::LastWords("src/main.rs:7".try_into().unwrap());
    assert_eq!(hear(&mut session, 24_000, &[hello(2_400), words()]), [Event::Same]);
}

#[test]
fn a_long_silence_is_no_restart() {
    let mut session = long_up();
    // The 32 low bits of its time come round meanwhile.
    let later = 2_000 + 65 * 60 * 100;
    let told = hear(&mut session, 20_000 + 65 * 60 * 1_000, &[reading(later), pulse(later)]);
    assert!(matches!(told[..], [Event::Reading(_), Event::Pulse(_)]), "{told:?}");
    assert_eq!(session.counts().lost, 65 * 60 * 100 - 1);
}

#[test]
fn a_greeting_repeated_while_readings_come_counts_nothing_twice() {
    let mut session = Session::new(None, Duration::ZERO);
    hear(
        &mut session,
        0,
        &[hello(7), reading(8), hello(8), reading(9), hello(9), constants(), reading(10)],
    );
    assert_eq!((session.counts().received, session.counts().lost), (3, 0));
}

#[test]
fn last_words_come_with_the_greeting_and_the_log_before_it() {
    let words = "src/main.rs:7";
    let mut session = Session::new(None, Duration::ZERO);
    let told = hear(
        &mut session,
        0,
        &[
            Report::Log([1, 2, 0].into_iter().collect()),
            hello(0),
            Report::LastWords(words.try_into().unwrap()),
            constants(),
        ],
    );
    let [Event::Log(_), Event::LastWords(told), Event::Up(_)] = &told[..] else {
        panic!("{told:?}")
    };
    assert_eq!(told, words);
}

#[test]
fn a_head_that_made_fewer_since_its_restart_has_lost_none() {
    let mut session = long_up();
    session.begin_again(Duration::from_secs(50));
    let Report::Hello(mut slow) = hello(300) else { unreachable!() };
    slow.at = Microseconds(30_000_000);
    hear(&mut session, 50_000, &[Report::Hello(slow), constants()]);
    assert_eq!(session.counts().lost, 0);
}
