//! The image's six lengths, taped one after another while a page shows where. Pure.

use super::desk::Desk;
use crate::lengths::Lengths;
use crate::report;
use skimgauge_page::Taped;
use skimgauge_page::shown::{Length, Said, Shown, Word as Offered};
use skimgauge_procedure::Word;
use skimgauge_quantity::{Mm, Style, Tell, Units};
use skimgauge_site::square::quadrilateral::Span;
use skimgauge_site::square::tape::{TapeError, TapeReading};
use skimgauge_site::square::{Measured, SquareError, SquareInput, SquareReport, square};

/// As they are named on a page, at the terminal and in the job file.
pub const NAMES: [&str; 6] = ["top", "right", "bottom", "left", "falling", "rising"];

/// The six lengths, and what they come to.
pub struct Taping {
    title: String,
    units: Lengths,
    input: SquareInput,
    report: Result<SquareReport, SquareError>,
    /// What is to be taped now.
    at: usize,
    number: u64,
    message: Option<String>,
    is_new: bool,
    over: bool,
}

impl Taping {
    /// From these measures on; none have to be there.
    pub fn new(title: &str, input: SquareInput, units: Lengths) -> Self {
        let at = Span::ALL.iter().position(|span| read(&input, *span).is_none()).unwrap_or(0);
        Self {
            title: title.to_owned(),
            units,
            report: square(&input),
            input,
            at,
            number: 1,
            message: None,
            is_new: true,
            over: false,
        }
    }

    /// What was measured in the end, and what it comes to.
    ///
    /// # Errors
    /// The lengths are too few, or give no image.
    pub fn end(self) -> Result<SquareReport, SquareError> {
        self.report
    }

    fn changed(&mut self) {
        self.number += 1;
    }

    /// To the next that is not taped, else to the next.
    fn go_on(&mut self) {
        let after = (1..=6).map(|step| (self.at + step) % 6);
        let missing = after.clone().find(|at| read(&self.input, Span::ALL[*at]).is_none());
        self.at = missing.unwrap_or((self.at + 1) % 6);
    }

    fn take(&mut self, at: usize, length: Mm) -> Result<(), String> {
        let Measured::Tape { readings, .. } = &mut self.input.measured else {
            return Err("the job measures its corners, not lengths".to_owned());
        };
        let (span, before) = (Span::ALL[at], readings.clone());
        readings.retain(|reading| reading.span != span);
        readings.push(TapeReading { span, length_mm: length.0 });
        let report = square(&self.input);
        // A length that cannot stand beside the others is let go: those stay as they were.
        if let Err(why) = &report
            && !matches!(why, SquareError::Tape(TapeError::TooFew { .. }))
        {
            let says = why.tell().text(self.units.style());
            if let Measured::Tape { readings, .. } = &mut self.input.measured {
                *readings = before;
            }
            self.message = Some(format!("NOT kept: {says}."));
            self.changed();
            return Err(says);
        }
        self.report = report;
        self.at = at;
        self.go_on();
        (self.message, self.is_new) = (None, true);
        self.changed();
        Ok(())
    }

    fn left(&self) -> usize {
        Span::ALL.iter().filter(|span| read(&self.input, **span).is_none()).count()
    }

    /// What the lengths say to turn, a line each.
    fn lines(&self, units: Units) -> Vec<String> {
        let style = Style::typed(units);
        let Ok(report) = &self.report else { return Vec::new() };
        let tape = report.tape.iter().map(|tape| format!("tape: {}", tape.says.text(style)));
        let (turn, leave): (Vec<_>, Vec<_>) =
            report.corrections.iter().partition(|step| step.to_turn);
        let turn = turn.into_iter().enumerate();
        let turn = turn.map(|(index, step)| format!("{}. {}", index + 1, step.says.text(style)));
        let leave = leave.into_iter().map(|step| step.says.text(style));
        let beside = report.beside.iter().map(|beside| beside.says.text(style));
        let open = report.beyond.iter().chain(&report.too_close);
        let open = open.map(|says| format!("not square yet: {}", says.text(style)));
        let measured = report.not_measured.iter();
        let measured = measured.map(|says| format!("measured: {}", says.text(style)));
        tape.chain(beside).chain(turn).chain(leave).chain(open).chain(measured).collect()
    }
}

fn read(input: &SquareInput, span: Span) -> Option<f64> {
    let Measured::Tape { readings, .. } = &input.measured else { return None };
    readings.iter().rev().find(|reading| reading.span == span).map(|reading| reading.length_mm)
}

/// A corner of the image, clockwise from the top left.
fn corner(input: &SquareInput, index: usize) -> [f64; 2] {
    let (half, tall) = (input.image.width.0 / 2.0, input.image.height.0);
    [[-half, 0.0], [half, 0.0], [half, -tall], [-half, -tall]][index % 4]
}

impl Desk for Taping {
    fn number(&self) -> u64 {
        self.number
    }

    fn shown(&self, units: Units) -> Shown {
        let style = Style::typed(units);
        let lengths = Span::ALL.into_iter().enumerate().map(|(at, span)| {
            let (from, to) = span.ends();
            Length {
                name: NAMES[at].to_owned(),
                called: span.name().to_owned(),
                from: corner(&self.input, from),
                to: corner(&self.input, to),
                taped: read(&self.input, span).map(|mm| Mm(mm).tape().text(style)),
                now: at == self.at,
            }
        });
        let instruction = match self.left() {
            0 => format!(
                "all six are taped; tape one again, or end. Now: {}",
                Span::ALL[self.at].name()
            ),
            left => format!("tape the {} ({left} to go)", Span::ALL[self.at].name()),
        };
        let word = |word: Word, does: &str| Offered {
            word: serde_json::to_value(word).unwrap_or_default(),
            does: does.to_owned(),
        };
        let says = |says: &String| Said { says: says.clone(), bad: true };
        let cautions = skimgauge_site::square::CAUTIONS.map(str::to_owned).to_vec();
        Shown {
            image: Some(self.input.image),
            instruction,
            message: self.message.as_ref().map(says),
            lines: self.lines(units),
            lengths: lengths.collect(),
            words: vec![
                word(Word::Next, "next length"),
                word(Word::Back, "length before"),
                word(Word::Quit, "end; what was taped is kept"),
            ],
            cautions,
            ..Shown::without_head(self.number, self.title.clone(), units.sign())
        }
    }

