//! A [`View`] as a page shows it: words, quantities and places, finished in the units asked for.
//! Pure.

use crate::shown::{
    Adjuster, Aim, Field, Judged, Level, Number, Place, Question, Said, Shown, Spot, Station, Tone,
    Turn, Whole, Word,
};
use skimgauge_model::{Point, Verdict};
use skimgauge_procedure::View;
use skimgauge_procedure::view::{LinkView, Part, Reading, State, board, trim};
use skimgauge_quantity::{Band, Deg, Figure, Mm, Rotation, Style, Turns, Units, count};

/// So many lines of equal gap lie between the ends of the band.
const BETWEEN: u32 = 2;

/// What a page shows of it.
pub fn shown(view: &View, units: Units) -> Shown {
    let style = Style::typed(units);
    let trim = match &view.part {
        Part::Trim(trim) => Some(trim.as_ref()),
        _ => None,
    };
    let band = view.bands.map(|bands| bands.gap);
    Shown {
        number: view.number,
        title: view.title.clone(),
        units: units.sign(),
        image: view.image,
        state: state(view.state).0,
        state_says: state(view.state).1,
        instruction: view.instruction.text(style),
        question: view
            .question
            .as_ref()
            .map(|question| Question { asks: question.asks.text(style), yes: sent(question.yes) }),
        message: view
            .message
            .as_ref()
            .map(|said| Said { says: said.says.text(style), bad: said.bad }),
        trouble: trouble(view, style),
        gap: number("gap", view.live.gap, Mm::gap, judged(view, view.live.verdict), style),
        tilts: tilts(view, style),
        aim: aim(view, trim, style),
        place: place(view),
        stations: stations(view, style),
        adjusters: trim.map(|trim| adjusters(trim, style)).unwrap_or_default(),
        spots: trim.map(|trim| spots(trim, style)).unwrap_or_default(),
        field: trim.and_then(|trim| field(trim.field.as_ref()?, band, style)),
        whole: view.whole.as_ref().map(|whole| Whole {
            verdict: whole.verdict.into(),
            headline: match &whole.contradicts {
                Some(_) => {
                    format!("{}: the takes contradict one another", whole.headline.text(style))
                }
                None => whole.headline.text(style),
            },
            // Said once: the headline says it as well.
            because: if whole.nothing_taken { String::new() } else { whole.because.text(style) },
        }),
        lines: lines(view, trim, style),
        words: words(view, style),
        cautions: view.cautions.iter().map(|caution| caution.text(style)).collect(),
        tone: tone(view, band),
        lengths: Vec::new(),
        marks: Vec::new(),
    }
}

/// A verdict, where there is one to be told: a survey looks for the board's shape, whatever band the
/// gap is to be in.
fn judged(view: &View, verdict: Option<Verdict>) -> Option<Judged> {
    verdict.filter(|_| !matches!(view.part, Part::Survey(_))).map(Into::into)
}

/// The word, and what a person reads from two metres.
fn state(state: State) -> (&'static str, &'static str) {
    match state {
        State::Waiting => ("waiting", "waiting"),
        State::Move => ("move", "move the head"),
        State::Hold => ("hold", "hold still"),
        State::Ready => ("ready", "ready"),
        State::Turn => ("turn", "turn"),
        State::Over => ("over", "done"),
        State::Taken => ("taken", "taken"),
        State::Saving => ("saving", "saving"),
        State::Asked => ("asked", "answer"),
        State::Lost => ("lost", "head lost"),
    }
}

fn sent(word: skimgauge_procedure::Word) -> serde_json::Value {
    serde_json::to_value(word).unwrap_or_default()
}

fn trouble(view: &View, style: Style) -> Option<Said> {
    if let LinkView::Lost { trouble } = &view.link {
        return Some(Said { says: trouble.text(style), bad: true });
    }
    let fault = view.in_the_way.as_ref().filter(|_| view.measures())?;
    let says = format!("{} {}", fault.says.text(style), fault.remedy.text(style));
    Some(Said { says, bad: true })
}

