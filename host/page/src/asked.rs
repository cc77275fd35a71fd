//! What somebody sent from a page. Pure.

use crate::refusal::Refusal;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use skimgauge_procedure::Word;
use skimgauge_quantity::Mm;

/// Longest note, characters.
const NOTE: usize = 2000;

/// The longest that a taped length can be: an image's longest edge and a bit (20 m).
const TAPED: Mm = Mm(25_000.0);

/// What somebody wants done.
#[derive(Debug)]
pub enum Act {
    /// Said a word.
    Say(Word),
    /// Wrote a note for the job.
    Note(String),
    /// Answered whether the image is whole and true.
    Frame(Frame),
    /// Touched the proof's page.
    Proof(skimgauge_procedure::proof::Told),
    /// Sent a picture, without the places in its data.
    Photo(crate::server::Arrived),
}

/// What was seen and taped of the frame that the board page draws.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Frame {
    /// All four corner letters are seen, whole.
    pub whole: bool,
    /// The line across, as taped; it is drawn 80 % of the image's width long.
    #[serde(rename = "across_mm", default)]
    pub across: Option<Mm>,
    /// The line down, as taped; it is drawn 80 % of the image's height long.
    #[serde(rename = "down_mm", default)]
    pub down: Option<Mm>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SentWord {
    word: Word,
    seen: u64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SentNote {
    note: String,
}

fn read<T: DeserializeOwned>(body: &[u8]) -> Result<T, Refusal> {
    serde_json::from_slice(body).map_err(|error| Refusal::not_read(&error.to_string()))
}

/// A word, and the number of the state that its speaker saw.
pub(crate) fn word(body: &[u8]) -> Result<(Word, u64), Refusal> {
    let SentWord { word, seen } = read(body)?;
    match word {
        Word::Unknown | Word::Sound => {
            Err(Refusal::not_read("this word means nothing from a page"))
        }
        word => Ok((word, seen)),
    }
}

/// A note: something to read, without what would steer a screen.
pub(crate) fn note(body: &[u8]) -> Result<String, Refusal> {
    let SentNote { note } = read(body)?;
    let note = skimgauge_quantity::shown_lines(note.trim()).into_owned();
    match note.chars().count() {
        0 => Err(Refusal::not_read("the note is empty")),
        count if count > NOTE => Err(Refusal::not_read("the note is longer than 2000 characters")),
        _ => Ok(note),
    }
}

/// What touched the proof's page.
pub(crate) fn strokes(body: &[u8]) -> Result<skimgauge_procedure::proof::Told, Refusal> {
    read(body)
}

/// The frame's answers.
pub(crate) fn frame(body: &[u8]) -> Result<Frame, Refusal> {
    let frame: Frame = read(body)?;
    for (taped, line) in [(frame.across, "across"), (frame.down, "down")] {
        if taped.is_some_and(|mm| !(mm.is_finite() && mm > Mm::ZERO && mm <= TAPED)) {
            return Err(Refusal::not_read(&format!("the line {line} cannot be so long")));
        }
    }
    Ok(frame)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use skimgauge_procedure::Stop;

    #[test]
    fn words_are_read_with_what_was_seen() {
        assert_eq!(word(br#"{"word":"take","seen":41}"#), Ok((Word::Take, 41)));
        assert_eq!(
            word(br#"{"seen":0,"word":{"go":{"station":3}}}"#),
            Ok((Word::Go(Stop::Station(3)), 0))
        );
        assert_eq!(word(br#"{"seen":7,"word":{"turned":null}}"#), Ok((Word::Turned(None), 7)));
    }

    #[test]
    fn what_is_malformed_is_refused() {
        for body in [
            "",
            "{}",
            "[]",
            "null",
            r#"{"word":"take"}"#,
            r#"{"word":"take","seen":-1}"#,
            r#"{"word":"take","seen":1.5}"#,
            r#"{"word":"take","seen":1,"by":"terminal"}"#,
            r#"{"word":"take","word":"redo","seen":1}"#,
            r#"{"word":"unknown","seen":1}"#,
            r#"{"word":{"go":{"station":-1}},"seen":1}"#,
            r#"{"word":{"turned":1e999},"seen":1}"#,
            r#"{"word":"take","seen":1}}"#,
            "{\"word\":\"take\",\"seen\":1",
        ] {
            assert_eq!(word(body.as_bytes()).map_err(|refusal| refusal.status), Err(400), "{body}");
        }
        // Deep nesting is refused, not recursed into.
        let deep = "[".repeat(100_000);
        assert!(word(deep.as_bytes()).is_err());
    }

    #[test]
    fn a_note_is_kept_as_written_but_for_what_steers_a_screen() {
        assert_eq!(
            note(br#"{"note":" cable <b>left</b>\nof the lamp "}"#).unwrap(),
            "cable <b>left</b>\nof the lamp"
        );
        let steering = note(b"{\"note\":\"a\\u001b[2Jb\"}").unwrap();
        assert!(!steering.contains('\u{1b}'), "{steering:?}");
        assert!(note(br#"{"note":"  "}"#).is_err());
        let long = format!(r#"{{"note":"{}"}}"#, "x".repeat(2001));
        assert!(note(long.as_bytes()).is_err());
    }

    #[test]
    fn what_touched_is_read_report_by_report() {
        let body =
            br#"{"sent_ms":1.5,"events":[[1.2,0,7,10.25,3.5,4,0.5,0],[2,2,7,10.25,3.5,1,0,0]]}"#;
        let told = strokes(body).unwrap();
        assert_eq!((told.events.len(), told.events[0].id, told.events[0].x), (2, 7, 10.25));
        for body in [
            "",
            "{}",
            r#"{"sent_ms":null,"events":[]}"#,
            r#"{"sent_ms":1,"events":[[1,4,7,1,1,1,1,0]]}"#,
            r#"{"sent_ms":1,"events":[[1,0,7,1,1,1,1,3]]}"#,
            r#"{"sent_ms":1,"events":[[1,0,7,1,1,1,1]]}"#,
            r#"{"sent_ms":1,"events":[[1e300,0,7,1,1,1,1,0]]}"#,
            r#"{"sent_ms":1,"by":"me"}"#,
        ] {
            assert_eq!(
                strokes(body.as_bytes()).map_err(|refusal| refusal.status),
                Err(400),
                "{body}"
            );
        }
    }

    #[test]
    fn a_length_that_cannot_be_is_refused() {
        let read = frame(br#"{"whole":true,"across_mm":1619.5}"#).unwrap();
        assert_eq!(read, Frame { whole: true, across: Some(Mm(1619.5)), down: None });
        for body in [
            r#"{"whole":true,"across_mm":0}"#,
            r#"{"whole":true,"across_mm":-3}"#,
            r#"{"whole":true,"down_mm":1e9}"#,
            r#"{"whole":true,"down_mm":1e999}"#,
            r#"{"across_mm":3}"#,
        ] {
            assert!(frame(body.as_bytes()).is_err(), "{body}");
        }
    }

    proptest! {
        #[test]
        fn nothing_panics(body in prop::collection::vec(any::<u8>(), 0..200)) {
            let _ = (word(&body), note(&body), frame(&body), strokes(&body));
        }
    }
}
