//! What a gap read by this head is worth: from the body's figures, the ratings and the code's own
//! constants.

use crate::figures::{Body, Ratings};
use crate::interval::figures;
use skimgauge_metrology::measure::Limits;
use std::fmt::Write;

/// Grit under a foot or unevenness of the board there, mm: what the figures' lean rests on.
const GRIT_MM: f64 = 0.08;
/// The head against the temperature at which it was zeroed, K.
const KELVIN: f64 = 2.0;
/// Scans averaged in half a second.
const SECONDS: f64 = 0.5;
/// Scatter of one scan's middle in the worst of three rooms, mm (numerical trial: 4, 21 and 34 um;
/// the simulation: 5, 29 and 45 um).
const SCAN_MM: f64 = 0.045;
/// Scatter of one conversion of the stand-off, mm (as simulated).
const STANDOFF_MM: f64 = 0.010;
/// Converter's drift, resistors' against each other, per kelvin (data sheets, from memory).
const CONVERTER_PER_K: f64 = 40e-6;
const DIVIDER_PER_K: f64 = 50e-6;
/// Seats that `zero` takes.
const ZERO_SEATS: f64 = 6.0;

/// A row.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// Source.
    pub name: &'static str,
    /// What it is reckoned from.
    pub from: String,
    /// Standard uncertainty of the gap, mm.
    pub u_mm: f64,
    /// Comes anew with each seat.
    pub of_the_seat: bool,
}

/// A limit either way, of which nothing more is known: GUM (JCGM 100), 4.3.7.
fn limit(half: f64) -> f64 {
    half / 3_f64.sqrt()
}

/// The figure of `const NAME: f64 = FIGURE;` in a source.
///
/// # Errors
/// There is none.
pub fn constant(source: &str, name: &str) -> Result<f64, String> {
    let rest = source.split_once(&format!("const {name}: f64 = ")).map(|(_, rest)| rest);
    let figure = rest.and_then(|rest| rest.split(';').next()).and_then(|text| text.parse().ok());
    figure.ok_or_else(|| format!("the code has no {name}"))
}

fn row(name: &'static str, from: String, u_mm: f64) -> Share {
    Share { name, from, u_mm, of_the_seat: false }
}

/// How the body stands and turns, anew with each seat.
fn seat(body: &Body) -> Vec<Share> {
    let (spot, up, across) =
        (body.get("spot_to_eye"), body.get("stance_up"), body.get("stance_across"));
    let degrees = body.figures["spot_direction"].tolerance;
    let (lean, level) = (spot * GRIT_MM / up, spot * GRIT_MM / across * degrees.to_radians().sin());
    let play = body.get("swivel_play");
    let of = format!("{GRIT_MM} mm of grit over {up} mm, times {spot} mm from spot to eye");
    let rows = vec![
        row("lean of the seat", of, limit(lean)),
        row(
            "level of the seat",
            format!("the same over {across} mm, times the sine of {degrees} degrees"),
            limit(level),
        ),
        row("play of the swivel", format!("limit {play} mm"), limit(play)),
    ];
    rows.into_iter().map(|share| Share { of_the_seat: true, ..share }).collect()
}

/// What the zero leaves, and what has changed since.
fn zero(body: &Body) -> Vec<Share> {
    let (height, slit) = (body.figures["gauge_low"].tolerance, body.get("gauge_slit"));
    let worn = body.get("feet_flat");
    vec![
        row(
            "zero: gauge",
            format!(
                "slit's height known to {height} mm, slope through two slits a tenth of {slit} mm"
            ),
            limit(height).hypot(limit(slit / 10.0)),
        ),
        row(
            "zero: its own seats",
            format!("{ZERO_SEATS} seats"),
            of_the_seat(&seat(body)) / ZERO_SEATS.sqrt(),
        ),
        row(
            "wear of the feet",
            format!("one foot {worn} mm shorter before it is zeroed again: lean as above"),
            limit(worn / body.get("stance_up") * body.get("spot_to_eye")),
        ),
    ]
}

