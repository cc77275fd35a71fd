//! The steps of a zeroing, in the order in which they are best made; any of them can be gone to.

use super::Zero;
use super::gather::Doing;
use crate::output::{News, Output};
use crate::word::Word;
use skimgauge_metrology::zero::{BlockStill, Pair, RollPoint, Still};
use skimgauge_quantity::{Name, Sentence, say};
use std::time::Duration;

/// A step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stage {
    /// The eye in the dark.
    Dark,
    /// The slide rolled through the light.
    Roll,
    /// A block, counted from 0 over all rounds.
    Block(usize),
    /// Turned end for end on an upright plate: level, and lean with it.
    Level,
    /// Turned end for end on an upright plate: lean.
    Lean,
}

/// What a step read.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Read {
    /// A still stretch.
    Still(Still),
    /// A roll.
    Roll(Vec<RollPoint>),
}

impl Zero {
    /// All steps of this head, in their order.
    pub(super) fn stages(&self) -> Vec<Stage> {
        if self.begin.check.is_some() {
            return Vec::new();
        }
        let eye = [Stage::Dark, Stage::Roll].into_iter().filter(|_| self.session.eye);
        let blocks = (0..self.blocks_in_all()).map(Stage::Block);
        eye.chain(blocks).chain([Stage::Level, Stage::Lean]).collect()
    }

    fn blocks_in_all(&self) -> usize {
        (self.begin.blocks.len() * self.begin.rounds).max(self.session.blocks.len())
    }

    /// The step at hand.
    pub(super) fn stage(&self) -> Option<Stage> {
        self.stages().get(self.at?).copied()
    }

    pub(super) fn is_done(&self, stage: Stage) -> bool {
        match stage {
            Stage::Dark => self.session.dark.is_some(),
            Stage::Roll => !self.session.rolls.is_empty(),
            Stage::Block(at) => at < self.session.blocks.len(),
            Stage::Level => self.session.level.is_some(),
            Stage::Lean => self.session.lean.is_some(),
        }
    }

    /// Blocks are read one after the other: one behind the next has no place in the session yet.
    pub(super) fn is_open(&self, stage: Stage) -> bool {
        !matches!(stage, Stage::Block(at) if at > self.session.blocks.len())
    }

    /// A step's name in a list.
    pub(super) fn name(&self, stage: Stage) -> Sentence {
        match stage {
            Stage::Dark => say!("dark"),
            Stage::Roll => say!("roll"),
            Stage::Block(at) => say!("block {} of {}", at + 1, self.blocks_in_all()),
            Stage::Level => say!("level and lean"),
            Stage::Lean => say!("lean"),
        }
    }

    /// The first step from here on, and round again, that is neither made nor left out; the new
    /// constants once there is none.
    pub(super) fn goes_on(&mut self, now: Duration) {
        let stages = self.stages();
        let here = self.at.unwrap_or(0);
        let wanted = |at: &usize| {
            let stage = stages[*at];
            !self.is_done(stage) && !self.skipped.contains(&stage) && self.is_open(stage)
        };
        self.at = (here..stages.len()).chain(0..here).find(wanted);
        match self.at {
            Some(_) => self.prompt(),
            None => self.finish(now),
        }
    }

    /// Says what is to be done.
    pub(super) fn prompt(&mut self) {
        let says = self.asks();
        self.out.push(Output::Tell(News::Step(says)));
    }

    /// Another step, as asked for.
    pub(super) fn moves(&mut self, now: Duration, word: Word) {
        if self.begin.check.is_some() {
            return;
        }
        match word {
            Word::Skip => {
                let Some(stage) = self.stage() else { return };
                // As many as were read are worked with.
                let blocks = matches!(stage, Stage::Block(_));
                let left = self.stages().into_iter().filter(|other| {
                    *other == stage || (blocks && matches!(other, Stage::Block(_)))
                });
                let left: Vec<Stage> = left.collect();
                self.skipped.extend(left);
                self.first = None;
                self.goes_on(now);
            }
            Word::Next | Word::Back => {
                let Some(to) = self.beside(word) else { return };
                self.at = Some(to);
                (self.first, self.outcome) = (None, None);
                if let Some(stage) = self.stage() {
                    let blocks = matches!(stage, Stage::Block(_));
                    self.skipped.retain(|other| {
                        *other != stage && !(blocks && matches!(other, Stage::Block(_)))
                    });
                }
                self.prompt();
            }
            // Only level matters: upside down on the same face.
            Word::Other if self.first.is_some() && self.stage() == Some(Stage::Level) => {
                self.let_go(now, true);
            }
            _ => (),
        }
    }

