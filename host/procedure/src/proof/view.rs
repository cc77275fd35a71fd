//! How a proof stands, as plain data.

use super::Proving;
use crate::view::Offer;
use crate::word::Word;
use serde::Serialize;
use skimgauge_model::{Image, Point};
use skimgauge_proof::judge::Judged;
use skimgauge_proof::limits::Tool;
use skimgauge_proof::marks::{self, MARKS};
use skimgauge_proof::plan::{Ask, HANDS_OFF_MS, line};
use skimgauge_proof::raw::{Asked, Came, Kind};
use skimgauge_quantity::{Sentence, say};
use std::time::Duration;

/// Everything there is to show.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct View {
    /// Counts up whenever what a word would do changes.
    pub number: u64,
    /// The job's name.
    pub title: String,
    /// The image that is touched.
    pub image: Image,
    /// With what.
    pub tool: Tool,
    /// How far the person is.
    pub state: State,
    /// What to do now.
    pub instruction: Sentence,
    /// What was said last, and whether it is bad news.
    pub message: Option<(Sentence, bool)>,
    /// What keeps places on the screen from being places on the board.
    pub doubt: Option<Sentence>,
    /// What is to be touched now.
    pub target: Option<Target>,
    /// Every mark, and how often it was tapped.
    pub marks: Vec<Spot>,
    /// Things done, and things to do in all.
    pub progress: (usize, usize),
    /// What is left of hands off, s.
    pub left_s: Option<f64>,
    /// What can be said now.
    pub words: Vec<Offer>,
    /// The verdict, once it is over.
    pub judged: Option<Box<Judged>>,
}

/// How far the person is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// No page is open yet.
    Waiting,
    /// Something is to be touched.
    Touch,
    /// Nothing may be touched.
    HandsOff,
    /// A leaf is to be laid.
    Lay,
    /// Paused.
    Paused,
    /// All is done.
    Over,
}

/// What is to be touched.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
pub enum Target {
    /// A mark to tap.
    Mark {
        /// Where.
        at: Point,
    },
    /// A mark to hold.
    Hold {
        /// Where.
        at: Point,
    },
    /// A place for dashes.
    Dashes {
        /// Where.
        at: Point,
    },
    /// A place for a leaf.
    Leaf {
        /// Where.
        at: Point,
    },
    /// A line there and back.
    Line {
        /// From here.
        from: Point,
        /// To there.
        to: Point,
    },
}

/// A mark.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spot {
    /// Where.
    pub at: Point,
    /// How often it was tapped.
    pub taps: usize,
    /// Left out as out of reach.
    pub left_out: bool,
}

impl Proving {
    /// How things stand at this time.
    pub fn view(&self, now: Duration) -> View {
        let current = self.current().filter(|_| !self.paused);
        let image = self.proof.image;
        let window = self.proof.windows.last();
        let standing = |asked: &&Asked| asked.came != Came::Undone;
        let done = self.proof.asked.iter().filter(standing).count();
        let done = done - usize::from(self.open).min(done);
        View {
            number: self.situation.number(),
            title: self.title.clone(),
            image,
            tool: self.proof.tool,
            state: self.state(),
            instruction: self.instruction(now),
            message: self.message.as_ref().map(|(says, bad, _)| (says.clone(), *bad)),
            doubt: window.and_then(|window| window.doubt(image)).or_else(|| self.no_touch()),
            target: current.and_then(|asked| self.target(&asked.ask)),
            marks: self.spots(),
            progress: (done, done + self.queue.len() + usize::from(self.open)),
            left_s: current.filter(|asked| asked.ask == Ask::HandsOff).map(|asked| {
                ((asked.from_ms + HANDS_OFF_MS - self.ms(now)) / 1000.0).clamp(0.0, 63.0)
            }),
            words: self.words(),
            judged: self.over.as_ref().map(|made| Box::new(made.judged.clone())),
        }
    }

