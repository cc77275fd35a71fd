//! The wall at scale: image, emitter, plates, obstacles, datum lines and marks, with the table of
//! their dimensions.

use skimgauge_quantity::{Mm, Style};
use svg::Document;
use svg::node::element::Group;

use super::sheet::{
    MARGIN_MM, circle, line, rectangle, sheet, side_of, tidy, words, words_centred,
};
use crate::setout::SetOut;
use crate::setout::marks::Mark;
use crate::setout::room::{Area, Room};

/// Scales that a scale rule has.
const SCALES: [f64; 8] = [5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0];
/// Largest width and height of the wall on paper, mm: an A4 sheet on its side less margins and
/// dimensions.
const LARGEST_MM: (f64, f64) = (245.0, 130.0);
/// Room for dimensions round the wall, mm.
const DIMENSIONS_MM: f64 = 14.0;
const TABLE_LINE_MM: f64 = 4.2;

/// A drawing with the scale it is drawn at.
#[derive(Debug, Clone, PartialEq)]
pub struct WallDrawing {
    /// One to how many.
    pub scale: f64,
    /// The SVG; its coordinates are millimetres on paper.
    pub svg: String,
}

/// Draws a set-out on its wall, at the largest usual scale that fits an A4 sheet on its side. Its
/// lengths are shown in `style`.
pub fn wall_drawing(set_out: &SetOut, room: &Room, style: Style) -> WallDrawing {
    let scale = SCALES
        .into_iter()
        .find(|scale| {
            room.wall_width_mm / scale <= LARGEST_MM.0 && room.ceiling_mm / scale <= LARGEST_MM.1
        })
        .unwrap_or(1000.0);
    let page = Page { set_out, room, scale, style };
    WallDrawing { scale, svg: page.draw().to_string() }
}

struct Page<'a> {
    set_out: &'a SetOut,
    room: &'a Room,
    scale: f64,
    style: Style,
}