    /// The step after this one, or before it; `None` where there is none.
    pub(super) fn beside(&self, word: Word) -> Option<usize> {
        let stages = self.stages();
        let open = |at: &usize| self.is_open(stages[*at]);
        match (word, self.at) {
            (Word::Next, Some(at)) => (at + 1..stages.len()).find(open),
            (Word::Back, at) => (0..at.unwrap_or(stages.len())).rev().find(open),
            _ => None,
        }
    }

    /// What the step at hand read: into the session, and kept.
    pub(super) fn has_read(&mut self, now: Duration, read: Read, level_only: bool) {
        let (Some(at), Some(stage)) = (self.at, self.stage()) else { return };
        let readings = match &read {
            Read::Still(still) => still.readings as usize,
            Read::Roll(points) => points.len(),
        };
        let former = Box::new(self.session.clone());
        match (stage, read) {
            (Stage::Roll, Read::Roll(points)) => self.session.rolls = vec![points],
            (Stage::Dark, Read::Still(still)) => self.session.dark = Some(still),
            (Stage::Block(block), Read::Still(still)) => {
                let centred =
                    self.observer.live(now.as_secs_f64()).eye.is_none_or(|eye| eye.centred);
                if self.session.eye && !centred {
                    let says = say!(
                        "The light stands off the eye's middle. Roll the slide to it; this block again."
                    );
                    self.say(now, true, says);
                    return self.prompt();
                }
                self.read_block(block, still);
            }
            (Stage::Level | Stage::Lean, Read::Still(still)) => {
                let Some(first) = self.first.take() else {
                    self.first = Some(still);
                    self.reads(now, readings);
                    return self.prompt();
                };
                let pair = Pair { first, second: still };
                if stage == Stage::Level {
                    self.session.level = Some(pair);
                }
                if stage == Stage::Lean || !level_only {
                    self.session.lean = Some(pair);
                }
            }
            _ => return,
        }
        self.reads(now, readings);
        self.doing = Doing::Keeping { former, at };
        self.out.push(Output::Keep(crate::Entry::Zeroing(Box::new(self.session.clone()))));
    }

    fn reads(&mut self, now: Duration, readings: usize) {
        let says = say!("Read: {readings} readings.");
        self.came_to = Some(says.clone());
        self.say(now, false, says);
    }

    fn read_block(&mut self, at: usize, still: Still) {
        match self.session.blocks.get_mut(at) {
            // Taken again: it stays the block that it was.
            Some(read) => read.still = still,
            None => {
                let block = self.begin.blocks[at % self.begin.blocks.len()];
                let (block_mm, block_u_mm) = (block.mm, block.u_mm);
                self.session.blocks.push(BlockStill { block_mm, block_u_mm, still });
            }
        }
    }

    /// What is to be done now, in words.
    pub(super) fn asks(&self) -> Sentence {
        if let Some((block, _)) = &self.begin.check {
            return say!(
                "Put {} under the laser's spot, seat the head, roll the slide to the light.",
                Name(&called(block.mm))
            );
        }
        if self.outcome.is_some() {
            return say!("Write these constants to the head, dated today?");
        }
        let again = self.first.is_some();
        match self.stage() {
            None => Sentence::new(),
            Some(Stage::Dark) => say!(
                "Dark: stand the head on the plate and cover the eye, or switch the light off."
            ),
            Some(Stage::Roll) => say!(
                "Roll: nothing or a thin block under the spot, the light on, the slide rolled to one side of it. \
                 Then begin, and roll it slowly through the light to the other side, in about ten seconds."
            ),
            Some(Stage::Block(at)) => self.asks_block(at),
            Some(Stage::Level) if again => say!(
                "Now to the plate's other face, at the same place (the head turned end for end). \
                 If only level matters: upside down on the same face, and say so (level)."
            ),
            Some(Stage::Lean) if again => {
                say!("Now to the plate's other face, at the same place.")
            }
            Some(Stage::Level) => say!(
                "Level and lean: clip the head to an upright plate or a glass door with two parallel faces, about level."
            ),
            Some(Stage::Lean) => say!(
                "Lean: clip the head to one face of an upright plate or glass door with two parallel faces."
            ),
        }
    }

    fn asks_block(&self, at: usize) -> Sentence {
        let roll = if self.session.eye {
            ", the slide rolled until the light stands in the eye's middle"
        } else {
            ", the slide set to the light by sight"
        };
        let read = self.session.blocks.get(at).map(|read| read.block_mm);
        let mm = read.unwrap_or_else(|| self.begin.blocks[at % self.begin.blocks.len()].mm);
        say!(
            "Block {} of {}: {} under the laser's spot, the head lifted and seated anew{roll}.",
            at + 1,
            self.blocks_in_all(),
            Name(&called(mm))
        )
    }
}

/// A block by what is marked on it, which is millimetres whatever the screen shows.
pub(super) fn called(mm: f64) -> String {
    if mm == 0.0 { "nothing".to_owned() } else { format!("the {mm} mm block") }
}
