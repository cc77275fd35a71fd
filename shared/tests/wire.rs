//! The wire, held byte by byte. A change here is a change of protocol: raise `PROTOCOL` with it.
//!
//! Over 400 lines: one set of golden bytes, a message a test.

use heapless::{String, Vec};
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date, Lost};
use skimgauge_shared::check::crc32;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, Skip, encode};
use skimgauge_shared::light::{Fault, Light, LightState, Second, Shape, Sheet, Trust};
use skimgauge_shared::message::{
    Answer, Ask, CalibrationCheck, Call, Capabilities, Codes, Cue, Hello, LOADER_KEY, PROTOCOL,
    Press, Pulse, Rate, Refusal, Report, Request, ResetCause, SCHEMA, SerialNumber, Token, Version,
};
use skimgauge_shared::pixels::{PIXELS, Piece};
use skimgauge_shared::reading::{Absence, Reading, Sample, Tilt, TiltSteps};
use skimgauge_shared::units::{
    CentiCelsius, Microdegrees, Micrometres, Microseconds, Millivolts, PartsPerMillion,
};

fn hex(bytes: &[u8]) -> std::string::String {
    bytes.iter().map(|b| format!("{b:02x}")).collect::<std::vec::Vec<_>>().join(" ")
}

fn wire<T: serde::Serialize>(message: &T) -> std::vec::Vec<u8> {
    let mut buffer = [0; MAX_FRAME];
    encode(message, &mut buffer).unwrap().to_vec()
}

fn payload<T: serde::Serialize>(message: &T) -> std::string::String {
    hex(&postcard::to_stdvec(message).unwrap())
}

fn decode<T: serde::de::DeserializeOwned>(bytes: &[u8]) -> std::vec::Vec<Fed<T>> {
    let mut decoder = Decoder::new();
    bytes.iter().map(|b| decoder.feed(*b)).filter(|fed| !matches!(fed, Fed::More)).collect()
}

fn reading() -> Reading {
    Reading {
        sequence: 42,
        at_low_us: 1_234_567,
        stand_off: Sample::Value(Micrometres(33_012)),
        middle: Sample::Value(Micrometres(2_588)),
        tilt: Sample::Value(TiltSteps { level: 22, lean: -62 }),
        state: LightState::new(None, Light::Seen, Trust::Sure, true),
    }
}

fn sheet() -> Sheet {
    Sheet {
        sequence: 42,
        exposure: Some(Microseconds(3_000)),
        room: -3,
        brightest: 2_400,
        trust: Trust::RoomLight,
        shape: Some(Shape { width: Micrometres(1_500), height: 2_100, scatter: Micrometres(4) }),
        second: Some(Second { middle: Micrometres(900), height: 300 }),
        bad_pixel: None,
    }
}

fn serial() -> SerialNumber {
    SerialNumber([
        0x00, 0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88, 0x99, 0xAA, 0xBB, 0xCC, 0xDD, 0xEE,
        0xFF,
    ])
}

fn calibration() -> Calibration {
    let mut calibration = Calibration::nominal(serial());
    calibration.by = String::try_from("Ada").unwrap();
    calibration.date = Date { year: 2026, month: 3, day: 9 };
    calibration.pixels = 0xDEAD_BEEF;
    calibration
}

fn hello() -> Hello {
    Hello {
        protocol: PROTOCOL,
        schema: 7,
        firmware: Version { major: 0, minor: 1, patch: 0 },
        serial: Some(serial()),
        reset: ResetCause::Power,
        capabilities: Capabilities::LOADER.with(Capabilities::BUZZER),
        at: Microseconds(250_000),
        made: 0,
        rate: Rate { per_second: 90, conversions: 8 },
        calibration: CalibrationCheck::Good,
        token: Token(300),
    }
}

fn pulse() -> Pulse {
    Pulse {
        at: Microseconds(5_000_000),
        made: 500,
        unsent: 3,
        refused_frames: 0,
        temperature: Sample::Value(CentiCelsius(2_150)),
        supply: Sample::Value(Millivolts(5_010)),
        tilt_status: 0x0102,
        latest_start_us: 40,
    }
}

fn scan() -> [u16; PIXELS] {
    core::array::from_fn(|i| i as u16 * 16 + 1)
}

