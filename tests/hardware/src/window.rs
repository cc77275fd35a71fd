//! Which gaps the eye reads, by how its line of pixels was put in: as bought, or with its end
//! ground. Found by the program's own look at made-up sheets, no noise in them.

use crate::figures::Body;
use skimgauge_profile::{PIXELS, Pixels, Wanted, look};
use skimgauge_shared::units::Microseconds;
use std::fmt::Write;

/// From the lowest pixel's middle to what is left of the package when its end was ground: the chip
/// ends before that.
pub const GROUND_MM: f64 = 0.3;
/// Sheets that are looked at, four standard deviations thick, mm.
pub const THICK_MM: [f64; 3] = [0.8, 1.5, 3.0];
/// A middle that is off by more is not read, mm: a hundredth of what a verdict turns on.
const RIGHT_MM: f64 = 0.01;
/// Steps at which a sheet is looked at, mm.
const STEP_MM: f64 = 0.02;
/// Codes of the sheet's peak, and of the room's light.
const PEAK: f64 = 1_900.0;
const ROOM: f64 = 250.0;
/// Of the scan; any that is known.
const EXPOSURE: Option<Microseconds> = Some(Microseconds(1_000));

/// A line's way into the eye.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// Its lowest pixel's middle over the board, mm.
    pub first_mm: f64,
    /// How far a made one may be off, mm.
    pub off_mm: f64,
}

/// As bought, then ground: the line's end stands at the housing's rim either way.
pub fn ways(body: &Body) -> [Way; 2] {
    let rim = &body.figures["eye_bottom"];
    let end = &body.figures["line_end"];
    [
        Way { first_mm: rim.value + end.value, off_mm: rim.tolerance + end.tolerance },
        Way { first_mm: rim.value + GROUND_MM, off_mm: 2.0 * rim.tolerance },
    ]
}

/// How wrong a sheet with its middle so far above the first pixel is read, mm; `None`: not at all.
fn error_mm(pitch_mm: f64, thick_mm: f64, middle_mm: f64) -> Option<f64> {
    let pixels = Pixels { dark: 0, stop: 3_475, residual: 0, gain: [0; PIXELS] };
    let sigma = thick_mm / 4.0;
    let scan = std::array::from_fn(|n| {
        let off = (n as f64 * pitch_mm - middle_mm) / sigma;
        (ROOM + PEAK * (-off * off / 2.0).exp()).round() as u16
    });
    let seen = look(&scan, EXPOSURE, None, &pixels, &Wanted::ANY);
    let sheet = seen.sheet.ok()?;
    Some((f64::from(sheet.middle.0) / 256.0 * pitch_mm - middle_mm).abs())
}

/// From where to where above the first pixel a sheet of that thickness is read at every step, mm.
pub fn span(body: &Body, thick_mm: f64) -> (f64, f64) {
    let pitch_mm = body.get("pixel_pitch") / 1e3;
    let steps = (PIXELS as f64 * pitch_mm / STEP_MM) as i32;
    let middle = steps / 2;
    let is_read = |step: &i32| {
        error_mm(pitch_mm, thick_mm, f64::from(*step) * STEP_MM).is_some_and(|mm| mm <= RIGHT_MM)
    };
    let low = (0..=middle).rev().take_while(is_read).last().unwrap_or(middle);
    let high = (middle..=steps).take_while(is_read).last().unwrap_or(middle);
    (f64::from(low) * STEP_MM, f64::from(high) * STEP_MM)
}

/// The most that a figure is wrong by which is given for a sheet lower than that, mm.
pub fn worst_below_mm(body: &Body, thick_mm: f64) -> f64 {
    let pitch_mm = body.get("pixel_pitch") / 1e3;
    let low = (span(body, thick_mm).0 / STEP_MM) as i32;
    let errors =
        (-100..low).filter_map(|step| error_mm(pitch_mm, thick_mm, f64::from(step) * STEP_MM));
    errors.fold(0.0, f64::max)
}

/// The gaps that every head made that way reads, mm.
pub fn gaps(way: &Way, span: (f64, f64)) -> (f64, f64) {
    (way.first_mm + way.off_mm + span.0, way.first_mm - way.off_mm + span.1)
}

/// `hardware/window.md`.
pub fn document(body: &Body) -> String {
    let [bought, ground] = ways(body);
    let (length, end, die) = (body.get("line_length"), body.get("line_end"), body.get("line_die"));
    let cut = end - GROUND_MM;
    let mut text = format!(
        "# Which gaps the eye reads\n\nThe pixel line (iC-LFL1402, package OBGA LFL1C) is {length} mm long and its first pixel's middle lies {end} mm from its end, {} mm \
         either way\n(its maker's package specification, Rev B2: 5.051 less 4.288 mm). Its end stands flush with the eye's rim, {} mm over the board. Two ways:\n\n\
         - **as bought**: the first pixel {:.2} mm over the board. Nothing is ground, nothing can be spoiled;\n\
         - **ground**: {cut:.2} mm off the end, {GROUND_MM} mm left, the first pixel {:.2} mm over the board. The chip itself ends at about {die} mm (reckoned from its\n  \
         sister of 128 pixels; where its bond wires run the specification does not say), so this is all that can go, and one line may be lost in trying.\n\n\
         Gaps read by the program's own look at sheets without noise, to {RIGHT_MM} mm, and by **every** head within the tolerances (a typical one reads {:.1} mm, or \
         ground {:.1} mm,\nfarther at either end):\n\n\
         | sheet, four standard deviations | from the first pixel | as bought | ground |\n| --- | --- | --- | --- |\n",
        body.figures["line_end"].tolerance,
        body.get("eye_bottom"),
        bought.first_mm,
        ground.first_mm,
        bought.off_mm,
        ground.off_mm,
    );
    for thick in THICK_MM {
        let span = span(body, thick);
        let [(a, b), (c, d)] = [bought, ground].map(|way| gaps(&way, span));
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "| {thick} mm | {:.2} to {:.2} mm | {a:.1} to {b:.1} mm | {c:.1} to {d:.1} mm |",
            span.0, span.1
        );
    }
    let span = span(body, 1.5);
    text + &format!(
        "\nSheets are not known before the eye has seen one: 1.5 mm is what the rest of these pages reckon with (from memory). So, **as bought**, a typical head reads a \
         1.5 mm sheet from\n{:.1} mm up, and every head from {:.1} mm; ground, from {:.1} and {:.1} mm. Bands of a touch plane begin at 2 to 3 mm (from memory; the emitter's \
         manual counts): where the band\nbegins at 3 mm or more nothing is gained by grinding. Nearer than that the head says \"light leaves the window\" and \
         gives no figure: it does not\nread wrong. There the gap is set by turns from a reading farther out, as the trim does of itself.\n\n\
         **What else changes: nothing.** `zero` finds where the first pixel stands, from the gauge's slits, whose lower one at {} mm is seen whole either way; the\n\
         [error budget](error-budget.md) has no term that hangs on it. The simulated heads, and `window_low` in [params.toml](body/params.toml), are ground ones.\n\n\
         `cargo run -p skimgauge-hardware --bin sums` writes this file; the test `window` holds it to the figures and the code.\n",
        bought.first_mm + span.0,
        gaps(&bought, span).0,
        ground.first_mm + span.0,
        gaps(&ground, span).0,
        body.get("gauge_low"),
    )
}
