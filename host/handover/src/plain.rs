//! Texts that came from a person or a file, made fit to be shown; dates and counts in words.

pub(crate) use skimgauge_drawing::line;
use skimgauge_record::When;

/// As a sentence: first letter large, a full stop at its end.
pub(crate) fn sentence(text: &str) -> String {
    let text = line(text);
    let mut chars = text.chars();
    let Some(first) = chars.next() else {
        return String::new();
    };
    let mut out: String = first.to_uppercase().chain(chars).collect();
    if !out.ends_with(['.', '!', '?', ':', '"']) {
        out.push('.');
    }
    out
}

/// A number without zeros at its end that say nothing.
pub(crate) fn trimmed(number: String) -> String {
    if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        number
    }
}

/// `1 take`, `3 takes`.
pub(crate) fn count(number: usize, one: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {one}s") }
}

/// `a`, `a and b`, `a, b and c`.
pub(crate) fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [firsts @ .., last] => format!("{} and {last}", firsts.join(", ")),
    }
}

/// The local day and time that a stamp shows.
fn local(when: When) -> Option<jiff::civil::DateTime> {
    when.to_string().get(..19)?.parse().ok()
}

/// The local day: `25 November 2026`.
pub(crate) fn day(when: When) -> String {
    local(when).map_or_else(|| when.to_string(), |local| local.strftime("%-d %B %Y").to_string())
}

/// Day, time and offset: `25 November 2026, 09:14 (UTC+01:00)`.
pub(crate) fn moment(when: When) -> String {
    let text = when.to_string();
    match (local(when), text.len().checked_sub(6).and_then(|at| text.get(at..))) {
        (Some(local), Some(offset)) => {
            format!("{} (UTC{offset})", local.strftime("%-d %B %Y, %H:%M"))
        }
        _ => text,
    }
}

/// A calendar day as the record writes it: `2026-11-20` becomes `20 November 2026`; any other text
/// stays.
pub(crate) fn date(text: &str) -> String {
    text.parse::<jiff::civil::Date>()
        .map_or_else(|_| line(text), |date| date.strftime("%-d %B %Y").to_string())
}

/// Whole days from a calendar day to a moment's local day; none when the text is no day.
pub(crate) fn days_since(date: &str, when: When) -> Option<i32> {
    let date: jiff::civil::Date = date.parse().ok()?;
    let span = date.until(local(when)?.date()).ok()?;
    Some(span.get_days())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn dates_are_words() {
        let when = When::parse("2026-11-25T09:14:03.25+01:00").unwrap();
        assert_eq!(day(when), "25 November 2026");
        assert_eq!(moment(when), "25 November 2026, 09:14 (UTC+01:00)");
        assert_eq!(date("2026-11-20"), "20 November 2026");
        assert_eq!(date("last week"), "last week");
        assert_eq!(days_since("2026-11-20", when), Some(5));
        assert_eq!(days_since("2025-11-25", when), Some(365));
        assert_eq!(days_since("?", when), None);
    }

    #[test]
    fn the_day_is_that_of_the_place() {
        let when = When::parse("2026-11-25T00:10:00+02:00").unwrap();
        assert_eq!(days_since("2026-11-24", when), Some(1));
    }

    #[test]
    fn texts_are_one_line_that_steers_nothing() {
        assert_eq!(line("a\u{202e}b\u{1b}[31m\n  c"), "ab [31m c");
        assert_eq!(sentence("tray is bent"), "Tray is bent.");
        assert_eq!(sentence(""), "");
        assert_eq!(list(&["a".into(), "b".into(), "c".into()]), "a, b and c");
        assert_eq!(
            (count(1, "take"), count(0, "take")),
            ("1 take".to_owned(), "0 takes".to_owned())
        );
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "(?s).*") {
            prop_assert!(!line(&text).contains(char::is_control));
            let _ = (sentence(&text), date(&text));
        }
    }
}
