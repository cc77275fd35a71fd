//! Numbers as people write them: decimals with point or comma, fractions of an inch, typographic
//! signs.

use super::fault::{Fault, shortened};
use super::units;

/// A number with the unit behind it, both as written and perhaps empty.
pub(super) struct Pair<'a> {
    pub(super) number: &'a str,
    pub(super) unit: &'a str,
}

impl<'a> Pair<'a> {
    /// Each number with what follows it, up to the next number. The first one's number may be
    /// empty.
    pub(super) fn split(text: &'a str) -> impl Iterator<Item = Self> {
        let mut rest = text;
        std::iter::from_fn(move || {
            let belongs = |c: char| c.is_ascii_digit() || c.is_whitespace() || "+-./,".contains(c);
            if rest.is_empty() {
                return None;
            }
            let number_ends = rest.find(|c: char| !belongs(c)).unwrap_or(rest.len());
            let (number, behind) = rest.split_at(number_ends);
            let unit_ends = next_number(behind);
            let (unit, behind) = behind.split_at(unit_ends);
            rest = behind;
            Some(Self { number: number.trim(), unit: unit.trim() })
        })
    }

    pub(super) fn is_feet(&self) -> bool {
        units::is_feet(self.unit)
    }

    pub(super) fn is_inches(&self) -> bool {
        units::is_inches(self.unit)
    }
}

/// Where the number after a unit begins: at a digit, with a sign or point right before it.
fn next_number(text: &str) -> usize {
    let Some(digit) = text.find(|c: char| c.is_ascii_digit()) else { return text.len() };
    let before = text[..digit].trim_end_matches(['-', '+', '.', ' ']);
    // A point after a unit abbreviates it: `in. 5`.
    let abbreviated = text[before.len()..].starts_with(". ");
    before.len() + usize::from(abbreviated)
}

/// The text with signs that a keyboard has.
pub(super) fn plain(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\u{2212}' | '\u{2010}' | '\u{2011}' | '\u{2013}' => plain.push('-'),
            '\u{2044}' | '\u{2215}' => plain.push('/'),
            '\u{2032}' | '\u{2019}' => plain.push('\''),
            '\u{2033}' | '\u{201d}' => plain.push('"'),
            c if c.is_whitespace() => plain.push(' '),
            c => match VULGAR.iter().find(|(sign, _)| *sign == c) {
                Some((_, fraction)) => {
                    if plain.ends_with(|before: char| before.is_ascii_digit()) {
                        plain.push(' ');
                    }
                    plain.push_str(fraction);
                }
                None => plain.push(c),
            },
        }
    }
    // Two single primes are a double one.
    plain.replace("''", "\"")
}

/// Unicode's fractions that have both digits (Number Forms and Latin-1, general category No).
const VULGAR: [(char, &str); 18] = [
    ('\u{bc}', "1/4"),
    ('\u{bd}', "1/2"),
    ('\u{be}', "3/4"),
    ('\u{2150}', "1/7"),
    ('\u{2151}', "1/9"),
    ('\u{2152}', "1/10"),
    ('\u{2153}', "1/3"),
    ('\u{2154}', "2/3"),
    ('\u{2155}', "1/5"),
    ('\u{2156}', "2/5"),
    ('\u{2157}', "3/5"),
    ('\u{2158}', "4/5"),
    ('\u{2159}', "1/6"),
    ('\u{215a}', "5/6"),
    ('\u{215b}', "1/8"),
    ('\u{215c}', "3/8"),
    ('\u{215d}', "5/8"),
    ('\u{215e}', "7/8"),
];

/// `12`, `-1.5`, `.5`, `0,5`, `3/8`, `93 3/8` or `93-3/8`.
pub(super) fn number(text: &str) -> Result<f64, Fault> {
    let bad = || Fault::BadNumber(shortened(text));
    let (negative, size) = match text.strip_prefix(['-', '+']) {
        Some(size) => (text.starts_with('-'), size),
        None => (false, text),
    };
    // A sign stands right before its number.
    if size.starts_with(char::is_whitespace) {
        return Err(bad());
    }
    let value = if size.contains('/') {
        let mut parts = size.split([' ', '-']).filter(|part| !part.is_empty());
        match (parts.next(), parts.next(), parts.next()) {
            (Some(fraction), None, _) => read_fraction(fraction).ok_or_else(bad)?,
            (Some(whole), Some(fraction), None) if is_mixed(size) => {
                whole_number(whole).ok_or_else(bad)? + read_fraction(fraction).ok_or_else(bad)?
            }
            _ => return Err(bad()),
        }
    } else {
        decimal(size)?
    };
    Ok(if negative { -value } else { value })
}

/// Whether at most one hyphen joins a whole number and its fraction.
fn is_mixed(size: &str) -> bool {
    match size.split_once('-') {
        Some((before, after)) => {
            !before.ends_with(' ') && !after.starts_with([' ', '-']) && !after.contains(' ')
        }
        None => true,
    }
}

/// A decimal number without a sign, with a point or a comma.
fn decimal(text: &str) -> Result<f64, Fault> {
    let bad = || Fault::BadNumber(shortened(text));
    if text.contains(' ') {
        let mut groups = text.split(' ').filter(|group| !group.is_empty());
        let first = groups.next().is_some_and(|group| is_digits(group) && group.len() <= 3);
        let grouped =
            first && groups.all(|group| is_digits(group.get(..3).unwrap_or("")) && group.len() < 8);
        return Err(if grouped { Fault::Grouped(shortened(text)) } else { bad() });
    }
    if text.starts_with(['-', '+']) {
        return Err(bad());
    }
    let (points, commas) = (text.matches('.').count(), text.matches(',').count());
    match (points, commas) {
        (_, 0) if points <= 1 => text.parse().map_err(|_| bad()),
        (0, 1) => {
            let (whole, decimals) = text.split_once(',').unwrap_or((text, ""));
            if decimals.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0') {
                return Err(Fault::Comma(shortened(text)));
            }
            if !is_digits(decimals) {
                return Err(bad());
            }
            text.replace(',', ".").parse().map_err(|_| bad())
        }
        _ => {
            let mut groups = text.split(['.', ',']);
            let first = groups.next().is_some_and(|group| is_digits(group) && group.len() <= 3);
            let groups: Vec<&str> = groups.collect();
            let (last, middle) = groups.split_last().unwrap_or((&"", &[]));
            let full = |group: &&str| is_digits(group) && group.len() == 3;
            // All alike: groups only. One of each: groups, then decimals.
            let grouped = first
                && middle.iter().all(full)
                && (full(last) || points > 0 && commas > 0 && is_digits(last));
            Err(if grouped { Fault::Grouped(shortened(text)) } else { bad() })
        }
    }
}

fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit())
}

fn whole_number(text: &str) -> Option<f64> {
    if is_digits(text) { text.parse().ok() } else { None }
}

fn read_fraction(text: &str) -> Option<f64> {
    let (above, below) = text.split_once('/')?;
    let (above, below) = (whole_number(above)?, whole_number(below)?);
    (below > 0.0).then_some(above / below)
}
