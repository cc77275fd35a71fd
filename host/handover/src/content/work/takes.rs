//! Every take, also those that were replaced.

use std::collections::{HashMap, HashSet};

use skimgauge_record::Event;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Came, Phase, Struck, Take, TakeFlag};
use skimgauge_record::takes::CurrentTake;

use super::super::{Reading, section};
use super::drop_empty;
use crate::document::{Block, Cell, Column, Section, Table};
use crate::plain;

/// Which takes stand, and which of them as left.
struct Standing<'a> {
    any: HashSet<Hash>,
    left: HashSet<Hash>,
    struck_out: HashMap<Hash, &'a Struck>,
}

impl<'a> Standing<'a> {
    fn of(reading: &'a Reading<'_>) -> Self {
        let hashes = |takes: &[CurrentTake<'_>]| {
            takes.iter().map(|current| current.event.hash).collect::<HashSet<_>>()
        };
        Self {
            any: hashes(&reading.takes),
            left: hashes(&reading.history.standing(Phase::AsLeft)),
            struck_out: reading.history.struck_out(),
        }
    }

    fn remarks(&self, event: &Event, take: &Take) -> String {
        let mut remarks: Vec<String> =
            take.flags.iter().map(TakeFlag::word).map(plain::line).collect();
        if let Some(why) = self.struck_out.get(&event.hash) {
            remarks.push(format!("struck out: {}", plain::line(why.word())));
        } else if !self.any.contains(&event.hash) {
            remarks.push("replaced or of an earlier round".to_owned());
        } else if take.phase != Phase::AsLeft && self.left.contains(&event.hash) {
            remarks.push("stands as left".to_owned());
        }
        if let Some(Came::Said { .. }) = take.came {
            remarks.push("the head was said to be here".to_owned());
        }
        remarks.join("; ")
    }
}

/// Every take, also those that were replaced.
pub(in crate::content) fn every_take(reading: &Reading<'_>) -> Option<Section> {
    let standing = Standing::of(reading);
    let mut days: Vec<String> =
        reading.history.takes().map(|current| plain::day(current.event.at)).collect();
    days.dedup();
    let one_day = days.len() == 1;
    let mut rows: Vec<Vec<Cell>> =
        reading.history.takes().map(|current| row(reading, &standing, current, one_day)).collect();
    if rows.is_empty() {
        return None;
    }
    let mut columns = vec![
        Column::text("No."),
        Column::text("When"),
        Column::text("Station"),
        Column::text("State"),
        Column::number(format!("Gap, {}", reading.sign())),
        Column::number(format!("u, {}", reading.sign())),
        Column::number("Tilt, \u{b0}"),
        Column::number("\u{b0}C"),
        Column::text("Verdict"),
        Column::text("Remarks"),
    ];
    drop_empty(&mut columns, &mut rows);
    let on = if one_day { format!(" on {}", days[0]) } else { String::new() };
    let caption = format!("{} in the order of the record{on}", plain::count(rows.len(), "take"));
    let blocks = vec![
        Block::Small(
            "u is the standard uncertainty of the single take, without what all takes share (the head\u{2019}s zero, the \
             temperature); that is counted in the verdict."
                .to_owned(),
        ),
        Block::Table(Table { caption, columns, rows }),
    ];
    section("takes", "Every take", blocks)
}

fn row(
    reading: &Reading<'_>,
    standing: &Standing<'_>,
    CurrentTake { event, take }: CurrentTake<'_>,
    one_day: bool,
) -> Vec<Cell> {
    let when = plain::moment(event.at);
    let time = when.split(", ").nth(1).and_then(|rest| rest.split(' ').next()).map(str::to_owned);
    let verdict = if standing.any.contains(&event.hash) {
        reading.told(take.phase, event, take)
    } else {
        take.verdict
    };
    vec![
        Cell::text(event.seq.to_string()),
        Cell::text(time.filter(|_| one_day).unwrap_or(when)),
        Cell::text(plain::line(&take.station)),
        Cell::text(format!("{}, round {}", take.phase.shown(), take.round)),
        reading.gap(Some(take.gap)),
        reading.cell(take.u_gap.0, take.u_gap.fine()),
        take.tilt.map_or(Cell::None, |tilt| reading.cell(tilt.0, tilt.figure())),
        take.temperature.map_or(Cell::None, |warm| reading.cell(warm.0, warm.figure())),
        verdict.map_or(Cell::None, Cell::Verdict),
        Cell::text(standing.remarks(event, take)),
    ]
}
