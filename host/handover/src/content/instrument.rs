//! What was measured with what.

use skimgauge_record::event::{Body, BudgetLine, Head};
use skimgauge_record::takes::CurrentTake;

use super::{Reading, section};
use crate::charts::budget;
use crate::document::{Block, Cell, Column, Figure, Picture, Section, Table};
use crate::plain;
use crate::units::short;

/// A head with the takes that it made.
#[derive(Debug)]
pub(super) struct HeadUse<'a> {
    pub head: &'a Head,
    pub takes: usize,
    /// Days from its calibration to its last take here.
    pub age_days: Option<i32>,
}

/// Each head as it was used, in the order of use. One that was zeroed in the course of the work
/// counts anew.
pub(super) fn heads<'a>(reading: &'a Reading<'_>) -> Vec<HeadUse<'a>> {
    let mut heads: Vec<HeadUse<'a>> = Vec::new();
    for CurrentTake { event, take } in reading.history.takes() {
        let age_days = take
            .head
            .calibration_date
            .as_deref()
            .and_then(|date| plain::days_since(date, event.at));
        match heads.iter_mut().find(|used| *used.head == take.head) {
            Some(used) => {
                used.takes += 1;
                used.age_days = age_days.or(used.age_days);
            }
            None => heads.push(HeadUse { head: &take.head, takes: 1, age_days }),
        }
    }
    heads
}

/// A head with its calibration in a few words.
pub(super) fn in_short(used: &HeadUse<'_>) -> String {
    let calibrated = used.head.calibration_date.as_deref().map_or_else(
        || "calibration date not known".to_owned(),
        |date| format!("calibrated {}", plain::date(date)),
    );
    format!("head {}, {calibrated}", plain::line(&used.head.serial))
}

/// Heads, calibration, software, temperature.
pub(super) fn measured_with(reading: &Reading<'_>) -> Option<Section> {
    let units = reading.units;
    let mut blocks = Vec::new();
    let heads = heads(reading);
    let several = heads.len() > 1;
    for used in &heads {
        if several {
            blocks.push(Block::Heading(format!(
                "Head {}, {}",
                plain::line(&used.head.serial),
                plain::count(used.takes, "take")
            )));
        }
        blocks.push(Block::Facts(head_facts(used)));
    }
    let mut facts: Vec<(String, Cell)> = Vec::new();
    let mut software: Vec<String> = Vec::new();
    for event in &reading.history.events {
        let name = plain::line(&event.software);
        if !software.contains(&name) {
            software.push(name);
        }
    }
    if !software.is_empty() {
        facts.push(("Software".to_owned(), Cell::text(plain::list(&software))));
    }
    let temperatures = reading
        .takes
        .iter()
        .filter_map(|current| current.take.temperature_c)
        .filter(|c| c.is_finite());
    let (low, high) = temperatures
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), c| (low.min(c), high.max(c)));
    if low <= high {
        let text = if high - low < 0.05 {
            short(low, 1)
        } else {
            format!("{} to {}", short(low, 1), short(high, 1))
        };
        facts.push(("Temperature in the head".to_owned(), Cell::text(format!("{text} \u{b0}C"))));
    }
    let used = reading
        .events(|body| match body {
            Body::CalibrationUsed(used) => Some(used),
            _ => None,
        })
        .last();
    if let Some((_, used)) = used {
        facts.push((
            "Zero, added to every gap".to_owned(),
            Cell::number(used.zero_mm, |mm| units.fine(mm)),
        ));
        facts.push((
            "Its standard uncertainty".to_owned(),
            Cell::number(used.u_zero_mm, |mm| units.fine(mm)),
        ));
    }
    if !facts.is_empty() {
        blocks.push(Block::Facts(facts));
    }
    blocks.extend(calibrated(reading));
    section("measured-with", "Measured with", blocks)
}

fn head_facts(used: &HeadUse<'_>) -> Vec<(String, Cell)> {
    let head = used.head;
    let age = used.age_days.map_or_else(String::new, |days| match days {
        0 => ", the day of the last take".to_owned(),
        days if days < 0 => {
            format!(
                ", dated {} after the last take",
                plain::count(days.unsigned_abs() as usize, "day")
            )
        }
        days => {
            format!(", {} before the last take", plain::count(days.unsigned_abs() as usize, "day"))
        }
    });
    let calibrated = head
        .calibration_date
        .as_deref()
        .map_or_else(|| "not known".to_owned(), |date| format!("{}{age}", plain::date(date)));
    let mut facts = vec![
        ("Head".to_owned(), Cell::text(plain::line(&head.serial))),
        ("Firmware".to_owned(), Cell::text(plain::line(&head.firmware))),
        ("Calibrated".to_owned(), Cell::text(calibrated)),
    ];
    if let Some(hash) = &head.calibration_sha256 {
        facts.push(("Constants\u{2019} hash begins".to_owned(), Cell::text(hash.short())));
    }
    facts
}

/// The calibration done in this job, with its budget.
fn calibrated(reading: &Reading<'_>) -> Vec<Block> {
    let mut blocks = Vec::new();
    let last = reading
        .events(|body| match body {
            Body::Calibrated(calibrated) => Some(calibrated),
            _ => None,
        })
        .last();
    let Some((event, calibrated)) = last else {
        return blocks;
    };
    blocks.push(Block::Heading("Zero found in this job".to_owned()));
    blocks.push(Block::Text(format!(
        "Head {} was held against {} on {}.",
        plain::line(&calibrated.head.serial),
        plain::line(&calibrated.reference),
        plain::moment(event.at)
    )));
    if let Some(chart) = budget::draw(&calibrated.budget) {
        blocks.push(Block::Figures(vec![Figure {
            alt: "Shares of the uncertainty of the zero".to_owned(),
            picture: Picture::Chart(chart.to_string()),
            caption: "Where the uncertainty of the zero comes from: shares of its variance."
                .to_owned(),
            wide: true,
        }]));
        blocks.push(Block::Table(budget_table(&calibrated.budget)));
    }
    blocks
}

/// A budget as JCGM 100 lays it out. Its numbers stay in the units that it was made in.
fn budget_table(lines: &[BudgetLine]) -> Table {
    let rows = lines
        .iter()
        .map(|line| {
            vec![
                Cell::text(plain::line(&line.source)),
                Cell::number(line.value, |v| {
                    format!("{} {}", short(v, 5), plain::line(&line.unit))
                }),
                Cell::text(plain::line(&line.distribution)),
                Cell::number(line.divisor, |v| short(v, 3)),
                Cell::number(line.sensitivity, |v| short(v, 4)),
                Cell::number(line.contribution, |v| short(v, 5)),
                Cell::number(line.share, budget::percent),
            ]
        })
        .collect();
    Table {
        caption: "Uncertainty budget of the zero, contributions in mm".to_owned(),
        columns: vec![
            Column::text("Source"),
            Column::number("Value"),
            Column::text("Distribution"),
            Column::number("Divisor"),
            Column::number("Sensitivity"),
            Column::number("Contribution"),
            Column::number("Share"),
        ],
        rows,
    }
}