impl Page<'_> {
    fn at(&self, x_mm: f64, y_mm: f64) -> (f64, f64) {
        let left = MARGIN_MM + DIMENSIONS_MM;
        let top = MARGIN_MM + 8.0 + DIMENSIONS_MM;
        (left + x_mm / self.scale, top + (self.room.ceiling_mm - y_mm) / self.scale)
    }

    fn mark_at(&self, mark: &Mark) -> (f64, f64) {
        self.at(mark.from_wall_left_mm, mark.above_floor_mm)
    }

    fn area(&self, class: &str, area: &Area) -> svg::node::element::Rectangle {
        let size = (
            (area.right_mm - area.left_mm) / self.scale,
            (area.top_mm - area.bottom_mm) / self.scale,
        );
        rectangle(class, self.at(area.left_mm, area.top_mm), size)
    }

    fn draw(&self) -> Document {
        let (right, floor) = self.at(self.room.wall_width_mm, 0.0);
        let table_top = floor + 22.0;
        let rows = self.set_out.marks.len();
        let width_mm = (right + MARGIN_MM + 4.0).max(200.0);
        let height_mm = table_top + (rows as f64 + 2.0) * TABLE_LINE_MM + 14.0 + MARGIN_MM;
        let title = format!("Set-out, scale 1 : {}", self.scale);
        sheet(tidy(width_mm), tidy(height_mm), &title)
            .add(words((MARGIN_MM, MARGIN_MM + 4.0), 4.5, &title))
            .add(self.wall())
            .add(self.things())
            .add(self.datum())
            .add(self.marks())
            .add(self.dimensions())
            .add(self.scale_bar((MARGIN_MM + DIMENSIONS_MM, floor + 12.0)))
            .add(self.table(table_top))
    }

    fn wall(&self) -> Group {
        let (left, floor) = self.at(0.0, 0.0);
        let (right, _) = self.at(self.room.wall_width_mm, 0.0);
        let mut group = Group::new().add(self.area("firm", &self.room.wall())).add(line(
            "firm",
            (left - 5.0, floor),
            (right + 5.0, floor),
        ));
        for step in 0..((right - left) / 4.0) as usize {
            let x = left + 4.0 * step as f64;
            group = group.add(line("thin", (x + 2.0, floor), (x, floor + 2.0)));
        }
        group
    }

    fn things(&self) -> Group {
        let image = &self.set_out.image_area;
        let middle =
            self.at((image.left_mm + image.right_mm) / 2.0, (image.bottom_mm + image.top_mm) / 2.0);
        let size = self.set_out.image;
        let mut group = Group::new().add(self.area("image", image)).add(words_centred(
            (middle.0, middle.1 + 6.0),
            3.2,
            &format!("image {}", size.width.wall().by(size.height.wall()).text(self.style)),
        ));
        let mut solid: Vec<(String, Area)> = vec![("image".to_owned(), *image)];
        if let Some(emitter) = &self.set_out.emitter_area {
            let name = if self.set_out.assumed.is_empty() {
                "emitter"
            } else {
                "emitter, lower edge assumed"
            };
            group = group.add(self.area("plate", emitter)).add(self.label_beside(emitter, name));
            solid.push(("emitter".to_owned(), *emitter));
        }
        group = group.add(self.light());
        for placed in self.set_out.mount.iter().flat_map(|mount| &mount.plates) {
            let (x_mm, y_mm) = (
                self.set_out.datum.plumb_from_wall_left_mm + placed.x_mm,
                image.top_mm + placed.y_mm,
            );
            let area = Area::about(x_mm, y_mm, placed.plate.width_mm, placed.plate.height_mm);
            group = group.add(self.area("plate", &area));
            group = group.add(self.label_above(&area, &placed.plate.name));
            solid.push((placed.plate.name.clone(), area));
        }
        for obstacle in &self.room.obstacles {
            let area = obstacle.area();
            let at = self.at(area.left_mm, area.bottom_mm);
            group = group.add(self.area("thing", &area)).add(words(
                (at.0, at.1 + 2.8),
                2.3,
                &obstacle.name,
            ));
            for (_, other) in &solid {
                group = group.add(self.clash(&area, other));
            }
        }
        for (index, (_, area)) in solid.iter().enumerate() {
            for (_, other) in &solid[index + 1..] {
                group = group.add(self.clash(area, other));
            }
        }
        group
    }

    /// Where the emitter's light leaves: a bar across it, named to its left, clear of the body.
    fn light(&self) -> Group {
        let Some(light) = &self.set_out.emitter_light else { return Group::new() };
        let at = self.at(light.from_wall_left_mm, light.above_floor_mm);
        let body_left = self.set_out.emitter_area.map_or(at.0, |body| self.at(body.left_mm, 0.0).0);
        let left = body_left.min(at.0) - 2.0;
        let name = words((left - 0.8, at.1 + 0.8), 2.3, "its light").set("text-anchor", "end");
        Group::new().add(line("firm", (left, at.1), (at.0 + 2.0, at.1))).add(name)
    }

    fn label_above(&self, area: &Area, name: &str) -> svg::node::element::Text {
        let at = self.at((area.left_mm + area.right_mm) / 2.0, area.top_mm);
        words_centred((at.0, at.1 - 0.9), 2.3, name)
    }

    fn label_beside(&self, area: &Area, name: &str) -> svg::node::element::Text {
        let at = self.at(area.right_mm, (area.bottom_mm + area.top_mm) / 2.0);
        words((at.0 + 3.0, at.1 + 0.8), 2.3, name)
    }

    /// Crossed out where two things overlap: shape and word, not colour.
    fn clash(&self, a: &Area, b: &Area) -> Group {
        if a.overlap_mm(b).is_none() {
            return Group::new();
        }
        let left_top = self.at(a.left_mm.max(b.left_mm), a.top_mm.min(b.top_mm));
        let right_low = self.at(a.right_mm.min(b.right_mm), a.bottom_mm.max(b.bottom_mm));
        Group::new()
            .add(rectangle("clash", left_top, (right_low.0 - left_top.0, right_low.1 - left_top.1)))
            .add(line("clash", left_top, right_low))
            .add(line("clash", (right_low.0, left_top.1), (left_top.0, right_low.1)))
            .add(words((right_low.0 + 1.0, left_top.1 + 2.0), 2.6, "overlap"))
    }

    fn datum(&self) -> Group {
        let datum = &self.set_out.datum;
        let (plumb, level) = (datum.plumb_from_wall_left_mm, datum.level_above_floor_mm);
        let (top, low) = (self.at(plumb, self.room.ceiling_mm), self.at(plumb, 0.0));
        let (left, right) = (self.at(0.0, level), self.at(self.room.wall_width_mm, level));
        Group::new()
            .add(line("datum", (top.0, top.1 - 3.0), (low.0, low.1 + 3.0)))
            .add(line("datum", (left.0 - 3.0, left.1), (right.0 + 3.0, right.1)))
            .add(words((low.0 + 1.0, low.1 - 1.2), 2.3, "plumb line"))
            .add(words((left.0 + 1.0, left.1 - 1.0), 2.3, "level line"))
    }

    fn marks(&self) -> Group {
        self.set_out.marks.iter().enumerate().fold(Group::new(), |mut group, (index, mark)| {
            let at = self.mark_at(mark);
            let cross = 1.1;
            if mark.drill_mm.is_some() {
                group = group.add(circle("thin", at, 0.7));
            }
            group
                .add(line("thin", (at.0 - cross, at.1), (at.0 + cross, at.1)))
                .add(line("thin", (at.0, at.1 - cross), (at.0, at.1 + cross)))
                .add(words((at.0 + 0.8, at.1 - 0.8), 1.9, &(index + 1).to_string()))
        })
    }

    fn dimensions(&self) -> Group {
        let datum = &self.set_out.datum;
        let (plumb, level) = (datum.plumb_from_wall_left_mm, datum.level_above_floor_mm);
        let image = &self.set_out.image_area;
        let top = self.at(0.0, self.room.ceiling_mm).1;
        let left = self.at(0.0, 0.0).0;
        let across = |group: Group, from_mm: f64, to_mm: f64, y: f64| {
            let (a, b) = (self.at(from_mm, 0.0).0, self.at(to_mm, 0.0).0);
            group
                .add(line("thin", (a, y), (b, y)))
                .add(line("thin", (a, y - 1.2), (a, y + 1.2)))
                .add(line("thin", (b, y - 1.2), (b, y + 1.2)))
                .add(words_centred(
                    ((a + b) / 2.0, y - 1.0),
                    2.5,
                    &Mm(to_mm - from_mm).tape().number(self.style),
                ))
        };
        let upright = |group: Group, from_mm: f64, to_mm: f64, x: f64| {
            let (a, b) = (self.at(0.0, from_mm).1, self.at(0.0, to_mm).1);
            let middle = (a + b) / 2.0;
            group
                .add(line("thin", (x, a), (x, b)))
                .add(line("thin", (x - 1.2, a), (x + 1.2, a)))
                .add(line("thin", (x - 1.2, b), (x + 1.2, b)))
                .add(
                    words_centred(
                        (x - 1.0, middle),
                        2.5,
                        &Mm(to_mm - from_mm).tape().number(self.style),
                    )
                    .set("transform", format!("rotate(-90 {} {})", tidy(x - 1.0), tidy(middle))),
                )
        };
        let mut group = Group::new();
        group = across(group, 0.0, plumb, top - 4.5);
        group = across(group, plumb, self.room.wall_width_mm, top - 4.5);
        group = across(group, image.left_mm, image.right_mm, top - 10.0);
        group = upright(group, 0.0, level, left - 3.5);
        group = upright(group, level, self.room.ceiling_mm, left - 3.5);
        upright(group, image.bottom_mm, image.top_mm, left - 9.0)
    }

    fn scale_bar(&self, at: (f64, f64)) -> Group {
        let length_mm = [5000.0, 2000.0, 1000.0, 500.0, 200.0, 100.0]
            .into_iter()
            .find(|length_mm| length_mm / self.scale <= 60.0)
            .unwrap_or(50.0);
        let end = (at.0 + length_mm / self.scale, at.1);
        Group::new()
            .add(line("firm", at, end))
            .add(line("firm", (at.0, at.1 - 1.5), (at.0, at.1 + 1.5)))
            .add(line("firm", (end.0, end.1 - 1.5), (end.0, end.1 + 1.5)))
            .add(words(
                (end.0 + 2.0, at.1 + 0.9),
                2.6,
                &format!(
                    "{} on the wall, {} on this sheet at actual size. Dimensions in {}.",
                    Mm(length_mm).tape().text(self.style),
                    Mm(length_mm / self.scale).tape().text(self.style),
                    self.style.units.word()
                ),
            ))
    }

    fn table(&self, top: f64) -> Group {
        let columns = [0.0, 8.0, 78.0, 112.0, 146.0];
        let cell = |index: usize, row: f64| (MARGIN_MM + columns[index], top + row * TABLE_LINE_MM);
        let mut group = Group::new();
        for (index, head) in ["", "mark", "from the plumb line", "from the level line", "drill"]
            .into_iter()
            .enumerate()
        {
            group = group.add(words(cell(index, 0.0), 2.6, head).set("font-weight", "bold"));
        }
        for (index, mark) in self.set_out.marks.iter().enumerate() {
            let row = index as f64 + 1.0;
            let side = side_of(mark.from_plumb_mm, "right", "left", self.style);
            let height = side_of(mark.from_level_mm, "above", "below", self.style);
            group = group
                .add(words(cell(0, row), 2.6, &(index + 1).to_string()))
                .add(words(cell(1, row), 2.6, &mark.name))
                .add(words(cell(2, row), 2.6, &side))
                .add(words(cell(3, row), 2.6, &height));
            if let Some(drill_mm) = mark.drill_mm {
                group = group.add(words(
                    cell(4, row),
                    2.6,
                    &format!("\u{2300} {}", Mm(drill_mm).tape().number(self.style)),
                ));
            }
        }
        let assumed = if self.set_out.assumed.is_empty() {
            ""
        } else {
            "ASSUMED: the emitter's lower edge is drawn as high as its light. Measure it and set out again before anything is marked."
        };
        let foot = top + (self.set_out.marks.len() as f64 + 2.0) * TABLE_LINE_MM;
        group
            .add(words(
                (MARGIN_MM, foot),
                2.6,
                "Look for cables and pipes before drilling. Makers' instructions and local codes come first.",
            ))
            .add(words((MARGIN_MM, foot + 3.6), 2.6, "This drawing says where things go, not what the wall carries."))
            .add(words((MARGIN_MM, foot + 7.2), 2.6, assumed))
    }
}
