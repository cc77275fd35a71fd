//! The points of a set-out, which light up one after another on the board. Pure.

use super::desk::Desk;
use skimgauge_model::Image;
use skimgauge_page::Taped;
use skimgauge_page::shown::{Mark, Shown, Word as Offered};
use skimgauge_procedure::Word;
use skimgauge_quantity::{Mm, Style, Units, count};
use skimgauge_site::setout::SetOut;

/// A point, in the image's frame.
#[derive(Debug, Clone, PartialEq)]
struct Point {
    name: String,
    x: Mm,
    y: Mm,
    /// From the datum lines, and what checks it.
    from_plumb: Mm,
    from_level: Mm,
    checks: Vec<String>,
}

/// The walk from point to point.
pub struct Marking {
    title: String,
    image: Image,
    points: Vec<Point>,
    at: usize,
    number: u64,
    is_new: bool,
    over: bool,
    cautions: Vec<String>,
}

impl Marking {
    /// Through the marks of this set-out, in their order.
    pub fn new(title: &str, found: &SetOut) -> Self {
        let top_mm = found.image_area.top_mm;
        let points = found.marks.iter().map(|mark| Point {
            name: mark.name.clone(),
            x: Mm(mark.from_wall_left_mm - found.datum.plumb_from_wall_left_mm),
            y: Mm(mark.above_floor_mm - top_mm),
            from_plumb: Mm(mark.from_plumb_mm),
            from_level: Mm(mark.from_level_mm),
            checks: mark
                .checks
                .iter()
                .map(|check| {
                    let style = Style::default();
                    let (to, length) = (check.to.text(style), Mm(check.distance_mm).tape());
                    format!("check: {} to {to}", length.text(style))
                })
                .collect(),
        });
        Self {
            title: title.to_owned(),
            image: found.image,
            points: points.collect(),
            at: 0,
            number: 1,
            is_new: true,
            over: false,
            cautions: found.cautions.iter().map(|caution| (*caution).to_owned()).collect(),
        }
    }

    fn instruction(&self, units: Units) -> String {
        let style = Style::typed(units);
        let Some(point) = self.points.get(self.at) else {
            return "every point is marked: check the diagonals, then end".to_owned();
        };
        let aside = match point.from_plumb {
            x if x.abs() < Mm(0.05) => "on the plumb line".to_owned(),
            x => {
                let side = if x > Mm::ZERO { "right" } else { "left" };
                format!("{} {side} of the plumb line", x.abs().tape().text(style))
            }
        };
        let height = match point.from_level {
            y if y.abs() < Mm(0.05) => "on the level line".to_owned(),
            y => {
                let side = if y > Mm::ZERO { "above" } else { "below" };
                format!("{} {side} the level line", y.abs().tape().text(style))
            }
        };
        format!("mark {}: {aside}, {height}", point.name)
    }
}

impl Desk for Marking {
    fn number(&self) -> u64 {
        self.number
    }

    fn shown(&self, units: Units) -> Shown {
        let marks = self.points.iter().enumerate().map(|(at, point)| Mark {
            name: point.name.clone(),
            at: [point.x.0, point.y.0],
            now: at == self.at,
            done: at < self.at,
        });
        let word = |word: Word, does: String| Offered {
            word: serde_json::to_value(word).unwrap_or_default(),
            does,
        };
        let mut words = Vec::new();
        if let Some(point) = self.points.get(self.at) {
            words.push(word(Word::Next, format!("{} is marked: next", point.name)));
        }
        if self.at > 0 {
            words.push(word(Word::Back, "point before".to_owned()));
        }
        words.push(word(Word::Quit, "end".to_owned()));
        let mut lines =
            vec![format!("{} of {} marked", self.at, count(self.points.len(), "point"))];
        lines.extend(self.points.get(self.at).iter().flat_map(|point| point.checks.clone()));
        Shown {
            image: Some(self.image),
            instruction: self.instruction(units),
            lines,
            marks: marks.collect(),
            words,
            cautions: self.cautions.clone(),
            ..Shown::without_head(self.number, self.title.clone(), units.sign())
        }
    }

