//! The live history of a take: the gap while it settled.

use super::rounds::{FRAME, frame};
use super::{Anchor, SMALL, Scale, drawn, label, sheet, short, stroke};
use crate::palette::{BEAM, SOFT};
use crate::units::Units;
use skimgauge_quantity::{Band, Mm};

/// Points of the line: more cannot be told apart in print.
const MOST_POINTS: usize = 1200;

/// The chart of `[time_s, gap_mm]`, in the order of time; none with fewer than two points.
pub fn draw(points: &[[f64; 2]], band: Option<Band<Mm>>, units: Units) -> Option<svg::Document> {
    let [width, height, left, right, top, bottom] = FRAME;
    let points: Vec<[f64; 2]> =
        points.iter().copied().filter(|point| point.iter().all(|v| v.is_finite())).collect();
    if points.len() < 2 {
        return None;
    }
    let gaps = || points.iter().map(|point| units.of_mm(point[1]));
    let up = Scale::over(gaps(), height - bottom, top)?;
    let along = Scale::over(points.iter().map(|point| point[0]), left, width - right)?;
    // A band far from what was seen would flatten the line: it is drawn where it is in view.
    let band = band.filter(|band| {
        [band.low, band.high].iter().all(|end| (up.low..=up.high).contains(&units.of_mm(end.0)))
    });
    let step = points.len().div_ceil(MOST_POINTS);
    let path: Vec<String> = points
        .iter()
        .step_by(step)
        .map(|[time_s, gap_mm]| {
            format!("{} {}", short(along.at(*time_s)), short(up.at(units.of_mm(*gap_mm))))
        })
        .collect();
    let mut chart = sheet(width, height, &format!("Gap over time, {} readings", points.len()))
        .add(frame(up, band, units))
        .add(stroke([left, height - bottom], [width - right, height - bottom], 0.8, SOFT))
        .add(drawn(&format!("M{}", path.join("L")), 1.4, BEAM));
    for tick in along.ticks() {
        let text = format!("{} s", crate::units::short(tick, 2));
        chart =
            chart.add(label(text, [along.at(tick), height - 10.0], SMALL, Anchor::Middle, SOFT));
    }
    Some(chart)
}
