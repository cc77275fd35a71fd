//! Sentences on the screen: who is there, what matters now, which keys there are.

use super::{act, colour, room};
use crate::console::keys;
use ratatui::style::{Modifier, Style as Paint};
use ratatui::text::Line;
use skimgauge_model::Verdict;
use skimgauge_procedure::view::{LinkView, Part, Question};
use skimgauge_procedure::{View, Word};
use skimgauge_quantity::{Sentence, Style, count};

/// The job, the head, and how far the work is.
pub(super) fn title(view: &View, style: Style, columns: usize) -> Line<'static> {
    /// Of a long job's name at least so much is left.
    const NAME: usize = 8;
    let link = match &view.link {
        LinkView::Greeting => "looking for the head",
        LinkView::Up { head } => head.as_deref().unwrap_or("a head without a number"),
        // What to do is said below.
        LinkView::Lost { .. } => "no head",
    };
    let still = view.still_at().map(|still| format!("head still at {still}"));
    let lost = view.counts.lost;
    let lost = (lost > 0).then(|| format!("{} lost", count(lost, "reading")));
    let now = [still, lost].into_iter().flatten();
    let (progress, time) = act::progress(view, style);
    // What is so now is left whole: how long it may take goes first, then which head it is.
    let up = matches!(view.link, LinkView::Up { .. });
    let shorter = [
        vec![link.to_owned(), progress.clone() + &time],
        vec![link.to_owned(), progress.clone()],
        if up { vec![progress] } else { vec![link.to_owned(), progress] },
    ];
    let rest = shorter.map(|parts| {
        let parts = parts.into_iter().chain(now.clone()).filter(|part| !part.is_empty());
        format!("   {} ", parts.collect::<Vec<_>>().join("   "))
    });
    // The name of the job matters less than where the head is.
    let left = |rest: &String| columns.saturating_sub(wide(rest) + 1);
    let name = wide(view.title.trim()).min(NAME);
    let rest = rest.iter().find(|rest| left(rest) >= name).unwrap_or(&rest[2]);
    let text = format!(" {}{rest}", room::cut(view.title.trim(), left(rest).max(name)));
    Line::styled(room::cut(&text, columns), Paint::new().add_modifier(Modifier::REVERSED))
}

fn wide(text: &str) -> usize {
    Line::raw(text).width()
}

/// How urgent a sentence is: a small screen lets go of the last ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Urgency {
    /// Words are let go meanwhile.
    Saving,
    /// The one thing to do, or that the head is gone.
    Do,
    /// Something went wrong just now.
    Wrong,
    /// What is shown may not be believed, and what to do about it.
    Doubt,
    /// What was found wrong before, and still holds.
    WentWrong,
    /// Good news.
    Said,
    /// What would make it surer still, and can wait.
    Advice,
}

/// What matters now, the most urgent first.
pub(super) fn sentences(view: &View, style: Style, columns: usize) -> Vec<Line<'static>> {
    let bold = Paint::new().add_modifier(Modifier::BOLD);
    let urgent = bold.add_modifier(Modifier::REVERSED);
    if let Some(question) = &view.question {
        let asked = format!(" ? {} ", question.asks.text(style));
        let answers = answers(view, question);
        return vec![Line::styled(asked, urgent), Line::styled(answers, bold)];
    }
    let mut lines = Vec::new();
    if let Some(what) = &view.saving {
        let says = format!(" … saving {} ", what.text(style));
        lines.push((Urgency::Saving, Line::styled(says, urgent)));
    }
    let instruction = view.instruction.text(style);
    if let LinkView::Lost { trouble } = &view.link {
        lines.push((Urgency::Do, Line::styled(trouble.text(style), bold)));
    } else if !instruction.is_empty() {
        lines.push((Urgency::Do, Line::styled(format!("▶ {instruction}"), bold)));
    }
    let contradicts = view.whole.as_ref().and_then(|whole| whole.contradicts.as_ref());
    // Said for as long as it is so, and once.
    let lasting = contradicts.map(|says| said(format!("! {}", says.text(style)), true));
    lines.extend(lasting.map(|line| (Urgency::Wrong, line)));
    let is_new = |says: &Sentence| contradicts != Some(says);
    if let Some(message) = view.message.as_ref().filter(|message| is_new(&message.says)) {
        let urgency = if message.bad { Urgency::Wrong } else { Urgency::Said };
        lines.push((urgency, said(message.says.text(style), message.bad)));
    }
    // The instruction may say it already.
    let measures = view.measures();
    if let Some(fault) = view.in_the_way.as_ref().filter(|_| measures) {
        let (says, remedy) = (fault.says.text(style), fault.remedy.text(style));
        if !instruction.contains(&remedy) {
            lines.push((Urgency::Doubt, Line::raw(format!("{says} {remedy}"))));
        }
    }
    if let Part::Trim(trim) = &view.part
        && let Some(last) = trim.said.last()
        && view.message.as_ref().is_none_or(|message| message.says != last.says)
        && is_new(&last.says)
    {
        let urgency = if last.bad { Urgency::WentWrong } else { Urgency::Said };
        lines.push((urgency, said(last.says.text(style), last.bad)));
    }
    if let Some(advice) = view.advice().filter(|_| measures) {
        // In one row: it stands there for as long as it is so.
        let says = format!("{}: {}", advice.name, advice.remedy.text(style));
        let dim = Paint::new().add_modifier(Modifier::DIM);
        lines.push((Urgency::Advice, Line::styled(room::cut(&says, columns), dim)));
    }
    lines.sort_by_key(|(urgency, _)| *urgency);
    lines.into_iter().map(|(_, line)| line).collect()
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
    let cautions: Vec<String> = view.cautions.iter().map(|caution| caution.text(style)).collect();
    let last = match (beside, &cautions[..]) {
        // The last is on every screen of this kind; those before it are of what is so now.
        (Some(says), [now @ .., _]) => {
            let all = [now, &[says.to_owned()]].concat().join(" ");
            Line::styled(room::cut(&all, columns), Paint::new().add_modifier(Modifier::BOLD))
        }
        (Some(says), []) => {
            Line::styled(room::cut(says, columns), Paint::new().add_modifier(Modifier::BOLD))
        }
        (None, cautions) => Line::styled(room::cut(&cautions.join(" "), columns), dim),
    };
    vec![keys, last]
}
