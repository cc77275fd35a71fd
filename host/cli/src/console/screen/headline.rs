//! A word or two in big letters, and what else is to be said of it beside them.

use super::{face, room};
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

/// Columns that are left to what stands beside big letters, where there is anything.
const BESIDE: u16 = 22;

/// What is said big.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Headline {
    /// The same thing, the fullest first: the first that fits is drawn. In capitals.
    pub(super) big: Vec<String>,
    /// The fullest as it is written, for where it does not fit in big letters.
    pub(super) full: String,
    /// What else.
    pub(super) beside: String,
    pub(super) style: Style,
}

impl Headline {
    /// From the fullest wording to the trade's one word for it.
    pub(super) fn of(wordings: &[&str], beside: String, style: Style) -> Self {
        Self {
            big: wordings.iter().map(|wording| wording.to_uppercase()).collect(),
            full: wordings.first().map_or_else(String::new, |full| (*full).to_owned()),
            beside,
            style,
        }
    }

    pub(super) fn draw(&self, frame: &mut Frame<'_>, area: Rect) {
        let bold = self.style.add_modifier(Modifier::BOLD);
        let beside = if self.beside.is_empty() { 0 } else { BESIDE };
        let columns = usize::from(area.width.saturating_sub(beside));
        let big = face::first_fitting(&self.big, columns, usize::from(area.height));
        let Some((at, lines)) = big.filter(|_| area.height >= 3) else {
            let text = [self.full.as_str(), &self.beside].map(str::trim).join("   ");
            let line = Line::styled(text.trim_end().to_owned(), bold);
            return draw_words(frame, &[line], area);
        };
        let lines: Vec<Line<'_>> = lines.into_iter().map(|line| Line::styled(line, bold)).collect();
        let wide = lines.first().map_or(0, Line::width);
        let [word, beside] = Layout::horizontal([
            Constraint::Length(u16::try_from(wide).unwrap_or(u16::MAX).saturating_add(2)),
            Constraint::Min(0),
        ])
        .areas(area);
        frame.render_widget(Paragraph::new(lines), word);
        let mut said = Vec::new();
        if at > 0 && at + 1 == self.big.len() {
            said.push(Line::styled(self.full.clone(), bold));
        }
        said.extend(self.beside.lines().map(|line| Line::styled(line.to_owned(), self.style)));
        draw_words(frame, &said, beside);
    }
}

/// Words in their place: what does not fit is seen to be cut.
fn draw_words(frame: &mut Frame<'_>, said: &[Line<'_>], area: Rect) {
    let (columns, rows) = (usize::from(area.width), usize::from(area.height));
    if columns > 0 {
        frame.render_widget(Paragraph::new(room::wrapped(said, columns, rows)), area);
    }
}
