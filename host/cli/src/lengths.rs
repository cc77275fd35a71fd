//! Lengths on a terminal, for what still says them as numbers: with blanks and minus signs that a
//! keyboard has, so that what is shown can be searched for.

use skimgauge_quantity::{MM_PER_INCH, Mm, Style, Units, plain};

/// In which units a terminal shows lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Lengths(pub Units);

impl Lengths {
    /// How quantities are shown on a terminal.
    pub fn style(self) -> Style {
        Style::typed(self.0)
    }

    /// The unit's sign: `mm` or `in`.
    pub fn sign(self) -> &'static str {
        self.0.sign()
    }

    /// A length in the shown unit, as a number.
    pub fn of_mm(self, mm: f64) -> f64 {
        match self.0 {
            Units::Mm => mm,
            Units::Inch => mm / MM_PER_INCH,
        }
    }

    /// A gap without its unit: `2.41`, `0.095`.
    pub fn gap_number(self, mm: f64) -> String {
        Mm(mm).gap().number(self.style())
    }

    /// A gap: `2.41 mm`, `0.095 in`.
    pub fn gap(self, mm: f64) -> String {
        Mm(mm).gap().text(self.style())
    }

    /// A difference of gaps without its unit, its sign always shown.
    pub fn change_number(self, mm: f64) -> String {
        Mm(mm).gap().signed().number(self.style())
    }

    /// A small difference, or a height of the board, without its unit: `0.021`, `0.0008`.
    pub fn fine_number(self, mm: f64) -> String {
        Mm(mm).fine().number(self.style())
    }

    /// The same with its sign always shown.
    pub fn fine_change_number(self, mm: f64) -> String {
        Mm(mm).fine().signed().number(self.style())
    }

    /// The same, unsigned, with its unit.
    pub fn fine(self, mm: f64) -> String {
        Mm(mm).fine().text(self.style())
    }

    /// An uncertainty without its unit: with as many decimals as leave something of it.
    pub fn uncertainty_number(self, mm: f64) -> String {
        Mm(mm).uncertainty().number(self.style())
    }

    /// A length without its unit for a column: millimetres with so many decimals, or inches in
    /// fractions.
    pub fn length_number(self, mm: f64, mm_decimals: usize) -> String {
        match self.0 {
            Units::Mm => format!("{:.mm_decimals$}", mm + 0.0),
            Units::Inch => Mm(mm).tape().number(self.style()),
        }
    }

    /// The same with a sign before what is above zero.
    pub fn length_change_number(self, mm: f64, mm_decimals: u8) -> String {
        match self.0 {
            Units::Mm => plain(mm, mm_decimals).signed().number(self.style()),
            Units::Inch => Mm(mm).tape().signed().number(self.style()),
        }
    }

    /// A length with its unit.
    pub fn length(self, mm: f64, mm_decimals: usize) -> String {
        format!("{} {}", self.length_number(mm, mm_decimals), self.sign())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_terminal_gets_signs_that_can_be_typed() {
        let (mm, inch) = (Lengths(Units::Mm), Lengths(Units::Inch));
        assert_eq!((mm.gap(2.413), inch.gap(2.413)), ("2.41 mm".to_owned(), "0.095 in".to_owned()));
        assert_eq!(inch.change_number(-2.54), "-0.100");
        assert_eq!(
            (mm.length(2025.0, 1), inch.length(2025.0, 1)),
            ("2025.0 mm".to_owned(), "79 23/32 in".to_owned())
        );
        assert_eq!(
            (inch.length_change_number(12.7, 1), inch.length_change_number(-12.7, 1)),
            ("+1/2".into(), "-1/2".into())
        );
        assert_eq!(inch.length_change_number(0.0, 1), "0");
        assert_eq!(
            (mm.length_change_number(-0.04, 1), mm.length_change_number(0.06, 1)),
            ("0.0".into(), "+0.1".into())
        );
        assert_eq!(
            (mm.uncertainty_number(2.83), inch.uncertainty_number(2.83)),
            ("2.83".into(), "0.111".into())
        );
        assert_eq!(
            (mm.uncertainty_number(0.004), inch.uncertainty_number(0.004)),
            ("0.004".into(), "0.0002".into())
        );
    }
}
