//! The head on the bench: what it says on the wire, part by part, fault by fault.

use skimgauge_bench::bench::Bench;
use skimgauge_bench::room::fault::Fault;
use skimgauge_bench::virtual_head::VirtualHead;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::message::{
    Ask, CalibrationCheck, Hello, PROTOCOL, Press, Rate, Refusal, Report, Request, SerialNumber,
};
use skimgauge_shared::reading::{Absence, Reading, Sample};
use skimgauge_shared::units::Micrometres;

struct Desk {
    head: VirtualHead,
    decoder: Decoder,
    heard: Vec<Report>,
}

impl Desk {
    fn new(seed: u64) -> Self {
        Self::with(Bench::new(seed))
    }

    fn with(bench: Bench) -> Self {
        Self { head: VirtualHead::new(bench), decoder: Decoder::new(), heard: Vec::new() }
    }

    fn bench(&self) -> Bench {
        self.head.bench().clone()
    }

    /// Sends the bytes, then runs for so long; what was heard meanwhile.
    fn run_bytes(&mut self, bytes: &[u8], ms: u64) -> Vec<Report> {
        let until = self.bench().now_us() + ms * 1_000;
        let Self { head, decoder, heard } = self;
        head.run_until(until, bytes, &mut |sent| {
            for byte in sent {
                match decoder.feed(*byte) {
                    Fed::More => (),
                    Fed::Message(report) => heard.push(report),
                    Fed::Skipped { why, .. } => panic!("the head sent what is no message: {why:?}"),
                }
            }
        });
        std::mem::take(&mut self.heard)
    }

    fn run(&mut self, ms: u64) -> Vec<Report> {
        self.run_bytes(&[], ms)
    }

    fn ask(&mut self, request: &Request, ms: u64) -> Vec<Report> {
        let mut buffer = [0; MAX_FRAME];
        let bytes = encode(request, &mut buffer).unwrap().to_vec();
        self.run_bytes(&bytes, ms)
    }

    fn readings(&mut self, ms: u64) -> Vec<Reading> {
        readings(&self.run(ms))
    }

    fn hello(&mut self) -> Hello {
        let heard = self.ask(&Request::Greet { protocol: PROTOCOL }, 5);
        heard
            .iter()
            .find_map(|r| if let Report::Hello(hello) = r { Some(*hello) } else { None })
            .unwrap()
    }

    fn write(&mut self, calibration: &Calibration) -> Report {
        let staged = self.ask(&Request::StageCalibration(calibration.clone()), 5);
        let check = staged
            .iter()
            .find_map(|r| if let Report::Staged { check } = r { Some(*check) } else { None });
        let committed = self.ask(&Request::CommitCalibration { check: check.unwrap() }, 100);
        committed
            .into_iter()
            .find(|r| matches!(r, Report::Calibration(_) | Report::Refused { .. }))
            .expect("an answer to the commit")
    }
}

fn readings(heard: &[Report]) -> Vec<Reading> {
    heard
        .iter()
        .filter_map(|r| if let Report::Reading(reading) = r { Some(*reading) } else { None })
        .collect()
}

fn lit(desk: &Desk) {
    desk.bench().scene(|scene| scene.roll_to_light(0.0));
}

#[test]
fn a_hundred_readings_a_second_all_there() {
    let mut desk = Desk::new(1);
    lit(&desk);
    desk.run(500);
    let readings = desk.readings(10_000);
    assert!((998..=1_002).contains(&readings.len()), "{}", readings.len());
    for pair in readings.windows(2) {
        assert_eq!(pair[1].sequence, pair[0].sequence.wrapping_add(1));
        let apart = pair[1].at_low_us.wrapping_sub(pair[0].at_low_us);
        assert!((8_700..=11_300).contains(&apart), "{apart} us");
    }
    for reading in readings {
        assert!(
            reading.stand_off.value().is_some()
                && reading.eye.value().is_some()
                && reading.tilt.value().is_some()
        );
    }
}

