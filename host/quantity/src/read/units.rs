//! The units that may be written, with every spelling.

use super::Kind;
use super::fault::{Fault, shortened};
use crate::unit::MM_PER_INCH;

/// How a written number becomes one in the base unit.
#[derive(Debug, Clone, Copy)]
pub(super) enum Rule {
    Times(f64),
    Over(f64),
    Fahrenheit,
    /// Rise over run, times this, to degrees.
    AngleOfSlope(f64),
    /// Degrees to mm per m.
    SlopeOfAngle,
}

impl Rule {
    pub(super) const INCH: Self = Self::Times(MM_PER_INCH);

    pub(super) fn apply(self, value: f64) -> f64 {
        match self {
            Self::Times(factor) => value * factor,
            Self::Over(divisor) => value / divisor,
            Self::Fahrenheit => (value - 32.0) / 1.8,
            Self::AngleOfSlope(factor) => (value * factor).atan().to_degrees(),
            Self::SlopeOfAngle => 1000.0 * value.to_radians().tan(),
        }
    }
}

pub(super) struct Unit {
    pub(super) kind: Kind,
    pub(super) spellings: &'static [&'static str],
    pub(super) rule: Rule,
}

const fn unit(kind: Kind, spellings: &'static [&'static str], rule: Rule) -> Unit {
    Unit { kind, spellings, rule }
}

const INCH: &[&str] = &["in", "inch", "inches", "\""];
const FOOT: &[&str] = &["ft", "foot", "feet", "'"];
const DEGREE: &[&str] = &["deg", "degree", "degrees", "\u{b0}"];

/// Inch, foot and pound are exact by the international yard and pound agreement of 1959; the
/// pound-force follows with standard gravity 9.80665 m/s2 (3rd CGPM).
static UNITS: &[Unit] = &[
    unit(Kind::Length, &["mm"], Rule::Times(1.0)),
    unit(Kind::Length, &["cm"], Rule::Times(10.0)),
    unit(Kind::Length, &["m"], Rule::Times(1000.0)),
    unit(Kind::Length, INCH, Rule::INCH),
    unit(Kind::Length, FOOT, Rule::Times(304.8)),
    unit(Kind::Angle, DEGREE, Rule::Times(1.0)),
    unit(Kind::Angle, &["mm/m"], Rule::AngleOfSlope(1e-3)),
    unit(Kind::Angle, &["in/ft"], Rule::AngleOfSlope(1.0 / 12.0)),
    unit(Kind::Slope, &["mm/m"], Rule::Times(1.0)),
    unit(Kind::Slope, &["in/ft"], Rule::Times(1000.0 / 12.0)),
    unit(Kind::Slope, DEGREE, Rule::SlopeOfAngle),
    unit(Kind::Turn, &["turns", "turn"], Rule::Times(1.0)),
    unit(Kind::Turn, DEGREE, Rule::Over(360.0)),
    unit(Kind::Mass, &["kg"], Rule::Times(1.0)),
    unit(Kind::Mass, &["g"], Rule::Over(1000.0)),
    unit(Kind::Mass, &["lb", "lbs"], Rule::Times(0.453_592_37)),
    unit(Kind::Force, &["N"], Rule::Times(1.0)),
    unit(Kind::Force, &["kN"], Rule::Times(1000.0)),
    unit(Kind::Force, &["lbf"], Rule::Times(0.453_592_37 * 9.806_65)),
    unit(Kind::Temperature, &["C", "\u{b0}C", "degC", "\u{2103}"], Rule::Times(1.0)),
    unit(Kind::Temperature, &["F", "\u{b0}F", "degF", "\u{2109}"], Rule::Fahrenheit),
    unit(Kind::Voltage, &["V"], Rule::Times(1.0)),
    unit(Kind::Voltage, &["mV"], Rule::Over(1000.0)),
    unit(Kind::Time, &["s", "second", "seconds"], Rule::Times(1.0)),
    unit(Kind::Time, &["min", "minute", "minutes"], Rule::Times(60.0)),
    unit(Kind::Time, &["h", "hour", "hours"], Rule::Times(3600.0)),
    unit(Kind::Time, &["days", "day", "d"], Rule::Times(86_400.0)),
    unit(Kind::Time, &["weeks", "week"], Rule::Times(7.0 * 86_400.0)),
    unit(Kind::Time, &["years", "year"], Rule::Times(365.0 * 86_400.0)),
];

pub(super) fn units_of(kind: Kind) -> impl Iterator<Item = &'static Unit> {
    UNITS.iter().filter(move |unit| unit.kind == kind)
}

pub(super) fn is_feet(unit: &str) -> bool {
    FOOT.contains(&abbreviated(unit))
}

pub(super) fn is_inches(unit: &str) -> bool {
    INCH.contains(&abbreviated(unit))
}

/// Without the point of an abbreviation: `in.`.
fn abbreviated(unit: &str) -> &str {
    unit.strip_suffix('.').unwrap_or(unit)
}

pub(super) fn find_rule(unit: &str, kind: Kind) -> Result<Rule, Fault> {
    let short = abbreviated(unit);
    let spelled = |known: &&Unit| known.spellings.contains(&short);
    if let Some(known) = units_of(kind).find(spelled) {
        return Ok(known.rule);
    }
    if let Some(other) = UNITS.iter().find(spelled) {
        return Err(Fault::WrongKind { unit: short.to_owned(), measures: other.kind });
    }
    let unit = shortened(unit);
    // Another case of a known spelling first (`MM`, `KG`), then a slip of one letter.
    let spellings = || units_of(kind).flat_map(|known| known.spellings);
    let nearest = spellings()
        .find(|known| known.eq_ignore_ascii_case(&unit))
        .or_else(|| {
            spellings().find(|known| known.len() > 1 && strsim::osa_distance(known, &unit) == 1)
        })
        .copied();
    Err(Fault::UnknownUnit { unit, nearest })
}
