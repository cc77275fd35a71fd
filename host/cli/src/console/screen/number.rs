//! What the digits show, and the word under them.

use super::colour;
use super::face::Ink;
use super::headline::Headline;
use crate::console::constants;
use skimgauge_model::Verdict;
use skimgauge_procedure::Stop;
use skimgauge_procedure::View;
use skimgauge_procedure::view::birth::BirthSees;
use skimgauge_procedure::view::level::LevelView;
use skimgauge_procedure::view::{Aim, Part, Reading};
use skimgauge_quantity::{Deg, Figure, Mm, Style};

/// A number in digits.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Number {
    /// What it is: `level`; empty where there is but one.
    pub(super) called: &'static str,
    pub(super) text: String,
    pub(super) ink: Ink,
    pub(super) style: ratatui::style::Style,
}

/// The numbers, the most important first.
pub(super) fn numbers(view: &View, style: Style) -> Vec<Number> {
    let live = &view.live;
    match &view.part {
        Part::Level(level) => {
            let tilt = |called, tilt, verdict| Number {
                called,
                ..number(tilt, |deg: Deg| deg.figure().signed(), verdict, style)
            };
            vec![
                tilt("level", live.level, level.level_verdict),
                tilt("lean", live.lean, level.lean_verdict),
            ]
        }
        Part::Zero(zero) => {
            let text = match (zero.gathered, zero.now) {
                (Some(readings), _) => readings.to_string(),
                (None, Some(step)) => format!("{}/{}", step + 1, zero.steps.len()),
                (None, None) => return Vec::new(),
            };
            let (ink, style) = (Ink::Solid, ratatui::style::Style::new());
            vec![Number { called: "", text, ink, style }]
        }
        Part::Birth(birth) => {
            let tilt = |called, tilt| Number {
                called,
                ..number(tilt, |deg: Deg| deg.figure().signed(), None, style)
            };
            let text = match (birth.gathered, birth.sees, birth.now) {
                (Some(readings), ..) => readings.to_string(),
                (None, BirthSees::Tilt, _) => {
                    return vec![tilt("level", live.level), tilt("lean", live.lean)];
                }
                (None, BirthSees::StandOff, _) => {
                    live.stand_off.map_or("--".to_owned(), |mm| mm.gap().number(style))
                }
                (None, BirthSees::Nothing, Some(step)) => {
                    format!("{}/{}", step + 1, birth.steps.len())
                }
                (None, BirthSees::Nothing, None) => return Vec::new(),
            };
            let (ink, style) = (Ink::Solid, ratatui::style::Style::new());
            vec![Number { called: "", text, ink, style }]
        }
        _ if at_emitter(view) => {
            vec![number(live.level, |deg: Deg| deg.figure().signed(), None, style)]
        }
        _ => {
            let verdict = match view.aim {
                Some(aim) if live.gap.good().is_some() => Some(on_the_way(aim)),
                Some(_) => None,
                None => live.verdict,
            };
            vec![number(live.gap, Mm::gap, verdict, style)]
        }
    }
}

fn number<T: Copy>(
    reading: Reading<T>,
    figure: impl Fn(T) -> Figure,
    verdict: Option<Verdict>,
    style: Style,
) -> Number {
    // A degree sign is part of the number; a length's unit stands beside it.
    let text = |value: T| {
        let figure = figure(value);
        let unit = figure.unit(style);
        figure.number(style) + if unit == "°" { unit } else { "" }
    };
    let (text, ink) = match reading {
        Reading::Good { value, .. } => (text(value), Ink::Solid),
        Reading::Doubtful { value, .. } => (text(value) + "?", Ink::Hatched),
        Reading::Absent { .. } => ("--".to_owned(), Ink::Hatched),
    };
    let verdict = reading.good().and(verdict);
    Number { called: "", text, ink, style: colour(verdict) }
}

pub(super) fn at_emitter(view: &View) -> bool {
    view.place.as_ref().is_some_and(|place| place.stop == Stop::Emitter)
}

/// There is a gap to come to: there, or not yet.
fn on_the_way(aim: Aim) -> Verdict {
    if aim.there { Verdict::Within } else { Verdict::Unsure }
}

