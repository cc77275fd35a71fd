//! A conversation over any wire: nothing is told that was not sent, however the bytes are damaged
//! or cut into pieces.

mod head;

use head::{SERIAL, constants};
use proptest::prelude::*;
use skimgauge_session::{Event, Session};
use skimgauge_shared::frame::{MAX_FRAME, encode};
use skimgauge_shared::light::{Light, LightState, Trust};
use skimgauge_shared::message::{Answer, Hello, Press, Pulse, Report, SerialNumber, Token};
use skimgauge_shared::reading::{Absence, Reading, Sample, TiltSteps};
use skimgauge_shared::units::*;
use std::time::Duration;

fn hello(made: u32) -> Hello {
    head::hello(at(made), made)
}

fn at(number: u32) -> Microseconds {
    Microseconds(1_000_000 + u64::from(number) * 10_000)
}

fn calibration() -> Report {
    Report::Answer(Token(2), Answer::Calibration(constants()))
}

fn reading(number: u32, value: i32) -> Reading {
    let absent = value % 11 == 0;
    Reading {
        sequence: number as u8,
        at_low_us: at(number).0 as u32,
        stand_off: if absent {
            Sample::Absent(Absence::NoSpot)
        } else {
            Sample::Value(Micrometres(value))
        },
        middle: Sample::Value(Micrometres(value % 16_000)),
        tilt: Sample::Value(TiltSteps { level: value as i16, lean: (value >> 4) as i16 }),
        state: LightState::new(None, Light::Seen, Trust::Sure, value % 3 == 0),
    }
}

/// What a head sends after its readings: greeting and constants, then readings with a pulse or a
/// press here and there.
fn conversation(values: &[i32]) -> Vec<Report> {
    let mut sent = vec![Report::Hello(hello(0)), calibration()];
    for (number, value) in (1..).zip(values) {
        sent.push(Report::Reading(reading(number, *value)));
        if number % 7 == 0 {
            sent.push(Report::Pulse(Pulse {
                at: at(number),
                made: number,
                unsent: 0,
                refused_frames: 0,
                temperature: Sample::Value(CentiCelsius(2_150)),
                supply: Sample::Value(Millivolts(5_000)),
                tilt_status: 0,
                latest_start_us: 40,
            }));
        }
        if number % 13 == 0 {
            sent.push(Report::Button { press: Press::Short, at: at(number) });
        }
    }
    sent
}

fn wire(sent: &[Report]) -> Vec<u8> {
    let mut bytes = vec![0];
    for report in sent {
        let mut buffer = [0; MAX_FRAME];
        bytes.extend_from_slice(encode(report, &mut buffer).unwrap());
    }
    bytes
}

/// Everything told of pieces that come a millisecond apart; the times are the same whatever the
/// pieces.
fn hear<'a>(pieces: impl IntoIterator<Item = &'a [u8]>) -> (Vec<Event>, Session) {
    let mut session = Session::new(None, Duration::ZERO);
    let mut told = Vec::new();
    for piece in pieces {
        session.poll(Duration::from_millis(1), piece, &mut |event| told.push(event));
        session.take_out();
    }
    (told, session)
}

#[derive(Debug, Clone)]
enum Damage {
    Flip(u8),
    Set(u8),
    Drop,
    Insert(u8),
    Cut(usize),
    Repeat(usize),
}

