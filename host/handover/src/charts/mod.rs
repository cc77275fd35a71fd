//! The charts: SVG in one visual language.
//!
//! Every chart is a whole `svg` element that stands alone in light colours (as attributes) and
//! takes the page's colours where it stands in the page (by class, see [`crate::palette`]). Lines
//! and shapes carry the meaning; colour helps. Lengths come in mm and are shown in the units asked
//! for.

pub mod budget;
pub mod field;
pub mod gap_map;
pub mod mark;
pub mod residuals;
pub mod rounds;
pub mod trace;

use std::fmt::Display;

use svg::Document;
use svg::node::element::{Circle, Line, Path, Rectangle, Text};

use crate::palette::Colour;
use crate::plain;

/// Height of a chart's letters, in the chart's own units; a chart is drawn about 460 of them wide.
const LETTER: f64 = 14.0;

/// Height of small letters.
const SMALL: f64 = 12.0;

/// Mean width of a letter over its height, for leaving room; letters are set by whoever shows the
/// chart.
const LETTER_WIDTH: f64 = 0.58;

/// An empty chart.
fn sheet(width: f64, height: f64, alt: &str) -> Document {
    Document::new()
        .set("viewBox", format!("0 0 {} {}", short(width), short(height)))
        .set("role", "img")
        .set("aria-label", plain::line(alt))
}

/// A coordinate to a tenth, as short as it goes.
fn short(value: f64) -> String {
    let value = if value.is_finite() { value.clamp(-1e6, 1e6) } else { 0.0 };
    let rounded = (value * 10.0).round() / 10.0;
    // No negative zero.
    format!("{}", rounded + 0.0)
}

/// About how wide a text will be.
fn width_of(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * LETTER_WIDTH
}

/// A text cut to what fits into a width.
fn fitted(text: &str, size: f64, room: f64) -> String {
    let most = (room / (size * LETTER_WIDTH)).floor().max(1.0) as usize;
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{}\u{2026}", kept.trim_end())
}

/// Where a text stands relative to its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Anchor {
    Start,
    Middle,
    End,
}

fn label(text: impl Display, [x, y]: [f64; 2], size: f64, anchor: Anchor, colour: Colour) -> Text {
    let anchor = match anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    Text::new(plain::line(&text.to_string()))
        .set("x", short(x))
        .set("y", short(y))
        .set("font-size", short(size))
        .set("text-anchor", anchor)
        .set("fill", colour.light)
        .set("class", format!("f-{}", colour.name))
}

fn rectangle([x, y]: [f64; 2], [width, height]: [f64; 2], colour: Colour) -> Rectangle {
    Rectangle::new()
        .set("x", short(x))
        .set("y", short(y))
        .set("width", short(width.max(0.0)))
        .set("height", short(height.max(0.0)))
        .set("fill", colour.light)
        .set("class", format!("f-{}", colour.name))
}

fn stroke([x1, y1]: [f64; 2], [x2, y2]: [f64; 2], width: f64, colour: Colour) -> Line {
    Line::new()
        .set("x1", short(x1))
        .set("y1", short(y1))
        .set("x2", short(x2))
        .set("y2", short(y2))
        .set("stroke", colour.light)
        .set("stroke-width", short(width))
        .set("class", format!("s-{}", colour.name))
}

fn disc([x, y]: [f64; 2], radius: f64, colour: Colour) -> Circle {
    Circle::new()
        .set("cx", short(x))
        .set("cy", short(y))
        .set("r", short(radius))
        .set("fill", colour.light)
        .set("class", format!("f-{}", colour.name))
}

fn filled(path: &str, colour: Colour) -> Path {
    Path::new().set("d", path).set("fill", colour.light).set("class", format!("f-{}", colour.name))
}

fn drawn(path: &str, width: f64, colour: Colour) -> Path {
    Path::new()
        .set("d", path)
        .set("fill", "none")
        .set("stroke", colour.light)
        .set("stroke-width", short(width))
        .set("stroke-linejoin", "round")
        .set("stroke-linecap", "round")
        .set("class", format!("s-{}", colour.name))
}

/// A scale along one direction: values to places.
#[derive(Debug, Clone, Copy)]
struct Scale {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
}

impl Scale {
    /// Over all these values, with a little room at the ends. Values that are no numbers don't
    /// count.
    fn over(values: impl IntoIterator<Item = f64>, from: f64, to: f64) -> Option<Self> {
        let (low, high) = values
            .into_iter()
            .filter(|value| value.is_finite() && value.abs() < 1e12)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                (low.min(value), high.max(value))
            });
        if low > high {
            return None;
        }
        let room = ((high - low) * 0.06).max(1e-6 * high.abs()).max(1e-9);
        Some(Self { low: low - room, high: high + room, from, to })
    }

    fn at(self, value: f64) -> f64 {
        self.from + (value - self.low) / (self.high - self.low) * (self.to - self.from)
    }

    /// Round values for lines across the chart, at most eight.
    fn ticks(self) -> Vec<f64> {
        let span = self.high - self.low;
        let power = 10_f64.powf((span / 4.0).log10().floor());
        let step =
            [1.0, 2.0, 5.0, 10.0].map(|m| m * power).into_iter().find(|step| span / step <= 6.0);
        let Some(step) = step.filter(|step| step.is_normal()) else {
            return Vec::new();
        };
        let first = (self.low / step).ceil() as i64;
        (0..8).map(|n| (first + n) as f64 * step).take_while(|tick| *tick <= self.high).collect()
    }
}

/// Places labels one under the other without overlap, moved as little as may be (least squares, by
/// pooling those that would overlap), in `low` to `high` as far as they fit. Gives each one's
/// place.
fn spread(wanted: &[f64], apart: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]));
    // With each label's own share of the row taken off, not overlapping means not falling.
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (n, &at) in order.iter().enumerate() {
        pools.push((wanted[at] - apart * n as f64, 1));
        while let [.., (above, above_count), (below, below_count)] = pools[..]
            && above > below
        {
            let count = above_count + below_count;
            let mean = (above * above_count as f64 + below * below_count as f64) / count as f64;
            pools.truncate(pools.len() - 2);
            pools.push((mean, count));
        }
    }
    let last = apart * wanted.len().saturating_sub(1) as f64;
    let mut places = vec![0.0; wanted.len()];
    let shifted = pools.into_iter().flat_map(|(mean, count)| std::iter::repeat_n(mean, count));
    for ((n, &at), shifted) in order.iter().enumerate().zip(shifted) {
        places[at] = shifted.min(high - last).max(low) + apart * n as f64;
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn labels_keep_apart() {
        let places = spread(&[10.0, 11.0, 90.0, 12.0], 8.0, 0.0, 100.0);
        assert_eq!(places, [3.0, 11.0, 90.0, 19.0]);
        let pushed = spread(&[99.0, 100.0], 8.0, 0.0, 100.0);
        assert_eq!(pushed, [92.0, 100.0]);
    }

    #[test]
    fn texts_that_do_not_fit_are_cut() {
        assert_eq!(fitted("top", 10.0, 100.0), "top");
        assert_eq!(fitted("a very long station name", 10.0, 58.0), "a very lo\u{2026}");
    }

    proptest! {
        #[test]
        fn ticks_are_few_and_inside(a in -1e6..1e6_f64, b in -1e6..1e6_f64) {
            let scale = Scale::over([a, b], 0.0, 100.0).unwrap();
            let ticks = scale.ticks();
            prop_assert!(ticks.len() <= 8);
            prop_assert!(ticks.iter().all(|tick| *tick >= scale.low - 1e-6 && *tick <= scale.high + 1e-6));
        }
    }
}
