//! A number with its unit, as a person writes it: `"94 in"`, `"0.5 mm"`, `"1 1/2 in"`, `"-0.1
//! deg"`.
//!
//! One number, then one unit, the space between them optional. Fractions are read because inch
//! tapes are read so. A number without a unit is refused: whoever reads the file later must not
//! have to guess.

use std::fmt;

/// What a quantity measures. Its numbers come out in one base unit, whatever unit was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Base unit mm.
    Length,
    /// Base unit degree. Slopes (`mm/m`, `in/ft`) are read as the angle whose tangent they are.
    Angle,
    /// Turning of a screw; base unit one whole turn.
    Turn,
    /// Base unit kg.
    Mass,
    /// Base unit N.
    Force,
    /// Base unit degree Celsius.
    Temperature,
    /// Base unit V.
    Voltage,
    /// A stretch of time; base unit s. A year is 365 days.
    Time,
}

impl Kind {
    /// Every kind, for tests and help texts.
    pub const ALL: [Self; 8] = [
        Self::Length,
        Self::Angle,
        Self::Turn,
        Self::Mass,
        Self::Force,
        Self::Temperature,
        Self::Voltage,
        Self::Time,
    ];

    /// The unit that [`parse`] returns numbers in.
    pub fn base_unit(self) -> &'static str {
        match self {
            Self::Length => "mm",
            Self::Angle => "deg",
            Self::Turn => "turns",
            Self::Mass => "kg",
            Self::Force => "N",
            Self::Temperature => "C",
            Self::Voltage => "V",
            Self::Time => "s",
        }
    }

    /// A quantity of this kind as one might write it, for messages.
    pub fn example(self) -> &'static str {
        match self {
            Self::Length => "2025 mm",
            Self::Angle => "0.1 deg",
            Self::Turn => "4 turns",
            Self::Mass => "2.4 kg",
            Self::Force => "1.5 kN",
            Self::Temperature => "20 C",
            Self::Voltage => "4.4 V",
            Self::Time => "365 days",
        }
    }

    /// The kind's name with its article, for messages.
    pub fn described(self) -> &'static str {
        match self {
            Self::Length => "a length",
            Self::Angle => "an angle",
            Self::Turn => "a number of turns",
            Self::Mass => "a weight",
            Self::Force => "a force",
            Self::Temperature => "a temperature",
            Self::Voltage => "a voltage",
            Self::Time => "a time",
        }
    }

    /// The units that may be written, each in its first spelling.
    pub fn units(self) -> Vec<&'static str> {
        units_of(self).map(|unit| unit.spellings[0]).collect()
    }
}

/// How a written number becomes one in the base unit.
enum Rule {
    Times(f64),
    Over(f64),
    Fahrenheit,
    /// Rise over run, times this.
    Slope(f64),
}

struct Unit {
    kind: Kind,
    spellings: &'static [&'static str],
    rule: Rule,
}

const fn unit(kind: Kind, spellings: &'static [&'static str], rule: Rule) -> Unit {
    Unit { kind, spellings, rule }
}

/// Inch, foot and pound are exact by the international yard and pound agreement of 1959; the
/// pound-force follows with standard gravity 9.80665 m/s2 (3rd CGPM).
static UNITS: &[Unit] = &[
    unit(Kind::Length, &["mm"], Rule::Times(1.0)),
    unit(Kind::Length, &["cm"], Rule::Times(10.0)),
    unit(Kind::Length, &["m"], Rule::Times(1000.0)),
    unit(Kind::Length, &["in", "inch", "inches", "\"", "\u{2033}"], Rule::Times(25.4)),
    unit(Kind::Length, &["ft", "foot", "feet", "'", "\u{2032}"], Rule::Times(304.8)),
    unit(Kind::Angle, &["deg", "degree", "degrees", "\u{b0}"], Rule::Times(1.0)),
    unit(Kind::Angle, &["mm/m"], Rule::Slope(1e-3)),
    unit(Kind::Angle, &["in/ft"], Rule::Slope(1.0 / 12.0)),
    unit(Kind::Turn, &["turns", "turn"], Rule::Times(1.0)),
    unit(Kind::Turn, &["deg", "degree", "degrees", "\u{b0}"], Rule::Over(360.0)),
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

fn units_of(kind: Kind) -> impl Iterator<Item = &'static Unit> {
    UNITS.iter().filter(move |unit| unit.kind == kind)
}

