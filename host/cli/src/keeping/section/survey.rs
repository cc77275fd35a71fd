//! The board's own shape.

use super::said;
use crate::survey::Survey;
use crate::tables;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Mm, MmPerM, Style};
use skimgauge_record::section::{self, Best, Height, Plane, Proposed};
use skimgauge_site::survey::Surveyed;

/// What a survey found, with its map.
pub fn survey(survey: &Survey) -> section::Survey {
    let heights = |places: &[Surveyed]| {
        places
            .iter()
            .map(|place| Height { x: Mm(place.x_mm), y: Mm(place.y_mm), z: Mm(place.z_mm) })
            .collect()
    };
    let next = survey.next.iter().map(|place| Proposed {
        order: counted(place.order),
        x: Mm(place.x_mm),
        y: Mm(place.y_mm),
        why: place.why.text(Style::default()),
    });
    section::Survey {
        points: counted(survey.points),
        flatness: Mm(survey.flatness_mm),
        flatness_is_proved: survey.flatness_is_proved,
        least_squares_flatness: Mm(survey.least_squares_flatness_mm),
        plane: Plane {
            c: Mm(survey.plane.c_mm),
            p: MmPerM(survey.plane.p_mm_per_m),
            q: MmPerM(survey.plane.q_mm_per_m),
        },
        bow: survey.bow_mm.map(Mm),
        bow_across: survey.bow_across_mm.map(Mm),
        bow_down: survey.bow_down_mm.map(Mm),
        twist: survey.twist_mm.map(Mm),
        worst: heights(&survey.worst),
        bumps: heights(&survey.bumps),
        band: Best {
            low: Mm(survey.band.low_mm),
            high: Mm(survey.band.high_mm),
            needed: Mm(survey.band.needed_mm),
            margin: Mm(survey.band.margin_mm),
            can_be_met: survey.band.verdict == Verdict::Within,
            verdict: Some(survey.band.verdict),
        },
        next: next.collect(),
        remarks: said(&survey.remarks),
        map: survey.map.mm.clone(),
        map_in_inches: Some(survey.map.inch.clone()),
        simulated: survey.simulated,
        table_sha256: Some(tables::fingerprint(&survey.heights)),
    }
}

/// No table of points comes near this.
fn counted(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
