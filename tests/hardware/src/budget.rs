//! What a gap read by this head is worth: from the body's figures, the ratings and the code's own
//! constants.

use crate::figures::{Body, Ratings};
use crate::interval::figures;
use skimgauge_metrology::measure::{Limits, MATERIAL_MM};
use std::fmt::Write;

/// Grit under a foot or unevenness of the board there, mm: what the figures' lean rests on.
const GRIT_MM: f64 = 0.08;
/// The head against the temperature at which it was zeroed, K.
const KELVIN: f64 = 2.0;
/// Readings averaged in a take, s: what the study of simulated heads has most often.
const SECONDS: f64 = 0.3;
/// Scatter of one scan's middle in the worst of three rooms, mm (numerical trial: 4, 21 and 34 um;
/// the simulation: 5, 29 and 45 um).
const SCAN_MM: f64 = 0.045;
/// Scatter of one conversion of the stand-off, mm (as simulated).
const STANDOFF_MM: f64 = 0.010;
/// Converter's drift, resistors' against each other, per kelvin (data sheets, from memory).
const CONVERTER_PER_K: f64 = 40e-6;
const DIVIDER_PER_K: f64 = 50e-6;
/// Seats that `zero` takes.
const ZERO_SEATS: f64 = 3.0;
/// What the board's texture moves the laser by from one spot to the next, at most, mm: a guess,
/// until boards have been measured.
const TEXTURE_MM: f64 = 0.01;
/// A bump of the board, mm: its height, and one standard deviation of its profile.
const BUMP_MM: (f64, f64) = (0.15, 80.0);
/// Pixels after they were compared, a share, and the room's light over the sheet's peak (2 V over
/// 0.5 V).
const UNEQUAL: f64 = 0.002;
const ROOM_TO_SHEET: f64 = 4.0;

/// A row.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// Source.
    pub name: &'static str,
    /// What it is reckoned from.
    pub from: String,
    /// Standard uncertainty of the gap, mm.
    pub u_mm: f64,
    /// Comes anew with each seat, and does not show in the scatter of the readings.
    pub of_the_seat: bool,
}

/// Sources of the code whose constants the table takes.
#[derive(Debug, Clone)]
pub struct Code {
    /// `host/metrology/src/measure/take.rs`.
    pub take: String,
    /// `host/metrology/src/zero/gauged.rs`.
    pub zero: String,
    /// `firmware/core/src/sampling.rs`.
    pub sampling: String,
    /// `firmware/profile/src/doubt.rs`.
    pub doubt: String,
}

impl Code {
    /// As they stand.
    pub fn read() -> Self {
        let read = crate::source;
        Self {
            take: read("host/metrology/src/measure/take.rs"),
            zero: read("host/metrology/src/zero/gauged.rs"),
            sampling: read("firmware/core/src/sampling.rs"),
            doubt: read("firmware/profile/src/doubt.rs"),
        }
    }
}

/// A limit either way, of which nothing more is known: GUM (JCGM 100), 4.3.7.
fn limit(half: f64) -> f64 {
    half / 3_f64.sqrt()
}

/// The figure of `const NAME: TYPE = FIGURE;` in a source; of a call, the figure that it is given.
///
/// # Errors
/// There is none.
pub fn constant(source: &str, name: &str) -> Result<f64, String> {
    let rest = source.split_once(&format!("const {name}: ")).map(|(_, rest)| rest);
    let value = rest.and_then(|rest| rest.split_once(" = ")).map(|(_, value)| value);
    let value = value.and_then(|value| value.split(';').next()).map(|value| {
        value.rsplit_once('(').map_or(value, |(_, given)| given.trim_end_matches(')'))
    });
    let figure = value.and_then(|text| text.replace('_', "").parse().ok());
    figure.ok_or_else(|| format!("the code has no {name}"))
}

/// From the eye's round to the middle of the nearer wall, at most, mm: 3 mm of air
/// (`hardware/assembly/7-gauge.md`) and half of a bar.
const BEFORE_EYE_MM: f64 = 3.0 + 8.0 / 2.0;

/// Constants of the zero that are figures of gauge and body: by name, and what they are there.
const OF_THE_BODY: [(&str, &str); 3] =
    [("APART_MM", "gauge_apart"), ("SLIT_MM", "gauge_slit"), ("SWIVEL_MM", "swivel_play")];

