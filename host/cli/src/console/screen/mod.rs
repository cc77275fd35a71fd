//! Screens read from two metres: big numbers, few words, never colour alone. [`draw`] is a rendering
//! of a procedure's view and of nothing else.

mod act;
mod bar;
mod face;
mod headline;
mod help;
mod number;
mod picture;
mod room;
mod says;
mod stations;
mod view;

pub(crate) use room::cut;

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style as Paint};
use skimgauge_model::Verdict;
use skimgauge_procedure::View;
use skimgauge_quantity::Style;
use skimgauge_system::terminal::steers;

/// How a view is looked at.
#[derive(Debug, Clone, Copy, Default)]
pub struct Look<'a> {
    /// In which units.
    pub style: Style,
    /// With its words explained over it.
    pub help: bool,
    /// What somebody beside the user says: the practice's installer.
    pub beside: Option<&'a str>,
    /// What the keys of the practice do.
    pub beside_keys: &'a [(&'static str, String)],
}

/// Whether a screen of this size can show a view.
pub fn fits(area: Rect) -> bool {
    view::fits(area)
}

/// Draws a view on the whole screen; nothing in it steers the terminal.
pub fn draw(frame: &mut Frame<'_>, view: &View, look: &Look<'_>) {
    view::draw(frame, view, look);
    steer_nothing(frame.buffer_mut());
}

/// A verdict's colour: blue, orange, grey. Told apart by every kind of colour blindness, and never
/// the only sign.
fn colour(verdict: Option<Verdict>) -> Paint {
    match verdict {
        Some(Verdict::Within) => Paint::new().fg(Color::LightBlue),
        Some(Verdict::Outside) => Paint::new().fg(Color::LightRed).add_modifier(Modifier::BOLD),
        Some(Verdict::Unsure) => Paint::new().fg(Color::LightYellow),
        None => Paint::new(),
    }
}

/// Takes out of a drawn screen what would steer the terminal: names come from files that somebody
/// else may have written, and the screen's library lets marks that have no width, and the line
/// separator, through.
pub fn steer_nothing(drawn: &mut Buffer) {
    for cell in &mut drawn.content {
        if cell.symbol().chars().any(steers) {
            let left: String = cell.symbol().chars().filter(|c| !steers(*c)).collect();
            cell.set_symbol(if left.is_empty() { " " } else { &left });
        }
    }
}
