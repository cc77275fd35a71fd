//! Engineering values from codes, against the data sheets' points.

use super::*;
use proptest::prelude::*;

fn nominal() -> Calibration {
    Calibration::nominal(SerialNumber([7; 16]))
}

#[test]
fn the_nominal_sensor_gives_its_own_line() {
    // 20 mm is 0.25 V is code 2000; 37 mm is 2.80 V is code 22400.
    for (code, mm) in [(2_000, 20.0), (10_000, 26.667), (22_400, 37.0)] {
        let s = nominal().stand_off(code * CODE_PARTS, None).value().unwrap();
        assert!((s.mm() - mm).abs() < 0.001, "{code}: {s:?}");
    }
}

#[test]
fn a_lost_spot_and_a_wall_too_near_are_told_apart() {
    assert_eq!(nominal().stand_off(24_800 * CODE_PARTS, None), Sample::Absent(Absence::NoSpot));
    assert_eq!(nominal().stand_off(400 * CODE_PARTS, None), Sample::Absent(Absence::OutOfRange));
    assert_eq!(nominal().stand_off(23_000 * CODE_PARTS, None), Sample::Absent(Absence::OutOfRange));
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
fn the_eye_knows_darkness_dusk_and_glare() {
    let eye = |a, b| nominal().eye_ratio(a * CODE_PARTS, b * CODE_PARTS);
    assert_eq!(eye(200, 200), Sample::Absent(Absence::NoLight));
    assert_eq!(eye(400, 400), Sample::Absent(Absence::TooLittleLight));
    assert_eq!(eye(24_000, 9_000), Sample::Absent(Absence::Saturated));
    assert_eq!(eye(6_000, 2_000), Sample::Value(TenThousandths(5_000)));
    assert_eq!(eye(2_000, 6_000), Sample::Value(TenThousandths(-5_000)));
}

#[test]
fn dark_offsets_and_gain_are_taken_off() {
    let mut calibration = nominal();
    calibration.eye.dark_outer = 100;
    calibration.eye.dark_inner = 50;
    calibration.eye.inner_gain = PartsPerMillion(250_000);
    assert_eq!(
        calibration.eye_ratio(4_100 * CODE_PARTS, 5_050 * CODE_PARTS),
        Sample::Value(TenThousandths(0))
    );
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
        code in any::<i16>(), inner in any::<i16>(), t in any::<i16>(),
        slope in 400_000..=1_700_000_i32, curve in -20_000_000..=20_000_000_i32, gain in -500_000..=500_000_i32,
    ) {
        let mut calibration = nominal();
        calibration.stand_off.slope_pm_per_code = slope;
        calibration.stand_off.curvature_fm_per_code2 = curve;
        calibration.eye.inner_gain = PartsPerMillion(gain);
        prop_assert!(calibration.plausible());
        let codes = (i32::from(code) * CODE_PARTS, i32::from(inner) * CODE_PARTS);
        let _ = calibration.stand_off(codes.0, Some(CentiCelsius(t)));
        let _ = calibration.eye_ratio(codes.0, codes.1);
        let _ = calibration.light(codes.0, codes.1);
        let _ = calibration.tilt(code, inner);
    }
}
