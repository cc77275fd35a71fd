//! The board: pictures, verdicts, gaps by station, and whether the takes agree.

use serde_json::Value;
use skimgauge_jobfile::JobFile;
use skimgauge_model::Image;
use skimgauge_quantity::Mm;
use skimgauge_record::Event;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{self, Body, BudgetLine, Judged, Phase, Point, VerdictWord};
use skimgauge_record::takes::CurrentTake;

use super::{Reading, StationGap, job, other, phase_words, section, work};
use crate::charts::budget;
use crate::charts::gap_map::{GapMap, MapPoint, reading as how_to_read};
use crate::charts::residuals::{self, Left};
use crate::charts::rounds::{self, Course};
use crate::document::{Block, Cell, Column, Figure, Picture, Section, Table, VerdictCard};
use crate::plain;

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
    let band = reading.job().and_then(JobFile::gap_band);
    let mut blocks = vec![
        Block::Text(
            "The touch plane is a sheet of invisible light in front of the board. These pictures show how far it stands from the \
             board, seen from where the viewer stands."
                .to_owned(),
        ),
        Block::Figures(figures),
        Block::Small(how_to_read(reading.units, band)),
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
    let computed = judged.map(|(_, judged)| points(&judged.detail)).unwrap_or_default();
    if stations.is_empty() && computed.is_empty() {
        return None;
    }
    let taken: Vec<MapPoint> = stations
        .iter()
        .map(|(name, gap)| MapPoint {
            name: (*name).to_owned(),
            x_mm: gap.x_mm,
            y_mm: gap.y_mm,
            gap_mm: gap.gap_mm,
            verdict: gap.verdict,
        })
        .collect();
    let at = judged.map_or(u32::MAX, |(event, _)| event.seq);
    let job = reading.job_at(at);
    let image = job.map(|job| job.image).or_else(|| extent(&taken, &computed))?;
    let map = GapMap {
        id,
        image,
        band: job.and_then(JobFile::gap_band),
        taken: &taken,
        computed: &computed,
        worst_mm: judged
            .and_then(|(_, judged)| judged.worst.as_ref())
            .map(|worst| [worst.x_mm, worst.y_mm]),
        adjusters: job.map_or(&[], |job| job.adjusters.as_slice()),
        units: reading.units,
    };
    let verdict = judged.map_or_else(
        || "not judged as a whole".to_owned(),
        |(event, judged)| {
            let word = crate::document::verdict_words(judged.verdict);
            match (judged.verdict, JudgedAt::of(reading, event, judged)) {
                (VerdictWord::Within, at) => format!("{word} {}", at.short()),
                _ => word.to_owned(),
            }
        },
    );
    Some(Figure {
        alt: map.in_words(),
        picture: Picture::Chart(map.draw().to_string()),
        caption: format!(
            "{}: {verdict}",
            plain::sentence(phase_words(phase)).trim_end_matches('.')
        ),
        wide: false,
    })
}

/// What a verdict of within speaks of.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum JudgedAt {
    /// These places, where gaps were read.
    Places(Vec<String>),
    /// The board, which was surveyed.
    Board,
}

impl JudgedAt {
    /// As recorded. Of a record that does not say: the board where the job in force had a survey,
    /// else the places taken in that state of the installation.
    pub(super) fn of(reading: &Reading<'_>, event: &Event, judged: &Judged) -> Self {
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
    pub(super) fn short(&self) -> String {
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
                    "{} read: {}; nobody looked between them",
                    plain::count(names.len(), "place"),
                    plain::list(names)
                )
            }
            Self::Board => "the whole board, as surveyed".to_owned(),
        }
    }
}

/// Whether the takes behind a verdict contradict one another.
pub(super) fn contradicts(judged: &Judged) -> bool {
    judged.detail.get("agreement").and_then(Value::as_str) == Some("contradicts")
}

/// The board, where the job file does not say: as far as the places reach.
fn extent(taken: &[MapPoint], computed: &[MapPoint]) -> Option<Image> {
    let all = || taken.iter().chain(computed);
    let half = all().map(|point| point.x_mm.abs()).filter(|x| x.is_finite()).fold(0.0, f64::max);
    let down = all().map(|point| -point.y_mm).filter(|y| y.is_finite()).fold(0.0, f64::max);
    Image::new(Mm(2.0 * half), Mm(down)).ok()
}