fn calls() -> std::vec::Vec<(Call, &'static str)> {
    use Request as Q;
    let token = Token(300);
    let all = [
        (Q::Greet, "00 02 87 ba b1 f6 03 ac 02"),
        (Q::EnterLoader { key: LOADER_KEY }, "09 cd 92 ad 9a 05"),
        (Q::Ping, "10 ac 02"),
        (Q::SetRate { per_second: 90 }, "11 ac 02 5a"),
        (Q::Identify { seconds: 5 }, "12 ac 02 05"),
        (Q::ReadCalibration, "13 ac 02"),
        (
            Q::StageCalibration(calibration()),
            "14 ac 02 00 11 22 33 44 55 66 77 88 99 aa bb cc dd ee ff ea 0f 03 09 03 41 64 61 \
             b0 ce 03 ae d2 d0 01 00 a0 9c 01 00 a0 1f 80 41 f0 da 02 00 e0 f0 02 ef fd b6 f5 \
             0d af fd 03 e8 07 00 00",
        ),
        (
            Q::StagePixels { part: 3, bytes: Vec::from_slice(&[0x80, 0, 0x7F]).unwrap() },
            "15 ac 02 03 03 80 00 7f",
        ),
        (Q::CommitCalibration { check: 1 }, "16 ac 02 01"),
        (Q::StreamCodes { on: true }, "17 ac 02 01"),
        (Q::Cue(Cue::Seek { nearness: 200 }), "18 ac 02 01 c8"),
        (Q::ProfileWanted, "19 ac 02"),
        (Q::Unattended, "1a ac 02"),
    ];
    // A request without golden bytes shows here: the last one's tag is `Ask`'s last.
    let tags: std::vec::Vec<u8> = all.iter().map(|(request, _)| request.ask() as u8).collect();
    assert_eq!(
        tags,
        [0, 9].into_iter().chain(16..=Ask::Unattended as u8).collect::<std::vec::Vec<_>>()
    );
    all.map(|(request, golden)| {
        let token = if request.ask() == Ask::EnterLoader { Token::NONE } else { token };
        (Call { token, request }, golden)
    })
    .to_vec()
}

/// Every answer, so that one without golden bytes does not compile.
fn answers() -> std::vec::Vec<(Report, &'static str)> {
    use Answer as A;
    let covered = |answer: &Answer| match answer {
        A::Done | A::Refused(_) | A::Unknown | A::Pong { .. } | A::Rate(_) => (),
        A::Calibration(_) | A::Staged { .. } | A::PressWanted { .. } => (),
    };
    let state = CalibrationState { check: CalibrationCheck::Missing, calibration: calibration() };
    let all = [
        (A::Done, "18 ac 02 00"),
        (A::Refused(Refusal::NothingWaits), "18 ac 02 01 08"),
        (A::Unknown, "18 ac 02 02"),
        (A::Pong { at: Microseconds(1) }, "18 ac 02 03 01"),
        (A::Rate(Rate { per_second: 45, conversions: 16 }), "18 ac 02 04 2d 10"),
        (
            A::Calibration(state),
            "18 ac 02 05 01 00 11 22 33 44 55 66 77 88 99 aa bb cc dd ee ff ea 0f 03 09 03 41 \
             64 61 b0 ce 03 ae d2 d0 01 00 a0 9c 01 00 a0 1f 80 41 f0 da 02 00 e0 f0 02 ef fd \
             b6 f5 0d af fd 03 e8 07 00 00",
        ),
        (A::Staged { check: 0xDEAD_BEEF }, "18 ac 02 06 ef fd b6 f5 0d"),
        (A::PressWanted { seconds: 10 }, "18 ac 02 07 0a"),
    ];
    all.iter().for_each(|(answer, _)| covered(answer));
    all.map(|(answer, golden)| (Report::Answer(Token(300), answer), golden)).to_vec()
}