/// Where the zero's sums take another gauge or body than the drawings have.
///
/// # Errors
/// The code has no such constant.
pub fn gauge_against_body(body: &Body, code: &Code) -> Result<Vec<String>, String> {
    let mut said = Vec::new();
    for (name, figure) in OF_THE_BODY {
        let (in_code, drawn) = (constant(&code.zero, name)?, body.get(figure));
        if in_code != drawn {
            said.push(format!("{name} is {in_code} in the code, {figure} {drawn} in the drawings"));
        }
    }
    let (behind, most) =
        (constant(&code.zero, "BEHIND_MM")?, body.get("eye_radius") + BEFORE_EYE_MM);
    if behind < most {
        said.push(format!("BEHIND_MM is {behind} in the code, up to {most} as the guide has it"));
    }
    Ok(said)
}

fn row(name: &'static str, from: String, u_mm: f64) -> Share {
    Share { name, from, u_mm, of_the_seat: false }
}

/// How the body stands and turns, and on what, anew with each seat.
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
            "turn of the seat about the upright",
            format!("the same over {across} mm, times the sine of {degrees} degrees"),
            limit(level),
        ),
        row("play of the swivel", format!("limit {play} mm"), limit(play)),
        row(
            "material: texture under the spot",
            format!("limit {TEXTURE_MM} mm from spot to spot, a guess"),
            limit(TEXTURE_MM),
        ),
        bend(body),
    ];
    rows.into_iter().map(|share| Share { of_the_seat: true, ..share }).collect()
}

/// A bump `h exp(-x^2 / 2 r^2)` curves by `h / r^2` at its top. The eye stands `foot` above the
/// upper foot and the feet `up` apart: their line misses the face at the eye, and the spot's too.
fn bend(body: &Body) -> Share {
    let (spot, up, foot) = (body.get("spot_to_eye"), body.get("stance_up"), body.get("upper_foot"));
    let (height, radius) = BUMP_MM;
    let curve = height / (radius * radius);
    row(
        "bend of the board under the body",
        format!("limit: on top of a bump {height} mm high, {radius} mm (one sigma) wide"),
        limit(curve * (spot * (foot + up / 2.0) - spot * spot / 2.0)),
    )
}

/// What the zero leaves, and what has changed since.
fn zero(body: &Body, code: &Code) -> Result<Vec<Share>, String> {
    let of = |name: &str| constant(&code.zero, name);
    let (apart, behind) = (of("APART_MM")?, of("BEHIND_MM")?);
    let (line, lamp, under) = (of("OUT_OF_LINE_MM")?, of("LAMP_MM")?, of("UNDER_GAUGE_MM")?);
    let height = body.figures["gauge_low"].tolerance;
    let worn = body.get("feet_flat");
    let seats: Vec<Share> = seat(body).into_iter().filter(|share| share.name != BEND).collect();
    Ok(vec![
        row("zero: slits' heights", format!("known to {height} mm"), limit(height)),
        row(
            "zero: slits out of line",
            format!("limit {line} mm over {apart} mm, seen {behind} mm off"),
            limit(line * behind / apart),
        ),
        row("zero: lamp over a slit", format!("limit {lamp} mm"), limit(lamp)),
        row("zero: dirt under the gauge", format!("limit {under} mm"), limit(under)),
        row(
            "zero: its own seats",
            format!("{ZERO_SEATS} seats: lean, turn, swivel, texture"),
            combined(&seats) / ZERO_SEATS.sqrt(),
        ),
        Share { name: "zero: bend of the board there", ..bend(body) },
        row(
            "material: the board's own",
            "zeroed on the very board that is measured: nothing".to_owned(),
            0.0,
        ),
        row(
            "wear of the feet",
            format!("one foot {worn} mm shorter before it is zeroed again: lean as above"),
            limit(worn / body.get("stance_up") * body.get("spot_to_eye")),
        ),
    ])
}

const BEND: &str = "bend of the board under the body";

/// Light and noise.
fn light(body: &Body, code: &Code) -> Result<Vec<Share>, String> {
    let pull = constant(&code.doubt, "MOST")? * 1e-3;
    let side = constant(&code.sampling, "SIDE")?;
    let (scans, pitch) = (body.get("scans"), body.get("pixel_pitch") * 1e-3);
    // A sheet 1.5 mm thick: four standard deviations, read in a window of four either way.
    let sigma = 1.5 / 4.0 / pitch;
    let half = (4.0 * sigma).round() as u32;
    let moment = (1..=half).map(|k| 2.0 * f64::from(k * k)).sum::<f64>().sqrt();
    let unequal = UNEQUAL * ROOM_TO_SHEET * moment / (std::f64::consts::TAU.sqrt() * sigma) * pitch;
    let conversions = 2.0 * side;
    let anew = |share: Share| Share { of_the_seat: true, ..share };
    Ok(vec![
        anew(row(
            "pull of the room's light",
            format!("limit {pull} mm: beyond it the gap is doubtful"),
            limit(pull),
        )),
        anew(row(
            "pixels' inequality",
            format!("{UNEQUAL} left, under {ROOM_TO_SHEET} times the sheet's light"),
            unequal,
        )),
        row(
            "eye's scatter",
            format!("{SCAN_MM} mm a scan in the worst room, {scans} scans a second, {SECONDS} s"),
            SCAN_MM / (scans * SECONDS).sqrt(),
        ),
        row(
            "stand-off's scatter",
            format!("{STANDOFF_MM} mm a conversion, {conversions} a reading, {SECONDS} s"),
            STANDOFF_MM / (conversions * scans * SECONDS).sqrt(),
        ),
    ])
}

