//! How the image starts and how it ends: USB of early chips, a computer that sleeps, panics, a damaged flash, the boot
//! loader.

use object::{Object, ObjectSection, ObjectSymbol};
use skimgauge_bench::Bench;
use skimgauge_emulated_tests::{Folder, SECOND, Session};
use skimgauge_emulator::{EmulatedHead, Restart, place};
use skimgauge_shared::message::{Answer, LOADER_KEY, Refusal, Report, Request, ResetCause, Token};

/// The emulated chip is of the revision that comes up behind a hub only so.
#[test]
fn the_first_revisions_of_the_chip_come_up_behind_a_hub() {
    let mut head = EmulatedHead::start(Bench::new(5)).unwrap_or_else(|missing| panic!("{missing}"));
    head.run_until(SECOND / 2).unwrap();
    let usb = head.figures().unwrap().usb;
    assert!(usb.forced_j && usb.configured);
}

#[test]
fn the_laser_waits_for_the_host_and_a_computer_that_sleeps_switches_it_off() {
    let mut head = EmulatedHead::start(Bench::new(5)).unwrap_or_else(|missing| panic!("{missing}"));
    let mut on_before = false;
    while !head.figures().unwrap().usb.configured {
        head.run_for(500).unwrap();
        on_before |= head.figures().unwrap().laser && !head.figures().unwrap().usb.configured;
        assert!(head.now_us() < SECOND, "no host");
    }
    assert!(!on_before, "the laser was on before the port gave what it takes");
    let mut session = Session::start(Bench::new(5));
    let mut laser = |asleep: bool| {
        session.head.suspend_usb(asleep).unwrap();
        session.run(SECOND / 20);
        session.head.figures().unwrap().laser
    };
    assert!(laser(false));
    assert!(!laser(true));
    assert!(laser(false));
    assert!(!laser(true));
    session.head.suspend_usb(false).unwrap();
    session.run(SECOND / 2);
    session.forget();
    session.run(SECOND / 2);
    assert!(session.readings().len() >= 44, "{}", session.readings().len());
}

/// An address from which the image runs into a panic of its own: where it calls the panic of an
/// index out of bounds.
fn a_panic_site(file: &[u8]) -> u32 {
    let elf = object::File::parse(file).unwrap();
    let target = elf
        .symbols()
        .find(|symbol| symbol.name().is_ok_and(|name| name.contains("panic_bounds_check")));
    let target = target.expect("the image checks no index").address() as u32 & !1;
    let text = elf.section_by_name(".text").unwrap();
    let (base, bytes) = (text.address() as u32, text.data().unwrap());
    let half = |at: usize| u32::from(u16::from_le_bytes([bytes[at], bytes[at + 1]]));
    for at in (2..bytes.len() - 4).step_by(2) {
        let (high, low) = (half(at), half(at + 2));
        // BL, encoding T1 (ARMv6-M Architecture Reference Manual, A6.7.13), offsets within 4 MB.
        if high >> 11 != 0b11110 || low >> 12 != 0b1111 || half(at - 2) >> 8 != 0x4A {
            continue;
        }
        let offset = (((high & 0x7FF) << 12) | ((low & 0x7FF) << 1)) << 9;
        let destination = (base + at as u32 + 4).wrapping_add_signed((offset as i32) >> 9);
        if destination == target {
            // Before it, the place is loaded into r2.
            return base + at as u32 - 2;
        }
    }
    panic!("no call of the panic found")
}

#[test]
fn a_panic_is_reported_after_the_restart_with_its_place() {
    let file = std::fs::read(place::elf().unwrap_or_else(|missing| panic!("{missing}"))).unwrap();
    let mut session = Session::start(Bench::new(16));
    session.forget();
    session.head.jump(a_panic_site(&file)).unwrap();
    session.run(SECOND);
    let hello = session.greet();
    assert_eq!(hello.reset, ResetCause::Panic);
    let words = session.said.iter().find_map(|report| match report {
        Report::LastWords(words) => Some(words.as_str()),
        _ => None,
    });
    let words = words.expect("no last words");
    let (file, line) = words.rsplit_once(':').expect("no place");
    assert!(file.ends_with(".rs") && line.parse::<u32>().is_ok(), "{words}");
    assert!(
        !file.contains("/root/") && !file.contains("/home/"),
        "a path of the building machine: {words}"
    );
}