fn number<T: Copy>(
    name: &'static str,
    reading: Reading<T>,
    figure: impl Fn(T) -> Figure,
    verdict: Option<Judged>,
    style: Style,
) -> Number {
    let (digits, unit, is) = match reading {
        Reading::Good { value, .. } => {
            (figure(value).number(style), figure(value).unit(style), "good")
        }
        Reading::Doubtful { value, .. } => {
            (format!("{}?", figure(value).number(style)), figure(value).unit(style), "doubtful")
        }
        Reading::Absent { .. } => ("–".to_owned(), "", "absent"),
    };
    let verdict = if is == "good" { verdict } else { None };
    Number { name, digits, unit, is, why: reading.why().map(|why| why.name()), verdict }
}

/// Level and lean where the head is a level, or stands on the emitter.
fn tilts(view: &View, style: Style) -> Vec<Number> {
    let (level, lean) = match &view.part {
        Part::Level(part) => (part.level_verdict, part.lean_verdict),
        _ if view.emitter.is_some_and(|emitter| emitter.here) => (None, None),
        _ => return Vec::new(),
    };
    vec![
        number("level", view.live.level, Deg::figure, level.map(Into::into), style),
        number("lean", view.live.lean, Deg::figure, lean.map(Into::into), style),
    ]
}

fn aim(view: &View, trim: Option<&trim::TrimView>, style: Style) -> Option<Aim> {
    let aim = view.aim?;
    let from = trim.and_then(|trim| trim.turn.as_ref()?.watched).map(|watched| watched.from);
    let share = match (aim.to_go, from) {
        _ if aim.there => 1.0,
        (Some(to_go), Some(from)) if (aim.to - from).abs() > Mm::ZERO => {
            (1.0 - to_go.abs() / (aim.to - from).abs()).clamp(0.0, 1.0)
        }
        _ => 0.0,
    };
    Some(Aim {
        to: aim.to.gap().text(style),
        to_go: aim.to_go.map(|to_go| to_go.abs().gap().text(style)),
        to_go_mm: aim.to_go.and_then(finite),
        within_mm: finite(aim.within).unwrap_or(0.0),
        share,
        there: aim.there,
    })
}

/// As JSON can hold it.
fn finite(mm: Mm) -> Option<f64> {
    mm.is_finite().then_some(mm.0)
}

fn at(point: Point) -> [f64; 2] {
    [point.x, point.y].map(|mm| finite(mm).unwrap_or(0.0))
}

fn place(view: &View) -> Option<Place> {
    let place = view.place.as_ref()?;
    let called = match view.image {
        Some(image) => place.place.called(image).text(Style::default()),
        None => place.place.name().unwrap_or_default().to_owned(),
    };
    Some(Place { called, at: place.place.point().map(at), still_at: place.still_at.clone() })
}

fn stations(view: &View, style: Style) -> Vec<Station> {
    let station = |station: &skimgauge_procedure::view::StationView| Station {
        name: station.name.clone(),
        at: at(station.at),
        index: station.index,
        here: station.here,
        gap: station.taken.as_ref().map(|taken| taken.gap.gap().number(style)),
        verdict: judged(view, station.taken.as_ref().map(|taken| taken.verdict)),
    };
    view.stations.iter().map(station).collect()
}

fn adjusters(trim: &trim::TrimView, style: Style) -> Vec<Adjuster> {
    let turn = |name: &str| -> Option<Turn> {
        let turn = trim.turn.as_ref().filter(|turn| turn.name == name)?;
        // By what is left as long as the head sees it; a hand that has gone too far turns back.
        let left = if turn.left.0.is_finite() { turn.left } else { turn.turns };
        let way = left.rotation().or_else(|| turn.turns.rotation())?;
        Some(Turn {
            clockwise: way == Rotation::Clockwise,
            says: Turns(left.0).in_words().text(style),
            left: left.0,
            of: if turn.turns.0.is_finite() { turn.turns.0 } else { 0.0 },
        })
    };
    let adjuster = |adjuster: &trim::AdjusterView| Adjuster {
        name: adjuster.name.clone(),
        at: at(adjuster.at),
        turn: turn(&adjuster.name),
    };
    trim.adjusters.iter().map(adjuster).collect()
}

fn spots(trim: &trim::TrimView, style: Style) -> Vec<Spot> {
    let spot = |spot: &board::Spot| Spot {
        at: at(spot.at),
        gap: spot.number(style),
        verdict: spot.verdict.map(Into::into),
        worst: spot.worst,
    };
    trim.spots.iter().map(spot).collect()
}

