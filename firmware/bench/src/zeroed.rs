//! The calibration that a careful zero would find for a head: its true constants, rounded to the
//! wire's units, with the uncertainties that such a zero leaves. For demonstrations and tests that
//! do not zero a head themselves.

use crate::bench::Bench;
use crate::head::STANDOFF_NEAR_MM;
use crate::scene::Scene;
use crate::virtual_head::VirtualHead;
use skimgauge_shared::calibration::{
    CODE_UV, Calibration, Date, Lost, PIVOT_CODE, STAND_OFF_CODES, StandOffCurve,
};
use skimgauge_shared::exchange::{Next, Tokens, WriteConstants};
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::identity::SerialNumber;
use skimgauge_shared::message::{Report, Request};
use skimgauge_shared::pixels::{Pixels, UNCOMPARED_DIGEST};
use skimgauge_shared::reading::Tilt;
use skimgauge_shared::units::{CentiCelsius, Microdegrees, Micrometres, PartsPerMillion};

/// The temperature at which the zero was found.
const ZEROED_AT_C: f64 = 20.0;

/// Without the pixels' table. The zero is found on the very board that is measured, so that what its
/// face does to the laser is in it.
fn calibration(scene: &Scene, date: Date, by: &str) -> Calibration {
    let head = &scene.head;
    let of = head.characteristic;
    let code_v = f64::from(CODE_UV) * 1e-6;
    // Where a sensor without errors would stand for a code, and what this one's reading is off by
    // there; the errors are small, so that the truth is the reading less the error at that reading.
    let read_mm = |code: f64| STANDOFF_NEAR_MM + (code * code_v - of.v_at_near) / of.v_per_mm;
    let true_mm = |code: f64| {
        let read_mm = read_mm(code);
        read_mm - head.standoff_error.at_mm(read_mm, ZEROED_AT_C)
    };
    // Three codes give the curve exactly: it is a quadratic one.
    const STEP: f64 = 5_000.0;
    let [below, pivot, above] = [-STEP, 0.0, STEP].map(|off| true_mm(f64::from(PIVOT_CODE) + off));
    let slope_mm = (above - below) / (2.0 * STEP);
    let curve_mm = (above - 2.0 * pivot + below) / (2.0 * STEP * STEP);
    let tilt = |axis: usize| {
        Microdegrees::from_degrees(
            head.tilt_offset_deg[axis] + head.tilt_bias_g[axis].asin().to_degrees(),
        )
    };
    let lost_code = (of.lost_v / code_v).round() as i16;
    let halfway = |to: i16| i16::midpoint(lost_code, to);
    let (lowest, highest) = (*STAND_OFF_CODES.start(), *STAND_OFF_CODES.end());
    Calibration {
        head: SerialNumber(head.serial),
        date,
        by: heapless::String::try_from(by).unwrap_or_default(),
        stand_off: StandOffCurve {
            origin: Micrometres::from_mm(pivot),
            slope_pm_per_code: (slope_mm * 1e9).round() as i32,
            curvature_fm_per_code2: (curve_mm * 1e12).round() as i32,
            slope_u: PartsPerMillion(1_000),
            temperature_nm_per_k: (-head.standoff_error.per_k_mm * 1e6).round() as i32,
            reference: CentiCelsius((ZEROED_AT_C * 100.0) as i16),
            lowest,
            highest,
            lost: if lost_code > highest {
                Lost::From(halfway(highest))
            } else {
                Lost::Below(halfway(lowest))
            },
        },
        pixels: UNCOMPARED_DIGEST,
        zero: Micrometres::from_mm(head.z0_mm() - scene.room.board.material.laser_mm),
        zero_u: Micrometres(ZERO_U_UM),
        tilt_offset: Tilt { level: tilt(0), lean: tilt(1) },
    }
}

/// What a careful zero leaves: the gauge's 18 um and its own seats (`hardware/error-budget.md`).
const ZERO_U_UM: i32 = 20;

/// How unequal the pixels still are once they have been compared: a guess, on the safe side of what
/// the table's steps leave (0.015 %), because pixels differ otherwise under the sheet's light than
/// under that of the comparison.
const RESIDUAL: f64 = 0.002;

/// A write takes no longer, of the head's time.
const WRITE_US: u64 = 500_000;

/// What a zero finds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Zeroed {
    /// The constants.
    pub calibration: Calibration,
    /// The pixels' table that belongs to them.
    pub pixels: Pixels,
}

/// The constants of the head on a bench, on the board that it stands on.
pub fn of(bench: &Bench, date: Date, by: &str) -> Zeroed {
    let pixels = bench.pixel_line(|line| line.compared(RESIDUAL));
    let calibration = bench.scene(|scene| calibration(scene, date, by));
    let calibration = Calibration { pixels: pixels.digest(), ..calibration };
    Zeroed { calibration, pixels }
}

/// Writes them to a head over its wire, as any host does. Whether the head confirmed them.
pub fn write(head: &mut VirtualHead, zeroed: &Zeroed) -> bool {
    let mut decoder = Decoder::new();
    let mut tokens = Tokens::new();
    let (mut write, request) =
        WriteConstants::begin(zeroed.calibration.clone(), Some(zeroed.pixels.clone()));
    let mut request = Some(request);
    let until_us = head.bench().now_us() + WRITE_US;
    while head.bench().now_us() < until_us {
        let mut buffer = [0; MAX_FRAME];
        let frame = match request.take() {
            Some(request) => encode(&tokens.call(request), &mut buffer).unwrap_or_default(),
            None => Default::default(),
        };
        let mut heard = Vec::new();
        head.run_until(head.bench().now_us() + 1_000, frame, &mut |sent| {
            for byte in sent {
                if let Fed::Message(Report::Answer(token, answer)) = decoder.feed(*byte) {
                    heard.push((token, answer));
                }
            }
        });
        for (token, answer) in &heard {
            let Some(ask) = tokens.answered(*token, answer) else { continue };
            match write.hear(ask, answer) {
                Next::Wait => (),
                Next::Ask(next) => request = Some(next),
                Next::Press(_) => request = Some(Request::Unattended),
                Next::Written(_) => return true,
                Next::NotWritten(_) => return false,
            }
        }
    }
    false
}
