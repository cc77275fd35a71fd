//! Screens read from two metres: big numbers, few words, never colour alone.

pub mod board;
pub mod digits;
pub mod gauge;
pub mod trim;
pub mod watch;
pub mod words;

use ratatui::buffer::Buffer;
use skimgauge_system::terminal::steers;

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
