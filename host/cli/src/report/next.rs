//! The job's steps as text.

use super::{minute, paragraph};
use crate::shape::Shape;
use skimgauge_steps::state::{
    self, By, Standing, State, closed, holds_others_up, is_all_left_out, is_practice, left_out,
    next, not_done,
};
use skimgauge_steps::{ClosedBy, Step, Typed, gate};

/// Every step, a line each, and what comes next; with `open_points` the job was closed with some.
pub fn text(
    job: &Typed<'_>,
    standings: &[Standing],
    of_board: &Shape,
    open_points: bool,
) -> String {
    let coming = next(standings).map(|standing| standing.step);
    let mut text = String::new();
    if let Some(danger) = gate::hangs_unproved(standings) {
        text += &paragraph("", &danger);
        if closed(standings).is_none() {
            let down = job.filled("next --job {job} --leave-out hanging --why TEXT");
            text += &format!("Once it is down, say so:\n  {down}\n");
        }
        text.push('\n');
    }
    text += &format!("{}\n\n", job.name);
    let practice = is_practice(standings);
    if practice {
        text += &paragraph("", PRACTICE);
        text.push('\n');
    }
    for Standing { step, state } in standings {
        let mark = if Some(*step) == coming { '>' } else { ' ' };
        text += &format!("{mark} {} {:<9} {:<10} ", shape(state), state.word(), step.word());
        text += &format!("{}\n", step.says());
        text += &behind(state).map_or_else(String::new, |line| paragraph(&" ".repeat(27), &line));
        let leans: Vec<&str> =
            leans_on_said(*step, state, standings).into_iter().map(Step::word).collect();
        if !leans.is_empty() {
            let line = format!("it leans on {}, which was said and not measured", leans.join(", "));
            text += &paragraph(&" ".repeat(27), &line);
        }
    }
    text.push('\n');
    text += &closed_without(standings);
    text += &match coming {
        None => nothing_left(job, standings, open_points),
        Some(step) => to_do(job, step, standings, of_board),
    };
    text
}

/// Of a closed job what it was closed without: nothing can be added to it any more.
fn closed_without(standings: &[Standing]) -> String {
    let open: Vec<&str> = not_done(standings).into_iter().map(Step::word).collect();
    let Some(by) = closed(standings).filter(|_| !open.is_empty()) else { return String::new() };
    let says = format!(
        "The job is closed ({}), and nothing can be added to it but a signature. It was closed \
         without: {}. Further work is another job: give it a name of its own in its job file, \
         under [job].",
        whom(by),
        open.join(", ")
    );
    paragraph("", &says)
}

fn nothing_left(job: &Typed<'_>, standings: &[Standing], open_points: bool) -> String {
    let mut text = if is_all_left_out(standings) {
        "Every step was left out: nothing was done, and nothing was measured.\n"
    } else if is_practice(standings) {
        "Nothing is left to practise. On the board itself all of it is to be done.\n"
    } else if not_done(standings).is_empty() && left_out(standings).is_empty() && !open_points {
        "Nothing is left to do.\n"
    } else {
        ""
    }
    .to_owned();
    text += &only_said(standings);
    text += &without(standings);
    if open_points {
        text += "The job was closed with open points: the client's page names them.\n";
    }
    // A page that was made before the signature does not have it.
    if let Some(page) = Step::Handover.besides(job) {
        text += &format!("The client's page, with all of it:\n  {page} --replace\n");
    }
    text
}

/// The one command for a step, as things stand.
pub fn command(step: Step, job: &Typed<'_>, of_board: &Shape) -> String {
    let of_shape = (step == Step::Survey).then(|| of_board.command(job)).flatten();
    of_shape.unwrap_or_else(|| step.command(job))
}

