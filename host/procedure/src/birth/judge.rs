//! What may be said of what was gathered. Pure: no clock, no state.

use super::certificate::Check;
use super::evidence::{Evidence, Line};
use super::limits::{
    ALIVE_CODES, DARK, EYE_DIVIDER, LIGHT, PIXELS, RESTARTS, STAND_OFF, STAND_OFF_MOVES,
    STAND_OFF_NOISE, SUPPLY, SUPPLY_RUNS_V, TILT_FALLS, TILT_NOISE,
};
use super::wiring as w;
use super::wiring::Wire;
use skimgauge_quantity::{Deg, Mm, Name, Sentence, plain, say};
use skimgauge_session::HeadIs;
use skimgauge_shared::message::CalibrationCheck;
use skimgauge_shared::reading::Absence;

/// A pixel in the dark that stands so far over the others is stuck, codes.
const STUCK_CODES: f64 = 200.0;
/// One end of the line has less than this of the other's light where an edge is seen.
const EDGE: f64 = 0.6;
/// Level or lean has moved.
const MOVED: Deg = Deg(3.0);

/// Codes of the board's converter as volts at the eye's plug.
pub(super) fn volts(codes: f64) -> f64 {
    codes * 3.3 / 4_096.0 / EYE_DIVIDER
}

/// Which parts answer.
pub(super) fn parts(head: &HeadIs, evidence: &Evidence) -> Vec<Check> {
    let bus = evidence.stand_off.absence();
    let memory = match (head.hello.serial, bus) {
        (Some(serial), _) => Check::good("memory", say!("answers: head {}", serial.to_string())),
        (None, Some(Absence::BusStuck)) => Check::fault("memory", w::BUS_STUCK),
        (None, Some(Absence::NoAnswer)) => Check::fault("memory", w::BUS_SILENT),
        (None, _) => Check::fault("memory", w::MEMORY_SILENT),
    };
    let converter = match bus {
        Some(Absence::BusStuck) => Check::fault("converter", w::BUS_STUCK),
        Some(Absence::NoAnswer) if head.hello.serial.is_none() => {
            Check::fault("converter", w::BUS_SILENT)
        }
        Some(Absence::Frozen) => Check::fault("converter", w::CONVERTER_FROZEN),
        // It answers; what the sensor behind it says comes later.
        Some(Absence::NoSpot | Absence::OutOfRange) => Check::good("converter", say!("answers")),
        Some(_) => Check::fault("converter", w::CONVERTER_SILENT),
        None if evidence.stand_off.is_known() => Check::good("converter", say!("answers")),
        None => Check::not_seen("converter", say!("no reading came")),
    };
    vec![memory, converter, inclinometer(evidence), eye(evidence), supply(evidence)]
}

fn inclinometer(evidence: &Evidence) -> Check {
    let wire = match evidence.level.absence() {
        // It may lie on a table: it answers.
        None | Some(Absence::OutOfRange) if evidence.level.is_known() => {
            return Check::good("inclinometer", say!("answers"));
        }
        None | Some(Absence::OutOfRange) => {
            return Check::not_seen("inclinometer", say!("no reading came"));
        }
        Some(Absence::FrameError) => w::TILT_FRAMES,
        Some(Absence::Frozen) => w::TILT_FROZEN,
        Some(Absence::SelfTestFailed) => {
            let check = Check::fault("inclinometer", w::TILT_SELF_TEST);
            return match evidence.tilt_trouble {
                Some(trouble) => {
                    Check { says: say!("{} It names: {}.", check.says, trouble), ..check }
                }
                None => check,
            };
        }
        Some(_) => w::TILT_SILENT,
    };
    Check::fault("inclinometer", wire)
}

fn eye(evidence: &Evidence) -> Check {
    if evidence.eye_absence.is_some() {
        return Check::fault("eye", w::EYE_SILENT);
    }
    let Some(line) = evidence.line() else {
        return Check::fault("eye", w::EYE_SILENT);
    };
    // In strong light all pixels may stand at their stop, and be as flat.
    if line.spread() < ALIVE_CODES && volts(line.mean()) < 2.0 * DARK.high.unwrap_or_default() {
        Check::fault("eye", w::EYE_FLAT)
    } else if evidence.same_scans() || 2 * evidence.frozen > evidence.readings {
        Check::fault("eye", w::EYE_FROZEN)
    } else {
        Check::good("eye", say!("scans come, their pixels differ"))
    }
}

fn supply(evidence: &Evidence) -> Check {
    match evidence.supply.mean() {
        None => Check::not_seen("supply", say!("the converter reads it, and does not answer")),
        Some(v) => Check::held("supply", v, SUPPLY, of_supply(v)),
    }
}

