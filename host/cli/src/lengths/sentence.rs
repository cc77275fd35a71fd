//! Sentences written in millimetres, told in inches.

use super::Lengths;
use skimgauge_quantity::{Mm, MmPerM, Units};

const INCH: Lengths = Lengths(Units::Inch);

/// A number in a text.
struct Number {
    /// Where it begins, without its sign.
    start: usize,
    /// Where it ends.
    end: usize,
    /// Its size.
    value: f64,
    /// Digits after its point.
    decimals: usize,
    /// What it measures, and where its unit ends.
    measures: Option<Measure>,
}

#[derive(Clone, Copy)]
enum Measure {
    /// A length, its unit ending there.
    Length(usize),
    /// A slope in mm/m, its unit ending there.
    Slope(usize),
    /// A length whose unit stands at another number.
    Joined,
}

/// The sentence with its lengths in inches, gaps in decimals and lengths in fractions.
pub(super) fn in_inches(text: &str) -> String {
    let mut numbers = numbers(text);
    join(text, &mut numbers);
    let mut told = String::with_capacity(text.len());
    let mut at = 0;
    for number in &numbers {
        let Some(measures) = number.measures else { continue };
        told.push_str(&text[at..number.start]);
        match measures {
            Measure::Length(end) => {
                told.push_str(&number.inches());
                told.push_str(" in");
                at = end;
            }
            Measure::Joined => {
                told.push_str(&number.inches());
                at = number.end;
            }
            Measure::Slope(end) => {
                told.push_str(&MmPerM(number.value).figure().text(INCH.style()));
                at = end;
            }
        }
    }
    told.push_str(&text[at..]);
    told
}

impl Number {
    fn inches(&self) -> String {
        match self.decimals {
            0 | 1 => Mm(self.value).tape().number(INCH.style()),
            2 => INCH.gap_number(self.value),
            _ => INCH.fine_number(self.value),
        }
    }

    /// Where what belongs to the number ends.
    fn whole_end(&self) -> usize {
        match self.measures {
            Some(Measure::Length(end) | Measure::Slope(end)) => end,
            _ => self.end,
        }
    }
}

fn numbers(text: &str) -> Vec<Number> {
    let bytes = text.as_bytes();
    let digits =
        |from: usize| from + bytes[from..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    let mut found = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        if !bytes[at].is_ascii_digit() {
            at += 1;
            continue;
        }
        let whole_end = digits(at);
        let end = match bytes.get(whole_end) {
            Some(b'.') if bytes.get(whole_end + 1).is_some_and(u8::is_ascii_digit) => {
                digits(whole_end + 1)
            }
            _ => whole_end,
        };
        let free = text[..at]
            .chars()
            .next_back()
            .is_none_or(|before| !(before.is_alphanumeric() || ".,_/".contains(before)));
        if let (true, Ok(value)) = (free, text[at..end].parse()) {
            let decimals = end.saturating_sub(whole_end + 1);
            found.push(Number { start: at, end, value, decimals, measures: unit(text, end) });
        }
        at = end;
    }
    found
}

/// The unit that stands behind a number.
fn unit(text: &str, end: usize) -> Option<Measure> {
    let rest = &text[end..];
    let blank = rest
        .chars()
        .next()
        .filter(|first| matches!(first, ' ' | '\u{a0}'))
        .map_or(0, char::len_utf8);
    let after = rest[blank..].strip_prefix("mm")?;
    let end = end + blank + 2;
    if let Some(behind) = after.strip_prefix("/m").or_else(|| after.strip_prefix(" per m")) {
        let is_slope = !behind.starts_with(char::is_alphanumeric);
        return is_slope.then_some(Measure::Slope(text.len() - behind.len()));
    }
    (!after.starts_with(|next: char| next.is_alphanumeric() || next == '/' || next == '_'))
        .then_some(Measure::Length(end))
}

/// Numbers without a unit of their own that share another's.
fn join(text: &str, numbers: &mut [Number]) {
    let is_length =
        |number: &Number| matches!(number.measures, Some(Measure::Length(_) | Measure::Joined));
    for at in (1..numbers.len()).rev() {
        let between = &text[numbers[at - 1].whole_end()..numbers[at].start];
        if matches!(between, " to " | " x " | " \u{b1} ")
            && numbers[at - 1].measures.is_none()
            && is_length(&numbers[at])
        {
            numbers[at - 1].measures = Some(Measure::Joined);
        }
    }
    for at in 1..numbers.len() {
        let between = &text[numbers[at - 1].whole_end()..numbers[at].start];
        if between == " \u{b1} " && numbers[at].measures.is_none() && is_length(&numbers[at - 1]) {
            numbers[at].measures = Some(Measure::Joined);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn lengths_in_a_sentence_are_told_in_inches() {
        for (mm, inch) in [
            ("measure 2025.0 mm up, then 12.7 mm left", "measure 79 23/32 in up, then 1/2 in left"),
            ("the band 1.00 to 4.00 mm", "the band 0.039 to 0.157 in"),
            ("image 2540 x 1270 mm", "image 100 x 50 in"),
            ("5.08 mm \u{b1} 0.25, 2.54 mm inside", "0.200 in \u{b1} 0.010, 0.100 in inside"),
            ("2.54 \u{b1} 0.25 mm", "0.100 \u{b1} 0.010 in"),
            ("it moved by +2.54 mm, or -2.54 mm", "it moved by +0.100 in, or -0.100 in"),
            ("drifting +0.254 mm a minute", "drifting +0.0100 in a minute"),
            ("rises 1.00 mm/m to the right", "rises 0.0120 in/ft to the right"),
            ("(25.4 mm)", "(1 in)"),
        ] {
            assert_eq!(in_inches(mm), inch);
        }
    }

    #[test]
    fn what_is_no_length_stays() {
        for text in [
            "4 anchors",
            "turn 0.42 to 1.00",
            "0.12\u{b0} and 20 \u{b0}C",
            "M8 x 3",
            "2 mmol",
            "table 7mm_2",
            "308.1",
            "",
        ] {
            assert_eq!(in_inches(text), text);
        }
    }

    proptest! {
        #[test]
        fn no_text_panics(text in ".{0,80}") {
            in_inches(&text);
        }

        /// Every gap comes out as the gap itself would be shown.
        #[test]
        fn a_gap_in_a_sentence_is_the_gap(hundredths in 0_u32..2000) {
            let mm = f64::from(hundredths) / 100.0;
            let told = in_inches(&format!("stands {mm:.2} mm off"));
            prop_assert_eq!(told, format!("stands {} in off", INCH.gap_number(mm)));
        }
    }
}
