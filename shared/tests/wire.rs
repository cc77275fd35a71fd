//! The wire, held byte by byte. A change here is a change of protocol: raise `PROTOCOL` with it.

use heapless::{String, Vec};
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::check::crc32;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, Skip, encode};
use skimgauge_shared::message::{
    Ask, CalibrationCheck, Capabilities, Codes, Cue, Hello, LOADER_KEY, PROTOCOL, Press, Pulse,
    Rate, Refusal, Report, Request, ResetCause, SerialNumber, Version,
};
use skimgauge_shared::reading::{Absence, Reading, Sample, Tilt};
use skimgauge_shared::units::{
    CentiCelsius, Microdegrees, Micrometres, Microseconds, Millivolts, PartsPerMillion,
    TenThousandths,
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
        stand_off: Sample::Value(Micrometres(27_512)),
        eye: Sample::Value(TenThousandths(-1_250)),
        tilt: Sample::Value(Tilt { level: Microdegrees(120_000), lean: Microdegrees(-340_000) }),
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
    calibration.eye.scale = Micrometres(1_500);
    calibration.eye.scale_u = Micrometres(300);
    calibration
}

fn hello() -> Hello {
    Hello {
        protocol: PROTOCOL,
        firmware: Version { major: 0, minor: 1, patch: 0 },
        serial: Some(serial()),
        reset: ResetCause::Power,
        capabilities: Capabilities::EYE.with(Capabilities::BUZZER),
        at: Microseconds(250_000),
        made: 0,
        rate: Rate { per_second: 100, conversions: 2 },
        calibration: CalibrationCheck::Good,
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
        light: Sample::Absent(Absence::NoLight),
        latest_start_us: 40,
    }
}

/// One of each, so that a message without golden bytes does not compile.
fn every_report() -> std::vec::Vec<(Report, &'static str)> {
    use Report as R;
    let covered = |report: &Report| match report {
        R::Hello(_)
        | R::Reading(_)
        | R::Pulse(_)
        | R::Pong { .. }
        | R::Rate(_)
        | R::Calibration(_) => (),
        R::Staged { .. }
        | R::Codes(_)
        | R::Button { .. }
        | R::Done(_)
        | R::Refused { .. }
        | R::Log(_) => (),
        R::LastWords(_) => (),
    };
    let all = vec![
        (
            R::Hello(hello()),
            "00 01 00 01 00 01 00 11 22 33 44 55 66 77 88 99 aa bb cc dd ee ff 00 03 90 a1 0f 00 64 02 00",
        ),
        (R::Reading(reading()), "01 2a 87 ad 4b 00 f0 ad 03 c3 13 80 d3 0e bf c0 29"),
        (R::Pulse(pulse()), "02 c0 96 b1 02 f4 03 03 00 00 cc 21 00 92 27 01 0b 28"),
        (R::Pong { token: 300, at: Microseconds(1) }, "03 ac 02 01"),
        (R::Rate(Rate { per_second: 250, conversions: 1 }), "04 fa 01 01"),
        (
            R::Calibration(CalibrationState {
                check: CalibrationCheck::Missing,
                calibration: calibration(),
            }),
            "05 01 00 11 22 33 44 55 66 77 88 99 aa bb cc dd ee ff ea 0f 03 09 03 41 64 61 d6 a0 03 ea dc 65 00 a0 9c 01 \
             00 a0 1f 00 00 00 b8 17 d8 04 cf 86 03 e8 07 00 00",
        ),
        (R::Staged { check: 0xDEAD_BEEF }, "06 ef fd b6 f5 0d"),
        (
            R::Codes(Codes {
                sequence: 42,
                converter: Sample::Value([160_000, 32_000, -16]),
                angles: Sample::Absent(Absence::FrameError),
            }),
            "07 2a 00 80 c4 13 80 f4 03 1f 01 05",
        ),
        (R::Button { press: Press::Long, at: Microseconds(2) }, "08 01 02"),
        (R::Done(Ask::Cue), "09 08"),
        (R::Refused { ask: Ask::CommitCalibration, why: Refusal::NotStaged }, "0a 06 01"),
        (R::Log(Vec::from_slice(&[1, 2]).unwrap()), "0b 02 01 02"),
        (R::LastWords(String::try_from("a:1").unwrap()), "0c 03 61 3a 31"),
    ];
    all.iter().for_each(|(report, _)| covered(report));
    all
}

