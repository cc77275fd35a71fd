use super::{Converter, code};
use proptest::prelude::*;

fn write(part: &mut Converter, register: u8, value: u16) {
    assert!(part.start(true));
    assert!(part.write_byte(register));
    for byte in value.to_be_bytes() {
        assert!(part.write_byte(byte));
    }
    part.stop();
}

fn read(part: &mut Converter, register: u8) -> u16 {
    part.start(true);
    part.write_byte(register);
    part.start(false);
    let word = u16::from_be_bytes([part.read_byte(), part.read_byte()]);
    part.stop();
    word
}

fn ready_function(part: &mut Converter) {
    write(part, 2, 0x0000);
    write(part, 3, 0x8000);
}

/// Configuration words and steps as tabled by crate `ads1x1x` 0.3 (its tests): default 8583h, gains
/// 8183h to 8B83h.
#[test]
fn gains_have_the_published_steps() {
    for (config, step_uv) in [
        (0x8183u16, 187.5),
        (0x8383, 125.0),
        (0x8583, 62.5),
        (0x8783, 31.25),
        (0x8983, 15.625),
        (0x8B83, 7.8125),
    ] {
        let mut input =
            |channel: u8, _: u64| if channel == 0 { 1000.0 * step_uv * 1e-6 } else { 0.0 };
        assert_eq!(code(config, 0, &mut input), 1000);
    }
}

/// Input selection as tabled by crate `ads1x1x` 0.3 (its tests), and full scale at both ends.
#[test]
fn inputs_are_selected_as_published_and_clamp_at_full_scale() {
    for (config, plus, minus) in [
        (0x8583u16, 0.1, 0.2),
        (0x9583, 0.1, 0.4),
        (0xA583, 0.2, 0.4),
        (0xB583, 0.3, 0.4),
        (0xC583, 0.1, 0.0),
        (0xD583, 0.2, 0.0),
        (0xE583, 0.3, 0.0),
        (0xF583, 0.4, 0.0),
    ] {
        let mut input = |channel: u8, _: u64| f64::from(channel + 1) * 0.1;
        let expected = ((plus - minus) / 62.5e-6_f64).round() as i16;
        assert_eq!(code(config, 0, &mut input), expected, "{config:04x}");
    }
    assert_eq!(code(0xC583, 0, &mut |_: u8, _: u64| 5.0), i16::MAX);
    assert_eq!(code(0xC583, 0, &mut |_: u8, _: u64| -5.0), i16::MIN);
}

/// Power-up value 8583h and rates 8 to 860 SPS: crate `ads1x1x` 0.3.
#[test]
fn powers_up_idle_with_the_default_configuration() {
    let mut part = Converter::default();
    assert_eq!(read(&mut part, 1), 0x8583);
    assert_eq!(read(&mut part, 2), 0x8000);
    assert_eq!(read(&mut part, 3), 0x7FFF);
    assert_eq!(part.conversion_ends_us(), None);
    for (config, sps) in [(0x8503, 8.0), (0x8583, 128.0), (0x85A3, 250.0), (0x85E3, 860.0)] {
        assert_eq!(part.period_ns(config), (1e9_f64 / sps).round() as u64);
    }
}

#[test]
fn single_shot_takes_its_time_and_holds_the_ready_pin() {
    let mut part = Converter::new(0.1);
    let mut input = |channel: u8, at_us: u64| f64::from(channel) + at_us as f64 * 1e-6;
    ready_function(&mut part);
    part.advance_to(1000, &mut input);
    write(&mut part, 1, 0xD3E0);
    assert_eq!(read(&mut part, 1) & 0x8000, 0, "OS reads 0 while converting");
    assert!(part.ready_pin());
    // 1/860 s and 10 % more is 1279.07 us.
    part.advance_to(2279, &mut input);
    assert_eq!(read(&mut part, 1) & 0x8000, 0);
    part.advance_to(2280, &mut input);
    assert_eq!(read(&mut part, 1), 0xD3E0);
    assert!(!part.ready_pin());
    part.advance_to(99_000, &mut input);
    assert!(!part.ready_pin(), "held until the next start");
    // 125 uV a code; the middle of the conversion is at 1639 us.
    let expected = (1.001639_f64 / 125e-6).round() as u16;
    assert_eq!(read(&mut part, 0), expected);
    write(&mut part, 1, 0x53E0);
    assert_eq!(part.conversion_ends_us(), None, "no start without OS");
    write(&mut part, 1, 0xD3E0);
    assert!(part.ready_pin(), "released by the next start");
    assert_eq!(part.ready_edges(), 1);
}