#[test]
fn the_stand_off_follows_the_truth_within_a_nominal_heads_error() {
    let mut desk = Desk::new(2);
    lit(&desk);
    desk.run(500);
    let truth = desk.bench().truth();
    let readings = desk.readings(1_000);
    let mean = readings.iter().map(|r| r.stand_off.value().unwrap().mm()).sum::<f64>()
        / readings.len() as f64;
    // A head that nobody has zeroed: its own sensor is off by its tolerance, not by a wrong unit or
    // sign.
    assert!((mean - truth.standoff_mm.unwrap()).abs() < 0.6, "{mean} against {truth:?}");
    let tilt = readings[10].tilt.value().unwrap();
    assert!((tilt.level.degrees() - truth.level_deg).abs() < 1.5, "{tilt:?} against {truth:?}");
    assert!((tilt.lean.degrees() - truth.lean_deg).abs() < 1.5, "{tilt:?} against {truth:?}");
}

#[test]
fn asked_for_the_most_it_uses_nine_tenths_of_the_converter() {
    let mut desk = Desk::new(3);
    lit(&desk);
    desk.run(500);
    desk.ask(&Request::SetRate { per_second: u16::MAX }, 1_000);
    let before = desk.bench().conversions();
    let readings = desk.readings(10_000).len() as f64;
    let conversions = (desk.bench().conversions() - before) as f64;
    assert!(
        readings * 3.0 / conversions > 0.95,
        "{readings} readings of {conversions} conversions"
    );
}

#[test]
fn every_fault_of_a_part_is_a_named_absence_within_three_tenths_and_goes_again() {
    type Pick = fn(&Reading) -> Option<Absence>;
    let stand_off: Pick = |r| r.stand_off.absence();
    let eye: Pick = |r| r.eye.absence();
    let tilt: Pick = |r| r.tilt.absence();
    let cases = [
        (Fault::NoLight, eye, Absence::NoLight),
        (Fault::TooMuchLight, eye, Absence::Saturated),
        (Fault::SlideOutOfRange, stand_off, Absence::OutOfRange),
        (Fault::SpotLost, stand_off, Absence::NoSpot),
        (Fault::ConverterFrozen, stand_off, Absence::Frozen),
        (Fault::ConverterSilent, stand_off, Absence::NoAnswer),
        (Fault::BusStuck, stand_off, Absence::BusStuck),
        (Fault::InclinometerSilent, tilt, Absence::NoAnswer),
        (Fault::InclinometerFrames, tilt, Absence::FrameError),
        (Fault::InclinometerSelfTest, tilt, Absence::SelfTestFailed),
        (Fault::InclinometerStatusTwo, tilt, Absence::SelfTestFailed),
        (Fault::InclinometerStatusError, tilt, Absence::SelfTestFailed),
    ];
    for (fault, pick, expected) in cases {
        let mut desk = Desk::new(4);
        lit(&desk);
        desk.run(500);
        assert!(desk.readings(300).iter().all(|r| pick(r).is_none()), "{fault}: at fault before");
        desk.bench().set_fault(fault, true);
        desk.run(300);
        let during = desk.readings(500);
        assert!(during.len() >= 45, "{fault}: only {} readings", during.len());
        for reading in &during {
            assert_eq!(pick(reading), Some(expected), "{fault}: {reading:?}");
        }
        desk.bench().set_fault(fault, false);
        desk.run(600);
        assert!(desk.readings(300).iter().all(|r| pick(r).is_none()), "{fault}: at fault after");
    }
}

