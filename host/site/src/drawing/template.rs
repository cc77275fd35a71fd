//! Full-size hole templates, cut into sheets that a common printer takes.

use serde::Serialize;
use skimgauge_quantity::Style;
use svg::Document;
use svg::node::element::{ClipPath, Definitions, Group};

use super::sheet::{MARGIN_MM, Paper, circle, line, rectangle, ruler, sheet, side_of, words};
use crate::setout::mount::Plate;

/// Room for ruler and words along the lower edge, mm.
const LOWER_BAND_MM: f64 = 26.0;
/// Room for the upright ruler along the left edge, mm.
const LEFT_BAND_MM: f64 = 12.0;
/// What neighbouring sheets share, mm.
const SHARED_MM: f64 = 10.0;
/// Crosses along a shared strip, mm apart.
const JOIN_EVERY_MM: f64 = 60.0;
/// What the words beside a hole take, mm.
const WORDS_MM: f64 = 30.0;
/// Free border drawn round the plate, mm.
const BORDER_MM: f64 = 5.0;
/// Length of both rulers, mm.
pub const RULER_MM: usize = 100;

/// One sheet to print at actual size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sheet {
    /// Which plate.
    pub plate: String,
    /// Its row among the plate's sheets, from 1 at the top.
    pub row: usize,
    /// Its column, from 1 at the left.
    pub column: usize,
    /// The SVG.
    pub svg: String,
}

/// The sheets of one plate, row by row from the top left.
///
/// `from_plumb_mm` and `from_level_mm` place the plate's middle, as in
/// [`crate::setout::marks::Mark`].
pub fn templates(
    plate: &Plate,
    from_plumb_mm: f64,
    from_level_mm: f64,
    paper: Paper,
) -> Vec<Sheet> {
    let (paper_wide_mm, paper_high_mm) = paper.size_mm();
    let window_mm = (
        paper_wide_mm - 2.0 * MARGIN_MM - LEFT_BAND_MM,
        paper_high_mm - 2.0 * MARGIN_MM - LOWER_BAND_MM,
    );
    let drawn_mm = (plate.width_mm + 2.0 * BORDER_MM, plate.height_mm + 2.0 * BORDER_MM);
    let columns = count(drawn_mm.0, window_mm.0);
    let rows = count(drawn_mm.1, window_mm.1);
    let mut sheets = Vec::new();
    for row in 0..rows {
        for column in 0..columns {
            // Left top of this sheet's window, from the plate's middle, y down.
            let left_mm = start(drawn_mm.0, window_mm.0, columns, column);
            let top_mm = start(drawn_mm.1, window_mm.1, rows, row);
            let page = Page {
                plate,
                from_plumb_mm,
                from_level_mm,
                paper_mm: (paper_wide_mm, paper_high_mm),
                window_mm,
            };
            let svg = page.draw((left_mm, top_mm), (column, row), (columns, rows)).to_string();
            sheets.push(Sheet { plate: plate.name.clone(), row: row + 1, column: column + 1, svg });
        }
    }
    sheets
}

fn count(drawn_mm: f64, window_mm: f64) -> usize {
    if drawn_mm <= window_mm {
        1
    } else {
        ((drawn_mm - SHARED_MM) / (window_mm - SHARED_MM)).ceil() as usize
    }
}

fn start(drawn_mm: f64, window_mm: f64, sheets: usize, index: usize) -> f64 {
    let whole_mm = sheets as f64 * window_mm - (sheets - 1) as f64 * SHARED_MM;
    debug_assert!(whole_mm >= drawn_mm - 1e-9);
    -whole_mm / 2.0 + index as f64 * (window_mm - SHARED_MM)
}

struct Page<'a> {
    plate: &'a Plate,
    from_plumb_mm: f64,
    from_level_mm: f64,
    paper_mm: (f64, f64),
    window_mm: (f64, f64),
}

