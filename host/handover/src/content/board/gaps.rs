//! Gaps by station, and level and lean by state.

use skimgauge_quantity::{Deg, say};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Body, Judged, Phase, Tilt};

use super::super::{Reading, StationGap, phase_title, section, work};
use crate::document::{Block, Cell, Column, Section, Table};
use crate::plain;

/// Level and lean of a verdict, where they are told.
fn judged_tilts(judged: &Judged) -> impl Iterator<Item = (&'static str, &Tilt)> {
    let both = [("Level", &judged.detail.level), ("Lean", &judged.detail.lean)];
    both.into_iter().filter_map(|(name, tilt)| Some((name, tilt.as_ref()?)))
}

/// Level and lean for a verdict's card.
pub(super) fn tilt_facts(reading: &Reading<'_>, judged: &Judged) -> Vec<(String, Cell)> {
    let fact = |(name, tilt): (&str, &Tilt)| {
        let both = tilt.value.figure().give_or_take(tilt.expanded.figure());
        let told = say!("{both}, {}", tilt.verdict.shown());
        (name.to_owned(), Cell::number(tilt.value.0, |_| told.text(reading.style)))
    };
    judged_tilts(judged).map(fact).collect()
}

/// Gaps by station.
pub(in crate::content) fn gaps(reading: &Reading<'_>) -> Option<Section> {
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
    let of = |list: &[(&str, StationGap)], name: &str| {
        list.iter().find(|(known, _)| *known == name).map(|(_, gap)| gap.clone())
    };
    let gap = |gap: &Option<StationGap>| match gap {
        Some(gap) if gap.takes > 1 => Cell::number(gap.gap.0, |_| {
            format!("{} (mean of {})", gap.gap.gap().cell(reading.style), gap.takes)
        }),
        gap => reading.gap(gap.as_ref().map(|gap| gap.gap)),
    };
    let verdict = |gap: &Option<StationGap>| {
        gap.as_ref().and_then(|gap| gap.verdict).map_or(Cell::None, Cell::Verdict)
    };
    let mut rows: Vec<Vec<Cell>> = names
        .iter()
        .map(|name| {
            let (before, after) = (of(&found, name), of(&left, name));
            let change =
                before.as_ref().zip(after.as_ref()).map(|(before, after)| after.gap - before.gap);
            vec![
                Cell::text(plain::line(name)),
                gap(&before),
                verdict(&before),
                gap(&after),
                verdict(&after),
                change.map_or(Cell::None, |by| reading.cell(by.0, by.gap().signed())),
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
    let caption = format!("Gaps between touch plane and board by station, {}", reading.sign());
    let table = Table { caption, columns, rows };
    section(
        "gaps",
        "Gaps by station",
        [Some(Block::Table(table)), tilts].into_iter().flatten().collect(),
    )
}

/// The tilts that stand as left: by the event that says so, or because they were written again as
/// such.
fn left_tilts(reading: &Reading<'_>) -> Vec<Hash> {
    reading
        .history
        .events
        .iter()
        .filter_map(|event| match &event.body {
            Body::AsLeft(left) => left.tilt,
            Body::EmitterTilt(_) => event.copy_of,
            _ => None,
        })
        .collect()
}

/// Level and lean by state: the same numbers as on the verdict's card, with what they are the
/// difference of.
fn tilts(reading: &Reading<'_>) -> Option<Block> {
    let degrees =
        |deg: Option<Deg>| deg.map_or(Cell::None, |deg| reading.cell(deg.0, deg.figure()));
    let left = left_tilts(reading);
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    for phase in [Phase::AsFound, Phase::Between, Phase::AsLeft] {
        let state = phase_title(phase);
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
            taken.map(|(_, tilt)| if name == "Level" { tilt.level } else { tilt.lean })
        };
        let judged = reading.judged(phase);
        let judged: Vec<_> =
            judged.into_iter().flat_map(|(_, judged)| judged_tilts(judged)).collect();
        for name in ["Level", "Lean"] {
            let tilt = judged.iter().find(|(known, _)| *known == name).map(|(_, tilt)| *tilt);
            let emitter = tilt.map(|tilt| tilt.emitter).or_else(|| own(name));
            if emitter.is_none() {
                continue;
            }
            rows.push(vec![
                Cell::text(state),
                Cell::text(name),
                degrees(tilt.map(|tilt| tilt.value)),
                degrees(tilt.map(|tilt| tilt.expanded)),
                tilt.map_or(Cell::None, |tilt| Cell::Verdict(tilt.verdict)),
                degrees(emitter),
                degrees(tilt.map(|tilt| tilt.board)),
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
