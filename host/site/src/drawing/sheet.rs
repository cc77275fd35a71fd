//! Paper, lines, words and the ruler that all drawings share.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Style as Shown};
use svg::Document;
use svg::node::element::{Circle, Group, Line, Rectangle, Style, Text};

/// What a sheet is printed on, upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Paper {
    /// 210 mm by 297 mm.
    #[default]
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

impl Paper {
    /// Width and height, mm.
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        }
    }
}

/// No printer reaches nearer to the edge, mm.
pub(super) const MARGIN_MM: f64 = 12.0;

/// An empty sheet of this size, mm, with the drawings' one visual language.
pub(super) fn sheet(width_mm: f64, height_mm: f64, title: &str) -> Document {
    Document::new()
        .set(super::DRAWN_BY.0, super::DRAWN_BY.1)
        .set("width", format!("{width_mm}mm"))
        .set("height", format!("{height_mm}mm"))
        .set("viewBox", (0, 0, width_mm, height_mm))
        .add(svg::node::element::Title::new(title))
        .add(Style::new(
            "text{font-family:'DejaVu Sans',Arial,sans-serif;fill:#1b1f24}\
             .thin{stroke:#1b1f24;stroke-width:.18;fill:none}\
             .firm{stroke:#1b1f24;stroke-width:.4;fill:none}\
             .datum{stroke:#8a4b08;stroke-width:.3;stroke-dasharray:5 1 1 1;fill:none}\
             .image{stroke:#1b1f24;stroke-width:.4;fill:#eef3f6}\
             .plate{stroke:#1b1f24;stroke-width:.3;fill:#fff}\
             .thing{stroke:#55606b;stroke-width:.25;fill:#d9dde1;stroke-dasharray:1.5 .8}\
             .out{stroke:#0b5a7a;stroke-width:.35;fill:#0b5a7a}\
             .back{stroke:#0b5a7a;stroke-width:.35;fill:#fff}\
             .clash{stroke:#1b1f24;stroke-width:.8;fill:none}",
        ))
        .add(Rectangle::new().set("width", width_mm).set("height", height_mm).set("fill", "#fff"))
}

pub(super) fn line(class: &str, from: (f64, f64), to: (f64, f64)) -> Line {
    Line::new()
        .set("class", class)
        .set("x1", tidy(from.0))
        .set("y1", tidy(from.1))
        .set("x2", tidy(to.0))
        .set("y2", tidy(to.1))
}

pub(super) fn rectangle(class: &str, left_top: (f64, f64), size: (f64, f64)) -> Rectangle {
    Rectangle::new()
        .set("class", class)
        .set("x", tidy(left_top.0))
        .set("y", tidy(left_top.1))
        .set("width", tidy(size.0.max(0.0)))
        .set("height", tidy(size.1.max(0.0)))
}

pub(super) fn circle(class: &str, at: (f64, f64), radius: f64) -> Circle {
    Circle::new()
        .set("class", class)
        .set("cx", tidy(at.0))
        .set("cy", tidy(at.1))
        .set("r", tidy(radius))
}

/// Words with their left end at `at`; `size_mm` is the height of the letters' box.
pub(super) fn words(at: (f64, f64), size_mm: f64, says: &str) -> Text {
    Text::new(says).set("x", tidy(at.0)).set("y", tidy(at.1)).set("font-size", size_mm)
}

/// Words centred on `at`.
pub(super) fn words_centred(at: (f64, f64), size_mm: f64, says: &str) -> Text {
    words(at, size_mm, says).set("text-anchor", "middle")
}

/// A ruler of `length_mm` on paper from `at` to the right, or downward.
pub(super) fn ruler(at: (f64, f64), length_mm: usize, down: bool) -> Group {
    let end = if down { (at.0, at.1 + length_mm as f64) } else { (at.0 + length_mm as f64, at.1) };
    let mut group = Group::new().set("class", "ruler").add(line("firm", at, end));
    for mm in 0..=length_mm {
        let tick = match mm {
            mm if mm % 10 == 0 => 4.0,
            mm if mm % 5 == 0 => 2.6,
            _ => 1.6,
        };
        let along = mm as f64;
        let (from, to) = if down {
            ((at.0, at.1 + along), (at.0 + tick, at.1 + along))
        } else {
            ((at.0 + along, at.1), (at.0 + along, at.1 - tick))
        };
        group = group.add(line("thin", from, to));
        if mm % 10 == 0 {
            let label = mm.to_string();
            group = group.add(if down {
                words((at.0 + 4.8, at.1 + along + 0.9), 2.4, &label)
            } else {
                words_centred((at.0 + along, at.1 - 4.8), 2.4, &label)
            });
        }
    }
    group
}

/// A thousandth of a millimetre is enough, and keeps the files readable.
pub(super) fn tidy(value_mm: f64) -> f64 {
    (value_mm * 1000.0).round() / 1000.0
}

/// `12.5 right`, or `on it`.
pub(super) fn side_of(value_mm: f64, plus: &str, minus: &str, style: Shown) -> String {
    let size = Mm(value_mm.abs()).tape().number(style);
    if size == "0" {
        "on it".to_owned()
    } else {
        format!("{size} {}", if value_mm < 0.0 { minus } else { plus })
    }
}