/// The word under the digits: what may be said of them.
pub(super) fn state(view: &View, style: Style) -> Headline {
    match &view.part {
        Part::Level(level) => of_level(view, level, style),
        Part::Zero(zero) => {
            let came_to = zero.came_to.as_ref().map_or_else(String::new, |says| says.text(style));
            let beside = format!("{}\n{came_to}", constants::seen(view, zero, style));
            let word = match zero.gathered {
                Some(_) => "readings",
                None if zero.now.is_some() => "step",
                None => "done",
            };
            Headline::of(&[word], beside, colour(None))
        }
        Part::Birth(birth) => {
            let last = birth.checks.last();
            let beside = last.map_or_else(String::new, |check| {
                format!("{}: {}", check.check, check.verdict.shown())
            });
            let word = match (birth.gathered, birth.sees) {
                (Some(_), _) => "readings",
                (None, BirthSees::Tilt) => "tilt",
                (None, BirthSees::StandOff) => "stand-off",
                (None, BirthSees::Nothing) if birth.now.is_some() => "step",
                (None, BirthSees::Nothing) => "done",
            };
            Headline::of(&[word], beside, colour(None))
        }
        _ if at_emitter(view) => of_emitter(view, style),
        _ => match view.aim {
            Some(aim) => of_aim(view, aim, style),
            None => of_gap(view, style),
        },
    }
}

fn of_gap(view: &View, style: Style) -> Headline {
    let band = view.bands.map_or_else(String::new, |bands| {
        format!("band {}", bands.gap.low.limit().to(bands.gap.high.limit()).text(style))
    });
    match view.live.gap {
        Reading::Good { .. } => match view.live.verdict {
            Some(verdict) => {
                let word = format!("{} {}", verdict.shape(), verdict.shown());
                Headline::of(&[&word, verdict.shown()], band, colour(Some(verdict)))
            }
            None => Headline::of(&["gap"], style.units.sign().to_owned(), colour(None)),
        },
        other => doubt(other, band),
    }
}

fn of_aim(view: &View, aim: Aim, style: Style) -> Headline {
    let to = format!("to {}", aim.to.gap().text(style));
    let colour = colour(Some(on_the_way(aim)));
    match (view.live.gap, aim.to_go) {
        (Reading::Good { .. }, Some(_)) if aim.there => {
            Headline::of(&["● there", "there"], to, colour)
        }
        (Reading::Good { .. }, Some(to_go)) => {
            let arrow = if to_go > Mm::ZERO { '▲' } else { '▼' };
            let left = to_go.abs().gap().number(style);
            let (full, short) = (format!("{arrow} {left} to go"), format!("{arrow} {left}"));
            Headline::of(&[&full, &short], to, colour)
        }
        (other, _) => doubt(other, to),
    }
}

/// No number to be believed: why.
fn doubt<T: Copy>(reading: Reading<T>, beside: String) -> Headline {
    let why = reading.why().map_or("", |why| why.name());
    let word = match reading {
        Reading::Doubtful { .. } => "? doubtful",
        _ => "no value",
    };
    let beside = if beside.is_empty() { why.to_owned() } else { format!("{why}; {beside}") };
    Headline::of(&[word], beside, colour(None))
}

fn of_emitter(view: &View, style: Style) -> Headline {
    let lean = match view.live.lean {
        Reading::Good { value, .. } => format!("lean {}", value.figure().signed().text(style)),
        other => format!("lean: {}", other.why().map_or("", |why| why.name())),
    };
    match view.live.level {
        Reading::Good { .. } => {
            let rests = if view.live.rests { "at rest" } else { "moving" };
            Headline::of(&["level"], format!("{rests}\n{lean}"), colour(None))
        }
        other => doubt(other, lean),
    }
}

fn of_level(view: &View, level: &LevelView, style: Style) -> Headline {
    let slope = |called: &str, slope: Reading<skimgauge_quantity::MmPerM>| {
        let slope = slope.good().map(|slope| slope.figure().signed().text(style));
        slope.map_or_else(String::new, |slope| format!("{called} {slope}"))
    };
    let beside = [slope("level", level.level_slope), slope("lean", level.lean_slope)].join("\n");
    let judged = |called: &str, verdict: Option<Verdict>| {
        verdict.map(|verdict| format!("{} {called}", verdict.shape()))
    };
    let judged: Vec<String> =
        [judged("level", level.level_verdict), judged("lean", level.lean_verdict)]
            .into_iter()
            .flatten()
            .collect();
    let rests = if view.live.rests { "at rest" } else { "moving" };
    let word = if judged.is_empty() { rests.to_owned() } else { judged.join(" ") };
    match view.live.level {
        Reading::Good { .. } => {
            let verdicts = level.level_verdict.into_iter().chain(level.lean_verdict);
            let verdict = (!judged.is_empty()).then(|| Verdict::of_all(verdicts));
            Headline::of(&[&word, rests], beside, colour(verdict))
        }
        other => doubt(other, beside),
    }
}
