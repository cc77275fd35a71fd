//! Sentences on the screen: who is there, what matters now, which keys there are.

use super::view::pauses;
use super::{act, colour, room};
use crate::console::keys;
use ratatui::style::{Modifier, Style as Paint};
use ratatui::text::Line;
use skimgauge_model::Verdict;
use skimgauge_procedure::view::{LinkView, Part, Question, State};
use skimgauge_procedure::{View, Word};
use skimgauge_quantity::Style;

/// The job, the head, and how far the work is.
pub(super) fn title(view: &View, style: Style, columns: usize) -> Line<'static> {
    /// Of a long job's name at least so much is left.
    const NAME: usize = 12;
    let link = match &view.link {
        LinkView::Greeting => "looking for the head",
        LinkView::Up { head } => head.as_deref().unwrap_or("a head without a number"),
        // What to do is said below.
        LinkView::Lost { .. } => "no head",
    };
    let lost = match view.counts.lost {
        0 => String::new(),
        1 => "   1 reading lost".to_owned(),
        lost => format!("   {lost} readings lost"),
    };
    let progress = act::progress(view, style);
    let rest = [link, &progress].map(str::trim).join("   ");
    let rest = format!("   {}{lost} ", rest.trim_end());
    // The name of the job matters less than where the head is.
    let left = columns.saturating_sub(Line::raw(rest.as_str()).width() + 1).max(NAME);
    let text = format!(" {}{rest}", room::cut(view.title.trim(), left));
    Line::styled(room::cut(&text, columns), Paint::new().add_modifier(Modifier::REVERSED))
}

/// What matters now, the most important first.
pub(super) fn sentences(view: &View, style: Style) -> Vec<Line<'static>> {
    let bold = Paint::new().add_modifier(Modifier::BOLD);
    let urgent = bold.add_modifier(Modifier::REVERSED);
    if let Some(question) = &view.question {
        let asked = format!(" ? {} ", question.asks.text(style));
        let answers = answers(view, question);
        return vec![Line::styled(asked, urgent), Line::styled(answers, bold)];
    }
    let mut lines = Vec::new();
    if let Some(what) = &view.saving {
        lines.push(Line::styled(format!(" … saving {} ", what.text(style)), urgent));
    }
    let instruction = view.instruction.text(style);
    if let LinkView::Lost { trouble } = &view.link {
        lines.push(Line::styled(trouble.text(style), bold));
    } else if !instruction.is_empty() {
        lines.push(Line::styled(format!("▶ {instruction}"), bold));
    }
    if let Some(message) = &view.message {
        lines.push(said(message.says.text(style), message.bad));
    }
    // The instruction may say it already; and a head on its way elsewhere measures nothing.
    let measures = view.state != State::Move && !pauses(view);
    if let Some(fault) = view.in_the_way.as_ref().filter(|_| measures) {
        let (says, remedy) = (fault.says.text(style), fault.remedy.text(style));
        if !instruction.contains(&remedy) {
            lines.push(Line::raw(format!("{says} {remedy}")));
        }
    }
    if let Part::Trim(trim) = &view.part
        && let Some(last) = trim.said.last()
        && view.message.as_ref().is_none_or(|message| message.says != last.says)
    {
        lines.push(said(last.says.text(style), last.bad));
    }
    lines
}

fn said(text: String, bad: bool) -> Line<'static> {
    Line::styled(text, if bad { colour(Some(Verdict::Outside)) } else { Paint::new() })
}

/// How a question is answered.
fn answers(view: &View, question: &Question) -> String {
    if let Part::Birth(_) = view.part {
        return format!("yes: {}   no: {}", keys::press(Word::Yes), keys::press(Word::No));
    }
    let button = if question.yes_by_button { ", or hold the head's button" } else { "" };
    format!("yes: {}{button}   no: any other key", keys::press(question.yes))
}

/// The keys, or what somebody beside the user says, and the cautions.
pub(super) fn foot(
    view: &View,
    beside: Option<&str>,
    style: Style,
    columns: usize,
) -> Vec<Line<'static>> {
    let dim = Paint::new().add_modifier(Modifier::DIM);
    let keys = Line::styled(keys::line(view, columns), dim);
    let last = match beside {
        Some(says) => {
            Line::styled(room::cut(says, columns), Paint::new().add_modifier(Modifier::BOLD))
        }
        None => {
            let cautions: Vec<String> =
                view.cautions.iter().map(|caution| caution.text(style)).collect();
            Line::styled(room::cut(&cautions.join(" "), columns), dim)
        }
    };
    vec![keys, last]
}
