//! What to do now, and where, in big letters.

use super::colour;
use super::headline::Headline;
use super::number;
use skimgauge_procedure::view::emitter_off::EmitterOffView;
use skimgauge_procedure::view::trim::{Advice, TrimView};
use skimgauge_procedure::view::{Part, State};
use skimgauge_procedure::{Stop, View};
use skimgauge_quantity::{Rotation, Style, Turns, count};

/// What to do now.
pub(super) fn headline(view: &View) -> Headline {
    let wordings = wordings(view);
    let wordings: Vec<&str> = wordings.iter().map(String::as_str).collect();
    let verdict = (view.state == State::Over)
        .then(|| view.whole.as_ref().map(|whole| whole.verdict))
        .flatten();
    let paint = if verdict.is_some() { colour(verdict) } else { ratatui::style::Style::new() };
    Headline::of(&wordings, String::new(), paint)
}

/// From the fullest to the trade's one word.
fn wordings(view: &View) -> Vec<String> {
    let place = place(view);
    let at = |full: &str, word: &str| match &place {
        Some(place) => {
            vec![format!("{full} {place}"), format!("{word} {place}"), word.to_owned()]
        }
        None => vec![word.to_owned()],
    };
    match view.state {
        State::Lost => vec!["head lost".to_owned()],
        State::Asked => vec!["yes or no?".to_owned()],
        State::Saving => vec!["saving".to_owned()],
        State::Taken => vec!["taken".to_owned()],
        State::Waiting => vec!["waiting".to_owned()],
        State::Over => match &view.whole {
            Some(whole) => {
                let (shape, word) = (whole.verdict.shape(), whole.verdict.shown());
                vec![format!("done {shape} {word}"), format!("{shape} {word}"), "done".to_owned()]
            }
            None => vec!["done".to_owned()],
        },
        _ if matches!(view.part, Part::Level(_) | Part::Zero(_) | Part::Birth(_)) => of_step(view),
        State::Hold if matches!(view.emitter_off, Some(EmitterOffView::Off { .. })) => {
            vec!["keep it off".to_owned(), "off".to_owned()]
        }
        State::Hold if view.emitter_off == Some(EmitterOffView::On) => {
            vec!["switch it on".to_owned(), "light on".to_owned()]
        }
        State::Ready if view.emitter_off == Some(EmitterOffView::Offered) => {
            if view.live.gap.good().is_none() {
                return vec!["say it is off".to_owned(), "it is off".to_owned()];
            }
            vec!["switch it off".to_owned(), "light off".to_owned()]
        }
        State::Turn => turn(view),
        _ if advice(view) == Some(&Advice::Begin) => {
            vec!["begin to turn".to_owned(), "begin".to_owned()]
        }
        _ if advice(view) == Some(&Advice::Survey) => vec!["survey it".to_owned()],
        State::Move => at(if number::at_emitter(view) { "hold on" } else { "clip at" }, "to"),
        State::Hold => match &place {
            Some(place) => {
                vec![format!("wait at {place}"), format!("{place}: wait"), "wait".to_owned()]
            }
            None => vec!["wait".to_owned()],
        },
        State::Ready => at("take at", "take"),
    }
}

/// A level's or a zeroing's own step.
fn of_step(view: &View) -> Vec<String> {
    match &view.part {
        Part::Level(level) if level.marked => {
            vec!["turn end for end".to_owned(), "turn it".to_owned()]
        }
        Part::Level(level) if level.thing.is_empty() => vec!["mark it".to_owned()],
        Part::Level(level) => vec![level.thing.clone(), "level".to_owned()],
        Part::Zero(zero) => {
            let step = zero.now.and_then(|now| zero.steps.get(now));
            let name = step.map_or_else(String::new, |step| step.name.text(Style::default()));
            vec![name, "zero".to_owned()]
        }
        Part::Birth(birth) => {
            let step = birth.now.and_then(|now| birth.steps.get(now));
            let name = step.map_or_else(String::new, |step| step.name.text(Style::default()));
            vec![name, step.map_or("step", |step| step.key).to_owned()]
        }
        _ => Vec::new(),
    }
}