fn of_supply(v: f64) -> &'static Wire {
    match v {
        v if v < SUPPLY_RUNS_V => w::SUPPLY_DIVIDER,
        v if SUPPLY.high.is_some_and(|high| v > high) => w::SUPPLY_HIGH,
        _ => w::SUPPLY_LOW,
    }
}

/// At rest, as it hangs: the tilt, and what is found.
pub(super) fn rest(evidence: &Evidence) -> (Option<[f64; 2]>, Check) {
    const NAME: &str = "tilt at rest";
    let tilt = evidence.level.mean().zip(evidence.lean.mean());
    match (evidence.level.absence(), tilt) {
        (Some(Absence::OutOfRange), _) => (None, Check::fault(NAME, w::TILT_LYING)),
        (Some(_), _) | (None, None) => (None, inclinometer_again(NAME, evidence)),
        (None, Some((level, lean))) => {
            let noise = [&evidence.level, &evidence.lean].map(|axis| axis.scatter());
            let worst = noise.into_iter().flatten().fold(0.0, f64::max);
            let check = Check::held(NAME, worst, TILT_NOISE, w::TILT_SILENT);
            let stands = say!(
                "stands at level {}, lean {}; scatter",
                Deg(level).fine().signed(),
                Deg(lean).fine().signed()
            );
            (Some([level, lean]), Check { says: say!("{stands} {}", check.says), ..check })
        }
    }
}

fn inclinometer_again(name: &'static str, evidence: &Evidence) -> Check {
    Check { check: name, ..inclinometer(evidence) }
}

/// Which way a tilt counts: how level and lean moved from rest; `axis` 0 for the left side lifted,
/// 1 for the top leaned back.
///
/// # Errors
/// Neither moved enough to say, or both did; what to do.
pub(super) fn sign(axis: usize, moved: [f64; 2]) -> Result<Check, Sentence> {
    let name = ["level's sign", "lean's sign"][axis];
    let (along, across) = (moved[axis], moved[1 - axis]);
    let (reversed, called) = [(w::TILT_X, "level"), (w::TILT_Y, "lean")][axis];
    let says = say!("{called} moved by {}", Deg(along).figure().signed());
    if along.abs() < MOVED.0 && across.abs() < MOVED.0 {
        return Err(say!(
            "Neither level nor lean moved by {}. Tilt it further, and hold it.",
            MOVED.figure()
        ));
    }
    let check = if along.abs() >= 2.0 * across.abs() {
        if along < 0.0 { Check::good(name, says) } else { Check::fault(name, reversed) }
    } else if across.abs() >= 2.0 * along.abs() {
        Check::fault(name, w::TILT_SWAPPED)
    } else {
        return Err(say!(
            "Level and lean moved both. Put it down and do only this: {}.",
            ["lift its left side", "lean its top back"][axis]
        ));
    };
    Ok(check.with_value(along, TILT_FALLS))
}

/// On paper: where it stands, and what is found.
pub(super) fn paper(evidence: &Evidence) -> (Option<f64>, Vec<Check>) {
    let noise = |why| Check::not_seen("stand-off's noise", why);
    let none =
        |wire| (None, vec![Check::fault("stand-off", wire), noise(say!("there is no stand-off"))]);
    match (evidence.stand_off.absence(), evidence.stand_off.mean()) {
        (Some(Absence::NoSpot), _) => none(w::SPOT_LOST),
        (Some(Absence::OutOfRange), _) => none(w::STAND_OFF_RANGE),
        (Some(Absence::BusStuck), _) => none(w::BUS_STUCK),
        (Some(Absence::Frozen), _) => none(w::CONVERTER_FROZEN),
        (Some(_), _) | (None, None) => none(w::CONVERTER_SILENT),
        (None, Some(mm)) => {
            let value = Check::held("stand-off", mm, STAND_OFF, w::STAND_OFF_VALUE);
            let scatter = evidence.stand_off.scatter().unwrap_or(f64::NAN);
            let noise =
                Check::held("stand-off's noise", scatter, STAND_OFF_NOISE, w::STAND_OFF_NOISE);
            (Some(mm), vec![value, noise])
        }
    }
}

/// Lifted from where it stood on paper.
pub(super) fn lift(paper_mm: f64, evidence: &Evidence, zeroed: bool) -> Check {
    const NAME: &str = "stand-off moves";
    let Some(mm) = evidence.stand_off.mean().filter(|_| evidence.stand_off.absence().is_none())
    else {
        return Check { check: NAME, ..paper(evidence).1.remove(0) };
    };
    let by = mm - paper_mm;
    let falls = STAND_OFF_MOVES.low.is_some_and(|least| by <= -least);
    match falls {
        // Before the zero the slope is nobody's: it finds the sign.
        true if !zeroed => {
            let says = say!(
                "falls by {}: the sensor's output falls with the distance, and the zero finds that",
                Mm(-by).fine()
            );
            Check::good(NAME, says).with_value(by, STAND_OFF_MOVES)
        }
        true => Check::held(NAME, by, STAND_OFF_MOVES, w::STAND_OFF_FALLS),
        false => Check::held(NAME, by, STAND_OFF_MOVES, w::STAND_OFF_HELD),
    }
}