fn damage() -> impl Strategy<Value = Damage> {
    prop_oneof![
        4 => (0..8_u8).prop_map(Damage::Flip),
        1 => any::<u8>().prop_map(Damage::Set),
        2 => Just(Damage::Drop),
        2 => any::<u8>().prop_map(Damage::Insert),
        1 => (1..200_usize).prop_map(Damage::Cut),
        1 => (1..200_usize).prop_map(Damage::Repeat),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_500))]

    #[test]
    fn a_damaged_stream_never_yields_a_reading_that_was_not_sent(
        values in proptest::collection::vec(-1_000_000..1_000_000_i32, 1..40),
        damages in proptest::collection::vec((any::<proptest::sample::Index>(), damage()), 0..12),
    ) {
        let sent = conversation(&values);
        let mut bytes = wire(&sent);
        for (at, damage) in damages {
            let at = at.index(bytes.len().max(1));
            if at >= bytes.len() { break; }
            match damage {
                Damage::Flip(bit) => bytes[at] ^= 1 << bit,
                Damage::Set(byte) => bytes[at] = byte,
                Damage::Drop => { bytes.remove(at); }
                Damage::Insert(byte) => bytes.insert(at, byte),
                Damage::Cut(length) => { bytes.drain(at..(at + length).min(bytes.len())); }
                Damage::Repeat(length) => {
                    let again = bytes[at..(at + length).min(bytes.len())].to_vec();
                    bytes.splice(at..at, again);
                }
            }
        }
        let (told, session) = hear([&bytes[..]]);
        let mut readings = 0;
        for event in told {
            match event {
                Event::Reading(arrived) => {
                    readings += 1;
                    prop_assert!(sent.contains(&Report::Reading(arrived.reading)), "{arrived:?}");
                }
                Event::Pulse(pulse) => prop_assert!(sent.contains(&Report::Pulse(pulse))),
                Event::Button(press, at) => {
                    let pressed = Report::Button { press, at };
                    prop_assert!(sent.contains(&pressed));
                }
                Event::Up(head) => {
                    prop_assert!(sent.contains(&Report::Hello(head.hello)));
                    let constants = Answer::Calibration(head.calibration);
                    prop_assert!(sent.contains(&Report::Answer(Token(2), constants)));
                }
                // A greeting that a damaged wire repeats looks like one of a new start.
                Event::Skipped { .. } | Event::ClockJumped | Event::Same => (),
                other => prop_assert!(false, "{other:?}"),
            }
        }
        prop_assert!(session.counts().received >= readings);
    }

    #[test]
    fn noise_alone_tells_nothing_but_that_it_is_noise(bytes in proptest::collection::vec(any::<u8>(), 0..4_000)) {
        let (told, session) = hear([&bytes[..]]);
        prop_assert!(told.is_empty(), "{told:?}");
        prop_assert_eq!(session.counts().received, 0);
    }

    #[test]
    fn however_the_stream_is_cut_into_pieces_it_says_the_same(
        values in proptest::collection::vec(-1_000_000..1_000_000_i32, 1..40),
        flips in proptest::collection::vec((any::<proptest::sample::Index>(), 0..8_u8), 0..4),
        cuts in proptest::collection::vec(any::<proptest::sample::Index>(), 0..40),
    ) {
        let mut bytes = wire(&conversation(&values));
        for (at, bit) in flips {
            let at = at.index(bytes.len());
            bytes[at] ^= 1 << bit;
        }
        let mut cuts: Vec<usize> = cuts.into_iter().map(|cut| cut.index(bytes.len())).collect();
        cuts.extend([0, bytes.len()]);
        cuts.sort_unstable();
        let (whole, one) = hear([&bytes[..]]);
        let (pieces, many) = hear(cuts.windows(2).map(|ends| &bytes[ends[0]..ends[1]]));
        let (singly, each) = hear(bytes.chunks(1));
        prop_assert_eq!(&whole, &pieces);
        prop_assert_eq!(&whole, &singly);
        prop_assert_eq!(one.counts(), many.counts());
        prop_assert_eq!(one.counts(), each.counts());
    }

    /// Lost frames are counted to the last one, whichever they are.
    #[test]
    fn every_reading_is_received_or_counted_as_lost(
        values in proptest::collection::vec(1..1_000_000_i32, 2..60),
        missing in proptest::collection::vec(any::<bool>(), 60),
    ) {
        let sent: Vec<Report> = conversation(&values)
            .into_iter()
            .filter(|report| match report {
                Report::Reading(reading) => !missing[usize::from(reading.sequence) % missing.len()],
                _ => true,
            })
            .collect();
        let arrived = sent.iter().filter(|report| matches!(report, Report::Reading(_))).count() as u64;
        let last = sent.iter().rev().find_map(|report| match report {
            Report::Reading(reading) => Some(u64::from(reading.sequence)),
            _ => None,
        });
        let (_, session) = hear([&wire(&sent)[..]]);
        prop_assert_eq!(session.counts().received, arrived);
        prop_assert_eq!(session.counts().received + session.counts().lost, last.unwrap_or(0));
    }
}

#[test]
fn a_greeting_answered_twice_is_counted_once() {
    let mut session = Session::new(None, Duration::ZERO);
    let hear = |session: &mut Session, sent: &[Report]| {
        session.poll(Duration::from_millis(1), &wire(sent), &mut |_| ());
    };
    hear(&mut session, &[Report::Hello(hello(0)), calibration(), Report::Reading(reading(1, 5))]);
    session.begin_again(Duration::from_millis(1));
    hear(&mut session, &[Report::Hello(hello(101)), Report::Hello(hello(103)), calibration()]);
    hear(&mut session, &[Report::Reading(reading(104, 5))]);
    assert_eq!((session.counts().received, session.counts().lost), (2, 102));
}

#[test]
fn readings_between_greeting_and_constants_came_and_are_not_told() {
    let (told, session) = hear([&wire(&[
        Report::Hello(hello(0)),
        Report::Reading(reading(1, 5)),
        calibration(),
        Report::Reading(reading(2, 5)),
    ])[..]]);
    let readings = told.iter().filter(|event| matches!(event, Event::Reading(_))).count();
    assert_eq!((readings, session.counts().received, session.counts().lost), (1, 2, 0));
}

#[test]
fn after_a_lost_link_another_head_is_refused_by_name() {
    let mut session = Session::new(None, Duration::ZERO);
    session.poll(Duration::ZERO, &wire(&[Report::Hello(hello(0)), calibration()]), &mut |_| ());
    session.begin_again(Duration::ZERO);
    let other = SerialNumber([1; 16]);
    let mut told = Vec::new();
    let stranger = [
        Report::Hello(Hello { serial: Some(other), ..hello(0) }),
        calibration(),
        Report::Reading(reading(1, 5)),
    ];
    session.poll(Duration::ZERO, &wire(&stranger), &mut |event| told.push(event));
    let refused = skimgauge_session::Refused::OtherHead { found: Some(other), wanted: SERIAL };
    assert_eq!(told, [Event::Refused(refused)]);
}
