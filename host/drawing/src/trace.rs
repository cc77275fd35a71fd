//! The live history of a take: the gap while it settled.

use skimgauge_quantity::{Band, Mm, Style, Units, count, plain};

use crate::palette::{BEAM, SOFT};
use crate::rounds::{FRAME, frame};
use crate::scale::{Scale, in_units};
use crate::sheet::{Anchor, SMALL, drawn, label, sheet, short, stroke};

/// Points of the line: more cannot be told apart in print.
const MOST_POINTS: usize = 1200;

/// The chart of seconds and the gap then, in the order of time; none with fewer than two points.
pub fn draw(points: &[(f64, Mm)], band: Option<Band<Mm>>, units: Units) -> Option<svg::Document> {
    let [width, height, left, right, top, bottom] = FRAME;
    let finite =
        points.iter().copied().filter(|(time_s, gap)| time_s.is_finite() && gap.is_finite());
    let points: Vec<(f64, Mm)> = finite.collect();
    if points.len() < 2 {
        return None;
    }
    let gaps = || points.iter().map(|(_, gap)| in_units(*gap, units));
    let up = Scale::over(gaps(), height - bottom, top)?;
    let along = Scale::over(points.iter().map(|(time_s, _)| *time_s), left, width - right)?;
    // A band far from what was seen would flatten the line: it is drawn where it is in view.
    let band = band.filter(|band| {
        [band.low, band.high].iter().all(|end| (up.low..=up.high).contains(&in_units(*end, units)))
    });
    let step = points.len().div_ceil(MOST_POINTS);
    let path: Vec<String> = points
        .iter()
        .step_by(step)
        .map(|(time_s, gap)| {
            format!("{} {}", short(along.at(*time_s)), short(up.at(in_units(*gap, units))))
        })
        .collect();
    let mut chart =
        sheet(width, height, &format!("Gap over time, {}", count(points.len(), "reading")))
            .add(frame(up, band, units))
            .add(stroke([left, height - bottom], [width - right, height - bottom], 0.8, SOFT))
            .add(drawn(&format!("M{}", path.join("L")), 1.4, BEAM));
    for tick in along.ticks() {
        let text = format!("{} s", plain(tick, 2).number(Style::printed(units)));
        chart =
            chart.add(label(text, [along.at(tick), height - 10.0], SMALL, Anchor::Middle, SOFT));
    }
    Some(chart)
}
