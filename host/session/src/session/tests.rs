use super::*;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::check::crc32;
use skimgauge_shared::light::LightState;
use skimgauge_shared::message::{
    CalibrationCheck, Call, Capabilities, PROTOCOL, Rate, Refusal, ResetCause, SCHEMA, Version,
};
use skimgauge_shared::pixels::Piece;
use skimgauge_shared::reading::{Absence, Sample};

const SERIAL: SerialNumber = SerialNumber([0x5A; 16]);

fn hello(made: u32) -> Report {
    Report::Hello(Hello {
        protocol: PROTOCOL,
        schema: SCHEMA,
        firmware: Version { major: 0, minor: 1, patch: 0 },
        serial: Some(SERIAL),
        reset: ResetCause::Watchdog,
        capabilities: Capabilities::BUZZER,
        at: Microseconds(u64::from(made) * 10_000),
        made,
        rate: Rate { per_second: 100, conversions: 2 },
        calibration: CalibrationCheck::Good,
        token: Token::NONE,
    })
}

fn constants() -> Report {
    let calibration = Calibration::nominal(SERIAL);
    let state = CalibrationState { check: CalibrationCheck::Good, calibration };
    Report::Answer(Token(999), Answer::Calibration(state))
}

fn reading(number: u32) -> Report {
    let absent = Absence::NoAnswer;
    Report::Reading(Reading {
        sequence: number as u8,
        at_low_us: number.wrapping_mul(10_000),
        stand_off: Sample::Absent(absent),
        middle: Sample::Absent(absent),
        tilt: Sample::Absent(absent),
        state: LightState::UNKNOWN,
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
        tilt_status: 0,
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

/// What it asks.
fn asked(session: &mut Session) -> Vec<Call> {
    let mut decoder = Decoder::new();
    let fed = |byte: &u8| match decoder.feed::<Call>(*byte) {
        Fed::Message(call) => Some(call),
        _ => None,
    };
    session.take_out().iter().filter_map(fed).collect()
}

fn asks_to_greet(session: &mut Session) -> bool {
    asked(session).iter().any(|call| call.request == Request::Greet)
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

/// A body as a frame: COBS by hand, for fewer than 255 bytes.
fn framed(body: &[u8]) -> Vec<u8> {
    let bytes = [body, &crc32(body).to_le_bytes()].concat();
    let pieces = bytes.split(|byte| *byte == 0);
    let mut stuffed: Vec<u8> =
        pieces.flat_map(|piece| [&[piece.len() as u8 + 1], piece].concat()).collect();
    stuffed.push(0);
    stuffed
}

/// What heads of protocol 1 sent: their greeting after a start; and, to a greeting of another
/// protocol, a refusal, and their readings (bytes as that protocol's own test had them).
#[test]
fn a_head_of_protocol_1_is_refused_by_name_whatever_it_says_first() {
    let reading = [
        0x01, 0x2a, 0x87, 0xad, 0x4b, 0x00, 0xf0, 0xad, 0x03, 0xc3, 0x13, 0x80, 0xd3, 0x0e, 0xbf,
        0xc0, 0x29,
    ];
    let refusal = [0x0a, 0x00, 0x00];
    let hello = [0x00, 0x01, 0x00, 0x01, 0x00, 0x00, 0x00, 0x03];
    for first in [&reading[..], &refusal, &hello] {
        let mut session = Session::new(None, Duration::ZERO);
        let mut told = Vec::new();
        session.poll(Duration::ZERO, &framed(first), &mut |event| told.push(event));
        let refused = Refused::Protocol { theirs: 1 };
        assert_eq!(told, [Event::Refused(refused)], "{first:?}");
    }
}

#[test]
fn a_head_of_other_shapes_is_refused_by_name() {
    let mut session = Session::new(None, Duration::ZERO);
    let mut told = Vec::new();
    let hello = framed(&[0, PROTOCOL as u8, 9, 9, 9]);
    session.poll(Duration::ZERO, &hello, &mut |event| told.push(event));
    assert_eq!(told, [Event::Refused(Refused::Schema)]);
}

/// Each answer is told with what it answers, by its token: of two of a kind each its own, an unknown
/// one not at all.
#[test]
fn answers_find_their_requests_by_token() {
    let mut session = long_up();
    let identify = session.ask(&Request::Identify { seconds: 1 });
    let commit = session.ask(&Request::CommitCalibration { check: 7 });
    let loader = session.ask(&Request::EnterLoader { key: 7 });
    assert_eq!(
        asked(&mut session).iter().map(|c| c.token).collect::<Vec<_>>(),
        [identify, commit, loader]
    );
    let press = || Answer::PressWanted { seconds: 10 };
    let refused = || Answer::Refused(Refusal::NotPressed);
    let told = hear(
        &mut session,
        20_100,
        &[
            Report::Answer(commit, press()),
            Report::Answer(identify, Answer::Done),
            Report::Answer(Token::NONE, press()),
            Report::Answer(Token(12_345), Answer::Done),
            Report::Answer(commit, refused()),
            Report::Answer(commit, refused()),
            Report::Answer(Token::NONE, Answer::Done),
        ],
    );
    let expected = [
        Event::Answer(Ask::CommitCalibration, press()),
        Event::Answer(Ask::Identify, Answer::Done),
        Event::Answer(Ask::EnterLoader, press()),
        Event::Answer(Ask::CommitCalibration, refused()),
        Event::Answer(Ask::EnterLoader, Answer::Done),
    ];
    assert_eq!(told, expected);
}

#[test]
fn a_scan_is_told_when_it_is_whole() {
    let mut session = long_up();
    let scan: Scan = core::array::from_fn(|i| i as u16 * 16);
    let piece = |piece| Report::Profile(Piece::of(&scan, 9, piece));
    assert_eq!(hear(&mut session, 20_100, &[piece(0), piece(1), piece(3)]), []);
    let told = hear(&mut session, 20_200, &[piece(0), piece(1), piece(2), piece(3)]);
    assert_eq!(told, [Event::Profile { sequence: 9, scan: Box::new(scan) }]);
}
