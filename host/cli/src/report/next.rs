//! The job's steps as text.

use super::paragraph;
use skimgauge_record::When;
use skimgauge_steps::standing::{By, Standing, State, holds_others_up, next};
use skimgauge_steps::{ClosedBy, Step, Typed};

/// Every step, a line each, and what comes next.
pub fn text(job: &Typed<'_>, standings: &[Standing]) -> String {
    let coming = next(standings).map(|standing| standing.step);
    let mut text = format!("{}\n\n", job.name);
    for Standing { step, state } in standings {
        let mark = if Some(*step) == coming { '>' } else { ' ' };
        text += &format!("{mark} {} {:<9} {:<10} ", shape(state), state.word(), step.word());
        text += &format!("{}\n", step.says());
        text += &behind(state).map_or_else(String::new, |line| paragraph(&" ".repeat(27), &line));
    }
    text.push('\n');
    match coming {
        None => {
            text += "Nothing is left to do.\n";
            // A page that was made before the signature does not have it.
            if let Some(page) = Step::Handover.besides(job) {
                text += &format!("The client's page, with all of it:\n  {page} --replace\n");
            }
        }
        Some(step) => {
            text += &format!("Next: {}\n", step.says());
            text += &points(step);
            text += &format!("  {}\n", step.command(job));
            for (blank, what) in step.blanks() {
                text += &paragraph("    ", &format!("{blank}: {what}"));
            }
            if let Some(besides) = step.besides(job) {
                text += &format!("and for the client\n  {besides}\n");
            }
            if let ClosedBy::Person(Some(_)) = step.closed_by() {
                let by_word = format!("or, where it was done elsewhere: --done {}", step.word());
                text += &paragraph("  ", &by_word);
            }
            if let ClosedBy::Command(_) = step.closed_by() {
                text += &paragraph(
                    "  ",
                    &format!("or, to go on without it: --leave-out {} --why TEXT", step.word()),
                );
            }
            if !holds_others_up(standings) {
                text += "Nothing else leans on it.\n";
            }
        }
    }
    text
}

/// What is gone through before a step.
pub fn points(step: Step) -> String {
    let points = step.first();
    if points.is_empty() {
        return String::new();
    }
    let mut text = String::from(
        "Before it, besides the maker's instructions and local rules, which come first:\n",
    );
    for point in points {
        text += &paragraph("  - ", point);
    }
    text
}

/// Shape beside the word: never the word's colour alone.
fn shape(state: &State) -> &'static str {
    match state {
        State::Open { .. } => "[ ]",
        State::Done(_) => "[x]",
        State::Stale { .. } => "[!]",
        State::LeftOut { .. } => "[-]",
    }
}

/// By whom and when, and why it is not done; `None` where nobody has tried.
pub fn behind(state: &State) -> Option<String> {
    Some(match state {
        State::Open { found: None } => return None,
        State::Open { found: Some((by, found)) } => format!("{found} ({})", whom(by)),
        State::Done(by) => whom(by),
        State::Stale { done, by, why } => {
            format!("{why} (event {}); it was done by {}", by.event, whom(done))
        }
        State::LeftOut { by, why } => format!("{why} ({})", whom(by)),
    })
}

fn whom(by: &By) -> String {
    format!("{}, {}, event {}", by.who, minute(by.at), by.event)
}

/// `2026-11-26 14:05`, by the clock on the wall where it was written.
fn minute(at: When) -> String {
    at.to_string().get(..16).unwrap_or_default().replace('T', " ")
}