    fn say(&mut self, word: Word) {
        match word {
            Word::Next => self.at = (self.at + 1).min(self.points.len()),
            Word::Back => self.at = self.at.saturating_sub(1),
            Word::Quit => self.over = true,
            _ => return,
        }
        self.number += 1;
        self.is_new = true;
    }

    fn taped(&mut self, _: &Taped) -> Result<(), String> {
        Err("no length is asked for here".to_owned())
    }

    fn typed(&mut self, line: &str) -> Result<(), String> {
        match line.trim() {
            "" | "next" => self.say(Word::Next),
            "back" => self.say(Word::Back),
            "quit" | "q" => self.say(Word::Quit),
            other => return Err(format!("\"{other}\" is not known here: next, back, quit.")),
        }
        Ok(())
    }

    fn news(&mut self) -> Option<String> {
        std::mem::take(&mut self.is_new).then(|| self.instruction(Units::Mm))
    }

    fn is_over(&self) -> bool {
        self.over
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_jobfile::{JobFile, Known};
    use skimgauge_site::setout::set_out;

    fn marking() -> (Marking, SetOut) {
        // Every section that a new job file shows, as it shows it.
        let known =
            Known { name: Some("hall"), client: Some("x"), place: Some("x"), by: Some("x") };
        let job = JobFile::read("job.toml", &skimgauge_jobfile::filled_in(&known)).unwrap();
        let found = set_out(&crate::command::setout::input(&job).unwrap()).unwrap();
        (Marking::new("hall", &found), found)
    }

    #[test]
    fn one_point_after_another_lights_up_until_all_are_marked() {
        let (mut marking, found) = marking();
        assert!(found.marks.len() >= 4, "there is something to walk");
        for (at, mark) in found.marks.iter().enumerate() {
            let shown = marking.shown(Units::Mm);
            let now: Vec<&str> =
                shown.marks.iter().filter(|m| m.now).map(|m| m.name.as_str()).collect();
            assert_eq!(now, [mark.name.as_str()]);
            assert_eq!(shown.marks.iter().filter(|m| m.done).count(), at);
            assert!(shown.instruction.contains(&mark.name), "{}", shown.instruction);
            marking.say(Word::Next);
            assert!(marking.number() > shown.number);
        }
        let shown = marking.shown(Units::Mm);
        assert!(shown.marks.iter().all(|mark| mark.done && !mark.now));
        assert!(shown.instruction.starts_with("every point is marked"));
        marking.say(Word::Back);
        assert_eq!(marking.shown(Units::Mm).marks.iter().filter(|m| m.now).count(), 1);
        marking.typed("quit").unwrap();
        assert!(marking.is_over());
    }

    /// In the image's frame the image's own corners lie at its corners, wherever the level line is
    /// struck.
    #[test]
    fn marks_stand_in_the_images_frame() {
        let (marking, found) = marking();
        let shown = marking.shown(Units::Mm);
        let (half, tall) = (found.image.width.0 / 2.0, found.image.height.0);
        for (name, at) in [
            ("image top left", [-half, 0.0]),
            ("image top right", [half, 0.0]),
            ("image bottom right", [half, -tall]),
            ("image bottom left", [-half, -tall]),
        ] {
            let names: Vec<&str> = shown.marks.iter().map(|mark| mark.name.as_str()).collect();
            let mark = shown.marks.iter().find(|mark| mark.name == name);
            let mark = mark.unwrap_or_else(|| panic!("{name} of {names:?}"));
            assert!(
                (mark.at[0] - at[0]).abs() < 1e-6 && (mark.at[1] - at[1]).abs() < 1e-6,
                "{mark:?}"
            );
        }
    }
}
