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
    /// Taped one of the lengths that are asked for.
    Taped(Taped),
    /// Touched the proof's page.
    Proof(skimgauge_procedure::proof::Told),
    /// Sent a picture, without the places in its data.
    Photo(crate::server::Arrived),
}

/// What was seen and taped of the frame that the board page draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// All four corner letters are seen, whole.
    pub whole: bool,
    /// The line across, as taped; it is drawn 80 % of the image's width long.
    pub across: Option<Mm>,
    /// The line down, as taped; it is drawn 80 % of the image's height long.
    pub down: Option<Mm>,
}

/// One of the lengths that are asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Taped {
    /// Which, as it was asked for.
    pub name: String,
    /// What the tape said.
    pub length: Mm,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SentFrame {
    whole: bool,
    #[serde(default)]
    across: Option<String>,
    #[serde(default)]
    down: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SentTaped {
    name: String,
    length: String,
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
    let SentFrame { whole, across, down } = read(body)?;
    let line = |text: Option<String>| text.as_deref().map(length).transpose();
    Ok(Frame { whole, across: line(across)?, down: line(down)? })
}

/// A length that was asked for.
pub(crate) fn taped(body: &[u8]) -> Result<Taped, Refusal> {
    let SentTaped { name, length: text } = read(body)?;
    Ok(Taped { name, length: length(&text)? })
}

/// What somebody read from a tape: millimetres, or a number with its unit; a comma for a point.
fn length(text: &str) -> Result<Mm, Refusal> {
    let no_length = |why: &str| {
        let text = skimgauge_quantity::shown(text.trim());
        Refusal::not_read(&format!(
            "\"{text}\" is no length ({why}): enter millimetres, or a number with its unit, such as 1620 or 63 3/4 in"
        ))
    };
    let length = Mm::read_bare(text.trim().replace(',', ".").as_str())
        .map_err(|unread| no_length(&unread.fault().to_string()))?;
    if length.is_finite() && length > Mm::ZERO && length <= TAPED {
        Ok(length)
    } else {
        Err(no_length("a line on the board is longer than nothing and shorter than 25 m"))
    }
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

    /// An inch is 25.4 mm (international yard and pound agreement, 1959).
    #[test]
    fn a_tape_is_read_in_millimetres_or_with_its_unit() {
        let read = frame(br#"{"whole":true,"across":"1619,5"}"#).unwrap();
        assert_eq!(read, Frame { whole: true, across: Some(Mm(1619.5)), down: None });
        let read = taped(br#"{"name":"top","length":" 63 3/4 in "}"#).unwrap();
        assert_eq!(read, Taped { name: "top".to_owned(), length: Mm(63.75 * 25.4) });
    }

    #[test]
    fn a_length_that_cannot_be_is_refused_in_words() {
        for text in ["0", "-3", "1e9", "1e999", "nan", "inf", "", "x", "3 kg", "12 deg", "30 m"] {
            for body in [
                serde_json::json!({ "whole": true, "across": text }),
                serde_json::json!({ "whole": true, "down": text }),
            ] {
                let says = frame(body.to_string().as_bytes()).unwrap_err().says;
                assert!(says.contains(&format!("\"{text}\" is no length")), "{says}");
            }
            let body = serde_json::json!({ "name": "top", "length": text }).to_string();
            assert_eq!(taped(body.as_bytes()).unwrap_err().status, 400, "{text}");
        }
        for body in
            [r#"{"across":"3"}"#, r#"{"whole":true,"across":3}"#, r#"{"whole":true,"up":"3"}"#]
        {
            assert!(frame(body.as_bytes()).is_err(), "{body}");
        }
        let steering = taped(b"{\"name\":\"top\",\"length\":\"\\u001b[2J\"}").unwrap_err();
        assert!(!steering.says.contains('\u{1b}'), "{}", steering.says);
    }

    proptest! {
        #[test]
        fn nothing_panics(body in prop::collection::vec(any::<u8>(), 0..200)) {
            let _ = (word(&body), note(&body), frame(&body), strokes(&body), taped(&body));
        }
    }
}
