//! Where things went on the wall.

use skimgauge_quantity::{Mm, plain as number};
use skimgauge_record::section::SetOut;

use super::super::Reading;
use super::{Facts, drawing_in_units, listed, table};
use crate::document::{Block, Cell, Column};
use crate::plain;

pub(super) fn blocks(reading: &Reading<'_>, set_out: &SetOut) -> Vec<Block> {
    let mut blocks =
        listed(reading, "To be changed before anything is drilled", &set_out.to_change_first);
    blocks.extend(drawing_in_units(
        reading,
        (&set_out.drawing, set_out.drawing_in_inches.as_deref()),
        "The wall, to scale",
    ));
    blocks.extend(
        Facts::new(reading)
            .length("Image, width", set_out.width, Mm::tape)
            .length("Image, height", set_out.height, Mm::tape)
            .length("Its top edge above the floor", set_out.top_above_floor, Mm::tape)
            .length_if(
                "The emitter\u{2019}s light above the floor",
                set_out.emitter_light_above_floor,
                Mm::tape,
            )
            .length_if(
                "The emitter\u{2019}s lower edge above the floor",
                set_out.emitter_lower_edge_above_floor,
                Mm::tape,
            )
            .length(
                "Plumb line from the wall\u{2019}s left end",
                set_out.plumb_line_from_wall_left,
                Mm::tape,
            )
            .length("Level line above the floor", set_out.level_line_above_floor, Mm::tape)
            .block(),
    );
    blocks.extend(marks(reading, set_out));
    blocks.extend(clearances(reading, set_out));
    blocks.extend(reach(reading, set_out));
    for (title, said) in [
        ("Assumed", &set_out.assumed),
        ("To know", &set_out.remarks),
        ("Take care", &set_out.cautions),
    ] {
        blocks.extend(listed(reading, title, said));
    }
    blocks
}

fn tape(reading: &Reading<'_>, length: Option<Mm>) -> Cell {
    length.map_or(Cell::None, |length| reading.cell(length.0, length.tape()))
}

fn marks(reading: &Reading<'_>, set_out: &SetOut) -> Option<Block> {
    let rows = set_out.marks.iter().map(|mark| {
        vec![
            Cell::text(plain::line(&mark.name)),
            tape(reading, Some(mark.from_plumb)),
            tape(reading, Some(mark.from_level)),
            tape(reading, Some(mark.above_floor)),
            tape(reading, mark.drill),
        ]
    });
    let columns = vec![
        Column::text("Mark"),
        Column::number("Right of the plumb line"),
        Column::number("Above the level line"),
        Column::number("Above the floor"),
        Column::number("Drill"),
    ];
    table(&format!("Marks on the wall, {}", reading.sign()), columns, rows.collect())
}

fn clearances(reading: &Reading<'_>, set_out: &SetOut) -> Option<Block> {
    let rows = set_out.clearances.iter().map(|clearance| {
        vec![
            Cell::text(plain::line(&clearance.between)),
            tape(reading, Some(clearance.free)),
            tape(reading, clearance.least),
            tape(reading, clearance.most),
            Cell::text(clearance.fit.shown()),
        ]
    });
    let columns = vec![
        Column::text("Between"),
        Column::number("Free"),
        Column::number("At least"),
        Column::number("At most"),
        Column::text("is"),
    ];
    table(&format!("Free distances, {}", reading.sign()), columns, rows.collect())
}

fn reach(reading: &Reading<'_>, set_out: &SetOut) -> Option<Block> {
    let rows = set_out.reach.iter().map(|reach| {
        vec![
            Cell::text(plain::line(&reach.who)),
            tape(reading, Some(reach.low)),
            tape(reading, Some(reach.high)),
            reading.cell(reach.of_image_percent, number(reach.of_image_percent, 0)),
            Cell::text(plain::line(&reach.after)),
        ]
    });
    let columns = vec![
        Column::text("Who"),
        Column::number("Reaches from"),
        Column::number("to"),
        Column::number("Of the image, %"),
        Column::text("After"),
    ];
    table(&format!("Who reaches the image, {}", reading.sign()), columns, rows.collect())
}
