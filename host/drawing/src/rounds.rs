//! How the gaps came into the band: one line a station, from as-found over each round to as-left.

use skimgauge_quantity::{Band, Mm, Units, count};
use svg::node::element::Group;

use crate::palette::{BEAM, INK, PANEL, RULE, SOFT};
use crate::scale::{Scale, in_units, spread, tick_text};
use crate::sheet::{Anchor, SMALL, disc, drawn, fitted, label, rectangle, sheet, short, stroke};

/// One station's gaps.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// The station.
    pub station: String,
    /// Its gap in each round; none where it was not taken.
    pub gaps: Vec<Option<Mm>>,
}

const WIDTH: f64 = 800.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 120.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 30.0;

/// Lines with their names: more would be a tangle.
pub const MOST_LINES: usize = 12;

/// The chart, if there is something to connect: two rounds or more. `rounds` names them in order.
pub fn draw(
    rounds: &[String],
    courses: &[Course],
    band: Option<Band<Mm>>,
    units: Units,
) -> Option<svg::Document> {
    if rounds.len() < 2 {
        return None;
    }
    let gaps = courses.iter().flat_map(|course| course.gaps.iter().flatten().copied());
    let ends = band.map(|band| [band.low, band.high]);
    let up = Scale::over(
        gaps.chain(ends.into_iter().flatten()).map(|mm| in_units(mm, units)),
        HEIGHT - BOTTOM,
        TOP,
    )?;
    let across = |round: usize| {
        LEFT + 30.0 + (WIDTH - LEFT - RIGHT - 40.0) * round as f64 / (rounds.len() - 1) as f64
    };
    let alt = format!(
        "Gaps of {} over {}",
        count(courses.len(), "station"),
        count(rounds.len(), "round")
    );
    let mut chart = sheet(WIDTH, HEIGHT, &alt).add(frame(up, band, units));
    for (at, round) in rounds.iter().enumerate() {
        let room = (WIDTH - LEFT - RIGHT) / rounds.len() as f64;
        // Many rounds share the foot of the chart: every so many has its name.
        let every = (60.0 / room).ceil().max(1.0) as usize;
        chart = chart.add(stroke([across(at), TOP], [across(at), HEIGHT - BOTTOM], 0.6, RULE));
        if at % every == 0 || at + 1 == rounds.len() {
            let text = fitted(round, SMALL, room.max(60.0) + 24.0);
            chart =
                chart.add(label(text, [across(at), HEIGHT - 10.0], SMALL, Anchor::Middle, SOFT));
        }
    }
    let shown = &courses[..courses.len().min(MOST_LINES)];
    let mut names = Vec::new();
    let mut lines = Group::new();
    for course in shown {
        let points: Vec<[f64; 2]> = course
            .gaps
            .iter()
            .enumerate()
            .filter_map(|(round, gap)| {
                Some([across(round), up.at(in_units(gap.filter(|gap| gap.is_finite())?, units))])
            })
            .collect();
        let Some(last) = points.last() else { continue };
        let path: Vec<String> =
            points.iter().map(|[x, y]| format!("{} {}", short(*x), short(*y))).collect();
        lines = lines.add(drawn(&format!("M{}", path.join("L")), 1.6, BEAM));
        for point in &points {
            lines = lines.add(disc(*point, 3.0, BEAM));
        }
        names.push((course.station.as_str(), *last));
    }
    let wanted: Vec<f64> = names.iter().map(|(_, last)| last[1] + 4.0).collect();
    for ((name, last), y) in names.iter().zip(spread(&wanted, SMALL + 2.0, TOP + 8.0, HEIGHT - 4.0))
    {
        let x = WIDTH - RIGHT + 14.0;
        lines = lines
            .add(stroke([last[0] + 4.0, last[1]], [x - 3.0, y - 4.0], 0.6, SOFT))
            .add(label(fitted(name, SMALL, RIGHT - 16.0), [x, y], SMALL, Anchor::Start, INK));
    }
    Some(chart.add(lines))
}

/// The scale of gaps with the band behind it.
pub(crate) fn frame(up: Scale, band: Option<Band<Mm>>, units: Units) -> Group {
    let mut group = Group::new();
    let right = WIDTH - RIGHT;
    if let Some(band) = band {
        let (low, high) = (up.at(in_units(band.low, units)), up.at(in_units(band.high, units)));
        group = group.add(rectangle([LEFT, high], [right - LEFT, low - high], PANEL));
        for y in [low, high] {
            group =
                group.add(stroke([LEFT, y], [right, y], 1.6, INK).set("stroke-dasharray", "7 4"));
        }
        group = group.add(label(
            "the band",
            [LEFT + 5.0, high + SMALL + 2.0],
            SMALL,
            Anchor::Start,
            SOFT,
        ));
    }
    for tick in up.ticks() {
        let y = up.at(tick);
        group = group.add(stroke([LEFT - 4.0, y], [LEFT, y], 0.8, SOFT)).add(label(
            tick_text(tick, units),
            [LEFT - 7.0, y + 4.0],
            SMALL,
            Anchor::End,
            SOFT,
        ));
    }
    group.add(stroke([LEFT, TOP], [LEFT, HEIGHT - BOTTOM], 0.8, SOFT)).add(label(
        units.sign(),
        [6.0, TOP + 6.0],
        SMALL,
        Anchor::Start,
        SOFT,
    ))
}

/// Width, height, and room left, right, above and below, for charts with the same frame.
pub(crate) const FRAME: [f64; 6] = [WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM];
