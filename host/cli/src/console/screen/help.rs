//! What the words on this screen mean, and what its keys do.

use super::{Look, room};
use crate::console::keys;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style as Paint};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Block, Borders, Clear, Paragraph, Wrap};
use skimgauge_procedure::view::Part;
use skimgauge_procedure::{Stop, View, Word};
use skimgauge_quantity::{Style, count};

/// A word and what it means, in one line of 78 columns.
type Meaning = (&'static str, &'static str);

const GAP: &[Meaning] = &[
    ("gap", "from the board's face to the sheet of invisible light over it"),
    ("band", "what the gap may be, from the job file"),
    ("● within", "the gap, its doubt included, lies in the band"),
    ("✕ outside", "the gap, its doubt included, lies outside the band"),
    ("◐ too close", "it may be either; more takes or a better zero would settle it"),
    ("? doubtful", "measured and not to be believed; it cannot be taken"),
    ("no value", "not measured; the line beside it says why"),
    ("±", "19 times in 20 the true gap is no further off than this"),
    ("seat", "one placing of the head; lifted and put back, it is another"),
    ("station", "a place at the image's edge where the head is clipped on"),
    ("take", "a reading that had come to rest and was kept"),
    ("emitter", "the unit that throws the light; the head on it reads its tilt"),
];

const TRIM: &[Meaning] = &[
    ("round", "take the stations, then turn the adjusters"),
    ("adjuster", "one of the emitter's three screws, named by where it sits"),
    ("↻ ↺", "clockwise and anticlockwise, as you look at the adjuster's head"),
    ("to go", "from the live gap to what it should come to; ▲ more, ▼ less"),
];

const LEVEL: &[Meaning] = &[
    ("level", "roll in the board's plane; + where the right side is high"),
    ("lean", "tilt toward or from the board; + where the top comes to you"),
    ("target", "what level and lean may be"),
    ("mark", "keep this angle; then turn the head end for end and mark again:"),
    ("", "the head's own error cancels"),
];

const ZERO: &[Meaning] = &[
    ("zero", "finding the head's own constants, on a gauge of known heights"),
    ("gauge", "the block with a slit at known heights, stood on the board"),
    ("stand-off", "from the head's laser to the board's face"),
    ("eye", "the line of pixels in the head that looks at the sheet of light"),
];

const BIRTH: &[Meaning] = &[
    ("first start", "what a head that was built just now is asked and shown"),
    ("● good", "as it should be"),
    ("✕ fault", "something is wrong; parts, wires and points to measure are said"),
    ("– not seen", "left out, or another fault stood before it"),
    ("stand-off", "from the head's laser to what it stands on"),
    ("eye", "the line of pixels in the head that looks at the sheet of light"),
];

/// Words that stand on other screens and in what is said here.
const MORE: &[Meaning] = &[
    ("level", "roll in the board's plane; + where the right side is high"),
    ("lean", "tilt toward or from the board; + where the top comes to you"),
    ("eye", "the line of pixels in the head that looks at the sheet of light"),
];

fn meanings(view: &View) -> Vec<Meaning> {
    let parts: &[&[Meaning]] = match view.part {
        Part::Takes | Part::Survey(_) => &[GAP, MORE, TRIM],
        Part::Trim(_) => &[TRIM, GAP, MORE],
        Part::Level(_) => &[LEVEL],
        Part::Zero(_) => &[ZERO],
        Part::Birth(_) => &[BIRTH, LEVEL],
    };
    parts.concat()
}

/// What each key does; one key has one line.
fn what_keys_do(view: &View, style: Style) -> Vec<(&'static str, String)> {
    let mut all: Vec<(&'static str, String)> = Vec::new();
    for offer in &view.words {
        let Some((key, _)) = keys::key(offer.word) else { continue };
        let does = match offer.word {
            Word::Go(Stop::Station(_)) => "go to the station of that number".to_owned(),
            _ => offer.does.text(style),
        };
        match all.iter_mut().find(|(known, _)| *known == key) {
            Some((_, known)) if *known == does => (),
            Some((_, known)) => *known = format!("{known}; {does}"),
            None => all.push((key, does)),
        }
    }
    all
}

/// Over the whole screen: the keys first, then as many words as there is room for.
pub(super) fn draw(frame: &mut Frame<'_>, view: &View, look: &Look<'_>, area: Rect) {
    let bold = Paint::new().add_modifier(Modifier::BOLD);
    let mut block =
        Block::new().borders(Borders::ALL).title(" what is on this screen   (any key closes it) ");
    let inner = block.inner(area);
    let mut lines = Vec::new();
    for (key, does) in what_keys_do(view, look.style) {
        lines.push(Line::from(vec![Span::styled(format!("{key:<12}"), bold), Span::raw(does)]));
    }
    for (key, does) in look.beside_keys {
        lines.push(Line::from(vec![Span::styled(format!("{key:<12}"), bold), Span::raw(does)]));
    }
    // What somebody beside the user says stands at the foot, which this hides.
    if let Some(says) = look.beside.filter(|_| look.beside_keys.is_empty()) {
        lines.extend(room::wrapped(&[Line::raw(says.to_owned())], inner.width.into(), 2));
    }
    let room = usize::from(inner.height).saturating_sub(lines.len());
    let meanings = meanings(view);
    if let Some(more) = meanings.len().checked_sub(room).filter(|more| *more > 0) {
        let says = format!(" … {} on a taller window ", count(more, "more word"));
        block = block.title_bottom(Line::from(says).right_aligned());
    }
    for (word, means) in meanings.into_iter().take(room) {
        lines.push(Line::from(vec![Span::styled(format!("{word:<12}"), bold), Span::raw(means)]));
    }
    frame.render_widget(Clear, area);
    frame.render_widget(Paragraph::new(lines).wrap(Wrap { trim: false }).block(block), area);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_meaning_fits_a_line_of_78_columns() {
        for (word, means) in [GAP, TRIM, LEVEL, ZERO, BIRTH, MORE].concat() {
            assert!(word.chars().count() < 12 && means.chars().count() <= 66, "{word}: {means}");
        }
    }
}
