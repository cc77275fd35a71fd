//! What a host sees of the very image that is flashed: identity, rates, calibration, button, cues,
//! faults, restarts.

use skimgauge_bench::{Bench, Fault};
use skimgauge_emulated_tests::{SECOND, Session, serial};
use skimgauge_emulator::{EmulatedHead, Restart, place};
use skimgauge_shared::message::{
    Answer, CalibrationCheck, Capabilities, Cue, PROTOCOL, Press, Report, Request, ResetCause,
    SCHEMA, SerialNumber,
};
use skimgauge_shared::reading::{Absence, Reading};
use skimgauge_shared::usb;

/// Lets time go by until a reading satisfies; how long that took, at most a second.
fn until_reading(session: &mut Session, wanted: impl Fn(&Reading) -> bool) -> u64 {
    session.forget();
    for step in 1..=200 {
        session.run(5_000);
        if session.readings().iter().any(&wanted) {
            return step * 5_000;
        }
    }
    panic!("not within a second; last: {:?}", session.readings().last());
}

fn healthy(reading: &Reading) -> bool {
    reading.stand_off.value().is_some()
        && reading.middle.value().is_some()
        && reading.tilt.value().is_some()
}

#[test]
fn usb_tells_who_the_head_is_before_anything_is_sent_to_it() {
    let bench = Bench::new(5);
    let mut head = EmulatedHead::start(bench.clone()).unwrap_or_else(|missing| panic!("{missing}"));
    head.run_until(SECOND / 2).unwrap();
    let found = head.figures().unwrap().usb;
    assert!(found.configured);
    assert_eq!((found.vendor, found.product), (Some(0x1209), Some(0x0001)));
    assert_eq!(
        (found.manufacturer.as_deref(), found.name.as_deref()),
        (Some("skimgauge"), Some("skimgauge head"))
    );
    // And so any host knows it.
    assert!(usb::is_head(0x1209, 0x0001, found.name.as_deref(), None));
    let number: String = serial(&bench).iter().map(|byte| format!("{byte:02X}")).collect();
    assert_eq!(found.serial, Some(number));
    // Nobody has opened the port: nothing is said.
    assert!(head.take_received().is_empty());
}

#[test]
fn a_head_without_its_memory_has_no_usb_number_and_says_so() {
    let bench = Bench::new(5);
    bench.set_fault(Fault::MemorySilent, true);
    let mut session = Session::start(bench);
    let hello = session.greet();
    assert_eq!((hello.serial, hello.calibration), (None, CalibrationCheck::Unreadable));
    let usb = session.head.figures().unwrap().usb;
    assert_eq!((usb.configured, usb.serial), (true, None));
    session.run(SECOND);
    assert!(session.readings().last().is_some_and(healthy));
}

#[test]
fn the_greeting_says_what_the_head_is() {
    let bench = Bench::new(6);
    let mut session = Session::start(bench.clone());
    let hello = session.greet();
    assert_eq!(hello.serial, Some(SerialNumber(serial(&bench))));
    assert_eq!(
        (hello.protocol, hello.schema, hello.reset, hello.calibration),
        (PROTOCOL, SCHEMA, ResetCause::Power, CalibrationCheck::Missing)
    );
    assert_eq!(hello.rate.per_second, 90);
    for capability in [Capabilities::BUZZER, Capabilities::LOADER, Capabilities::LOG] {
        assert!(hello.capabilities.has(capability));
    }
    assert_eq!(session.skipped, 0);
}

#[test]
fn every_rate_asked_for_is_held() {
    let mut session = Session::start(Bench::new(7));
    session.run(SECOND);
    for per_second in [1, 10, 30, 45, 90] {
        let Answer::Rate(rate) = session.ask(&Request::SetRate { per_second }) else { panic!() };
        assert_eq!(rate.per_second, per_second);
        session.run(SECOND / 5);
        session.forget();
        session.run(4 * SECOND);
        let count = session.readings().len() as i64;
        assert!(
            (count - 4 * i64::from(per_second)).abs() <= 1,
            "{per_second}/s: {count} in four seconds"
        );
        assert!(session.readings().iter().all(healthy));
    }
}

#[test]
fn a_reading_is_what_the_bench_shows() {
    let bench = Bench::new(8);
    let mut session = Session::start(bench.clone());
    session.run(SECOND);
    session.forget();
    session.run(2 * SECOND);
    let readings = session.readings();
    assert!(readings.len() >= 179 && readings.iter().all(healthy));
    let mean_mm = readings.iter().filter_map(|r| r.stand_off.value()).map(|s| s.mm()).sum::<f64>()
        / readings.len() as f64;
    let truth_mm = bench.truth().standoff_mm.unwrap();
    // Nominal constants: within the sensor's own error.
    assert!((mean_mm - truth_mm).abs() < 1.0, "{mean_mm} mm read, {truth_mm} mm true");
}