fn field(field: &board::Field, band: Option<Band<Mm>>, style: Style) -> Option<Field> {
    let band = band?;
    let rounded = |gap: Mm| finite(gap).map(|mm| (mm * 100.0).round() / 100.0);
    let step = (band.high - band.low) / f64::from(BETWEEN + 1);
    let levels = (0..=BETWEEN + 1)
        .map(|count| band.low + step * f64::from(count))
        .enumerate()
        .map(|(count, gap)| Level {
            gap_mm: gap.0,
            says: gap.gap().number(style),
            limit: count == 0 || count as u32 == BETWEEN + 1,
        })
        .collect();
    Some(Field {
        columns: field.columns,
        rows: field.rows,
        gaps_mm: field.gaps.iter().map(|gap| gap.and_then(rounded)).collect(),
        levels,
    })
}

/// What else there is to know: of the procedure, a line each.
fn lines(view: &View, trim: Option<&trim::TrimView>, style: Style) -> Vec<String> {
    let contradicts = view.whole.as_ref().and_then(|whole| whole.contradicts.as_ref());
    let mut lines = Vec::new();
    if let Some(trim) = trim {
        let minutes = trim.seconds_left.filter(|s| s.is_finite()).map(|s| (s / 60.0).ceil() as u32);
        lines.push(match minutes {
            Some(minutes) if minutes > 0 => {
                format!("round {}, about {minutes} min to go", trim.round)
            }
            _ => format!("round {}", trim.round),
        });
        lines.extend(contradicts.map(|says| format!("! {}", says.text(style))));
        lines.extend(trim.feasibility.iter().map(|says| says.text(style)));
        let last = trim.said.last().filter(|said| contradicts != Some(&said.says));
        lines.extend(last.map(|said| said.says.text(style)));
    }
    if let (Part::Takes, Some(says), Some(whole)) = (&view.part, contradicts, &view.whole) {
        lines.push(format!("{} of {} taken", whole.taken, view.stations.len()));
        lines.push(format!("! {}", says.text(style)));
    }
    if let Part::Survey(survey) = &view.part {
        lines.push(format!("{} of {} taken", survey.taken, count(survey.of, "point")));
    }
    if let Part::Level(level) = &view.part {
        lines.push(level.thing.clone());
        lines.extend(level.found.as_ref().map(|found| found.says.text(style)));
    }
    if let Part::Zero(zero) = &view.part {
        if let Some(step) = zero.now.and_then(|now| zero.steps.get(now)) {
            lines.push(step.name.text(style));
        }
        lines.extend(zero.came_to.as_ref().map(|says| says.text(style)));
    }
    if let Part::Birth(birth) = &view.part {
        let step = birth.now.and_then(|now| birth.steps.get(now));
        lines.extend(step.map(|step| step.name.text(style)));
    }
    // What would make it surer and can wait comes last.
    let advice = view.advice();
    lines.extend(advice.map(|one| format!("{}: {}", one.name, one.remedy.text(style))));
    lines.retain(|line| !line.is_empty());
    lines
}

fn words(view: &View, style: Style) -> Vec<Word> {
    use skimgauge_procedure::Word as Said;
    view.words
        .iter()
        // Sound is each page's own; what means nothing is not offered.
        .filter(|offer| !matches!(offer.word, Said::Sound | Said::Unknown))
        .map(|offer| Word { word: sent(offer.word), does: offer.does.text(style) })
        .collect()
}

/// Only what is good sounds, and only as long as the head is there.
fn tone(view: &View, band: Option<Band<Mm>>) -> Option<Tone> {
    if !matches!(view.link, LinkView::Up { .. }) {
        return None;
    }
    let gap = view.live.gap.good()?;
    if let Some(aim) = view.aim {
        let to_go = aim.to_go.and_then(finite)?;
        return Some(Tone { off_mm: -to_go, is: if aim.there { "stop" } else { "off" } });
    }
    let band = band.filter(|_| !matches!(view.part, Part::Survey(_)))?;
    let off = if gap < band.low {
        gap - band.low
    } else if gap > band.high {
        gap - band.high
    } else {
        Mm::ZERO
    };
    let is = match view.live.verdict? {
        Verdict::Within => "within",
        _ => "off",
    };
    Some(Tone { off_mm: finite(off)?, is })
}

#[cfg(test)]
mod tests;