/// Temperature.
fn temperature(body: &Body, ratings: &Ratings, code: &Code) -> Result<Vec<Share>, String> {
    let kelvin = constant(&code.take, "TEMPERATURE_UNKNOWN_U_MM_PER_K")?;
    let range = ratings.get("sensor_range")?;
    // 30 mm for the range of the longer common sensor, from 20 mm on: what it gives at the body's
    // stand-off.
    let mm_per_volt = 30.0 / (range.high - range.low);
    let height = body.get("laser_standoff");
    let volts = range.low + (height - 20.0) / mm_per_volt;
    let drift = volts * (CONVERTER_PER_K + DIVIDER_PER_K / 2.0) * mm_per_volt * KELVIN;
    let (converter, divider) = (CONVERTER_PER_K * 1e6, DIVIDER_PER_K * 1e6);
    Ok(vec![
        row(
            "temperature of sensor and body",
            format!("{kelvin} mm/K (the code's, coefficient not found), {KELVIN} K"),
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

/// Every share.
///
/// # Errors
/// A figure that is not there.
pub fn shares(body: &Body, ratings: &Ratings, code: &Code) -> Result<Vec<Share>, String> {
    let mut shares = seat(body);
    shares.extend(zero(body, code)?);
    shares.extend(light(body, code)?);
    shares.extend(temperature(body, ratings, code)?);
    Ok(shares)
}

/// Root sum of squares.
pub fn combined<'a>(shares: impl IntoIterator<Item = &'a Share>) -> f64 {
    shares.into_iter().map(|share| share.u_mm * share.u_mm).sum::<f64>().sqrt()
}

/// What comes anew with each seat and no reading shows, mm: what the program counts for it.
pub fn of_the_seat(shares: &[Share]) -> f64 {
    combined(shares.iter().filter(|share| share.of_the_seat))
}

/// Of a head that was zeroed on another material, mm.
pub fn elsewhere(shares: &[Share]) -> f64 {
    combined(shares).hypot(limit(MATERIAL_MM))
}

/// `hardware/error-budget.md`.
pub fn document(shares: &[Share]) -> String {
    let all = combined(shares);
    let seat = of_the_seat(shares);
    let counted = Limits::default().seat_u_mm;
    let other = elsewhere(shares);
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
         The program works out its own table for every take (`host/metrology/src/measure/take.rs`) and keeps it in the record. For what comes anew with each\n\
         seat and shows in no reading (lean, turn, swivel, texture, bend, what the light pulls) it counts {counted} mm unless a job says otherwise, where this\n\
         table comes to {}. No head has been made yet: none of this was measured.\n\n\
         **Zeroed on another material**, or on a plate: gloss and translucency move a triangulating sensor by up to {MATERIAL_MM} mm (from memory), as much as everything\n\
         else together: u = {}, {} at 95 %. `zero` on the very board that is measured takes it away; where a job's record knows of none, the program counts it. Not in the table: the board's own\n\
         shape between stations.\n\n\
         How far simulated heads agree with what they state: `cargo run --release -p skimgauge-tests --bin heads -- --only takes`.\n\
         Of 10 000 of them on 27 November 2026 (`--heads 10000 --from 100000`): 0.043 mm stated at 95 % in the median, 99.3 % of errors within it, 0.58 s in the median from\n\
         the hand off to a take. With the emitter off, in smooth, stepped and flickering light: no gap and no take in 10 000 rooms of each (`--only off`); with it on no gap\n\
         shown as good was wrong by more than 0.0185 mm (`--only on`). A neighbour's emitter is a sheet like any other: for that the emitter is switched off once a job.\n",
        figures(all),
        figures(1.96 * all),
        figures(seat),
        figures(other),
        figures(1.96 * other),
    );
    text
}
