//! Whether the takes agree with one plane, and where the uncertainty comes from.

use serde_json::Value;
use skimgauge_drawing::residuals::{self, Left};
use skimgauge_drawing::shares::{self, Share};
use skimgauge_quantity::{Mm, say};
use skimgauge_record::event::{Agreement, BudgetLine, Detail, JudgedAt, Phase};

use super::super::{Reading, section};
use crate::document::{Block, Cell, Figure, Picture, Section};
use crate::plain;

/// Whether the takes agree with one plane, and the numbers behind the last verdict.
pub(in crate::content) fn agreement(reading: &Reading<'_>) -> Option<Section> {
    let (_, judged) = reading
        .judged(Phase::AsLeft)
        .or_else(|| reading.judged(Phase::Between))
        .or_else(|| reading.judged(Phase::AsFound))?;
    let detail = &judged.detail;
    let mut blocks = Vec::new();
    if let Some(figure) = left_over(reading, detail) {
        blocks.push(Block::Text(words(detail.agreement)));
        blocks.push(Block::Figures(vec![figure]));
    }
    if let Some(chart) = shares::draw(&shares_of(&detail.budget)) {
        blocks.push(Block::Figures(vec![Figure {
            alt: "Shares of the uncertainty".to_owned(),
            picture: Picture::Chart(chart.to_string()),
            caption: "Where the uncertainty comes from: shares of the variance at the place that decided.".to_owned(),
            wide: true,
        }]));
    }
    // Over a surveyed board the plane counts from the survey's own heights: beside gaps it tells nothing.
    let surveyed = judged.survey_sha256.is_some() || judged.judged_at == Some(JudgedAt::Board);
    let mut behind = if surveyed { Vec::new() } else { plane(reading, detail) };
    if !detail.more.is_empty() {
        behind.extend(super::super::section::by_keys(
            reading.style,
            &Value::Object(detail.more.clone()),
        ));
    }
    if !behind.is_empty() {
        blocks.push(Block::Heading("The numbers behind the last verdict".to_owned()));
        blocks.extend(behind);
    }
    section("agreement", "Whether the takes agree", blocks)
}

/// The shares of a budget, for its chart.
pub(in crate::content) fn shares_of(lines: &[BudgetLine]) -> Vec<Share> {
    lines
        .iter()
        .map(|line| Share { source: plain::line(&line.source), share: line.share })
        .collect()
}

fn left_over(reading: &Reading<'_>, detail: &Detail) -> Option<Figure> {
    let left: Vec<Left> = detail
        .residuals
        .iter()
        .map(|left| Left { station: plain::line(&left.station), residual: left.residual })
        .collect();
    let chart = residuals::draw(&left, reading.style.units)?;
    let more = left.len().saturating_sub(residuals::MOST_ROWS);
    let more = if more > 0 {
        format!(" The {} largest of {}.", residuals::MOST_ROWS, left.len())
    } else {
        String::new()
    };
    Some(Figure {
        alt: residuals::in_words(&left, reading.style.units),
        picture: Picture::Chart(chart.to_string()),
        caption: format!(
            "Taken gap less the gap of the plane that fits all takes best: no uncertainty.{}{more}",
            own_uncertainties(reading)
        ),
        wide: true,
    })
}

/// The takes' own standard uncertainties, beside which what is left over can be small by chance.
fn own_uncertainties(reading: &Reading<'_>) -> String {
    let phases = [Phase::AsLeft, Phase::Between, Phase::AsFound];
    let Some(phase) = phases.into_iter().find(|phase| reading.judged(*phase).is_some()) else {
        return String::new();
    };
    let takes = reading.history.standing(phase);
    let all = || takes.iter().map(|current| current.take.u_gap).filter(|u| u.is_finite());
    let (Some(least), Some(most)) = (all().reduce(Mm::min), all().reduce(Mm::max)) else {
        return String::new();
    };
    let told = match least == most {
        true => say!("{}", most.fine()),
        false => say!("{}", least.fine().to(most.fine())),
    };
    format!(" A take\u{2019}s own standard uncertainty: {}.", told.text(reading.style))
}

/// The plane, as a person can follow it on the board.
fn plane(reading: &Reading<'_>, detail: &Detail) -> Vec<Block> {
    let Some(plane) = detail.plane else { return Vec::new() };
    let mut facts = vec![
        (
            "Gap in the middle of the top edge, over a flat board".to_owned(),
            reading.fact(plane.c.0, plane.c.fine()),
        ),
        ("Slope to the right".to_owned(), reading.fact(plane.p.0, plane.p.figure().signed())),
        ("Slope upward".to_owned(), reading.fact(plane.q.0, plane.q.figure().signed())),
    ];
    if let Some(covariance) = detail.covariance {
        let u = |at: usize| covariance[at][at].max(0.0).sqrt();
        let (c, p, q) = (
            skimgauge_quantity::Mm(u(0)),
            skimgauge_quantity::MmPerM(u(1)),
            skimgauge_quantity::MmPerM(u(2)),
        );
        let text = skimgauge_quantity::say!("{}, {}, {}", c.fine(), p.figure(), q.figure());
        facts.push((
            "Their standard uncertainties, in this order".to_owned(),
            Cell::text(text.text(reading.style)),
        ));
    }
    vec![Block::Facts(facts)]
}

fn words(agreement: Option<Agreement>) -> String {
    let verdict = match agreement {
        Some(Agreement::Agrees) => {
            "They agree with one flat sheet of light as well as chance would have it."
        }
        Some(Agreement::Strained) => {
            "They agree less well than chance would have it in 95 of 100 cases; the uncertainties were widened to cover that."
        }
        Some(Agreement::Contradicts) => {
            "They contradict one another: one was misread, something moved, or the board is not as described. Nothing is said \
             of the gap on them."
        }
        Some(Agreement::Untested) => {
            "There are only as many takes as a plane needs, so they cannot check one another: there is no verdict of within."
        }
        None => {
            "The bars show how far each take lies from the one plane that fits all of them best."
        }
    };
    format!("All takes together must fit one sheet of light over one board. {verdict}")
}