fn every_request() -> std::vec::Vec<(Request, &'static str)> {
    use Request as Q;
    let all = vec![
        (Q::Greet { protocol: PROTOCOL }, "00 01"),
        (Q::Ping { token: 7 }, "01 07"),
        (Q::SetRate { per_second: 100 }, "02 64"),
        (Q::Identify { seconds: 5 }, "03 05"),
        (Q::ReadCalibration, "04"),
        (
            Q::StageCalibration(calibration()),
            "05 00 11 22 33 44 55 66 77 88 99 aa bb cc dd ee ff ea 0f 03 09 03 41 64 61 d6 a0 03 ea dc 65 00 a0 9c 01 00 \
             a0 1f 00 00 00 b8 17 d8 04 cf 86 03 e8 07 00 00",
        ),
        (Q::CommitCalibration { check: 1 }, "06 01"),
        (Q::StreamCodes { on: true }, "07 01"),
        (Q::Cue(Cue::Seek { nearness: 200 }), "08 01 c8"),
        (Q::EnterLoader { key: LOADER_KEY }, "09 cd 92 ad 9a 05"),
    ];
    // `Request::ask` matches exhaustively; a request without golden bytes shows here.
    let asked: std::vec::Vec<_> = all.iter().map(|(request, _)| request.ask() as usize).collect();
    assert_eq!(asked, (0..=Ask::EnterLoader as usize).collect::<std::vec::Vec<_>>());
    all
}

/// The one frame that no later protocol may change: by it a host of any age gets a head of any age
/// into its boot loader, so that nobody has to take it down and open it. CRC and COBS reckoned apart
/// from this crate (Python's `zlib.crc32`; COBS by hand).
#[test]
fn the_way_into_the_boot_loader_is_the_same_frame_for_ever() {
    let frame = wire(&Request::EnterLoader { key: LOADER_KEY });
    assert_eq!(hex(&frame), "0b 09 cd 92 ad 9a 05 02 ad 65 ba 00");
}

#[test]
fn golden_payloads() {
    for (report, golden) in every_report() {
        assert_eq!(payload(&report), golden, "{report:?}");
    }
    for (request, golden) in every_request() {
        assert_eq!(payload(&request), golden, "{request:?}");
    }
}

#[test]
fn golden_frames() {
    assert_eq!(hex(&wire(&Report::Done(Ask::Greet))), "02 09 05 b6 a9 1b 90 00");
    assert_eq!(hex(&wire(&Request::Ping { token: 7 })), "07 01 07 1d b6 a6 c6 00");
    assert_eq!(wire(&Report::Reading(reading())).len(), 23);
}