/// One of each, so that a message without golden bytes does not compile.
fn reports() -> std::vec::Vec<(Report, &'static str)> {
    use Report as R;
    let covered = |report: &Report| match report {
        R::Hello(_) | R::Reading(_) | R::Sheet(_) | R::Pulse(_) | R::Codes(_) => (),
        R::Profile(_) | R::Button { .. } | R::Log(_) | R::LastWords(_) | R::Answer(..) => (),
    };
    let dark = Reading {
        stand_off: Sample::Absent(Absence::NoSpot),
        middle: Sample::Absent(Absence::NoMiddle),
        tilt: Sample::Absent(Absence::FrameError),
        state: LightState::new(Some(Fault::NoLight), Light::No, Trust::NotYet, false),
        ..reading()
    };
    let unlit = Sheet {
        exposure: None,
        trust: Trust::NotYet,
        shape: None,
        second: None,
        bad_pixel: Some(9),
        ..sheet()
    };
    let all = vec![
        (
            R::Hello(hello()),
            "00 02 07 00 01 00 01 00 11 22 33 44 55 66 77 88 99 aa bb cc dd ee ff 00 06 90 a1 \
             0f 00 5a 08 00 ac 02",
        ),
        (R::Reading(reading()), "10 2a 87 ad 4b 00 e8 83 04 b8 28 2c 7b d0"),
        (R::Reading(dark), "10 2a 87 ad 4b 07 10 1a 0a 00 26"),
        (R::Sheet(sheet()), "11 2a 01 b8 17 05 e0 12 02 01 b8 17 b4 10 08 01 88 0e ac 02 00"),
        (R::Sheet(unlit), "11 2a 00 05 e0 12 01 00 00 01 09"),
        (R::Pulse(pulse()), "12 c0 96 b1 02 f4 03 03 00 00 cc 21 00 92 27 82 02 28"),
        (R::Codes(Codes { sequence: 42, stand_off: Sample::Value(160_000) }), "13 2a 00 80 c4 13"),
        (
            R::Profile(Piece::of(&scan(), 42, 3)),
            "14 2a 03 60 01 1c c1 21 1c c3 41 1c c5 61 1c c7 81 1c c9 a1 1c cb c1 1c cd e1 1c \
             cf 01 1d d1 21 1d d3 41 1d d5 61 1d d7 81 1d d9 a1 1d db c1 1d dd e1 1d df 01 1e \
             e1 21 1e e3 41 1e e5 61 1e e7 81 1e e9 a1 1e eb c1 1e ed e1 1e ef 01 1f f1 21 1f \
             f3 41 1f f5 61 1f f7 81 1f f9 a1 1f fb c1 1f fd e1 1f ff",
        ),
        (R::Button { press: Press::Long, at: Microseconds(2) }, "15 01 02"),
        (R::Log(Vec::from_slice(&[1, 2]).unwrap()), "16 02 01 02"),
        (R::LastWords(String::try_from("a:1").unwrap()), "17 03 61 3a 31"),
    ];
    all.iter().for_each(|(report, _)| covered(report));
    all.into_iter().chain(answers()).collect()
}

/// The one frame that no later protocol may change: by it a host of any age gets a head of any age
/// into its boot loader, so that nobody has to take it down and open it. CRC and COBS reckoned apart
/// from this crate (Python's `zlib.crc32`; COBS by hand).
#[test]
fn the_way_into_the_boot_loader_is_the_same_frame_for_ever() {
    let request = Request::EnterLoader { key: LOADER_KEY };
    for token in [Token::NONE, Token(7)] {
        let frame = wire(&Call { token, request: request.clone() });
        assert_eq!(hex(&frame), "0b 09 cd 92 ad 9a 05 02 ad 65 ba 00");
    }
}

#[test]
fn golden_payloads() {
    for (report, golden) in reports() {
        assert_eq!(payload(&report), golden, "{report:?}");
    }
    for (call, golden) in calls() {
        assert_eq!(payload(&call), golden, "{call:?}");
    }
}

/// Whoever changes a shape changes bytes above, and with them the number by which two ends know that
/// they agree.
#[test]
fn the_schema_is_the_checksum_of_the_golden_payloads() {
    // The host's greeting, the first call, carries the number itself.
    let calls = calls().into_iter().skip(1).map(|(_, golden)| golden);
    let all = reports().into_iter().map(|(_, golden)| golden).chain(calls);
    let all: std::vec::Vec<_> = all.collect();
    let now = crc32(all.join("\n").as_bytes());
    assert_eq!(SCHEMA, now, "the shapes changed: SCHEMA is {now:#010X}");
}

/// CRC and COBS reckoned apart from this crate (Python's `zlib.crc32`; COBS by hand).
#[test]
fn golden_frames() {
    let done = Report::Answer(Token(7), Answer::Done);
    assert_eq!(hex(&wire(&done)), "03 18 07 05 1d bd 35 a2 00");
    let ping = Call { token: Token(7), request: Request::Ping };
    assert_eq!(hex(&wire(&ping)), "07 10 07 0d 95 7f 95 00");
    assert_eq!(wire(&Report::Reading(reading())).len(), 20);
}

