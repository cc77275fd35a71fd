use super::{ADDRESS, Memory, PAGE, SERIAL_ADDRESS, SIZE, WRITE_CYCLE_US};
use proptest::prelude::*;

const SERIAL: [u8; 16] = *b"\x29\x01head-serial-01";

fn write(part: &mut Memory, at: u16, bytes: &[u8]) {
    assert!(part.start(ADDRESS, true));
    for byte in at.to_be_bytes().iter().chain(bytes) {
        assert!(part.write_byte(*byte));
    }
    part.stop();
}

fn read(part: &mut Memory, address: u8, at: u16, count: usize) -> Vec<u8> {
    assert!(part.start(address, true));
    for byte in at.to_be_bytes() {
        assert!(part.write_byte(byte));
    }
    assert!(part.start(address, false));
    let bytes = (0..count).map(|_| part.read_byte()).collect();
    part.stop();
    bytes
}

#[test]
fn written_bytes_are_there_after_the_write_cycle_and_not_before() {
    let mut part = Memory::new(SERIAL);
    write(&mut part, 0x0102, b"abc");
    assert!(!part.start(ADDRESS, true), "no answer during the cycle");
    part.advance_to(WRITE_CYCLE_US - 1);
    assert!(!part.start(ADDRESS, false));
    assert!(!part.start(SERIAL_ADDRESS, false));
    part.advance_to(WRITE_CYCLE_US);
    assert_eq!(read(&mut part, ADDRESS, 0x0101, 5), b"\xFFabc\xFF");
    assert_eq!(part.write_cycles(), 1);
}

#[test]
fn a_write_wraps_within_its_page_and_a_read_over_the_end() {
    let mut part = Memory::new(SERIAL);
    write(&mut part, 0x003E, b"1234");
    part.advance_to(WRITE_CYCLE_US);
    assert_eq!(read(&mut part, ADDRESS, 0x003E, 2), b"12");
    assert_eq!(read(&mut part, ADDRESS, 0x0020, 3), b"34\xFF");
    write(&mut part, (SIZE - 1) as u16, b"z");
    part.advance_to(2 * WRITE_CYCLE_US);
    write(&mut part, 0, b"a");
    part.advance_to(3 * WRITE_CYCLE_US);
    assert_eq!(read(&mut part, ADDRESS, (SIZE - 1) as u16, 2), b"za");
}

#[test]
fn a_longer_write_than_a_page_keeps_the_last_bytes() {
    let mut part = Memory::new(SERIAL);
    let bytes: Vec<u8> = (0..40).collect();
    write(&mut part, 0, &bytes);
    part.advance_to(WRITE_CYCLE_US);
    let page = read(&mut part, ADDRESS, 0, PAGE);
    assert_eq!(page[..8], [32, 33, 34, 35, 36, 37, 38, 39]);
    assert_eq!(page[8..], bytes[8..32]);
}

#[test]
fn the_serial_number_is_read_only() {
    let mut part = Memory::new(SERIAL);
    assert_eq!(read(&mut part, SERIAL_ADDRESS, 0x0800, 16), SERIAL);
    assert!(part.start(SERIAL_ADDRESS, true));
    assert!(part.write_byte(0x08));
    assert!(part.write_byte(0x00));
    assert!(!part.write_byte(0x55));
    part.stop();
    assert!(!part.is_busy());
    assert_eq!(part.serial(), SERIAL);
}

#[test]
fn a_write_without_stop_or_without_data_writes_nothing() {
    let mut part = Memory::new(SERIAL);
    write(&mut part, 0x10, b"");
    assert!(!part.is_busy());
    part.start(ADDRESS, true);
    for byte in [0x00, 0x10, 0xAA] {
        part.write_byte(byte);
    }
    part.start(ADDRESS, false);
    part.stop();
    assert!(!part.is_busy());
    assert!(part.contents().iter().all(|byte| *byte == 0xFF));
}

#[test]
fn power_cuts_leave_old_new_and_torn_pages_depending_on_when() {
    let (mut old, mut new, mut torn) = (0, 0, 0);
    for seed in 0..400 {
        let mut part = Memory::new(SERIAL);
        write(&mut part, 0x40, &[0x0F; 16]);
        part.advance_to(10_000);
        write(&mut part, 0x40, &[0x30; 16]);
        part.cut_power(10_000 + seed * 13, seed);
        let page = read(&mut part, ADDRESS, 0x40, 32);
        assert_eq!(page[16..], [0xFF; 16], "bytes that were not written stay");
        match &page[..16] {
            bytes if bytes.iter().all(|byte| *byte == 0x0F) => old += 1,
            bytes if bytes.iter().all(|byte| *byte == 0x30) => new += 1,
            _ => torn += 1,
        }
    }
    assert!(
        new >= 400 - 5000 / 13 - 1 && torn > 200 && old + new + torn == 400,
        "{old} {new} {torn}"
    );
}

proptest! {
    #[test]
    fn any_bytes_in_any_order_leave_a_working_part(
        steps in prop::collection::vec((0u8..7, any::<u8>(), 0u64..3000), 0..200),
    ) {
        let mut part = Memory::new(SERIAL);
        let mut now_us = 0;
        for (step, byte, wait_us) in steps {
            now_us += wait_us;
            part.advance_to(now_us);
            match step {
                0 => { part.start(ADDRESS, byte & 1 == 1); }
                1 => { part.start(SERIAL_ADDRESS, byte & 1 == 1); }
                2 | 3 => { part.write_byte(byte); }
                4 => { part.read_byte(); }
                5 => part.cut_power(now_us, u64::from(byte)),
                _ => part.stop(),
            }
        }
        part.stop();
        part.advance_to(now_us + WRITE_CYCLE_US);
        write(&mut part, 0x0200, b"works");
        part.advance_to(now_us + 2 * WRITE_CYCLE_US);
        prop_assert_eq!(read(&mut part, ADDRESS, 0x0200, 5), b"works");
    }
}
