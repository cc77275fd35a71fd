//! The line of pixels on the emulated board: scans a second, where the sheet stands, from pixels that went through the
//! chip's own PWM, converter and DMA, and every fault of the light by name.

use skimgauge_bench::{Bench, Fault, zeroed};
use skimgauge_emulated_tests::{SECOND, Session};
use skimgauge_shared::calibration::Date;
use skimgauge_shared::light::{Fault as Named, Light};
use skimgauge_shared::message::{Answer, Report, Request};
use skimgauge_shared::pixels::Together;

/// What the emulator wondered at of the pixels: a conversion on an edge, a line not clocked through.
fn wondered(session: &Session) -> Vec<&String> {
    session.head.notes().iter().filter(|note| note.starts_with("pixels: ")).collect()
}

#[test]
fn ninety_readings_a_second_show_the_sheet_where_it_is() {
    let bench = Bench::new(31);
    let mut session = Session::start(bench.clone());
    session.run(2 * SECOND);
    session.forget();
    let before = session.head.scans();
    session.run(10 * SECOND);
    let scans = session.head.scans() - before;
    assert_eq!(wondered(&session), [] as [&String; 0]);
    assert!((899..=901).contains(&scans), "{scans} scans in ten seconds");
    let middle_mm = bench.truth().middle_mm.unwrap();
    let readings = session.readings();
    assert!((899..=901).contains(&readings.len()), "{}", readings.len());
    for reading in &readings {
        let seen_mm = reading.middle.value().unwrap_or_else(|| panic!("{reading:?}")).mm();
        // Pixels that nobody has compared, one scan's noise.
        assert!((seen_mm - middle_mm).abs() < 0.04, "{seen_mm} of {middle_mm}: {reading:?}");
        assert_eq!((reading.state.fault(), reading.state.light()), (None, Light::Seen));
    }
    let sheets = session.sheets();
    assert!((49..=60).contains(&sheets.len()), "{} in ten seconds", sheets.len());
}

#[test]
fn every_fault_of_the_light_reaches_the_host_by_name() {
    let cases = [
        (Fault::NoLight, &[Named::NoLight][..]),
        (Fault::TooMuchLight, &[Named::TooMuchLight][..]),
        (Fault::TooMuchRoomLight, &[Named::TooMuchRoomLight][..]),
        // A shadow's edge through the middle makes the sheet lopsided, as two sheets do.
        (Fault::UnevenRoomLight, &[Named::UnevenRoomLight, Named::TwoSheets]),
        (Fault::TwoSheets, &[Named::TwoSheets][..]),
        (Fault::LightLeavesWindow, &[Named::Cut][..]),
        (Fault::SheetTooThick, &[Named::Wider][..]),
        (Fault::SheetTooThin, &[Named::Narrower][..]),
        (Fault::PixelsDead, &[Named::BadPixels][..]),
        (Fault::PixelsFrozen, &[Named::Frozen][..]),
    ];
    let bench = Bench::new(4);
    let mut session = Session::start(bench.clone());
    // Zeroed: between pixels that nobody has compared much room light hides the rest.
    let zeroed = zeroed::of(&bench, Date { year: 2026, month: 5, day: 4 }, "bench");
    session.write(&zeroed.calibration, Some(zeroed.pixels));
    session.run(2 * SECOND);
    for (fault, named) in cases {
        bench.set_fault(fault, true);
        session.run(SECOND);
        session.forget();
        session.run(SECOND / 2);
        let readings = session.readings();
        assert!(readings.len() >= 44, "{fault}: {}", readings.len());
        for reading in readings {
            let named = reading.state.fault().is_some_and(|fault| named.contains(&fault));
            assert!(named, "{fault}: {reading:?}");
        }
        assert!(session.sheets().iter().all(|sheet| sheet.shape.is_none()), "{fault}");
        bench.set_fault(fault, false);
        session.run(3 * SECOND);
        session.forget();
        session.run(SECOND / 5);
        let well = session.readings().iter().all(|reading| reading.state.fault().is_none());
        assert!(well, "{fault}: {:?}", session.readings()[0]);
    }
}

#[test]
fn a_whole_scan_comes_on_request() {
    let mut session = Session::start(Bench::new(31));
    session.run(2 * SECOND);
    session.forget();
    assert_eq!(session.ask(&Request::ProfileWanted), Answer::Done);
    session.run(SECOND / 20);
    let mut together = Together::default();
    let mut found = None;
    for report in &session.said {
        if let Report::Profile(piece) = report
            && let Some((sequence, scan)) = together.add(piece)
        {
            found = Some((sequence, *scan));
        }
    }
    let (sequence, scan) = found.expect("a scan");
    let readings = session.readings();
    let reading = readings.iter().find(|r| r.sequence == sequence).expect("its reading");
    let middle = reading.middle.value().unwrap().0 * 2 / 127;
    let brightest = (0..scan.len()).max_by_key(|i| scan[*i]).unwrap() as i32;
    assert!((brightest - middle).abs() < 8, "{brightest} of {middle}");
}
