//! Whatever comes over the wire, as fast as the wire carries it: the head goes on, and says what it
//! lost.

use skimgauge_bench::Bench;
use skimgauge_emulated_tests::{SECOND, Session, serial};
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::frame::{MAX_FRAME, encode};
use skimgauge_shared::message::{
    CalibrationCheck, Call, Report, Request, ResetCause, SerialNumber, Token,
};

/// Seeded chance, so that every run is the same (xorshift64; Marsaglia 2003).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, limit: u64) -> u64 {
        self.next() % limit
    }
}

fn frame(request: &Request) -> Vec<u8> {
    let mut buffer = [0; MAX_FRAME];
    let call = Call { token: Token(7), request: request.clone() };
    encode(&call, &mut buffer).unwrap().to_vec()
}

/// Another protocol's greeting: tag 0, protocol 3, a byte more; CRC and COBS by hand.
const STRANGER: [u8; 9] = [0x01, 0x07, 0x03, 0x09, 0x75, 0x32, 0xB0, 0xAD, 0x00];

/// A piece of nonsense, or of sense that must change nothing.
fn piece(chance: &mut Chance, own: SerialNumber) -> Vec<u8> {
    match chance.below(8) {
        // Noise.
        0 => (0..chance.below(300)).map(|_| chance.next() as u8).collect(),
        // A frame that never ends, then does.
        1 => (0..chance.below(4_000)).map(|_| chance.next() as u8 | 1).chain([0]).collect(),
        // A good frame with one bit wrong.
        2 => {
            let mut bytes = frame(&Request::StageCalibration(Calibration::nominal(own)));
            let at = chance.below(bytes.len() as u64) as usize;
            bytes[at] ^= 1 << chance.below(8);
            bytes
        }
        // Good frames, cut.
        3 => {
            let mut bytes = frame(&Request::ReadCalibration);
            bytes.truncate(chance.below(bytes.len() as u64) as usize);
            bytes
        }
        // Nothing but separators.
        4 => vec![0; chance.below(200) as usize],
        // Requests that a head may be asked as often as one likes.
        5 => frame(&Request::Ping),
        // A calibration staged, and committed with the wrong check.
        6 => {
            let mut bytes = frame(&Request::StageCalibration(Calibration::nominal(own)));
            bytes.extend(frame(&Request::CommitCalibration { check: chance.next() as u32 }));
            bytes
        }
        // The second step without the first, and another protocol's greeting.
        _ => {
            let mut bytes = frame(&Request::CommitCalibration { check: chance.next() as u32 });
            bytes.extend(STRANGER);
            bytes
        }
    }
}

/// Keeps the wire full for so long; what the head made, sent and did not send meanwhile.
fn flood(
    session: &mut Session,
    seconds: u64,
    mut next: impl FnMut() -> Vec<u8>,
) -> (u32, u32, u32, u64) {
    let unsent_before = session.pulses().last().map_or(0, |pulse| pulse.unsent);
    session.forget();
    let before = session.greet();
    let end_us = session.head.now_us() + seconds * SECOND;
    let mut sent = 0;
    while session.head.now_us() < end_us {
        // A full-speed bus carries about 1.2 MB in a second: 20 ms of it are always waiting.
        let queued = session.head.figures().unwrap().usb.queued;
        let mut bytes = Vec::new();
        while queued + (bytes.len() as u64) < 25_000 {
            bytes.extend(next());
        }
        sent += bytes.len() as u64;
        session.head.send(&bytes).unwrap();
        session.run(10_000);
    }
    sent -= session.head.figures().unwrap().usb.queued;
    while session.head.figures().unwrap().usb.queued > 0 {
        session.run(10_000);
    }
    session.head.send(&[0]).unwrap();
    session.run(SECOND);
    let last = *session.pulses().last().unwrap();
    let heard = session
        .said
        .iter()
        .skip_while(|report| **report != Report::Hello(before))
        .take_while(|report| !matches!(report, Report::Pulse(pulse) if pulse.at == last.at));
    let heard = heard.filter(|report| matches!(report, Report::Reading(_))).count() as u32;
    (last.made - before.made, heard, last.unsent - unsent_before, sent)
}

fn hold(seconds: u64, seed: u64) {
    let bench = Bench::new(seed);
    let mut session = Session::start(bench.clone());
    let own = SerialNumber(serial(&bench));
    let cycles = bench.memory_write_cycles();
    let mut chance = Chance(seed);
    let (made, heard, unsent, sent) = flood(&mut session, seconds, || piece(&mut chance, own));
    let seconds_gone = seconds + 1;
    println!(
        "{seconds} s of nonsense, {} kB/s: {made} readings made, {heard} heard, {unsent} said to be unsent",
        sent / seconds / 1_000
    );
    assert_eq!(made, heard + unsent, "a reading was lost and not counted");
    assert!(u64::from(made) >= seconds_gone * 85, "{made} readings made in {seconds_gone} s");
    assert_eq!(session.skipped, 0, "the head's own bytes came garbled");
    assert_eq!(bench.memory_write_cycles(), cycles, "the memory was written to");
    let hello = session.greet();
    assert_eq!(
        (hello.reset, hello.calibration),
        (ResetCause::Power, CalibrationCheck::Missing),
        "the head restarted"
    );
    session.run(SECOND / 2);
    session.forget();
    session.run(SECOND);
    assert!(
        (session.readings().len() as i64 - 90).abs() <= 1,
        "the head does not come back to its rate"
    );
}

#[test]
fn two_seconds_of_nonsense_at_full_speed() {
    hold(2, 21);
}

/// The same for a minute. Takes minutes of real time.
#[test]
#[ignore = "minutes long; CI runs it"]
fn a_minute_of_nonsense_at_full_speed() {
    hold(60, 22);
}
