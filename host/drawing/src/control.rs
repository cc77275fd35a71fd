//! A row of values between their control limits.

use skimgauge_quantity::{Mm, Style, Units, count};

use crate::palette::{BEAM, INK, OUTSIDE, PANEL, SOFT};
use crate::rounds::FRAME;
use crate::scale::Scale;
use crate::sheet::{Anchor, SMALL, disc, drawn, fitted, label, rectangle, sheet, short, stroke};

/// What the chart shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Row<'a> {
    /// What the values are of, for people who hear the chart.
    pub of: &'a str,
    /// Name and value of each, mm, in their order.
    pub values: &'a [(String, f64)],
    /// Mean, lower and upper limit, mm; none where there are too few values for limits.
    pub limits: Option<[f64; 3]>,
    /// Places of the values that are out of the ordinary.
    pub signs: &'a [usize],
}

/// The chart; none for fewer than two values.
pub fn draw(row: &Row<'_>, units: Units) -> Option<svg::Document> {
    let shown = |mm: f64| match units {
        Units::Mm => mm,
        Units::Inch => Mm(mm).inch(),
    };
    let values: Vec<(String, f64)> =
        row.values.iter().map(|(name, mm)| (name.clone(), shown(*mm))).collect();
    let limits = row.limits.map(|limits| limits.map(shown));
    drawn_as(&Row { values: &values, limits, ..*row }, units)
}

/// The same, of values in these units.
fn drawn_as(row: &Row<'_>, units: Units) -> Option<svg::Document> {
    let [width, height, left, right, top, bottom] = FRAME;
    if row.values.len() < 2 {
        return None;
    }
    let all = row.values.iter().map(|(_, value)| *value);
    let up = Scale::over(all.chain(row.limits.into_iter().flatten()), height - bottom, top)?;
    let end = width - right;
    let across =
        |at: usize| left + 20.0 + (end - left - 40.0) * at as f64 / (row.values.len() - 1) as f64;
    let mut chart =
        sheet(width, height, &format!("{}, {}", row.of, count(row.values.len(), "value")));
    if let Some([mean, lower, upper]) = row.limits {
        chart = chart.add(rectangle(
            [left, up.at(upper)],
            [end - left, up.at(lower) - up.at(upper)],
            PANEL,
        ));
        for (value, name, dashes) in
            [(upper, "upper limit", "7 4"), (mean, "mean", "none"), (lower, "lower limit", "7 4")]
        {
            let y = up.at(value);
            chart = chart
                .add(stroke([left, y], [end, y], 1.2, INK).set("stroke-dasharray", dashes))
                .add(label(name, [end + 6.0, y + 4.0], SMALL, Anchor::Start, SOFT));
        }
    }
    for tick in up.ticks() {
        let y = up.at(tick);
        let decimals = if units == Units::Mm { 3 } else { 4 };
        let text = skimgauge_quantity::plain(tick, decimals).number(Style::printed(units));
        chart = chart.add(stroke([left - 4.0, y], [left, y], 0.8, SOFT)).add(label(
            text,
            [left - 7.0, y + 4.0],
            SMALL,
            Anchor::End,
            SOFT,
        ));
    }
    chart = chart.add(stroke([left, top], [left, height - bottom], 0.8, SOFT)).add(label(
        units.sign(),
        [6.0, top + 6.0],
        SMALL,
        Anchor::Start,
        SOFT,
    ));
    let path: Vec<String> = row
        .values
        .iter()
        .enumerate()
        .map(|(at, (_, value))| format!("{} {}", short(across(at)), short(up.at(*value))))
        .collect();
    chart = chart.add(drawn(&format!("M{}", path.join("L")), 1.4, BEAM));
    let room = (end - left) / row.values.len() as f64;
    let every = (84.0 / room).ceil().max(1.0) as usize;
    for (at, (name, value)) in row.values.iter().enumerate() {
        let place = [across(at), up.at(*value)];
        // Out of the ordinary: larger and ringed, not by colour alone.
        chart = if row.signs.contains(&at) {
            let ring = disc(place, 8.0, OUTSIDE).set("fill-opacity", "0.25");
            chart.add(ring).add(disc(place, 4.5, OUTSIDE))
        } else {
            chart.add(disc(place, 3.0, BEAM))
        };
        if at % every == 0 {
            let text = fitted(name, SMALL, 84.0);
            chart = chart.add(label(text, [place[0], height - 10.0], SMALL, Anchor::Middle, SOFT));
        }
    }
    Some(chart)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_named_and_signs_are_ringed() {
        let values: Vec<(String, f64)> =
            (0..8).map(|at| (format!("2026-0{}-01", at + 1), f64::from(at))).collect();
        let row =
            Row { of: "zero", values: &values, limits: Some([3.0, 1.0, 5.0]), signs: &[6, 7] };
        let text = draw(&row, Units::Mm).unwrap().to_string();
        assert!(
            text.contains("upper limit") && text.contains("lower limit") && text.contains("mean")
        );
        assert_eq!(text.matches("fill-opacity").count(), 2);
        assert!(!text.contains("NaN"));
        assert!(draw(&Row { values: &values[..1], ..row.clone() }, Units::Mm).is_none());
        let inch = draw(&row, Units::Inch).unwrap().to_string();
        for (text, in_it, not_in_it) in [(&text, "\nmm\n", "\nin\n"), (&inch, "\nin\n", "\nmm\n")] {
            assert!(text.contains(in_it) && !text.contains(not_in_it), "{text}");
        }
        // Seven millimetres are a little more than a quarter of an inch.
        assert!(inch.contains("\n0.2000\n") && !inch.contains("\n0.3000\n"), "{inch}");
    }
}