#[test]
fn numbers_stay_countable_whatever_happens_to_the_converter() {
    let mut desk = Desk::new(5);
    desk.run(500);
    let mut all = Vec::new();
    for fault in [Fault::ConverterSilent, Fault::BusStuck] {
        desk.bench().set_fault(fault, true);
        all.extend(desk.readings(400));
        desk.bench().set_fault(fault, false);
        all.extend(desk.readings(400));
    }
    for pair in all.windows(2) {
        assert_eq!(pair[1].sequence, pair[0].sequence.wrapping_add(1));
    }
    assert!(all.len() > 140, "{}", all.len());
}

#[test]
fn it_introduces_itself_and_answers() {
    let mut desk = Desk::new(6);
    let hello = desk.hello();
    assert_eq!(hello.protocol, PROTOCOL);
    assert!(hello.serial.is_some());
    assert_eq!(hello.calibration, CalibrationCheck::Missing);
    let heard = desk.ask(&Request::Ping { token: 77 }, 5);
    assert!(heard.iter().any(|r| matches!(r, Report::Pong { token: 77, .. })));
    let heard = desk.ask(&Request::SetRate { per_second: 50 }, 5);
    assert!(heard.contains(&Report::Rate(Rate { per_second: 50, conversions: 4 })));
    assert!((98..=102).contains(&desk.readings(2_000).len()));
    let heard = desk.ask(&Request::StreamCodes { on: true }, 100);
    assert!(heard.iter().filter(|r| matches!(r, Report::Codes(_))).count() >= 4);
    let heard = desk.ask(&Request::EnterLoader { key: 1 }, 5);
    assert!(heard.contains(&Report::Refused { ask: Ask::EnterLoader, why: Refusal::OutOfRange }));
}

#[test]
fn a_calibration_is_written_in_two_steps_and_survives_the_power() {
    let bench = Bench::new(7);
    let mut desk = Desk::with(bench.clone());
    let serial = desk.hello().serial.unwrap();
    let mut calibration = Calibration::nominal(serial);
    calibration.zero = Micrometres(-24_321);
    let refused = desk.ask(&Request::CommitCalibration { check: 5 }, 5);
    assert!(
        refused.contains(&Report::Refused { ask: Ask::CommitCalibration, why: Refusal::NotStaged })
    );
    assert_eq!(bench.memory_write_cycles(), 0);
    let Report::Calibration(state) = desk.write(&calibration) else { panic!() };
    assert_eq!(state.calibration, calibration);
    let mut desk = Desk::with(bench);
    assert_eq!(desk.hello().calibration, CalibrationCheck::Good);
    let heard = desk.ask(&Request::ReadCalibration, 5);
    assert!(
        heard.iter().any(|r| matches!(r, Report::Calibration(s) if s.calibration == calibration))
    );
}

#[test]
fn a_calibration_of_another_head_or_of_nonsense_is_refused() {
    let mut desk = Desk::new(8);
    let serial = desk.hello().serial.unwrap();
    let heard =
        desk.ask(&Request::StageCalibration(Calibration::nominal(SerialNumber([9; 16]))), 5);
    assert!(
        heard.contains(&Report::Refused { ask: Ask::StageCalibration, why: Refusal::OtherHead })
    );
    let mut nonsense = Calibration::nominal(serial);
    nonsense.stand_off.slope_pm_per_code = 0;
    let heard = desk.ask(&Request::StageCalibration(nonsense), 5);
    assert!(
        heard.contains(&Report::Refused { ask: Ask::StageCalibration, why: Refusal::OutOfRange })
    );
}