#[test]
fn everything_survives_the_wire() {
    for (report, _) in reports() {
        let report = match report {
            Report::Hello(hello) => Report::Hello(Hello { schema: SCHEMA, ..hello }),
            other => other,
        };
        assert_eq!(decode(&wire(&report)), [Fed::Message(report)]);
    }
    for (call, _) in calls() {
        assert_eq!(decode(&wire(&call)), [Fed::Message(call)]);
    }
}

/// No payload of protocol 1 but a greeting and the loader request is one of this protocol: what an
/// old head or host sends is never taken for something else.
#[test]
fn tags_of_the_former_protocol_say_nothing() {
    for tag in 1..16_u8 {
        for filling in [0_u8, 1, 2, 5, 0x7F] {
            for length in 1..40 {
                let mut body = vec![filling; length];
                body[0] = tag;
                assert!(postcard::take_from_bytes::<Report>(&body).is_err(), "{body:?}");
                let call = postcard::take_from_bytes::<Call>(&body);
                assert!(tag == 9 || call.is_err(), "{body:?}");
            }
        }
    }
}

#[test]
fn the_inclinometers_status_has_a_name_for_every_bit() {
    let named = |tilt_status| Pulse { tilt_status, ..pulse() }.tilt_trouble();
    assert_eq!(named(0), None);
    assert_eq!(named(0x0012), Some("supply"));
    assert_eq!(named(1 << 6), Some("signal saturated: shaken or struck"));
    assert!((0..10).all(|bit| named(1 << bit) != named(1 << 12)));
}

/// What a head must know of a request that it does not: whom to answer.
#[test]
fn the_token_of_an_unknown_request_is_known() {
    for (body, tag, token) in [
        (&[99_u8, 0xAC, 0x02, 1, 2, 3][..], 99, 300),
        (&[24, 7, 9], 24, 7),
        (&[16], 16, 0),
        (&[16, 7, 0], 16, 7),
    ] {
        let fed = decode::<Call>(&framed(body));
        assert_eq!(fed.len(), 1);
        assert!(
            matches!(fed[0], Fed::Skipped { why, .. } if why == Skip::Contents { tag, token }),
            "{fed:?}"
        );
    }
}

/// The longest each message can be, framing included. A message that grows shows here before it
/// fails on a head.
#[test]
fn longest_frames() {
    let far = Micrometres(i32::MIN);
    let mut longest = calibration();
    longest.by = String::try_from("0123456789abcdef").unwrap();
    longest.date = Date { year: u16::MAX, month: 255, day: 255 };
    longest.stand_off.origin = far;
    longest.stand_off.slope_pm_per_code = i32::MIN;
    longest.stand_off.curvature_fm_per_code2 = i32::MIN;
    longest.stand_off.slope_u = PartsPerMillion(i32::MIN);
    longest.stand_off.temperature_nm_per_k = i32::MIN;
    longest.stand_off.reference = CentiCelsius(i16::MIN);
    longest.stand_off.lowest = i16::MIN;
    longest.stand_off.highest = i16::MIN;
    longest.stand_off.lost = Lost::Below(i16::MIN);
    longest.pixels = u32::MAX;
    longest.zero = far;
    longest.zero_u = far;
    longest.tilt_offset = Tilt { level: Microdegrees(i32::MIN), lean: Microdegrees(i32::MIN) };
    let state = CalibrationState { check: CalibrationCheck::Good, calibration: longest.clone() };
    let longest_rate = Rate { per_second: u16::MAX, conversions: 255 };
    let token = Token(u16::MAX);
    let (time, answer) = (Microseconds(u64::MAX), |answer| wire(&Report::Answer(token, answer)));
    let call = |request| wire(&Call { token, request });
    let cases: std::vec::Vec<(std::vec::Vec<u8>, usize)> = vec![
        (
            wire(&Report::Hello(Hello {
                schema: u32::MAX,
                made: u32::MAX,
                at: time,
                rate: longest_rate,
                token,
                ..hello()
            })),
            58,
        ),
        (
            wire(&Report::Pulse(Pulse {
                at: time,
                made: u32::MAX,
                unsent: u32::MAX,
                refused_frames: u32::MAX,
                temperature: Sample::Value(CentiCelsius(i16::MIN)),
                supply: Sample::Value(Millivolts(u16::MAX)),
                tilt_status: u16::MAX,
                latest_start_us: u16::MAX,
            })),
            46,
        ),
        (
            wire(&Report::Sheet(Sheet {
                sequence: 255,
                exposure: Some(time),
                room: i16::MIN,
                brightest: u16::MAX,
                trust: Trust::Lopsided,
                shape: Some(Shape { width: far, height: u16::MAX, scatter: far }),
                second: Some(Second { middle: far, height: u16::MAX }),
                bad_pixel: Some(255),
            })),
            51,
        ),
        (answer(Answer::Pong { at: time }), 21),
        (answer(Answer::Rate(longest_rate)), 15),
        (answer(Answer::Calibration(state)), 113),
        (call(Request::StageCalibration(longest)), 111),
        (call(Request::StagePixels { part: 255, bytes: Vec::from_slice(&[255; 66]).unwrap() }), 78),
        (answer(Answer::Staged { check: u32::MAX }), 16),
        (wire(&Report::Codes(Codes { sequence: 255, stand_off: Sample::Value(i32::MIN) })), 14),
        (wire(&Report::Profile(Piece::of(&[0xFFFF; PIXELS], 255, 3))), 106),
        (wire(&Report::Log(Vec::from_slice(&[255; 48]).unwrap())), 56),
        (wire(&Report::LastWords(String::try_from("x".repeat(96).as_str()).unwrap())), 104),
    ];
    let lengths: std::vec::Vec<_> = cases.iter().map(|(frame, _)| frame.len()).collect();
    let longest: std::vec::Vec<_> = cases.iter().map(|(_, longest)| *longest).collect();
    assert_eq!(lengths, longest);
    assert!(lengths.iter().all(|length| *length <= MAX_FRAME));
}