#[test]
fn the_button_is_heard_short_and_long() {
    let bench = Bench::new(11);
    let mut session = Session::start(bench.clone());
    let press = |session: &mut Session, for_us: u64| {
        session.forget();
        bench.press_button(true);
        // The contact bounces.
        session.run(2_000);
        bench.press_button(false);
        session.run(1_000);
        bench.press_button(true);
        session.run(for_us);
        bench.press_button(false);
        session.run(SECOND / 5);
        let presses = session.said.iter().filter_map(|report| match report {
            Report::Button { press, .. } => Some(*press),
            _ => None,
        });
        presses.collect::<Vec<_>>()
    };
    assert_eq!(press(&mut session, 150_000), [Press::Short]);
    assert_eq!(press(&mut session, 1_500_000), [Press::Long]);
}

#[test]
fn cues_sound_and_fall_silent() {
    let mut session = Session::start(Bench::new(12));
    let pitches = |session: &mut Session, cue: Cue| {
        session.done(&Request::Cue(cue));
        let mut heard = Vec::new();
        for _ in 0..90 {
            session.run(10_000);
            heard.push(session.head.figures().unwrap().buzzer_hz);
        }
        heard
    };
    let there = pitches(&mut session, Cue::There);
    assert!(there.iter().skip(1).all(|hz| (1_300..1_340).contains(hz)), "{there:?}");
    let starts =
        |heard: &[u32]| heard.windows(2).filter(|pair| pair[0] == 0 && pair[1] > 0).count();
    let far = starts(&pitches(&mut session, Cue::Seek { nearness: 10 }));
    let near = starts(&pitches(&mut session, Cue::Seek { nearness: 245 }));
    assert!(far >= 1 && near > 2 * far, "ticks in 0.9 s: far {far}, near {near}");
    assert!(pitches(&mut session, Cue::Silent).iter().skip(1).all(|hz| *hz == 0));
    session.done(&Request::Cue(Cue::There));
    session.run(SECOND + SECOND / 10);
    assert_eq!(
        session.head.figures().unwrap().buzzer_hz,
        0,
        "a host that is gone must not keep the head sounding"
    );
}

#[test]
fn the_lamp_shows_link_and_identity() {
    let mut session = Session::start(Bench::new(13));
    let lit = |session: &mut Session| {
        let mut lit = 0;
        for _ in 0..100 {
            session.run(10_000);
            lit += u32::from(session.head.figures().unwrap().lamp);
        }
        lit
    };
    session.run(SECOND);
    assert_eq!(lit(&mut session), 100, "a host listens and all is well: steady");
    session.done(&Request::Identify { seconds: 2 });
    assert!((35..65).contains(&lit(&mut session)), "asked to show itself: blinking");
    session.run(2 * SECOND);
    session.head.open_port(false).unwrap();
    assert!(lit(&mut session) < 20, "nobody listens: a blink now and then");
}

#[test]
fn faults_of_parts_become_named_absences_and_go_again() {
    let bench = Bench::new(14);
    let mut session = Session::start(bench.clone());
    type Channel = fn(&Reading) -> Option<Absence>;
    let cases: [(Fault, Channel, &[Absence]); 7] = [
        (Fault::ConverterSilent, |r| r.stand_off.absence(), &[Absence::NoAnswer]),
        (Fault::ConverterFrozen, |r| r.stand_off.absence(), &[Absence::Frozen]),
        (Fault::BusStuck, |r| r.stand_off.absence(), &[Absence::BusStuck]),
        (
            Fault::InclinometerSilent,
            |r| r.tilt.absence(),
            &[Absence::FrameError, Absence::NoAnswer],
        ),
        (Fault::InclinometerFrames, |r| r.tilt.absence(), &[Absence::FrameError]),
        (Fault::InclinometerStatusTwo, |r| r.tilt.absence(), &[Absence::SelfTestFailed]),
        (Fault::InclinometerStatusError, |r| r.tilt.absence(), &[Absence::SelfTestFailed]),
    ];
    for (fault, absence, names) in cases {
        until_reading(&mut session, healthy);
        bench.set_fault(fault, true);
        let found = until_reading(&mut session, |reading| {
            absence(reading).is_some_and(|name| names.contains(&name))
        });
        // A frozen code is told from a quiet one by time.
        let limit = if fault == Fault::ConverterFrozen { 320_000 } else { 100_000 };
        assert!(found <= limit, "{}: found after {found} us", fault.name());
        session.run(SECOND / 2);
        session.forget();
        session.run(SECOND);
        assert!(
            (session.readings().len() as i64 - 90).abs() <= 2,
            "{}: readings go on",
            fault.name()
        );
        assert!(
            session.readings().iter().all(|reading| absence(reading).is_some()),
            "{}",
            fault.name()
        );
        bench.set_fault(fault, false);
        let back = until_reading(&mut session, healthy);
        assert!(back <= 300_000, "{}: back after {back} us", fault.name());
    }
    assert_eq!(session.greet().reset, ResetCause::Power, "no fault restarts a head");
}