/// The eye covered.
pub(super) fn dark(line: Option<&Line>) -> Check {
    const NAME: &str = "dark";
    let Some(line) = line else { return Check::fault(NAME, w::EYE_SILENT) };
    let v = volts(line.mean());
    if line.spread() < ALIVE_CODES && DARK.high.is_some_and(|high| v < high) {
        return Check::fault(NAME, w::EYE_FLAT).with_value(v, DARK);
    }
    let stuck = line.above(STUCK_CODES);
    if !stuck.is_empty() && stuck.len() < 20 {
        let check = Check::fault(NAME, w::EYE_PIXELS).with_value(v, DARK);
        return Check { says: say!("{} {}", check.says, numbers(&stuck)), ..check };
    }
    let high = DARK.high.is_some_and(|high| v > high);
    Check::held(NAME, v, DARK, if high { w::EYE_AT_STOP } else { w::EYE_LOW })
}

/// Before a lamp, over the dark (codes).
pub(super) fn light(line: Option<&Line>, dark: f64) -> Vec<Check> {
    let Some(line) = line else {
        return vec![
            Check::fault("light", w::EYE_SILENT),
            Check::not_seen("pixels", say!("no scan came")),
        ];
    };
    let over = volts(line.mean() - dark);
    let flat = line.spread() < ALIVE_CODES;
    let light = Check::held("light", over, LIGHT, if flat { w::EYE_FLAT } else { w::EYE_BLIND });
    if !LIGHT.holds(over) {
        return vec![light, Check::not_seen("pixels", say!("no light is seen"))];
    }
    let dead = line.dark_ones(dark);
    let pixels = Check::held("pixels", dead.len() as f64, PIXELS, w::EYE_PIXELS);
    let pixels = match dead.is_empty() {
        true => pixels,
        false => Check { says: say!("{} {}", pixels.says, numbers(&dead)), ..pixels },
    };
    vec![light, pixels]
}

fn numbers(pixels: &[usize]) -> Sentence {
    const SHOWN: usize = 8;
    let some: Vec<String> =
        pixels.iter().take(SHOWN).map(|pixel| (pixel + 1).to_string()).collect();
    let more = if pixels.len() > SHOWN { ", and more" } else { "" };
    say!("Counted from the board: {}{}.", Name(&some.join(", ")), more)
}

/// A card's edge before the lower half, over the dark (codes).
///
/// # Errors
/// No edge is seen; what to do.
pub(super) fn card(line: Option<&Line>, dark: f64) -> Result<Check, Sentence> {
    const NAME: &str = "which end is up";
    let Some(line) = line else { return Ok(Check::fault(NAME, w::EYE_SILENT)) };
    let [low, high] = line.ends_over(dark);
    let (less, more) = if low < high { (low, high) } else { (high, low) };
    if !(volts(more) > LIGHT.low.unwrap_or_default() / 2.0 && less < EDGE * more) {
        return Err(say!(
            "No edge is seen: both ends of the line have the same light. Move the card on, until half of the slit is covered."
        ));
    }
    let share = |end: f64| plain(100.0 * (end / more).clamp(0.0, 1.0), 0);
    let says =
        say!("the end at the board has {} %, the other {} % of the light", share(low), share(high));
    Ok(if low < high { Check::good(NAME, says) } else { Check::fault(NAME, w::EYE_UPSIDE_DOWN) })
}

/// The constants.
pub(super) fn zero(head: &HeadIs) -> Check {
    const NAME: &str = "zero";
    match head.calibration.check {
        CalibrationCheck::Good => {
            let constants = &head.calibration.calibration;
            let mm = |um: i32| Mm(f64::from(um) * 1e-3);
            let says = say!(
                "zeroed on {} by {}: {}",
                constants.date.to_string(),
                Name(&constants.by),
                mm(constants.zero.0).fine().give_or_take(mm(constants.zero_u.0).uncertainty())
            );
            Check::good(NAME, says)
        }
        CalibrationCheck::Missing => Check::not_seen(
            NAME,
            say!("never zeroed: zero it on the gauge (skimgauge zero), then walk this again"),
        ),
        CalibrationCheck::Damaged => Check::fault(NAME, w::CONSTANTS_DAMAGED),
        CalibrationCheck::OtherHead => Check::fault(NAME, w::CONSTANTS_OTHER),
        CalibrationCheck::Unreadable => {
            Check::not_seen(NAME, say!("the memory that holds it does not answer"))
        }
    }
}

/// Whether it stayed up.
pub(super) fn stayed(times: u32) -> Check {
    Check::held("stays up", f64::from(times), RESTARTS, w::RESTARTS)
}
