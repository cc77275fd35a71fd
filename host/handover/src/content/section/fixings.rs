//! What the anchors carry. Says nothing about the wall.

use skimgauge_quantity::{Figure, force, plain as number};
use skimgauge_record::section::{Fixings, PlateLoad, ProofFound, WithinAllowed};

use super::super::Reading;
use super::{Facts, listed, table};
use crate::document::{Block, Cell, Column};
use crate::plain;

pub(super) fn blocks(reading: &Reading<'_>, fixings: &Fixings) -> Vec<Block> {
    let mut blocks = Vec::new();
    blocks.extend(plates(reading, fixings));
    blocks.extend(anchors(reading, fixings));
    blocks.extend(proof_loads(reading, fixings));
    let factor = plain::trimmed(number(fixings.load_factor, 2).number(reading.style));
    let factor = Cell::number(fixings.load_factor, |_| factor);
    blocks.extend(Facts::new(reading).cell("All loads multiplied by", factor).block());
    for (title, said) in [
        ("To know and do", &fixings.remarks),
        ("What was counted", &fixings.counted),
        ("How it was worked out", &fixings.method),
        ("Take care", &fixings.cautions),
    ] {
        blocks.extend(listed(reading, title, said));
    }
    blocks
}

fn whole(reading: &Reading<'_>, value: f64) -> Cell {
    let figure: Figure = number(value, 0);
    reading.cell(value, figure)
}

/// A force in a column whose head has its unit.
fn load(reading: &Reading<'_>, newtons: f64) -> Cell {
    reading.cell(newtons, force(newtons))
}

/// The head of a column of forces.
fn forces(reading: &Reading<'_>, of: &str) -> Column {
    Column::number(format!("{of}, {}", reading.style.units.force_sign()))
}

fn percent(reading: &Reading<'_>, used: Option<f64>) -> Cell {
    used.map_or(Cell::None, |used| whole(reading, used))
}

/// Beyond what was entered is not always by what it carries: the words name what it is.
fn judged(fixings: &Fixings, plate: &PlateLoad) -> &'static str {
    let slipped = fixings.proof_loads.iter().any(|load| {
        load.found == ProofFound::Slipped && load.plate.as_ref().is_none_or(|of| *of == plate.plate)
    });
    // Kept to the whole percent: of 100 it is not known on which side it was.
    let carries_more = plate.used_percent.is_some_and(|used| used >= 100.0);
    match (plate.judged, slipped, carries_more) {
        (WithinAllowed::BeyondAllowed, true, true) => {
            "beyond the values entered, and an anchor slipped under its proof load"
        }
        (WithinAllowed::BeyondAllowed, true, false) => {
            "not to be used: an anchor slipped under its proof load"
        }
        (WithinAllowed::BeyondAllowed, false, false) => {
            "within the loads entered, and their conditions are not kept"
        }
        (judged, ..) => judged.shown(),
    }
}

fn plates(reading: &Reading<'_>, fixings: &Fixings) -> Option<Block> {
    let rows = fixings.plates.iter().map(|plate| {
        vec![
            Cell::text(plain::line(&plate.plate)),
            Cell::text(judged(fixings, plate)),
            percent(reading, plate.used_percent),
            Cell::text(plain::line(&plate.most_loaded)),
            load(reading, plate.tension_n),
            load(reading, plate.shear_n),
            Cell::text(plain::line(&plate.case)),
        ]
    });
    let columns = vec![
        Column::text("Plate"),
        Column::text("is"),
        Column::number("Used, %"),
        Column::text("Most loaded anchor"),
        forces(reading, "Tension"),
        forces(reading, "Shear"),
        Column::text("in the case of"),
    ];
    table("Plates, each with its most loaded anchor", columns, rows.collect())
}

fn anchors(reading: &Reading<'_>, fixings: &Fixings) -> Option<Block> {
    let rows = fixings.anchors.iter().map(|anchor| {
        vec![
            Cell::text(plain::line(&anchor.plate)),
            Cell::text(plain::line(&anchor.anchor)),
            load(reading, anchor.tension_n),
            load(reading, anchor.shear_n),
            percent(reading, anchor.used_percent),
        ]
    });
    let columns = vec![
        Column::text("Plate"),
        Column::text("Anchor"),
        forces(reading, "Tension"),
        forces(reading, "Shear"),
        Column::number("Used, %"),
    ];
    table("Anchors, in the case that loads their plate most", columns, rows.collect())
}

fn proof_loads(reading: &Reading<'_>, fixings: &Fixings) -> Option<Block> {
    let rows = fixings.proof_loads.iter().map(|proof| {
        vec![
            proof.plate.as_deref().map_or(Cell::None, |plate| Cell::text(plain::line(plate))),
            Cell::text(plain::line(&proof.anchor)),
            load(reading, proof.load_n),
            whole(reading, proof.held_s),
            reading.cell(proof.slip.0, proof.slip.gap()),
            Cell::text(proof.found.shown()),
        ]
    });
    let columns = vec![
        Column::text("Plate"),
        Column::text("Anchor"),
        forces(reading, "Load"),
        Column::number("Held, s"),
        Column::number(format!("Slip, {}", reading.sign())),
        Column::text("What it showed"),
    ];
    table("Proof loads", columns, rows.collect())
}