#[test]
fn continuous_mode_pulses_and_applies_a_new_configuration_after_the_running_conversion() {
    let mut part = Converter::new(0.0);
    let mut input = |channel: u8, _: u64| f64::from(channel + 1) * 0.5;
    ready_function(&mut part);
    write(&mut part, 1, 0xC2E0);
    part.advance_to(600, &mut input);
    write(&mut part, 1, 0xD2E0);
    part.advance_to(1163, &mut input);
    assert_eq!(read(&mut part, 0), 4000, "the running conversion keeps the old input");
    assert!(!part.ready_pin());
    part.advance_to(1172, &mut input);
    assert!(part.ready_pin(), "the pulse is 8 us long");
    part.advance_to(2326, &mut input);
    assert_eq!(read(&mut part, 0), 8000);
    assert_eq!(part.ready_edges(), 2);
    write(&mut part, 1, 0xD3E0);
    part.advance_to(100_000, &mut input);
    assert_eq!(part.conversions(), 3, "back to power-down after the running conversion");
    assert_eq!(read(&mut part, 1) & 0x8000, 0x8000);
}

#[test]
fn conversions_do_not_slip_when_the_part_is_looked_at_rarely() {
    let mut part = Converter::new(0.0);
    let mut seen = Vec::new();
    let mut input = |_: u8, at_us: u64| {
        seen.push(at_us);
        0.0
    };
    write(&mut part, 1, 0xC2E0);
    part.advance_to(1_000_001, &mut input);
    assert_eq!(part.conversions(), 860);
    assert!(seen.windows(2).all(|w| (1162..=1163).contains(&(w[1] - w[0]))));
}

#[test]
fn without_the_ready_function_the_pin_stays_released() {
    let mut part = Converter::new(0.0);
    let mut input = |_: u8, _: u64| 0.0;
    write(&mut part, 1, 0xC2E3);
    part.advance_to(1163, &mut input);
    assert!(part.ready_pin());
    assert_eq!(part.ready_edges(), 0);
}

#[test]
fn frozen_part_converts_without_a_new_value() {
    let mut part = Converter::new(0.0);
    let mut volts = 1.0;
    write(&mut part, 1, 0xC2E0);
    part.advance_to(2000, &mut |_: u8, _: u64| volts);
    part.set_frozen(true);
    let held = read(&mut part, 0);
    volts = 2.0;
    part.advance_to(20_000, &mut |_: u8, _: u64| volts);
    assert_eq!(read(&mut part, 0), held);
    assert_eq!(part.conversions(), 17);
}

proptest! {
    #[test]
    fn any_bytes_in_any_order_leave_a_working_part(
        steps in prop::collection::vec((0u8..5, any::<u8>(), 0u64..5000), 0..200),
    ) {
        let mut part = Converter::default();
        let mut input = |_: u8, _: u64| 1.0;
        let mut now_us = 0;
        for (step, byte, wait_us) in steps {
            now_us += wait_us;
            part.advance_to(now_us, &mut input);
            match step {
                0 => { part.start(true); }
                1 => { part.start(false); }
                2 => { part.write_byte(byte); }
                3 => { part.read_byte(); }
                _ => part.stop(),
            }
        }
        part.stop();
        now_us += 300_000;
        part.advance_to(now_us, &mut input);
        write(&mut part, 1, 0xC3E0);
        part.advance_to(now_us + 300_000, &mut input);
        write(&mut part, 1, 0xC3E0);
        part.advance_to(now_us + 302_000, &mut input);
        prop_assert_eq!(read(&mut part, 0), 8000);
    }
}