fn to_do(job: &Typed<'_>, step: Step, standings: &[Standing], of_board: &Shape) -> String {
    let mut text = format!("Next: {}\n", step.says());
    text += &points(step);
    let of_shape = of_board.first().filter(|_| step == Step::Survey);
    text += &of_shape.map_or_else(String::new, |first| paragraph("  ", first));
    text += &format!("  {}\n", command(step, job, of_board));
    if !gate::missing(step, standings).is_empty() && step == Step::Hanging {
        text += &paragraph("    ", &format!("It is refused as it stands.{}", job.anchors()));
    }
    for (blank, what) in step.blanks().filter(|_| of_shape.is_none()) {
        text += &paragraph("    ", &format!("{blank}: {what}"));
    }
    if step == Step::Trim {
        text += &format!("where it asks for places to be surveyed\n  {}\n", of_board.further(job));
        text += &paragraph(
            "    ",
            "N: as many as it asks for; then name that table in the job file, under [survey]",
        );
    }
    if let Some(besides) = step.besides(job) {
        text += &format!("and for the client\n  {besides}\n");
    }
    if let ClosedBy::Person(Some(_)) = step.closed_by() {
        let by_word = format!(
            "or, where it was done elsewhere: --done {}; it is then said, not measured",
            step.word()
        );
        text += &paragraph("  ", &by_word);
    }
    if step == Step::Fixings && closed(standings).is_none() {
        let by_name = "or, where only a proof load is not made: --done fixings --why TEXT; it is then \
            said, not measured, with your name";
        text += &paragraph("  ", by_name);
    }
    // Once the job is closed no more is said of it.
    let hangs = step == Step::Fixings && gate::hangs_unproved(standings).is_some();
    if matches!(step.closed_by(), ClosedBy::Command(_)) && closed(standings).is_none() && !hangs {
        let without = format!("or, to go on without it: --leave-out {} --why TEXT", step.word());
        text += &paragraph("  ", &without);
    }
    if !holds_others_up(standings) {
        text += "Nothing else leans on it.\n";
    }
    text
}

/// Above the steps of a practice.
const PRACTICE: &str = "PRACTICE: what is simulated here was read of a simulated head. Nothing of it was measured on \
    a board, and nothing of it is done.";

/// What was left out, where something was done beside it.
fn without(standings: &[Standing]) -> String {
    let words: Vec<&str> = left_out(standings).into_iter().map(Step::word).collect();
    match words.is_empty() || is_all_left_out(standings) {
        true => String::new(),
        false => paragraph(
            "",
            &format!("Left out, and open points for the client: {}.", words.join(", ")),
        ),
    }
}

/// What was only said and is still to be measured, if anybody wants to know it.
fn only_said(standings: &[Standing]) -> String {
    let said = standings.iter().filter(|standing| matches!(standing.state, State::Said { .. }));
    let words: Vec<&str> = said.map(|standing| standing.step.word()).collect();
    match words.is_empty() {
        true => String::new(),
        false => paragraph("", &format!("Said and not measured: {}.", words.join(", "))),
    }
}

/// On which steps one that was measured leans that were only said.
pub fn leans_on_said(step: Step, state: &State, standings: &[Standing]) -> Vec<Step> {
    let measured = matches!(state, State::Done(_)) && step.closed_by() != ClosedBy::Person(None);
    if measured { state::leans_on_said(step, standings) } else { Vec::new() }
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
        State::Said { .. } => "[\"]",
        State::Simulated(_) => "[~]",
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
        State::Said { by, .. } => {
            let says = state.not_measured().unwrap_or_default();
            format!("{says} ({}, event {})", minute(by.at), by.event)
        }
        State::Simulated(by) => format!("practised, nothing was measured ({})", whom(by)),
        State::Stale { done, by, why } => {
            let event = by.as_ref().map_or_else(String::new, |by| format!(" (event {})", by.event));
            format!("{why}{event}; it was done by {}", whom(done))
        }
        State::LeftOut { by, why } => format!("{why} ({})", whom(by)),
    })
}

fn whom(by: &By) -> String {
    format!("{}, {}, event {}", by.who, minute(by.at), by.event)
}