impl Page<'_> {
    fn draw(
        &self,
        start_mm: (f64, f64),
        (column, row): (usize, usize),
        (columns, rows): (usize, usize),
    ) -> Document {
        let corner = (MARGIN_MM + LEFT_BAND_MM, MARGIN_MM);
        let clip = ClipPath::new().set("id", "window").add(rectangle("", corner, self.window_mm));
        // Plate's middle on this paper.
        let middle = (corner.0 - start_mm.0, corner.1 - start_mm.1);
        let drawn = Group::new().set("clip-path", "url(#window)").add(self.drawn(middle));
        let of = if columns * rows > 1 {
            format!(
                ", sheet {} of {} (row {}, column {}); lay crosses on crosses, neighbours share {SHARED_MM:.0} mm",
                row * columns + column + 1,
                columns * rows,
                row + 1,
                column + 1
            )
        } else {
            String::new()
        };
        sheet(self.paper_mm.0, self.paper_mm.1, &format!("Hole template: {}", self.plate.name))
            .add(Definitions::new().add(clip))
            .add(drawn.add(self.joins(middle, columns, rows)))
            .add(rectangle("thin", corner, self.window_mm).set("stroke-dasharray", "1 2"))
            .add(self.margin(&of))
    }

    fn drawn(&self, middle: (f64, f64)) -> Group {
        let Plate { width_mm, height_mm, holes, .. } = self.plate;
        let mut group = Group::new()
            .add(rectangle(
                "plate",
                (middle.0 - width_mm / 2.0, middle.1 - height_mm / 2.0),
                (*width_mm, *height_mm),
            ))
            .add(line(
                "datum",
                (middle.0 - width_mm / 2.0 - 6.0, middle.1),
                (middle.0 + width_mm / 2.0 + 6.0, middle.1),
            ))
            .add(line(
                "datum",
                (middle.0, middle.1 - height_mm / 2.0 - 6.0),
                (middle.0, middle.1 + height_mm / 2.0 + 6.0),
            ));
        for hole in holes {
            let at = (middle.0 + hole.x_mm, middle.1 - hole.y_mm);
            let radius = hole.diameter_mm / 2.0;
            let arm = radius + 5.0;
            // Words stay within this sheet: to the left of a hole near its right edge.
            let leftward = at.0 + radius + WORDS_MM > MARGIN_MM + LEFT_BAND_MM + self.window_mm.0;
            let (x, anchor) =
                if leftward { (at.0 - arm, "end") } else { (at.0 + radius + 1.5, "start") };
            let name = format!("{}  \u{2300}{}", hole.name, plain(hole.diameter_mm));
            let place =
                format!("{} / {}", signed(hole.x_mm, "R", "L"), signed(hole.y_mm, "U", "D"));
            group = group
                .add(circle("firm", at, radius))
                .add(line("thin", (at.0 - arm, at.1), (at.0 + arm, at.1)))
                .add(line("thin", (at.0, at.1 - arm), (at.0, at.1 + arm)))
                .add(words((x, at.1 - 1.2), 2.8, &name).set("text-anchor", anchor))
                .add(words((x, at.1 + 3.4), 2.2, &place).set("text-anchor", anchor));
        }
        group
    }

    /// Crosses in the middle of every shared strip: two sheets lie true when theirs lie on one
    /// another.
    fn joins(&self, middle: (f64, f64), columns: usize, rows: usize) -> Group {
        let drawn_mm =
            (self.plate.width_mm + 2.0 * BORDER_MM, self.plate.height_mm + 2.0 * BORDER_MM);
        let strips = |drawn_mm: f64, window_mm: f64, count: usize| -> Vec<f64> {
            (1..count)
                .map(|index| start(drawn_mm, window_mm, count, index) + SHARED_MM / 2.0)
                .collect()
        };
        let (upright, level) = (
            strips(drawn_mm.0, self.window_mm.0, columns),
            strips(drawn_mm.1, self.window_mm.1, rows),
        );
        let along = |length_mm: f64| -> Vec<f64> {
            let count = (length_mm / 2.0 / JOIN_EVERY_MM) as i32 + 1;
            (-count..=count).map(|step| (f64::from(step) + 0.5) * JOIN_EVERY_MM).collect()
        };
        let crosses = upright
            .iter()
            .flat_map(|x| along(self.window_mm.1 * rows as f64).into_iter().map(move |y| (*x, y)))
            .chain(level.iter().flat_map(|y| {
                along(self.window_mm.0 * columns as f64).into_iter().map(move |x| (x, *y))
            }));
        crosses.fold(Group::new(), |group, (x, y)| {
            let at = (middle.0 + x, middle.1 + y);
            group.add(line("thin", (at.0 - 3.0, at.1), (at.0 + 3.0, at.1))).add(line(
                "thin",
                (at.0, at.1 - 3.0),
                (at.0, at.1 + 3.0),
            ))
        })
    }

    fn margin(&self, of: &str) -> Group {
        let low_mm = self.paper_mm.1 - MARGIN_MM;
        let left_mm = MARGIN_MM + LEFT_BAND_MM;
        let place = format!(
            "Middle of the plate, mm: plumb line: {}; level line: {}. Beside each hole: from the middle, right or left / up or down.",
            side_of(self.from_plumb_mm, "right", "left", Style::default()),
            side_of(self.from_level_mm, "above", "below", Style::default()),
        );
        let rule = "Both rulers have to be 100 mm by a steel rule. If not, print again at actual size (100 %, no fitting).";
        let care = "Look for cables and pipes before drilling. Says where to drill, not what the wall carries.";
        Group::new()
            .add(ruler((left_mm, low_mm - 8.0), RULER_MM, false))
            .add(ruler((MARGIN_MM, MARGIN_MM), RULER_MM, true))
            .add(words((MARGIN_MM, MARGIN_MM + 116.0), 6.0, "\u{2191}"))
            .add(words((MARGIN_MM, MARGIN_MM + 120.0), 3.0, "up"))
            .add(words(
                (left_mm, low_mm - 16.4),
                3.2,
                &format!("Hole template: {}{of}", self.plate.name),
            ))
            .add(words((left_mm, low_mm - 4.0), 2.4, rule))
            .add(words((left_mm, low_mm - 0.4), 2.4, &place))
            .add(words((left_mm, low_mm + 3.2), 2.4, care))
    }
}