/// Why a text is no quantity of the kind that was wanted. Its `Display` is a clause for the person
/// who wrote the text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fault {
    /// Nothing but space.
    Empty,
    /// It does not begin with a number.
    NoNumber,
    /// It begins with something like a number, which cannot be read as one.
    BadNumber(String),
    /// A comma, which here means thousands to some and the decimal point to others.
    Comma(String),
    /// A number without a unit.
    NoUnit(String),
    /// Not a unit that is known; with the nearest one of the wanted kind, if one is near.
    UnknownUnit {
        /// As written.
        unit: String,
        /// What may have been meant.
        nearest: Option<&'static str>,
    },
    /// A second number after the first unit, as in `6 ft 2 in`.
    TwoQuantities,
    /// A unit of another kind.
    WrongKind {
        /// As written.
        unit: String,
        /// What it measures.
        measures: Kind,
    },
    /// Too large for any number.
    NotFinite,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "nothing is written here"),
            Self::NoNumber => write!(f, "there is no number in front"),
            Self::BadNumber(number) => write!(f, "`{number}` cannot be read as a number"),
            Self::Comma(number) => write!(
                f,
                "the comma in `{number}` could mean two things; write a point for decimals and nothing for thousands"
            ),
            Self::NoUnit(number) => write!(f, "`{number}` has no unit"),
            Self::UnknownUnit { unit, nearest } => {
                write!(f, "`{unit}` is not a unit known here")?;
                match nearest {
                    Some(nearest) => write!(f, "; did you mean `{nearest}`?"),
                    None => Ok(()),
                }
            }
            Self::TwoQuantities => {
                write!(f, "there are two numbers with units; write one, such as 74 in")
            }
            Self::WrongKind { unit, measures } => {
                write!(f, "`{unit}` is the unit of {}", measures.described())
            }
            Self::NotFinite => write!(f, "the number is too large"),
        }
    }
}

impl std::error::Error for Fault {}

/// Reads `text` as a quantity of `kind` and returns it in [`Kind::base_unit`]; always finite.
///
/// # Errors
/// A [`Fault`] that says what is wrong with the text. Whether the number is sensible is for the
/// caller to say.
pub fn parse(text: &str, kind: Kind) -> Result<f64, Fault> {
    let text = text.trim();
    if text.is_empty() {
        return Err(Fault::Empty);
    }
    let number_ends = text
        .find(|c: char| !(c.is_ascii_digit() || c.is_whitespace() || "+-\u{2212}./,".contains(c)))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(number_ends);
    let (number, unit) = (number.trim(), unit.trim());
    if !number.contains(|c: char| c.is_ascii_digit()) {
        return Err(Fault::NoNumber);
    }
    if number.contains(',') {
        return Err(Fault::Comma(shortened(number)));
    }
    let value = read_number(number).ok_or_else(|| Fault::BadNumber(shortened(number)))?;
    if unit.is_empty() {
        return Err(Fault::NoUnit(shortened(number)));
    }
    let rule = find_rule(unit, kind)?;
    let value = match *rule {
        Rule::Times(factor) => value * factor,
        Rule::Over(divisor) => value / divisor,
        Rule::Fahrenheit => (value - 32.0) / 1.8,
        Rule::Slope(factor) => (value * factor).atan().to_degrees(),
    };
    if value.is_finite() { Ok(value) } else { Err(Fault::NotFinite) }
}