#[test]
fn an_image_that_panics_before_usb_is_up_ends_in_the_boot_loader() {
    let file = std::fs::read(place::elf().unwrap_or_else(|missing| panic!("{missing}"))).unwrap();
    let site = a_panic_site(&file);
    let mut head = EmulatedHead::start(Bench::new(5)).unwrap_or_else(|missing| panic!("{missing}"));
    // Between two such ends a start that a host found: the count begins anew.
    for bad_ends in [2, 3] {
        for end in 0..bad_ends {
            assert_eq!(head.figures().unwrap().loader_us, None, "{end} of {bad_ends}");
            head.run_for(5_000).unwrap();
            assert!(!head.figures().unwrap().usb.configured);
            head.jump(site).unwrap();
            head.run_for(1_000).unwrap();
        }
        if bad_ends == 2 {
            head.run_for(SECOND / 2).unwrap();
            assert!(head.figures().unwrap().usb.configured);
            head.jump(site).unwrap();
            head.run_for(1_000).unwrap();
        }
    }
    head.run_for(SECOND / 10).unwrap();
    assert!(head.figures().unwrap().loader_us.is_some());
    // Power brings it back: a person may try again.
    head.restart(Restart::Power).unwrap();
    head.run_for(SECOND / 2).unwrap();
    let figures = head.figures().unwrap();
    assert!(figures.usb.configured && figures.loader_us.is_none());
}

#[test]
fn a_flipped_bit_in_the_flash_ends_in_the_boot_loader() {
    let image =
        std::fs::read(place::image().unwrap_or_else(|missing| panic!("{missing}"))).unwrap();
    let folder = Folder::new("flipped");
    // A bit of a text, which nobody would run into: the first page's own checksum is the boot ROM's.
    let text = image.windows(14).position(|window| window == b"skimgauge head").unwrap();
    let mut flipped = image.clone();
    flipped[text] ^= 4;
    for (name, bytes, starts) in [("whole", image, true), ("flipped", flipped, false)] {
        let file = folder.path(name);
        std::fs::write(&file, bytes).unwrap();
        let mut head = EmulatedHead::start_image(Bench::new(5), &file)
            .unwrap_or_else(|missing| panic!("{missing}"));
        head.run_for(SECOND / 2).unwrap();
        let figures = head.figures().unwrap();
        let as_expected = (figures.usb.configured, figures.loader_us.is_some());
        assert_eq!(as_expected, (starts, !starts), "{name}");
    }
}

#[test]
fn the_boot_loader_is_entered_on_request_alone() {
    let mut session = Session::start(Bench::new(17));
    assert_eq!(session.refusal(&Request::EnterLoader { key: 0 }), Refusal::OutOfRange);
    let loader = Request::EnterLoader { key: LOADER_KEY };
    // Without a press nothing comes of it.
    assert_eq!(session.ask(&loader), Answer::PressWanted { seconds: 10 });
    session.run(9 * SECOND);
    session.until("refusal", |report| match report {
        Report::Answer(Token::NONE, Answer::Refused(Refusal::NotPressed)) => Some(()),
        _ => None,
    });
    assert_eq!(session.head.figures().unwrap().loader_us, None);
    session.ask(&loader);
    session.done(&Request::Unattended);
    session.run(SECOND / 2);
    assert!(session.head.figures().unwrap().loader_us.is_some());
    session.head.restart(Restart::Power).unwrap();
    session.run(SECOND / 2);
    assert_eq!(session.greet().reset, ResetCause::Power);
}

/// The very bytes that a host of protocol 1 sends (`shared/tests/wire.rs` has them).
#[test]
fn the_frame_of_protocol_1_and_a_press_lead_to_the_boot_loader() {
    let bench = Bench::new(17);
    let mut session = Session::start(bench.clone());
    let frame = [0x0b, 0x09, 0xcd, 0x92, 0xad, 0x9a, 0x05, 0x02, 0xad, 0x65, 0xba, 0x00];
    session.head.send(&frame).unwrap();
    session.run(SECOND);
    assert_eq!(session.head.figures().unwrap().loader_us, None);
    bench.press_button(true);
    session.run(SECOND / 5);
    bench.press_button(false);
    session.run(SECOND / 2);
    assert!(session.head.figures().unwrap().loader_us.is_some());
}
