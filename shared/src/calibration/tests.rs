//! Engineering values from codes, against the data sheets' points.

use super::*;
use proptest::prelude::*;

fn nominal() -> Calibration {
    Calibration::nominal(SerialNumber([7; 16]))
}

#[test]
fn the_nominal_sensor_gives_its_own_line() {
    // 1 V to 5 V over 20 mm to 50 mm, halved to 0.5485 by the head's divider.
    for (volts, mm) in [(1.0, 20.0), (3.0, 35.0), (5.0, 50.0)] {
        let code_16 = (volts * 0.5485 / 125e-6 * f64::from(CODE_PARTS)).round() as i32;
        let s = nominal().stand_off(code_16, None).value().unwrap();
        assert!((s.mm() - mm).abs() < 0.002, "{volts} V: {s:?}");
    }
}

#[test]
fn a_lost_spot_and_a_wall_too_near_are_told_apart() {
    assert_eq!(nominal().stand_off(24_800 * CODE_PARTS, None), Sample::Absent(Absence::NoSpot));
    assert_eq!(nominal().stand_off(400 * CODE_PARTS, None), Sample::Absent(Absence::OutOfRange));
    assert_eq!(nominal().stand_off(23_000 * CODE_PARTS, None), Sample::Absent(Absence::OutOfRange));
}

/// A sensor of 4 V at 25 mm and 1 V at 45 mm that goes to 0 V when it loses its spot.
#[test]
fn a_falling_sensor_that_goes_to_zero_works() {
    let mut falling = nominal();
    // -150 mV a millimetre through 0.5485; at the pivot 1.25 V / 0.5485 = 2.27894 V: 36.474 mm.
    falling.stand_off.slope_pm_per_code = -1_519_295;
    falling.stand_off.origin = Micrometres(36_474);
    falling.stand_off.lowest = 4_000;
    falling.stand_off.lost = Lost::Below(800);
    assert!(falling.plausible());
    for (volts, mm) in [(4.0, 25.0), (2.5, 35.0), (1.0, 45.0)] {
        let code_16 = (volts * 0.5485 / 125e-6 * f64::from(CODE_PARTS)).round() as i32;
        let s = falling.stand_off(code_16, None).value().unwrap();
        assert!((s.mm() - mm).abs() < 0.002, "{volts} V: {s:?}");
    }
    for (code, absence) in [
        (0, Absence::NoSpot),
        (800, Absence::NoSpot),
        (900, Absence::OutOfRange),
        (24_800, Absence::OutOfRange),
    ] {
        assert_eq!(falling.stand_off(code * CODE_PARTS, None), Sample::Absent(absence), "{code}");
    }
    // A lost level inside the range tells nothing apart.
    falling.stand_off.lost = Lost::Below(5_000);
    assert!(!falling.plausible());
    falling.stand_off.lost = Lost::From(20_000);
    assert!(!falling.plausible());
}

#[test]
fn curvature_and_temperature_enter_with_their_units() {
    let mut calibration = nominal();
    calibration.stand_off.curvature_fm_per_code2 = 200_000; // 0.2 nm / code^2: 20 um at 10 000 codes off the pivot
    calibration.stand_off.temperature_nm_per_k = 1_500;
    let at = |c: &Calibration, t| c.stand_off(20_000 * CODE_PARTS, t).value().unwrap().0;
    assert_eq!(at(&calibration, None) - at(&nominal(), None), 20_000);
    let warm = Some(CentiCelsius(3_000));
    assert_eq!(at(&calibration, warm) - at(&calibration, None), 15);
}

#[test]
fn a_gap_is_stand_off_and_middle_and_zero() {
    let calibration = Calibration { zero: Micrometres(-32_600), ..nominal() };
    let gap = calibration.gap(Micrometres(33_010), Micrometres(2_590));
    assert_eq!(gap, Micrometres(3_000));
}

#[test]
fn the_tilt_offset_is_taken_off() {
    let mut calibration = nominal();
    calibration.tilt_offset = Tilt { level: Microdegrees(100_000), lean: Microdegrees(-50_000) };
    let tilt = calibration.tilt(TiltSteps { level: 182, lean: -91 }).value().unwrap();
    // 182 / 16 384 of 90 degrees.
    assert!((tilt.level.degrees() - (0.999_756 - 0.1)).abs() < 1e-5, "{tilt:?}");
    assert!((tilt.lean.degrees() - (-0.499_878 + 0.05)).abs() < 1e-5, "{tilt:?}");
    let over = calibration.tilt(TiltSteps { level: 11_000, lean: 0 });
    assert_eq!(over, Sample::Absent(Absence::OutOfRange));
}

/// The figures that the crate `scl3300` 0.5 carries in its own tests (angle 0F88h, temperatures
/// 1614h and 161Eh; FFE9h, 007Bh, 3F81h from its documentation), with the sign that two's
/// complement gives: the crate reads FFE9h as 359.874 degrees.
#[test]
fn inclinometer_codes_agree_with_the_driver_crates_figures() {
    for (code, degrees) in [
        (0x0F88_u16, 21.8408),
        (0xFFE9, 359.87366 - 360.0),
        (0x007B, 0.6756592),
        (0x3F81, 89.30237),
    ] {
        assert!((angle(code as i16).degrees() - degrees).abs() < 1e-4, "{code:04X}");
    }
    for (code, celsius) in [(0x1614, 26.047619), (0x161E, 26.5767)] {
        assert!((temperature(code).celsius() - celsius).abs() < 0.006, "{code:04X}");
    }
}

/// ADS1115 LSB sizes: TI's data sheet table, 125 uV at 4.096 V.
#[test]
fn a_code_is_125_microvolts() {
    assert_eq!(CODE_UV, 4_096_000 / 32_768);
    assert_eq!(supply(20_000), Millivolts(5_000));
    assert_eq!(supply(-3), Millivolts(0));
}

proptest! {
    #[test]
    fn no_code_and_no_plausible_calibration_panics(
        code in any::<i16>(), t in any::<i16>(), level in any::<i16>(), lean in any::<i16>(),
        slope in 400_000..=4_000_000_i32, falls in any::<bool>(), curve in -20_000_000..=20_000_000_i32,
    ) {
        let mut calibration = nominal();
        calibration.stand_off.slope_pm_per_code = if falls { -slope } else { slope };
        calibration.stand_off.curvature_fm_per_code2 = curve;
        prop_assert!(calibration.plausible());
        let _ = calibration.stand_off(i32::from(code) * CODE_PARTS, Some(CentiCelsius(t)));
        let _ = calibration.tilt(TiltSteps { level, lean });
    }
}