fn find_rule(unit: &str, kind: Kind) -> Result<&'static Rule, Fault> {
    let spelled = |known: &&Unit| known.spellings.contains(&unit);
    if let Some(known) = units_of(kind).find(spelled) {
        return Ok(&known.rule);
    }
    if let Some(other) = UNITS.iter().find(spelled) {
        return Err(Fault::WrongKind { unit: unit.to_owned(), measures: other.kind });
    }
    if unit.contains(|c: char| c.is_ascii_digit()) {
        return Err(Fault::TwoQuantities);
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

/// `12`, `-1.5`, `.5`, `3/8` or `93 3/8`.
fn read_number(number: &str) -> Option<f64> {
    let number = number.replace('\u{2212}', "-");
    let mut parts = number.split_whitespace();
    let first = parts.next()?;
    let second = parts.next();
    if parts.next().is_some() {
        return None;
    }
    let Some(fraction) = second else {
        return if first.contains('/') {
            match first.strip_prefix('-') {
                Some(rest) => read_fraction(rest).map(|value| -value),
                None => read_fraction(first),
            }
        } else {
            first.parse().ok()
        };
    };
    let whole_digits = first.trim_start_matches(['-', '+']);
    if whole_digits.is_empty() || !whole_digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let whole: f64 = first.parse().ok()?;
    let fraction = read_fraction(fraction)?;
    Some(if first.starts_with('-') { whole - fraction } else { whole + fraction })
}

fn read_fraction(text: &str) -> Option<f64> {
    let (above, below) = text.split_once('/')?;
    let whole = |digits: &str| {
        digits.bytes().all(|b| b.is_ascii_digit()).then(|| digits.parse::<f64>().ok())
    };
    let (above, below) = (whole(above)??, whole(below)??);
    (below > 0.0).then_some(above / below)
}

/// Long enough to recognise, short enough for a message; what could move a terminal's cursor is
/// left out.
fn shortened(text: &str) -> String {
    const LONGEST: usize = 24;
    let mut short: String = text.chars().filter(|c| !c.is_control()).take(LONGEST).collect();
    if text.chars().nth(LONGEST).is_some() {
        short.push_str("...");
    }
    short
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mm(text: &str) -> f64 {
        parse(text, Kind::Length).unwrap()
    }

    #[test]
    fn lengths_in_every_unit() {
        assert_eq!(mm("2025 mm"), 2025.0);
        assert_eq!(mm("2025mm"), 2025.0);
        assert_eq!(mm(" 12.5 cm "), 125.0);
        assert_eq!(mm("1.2 m"), 1200.0);
        // 1 in = 25.4 mm and 1 ft = 304.8 mm, exact (international yard, 1959).
        assert_eq!(mm("1 in"), 25.4);
        assert_eq!(mm("1 ft"), 304.8);
        assert_eq!(mm("94\""), 94.0 * 25.4);
        assert_eq!(mm("-3 mm"), -3.0);
        assert_eq!(mm("\u{2212}3\u{a0}mm"), -3.0);
        assert_eq!(mm(".5 mm"), 0.5);
    }

    #[test]
    fn fractions_of_an_inch() {
        assert_eq!(mm("3/8 in"), 0.375 * 25.4);
        assert_eq!(mm("93 3/8 in"), 93.375 * 25.4);
        assert_eq!(mm("-1 1/2 in"), -1.5 * 25.4);
        assert_eq!(mm("-1/2 in"), -0.5 * 25.4);
        for bad in [
            "1/0 in",
            "1.5 1/2 in",
            "1 2 3 in",
            "1 -1/2 in",
            "1/ in",
            "/2 in",
            "1/2/3 in",
            "- 5 mm",
        ] {
            assert!(matches!(parse(bad, Kind::Length), Err(Fault::BadNumber(_))), "{bad}");
        }
    }

    #[test]
    fn angles_and_slopes() {
        assert_eq!(parse("0.5 deg", Kind::Angle).unwrap(), 0.5);
        assert_eq!(parse("0.5\u{b0}", Kind::Angle).unwrap(), 0.5);
        // 0.01 deg = 0.174533 mm/m (tangent, computed).
        let slope = parse("0.174533 mm/m", Kind::Angle).unwrap();
        assert!((slope - 0.01).abs() < 1e-7, "{slope}");
        // 12 in/ft is one in one, 45 degrees.
        assert!((parse("12 in/ft", Kind::Angle).unwrap() - 45.0).abs() < 1e-12);
    }

    #[test]
    fn other_kinds() {
        assert_eq!(parse("90 deg", Kind::Turn).unwrap(), 0.25);
        assert_eq!(parse("1 day", Kind::Time).unwrap(), 86_400.0);
        assert!((parse("68 F", Kind::Temperature).unwrap() - 20.0).abs() < 1e-12);
        assert_eq!(parse("1500 mV", Kind::Voltage).unwrap(), 1.5);
        // NIST SP 811: 1 lbf = 4.448222 N (from memory, to the digits given).
        assert!((parse("1 lbf", Kind::Force).unwrap() - 4.448_222).abs() < 5e-7);
        assert_eq!(parse("1 lb", Kind::Mass).unwrap(), 0.453_592_37);
    }

    #[test]
    fn each_fault_is_told_apart() {
        let fault = |text| parse(text, Kind::Length).unwrap_err();
        assert_eq!(fault("  "), Fault::Empty);
        assert_eq!(fault("mm"), Fault::NoNumber);
        assert_eq!(fault("wide"), Fault::NoNumber);
        assert_eq!(fault("94"), Fault::NoUnit("94".into()));
        assert_eq!(fault("1.2.3 mm"), Fault::BadNumber("1.2.3".into()));
        assert_eq!(fault("1,5 mm"), Fault::Comma("1,5".into()));
        assert_eq!(fault("6 ft 2 in"), Fault::TwoQuantities);
        assert_eq!(fault("3 deg"), Fault::WrongKind { unit: "deg".into(), measures: Kind::Angle });
        let unknown = |unit: &str, nearest| Fault::UnknownUnit { unit: unit.into(), nearest };
        assert_eq!(fault("3 MM"), unknown("MM", Some("mm")));
        assert_eq!(fault("3 inchs"), unknown("inchs", Some("inch")));
        assert_eq!(fault("3 furlongs"), unknown("furlongs", None));
        assert_eq!(fault(&format!("{} mm", "9".repeat(400))), Fault::NotFinite);
    }

    #[test]
    fn every_kind_reads_its_own_example() {
        for kind in Kind::ALL {
            assert!(parse(kind.example(), kind).is_ok(), "{kind:?}");
            assert_eq!(parse(&format!("1 {}", kind.base_unit()), kind), Ok(1.0), "{kind:?}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "\\PC*") {
            for kind in Kind::ALL {
                if let Ok(value) = parse(&text, kind) {
                    prop_assert!(value.is_finite());
                }
            }
        }

        #[test]
        fn near_misses_are_read_or_refused(text in "[-+0-9 ./,\u{2212}]{0,9}(mm|in|ft|\"|deg|turns|[a-z]{0,3}) ?[0-9a-z]{0,2}") {
            for kind in Kind::ALL {
                if let Ok(value) = parse(&text, kind) {
                    prop_assert!(value.is_finite());
                }
            }
        }

        #[test]
        fn what_is_written_comes_back(value in -1e6..1e6_f64) {
            prop_assert_eq!(mm(&format!("{value} mm")), value);
        }
    }
}
