//! Gaps that a head sees.

use skimgauge_quantity::{Band, Mm};

/// Heights over the board of the eye's first and last pixel, mm (`window_low` and `window_high` of
/// `hardware/body/params.toml`). No gap outside is ever read, whatever the sheet.
pub const EYE: Band<Mm> = Band { low: Mm(0.4), high: Mm(16.593) };

/// Gaps that a table of readings may hold, and ends that a band may have, mm: as thin as a sheet may
/// be, a head reads no other.
pub const TABLED: Band<Mm> = Band { low: Mm(0.4), high: Mm(16.6) };

/// Thickness of the sheet (four standard deviations) where nobody measured it, mm. Common practice,
/// no source.
pub const SHEET_MM: f64 = 1.2;

/// Gaps that the head sees of a usual sheet, mm. [`seen`].
pub const MEASURABLE: Band<Mm> = seen(EYE.low.0, SHEET_MM);

/// Nearer than this, mm, no head sees even the thinnest sheet (0.8 mm: from memory).
pub const NEAREST: Mm = seen(EYE.low.0, 0.8).low;

/// Gaps at which a head whose first pixel stands so high over the board sees a sheet of this
/// thickness (four standard deviations), mm. Closer to an end of the line it is said to leave the
/// window: `hardware/window.md` has the figures, from the code's own look.
pub const fn seen(first_pixel_mm: f64, sheet_mm: f64) -> Band<Mm> {
    /// The pixels' pitch, mm (`pixel_pitch`).
    const PIXEL_MM: f64 = 0.0635;
    /// Beside three standard deviations, pixels.
    const BESIDE: f64 = 4.5;
    // From a thick one there is too little beside it to be sure of.
    let thick_mm = if sheet_mm > 1.5 { 0.3 * (sheet_mm - 1.5) } else { 0.0 };
    let room_mm = 0.75 * sheet_mm + thick_mm + BESIDE * PIXEL_MM;
    let last_pixel_mm = first_pixel_mm + (EYE.high.0 - EYE.low.0);
    Band { low: Mm(first_pixel_mm + room_mm), high: Mm(last_pixel_mm - room_mm) }
}

/// Of the gaps that the head sees those between which a turn is watched, mm: near the far end one
/// that does more than it should takes the light away, and at the other it takes it to the board.
pub const fn watched(seen: Band<Mm>) -> Band<Mm> {
    const FAR_END_MM: f64 = 4.0;
    const NEAR_END_MM: f64 = 0.1;
    Band { low: Mm(seen.low.0 + NEAR_END_MM), high: Mm(seen.high.0 - FAR_END_MM) }
}