/// Noise and temperature.
fn reading(body: &Body, ratings: &Ratings, code: &str) -> Result<Vec<Share>, String> {
    let kelvin = constant(code, "TEMPERATURE_KNOWN_U_MM_PER_K")?;
    let range = ratings.get("sensor_range")?;
    // 30 mm for the range of the longer common sensor, from 20 mm on: what it gives at the body's
    // stand-off.
    let mm_per_volt = 30.0 / (range.high - range.low);
    let height = body.get("laser_standoff");
    let volts = range.low + (height - 20.0) / mm_per_volt;
    let drift = volts * (CONVERTER_PER_K + DIVIDER_PER_K / 2.0) * mm_per_volt * KELVIN;
    let scans = body.get("scans");
    let (converter, divider) = (CONVERTER_PER_K * 1e6, DIVIDER_PER_K * 1e6);
    Ok(vec![
        Share {
            of_the_seat: true,
            ..row(
                "eye's scatter",
                format!(
                    "{SCAN_MM} mm a scan in the worst room, {scans} scans a second, {SECONDS} s"
                ),
                SCAN_MM / (scans * SECONDS).sqrt(),
            )
        },
        Share {
            of_the_seat: true,
            ..row(
                "stand-off's scatter",
                format!("{STANDOFF_MM} mm a conversion, 100 a second, {SECONDS} s"),
                STANDOFF_MM / (100.0 * SECONDS).sqrt(),
            )
        },
        row(
            "temperature of sensor and body",
            format!("{kelvin} mm/K (the code's), {KELVIN} K"),
            kelvin * KELVIN,
        ),
        row(
            "temperature of divider and converter",
            format!(
                "{converter} and half of {divider} ppm/K, {KELVIN} K, {volts:.2} V at {height} mm"
            ),
            limit(drift),
        ),
    ])
}

/// Every share. `code` is the source that has the take's temperature coefficient.
///
/// # Errors
/// A figure that is not there.
pub fn shares(body: &Body, ratings: &Ratings, code: &str) -> Result<Vec<Share>, String> {
    let mut shares = seat(body);
    shares.extend(zero(body));
    shares.extend(reading(body, ratings, code)?);
    Ok(shares)
}

/// Root sum of squares.
pub fn combined<'a>(shares: impl IntoIterator<Item = &'a Share>) -> f64 {
    shares.into_iter().map(|share| share.u_mm * share.u_mm).sum::<f64>().sqrt()
}

/// What the seat alone does, mm.
pub fn of_the_seat(shares: &[Share]) -> f64 {
    combined(shares.iter().filter(|share| share.of_the_seat))
}

/// `hardware/error-budget.md`.
pub fn document(shares: &[Share]) -> String {
    let all = combined(shares);
    let seat = of_the_seat(shares);
    let counted = Limits::default().seat_u_mm;
    let mut text = format!(
        "# Error budget of one take\n\nWhat a gap is worth that this head reads, from the body's [figures](body/params.toml), the [ratings](ratings.toml) and \
         the code's constants;\n`cargo run -p skimgauge-hardware --bin sums` writes this file, and a test holds it to them. Standard uncertainties; limits are \
         taken as\nequally likely inside (GUM, JCGM 100, 4.3.7). The head is {KELVIN} K from the temperature at which it was zeroed.\n\n\
         | source | from | u of the gap, mm |\n| --- | --- | --- |\n"
    );
    // Writing to a string cannot fail.
    for share in shares {
        let _ = writeln!(text, "| {} | {} | {} |", share.name, share.from, figures(share.u_mm));
    }
    let _ = write!(
        text,
        "| **combined** | root sum of squares | **{}** |\n| **95 %** | k = 1.96 | **{}** |\n\n\
         The program works out its own table for every take (`host/metrology/src/measure/take.rs`) and keeps it in the record. It counts {counted} mm for the seat\n\
         unless a job or a zero says otherwise, where this table comes to {}: it states more than these parts give, until seats of a made head\n\
         have been measured. No head has been made yet: none of this was measured.\n\n\
         Not in the sum, because it depends on the board: gloss, texture and translucency move a triangulating sensor by as much as everything else together.\n\
         `zero` takes it away where it is done on the very board that is measured. Nor the board's own shape between stations.\n\n\
         How far simulated heads agree with what they state: `cargo run --release -p skimgauge-tests --bin heads`.\n",
        figures(all),
        figures(1.96 * all),
        figures(seat),
    );
    text
}