/// A body as a frame.
fn framed(body: &[u8]) -> std::vec::Vec<u8> {
    let mut frame = body.to_vec();
    frame.extend(crc32(body).to_le_bytes());
    let mut sent = [0; 64];
    let length = cobs::encode(&frame, &mut sent);
    let mut bytes = sent[..length].to_vec();
    bytes.push(0);
    bytes
}

#[test]
fn another_protocol_or_schema_is_refused_by_name_whatever_follows() {
    // Tag 0, protocol 3, then contents that this version cannot know; and protocol 1's greeting.
    for (body, theirs) in [(&[0_u8, 3, 9, 9, 9][..], 3), (&[0, 1], 1), (&[0, 1, 0, 1, 0, 0], 1)] {
        let bytes = framed(body);
        let why = Skip::Protocol(theirs);
        let skipped = [Fed::Skipped { bytes: bytes.len() as u32, why }];
        assert_eq!(decode::<Report>(&bytes), skipped);
        assert!(decode::<Call>(&bytes).len() == 1);
    }
    let bytes = framed(&[0, PROTOCOL as u8, 9, 9, 9]);
    assert_eq!(
        decode::<Report>(&bytes),
        [Fed::Skipped { bytes: bytes.len() as u32, why: Skip::Schema(9) }]
    );
}

#[test]
fn trailing_bytes_are_not_a_message() {
    // postcard::from_bytes would take this for an answer and pass the last over.
    let bytes = framed(&[24, 7, 0, 0]);
    assert_eq!(
        decode::<Report>(&bytes),
        [Fed::Skipped { bytes: bytes.len() as u32, why: Skip::Contents { tag: 24, token: 7 } }]
    );
}

#[test]
fn a_separator_first_saves_the_first_frame_after_a_restart() {
    let half = &wire(&Report::Reading(reading()))[..9];
    let mut bytes = half.to_vec();
    bytes.push(0);
    bytes.extend(wire(&Report::Pulse(pulse())));
    let fed = decode::<Report>(&bytes);
    assert_eq!(fed.len(), 2);
    assert!(matches!(fed[0], Fed::Skipped { bytes: 10, .. }));
    assert_eq!(fed[1], Fed::Message(Report::Pulse(pulse())));
}

#[test]
fn a_flood_without_separators_ends_as_too_long() {
    let mut bytes = vec![0x55; 100_000];
    bytes.push(0);
    let done = Report::Answer(Token(7), Answer::Done);
    bytes.extend(wire(&done));
    assert_eq!(
        decode::<Report>(&bytes),
        [Fed::Skipped { bytes: 100_001, why: Skip::TooLong }, Fed::Message(done)]
    );
}
