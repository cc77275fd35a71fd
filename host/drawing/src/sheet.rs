//! What charts are made of: an empty sheet, letters, lines, shapes.

use std::fmt::Display;

use svg::Document;
use svg::node::element::{Circle, Line, Path, Rectangle, Text};

use crate::line;
use crate::palette::Colour;

/// Height of a chart's letters, in the chart's own units; a chart is drawn about 460 of them wide.
pub(crate) const LETTER: f64 = 14.0;

/// Height of small letters.
pub(crate) const SMALL: f64 = 12.0;

/// Mean width of a letter over its height, for leaving room; letters are set by whoever shows the
/// chart.
const LETTER_WIDTH: f64 = 0.58;

/// An empty chart.
pub(crate) fn sheet(width: f64, height: f64, alt: &str) -> Document {
    Document::new()
        .set("viewBox", format!("0 0 {} {}", short(width), short(height)))
        .set("role", "img")
        .set("aria-label", line(alt))
}

/// A coordinate to a tenth, as short as it goes.
pub(crate) fn short(value: f64) -> String {
    let value = if value.is_finite() { value.clamp(-1e6, 1e6) } else { 0.0 };
    let rounded = (value * 10.0).round() / 10.0;
    // No negative zero.
    format!("{}", rounded + 0.0)
}

/// About how wide a text will be.
pub(crate) fn width_of(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * LETTER_WIDTH
}

/// A text cut to what fits into a width.
pub(crate) fn fitted(text: &str, size: f64, room: f64) -> String {
    let most = (room / (size * LETTER_WIDTH)).floor().max(1.0) as usize;
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{}\u{2026}", kept.trim_end())
}

/// Where a text stands relative to its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

pub(crate) fn label(
    text: impl Display,
    [x, y]: [f64; 2],
    size: f64,
    anchor: Anchor,
    colour: Colour,
) -> Text {
    let anchor = match anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    Text::new(line(&text.to_string()))
        .set("x", short(x))
        .set("y", short(y))
        .set("font-size", short(size))
        .set("text-anchor", anchor)
        .set("fill", colour.light)
        .set("class", format!("f-{}", colour.name))
}

pub(crate) fn rectangle([x, y]: [f64; 2], [width, height]: [f64; 2], colour: Colour) -> Rectangle {
    Rectangle::new()
        .set("x", short(x))
        .set("y", short(y))
        .set("width", short(width.max(0.0)))
        .set("height", short(height.max(0.0)))
        .set("fill", colour.light)
        .set("class", format!("f-{}", colour.name))
}

pub(crate) fn stroke([x1, y1]: [f64; 2], [x2, y2]: [f64; 2], width: f64, colour: Colour) -> Line {
    Line::new()
        .set("x1", short(x1))
        .set("y1", short(y1))
        .set("x2", short(x2))
        .set("y2", short(y2))
        .set("stroke", colour.light)
        .set("stroke-width", short(width))
        .set("class", format!("s-{}", colour.name))
}

pub(crate) fn disc([x, y]: [f64; 2], radius: f64, colour: Colour) -> Circle {
    Circle::new()
        .set("cx", short(x))
        .set("cy", short(y))
        .set("r", short(radius))
        .set("fill", colour.light)
        .set("class", format!("f-{}", colour.name))
}

pub(crate) fn filled(path: &str, colour: Colour) -> Path {
    Path::new().set("d", path).set("fill", colour.light).set("class", format!("f-{}", colour.name))
}

pub(crate) fn drawn(path: &str, width: f64, colour: Colour) -> Path {
    Path::new()
        .set("d", path)
        .set("fill", "none")
        .set("stroke", colour.light)
        .set("stroke-width", short(width))
        .set("stroke-linejoin", "round")
        .set("stroke-linecap", "round")
        .set("class", format!("s-{}", colour.name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_that_do_not_fit_are_cut() {
        assert_eq!(fitted("top", 10.0, 100.0), "top");
        assert_eq!(fitted("a very long station name", 10.0, 58.0), "a very lo\u{2026}");
    }
}