/// The control points that a verdict's detail lists.
fn points(detail: &Value) -> Vec<MapPoint> {
    let number = |point: &Value, key: &str| point.get(key).and_then(Value::as_f64);
    let all: Vec<MapPoint> = detail
        .get("points")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .filter_map(|point| {
            Some(MapPoint {
                name: point.get("name").and_then(Value::as_str).unwrap_or_default().to_owned(),
                x_mm: number(point, "x_mm")?,
                y_mm: number(point, "y_mm")?,
                gap_mm: number(point, "gap_mm")?,
                verdict: point.get("verdict").and_then(Value::as_str).and_then(VerdictWord::parse),
            })
        })
        .collect();
    let step = all.len().div_ceil(MOST_NUMBERED).max(1);
    all.into_iter().step_by(step).collect()
}

/// The gaps from pass to pass.
fn course(reading: &Reading<'_>) -> Option<Figure> {
    let mut passes: Vec<(Phase, u32)> = Vec::new();
    let mut courses: Vec<Course> = Vec::new();
    let mut all: Vec<(usize, usize, f64)> = Vec::new();
    for CurrentTake { take, .. } in reading.history.takes() {
        let pass = (take.phase, take.round);
        let pass = passes.iter().position(|known| *known == pass).unwrap_or_else(|| {
            passes.push(pass);
            passes.len() - 1
        });
        let station =
            courses.iter().position(|course| course.station == take.station).unwrap_or_else(|| {
                courses.push(Course { station: take.station.clone(), gaps_mm: Vec::new() });
                courses.len() - 1
            });
        // The last take of a station in a pass is the one that counts.
        all.push((pass, station, take.gap_mm));
    }
    for course in &mut courses {
        course.gaps_mm = vec![None; passes.len()];
    }
    for (pass, station, gap_mm) in all {
        courses[station].gaps_mm[pass] = Some(gap_mm);
    }
    let left: Vec<(Phase, u32)> = reading
        .history
        .standing(Phase::AsLeft)
        .iter()
        .map(|current| (current.take.phase, current.take.round))
        .collect();
    let names: Vec<String> = passes
        .iter()
        .map(|(phase, round)| match phase {
            Phase::Between if left.contains(&(*phase, *round)) => format!("round {round}, as left"),
            Phase::Between => format!("round {round}"),
            phase => phase_words(*phase).to_owned(),
        })
        .collect();
    let band = reading.job().and_then(JobFile::gap_band);
    let chart = rounds::draw(&names, &courses, band, reading.units)?;
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
            "How the gaps came there: one line a station, from pass to pass, in {}.{more}",
            reading.units.sign()
        ),
        wide: true,
    })
}

/// Each verdict on the whole.
pub(super) fn verdicts(reading: &Reading<'_>) -> Option<Section> {
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
         margin lies beyond it. Everything else is too close to call: then more or better measuring, or another turn of a screw, \
         has to settle it."
            .to_owned(),
    ));
    blocks.push(Block::Text(
        "The verdict on the whole is within only if every place that was read is, and if nothing that is worked out for the \
         rest of the board speaks against it. Until the board itself has been surveyed it speaks of the places read and of no \
         others: a board may be lifted between them where nobody looked. Readings that contradict one another, or that \
         nothing checks, get no such verdict."
            .to_owned(),
    ));
    let mut rules: Vec<String> =
        cards.iter().map(|(_, judged)| plain::sentence(&judged.decision_rule)).collect();
    rules.dedup();
    blocks.push(Block::Small(format!(
        "The rule as recorded with the verdict: {} It follows ISO 14253-1 and JCGM 106.",
        rules.join(" ")
    )));
    section("verdicts", "Verdicts", blocks)
}

