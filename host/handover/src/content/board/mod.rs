//! The board: pictures, verdicts, gaps by station, and whether the takes agree.

mod agreement;
mod gaps;
mod verdicts;

use skimgauge_drawing::gap_map::{GapMap, MapPoint, reading as how_to_read};
use skimgauge_drawing::rounds::{self, Course};
use skimgauge_model::{Image, Verdict};
use skimgauge_quantity::Mm;
use skimgauge_record::event::{Detail, Phase};
use skimgauge_record::takes::CurrentTake;

use super::{Reading, job_file, phase_title, section};
use crate::document::{Block, Figure, Picture, Section};
pub(super) use agreement::{agreement, shares_of};
pub(super) use gaps::gaps;
pub(super) use verdicts::{JudgedAt, contradicts, place, verdicts};

/// Places worked out for the whole board that a map shows with their number; a survey has
/// thousands.
const MOST_NUMBERED: usize = 40;

/// The board before and after, and how it came from the one to the other.
pub(super) fn pictures(reading: &Reading<'_>) -> Option<Section> {
    let mut figures: Vec<Figure> = Vec::new();
    let after = if has(reading, Phase::AsLeft) { Phase::AsLeft } else { Phase::Between };
    for (phase, id) in [(Phase::AsFound, "before"), (after, "after")] {
        figures.extend(map(reading, phase, id));
    }
    if figures.is_empty() {
        return None;
    }
    let band = reading.job().and_then(job_file::gap_band);
    let mut blocks = vec![
        Block::Text(
            "The touch plane is a sheet of invisible light in front of the board. These pictures show how far it stands from the \
             board, seen from where the viewer stands."
                .to_owned(),
        ),
        Block::Figures(figures),
        Block::Small(how_to_read(reading.style.units, band).text(reading.style)),
    ];
    if let Some(figure) = course(reading) {
        blocks.push(Block::Figures(vec![figure]));
    }
    section("board", "The board before and after", blocks)
}

fn has(reading: &Reading<'_>, phase: Phase) -> bool {
    !reading.history.standing(phase).is_empty()
}

fn map(reading: &Reading<'_>, phase: Phase, id: &str) -> Option<Figure> {
    let stations = reading.stations(phase);
    let judged = reading.judged(phase);
    let computed = judged.map_or_else(Vec::new, |(_, judged)| points(&judged.detail));
    if stations.is_empty() && computed.is_empty() {
        return None;
    }
    let taken: Vec<MapPoint> = stations
        .iter()
        .map(|(name, gap)| MapPoint {
            name: (*name).to_owned(),
            at: gap.at,
            gap: gap.gap,
            verdict: gap.verdict,
        })
        .collect();
    let at = judged.map_or(u32::MAX, |(event, _)| event.seq);
    let job = reading.job_at(at);
    let image = job.map(job_file::image).or_else(|| extent(&taken, &computed))?;
    let adjusters = job.map(job_file::adjusters).unwrap_or_default();
    let map = GapMap {
        id,
        image,
        band: job.and_then(job_file::gap_band),
        taken: &taken,
        computed: &computed,
        worst: judged.and_then(|(_, judged)| judged.worst.as_ref()).map(|worst| worst.at),
        adjusters: &adjusters,
        units: reading.style.units,
    };
    let verdict = judged.map_or_else(
        || "not judged as a whole".to_owned(),
        |(event, judged)| {
            let word = judged.verdict.shown();
            match (judged.verdict, JudgedAt::of(reading, event, judged)) {
                (Verdict::Within, at) => format!("{word} {}", at.short()),
                _ => word.to_owned(),
            }
        },
    );
    Some(Figure {
        alt: map.in_words(),
        picture: Picture::Chart(map.draw().to_string()),
        caption: format!("{}: {verdict}", phase_title(phase)),
        wide: false,
    })
}

/// The board, where the job file does not say: as far as the places reach.
fn extent(taken: &[MapPoint], computed: &[MapPoint]) -> Option<Image> {
    let all = || taken.iter().chain(computed).filter(|point| point.at.is_finite());
    let half = all().map(|point| point.at.x.abs()).fold(Mm::ZERO, Mm::max);
    let down = all().map(|point| -point.at.y).fold(Mm::ZERO, Mm::max);
    Image::new(2.0 * half, down).ok()
}

/// The control points that a verdict's detail lists.
fn points(detail: &Detail) -> Vec<MapPoint> {
    let step = detail.points.len().div_ceil(MOST_NUMBERED).max(1);
    let point = |point: &skimgauge_record::event::JudgedPoint| MapPoint {
        name: String::new(),
        at: skimgauge_model::Point { x: point.x, y: point.y },
        gap: point.gap,
        verdict: point.verdict,
    };
    detail.points.iter().step_by(step).map(point).collect()
}

/// The gaps from round to round.
fn course(reading: &Reading<'_>) -> Option<Figure> {
    let mut rounds_made: Vec<(Phase, u32)> = Vec::new();
    let mut courses: Vec<Course> = Vec::new();
    let mut all: Vec<(usize, usize, Mm)> = Vec::new();
    let struck_out = reading.history.struck_out();
    for CurrentTake { event, take } in reading.history.takes() {
        if struck_out.contains_key(&event.hash) {
            continue;
        }
        let round = (take.phase, take.round);
        let round = rounds_made.iter().position(|known| *known == round).unwrap_or_else(|| {
            rounds_made.push(round);
            rounds_made.len() - 1
        });
        let station =
            courses.iter().position(|course| course.station == take.station).unwrap_or_else(|| {
                courses.push(Course { station: take.station.clone(), gaps: Vec::new() });
                courses.len() - 1
            });
        // The last take of a station in a round is the one that counts.
        all.push((round, station, take.gap));
    }
    for course in &mut courses {
        course.gaps = vec![None; rounds_made.len()];
    }
    for (round, station, gap) in all {
        courses[station].gaps[round] = Some(gap);
    }
    let left: Vec<(Phase, u32)> = reading
        .history
        .standing(Phase::AsLeft)
        .iter()
        .map(|current| (current.take.phase, current.take.round))
        .collect();
    let names: Vec<String> = rounds_made
        .iter()
        .map(|(phase, round)| match phase {
            Phase::Between if left.contains(&(*phase, *round)) => format!("round {round}, as left"),
            Phase::Between => format!("round {round}"),
            phase => phase.shown().to_owned(),
        })
        .collect();
    let band = reading.job().and_then(job_file::gap_band);
    let chart = rounds::draw(&names, &courses, band, reading.style.units)?;
    let more = courses.len().saturating_sub(rounds::MOST_LINES);
    let more = if more > 0 {
        format!(" The first {} stations; {more} more are in the table.", rounds::MOST_LINES)
    } else {
        String::new()
    };
    Some(Figure {
        alt: "Gaps of each station from as found to as left".to_owned(),
        picture: Picture::Chart(chart.to_string()),
        caption: format!(
            "How the gaps came there: one line a station, from round to round, in {}.{more}",
            reading.unit_word()
        ),
        wide: true,
    })
}