#[test]
fn power_cut_at_any_moment_of_a_write_leaves_the_old_constants_or_the_new() {
    let mut seen = (0, 0);
    for cut_ms in 0..60 {
        let bench = Bench::new(9);
        let mut desk = Desk::with(bench.clone());
        let serial = desk.hello().serial.unwrap();
        let mut old = Calibration::nominal(serial);
        old.zero = Micrometres(-24_000);
        desk.write(&old);
        let mut new = old.clone();
        new.zero = Micrometres(-25_500);
        let staged = desk.ask(&Request::StageCalibration(new.clone()), 5);
        let check = staged
            .iter()
            .find_map(|r| if let Report::Staged { check } = r { Some(*check) } else { None });
        bench.cut_power_at(bench.now_us() + cut_ms * 500 + 137);
        desk.ask(&Request::CommitCalibration { check: check.unwrap() }, 60);
        bench.restore_power();
        let mut desk = Desk::with(bench);
        assert_eq!(desk.hello().calibration, CalibrationCheck::Good, "cut at {cut_ms}");
        let heard = desk.ask(&Request::ReadCalibration, 5);
        let found = heard.iter().find_map(|r| {
            if let Report::Calibration(s) = r { Some(s.calibration.clone()) } else { None }
        });
        match found.unwrap() {
            found if found == old => seen.0 += 1,
            found if found == new => seen.1 += 1,
            other => panic!("half a calibration after a cut at {cut_ms}: {other:?}"),
        }
    }
    // The cuts fell on both sides of the last byte, or the test says nothing.
    assert!(seen.0 > 5 && seen.1 > 5, "{seen:?}");
}

#[test]
fn the_button_is_told_once() {
    let mut desk = Desk::new(10);
    desk.run(200);
    desk.bench().press_button(true);
    desk.run(150);
    desk.bench().press_button(false);
    let heard = desk.run(200);
    let presses: Vec<_> = heard.iter().filter(|r| matches!(r, Report::Button { .. })).collect();
    assert!(matches!(presses[..], [Report::Button { press: Press::Short, .. }]), "{presses:?}");
}

#[test]
fn asked_to_show_itself_the_lamp_flickers() {
    let mut desk = Desk::new(13);
    lit(&desk);
    desk.run(600);
    // A host listens and nothing is at fault: steady.
    assert!((0..100).all(|_| {
        desk.run(10);
        desk.bench().lamp_is_on()
    }));
    desk.ask(&Request::Identify { seconds: 2 }, 5);
    let lit: Vec<bool> = (0..100)
        .map(|_| {
            desk.run(10);
            desk.bench().lamp_is_on()
        })
        .collect();
    assert!(lit.windows(2).filter(|pair| pair[0] != pair[1]).count() >= 10, "{lit:?}");
}

#[test]
fn the_pulse_tells_how_the_head_is() {
    let mut desk = Desk::new(11);
    lit(&desk);
    desk.run(1_000);
    let heard = desk.run(1_000);
    let pulses: Vec<_> = heard
        .iter()
        .filter_map(|r| if let Report::Pulse(p) = r { Some(*p) } else { None })
        .collect();
    assert!((4..=6).contains(&pulses.len()));
    let pulse = pulses[3];
    assert!(
        matches!(pulse.supply, Sample::Value(mv) if (4_800..5_200).contains(&mv.0)),
        "{pulse:?}"
    );
    assert!(
        matches!(pulse.temperature, Sample::Value(t) if (15.0..40.0).contains(&t.celsius())),
        "{pulse:?}"
    );
    assert!(pulse.latest_start_us < 1_400, "{pulse:?}");
}

#[test]
fn garbage_and_floods_are_counted_and_change_nothing() {
    let mut desk = Desk::new(12);
    lit(&desk);
    desk.run(500);
    let garbage: Vec<u8> =
        (0..50_000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    let mut count = 0;
    for piece in garbage.chunks(640) {
        count += readings(&desk.run_bytes(piece, 10)).len();
    }
    assert!(count as f64 > garbage.len() as f64 / 640.0 * 0.97, "{count}");
    let mut pings = Vec::new();
    for token in 0..2_000 {
        let mut buffer = [0; MAX_FRAME];
        pings.extend_from_slice(encode(&Request::Ping { token }, &mut buffer).unwrap());
    }
    for piece in pings.chunks(64) {
        desk.run_bytes(piece, 1);
    }
    assert_eq!(desk.bench().memory_write_cycles(), 0);
    assert!(desk.hello().made > 100);
}