fn plain(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

fn signed(value_mm: f64, plus: &str, minus: &str) -> String {
    format!("{:.1} {}", value_mm.abs(), if value_mm < 0.0 { minus } else { plus })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixings::practice::PlateRole;
    use crate::setout::mount::Hole;
    use proptest::prelude::*;

    fn plate(width_mm: f64, height_mm: f64) -> Plate {
        let hole = |name: &str, x: f64, y: f64| Hole {
            name: name.to_owned(),
            x_mm: x * width_mm,
            y_mm: y * height_mm,
            diameter_mm: 10.0,
        };
        Plate {
            name: "centre <plate> & co".to_owned(),
            role: PlateRole::Centre,
            width_mm,
            height_mm,
            holes: vec![
                hole("1", -0.4, 0.4),
                hole("2", 0.4, 0.4),
                hole("3", -0.4, -0.4),
                hole("4", 0.4, -0.4),
            ],
        }
    }

    /// Centres of the hole circles as drawn, from the plate's middle, mm, y up: read back from the
    /// SVG itself.
    fn drawn_holes(sheet: &Sheet, paper: Paper) -> Vec<(f64, f64, f64)> {
        let number = |tag: &str, name: &str| -> f64 {
            let from = tag.find(&format!(" {name}=\"")).unwrap() + name.len() + 3;
            tag[from..].split('"').next().unwrap().parse().unwrap()
        };
        let (wide_mm, high_mm) = paper.size_mm();
        assert!(
            sheet.svg.contains(&format!("width=\"{wide_mm}mm\""))
                && sheet.svg.contains(&format!("height=\"{high_mm}mm\""))
        );
        let plate = sheet
            .svg
            .split('<')
            .find(|tag| tag.starts_with("rect") && tag.contains("\"plate\""))
            .unwrap();
        let middle = (
            number(plate, "x") + number(plate, "width") / 2.0,
            number(plate, "y") + number(plate, "height") / 2.0,
        );
        sheet
            .svg
            .split('<')
            .filter(|tag| tag.starts_with("circle"))
            .map(|tag| {
                (number(tag, "cx") - middle.0, middle.1 - number(tag, "cy"), number(tag, "r"))
            })
            .collect()
    }

    #[test]
    fn holes_are_drawn_at_full_size() {
        for paper in [Paper::A4, Paper::Letter] {
            let plate = plate(140.0, 200.0);
            let sheets = templates(&plate, -12.5, 240.0, paper);
            assert_eq!(sheets.len(), 1);
            for (hole, (x_mm, y_mm, r_mm)) in plate.holes.iter().zip(drawn_holes(&sheets[0], paper))
            {
                assert!((hole.x_mm - x_mm).abs() < 2e-3 && (hole.y_mm - y_mm).abs() < 2e-3);
                assert!((r_mm - 5.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn words_of_the_user_are_escaped() {
        let svg = &templates(&plate(140.0, 200.0), 0.0, 0.0, Paper::A4)[0].svg;
        assert!(svg.contains("centre &lt;plate&gt; &amp; co") && !svg.contains("<plate>"));
    }

    proptest! {
        /// However large the plate, every hole lies whole within the window of some sheet.
        #[test]
        fn every_hole_is_on_some_sheet(width_mm in 60.0..900.0_f64, height_mm in 60.0..900.0_f64) {
            let plate = plate(width_mm, height_mm);
            let sheets = templates(&plate, 0.0, 0.0, Paper::A4);
            let (wide_mm, high_mm) = Paper::A4.size_mm();
            let window_mm = (wide_mm - 2.0 * MARGIN_MM - LEFT_BAND_MM, high_mm - 2.0 * MARGIN_MM - LOWER_BAND_MM);
            let (rows, columns) = sheets.last().map(|s| (s.row, s.column)).unwrap();
            let drawn_mm = (width_mm + 2.0 * BORDER_MM, height_mm + 2.0 * BORDER_MM);
            for hole in &plate.holes {
                let covered = (0..columns).any(|c| {
                    let left = start(drawn_mm.0, window_mm.0, columns, c);
                    left + 4.9 <= hole.x_mm && hole.x_mm <= left + window_mm.0 - 4.9
                }) && (0..rows).any(|r| {
                    let top = start(drawn_mm.1, window_mm.1, rows, r);
                    top + 4.9 <= -hole.y_mm && -hole.y_mm <= top + window_mm.1 - 4.9
                });
                prop_assert!(covered, "{} of {width_mm} x {height_mm}", hole.name);
            }
        }
    }
}
