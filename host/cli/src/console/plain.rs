//! A procedure's view and its news as lines for people.

use super::constants;
use crate::lengths::Lengths;
use skimgauge_procedure::view::birth::{BirthSees, BirthView};
use skimgauge_procedure::view::level::LevelView;
use skimgauge_procedure::view::{Part, Reading};
use skimgauge_procedure::{Message, News, Stop, View, Word};
use skimgauge_quantity::{Deg, MmPerM, Style, count, shown, shown_lines};

/// How things stand, in one line.
pub fn line(view: &View, style: Style) -> String {
    let line = match &view.part {
        Part::Level(level) => of_level(view, level, style),
        Part::Zero(zero) => {
            let step = zero.now.and_then(|now| Some((now + 1, zero.steps.get(now)?)));
            let step = match (step, zero.gathered) {
                (Some((_, step)), Some(readings)) => {
                    format!("{}: {}", step.name.text(style), count(readings, "reading"))
                }
                (Some((number, step)), None) => {
                    format!("step {number} of {}: {}", zero.steps.len(), step.name.text(style))
                }
                (None, _) if zero.steps.is_empty() => "check".to_owned(),
                (None, _) => "every step is made".to_owned(),
            };
            format!("{step}   {}", constants::seen(view, zero, style))
        }
        Part::Birth(birth) => of_birth(view, birth, style),
        // Nothing else counts before it is answered.
        _ => match &view.question {
            Some(question) => format!("? {} (yes or no)", question.asks.text(style)),
            None => of_place(view, style),
        },
    };
    // Names come from files that somebody else may have written.
    shown(line.trim_end()).into_owned()
}

fn of_place(view: &View, style: Style) -> String {
    // The gap is that of where the head stands, not of where it is to go.
    let due = view.place.as_ref().and_then(|place| place.place.name()).unwrap_or("");
    let place = view.still_at().unwrap_or(due);
    let on_emitter = view.place.as_ref().is_some_and(|place| place.stop == Stop::Emitter);
    let unit = style.units.sign();
    let gap = match view.live.gap {
        // On the emitter the head looks at nothing: its tilt is what counts.
        _ if on_emitter => String::new(),
        Reading::Good { value, .. } => {
            let verdict = view.live.verdict.filter(|_| view.still_at().is_none());
            let verdict = verdict.map_or("", |verdict| verdict.shown());
            format!("gap {:>6} {unit}  {verdict}", value.gap().number(style))
        }
        Reading::Doubtful { value, why } => {
            let number = value.gap().number(style);
            format!("gap {number:>6} {unit}?  doubtful: {}", why.name())
        }
        Reading::Absent { why } => format!("gap   --   {unit}  no value: {}", why.name()),
    };
    let tilt = |reading: Reading<Deg>| match reading {
        Reading::Good { value, .. } => value.figure().signed().text(style),
        Reading::Doubtful { value, .. } => value.figure().signed().text(style) + "?",
        Reading::Absent { .. } => "--".to_owned(),
    };
    let odd = view.whole.as_ref().map_or(&[][..], |whole| &whole.odd);
    let contradict = match odd {
        [] => String::new(),
        odd => format!("  ! the takes contradict one another: {}", odd.join(", ")),
    };
    format!(
        "{place:<14} {gap:<34} level {:>7}  lean {:>7}  {}{contradict}",
        tilt(view.live.level),
        tilt(view.live.lean),
        view.live.says.text(style)
    )
}

fn of_birth(view: &View, birth: &BirthView, style: Style) -> String {
    let step = birth.now.and_then(|now| Some((now + 1, birth.steps.get(now)?)));
    let Some((number, step)) = step else { return view.instruction.text(style) };
    let read = match birth.gathered {
        Some(readings) => count(readings, "reading"),
        None => birth_sees(view, birth, style),
    };
    format!("step {number} of {}: {}   {read}", birth.steps.len(), step.name.text(style))
}

/// What has to be seen of the head during a step of its first start.
pub fn birth_sees(view: &View, birth: &BirthView, style: Style) -> String {
    let tilt = |tilt: Reading<Deg>| {
        tilt.good().map_or("-".to_owned(), |deg| deg.figure().signed().number(style))
    };
    match birth.sees {
        BirthSees::Tilt => {
            format!("level {}  lean {} degrees", tilt(view.live.level), tilt(view.live.lean))
        }
        BirthSees::StandOff => {
            let mm = view.live.stand_off.map_or("-".to_owned(), |mm| mm.gap().text(style));
            format!("stand-off {mm}")
        }
        BirthSees::Nothing => String::new(),
    }
}

fn of_level(view: &View, level: &LevelView, style: Style) -> String {
    let axis = |tilt: Reading<Deg>, slope: Reading<MmPerM>| match (tilt, slope.good()) {
        (Reading::Good { value, .. }, Some(slope)) => {
            let (deg, slope) = (value.fine().signed(), slope.figure().signed());
            format!("{:>8} {:>12}", deg.text(style), slope.text(style))
        }
        (other, _) => {
            format!("{:<21}", other.why().map_or("not known", |why| why.name()))
        }
    };
    let rests = if view.live.rests { "at rest" } else { "moving" };
    format!(
        "level {} | lean {} | {rests}",
        axis(view.live.level, level.level_slope),
        axis(view.live.lean, level.lean_slope)
    )
}

/// Something that happened, in one line; `None` for what the next line of [`line()`] shows.
pub fn news(news: &News, style: Style) -> Option<String> {
    let said = |mark: &str, message: &Message| {
        let ways = message.answers.first().map_or("", |yes| match yes {
            Word::Yes => " (yes: type yes, or hold the head's button; no: any other word)",
            Word::Go(Stop::Emitter) => " (if it is, type emitter)",
            Word::Begin => " (when it is off, type begin; to leave it out, skip)",
            _ => "",
        });
        format!("  {mark} {}{ways}", message.says.text(style))
    };
    let line = match news {
        News::Message(message) => said(">", message),
        News::Guide(message) => said(if message.bad { "!" } else { "*" }, message),
        News::Advice { says, .. } => format!("  > {}", says.text(style)),
        News::Levelled(found) => format!("  * {}", found.says.text(style)),
        News::Step(says) => says.text(style),
        News::Constants(outcome) => {
            let text = format!("\n{}", constants::outcome(outcome, Lengths(style.units)));
            return Some(shown_lines(&text).into_owned());
        }
        News::Take { .. } | News::Tilt { .. } => return None,
    };
    Some(shown(&line).into_owned())
}