fn card(reading: &Reading<'_>, event: &Event, judged: &Judged) -> VerdictCard {
    let units = reading.units;
    let band = reading.band_at(event.seq);
    let mut facts: Vec<(String, Cell)> = Vec::new();
    if judged.verdict == VerdictWord::Within {
        facts.push((
            "Judged at".to_owned(),
            Cell::text(JudgedAt::of(reading, event, judged).named()),
        ));
    }
    if let Some(worst) = &judged.worst {
        facts.push((
            "Decided at".to_owned(),
            Cell::text(plain::sentence(&place_words(reading, event, worst)).trim_end_matches('.')),
        ));
    }
    facts.push(("Gap there".to_owned(), Cell::number_if(judged.worst_gap_mm, |mm| units.gap(mm))));
    facts.push((
        "Uncertainty (95\u{a0}%)".to_owned(),
        Cell::number_if(judged.expanded_u_mm, |mm| format!("\u{b1} {}", units.u(mm))),
    ));
    let name = if judged.margin_mm.is_some_and(|mm| mm < 0.0) {
        "Beyond the nearer limit by"
    } else {
        "To the nearer limit"
    };
    facts.push((name.to_owned(), Cell::number_if(judged.margin_mm, |mm| units.gap(mm.abs()))));
    if let Some(band) = band {
        facts.push(("Band".to_owned(), Cell::text(units.band(band))));
    }
    facts.extend(tilt_facts(judged));
    facts.retain(|(_, cell)| *cell != Cell::None);
    let mut says = job::says(reading, event, judged);
    if let Some(settle) =
        judged.would_settle.as_deref().map(plain::sentence).filter(|text| !text.is_empty())
    {
        says = format!("{says} What would settle it: {settle}");
    }
    VerdictCard {
        heading: format!(
            "{}, {}",
            plain::sentence(phase_words(judged.phase)).trim_end_matches('.'),
            plain::moment(event.at)
        ),
        verdict: judged.verdict,
        says,
        facts,
    }
}

/// A place on the board for people: the name of the station or of the image's place that it is,
/// else how far from where.
pub(super) fn place_words(reading: &Reading<'_>, event: &Event, point: &Point) -> String {
    let units = reading.units;
    if let Some(job) = reading.job_at(event.seq) {
        let near = |x_mm: f64, y_mm: f64| {
            (x_mm - point.x_mm).hypot(y_mm - point.y_mm) < 0.02 * job.image.width.0
        };
        let named = job.image.places().into_iter().find(|(_, at)| near(at.x.0, at.y.0));
        if let Some((name, _)) = named {
            return match name {
                "centre" => "in the middle".to_owned(),
                "left" | "right" | "top" | "bottom" => {
                    format!("in the middle of the {name} edge")
                }
                corner => format!("in the {corner} corner"),
            };
        }
        if let Some(station) =
            job.stations.iter().find(|station| near(station.at.x.0, station.at.y.0))
        {
            return format!("at {}", plain::line(&station.name));
        }
    }
    if !(point.x_mm.is_finite() && point.y_mm.is_finite()) {
        return format!("at {}", plain::line(&point.name));
    }
    let across = match point.x_mm {
        x if x < -0.5 => format!("{} left of the middle", units.length(-x)),
        x if x > 0.5 => format!("{} right of the middle", units.length(x)),
        _ => "on the middle line".to_owned(),
    };
    format!("{across}, {} below the image\u{2019}s top edge", units.length(-point.y_mm))
}

/// Level or lean: how the emitter stands against the board, as it was judged.
struct Tilt {
    name: &'static str,
    value_deg: f64,
    expanded_deg: Option<f64>,
    verdict: Option<VerdictWord>,
    emitter_deg: Option<f64>,
    board_deg: Option<f64>,
}

impl Tilt {
    /// Those that a verdict tells.
    fn all(judged: &Judged) -> Vec<Self> {
        let told = [("level", "Level"), ("lean", "Lean")].into_iter().filter_map(|(key, name)| {
            let tilt = judged.detail.get(key)?;
            let pick =
                |keys: &[&str]| keys.iter().find_map(|key| tilt.get(key)).and_then(Value::as_f64);
            Some(Self {
                name,
                value_deg: pick(&["value_deg", "deg", "level_deg", "lean_deg"])
                    .or_else(|| tilt.as_f64())?,
                expanded_deg: pick(&["expanded_u_deg", "expanded_deg"]),
                verdict: tilt.get("verdict").and_then(Value::as_str).and_then(VerdictWord::parse),
                emitter_deg: pick(&["emitter_deg"]),
                board_deg: pick(&["board_deg"]),
            })
        });
        told.collect()
    }
}

/// Level and lean out of a verdict's detail, where they are told.
fn tilt_facts(judged: &Judged) -> Vec<(String, Cell)> {
    let fact = |tilt: Tilt| {
        let margin = tilt
            .expanded_deg
            .map_or_else(String::new, |u| format!(" \u{b1} {}", crate::units::angle(u)));
        let verdict = tilt
            .verdict
            .map_or_else(String::new, |v| format!(", {}", crate::document::verdict_words(v)));
        let cell = Cell::number(tilt.value_deg, |deg| {
            format!("{}{margin}{verdict}", crate::units::angle(deg))
        });
        (tilt.name.to_owned(), cell)
    };
    Tilt::all(judged).into_iter().map(fact).collect()
}

