//! Who, when, with which software.

use std::fmt;

use jiff::Timestamp;
use jiff::fmt::temporal::Pieces;
use jiff::tz::Offset;

use crate::{RecordError, limits};

/// A moment with the offset from UTC that the person's clock showed:
/// `2026-11-25T09:14:03.25+01:00`.
///
/// Two of them compare by moment, whatever their offsets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct When {
    moment: Timestamp,
    offset: Offset,
}

impl When {
    /// Reads an RFC 3339 date and time. The offset is required: `Z` or `+00:00` for UTC.
    ///
    /// # Errors
    /// [`RecordError::BadStamp`] when a part is missing or impossible.
    pub fn parse(text: &str) -> Result<Self, RecordError> {
        let bad = || RecordError::BadStamp {
            text: text.to_owned(),
            expected: "a date and time with its offset from UTC, as in 2026-11-25T09:14:03+01:00",
        };
        let pieces = Pieces::parse(text).map_err(|_| bad())?;
        let offset = pieces.to_numeric_offset().ok_or_else(bad)?;
        let local = pieces.date().to_datetime(pieces.time().ok_or_else(bad)?);
        let moment = offset.to_timestamp(local).map_err(|_| bad())?;
        Ok(Self { moment, offset })
    }

    /// From a moment, to the millisecond, and the offset that holds at the place.
    pub fn new(moment: Timestamp, offset: Offset) -> Self {
        let moment = Timestamp::from_millisecond(moment.as_millisecond()).unwrap_or(moment);
        Self { moment, offset }
    }

    /// The moment itself.
    pub fn moment(self) -> Timestamp {
        self.moment
    }

    /// Seconds by which this moment lies before `earlier`: positive when a clock was set back
    /// between the two.
    pub fn seconds_before(self, earlier: Self) -> Option<f64> {
        (self.moment < earlier.moment)
            .then(|| earlier.moment.duration_since(self.moment).as_secs_f64())
    }
}

impl fmt::Display for When {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.moment.display_with_offset(self.offset))
    }
}

/// What every event carries besides its own content.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    /// When, by the clock of the machine that wrote it.
    pub at: When,
    /// The person, as they name themselves. Not blank.
    pub who: String,
    /// Name and version of the program that wrote it. Not blank.
    pub software: String,
}

impl Stamp {
    /// A stamp, if `who` and `software` say something.
    ///
    /// # Errors
    /// [`RecordError::BadStamp`] when one is blank, too long, or holds characters that steer the
    /// screen.
    pub fn new(at: When, who: &str, software: &str) -> Result<Self, RecordError> {
        for (text, expected) in
            [(who, "the name of the person at work"), (software, "the program and its version")]
        {
            if text.trim().is_empty() || limits::line(expected, text.trim()).is_err() {
                return Err(RecordError::BadStamp { text: text.to_owned(), expected });
            }
        }
        Ok(Self { at, who: who.trim().to_owned(), software: software.trim().to_owned() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_offset_it_was_given() {
        for text in [
            "2026-11-25T09:14:03+01:00",
            "2026-11-25T09:14:03.25-09:30",
            "2026-11-25T09:14:03+00:00",
        ] {
            assert_eq!(When::parse(text).unwrap().to_string(), text);
        }
        assert_eq!(
            When::parse("2026-11-25T09:14:03Z").unwrap().to_string(),
            "2026-11-25T09:14:03+00:00"
        );
    }

    #[test]
    fn compares_by_moment() {
        let here = When::parse("2026-11-25T09:14:03+01:00").unwrap();
        let there = When::parse("2026-11-25T08:13:03Z").unwrap();
        assert_eq!(there.seconds_before(here), Some(60.0));
        assert_eq!(here.seconds_before(there), None);
    }

    #[test]
    fn refuses_what_is_not_a_moment() {
        for text in [
            "",
            "yesterday",
            "2026-11-25",
            "2026-11-25T09:14:03",
            "2026-13-25T09:14:03Z",
            "2026-11-25T25:00:00Z",
        ] {
            assert!(When::parse(text).is_err(), "{text}");
        }
        let at = When::parse("2026-11-25T09:14:03Z").unwrap();
        for who in [" ", "A\u{1b}[2J", "A\nB", "A\u{202e}B", &"x".repeat(301)] {
            assert!(Stamp::new(at, who, "x").is_err(), "{who:?}");
        }
    }
}
