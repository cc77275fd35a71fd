//! The profile's integer arithmetic against floating point, within the bound that
//! `firmware/profile` states: 1/512 + 0.8 W^2 / S pixels. Any scan, any table, any exposure is
//! looked at without a panic, and what is said to be a sheet stands on the line.
//!
//! An input is two bytes a pixel, then a byte a gain, then what else `look` takes; what is missing
//! reads zero.

use crate::Target;
use skimgauge_profile::line::Lit;
use skimgauge_profile::window::{Fit, Frame, Span};
use skimgauge_profile::{PIXELS, Pixels, Scan, Wanted, look};
use skimgauge_shared::units::{Micrometres, Microseconds};

/// Scans.
pub const TARGET: Target =
    Target { name: "profile", check, each_run: 40_000, words: &["\0\0", "\u{7f}", "\r\u{1}"] };

struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.0.split_first() else { return 0 };
        self.0 = rest;
        *first
    }

    fn word(&mut self) -> u16 {
        u16::from_le_bytes([self.byte(), self.byte()])
    }

    fn within(&mut self, low: i32, high: i32) -> i32 {
        low + i32::from(self.word()) % (high - low + 1)
    }
}

fn check(input: &[u8]) {
    let mut bytes = Bytes(input);
    let codes: Scan = core::array::from_fn(|_| bytes.word());
    let gain: [i8; PIXELS] = core::array::from_fn(|_| bytes.byte() as i8);
    let pixels = Pixels { dark: bytes.word(), stop: bytes.word(), residual: bytes.word(), gain };
    let wanted = Wanted {
        narrowest: Micrometres(i32::from(bytes.word())),
        widest: Micrometres(i32::from(bytes.word())),
        first_pixel_at_board: bytes.byte() & 1 == 0,
    };
    let exposure = Some(Microseconds(u64::from(bytes.word())));
    let half = bytes.within(6, 60);
    let (left, right) = (bytes.within(4, 24), bytes.within(4, 24));
    let centre = bytes.within(half + left, 255 - half - right);
    looked(&codes, exposure, &pixels, &wanted);
    let usual = Pixels { dark: 0, stop: 3_475, residual: 0, gain: [0; PIXELS] };
    looked(&codes, exposure, &usual, &Wanted::ANY);
    let frame = Frame {
        centre,
        half,
        left: Span { from: centre - half - left, len: left },
        right: Span { from: centre + half + 1, len: right },
    };
    // What a converter of 12 bits gives, and gains that name no bad pixel.
    let codes = codes.map(|code| code.min(4_095));
    let gain = gain.map(|gain| gain.max(-127));
    bounded(&codes, &Pixels { dark: pixels.dark % 2_000, gain, ..usual }, frame);
}

fn looked(scan: &Scan, exposure: Option<Microseconds>, pixels: &Pixels, wanted: &Wanted) {
    let seen = look(scan, exposure, None, pixels, wanted);
    assert_eq!(seen, look(scan, exposure, None, pixels, wanted), "the same light, the same answer");
    let Ok(profile) = seen.sheet else { return };
    assert!((0..256 * PIXELS as i32).contains(&profile.middle.0), "{profile:?}");
    // Its own scatter aside, a width is within what is wanted; across the whole line is no sheet.
    assert!((1..16_256).contains(&profile.width.0), "{profile:?}");
    assert!(profile.height.0 > 0 && profile.height.0 <= 65_535, "{profile:?}");
    assert!(profile.scatter.0 >= 0, "{profile:?}");
    let again = look(scan, exposure, Some(seen.fingerprint), pixels, wanted);
    assert!(again.sheet.is_err(), "the same scan twice is frozen");
}

/// As `arithmetic_keeps_its_bound` of `firmware/core/tests/profile.rs`, over inputs that it does not
/// draw.
fn bounded(scan: &Scan, pixels: &Pixels, frame: Frame) {
    // A scatter so great that no bend is believed: the reference has none.
    let Some(fit) = Fit::of(&Lit::new(scan, pixels), frame, 65_535) else { return };
    let (light, shift) = reference(scan, pixels, &frame);
    let half = f64::from(frame.half);
    // The bound is for a middle inside the window.
    if shift.abs() >= half.min(20.0) || light <= 2_000.0 || fit.unlit.bend_q16 != 0 {
        return;
    }
    let bound = 1.0 / 512.0 + 0.8 * half * half / light;
    let error = f64::from(fit.shift.0) / 256.0 - shift;
    assert!(error.abs() <= bound, "{error} of {bound}; {fit:?}");
    assert!((f64::from(fit.light) - light).abs() <= half * 2.0 + 2.0, "{light}; {fit:?}");
}

/// The frame's light and the centroid's place from its centre, in floating point.
fn reference(scan: &Scan, pixels: &Pixels, frame: &Frame) -> (f64, f64) {
    let level = |(code, gain): (&u16, &i8)| {
        let raw = f64::from(*code) * 16.0;
        (raw + (raw - f64::from(pixels.dark)) * f64::from(*gain) / 2_048.0).clamp(0.0, 65_535.0)
    };
    let y: Vec<f64> = scan.iter().zip(&pixels.gain).map(level).collect();
    let mean = |span: Span| {
        let (from, to) = (span.from as usize, (span.from + span.len) as usize);
        let place = (from + to - 1) as f64 / 2.0 - f64::from(frame.centre);
        (place, y[from..to].iter().sum::<f64>() / f64::from(span.len))
    };
    let ((at_left, left), (at_right, right)) = (mean(frame.left), mean(frame.right));
    let slope = (right - left) / (at_right - at_left);
    let (mut sum, mut first) = (0.0, 0.0);
    for k in -frame.half..=frame.half {
        let above = y[(frame.centre + k) as usize] - left - slope * (f64::from(k) - at_left);
        sum += above;
        first += above * f64::from(k);
    }
    (sum, first / sum)
}
