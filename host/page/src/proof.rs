//! A proof as its page and the phone show it: the form of every page, and what is drawn to be
//! touched. Pure.

use crate::server::State as Sent;
use crate::shown::{Judged, Number, Said, Shown, Whole, Word};
use serde::Serialize;
use skimgauge_model::{Point, Verdict};
use skimgauge_procedure::proof::View;
use skimgauge_procedure::proof::view::{Spot, State, Target};
use skimgauge_quantity::{Sentence, Style, Units, say};

/// What every page shows, and what the proof's page draws.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Proof {
    #[serde(flatten)]
    shown: Shown,
    proof: Drawn,
}

/// What is drawn to be touched.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Drawn {
    /// `waiting`, `touch`, `hands-off`, `lay`, `paused`, `over`.
    state: State,
    /// What is to be touched now, mm of the image's frame.
    target: Option<Target>,
    marks: Vec<Spot>,
    done: usize,
    of: usize,
    /// What is left of hands off, s.
    left_s: Option<f64>,
    /// What keeps places from being true.
    doubt: Option<String>,
    /// Once it is over: what was looked at.
    parts: Vec<Part>,
    places: Vec<Place>,
    /// Then: where it comes from, what to do, what would settle it.
    next: Vec<String>,
    /// And what else is to be known.
    told: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct Part {
    verdict: Judged,
    says: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct Place {
    name: &'static str,
    at: Point,
    right_mm: f64,
    up_mm: f64,
    verdict: Judged,
}

/// A proof's state in both units.
///
/// # Errors
/// Where it cannot be written as JSON: a number in it is none.
pub fn proof(view: &View) -> serde_json::Result<Sent> {
    let [mm, inch] = [Units::Mm, Units::Inch].map(|units| shown(view, units));
    Ok(Sent {
        number: view.number,
        mm: serde_json::to_vec(&mm)?.into(),
        inch: serde_json::to_vec(&inch)?.into(),
    })
}

fn shown(view: &View, units: Units) -> Proof {
    let style = Style::typed(units);
    let judged = view.judged.as_deref();
    let part = |verdict: Verdict, says: String| Part { verdict: verdict.into(), says };
    let drawn = Drawn {
        state: view.state,
        target: view.target,
        marks: view.marks.clone(),
        done: view.progress.0,
        of: view.progress.1,
        left_s: view.left_s.map(f64::ceil),
        doubt: view.doubt.as_ref().map(|doubt| doubt.clone().capital().ended().text(style)),
        parts: judged
            .map(|judged| {
                let of = |p: &skimgauge_proof::judge::Part| {
                    part(p.verdict, p.says.clone().capital().ended().text(style))
                };
                judged.parts.iter().map(of).collect()
            })
            .unwrap_or_default(),
        places: judged
            .map(|judged| {
                let of = |p: &skimgauge_proof::judge::Place| Place {
                    name: p.name,
                    at: p.at,
                    right_mm: p.right.0,
                    up_mm: p.up.0,
                    verdict: p.verdict.into(),
                };
                judged.places.iter().map(of).collect()
            })
            .unwrap_or_default(),
        next: judged.map(|judged| next(judged, style)).unwrap_or_default(),
        told: judged.map(|judged| finished(&judged.told, style)).unwrap_or_default(),
    };
    Proof { shown: every_page(view, style, units), proof: drawn }
}

fn finished<'a>(all: impl IntoIterator<Item = &'a Sentence>, style: Style) -> Vec<String> {
    all.into_iter().map(|says| says.clone().capital().ended().text(style)).collect()
}

/// What to do: by the cause, or what would settle it.
fn next(judged: &skimgauge_proof::judge::Judged, style: Style) -> Vec<String> {
    finished(judged.cause.iter().map(|cause| &cause.says).chain(&judged.settle), style)
}

/// What the phone shows of it as of anything else.
fn every_page(view: &View, style: Style, units: Units) -> Shown {
    let (state, state_says) = match view.state {
        State::Waiting => ("waiting", "waiting"),
        State::Touch | State::Lay => ("ready", "touch"),
        State::HandsOff => ("hold", "hands off"),
        State::Paused => ("hold", "paused"),
        State::Over => ("over", "done"),
    };
    let judged = view.judged.as_deref();
    let (done, of) = view.progress;
    let mut lines = vec![say!("{} of {} done", done, of).text(style)];
    lines.extend(
        judged.into_iter().flat_map(|judged| {
            next(judged, style).into_iter().chain(finished(&judged.told, style))
        }),
    );
    let words = view.words.iter().map(|offer| Word {
        word: serde_json::to_value(offer.word).unwrap_or_default(),
        does: offer.does.text(style),
    });
    Shown {
        image: Some(view.image),
        state,
        state_says,
        instruction: view.instruction.clone().capital().ended().text(style),
        message: view
            .message
            .as_ref()
            .map(|(says, bad)| Said { says: says.clone().capital().ended().text(style), bad: *bad }),
        trouble: view
            .doubt
            .as_ref()
            .map(|doubt| Said { says: doubt.clone().capital().ended().text(style), bad: true }),
        gap: Number {
            name: "touch",
            digits: format!("{done}/{of}"),
            unit: "",
            is: "good",
            why: None,
            verdict: None,
        },
        whole: judged.map(|judged| Whole {
            verdict: judged.verdict.into(),
            headline: say!("touch: {}", judged.verdict.shown()).text(style),
            because: judged.because.clone().capital().ended().text(style),
        }),
        lines,
        words: words.collect(),
        cautions: vec![
            "Do not look into the emitter or the projector's lens. Ladder: three points of contact.".to_owned(),
        ],
        ..Shown::without_head(view.number, view.title.clone(), units.sign())
    }
}
