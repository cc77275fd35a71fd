//! Lengths, angles and turns as a person reads them.
//!
//! Everything is kept in mm and degrees; only what is shown is converted. Millimetres unless asked
//! for inches. In inches, a length is a fraction down to 1/64, as tapes are divided; a gap is a
//! decimal to 0.001 in, as feeler stock is marked.

mod sentence;

use std::fmt;
use std::str::FromStr;

use skimgauge_quantity::MM_PER_INCH;
use skimgauge_quantity::{Band, Mm};

/// What stands where a number should be and is none.
pub const NONE: &str = "\u{2013}";

/// Shorter than this, a fraction to 1/64 says too little: decimals then, inch.
const SHORTEST_FRACTION_INCH: f64 = 0.125;

/// In which units lengths are shown. Angles are degrees and temperatures degrees Celsius in either.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches.
    Inch,
}

impl fmt::Display for Units {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Mm => "mm",
            Self::Inch => "inch",
        })
    }
}

impl FromStr for Units {
    type Err = String;

    /// Reads `mm` or `inch`.
    fn from_str(text: &str) -> Result<Self, String> {
        match text {
            "mm" => Ok(Self::Mm),
            "inch" | "in" => Ok(Self::Inch),
            _ => Err(format!("\"{text}\" is no unit for lengths here: write mm or inch")),
        }
    }
}

impl Units {
    /// The unit's sign: `mm` or `in`.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Inch => "in",
        }
    }

    /// A length in the shown unit, as a number.
    pub fn of_mm(self, mm: f64) -> f64 {
        match self {
            Self::Mm => mm,
            Self::Inch => mm / MM_PER_INCH,
        }
    }

    /// Decimals of a gap: to 0.01 mm or 0.001 in.
    fn gap_decimals(self) -> usize {
        match self {
            Self::Mm => 2,
            Self::Inch => 3,
        }
    }

    /// A gap without its unit, for a table whose head has it: `2.41`, `0.095`.
    pub fn gap_number(self, gap_mm: f64) -> String {
        decimal(self.of_mm(gap_mm), self.gap_decimals())
    }

    /// A gap: `2.41 mm`, `0.095 in`.
    pub fn gap(self, gap_mm: f64) -> String {
        self.with_sign(self.gap_number(gap_mm))
    }

    /// A difference of two gaps, its sign always shown: `+0.30`.
    pub fn change_number(self, mm: f64) -> String {
        signed(self.of_mm(mm), self.gap_decimals())
    }

    /// A small difference or uncertainty, one decimal finer than a gap, without its unit: `0.021`.
    pub fn fine_number(self, mm: f64) -> String {
        decimal(self.of_mm(mm), self.gap_decimals() + 1)
    }

    /// The same with its sign always shown: `+0.021`.
    pub fn fine_change_number(self, mm: f64) -> String {
        signed(self.of_mm(mm), self.gap_decimals() + 1)
    }

    /// The same with its unit: `0.021 mm`, `0.0008 in`.
    pub fn fine(self, mm: f64) -> String {
        self.with_sign(self.fine_number(mm))
    }

    /// An end of a band, without zeros that say nothing: `1 mm`, `0.5 mm`, `0.039 in`.
    pub fn limit(self, mm: f64) -> String {
        self.with_sign(trimmed(self.gap_number(mm)))
    }

    /// A band: `1 to 4 mm`, `0.039 to 0.157 in`.
    pub fn band(self, band: Band<Mm>) -> String {
        format!("{} to {}", trimmed(self.gap_number(band.low.0)), self.limit(band.high.0))
    }

    /// An uncertainty without its unit: decimals like a gap's, and more where they would leave
    /// nothing of it.
    pub fn u_number(self, u_mm: f64) -> String {
        let value = self.of_mm(u_mm);
        decimal(value, decimals_for(value, self.gap_decimals()))
    }

    /// An uncertainty: `0.09 mm`, `0.004 in`.
    pub fn u(self, u_mm: f64) -> String {
        self.with_sign(self.u_number(u_mm))
    }

    /// A length on the wall or the board: `2025 mm`, `93.4 mm`, `79 23/32 in`.
    pub fn length(self, mm: f64) -> String {
        self.with_sign(self.length_number(mm))
    }

    /// The same without its unit.
    pub fn length_number(self, mm: f64) -> String {
        match self {
            Self::Mm => trimmed(decimal(mm, if mm.abs() < 10.0 { 2 } else { 1 })),
            Self::Inch => inch_fraction(mm / MM_PER_INCH),
        }
    }

    /// A sentence written in millimetres, its lengths in the shown unit: `3 to 4 mm up` is `0.118
    /// to 5/32 in up`.
    ///
    /// A number counts as a length where `mm` follows it, or where `to`, `x` or `\u{b1}` joins it
    /// to one that counts. Two decimals or more make it a gap, fewer a length. What a person
    /// wrote must not go through this.
    pub fn sentence(self, in_mm: &str) -> String {
        match self {
            Self::Mm => in_mm.to_owned(),
            Self::Inch => sentence::in_inches(in_mm),
        }
    }

    /// A slope, given in mm per m: `0.42 mm/m`, `0.005 in/ft`.
    pub fn slope(self, mm_per_m: f64) -> String {
        match self {
            Self::Mm => format!("{} mm/m", decimal(mm_per_m, 2)),
            Self::Inch => format!("{} in/ft", decimal(mm_per_m * 12.0 / 1000.0, 4)),
        }
    }

    fn with_sign(self, number: String) -> String {
        if number == NONE { number } else { format!("{number}\u{a0}{}", self.sign()) }
    }
}

