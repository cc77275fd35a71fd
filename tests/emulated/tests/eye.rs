//! The line of pixels on the emulated board: scans a second, exposures, and where the sheet stands, from pixels that went
//! through the chip's own PWM, converter and DMA. As readings do not carry it yet it is read from the log.

use skimgauge_bench::{Bench, Fault};
use skimgauge_emulated_tests::{SECOND, Session};
use skimgauge_emulator::place;
use skimgauge_shared::message::Report;

/// What the log says of the eye, in order.
fn told(session: &Session) -> Vec<String> {
    let file = std::fs::read(place::elf().unwrap_or_else(|missing| panic!("{missing}"))).unwrap();
    let table = defmt_decoder::Table::parse(&file).unwrap().expect("the image has no table");
    let mut decoder = table.new_stream_decoder();
    session
        .said
        .iter()
        .filter_map(|report| if let Report::Log(bytes) = report { Some(bytes) } else { None })
        .for_each(|bytes| decoder.received(bytes));
    let frames = std::iter::from_fn(|| Some(decoder.decode().ok()?.display_message().to_string()));
    frames.filter(|line| line.starts_with("eye: ")).collect()
}

/// The number after a word.
fn number(line: &str, word: &str) -> Option<f64> {
    let rest = line.split_once(word)?.1.trim_start();
    let end = rest.find(|c: char| !c.is_ascii_digit() && c != '-').unwrap_or(rest.len());
    rest[..end].parse().ok()
}

/// Ten seconds of a head that has run for two; the session and how many scans it took in them.
fn session(bench: &Bench) -> (Session, u64) {
    let mut session = Session::start(bench.clone());
    session.run(2 * SECOND);
    session.forget();
    let before = session.head.scans();
    session.run(10 * SECOND);
    let scans = session.head.scans() - before;
    (session, scans)
}

#[test]
fn ninety_scans_a_second_show_the_sheet_where_it_is() {
    let bench = Bench::new(31);
    let (session, scans) = session(&bench);
    let lines = told(&session);
    println!("{}", lines.join("\n"));
    assert!(lines.len() >= 9, "{lines:?}");
    // The emulator's own two checks: each conversion between two edges, each line clocked through.
    let wondered: Vec<_> =
        session.head.notes().iter().filter(|note| note.starts_with("pixels: ")).collect();
    assert_eq!(wondered, [] as [&String; 0]);
    assert!((899..=901).contains(&scans), "{scans} scans in ten seconds");
    let truth = bench.scene(|scene| scene.seat().gap_mm);
    let gap_mm = bench.truth().gap_mm.unwrap();
    for line in &lines {
        let middle_um = number(line, "middle").unwrap_or_else(|| panic!("{line}"));
        // Height of the first pixel's middle over the board face, and pixels that nobody compared.
        let seen_mm = 0.4 + middle_um / 1e3;
        assert!((seen_mm - (gap_mm - truth)).abs() < 0.03, "{seen_mm} of {gap_mm}: {line}");
    }
}

#[test]
fn an_emitter_that_is_off_and_one_that_is_too_bright_are_named() {
    for (fault, name) in [(Fault::NoLight, "NoLight"), (Fault::TooMuchLight, "TooMuchRoomLight")] {
        let bench = Bench::new(32);
        bench.set_fault(fault, true);
        let lines = told(&session(&bench).0);
        assert!(lines.len() >= 9 && lines.iter().all(|line| line.contains(name)), "{lines:?}");
    }
}