#[test]
fn a_hang_ends_in_a_restart_that_says_so() {
    let mut session = Session::start(Bench::new(15));
    session.head.hang().unwrap();
    session.forget();
    session.run(400_000);
    assert!(session.readings().is_empty());
    session.run(SECOND);
    assert_eq!(session.greet().reset, ResetCause::Watchdog);
    session.run(SECOND / 2);
    assert!(session.readings().last().is_some_and(healthy));
}

#[test]
fn a_host_that_does_not_read_loses_only_what_is_counted() {
    let mut session = Session::start(Bench::new(18));
    let before = session.greet();
    let hello = Report::Hello(before);
    session.head.leave_unread(true).unwrap();
    session.run(3 * SECOND);
    session.head.leave_unread(false).unwrap();
    session.run(SECOND);
    let last = *session.pulses().last().unwrap();
    let heard = session
        .said
        .iter()
        .skip_while(|report| **report != hello)
        .take_while(|report| !matches!(report, Report::Pulse(pulse) if pulse.at == last.at));
    let heard = heard.filter(|report| matches!(report, Report::Reading(_))).count() as u32;
    assert!(last.unsent > 150, "{} unsent", last.unsent);
    assert_eq!(heard + last.unsent, last.made - before.made);
    assert_eq!(session.skipped, 0);
}

#[test]
fn a_port_opened_again_begins_with_what_is_new() {
    let mut session = Session::start(Bench::new(19));
    session.run(SECOND);
    session.head.open_port(false).unwrap();
    session.run(3 * SECOND);
    session.forget();
    session.head.open_port(true).unwrap();
    let opened_us = session.head.now_us() as u32;
    session.run(SECOND);
    let readings = session.readings();
    // One packet may have been on its way when the port was closed; whatever else comes is new.
    let old = readings.iter().filter(|reading| reading.at_low_us + 20_000 < opened_us).count();
    assert!(old <= 3, "{old} old readings");
    assert!(readings.len() >= 88);
}

#[test]
fn the_log_decodes_with_the_images_own_table() {
    let file = std::fs::read(place::elf().unwrap_or_else(|missing| panic!("{missing}"))).unwrap();
    let table = defmt_decoder::Table::parse(&file).unwrap().expect("the image has no table");
    let mut session = Session::start(Bench::new(23));
    // A restart logs again; what is logged before anybody listens is kept.
    session.head.restart(Restart::Line).unwrap();
    session.run(SECOND / 2);
    session.head.bench().set_fault(Fault::BusStuck, true);
    session.run(SECOND / 4);
    session.head.bench().set_fault(Fault::BusStuck, false);
    session.run(SECOND / 4);
    session.head.bench().set_fault(Fault::InclinometerStatusError, true);
    session.run(SECOND / 10);
    let mut decoder = table.new_stream_decoder();
    let bytes = session
        .said
        .iter()
        .filter_map(|report| if let Report::Log(bytes) = report { Some(bytes) } else { None });
    bytes.for_each(|bytes| decoder.received(bytes));
    let mut lines = Vec::new();
    loop {
        match decoder.decode() {
            Ok(frame) => lines.push(frame.display_message().to_string()),
            Err(defmt_decoder::DecodeError::UnexpectedEof) => break,
            Err(defmt_decoder::DecodeError::Malformed) => panic!("malformed after {lines:?}"),
        }
    }
    assert!(
        lines.iter().any(|line| line.starts_with("started, version") && line.contains("Line")),
        "{lines:?}"
    );
    let bus: Vec<&String> = lines.iter().filter(|line| line.starts_with("bus: ")).collect();
    assert_eq!(bus, ["bus: Stuck", "bus: free"]);
    // What the part says of itself, not only that it says something; the pulse tells it too.
    assert!(lines.iter().any(|line| line == "inclinometer: status 0x0040"), "{lines:?}");
    let troubles = session.pulses().iter().filter_map(|pulse| pulse.tilt_trouble()).count();
    assert!(troubles > 0 && session.pulses()[0].tilt_trouble().is_none(), "{troubles}");
}

#[test]
fn restarted_at_any_moment_it_is_found_again() {
    let mut session = Session::start(Bench::new(20));
    for trial in 0..40_u64 {
        session.run(1_000 + trial * 137 % 2_000);
        session.head.restart(Restart::Line).unwrap();
        session.forget();
        session.run(300_000);
        let readings = session.readings();
        assert!(readings.len() >= 10, "trial {trial}: {} readings", readings.len());
        assert_eq!(session.skipped, 0, "trial {trial}");
    }
}