fn advice(view: &View) -> Option<&Advice> {
    match &view.part {
        Part::Trim(trim) => Some(&trim.advice),
        _ => None,
    }
}

fn turn(view: &View) -> Vec<String> {
    let Part::Trim(trim) = &view.part else { return vec!["turn".to_owned()] };
    let Some(turn) = &trim.turn else { return vec!["turn".to_owned()] };
    let Some(rotation) = turn.left.rotation() else {
        return vec![format!("turn {}", turn.name), "turn".to_owned()];
    };
    if turn.back {
        return vec!["turn it back".to_owned(), "back".to_owned()];
    }
    let (arrow, much) = (rotation.arrow(), eighths(turn.left));
    let way = match rotation {
        Rotation::Clockwise => "clockwise",
        Rotation::Anticlockwise => "anticlockwise",
    };
    vec![
        format!("turn {} {arrow} {much}", turn.name),
        format!("{} {arrow} {much}", turn.name),
        format!("{arrow} {much}"),
        way.to_owned(),
    ]
}

/// Turns in eighths, as short as digits say them: `1 3/4`.
fn eighths(turns: Turns) -> String {
    let eighths = (turns.0.abs() * 8.0).round().min(800.0) as u32;
    let (whole, rest) = (eighths / 8, eighths % 8);
    let halvings = rest.trailing_zeros().min(3);
    let part = format!("{}/{}", rest >> halvings, 8 >> halvings);
    match (whole, rest) {
        (0, 0) => "a touch".to_owned(),
        (whole, 0) => whole.to_string(),
        (0, _) => part,
        (whole, _) => format!("{whole} {part}"),
    }
}

/// Where.
fn place(view: &View) -> Option<String> {
    let here = view.place.as_ref()?;
    Some(match here.stop {
        Stop::Emitter => "emitter".to_owned(),
        Stop::Station(_) => here.place.name().unwrap_or("here").to_owned(),
    })
}

/// Stations are still taken: the turns come later.
fn takes(trim: &TrimView) -> bool {
    matches!(trim.advice, Advice::Take { .. } | Advice::TakeEmitter)
}

/// About how long it takes yet.
fn time(trim: &TrimView, style: Style) -> String {
    trim.time_left.as_ref().map_or_else(String::new, |time| format!(", {}", time.text(style)))
}

/// How far the whole is, and about how long it takes yet.
pub(super) fn progress(view: &View, style: Style) -> (String, String) {
    let taken = |of: usize, taken: usize| format!("{taken} of {of} taken");
    let progress = match (&view.part, &view.whole) {
        (Part::Survey(survey), _) => taken(survey.of, survey.taken),
        (Part::Trim(trim), _) if trim.turns_left > 0 && !takes(trim) => {
            format!("round {}, {} left", trim.round, count(trim.turns_left, "turn"))
        }
        (Part::Trim(trim), Some(whole)) => {
            let taken = taken(view.stations.len(), whole.taken);
            format!("round {}, {taken}", trim.round)
        }
        (Part::Level(level), _) => level.target.map_or_else(String::new, |target| {
            format!("target {}", target.low.figure().to(target.high.figure()).text(style))
        }),
        (_, Some(whole)) => taken(view.stations.len(), whole.taken),
        _ => String::new(),
    };
    let time = match &view.part {
        Part::Trim(trim) => time(trim, style),
        _ => String::new(),
    };
    (progress, time)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_are_short_in_digits() {
        for (turns, said) in [
            (0.03, "a touch"),
            (-0.13, "1/8"),
            (0.26, "1/4"),
            (0.72, "3/4"),
            (1.0, "1"),
            (-2.5, "2 1/2"),
        ] {
            assert_eq!(eighths(Turns(turns)), said);
        }
    }
}