#[test]
fn everything_survives_the_wire() {
    for (report, _) in every_report() {
        assert_eq!(decode(&wire(&report)), [Fed::Message(report)]);
    }
    for (request, _) in every_request() {
        assert_eq!(decode(&wire(&request)), [Fed::Message(request)]);
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
    longest.eye.dark_outer = i16::MIN;
    longest.eye.dark_inner = i16::MIN;
    longest.eye.inner_gain = PartsPerMillion(i32::MIN);
    longest.eye.scale = far;
    longest.eye.scale_u = far;
    longest.zero = far;
    longest.zero_u = far;
    longest.tilt_offset = Tilt { level: Microdegrees(i32::MIN), lean: Microdegrees(i32::MIN) };
    let state = CalibrationState { check: CalibrationCheck::Good, calibration: longest.clone() };
    let longest_rate = Rate { per_second: u16::MAX, conversions: 255 };
    let cases: std::vec::Vec<(std::vec::Vec<u8>, usize)> = vec![
        (
            wire(&Report::Hello(Hello {
                made: u32::MAX,
                at: Microseconds(u64::MAX),
                rate: longest_rate,
                ..hello()
            })),
            50,
        ),
        (
            wire(&Report::Pulse(Pulse {
                at: Microseconds(u64::MAX),
                made: u32::MAX,
                unsent: u32::MAX,
                refused_frames: u32::MAX,
                temperature: Sample::Value(CentiCelsius(i16::MIN)),
                supply: Sample::Value(Millivolts(u16::MAX)),
                light: Sample::Value(u16::MAX),
                latest_start_us: u16::MAX,
            })),
            47,
        ),
        (wire(&Report::Pong { token: u32::MAX, at: Microseconds(u64::MAX) }), 22),
        (wire(&Report::Rate(longest_rate)), 11),
        (wire(&Report::Calibration(state)), 115),
        (wire(&Request::StageCalibration(longest)), 114),
        (wire(&Report::Staged { check: u32::MAX }), 12),
        (
            wire(&Report::Codes(Codes {
                sequence: 255,
                converter: Sample::Value([i32::MIN; 3]),
                angles: Sample::Value([i16::MIN; 2]),
            })),
            31,
        ),
        (wire(&Report::Log(Vec::from_slice(&[255; 48]).unwrap())), 56),
        (wire(&Report::LastWords(String::try_from("x".repeat(96).as_str()).unwrap())), 104),
    ];
    for (frame, longest) in cases {
        assert_eq!(frame.len(), longest, "{}", hex(&frame));
        assert!(frame.len() <= MAX_FRAME);
    }
}

#[test]
fn another_protocol_is_refused_by_name_whatever_follows() {
    // Tag 0, protocol 2, then contents that this version cannot know.
    let body = [0_u8, 2, 9, 9, 9];
    let mut frame = body.to_vec();
    frame.extend(crc32(&body).to_le_bytes());
    let mut sent = [0; 32];
    let length = cobs::encode(&frame, &mut sent);
    let mut bytes = sent[..length].to_vec();
    bytes.push(0);
    assert_eq!(
        decode::<Report>(&bytes),
        [Fed::Skipped { bytes: bytes.len() as u32, why: Skip::Protocol(2) }]
    );
}

#[test]
fn trailing_bytes_are_not_a_message() {
    // postcard::from_bytes would take this for `Done(Greet)`.
    let body = [9_u8, 0, 0];
    let mut frame = body.to_vec();
    frame.extend(crc32(&body).to_le_bytes());
    let mut sent = [0; 32];
    let length = cobs::encode(&frame, &mut sent);
    let mut bytes = sent[..length].to_vec();
    bytes.push(0);
    assert_eq!(
        decode::<Report>(&bytes),
        [Fed::Skipped { bytes: bytes.len() as u32, why: Skip::Contents }]
    );
}

#[test]
fn a_separator_first_saves_the_first_frame_after_a_restart() {
    let half = &wire(&Report::Reading(reading()))[..9];
    let mut bytes = half.to_vec();
    bytes.push(0);
    bytes.extend(wire(&Report::Hello(hello())));
    let fed = decode::<Report>(&bytes);
    assert_eq!(fed.len(), 2);
    assert!(matches!(fed[0], Fed::Skipped { bytes: 10, .. }));
    assert_eq!(fed[1], Fed::Message(Report::Hello(hello())));
}

#[test]
fn a_flood_without_separators_ends_as_too_long() {
    let mut bytes = vec![0x55; 100_000];
    bytes.push(0);
    bytes.extend(wire(&Report::Done(Ask::Cue)));
    assert_eq!(
        decode::<Report>(&bytes),
        [Fed::Skipped { bytes: 100_001, why: Skip::TooLong }, Fed::Message(Report::Done(Ask::Cue))]
    );
}