    /// What touches and does not come as touch: it cannot be told from a mouse at the computer.
    fn no_touch(&self) -> Option<Sentence> {
        let contacts = self.proof.standing().flat_map(|asked| &asked.contacts);
        let kind = contacts.map(|contact| contact.kind).find(|kind| *kind != Kind::Touch)?;
        let kind = if kind == Kind::Mouse { "mouse" } else { "pen" };
        Some(say!(
            "a contact came as a {kind}, not as touch: put a {kind} aside, else install what the display's maker gives for touch; with it the proof is never within"
        ))
    }

    fn state(&self) -> State {
        if self.over.is_some() {
            return State::Over;
        }
        if self.paused {
            return State::Paused;
        }
        match self.current().map(|asked| &asked.ask) {
            None => State::Waiting,
            Some(Ask::HandsOff) => State::HandsOff,
            Some(Ask::Leaf { .. }) => State::Lay,
            Some(_) => State::Touch,
        }
    }

    fn instruction(&self, now: Duration) -> Sentence {
        if let Some(made) = &self.over {
            return say!("{}: {}", made.judged.verdict, made.judged.because);
        }
        if self.paused {
            return say!("pause: what touches now does not count");
        }
        match self.current() {
            None => say!(
                "open the proof's page on the computer that the display's touch is plugged into"
            ),
            Some(asked) if asked.from_ms > self.ms(now) => say!("hands off, and step back"),
            Some(asked) => asked.ask.says(self.proof.tool),
        }
    }

    fn target(&self, ask: &Ask) -> Option<Target> {
        let at = ask.at(self.proof.image, self.proof.limits.inset)?;
        Some(match ask {
            Ask::Mark { .. } => Target::Mark { at },
            Ask::Hold { .. } => Target::Hold { at },
            Ask::Dashes { .. } => Target::Dashes { at },
            Ask::Leaf { .. } => Target::Leaf { at },
            Ask::Stroke { stroke } => {
                let (from, to) = line(self.proof.image, self.proof.limits.inset, *stroke)?;
                Target::Line { from, to }
            }
            Ask::HandsOff => return None,
        })
    }

    fn spots(&self) -> Vec<Spot> {
        let open = usize::from(self.open);
        let done = &self.proof.asked[..self.proof.asked.len() - open];
        let taps = |mark: u8| {
            done.iter()
                .filter(|asked| asked.came == Came::Done)
                .filter(
                    |asked| matches!(asked.ask, Ask::Mark { mark: tapped, .. } if tapped == mark),
                )
                .count()
        };
        (0..MARKS as u8)
            .filter_map(|mark| {
                let at = marks::at(self.proof.image, self.proof.limits.inset, mark)?;
                let left_out = self.proof.left_out.contains(&mark);
                Some(Spot { at, taps: taps(mark), left_out })
            })
            .collect()
    }

    fn words(&self) -> Vec<Offer> {
        let offer = |word: Word, does: Sentence| Offer { word, does };
        if self.over.is_some() {
            return vec![offer(Word::Quit, say!("end"))];
        }
        if self.paused {
            return vec![
                offer(Word::Ready, say!("go on")),
                offer(Word::Quit, say!("end with what there is")),
            ];
        }
        let mut words = Vec::new();
        match self.current().map(|asked| &asked.ask) {
            Some(Ask::Mark { .. }) => {
                words.push(offer(Word::Missed, say!("it did not react")));
                words.push(offer(Word::Skip, say!("out of reach: leave it out")));
            }
            Some(Ask::Stroke { .. } | Ask::Hold { .. }) => {
                words.push(offer(Word::Missed, say!("it did not react")));
                words.push(offer(Word::Skip, say!("leave it out")));
            }
            Some(Ask::Dashes { .. }) => {
                words.push(offer(Word::Ready, say!("ten are drawn")));
                words.push(offer(Word::Skip, say!("leave it out")));
            }
            Some(Ask::Leaf { .. }) => {
                words.push(offer(Word::Ready, say!("it lies")));
                words.push(offer(Word::Skip, say!("leave it out")));
            }
            Some(Ask::HandsOff) | None => (),
        }
        if self.proof.asked.len() > 1 {
            words.push(offer(Word::Redo, say!("undo the last one")));
        }
        if self.open {
            words.push(offer(Word::Pause, say!("pause")));
        }
        words.push(offer(Word::Quit, say!("end with what there is")));
        words
    }
}
