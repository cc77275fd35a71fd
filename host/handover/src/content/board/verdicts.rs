//! The verdicts on the whole, each with its numbers and what it speaks of.

use skimgauge_model::{Station, Verdict};
use skimgauge_quantity::{Mm, Name, Sentence, say};
use skimgauge_record::Event;
use skimgauge_record::event::{self, Agreement, Judged, Phase};

use super::super::{Reading, job, job_file, phase_title, section};
use super::gaps::tilt_facts;
use crate::document::{Block, Cell, Section, VerdictCard};
use crate::plain;

/// What a verdict of within speaks of.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::content) enum JudgedAt {
    /// These places, where gaps were read.
    Places(Vec<String>),
    /// The board, which was surveyed.
    Board,
}

impl JudgedAt {
    /// As recorded. Of a record that does not say: the board where the job in force had a survey,
    /// else the places taken in that state of the installation.
    pub(in crate::content) fn of(reading: &Reading<'_>, event: &Event, judged: &Judged) -> Self {
        match &judged.judged_at {
            Some(event::JudgedAt::Places(names)) => {
                return Self::Places(names.iter().map(|name| plain::line(name)).collect());
            }
            Some(event::JudgedAt::Board) => return Self::Board,
            None => {}
        }
        if reading.job_at(event.seq).is_some_and(|job| job.survey.is_some()) {
            return Self::Board;
        }
        Self::Places(
            reading.stations(judged.phase).into_iter().map(|(name, _)| plain::line(name)).collect(),
        )
    }

    /// `at the 8 places read`.
    pub(in crate::content) fn short(&self) -> String {
        match self {
            Self::Places(names) => format!("at the {} read", plain::count(names.len(), "place")),
            Self::Board => "over the whole board as surveyed".to_owned(),
        }
    }

    /// For the fact on a card.
    fn named(&self) -> String {
        match self {
            Self::Places(names) => {
                format!(
                    "{} read: {}; nothing was read between them",
                    plain::count(names.len(), "place"),
                    plain::list(names)
                )
            }
            Self::Board => "the whole board, as surveyed".to_owned(),
        }
    }
}

/// Whether the takes behind a verdict contradict one another.
pub(in crate::content) fn contradicts(judged: &Judged) -> bool {
    judged.detail.agreement == Some(Agreement::Contradicts)
}

/// Each verdict on the whole.
pub(in crate::content) fn verdicts(reading: &Reading<'_>) -> Option<Section> {
    let after = reading.judged(Phase::AsLeft).or_else(|| reading.judged(Phase::Between));
    let cards: Vec<(&Event, &Judged)> =
        reading.judged(Phase::AsFound).into_iter().chain(after).collect();
    if cards.is_empty() {
        return None;
    }
    let mut blocks: Vec<Block> =
        cards.iter().map(|(event, judged)| Block::Verdict(card(reading, event, judged))).collect();
    blocks.push(Block::Heading("How this was decided".to_owned()));
    blocks.push(Block::Text(
        "No measurement is exact. Each gap therefore comes with its uncertainty: a margin on either side, inside which the true gap lies in 95 of 100 \
         cases. A place is called within only if its gap with the whole margin lies inside the band, and outside only if the whole \
         margin lies beyond it. Everything else is too close to call: then more or better measuring, or another turn of an adjuster, \
         has to settle it."
            .to_owned(),
    ));
    blocks.push(Block::Text(
        "The verdict on the whole is within only if every place that was read is, and if nothing that is worked out for the \
         rest of the board speaks against it. Until the board itself has been surveyed it speaks of the places read and of no \
         others: a board may be lifted between them where nothing was read. Readings that contradict one another, or that \
         nothing checks, get no such verdict."
            .to_owned(),
    ));
    // The last is the one that stands; an earlier one was of its own day.
    for (at, (_, judged)) in cards.iter().enumerate().rev() {
        let is_last = at + 1 == cards.len();
        let rule = plain::sentence(&judged.decision_rule);
        if !is_last
            && cards.last().is_some_and(|(_, last)| last.decision_rule == judged.decision_rule)
        {
            continue;
        }
        if !is_last {
            let phase = phase_title(judged.phase).to_lowercase();
            blocks.push(Block::Heading(format!("The rule of the verdict {phase}")));
        }
        let of = if is_last {
            "The rule as recorded with the verdict"
        } else {
            "As it was recorded then"
        };
        blocks.push(Block::Small(format!("{of}: {rule} It follows ISO 14253-1 and JCGM 106.")));
    }
    section("verdicts", "Verdicts", blocks)
}

fn card(reading: &Reading<'_>, event: &Event, judged: &Judged) -> VerdictCard {
    let mut facts: Vec<(String, Cell)> = Vec::new();
    let mut add = |name: &str, cell: Cell| facts.push((name.to_owned(), cell));
    if judged.verdict == Verdict::Within {
        add("Judged at", Cell::text(JudgedAt::of(reading, event, judged).named()));
    }
    if let Some(worst) = &judged.worst {
        add("Decided at", Cell::text(place(reading, event, worst).capital().text(reading.style)));
    }
    let fact = |mm: Option<Mm>, show: fn(Mm) -> skimgauge_quantity::Figure| {
        mm.map_or(Cell::None, |mm| reading.fact(mm.0, show(mm)))
    };
    add("Gap there", fact(judged.worst_gap, Mm::gap));
    add("Known to within, 95\u{a0}%", fact(judged.expanded_u, Mm::uncertainty));
    match judged.margin {
        Some(margin) if margin < Mm::ZERO => add(
            "Beyond the nearer limit by",
            Cell::number(margin.0, |_| margin.abs().gap().text(reading.style)),
        ),
        margin => add("To the nearer limit", fact(margin, Mm::gap)),
    }
    if let Some(band) = reading.job_at(event.seq).and_then(job_file::gap_band) {
        add("Band", Cell::text(band.low.limit().to(band.high.limit()).text(reading.style)));
    }
    facts.extend(tilt_facts(reading, judged));
    facts.retain(|(_, cell)| *cell != Cell::None);
    let mut says = job::says(reading, event, judged).text(reading.style);
    if let Some(settle) = judged.would_settle.as_ref().filter(|said| !said.0.is_empty()) {
        says = format!("{says} What would settle it: {}", reading.said(settle));
    }
    VerdictCard {
        heading: format!("{}, {}", phase_title(judged.phase), plain::moment(event.at)),
        verdict: judged.verdict,
        says,
        facts,
    }
}

/// A place on the board for people, as the end of `the gap ...`: the name of the station or of the
/// image's place that it is, else how far from where.
pub(in crate::content) fn place(reading: &Reading<'_>, event: &Event, place: &Station) -> Sentence {
    let Some(job) = reading.job_at(event.seq).filter(|_| place.at.is_finite()) else {
        return say!("at {}", Name(&plain::line(&place.name)));
    };
    let image = job_file::image(job);
    match job.stations.iter().find(|station| station.at.apart(place.at) < 0.02 * image.width) {
        Some(station) => say!("at {}", Name(&plain::line(&station.name))),
        None => image.at(place.at),
    }
}
