//! How well the head repeats.

use skimgauge_drawing::trace;
use skimgauge_quantity::Mm;
use skimgauge_record::section::Repeats;

use super::super::{Reading, job_file};
use super::Facts;
use crate::document::{Block, Cell, Figure, Picture};

pub(super) fn blocks(reading: &Reading<'_>, repeats: &Repeats) -> Vec<Block> {
    let mut blocks = Vec::new();
    let band = reading.job().and_then(job_file::gap_band);
    if let Some(chart) = trace::draw(&repeats.history, band, reading.style.units) {
        blocks.push(Block::Figures(vec![Figure {
            alt: "Gap over time".to_owned(),
            picture: Picture::Chart(chart.to_string()),
            caption: format!(
                "The gap while a take settled, in {} over seconds.",
                reading.unit_word()
            ),
            wide: true,
        }]));
    }
    blocks.extend(
        Facts::new(reading)
            .cell("Takes", Cell::text(repeats.takes.to_string()))
            .length("Scatter (standard deviation)", repeats.scatter, Mm::fine)
            .block(),
    );
    blocks
}
