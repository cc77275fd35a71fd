//! The calibration that a careful zero would find for a head: its true constants, rounded to the
//! wire's units, with the uncertainties that such a zero leaves. For demonstrations and tests that
//! do not zero a head themselves.

use crate::head::{Head, STANDOFF_NEAR_MM, STANDOFF_V_AT_NEAR, STANDOFF_V_PER_MM};
use crate::virtual_head::VirtualHead;
use skimgauge_shared::calibration::{
    CODE_UV, Calibration, Date, EyeConstants, PIVOT_CODE, StandOffCurve,
};
use skimgauge_shared::exchange::{Next, WriteConstants};
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::message::{Report, SerialNumber};
use skimgauge_shared::reading::Tilt;
use skimgauge_shared::units::{CentiCelsius, Microdegrees, Micrometres, PartsPerMillion};

/// Stray light that a zero takes for darkness, V.
const STRAY_V: f64 = 0.003;
/// Slope of the eye near its centre for a sheet as in the default room, mm; its thickness over
/// four.
const EYE_SCALE_MM: f64 = 0.75;

/// The constants.
pub fn calibration(head: &Head, date: Date, by: &str) -> Calibration {
    let code_v = f64::from(CODE_UV) * 1e-6;
    let mm_per_code = code_v / STANDOFF_V_PER_MM;
    let pivot_mm = STANDOFF_NEAR_MM
        + (f64::from(PIVOT_CODE) * code_v - STANDOFF_V_AT_NEAR) / STANDOFF_V_PER_MM;
    let error = head.standoff_error;
    // The error is small: the truth is the sensor's reading less the error at that reading.
    let curve_mm_per_mm2 = error.quadratic_mm / (8.5 * 8.5);
    let slope_error = error.scale + 2.0 * curve_mm_per_mm2 * (pivot_mm - 28.5);
    let dark = |cell: usize| ((head.dark_v[cell] + STRAY_V) / code_v).round() as i16;
    let tilt = |axis: usize| {
        Microdegrees::from_degrees(
            head.tilt_offset_deg[axis] + head.tilt_bias_g[axis].asin().to_degrees(),
        )
    };
    Calibration {
        head: SerialNumber(head.serial),
        date,
        by: heapless::String::try_from(by).unwrap_or_default(),
        stand_off: StandOffCurve {
            origin: Micrometres::from_mm(pivot_mm - error.at_mm(pivot_mm, 20.0)),
            slope_pm_per_code: (mm_per_code * 1e9 * (1.0 - slope_error)).round() as i32,
            curvature_fm_per_code2: (-curve_mm_per_mm2 * mm_per_code * mm_per_code * 1e12).round()
                as i32,
            slope_u: PartsPerMillion(1_000),
            temperature_nm_per_k: (-error.per_k_mm * 1e6).round() as i32,
            reference: CentiCelsius(2_000),
        },
        eye: EyeConstants {
            dark_outer: dark(0),
            dark_inner: dark(1),
            inner_gain: PartsPerMillion::from_fraction(head.cell_gain[1] / head.cell_gain[0] - 1.0),
            scale: Micrometres::from_mm(EYE_SCALE_MM),
            scale_u: Micrometres::from_mm(0.2),
        },
        zero: Micrometres::from_mm(head.z0_mm),
        zero_u: Micrometres(25),
        tilt_offset: Tilt { level: tilt(0), lean: tilt(1) },
    }
}

/// A write takes no longer, of the head's time.
const WRITE_US: u64 = 500_000;

/// Writes a calibration to a head over its wire, as any host does. Whether the head confirmed it.
pub fn write(head: &mut VirtualHead, calibration: &Calibration) -> bool {
    let mut decoder = Decoder::new();
    let (mut write, request) = WriteConstants::begin(calibration.clone());
    let mut request = Some(request);
    let until_us = head.bench().now_us() + WRITE_US;
    while head.bench().now_us() < until_us {
        let mut buffer = [0; MAX_FRAME];
        let frame = match request.take() {
            Some(request) => encode(&request, &mut buffer).unwrap_or_default(),
            None => Default::default(),
        };
        let mut heard = Vec::new();
        head.run_until(head.bench().now_us() + 1_000, frame, &mut |sent| {
            for byte in sent {
                if let Fed::Message(report) = decoder.feed::<Report>(*byte) {
                    heard.push(report);
                }
            }
        });
        for report in &heard {
            match write.hear(report) {
                Next::Wait => (),
                Next::Ask(next) => request = Some(next),
                Next::Written(_) => return true,
                Next::NotWritten(_) => return false,
            }
        }
    }
    false
}