/// Gaps by station.
pub(super) fn gaps(reading: &Reading<'_>) -> Option<Section> {
    let found = reading.stations(Phase::AsFound);
    let left = reading.stations(Phase::AsLeft);
    let mut names: Vec<&str> = found.iter().map(|(name, _)| *name).collect();
    names.extend(
        left.iter()
            .map(|(name, _)| *name)
            .filter(|name| !found.iter().any(|(known, _)| known == name)),
    );
    let tilts = tilts(reading);
    if names.is_empty() {
        return section("gaps", "Level and lean", tilts.into_iter().collect());
    }
    let units = reading.units;
    let of = |list: &[(&str, StationGap)], name: &str| {
        list.iter().find(|(known, _)| *known == name).map(|(_, gap)| gap.clone())
    };
    let gap = |gap: &Option<StationGap>| match gap {
        Some(gap) if gap.takes > 1 => Cell::number(gap.gap_mm, |mm| {
            format!("{} (mean of {})", units.gap_number(mm), gap.takes)
        }),
        Some(gap) => Cell::number(gap.gap_mm, |mm| units.gap_number(mm)),
        None => Cell::None,
    };
    let verdict = |gap: &Option<StationGap>| {
        gap.as_ref().and_then(|gap| gap.verdict).map_or(Cell::None, Cell::Verdict)
    };
    let mut rows: Vec<Vec<Cell>> = names
        .iter()
        .map(|name| {
            let (before, after) = (of(&found, name), of(&left, name));
            let change = before
                .as_ref()
                .zip(after.as_ref())
                .map(|(before, after)| after.gap_mm - before.gap_mm);
            vec![
                Cell::text(plain::line(name)),
                gap(&before),
                verdict(&before),
                gap(&after),
                verdict(&after),
                Cell::number_if(change, |mm| units.change_number(mm)),
            ]
        })
        .collect();
    let mut columns = vec![
        Column::text("Station"),
        Column::number("As found"),
        Column::text("was"),
        Column::number("As left"),
        Column::text("is"),
        Column::number("Change"),
    ];
    work::drop_empty(&mut columns, &mut rows);
    let caption = format!("Gaps between touch plane and board by station, {}", units.sign());
    let table = Table { caption, columns, rows };
    section(
        "gaps",
        "Gaps by station",
        [Some(Block::Table(table)), tilts].into_iter().flatten().collect(),
    )
}

/// Level and lean by state: the same numbers as on the verdict's card, with what they are the
/// difference of.
fn tilts(reading: &Reading<'_>) -> Option<Block> {
    let degrees = |deg: Option<f64>| Cell::number_if(deg, |deg| crate::units::decimal(deg, 2));
    // What stands as left: by the event that says so, or because it was written again as such.
    let left: Vec<Hash> = reading
        .history
        .events
        .iter()
        .filter_map(|event| match &event.body {
            Body::AsLeft(left) => left.tilt,
            Body::EmitterTilt(_) => event.copy_of,
            _ => None,
        })
        .collect();
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    for phase in [Phase::AsFound, Phase::Between, Phase::AsLeft] {
        let state = plain::sentence(phase_words(phase)).trim_end_matches('.').to_owned();
        let taken = reading
            .events(|body| match body {
                Body::EmitterTilt(tilt) => Some(tilt),
                _ => None,
            })
            .filter(|(event, tilt)| {
                tilt.phase == phase || (phase == Phase::AsLeft && left.contains(&event.hash))
            })
            .last();
        let own = |name: &str| {
            taken.map(|(_, tilt)| if name == "Level" { tilt.level_deg } else { tilt.lean_deg })
        };
        let judged = reading.judged(phase).map(|(_, judged)| Tilt::all(judged)).unwrap_or_default();
        for name in ["Level", "Lean"] {
            let tilt = judged.iter().find(|tilt| tilt.name == name);
            // A record that tells only the difference: the board stands where that leaves it.
            let emitter_deg = tilt.and_then(|tilt| tilt.emitter_deg).or_else(|| own(name));
            let board_deg = tilt
                .and_then(|tilt| tilt.board_deg.or(emitter_deg.map(|deg| deg - tilt.value_deg)));
            if tilt.is_none() && emitter_deg.is_none() {
                continue;
            }
            rows.push(vec![
                Cell::text(state.clone()),
                Cell::text(name),
                degrees(tilt.map(|tilt| tilt.value_deg)),
                degrees(tilt.and_then(|tilt| tilt.expanded_deg)),
                tilt.and_then(|tilt| tilt.verdict).map_or(Cell::None, Cell::Verdict),
                degrees(emitter_deg),
                degrees(board_deg),
            ]);
        }
    }
    let mut columns = vec![
        Column::text("State"),
        Column::text("Which"),
        Column::number("Value"),
        Column::number("\u{b1} (95\u{a0}%)"),
        Column::text("is"),
        Column::number("Emitter stands at"),
        Column::number("Board stands at"),
    ];
    work::drop_empty(&mut columns, &mut rows);
    let caption =
        "Level (turn in the board\u{2019}s plane) and lean (toward the board): how the emitter stands less how the \
                   board stands, each against gravity, degrees"
            .to_owned();
    (!rows.is_empty()).then_some(Block::Table(Table { caption, columns, rows }))
}

