use super::frame::crc8;
use super::frame::tests::rows;
use super::{Inclinometer, InclinometerFault, RESET_US};
use crate::part::Motion;
use proptest::prelude::*;

struct Still([f64; 3], f64);

impl Motion for Still {
    fn acceleration_g(&mut self, _: u64) -> [f64; 3] {
        self.0
    }
    fn temperature_c(&mut self, _: u64) -> f64 {
        self.1
    }
}

fn transfer(part: &mut Inclinometer, request: u32) -> u32 {
    part.select(true);
    let reply = request.to_be_bytes().map(|byte| part.exchange_byte(byte));
    part.select(false);
    u32::from_be_bytes(reply)
}

fn started(motion: &mut Still) -> Inclinometer {
    let mut part = Inclinometer::new([0xF7DA, 0x3CE5], 1, 0);
    part.advance_to(RESET_US, motion);
    for request in [0xB400_0338, 0xB000_1F6F] {
        transfer(&mut part, request);
    }
    part.advance_to(500_000, motion);
    for _ in 0..3 {
        transfer(&mut part, 0x1800_00E5);
    }
    part
}

fn value(part: &mut Inclinometer, request: u32) -> i16 {
    transfer(part, request);
    (transfer(part, request) >> 8) as u16 as i16
}

#[test]
fn every_published_request_is_answered_by_its_own_operation() {
    let mut part = started(&mut Still([0.0, 0.0, 1.0], 20.0));
    for (_, word, _, _) in rows().filter(|row| row.0 && row.1 != 0xB400_2098) {
        transfer(&mut part, word);
        let reply = transfer(&mut part, 0x1800_00E5);
        assert_eq!(reply >> 26, word >> 26, "{word:08X}");
        assert_eq!(crc8(&reply.to_be_bytes()[..3]), reply.to_be_bytes()[3]);
    }
}

/// The start-up of the published frames: replies B3001FE3, 1B00129E, 1900129D, 1900006A, 4100C136
/// in that order.
#[test]
fn start_up_and_status_clearing_give_the_published_frames() {
    let mut motion = Still([0.0, 0.0, 1.0], 20.0);
    let mut part = Inclinometer::new([0, 0], 1, 0);
    transfer(&mut part, 0xB400_0338);
    assert_eq!(transfer(&mut part, 0xB400_0338) >> 24 & 3, 0, "still starting up");
    part.advance_to(RESET_US, &mut motion);
    transfer(&mut part, 0xB000_1F6F);
    assert_eq!(transfer(&mut part, 0x1800_00E5), 0xB300_1FE3);
    assert_eq!(transfer(&mut part, 0x1800_00E5), 0x1B00_129E);
    assert_eq!(transfer(&mut part, 0x1800_00E5), 0x1900_129D);
    assert_eq!(transfer(&mut part, 0x4000_0091), 0x1900_006A);
    assert_eq!(transfer(&mut part, 0x4000_0091), 0x4100_C136);
}

/// Serial registers F7DA, 3CE5 and bank selection: crate `scl3300` 0.5.
#[test]
fn serial_number_is_in_bank_one_only() {
    let mut part = started(&mut Still([0.0, 0.0, 1.0], 20.0));
    assert_eq!(value(&mut part, 0x6400_00A7), 0);
    transfer(&mut part, 0xFC00_016E);
    assert_eq!(value(&mut part, 0x6400_00A7) as u16, 0xF7DA);
    assert_eq!(value(&mut part, 0x6800_00AD) as u16, 0x3CE5);
    transfer(&mut part, 0xFC00_0073);
    assert_eq!(transfer(&mut part, 0x4000_0091), 0xFD00_00FC);
}

/// One set of published replies: X, Y, Z -26, 141, 11888 (12 000 a g), angles -23, 123, 16257 (90
/// degrees is 16384), temperature 5652. They were taken one after the other, so noise lies between
/// them: 0.02 degrees.
#[test]
fn accelerations_angles_and_temperature_agree_with_published_replies() {
    let felt = [-26.0, 141.0, 11_888.0].map(|code: f64| code / 12_000.0);
    let mut part = started(&mut Still(felt, 5652.0 / 18.9 - 273.0));
    for (request, published, tolerance) in [
        (0x0400_00F7, -26, 6),
        (0x0800_00FD, 141, 6),
        (0x0C00_00FB, 11_888, 6),
        (0x2400_00C7, -23, 4),
        (0x2800_00CD, 123, 4),
        (0x2C00_00CB, 16_257, 4),
        (0x1400_00EF, 5652, 0),
    ] {
        let got = value(&mut part, request);
        assert!((got - published).abs() <= tolerance, "{request:08X}: {got} {published}");
    }
}

#[test]
fn low_pass_answers_a_step_within_its_time_constant() {
    let mut motion = Still([0.0, 0.0, 1.0], 20.0);
    let mut part = started(&mut motion);
    motion.0 = [0.1, 0.0, 1.0];
    // 10 Hz: 15.9 ms to 63.2 %.
    part.advance_to(515_915, &mut motion);
    let share = f64::from(value(&mut part, 0x0400_00F7)) / 1200.0;
    assert!((share - 0.632).abs() < 0.03, "{share}");
}