    fn say(&mut self, word: Word) {
        match word {
            Word::Next => self.at = (self.at + 1) % 6,
            Word::Back => self.at = (self.at + 5) % 6,
            Word::Quit => self.over = true,
            _ => return,
        }
        self.changed();
    }

    fn taped(&mut self, taped: &Taped) -> Result<(), String> {
        let at = NAMES.iter().position(|name| *name == taped.name);
        let at = at.ok_or_else(|| "no such length is asked for".to_owned())?;
        self.take(at, taped.length)
    }

    fn typed(&mut self, line: &str) -> Result<(), String> {
        match line.trim() {
            "" => return Ok(()),
            "quit" | "q" => self.say(Word::Quit),
            "next" => self.say(Word::Next),
            "back" => self.say(Word::Back),
            line => {
                let (name, length) = line.split_once(' ').unwrap_or((line, ""));
                let length = Mm::read_bare(length.trim()).map_err(|_| {
                    format!("Type a length's name and its value: top 2024.5; the names are {}; next, back, quit.", NAMES.join(", "))
                })?;
                self.taped(&Taped { name: name.to_owned(), length })?;
            }
        }
        Ok(())
    }

    fn news(&mut self) -> Option<String> {
        let is_new = std::mem::take(&mut self.is_new);
        let report = self.report.as_ref().ok().filter(|_| is_new)?;
        Some(report::square::short(report, self.units))
    }

    fn is_over(&self) -> bool {
        self.over
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_model::Image;
    use skimgauge_site::square::MAY_REMAIN;

    fn taping() -> Taping {
        let measured = Measured::Tape { readings: Vec::new(), u_mm: 1.0, rise: None };
        let input = SquareInput {
            image: Image::mm(2000.0, 1250.0),
            measured,
            beside: None,
            may_remain: MAY_REMAIN,
            bows: Vec::new(),
        };
        Taping::new("hall", input, Lengths(Units::Mm))
    }

    fn tape(taping: &mut Taping, name: &str, length_mm: f64) -> Result<(), String> {
        taping.taped(&Taped { name: name.to_owned(), length: Mm(length_mm) })
    }

    /// A rectangle of 2000 by 1250 mm has diagonals of 2358.4952 mm (Pythagoras).
    const RIGHT: [f64; 6] = [2000.0, 1250.0, 2000.0, 1250.0, 2358.4952, 2358.4952];

    #[test]
    fn one_length_after_another_lights_up_until_all_are_taped() {
        let mut taping = taping();
        for (at, (name, length_mm)) in NAMES.iter().zip(RIGHT).enumerate() {
            let shown = taping.shown(Units::Mm);
            let now: Vec<&str> =
                shown.lengths.iter().filter(|l| l.now).map(|l| l.name.as_str()).collect();
            assert_eq!(now, [*name]);
            assert_eq!(shown.lengths.iter().filter(|l| l.taped.is_some()).count(), at);
            assert!(shown.lines.is_empty() == (at < 5), "five are enough to say something");
            tape(&mut taping, name, length_mm).unwrap();
            assert!(taping.number() > shown.number);
        }
        let shown = taping.shown(Units::Inch);
        assert!(shown.instruction.starts_with("all six are taped"));
        assert_eq!(shown.lengths[0].taped.as_deref(), Some("78 47/64 in"));
        // Where each is on the image: side from corner to corner.
        assert_eq!(
            (shown.lengths[1].from, shown.lengths[1].to),
            ([1000.0, 0.0], [1000.0, -1250.0])
        );
        assert_eq!(
            (shown.lengths[5].from, shown.lengths[5].to),
            ([1000.0, 0.0], [-1000.0, -1250.0])
        );
        let report = taping.end().unwrap();
        assert!(report.turnable.vertical_trapezoid_mm.value.abs() < 0.01);
        assert_eq!(report.tape.unwrap().agrees, Some(true));
    }

    #[test]
    fn a_length_that_makes_no_image_is_let_go_and_said() {
        let mut taping = taping();
        for (name, length_mm) in NAMES.iter().zip(RIGHT) {
            tape(&mut taping, name, length_mm).unwrap();
        }
        let why = tape(&mut taping, "falling", 9000.0).unwrap_err();
        let shown = taping.shown(Units::Mm);
        assert!(shown.message.unwrap().says.contains(&why), "{why}");
        assert_eq!(shown.lengths[4].taped.as_deref(), Some("2358.5 mm"), "as it was");
        assert!(tape(&mut taping, "middle", 3.0).is_err());
        assert!(taping.end().is_ok());
    }

    #[test]
    fn it_can_be_gone_back_on_and_ended() {
        let mut taping = taping();
        taping.say(Word::Back);
        assert!(taping.shown(Units::Mm).lengths[5].now);
        assert!(taping.typed("top 78 3/4 in").is_ok() && taping.typed("top").is_err());
        assert!(!taping.is_over());
        taping.typed("quit").unwrap();
        assert!(taping.is_over());
        assert!(matches!(taping.end(), Err(SquareError::Tape(TapeError::TooFew { given: 1, .. }))));
    }
}