/// An angle: `0.12°`.
pub fn angle(deg: f64) -> String {
    let number = decimal(deg, 2);
    if number == NONE { number } else { format!("{number}°") }
}

/// A turn of a screw, clockwise positive as seen from its head: `0.42 turn clockwise`.
pub fn turn(turns: f64) -> String {
    let size = decimal(turns.abs(), 2);
    if size == NONE {
        return size;
    }
    if size == "0.00" {
        return "no turn".to_owned();
    }
    let plural = if turns.abs() > 1.004 { "s" } else { "" };
    let sense = if turns > 0.0 { "clockwise" } else { "anticlockwise" };
    format!("{} turn{plural} {sense}", trimmed(size))
}

/// A number with so many decimals and a true minus; never a negative zero.
pub fn decimal(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return NONE.to_owned();
    }
    let text = format!("{:.decimals$}", value.abs());
    let zero = text.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    if value < 0.0 && !zero { format!("\u{2212}{text}") } else { text }
}

/// The same with a plus before what is above zero.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = decimal(value, decimals);
    let zero = text.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    if value > 0.0 && value.is_finite() && !zero { format!("+{text}") } else { text }
}

/// As short as it can be said with so many decimals at most.
pub fn short(value: f64, decimals: usize) -> String {
    trimmed(decimal(value, decimals))
}

/// At least `least`, and so many that one digit other than zero is left; at most nine.
fn decimals_for(value: f64, least: usize) -> usize {
    (least..=9)
        .find(|&decimals| value.abs() >= 0.5 * 10_f64.powi(-(decimals as i32)))
        .unwrap_or(least)
}

fn trimmed(number: String) -> String {
    if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        number
    }
}

