//! The board's shape as a map: every surveyed place with its height.

use skimgauge_quantity::{Mm, Sentence, Style};
use svg::node::element::Group;

use super::sheet::{MARGIN_MM, circle, rectangle, sheet, tidy, words, words_centred};
use crate::survey::Surveyed;
use skimgauge_model::Image;

/// Width of the image on paper, mm.
const WIDE_MM: f64 = 180.0;
/// More places than this are drawn without their heights beside them.
const MOST_LABELS: usize = 120;
/// More places than this are not drawn: discs would hide one another.
const MOST_PLACES: usize = 4000;

/// A map of heights over an image, for A4 upright. `heights` are from whatever plane the caller
/// took off. A disc is larger the farther its place is from that plane, filled where the board
/// stands out toward the viewer and hollow where it stands back.
pub fn board_map(heights: &[Surveyed], image: Image, caption: &Sentence, style: Style) -> String {
    let scale = WIDE_MM / image.width.0;
    let (top, high_mm) = (MARGIN_MM + 10.0, image.height.0 * scale);
    let at = |x_mm: f64, y_mm: f64| (MARGIN_MM + WIDE_MM / 2.0 + x_mm * scale, top - y_mm * scale);
    let most_mm = heights.iter().map(|place| place.z_mm.abs()).fold(1e-6, f64::max);
    let is_labelled = heights.len() <= MOST_LABELS;
    let largest = if is_labelled { 4.0 } else { 1.5 };
    // An even choice where there are too many.
    let step = heights.len().div_ceil(MOST_PLACES).max(1);
    let discs = heights.iter().step_by(step).fold(Group::new(), |group, place| {
        let centre = at(place.x_mm, place.y_mm);
        let radius = 0.25 + (largest - 0.25) * place.z_mm.abs() / most_mm;
        let class = if place.z_mm >= 0.0 { "out" } else { "back" };
        let group = group.add(circle(class, centre, radius));
        if !is_labelled {
            return group;
        }
        // Below the disc, but above it near the image's lower edge.
        let is_low = place.y_mm < -0.85 * image.height.0;
        let y = if is_low { centre.1 - radius - 1.0 } else { centre.1 + radius + 2.8 };
        group.add(words_centred((centre.0, y), 2.6, &Mm(place.z_mm).gap().signed().number(style)))
    });
    let drawn = if step > 1 { format!("; one place in {step} drawn") } else { String::new() };
    sheet(
        tidy(WIDE_MM + 2.0 * MARGIN_MM),
        tidy(top + high_mm + 16.0 + MARGIN_MM),
        "The board's shape",
    )
    .add(words(
        (MARGIN_MM, MARGIN_MM + 4.0),
        3.8,
        &format!(
            "The board from its plane, {}: filled stands out, hollow stands back",
            style.units.sign()
        ),
    ))
    .add(rectangle("image", (MARGIN_MM, top), (WIDE_MM, high_mm)))
    .add(discs)
    .add(words(
        (MARGIN_MM, top + high_mm + 10.0),
        3.2,
        &format!("{}{drawn}. As the viewer sees the board.", caption.text(style)),
    ))
    .to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    const IMAGE: Image = Image::mm(2000.0, 1250.0);

    fn places(count: usize) -> Vec<Surveyed> {
        (0..count)
            .map(|i| Surveyed {
                x_mm: i as f64 % 900.0,
                y_mm: -(i as f64) % 1200.0,
                z_mm: if i % 2 == 0 { 0.4 } else { -0.4 },
            })
            .collect()
    }

    #[test]
    fn out_and_back_differ_by_shape_and_word() {
        let svg = board_map(&places(2), IMAGE, &"two".into(), Style::default());
        assert!(svg.contains("class=\"out\"") && svg.contains("class=\"back\""));
        assert!(svg.contains("+0.40") && svg.contains("-0.40"));
    }

    #[test]
    fn a_large_survey_stays_a_small_drawing() {
        let svg = board_map(&places(10_000), IMAGE, &"many".into(), Style::default());
        assert!(svg.len() < 500_000, "{}", svg.len());
        assert!(svg.contains("one place in 3 drawn"));
    }
}
