//! Whatever happens to the bytes, no message comes out that was not sent.

use proptest::prelude::*;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::light::{Fault, Light, LightState, Trust};
use skimgauge_shared::message::Report;
use skimgauge_shared::reading::{Absence, Reading, Sample, TiltSteps};
use skimgauge_shared::units::Micrometres;

fn sample<T: std::fmt::Debug + Clone>(
    value: impl Strategy<Value = T>,
) -> impl Strategy<Value = Sample<T>> {
    prop_oneof![
        4 => value.prop_map(Sample::Value),
        1 => proptest::sample::select(Absence::ALL).prop_map(Sample::Absent),
    ]
}

fn states() -> impl Strategy<Value = LightState> {
    let faults = Fault::ALL.iter().copied().map(Some).chain([None]).collect::<Vec<_>>();
    let lights = vec![Light::Seen, Light::Waiting, Light::No];
    let trusts = vec![Trust::Sure, Trust::NotYet, Trust::RoomLight, Trust::Lopsided];
    use proptest::sample::select;
    (select(faults), select(lights), select(trusts), any::<bool>())
        .prop_map(|(fault, light, trust, second)| LightState::new(fault, light, trust, second))
}

fn readings() -> impl Strategy<Value = Reading> {
    let tilt = (any::<i16>(), any::<i16>()).prop_map(|(level, lean)| TiltSteps { level, lean });
    let length = || (-1_000_000..=1_000_000_i32).prop_map(Micrometres);
    (any::<u8>(), any::<u32>(), sample(length()), sample(length()), sample(tilt), states())
        .prop_map(|(sequence, at_low_us, stand_off, middle, tilt, state)| Reading {
            sequence,
            at_low_us,
            stand_off,
            middle,
            tilt,
            state,
        })
}

fn wire(readings: &[Reading]) -> Vec<u8> {
    let mut bytes = vec![0];
    for reading in readings {
        let mut buffer = [0; MAX_FRAME];
        bytes.extend_from_slice(encode(&Report::Reading(*reading), &mut buffer).unwrap());
    }
    bytes
}

fn decode(bytes: &[u8]) -> (Vec<Report>, usize) {
    let mut decoder = Decoder::new();
    let mut messages = Vec::new();
    let mut skipped = 0;
    for byte in bytes {
        match decoder.feed(*byte) {
            Fed::More => (),
            Fed::Message(message) => messages.push(message),
            Fed::Skipped { .. } => skipped += 1,
        }
    }
    (messages, skipped)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn any_reading_fits_its_28_bytes_and_comes_back(reading in readings()) {
        let mut buffer = [0; MAX_FRAME];
        let frame = encode(&Report::Reading(reading), &mut buffer).unwrap();
        prop_assert!(frame.len() <= Reading::MAX_WIRE_BYTES, "{} bytes", frame.len());
        let (messages, skipped) = decode(frame);
        prop_assert_eq!(messages, vec![Report::Reading(reading)]);
        prop_assert_eq!(skipped, 0);
    }

    #[test]
    fn a_corrupted_stream_never_yields_a_reading_that_was_not_sent(
        sent in proptest::collection::vec(readings(), 1..20),
        damage in proptest::collection::vec((any::<proptest::sample::Index>(), 0..4_u8, any::<u8>()), 1..12),
    ) {
        let mut bytes = wire(&sent);
        for (at, kind, value) in damage {
            if bytes.is_empty() { break; }
            let at = at.index(bytes.len());
            match kind {
                0 => bytes[at] ^= 1 << (value % 8),
                1 => bytes[at] = value,
                2 => { bytes.remove(at); }
                _ => bytes.insert(at, value),
            }
        }
        let (messages, _) = decode(&bytes);
        for message in messages {
            prop_assert!(sent.iter().any(|reading| message == Report::Reading(*reading)), "{message:?}");
        }
    }

    #[test]
    fn noise_is_never_a_message_and_never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..2_000)) {
        let (messages, _) = decode(&bytes);
        prop_assert!(messages.is_empty());
    }

    #[test]
    fn cut_anywhere_the_rest_is_whole(sent in proptest::collection::vec(readings(), 2..10), cut in 0..1_000_usize) {
        let bytes = wire(&sent);
        let cut = cut % bytes.len();
        let (messages, skipped) = decode(&bytes[cut..]);
        let tail: Vec<_> = sent[sent.len() - messages.len()..].iter().map(|r| Report::Reading(*r)).collect();
        prop_assert_eq!(messages, tail);
        prop_assert!(skipped <= 1);
    }
}