/// Whether the takes agree with one plane, and where the uncertainty comes from.
pub(super) fn agreement(reading: &Reading<'_>) -> Option<Section> {
    let (_, judged) = reading
        .judged(Phase::AsLeft)
        .or_else(|| reading.judged(Phase::Between))
        .or_else(|| reading.judged(Phase::AsFound))?;
    let detail = &judged.detail;
    let units = reading.units;
    let mut blocks = Vec::new();
    let left: Vec<Left> = detail
        .get("residuals")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .filter_map(|row| {
            Some(Left {
                station: plain::line(
                    row.get("station")
                        .or_else(|| row.get("name"))
                        .and_then(Value::as_str)
                        .unwrap_or("\u{2013}"),
                ),
                residual_mm: row.get("residual_mm")?.as_f64()?,
                normalized: row.get("normalized").and_then(Value::as_f64),
            })
        })
        .collect();
    if let Some(chart) = residuals::draw(&left, units) {
        blocks.push(Block::Text(agreement_words(detail)));
        let more = left.len().saturating_sub(residuals::MOST_ROWS);
        let more = if more > 0 {
            format!(" The {} largest of {}.", residuals::MOST_ROWS, left.len())
        } else {
            String::new()
        };
        blocks.push(Block::Figures(vec![Figure {
            alt: "What one plane leaves over at each station".to_owned(),
            picture: Picture::Chart(chart.to_string()),
            caption: format!("Taken gap less the gap of the plane that fits all takes best.{more}"),
            wide: true,
        }]));
    }
    let lines: Vec<BudgetLine> = detail
        .get("budget")
        .and_then(|lines| serde_json::from_value(lines.clone()).ok())
        .unwrap_or_default();
    if let Some(chart) = budget::draw(&lines) {
        blocks.push(Block::Figures(vec![Figure {
            alt: "Shares of the uncertainty".to_owned(),
            picture: Picture::Chart(chart.to_string()),
            caption: "Where the uncertainty comes from: shares of the variance at the place that decided.".to_owned(),
            wide: true,
        }]));
    }
    let rest = other::value_blocks(
        detail,
        units,
        &["points", "residuals", "agreement", "budget", "level", "lean", "verdict", "turns"],
    );
    if !rest.is_empty() {
        blocks.push(Block::Heading("The numbers behind the last verdict".to_owned()));
        blocks.extend(rest);
    }
    section("agreement", "Whether the takes agree", blocks)
}

fn agreement_words(detail: &Value) -> String {
    let verdict = match detail.get("agreement").and_then(Value::as_str) {
        Some("agrees") => {
            "They agree with one flat sheet of light as well as chance would have it."
        }
        Some("strained") => {
            "They agree less well than chance would have it in 95 of 100 cases; the uncertainties were widened to cover that."
        }
        Some("contradicts") => {
            "They contradict one another: one was misread, something moved, or the board is not as described. Nothing is said \
             of the gap on them."
        }
        Some("untested") => {
            "There are only as many takes as a plane needs, so they cannot check one another: there is no verdict of within."
        }
        _ => "The bars show how far each take lies from the one plane that fits all of them best.",
    };
    format!("All takes together must fit one sheet of light over one board. {verdict}")
}