#[test]
fn angle_noise_is_that_of_its_density_behind_the_low_pass() {
    let mut motion = Still([0.0, 0.0, 1.0], 20.0);
    let mut part = started(&mut motion);
    let angles: Vec<f64> = (1..=3000u64)
        .map(|k| {
            part.advance_to(500_000 + k * 50_000, &mut motion);
            f64::from(value(&mut part, 0x2400_00C7)) * 90.0 / 16_384.0
        })
        .collect();
    let rms = (angles.iter().map(|a| a * a).sum::<f64>() / angles.len() as f64).sqrt();
    // 0.001 degrees per root hertz over 10 Hz times pi/2, and the register's step.
    let expected =
        (1e-6 * 10.0 * core::f64::consts::FRAC_PI_2 + (90.0 / 16_384.0f64).powi(2) / 12.0).sqrt();
    assert!((rms / expected - 1.0).abs() < 0.1, "{rms} {expected}");
}

#[test]
fn faults_show_on_the_wire_as_named() {
    let mut motion = Still([0.0, 0.0, 1.0], 20.0);
    let mut part = started(&mut motion);
    let ask = |part: &mut Inclinometer, fault| {
        part.set_fault(fault);
        transfer(part, 0x2400_00C7);
        transfer(part, 0x2400_00C7).to_be_bytes()
    };
    assert_eq!(ask(&mut part, InclinometerFault::Low), [0; 4]);
    assert_eq!(ask(&mut part, InclinometerFault::High), [0xFF; 4]);
    let spoilt = ask(&mut part, InclinometerFault::Checksum);
    assert_ne!(crc8(&spoilt[..3]), spoilt[3]);
    assert_eq!(ask(&mut part, InclinometerFault::StatusTwo)[0] & 3, 2);
    assert_eq!(ask(&mut part, InclinometerFault::StatusError)[0] & 3, 3);
    assert_eq!(ask(&mut part, InclinometerFault::StatusStartUp)[0] & 3, 0);
    assert_eq!(ask(&mut part, InclinometerFault::None)[0] & 3, 1);
    // Limit of the self-test in modes 3 and 4: 3600 (crate `scl3300` 0.5).
    assert!(value(&mut part, 0x1000_00E9).abs() < 900);
    part.set_fault(InclinometerFault::SelfTest);
    assert!(value(&mut part, 0x1000_00E9) > 3600);
    part.set_fault(InclinometerFault::Frozen);
    let held = value(&mut part, 0x0400_00F7);
    motion.0 = [0.5, 0.0, 0.8];
    part.advance_to(2_000_000, &mut motion);
    assert_eq!(value(&mut part, 0x0400_00F7), held);
}

#[test]
fn request_with_a_wrong_crc_or_cut_short_is_not_carried_out() {
    let mut part = started(&mut Still([0.0, 0.0, 1.0], 20.0));
    transfer(&mut part, 0xFC00_016F);
    assert_eq!(transfer(&mut part, 0x7C00_00B3) >> 24 & 3, 3);
    assert_eq!(transfer(&mut part, 0x7C00_00B3) >> 8 & 0xFFFF, 0);
    part.select(true);
    for byte in [0xFC, 0x00, 0x01] {
        part.exchange_byte(byte);
    }
    part.select(false);
    assert_eq!(value(&mut part, 0x7C00_00B3), 0);
}

#[test]
fn power_down_and_reset_work_as_commands() {
    let mut motion = Still([0.0, 0.0, 1.0], 20.0);
    let mut part = started(&mut motion);
    transfer(&mut part, 0xB400_046B);
    assert_eq!(value(&mut part, 0x3400_00DF) & 4, 4);
    transfer(&mut part, 0xB400_001F);
    assert_eq!(value(&mut part, 0x3400_00DF), 0);
    transfer(&mut part, 0xB400_2098);
    transfer(&mut part, 0x4000_0091);
    assert_eq!(transfer(&mut part, 0x4000_0091) >> 24 & 3, 0);
    assert_eq!(value(&mut part, 0x2400_00C7), 0, "angles are off after a reset");
}

proptest! {
    #[test]
    fn any_bytes_leave_a_working_part(
        steps in prop::collection::vec((0u8..8, any::<u8>()), 0..300),
    ) {
        let mut motion = Still([0.0, 0.0, 1.0], 20.0);
        let mut part = started(&mut motion);
        for (step, byte) in steps {
            match step {
                0 => part.select(true),
                1 => part.select(false),
                _ => { part.exchange_byte(byte); }
            }
        }
        transfer(&mut part, 0xB400_2098);
        part.advance_to(600_000, &mut motion);
        prop_assert_eq!(value(&mut part, 0x4000_0091), 0xC1);
    }
}
