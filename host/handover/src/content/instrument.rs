//! What was measured with what.

use skimgauge_drawing::shares;
use skimgauge_quantity::{Celsius, MM_PER_INCH, Units, plain as number};
use skimgauge_record::event::{Body, BudgetLine, Head, Looked};
use skimgauge_record::takes::CurrentTake;

use super::{Reading, board, section};
use crate::document::{Block, Cell, Column, Figure, Picture, Section, Table};
use crate::plain;

/// A head with the takes that it made.
#[derive(Debug)]
pub(super) struct HeadUse<'a> {
    pub head: &'a Head,
    pub takes: usize,
    /// Days from its zero to its last take here.
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

/// A head with its zero in a few words.
pub(super) fn in_short(used: &HeadUse<'_>) -> String {
    let calibrated = used.head.calibration_date.as_deref().map_or_else(
        || "date of its zero not known".to_owned(),
        |date| format!("zeroed {}", plain::date(date)),
    );
    format!("head {}, {calibrated}", plain::line(&used.head.serial))
}

/// Heads, their zero, software, temperature.
pub(super) fn measured_with(reading: &Reading<'_>) -> Option<Section> {
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
    if let Some(text) = emitter_off(reading) {
        facts.push(("With the emitter off".to_owned(), Cell::text(text)));
    }
    if let Some(text) = temperature(reading) {
        facts.push(("Temperature in the head".to_owned(), Cell::text(text)));
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
            reading.fact(used.zero.0, used.zero.fine()),
        ));
        facts.push((
            "Its standard uncertainty".to_owned(),
            reading.fact(used.u_zero.0, used.u_zero.fine()),
        ));
    }
    if !facts.is_empty() {
        blocks.push(Block::Facts(facts));
    }
    blocks.extend(calibrated(reading));
    section("measured-with", "Measured with", blocks)
}

/// Whether a line of light stayed that is no sheet, as it was seen last.
fn emitter_off(reading: &Reading<'_>) -> Option<String> {
    let looked = reading.events(|body| match body {
        Body::EmitterOff(off) => Some(off),
        _ => None,
    });
    let (_, off) = looked.last()?;
    Some(match (&off.saw, off.gap) {
        (Looked::Nothing, _) => "no line of light stayed".to_owned(),
        (Looked::Line, Some(gap)) => {
            format!("a line of light stayed, as if the gap were {}", gap.gap().text(reading.style))
        }
        (Looked::Line, None) => "a line of light stayed".to_owned(),
        (Looked::LeftOut, _) => "nobody looked".to_owned(),
        (Looked::Other(word), _) => plain::line(word),
    })
}

/// From the coldest take that stands to the warmest.
fn temperature(reading: &Reading<'_>) -> Option<String> {
    let all = reading.takes.iter().filter_map(|current| current.take.temperature);
    let mut all: Vec<Celsius> = all.filter(|celsius| celsius.is_finite()).collect();
    all.sort_by(Celsius::total_cmp);
    let (low, high) = (*all.first()?, *all.last()?);
    Some(if (high - low).0 < 0.05 {
        low.figure().text(reading.style)
    } else {
        low.figure().to(high.figure()).text(reading.style)
    })
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
    let zeroed = head
        .calibration_date
        .as_deref()
        .map_or_else(|| "not known".to_owned(), |date| format!("{}{age}", plain::date(date)));
    let mut facts = vec![
        ("Head".to_owned(), Cell::text(plain::line(&head.serial))),
        ("Firmware".to_owned(), Cell::text(plain::line(&head.firmware))),
        ("Zeroed".to_owned(), Cell::text(zeroed)),
    ];
    if let Some(hash) = &head.calibration_sha256 {
        facts.push(("Constants\u{2019} hash begins".to_owned(), Cell::text(hash.short())));
    }
    facts
}

/// The zero found in this job, with its budget.
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
    if let Some(chart) = shares::draw(&board::shares_of(&calibrated.budget)) {
        blocks.push(Block::Figures(vec![Figure {
            alt: "Shares of the uncertainty of the zero".to_owned(),
            picture: Picture::Chart(chart.to_string()),
            caption: "Where the uncertainty of the zero comes from: shares of its variance."
                .to_owned(),
            wide: true,
        }]));
        blocks.push(Block::Table(budget_table(reading, &calibrated.budget)));
    }
    blocks
}

/// A budget as JCGM 100 lays it out. Made in millimetres, it is shown in the page's lengths; what is
/// no length has the unit that it was made in.
fn budget_table(reading: &Reading<'_>, lines: &[BudgetLine]) -> Table {
    let (per_length, finer) = match reading.style.units {
        Units::Mm => (1.0, 0),
        Units::Inch => (MM_PER_INCH, 1),
    };
    let digits = |value: f64, over: f64, decimals: u8| {
        let shown = number(value / over, decimals).number(reading.style);
        Cell::number(value, |_| plain::trimmed(shown))
    };
    let rows = lines
        .iter()
        .map(|line| {
            let (own, by, unit) = match line.unit.as_str() {
                "mm" => (per_length, 1.0, reading.sign()),
                unit => (1.0, per_length, unit),
            };
            vec![
                Cell::text(plain::line(&line.source)),
                Cell::number(line.value, |value| {
                    let value = number(value / own, 5 + finer).number(reading.style);
                    format!("{}\u{a0}{}", plain::trimmed(value), plain::line(unit))
                }),
                Cell::text(plain::line(&line.distribution)),
                digits(line.divisor, 1.0, 3),
                digits(line.sensitivity, by, 4 + finer),
                digits(line.contribution, per_length, 5 + finer),
                Cell::number(line.share, shares::percent),
            ]
        })
        .collect();
    Table {
        caption: format!(
            "Uncertainty budget of the zero, contributions in {}",
            reading.unit_word()
        ),
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