/// To the nearest 1/64, in lowest terms.
fn inch_fraction(inch: f64) -> String {
    if !inch.is_finite() {
        return NONE.to_owned();
    }
    if inch.abs() < SHORTEST_FRACTION_INCH || inch.abs() > 1e9 {
        return trimmed(decimal(inch, 3));
    }
    let sixty_fourths = (inch.abs() * 64.0).round() as u64;
    let minus = if inch < 0.0 { "\u{2212}" } else { "" };
    let (whole, rest) = (sixty_fourths / 64, sixty_fourths % 64);
    if rest == 0 {
        return format!("{minus}{whole}");
    }
    let halvings = rest.trailing_zeros();
    let fraction = format!("{}/{}", rest >> halvings, 64 >> halvings);
    if whole == 0 { format!("{minus}{fraction}") } else { format!("{minus}{whole} {fraction}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn plain(text: String) -> String {
        text.replace('\u{a0}', " ").replace('\u{2212}', "-")
    }

    #[test]
    fn gaps_are_decimals_and_lengths_fractions() {
        let (mm, inch) = (Units::Mm, Units::Inch);
        assert_eq!(plain(mm.gap(2.413)), "2.41 mm");
        assert_eq!(plain(inch.gap(2.413)), "0.095 in");
        assert_eq!(plain(mm.length(2025.0)), "2025 mm");
        assert_eq!(plain(mm.length(93.44)), "93.4 mm");
        assert_eq!(plain(inch.length(2025.0)), "79 23/32 in");
        assert_eq!(plain(inch.length(25.4)), "1 in");
        assert_eq!(plain(inch.length(-12.7)), "-1/2 in");
        assert_eq!(plain(inch.length(25.4 * 1.999)), "2 in");
        assert_eq!(plain(inch.length(0.4)), "0.016 in");
        assert_eq!(plain(mm.band(Band { low: Mm(1.0), high: Mm(4.0) })), "1 to 4 mm");
        assert_eq!(plain(mm.limit(0.5)), "0.5 mm");
        assert_eq!(plain(mm.change_number(-0.304)), "-0.30");
        assert_eq!(plain(mm.change_number(0.304)), "+0.30");
        assert_eq!(plain(inch.slope(1.0)), "0.0120 in/ft");
    }

    #[test]
    fn an_uncertainty_never_reads_as_none() {
        assert_eq!(plain(Units::Mm.u(0.0871)), "0.09 mm");
        assert_eq!(plain(Units::Mm.u(0.0041)), "0.004 mm");
        assert_eq!(plain(Units::Inch.u(0.0041)), "0.0002 in");
        assert_eq!(plain(Units::Mm.u(0.0)), "0.00 mm");
    }

    #[test]
    fn what_is_no_number_is_shown_as_none() {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            for units in [Units::Mm, Units::Inch] {
                assert_eq!(units.gap(value), NONE);
                assert_eq!(units.length(value), NONE);
                assert_eq!(units.u(value), NONE);
            }
            assert_eq!(angle(value), NONE);
            assert_eq!(turn(value), NONE);
        }
    }

    #[test]
    fn turns_say_their_sense() {
        assert_eq!(turn(0.42), "0.42 turn clockwise");
        assert_eq!(turn(-1.5), "1.5 turns anticlockwise");
        assert_eq!(turn(1.0), "1 turn clockwise");
        assert_eq!(turn(0.001), "no turn");
    }

    #[test]
    fn zero_has_no_sign() {
        assert_eq!(decimal(-0.001, 2), "0.00");
        assert_eq!(signed(0.001, 2), "0.00");
        assert_eq!(decimal(-0.0, 1), "0.0");
    }

    #[test]
    fn units_are_read_by_name() {
        assert_eq!("inch".parse(), Ok(Units::Inch));
        assert_eq!(Units::Mm.to_string().parse(), Ok(Units::Mm));
        assert!("feet".parse::<Units>().unwrap_err().contains("inch"));
    }

    proptest! {
        /// A fraction read back is within half of 1/64 of what it was made from.
        #[test]
        fn fractions_read_back(inch in -5000.0..5000.0_f64) {
            let text = plain(Units::Inch.length(inch * MM_PER_INCH));
            let back: Mm = text.parse().unwrap();
            prop_assert!((back.inch() - inch).abs() <= 0.5 / 64.0 + 1e-9, "{text}");
        }

        #[test]
        fn no_number_panics(value in any::<f64>()) {
            for units in [Units::Mm, Units::Inch] {
                let _ = (units.gap(value), units.length(value), units.u(value), units.slope(value), units.limit(value));
            }
            let _ = (turn(value), angle(value), signed(value, 3));
        }
    }
}
