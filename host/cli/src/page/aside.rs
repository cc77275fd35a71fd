//! What goes into the record beside the work: notes, photographs, what was taped of the image.

use skimgauge_model::Image;
use skimgauge_page::{Act, Frame, From};
use skimgauge_procedure::{Entry, Word};
use skimgauge_quantity::{Mm, Style, plain, say};
use std::io::Read;
use std::sync::Arc;

/// The frame's lines are so long, of the image's edges.
const SHARE: f64 = 0.8;

/// As an entry, and in words for the terminal.
///
/// # Errors
/// A picture that cannot be read back, in a sentence.
pub(super) fn entry(
    by: From,
    act: Act,
    image: Option<Image>,
) -> Result<(Entry, &'static str), String> {
    match act {
        Act::Note(note) => Ok((Entry::Note(format!("{note} ({by})")), "wrote a note")),
        Act::Frame(frame) => {
            let says = taped(frame, image);
            Ok((Entry::Note(format!("{says} ({by})")), "taped the frame"))
        }
        Act::Photo(mut photo) => {
            let mut bytes = Vec::new();
            photo.file.read_to_end(&mut bytes).map_err(|error| error.to_string())?;
            let name = format!("phone.{}", photo.kind.ending());
            let photo = Entry::Photo {
                name,
                media_type: photo.kind.media_type(),
                caption: by.to_string(),
                bytes: Arc::from(bytes),
            };
            Ok((photo, "sent a photograph"))
        }
        Act::Taped(_) => Err("no length is asked for here".to_owned()),
        Act::Proof(_) => Err("what touches the proof's page, and no proof is at work".to_owned()),
        Act::Say(word) => Err(format!("\"{}\" is a word", spelled(word))),
    }
}

/// What was seen and taped of the image, as a note: with the scale that follows.
fn taped(frame: Frame, image: Option<Image>) -> String {
    let whole = if frame.whole { "whole" } else { "NOT whole" };
    let mut says = format!("Image on the board: {whole}, by its four corner letters");
    let lines = [
        (frame.across, image.map(|image| image.width), "across"),
        (frame.down, image.map(|image| image.height), "down"),
    ];
    for (taped, edge, name) in lines {
        let Some(taped) = taped else { continue };
        let line = match edge {
            Some(edge) => {
                let drawn = edge * SHARE;
                let off = (taped / drawn - 1.0) * 100.0;
                say!(
                    "; line {name} taped {}, drawn {} ({} %)",
                    taped.tape(),
                    drawn.tape(),
                    plain(off, 2).signed()
                )
            }
            None => say!("; line {name} taped {}", taped.tape()),
        };
        says += &line.text(Style::default());
    }
    debug_assert!(frame.across.is_none_or(Mm::is_finite));
    says
}

/// A word that is not offered, as it is sent.
pub(super) fn spelled(word: Word) -> String {
    serde_json::to_string(&word).unwrap_or_default().replace('"', "")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_taped_stands_beside_what_was_drawn() {
        let image = Image { width: Mm(2025.0), height: Mm(1265.6) };
        let frame = Frame { whole: true, across: Some(Mm(1618.0)), down: None };
        assert_eq!(
            taped(frame, Some(image)),
            "Image on the board: whole, by its four corner letters; line across taped 1618 mm, drawn 1620 mm (-0.12 %)"
        );
        let frame = Frame { whole: false, across: None, down: Some(Mm(1000.0)) };
        assert_eq!(
            taped(frame, None),
            "Image on the board: NOT whole, by its four corner letters; line down taped 1000 mm"
        );
    }
}
