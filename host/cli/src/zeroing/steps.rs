//! The steps of a zeroing, in the order in which they are best made.

use super::talk::{Talk, Word};
use super::text;
use crate::written::{ZEROING, sparing_record};
use anyhow::Context;
use skimgauge_metrology::measure::Live;
use skimgauge_metrology::zero::{BlockStill, Pair, Session, Step, Still};
use skimgauge_quantity::Sentence;
use skimgauge_system::input;
use skimgauge_system::output::{self, Outputs, Refused, Replace};
use std::path::{Path, PathBuf};

/// A still stretch lasts so long, s.
const STILL_S: f64 = 1.5;
/// What the hand still does after Enter or the button, s.
const LET_GO_S: f64 = 0.6;
/// A roll takes no longer, s.
const ROLL_S: f64 = 25.0;
/// A roll has crossed the light from here to there.
const CROSSED: f64 = 0.75;

/// A block with its standard uncertainty, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Block {
    /// Height.
    pub mm: f64,
    /// Standard uncertainty.
    pub u_mm: f64,
}

/// How a zeroing's steps ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Walked {
    /// All that was wanted was read.
    Through,
    /// The user had enough; what was read is kept.
    PutAside,
}

/// A zeroing on disk.
pub struct Kept {
    path: PathBuf,
    record: PathBuf,
    /// What was read.
    pub session: Session,
}

impl Kept {
    /// Takes up what is at this path, or begins with `fresh`. Whether there was something. The
    /// record is spared.
    ///
    /// # Errors
    /// What is there is no zeroing, or another head's; it could not be kept there.
    pub fn open(path: &Path, record: &Path, fresh: Session) -> anyhow::Result<(Self, bool)> {
        let kept = |session| Self { path: path.to_owned(), record: record.to_owned(), session };
        let kept = match input::read(path, input::ZEROING) {
            Ok(bytes) => {
                let found: Session = serde_json::from_slice(&bytes).with_context(|| {
                    format!(
                        "{} is no zeroing that was put aside. Move it away, or name another with --session.",
                        path.display()
                    )
                })?;
                anyhow::ensure!(
                    found.head == fresh.head,
                    "{} is a zeroing of head {}, and this is head {}. Name another file with --session.",
                    path.display(),
                    found.head,
                    fresh.head
                );
                // What is said of the rig now holds for what is still to come; what was read stays.
                let session = Session {
                    light: fresh.light,
                    seat_u_mm: fresh.seat_u_mm,
                    sight_u_mm: fresh.sight_u_mm,
                    ..found
                };
                return Ok((kept(session), true));
            }
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => kept(fresh),
            Err(error) => {
                return Err(error).with_context(|| format!("{} cannot be read.", path.display()));
            }
        };
        Ok((kept, false))
    }

    fn keep(&self) -> anyhow::Result<()> {
        if let Some(folder) = self.path.parent() {
            std::fs::create_dir_all(folder)
                .with_context(|| format!("{} cannot be made.", folder.display()))?;
        }
        // The program's own file, read as a zeroing before: it is written anew after every step.
        let mut outputs = sparing_record(Outputs::new(Replace::Asked), &self.record);
        Ok(outputs.write(&self.path, ZEROING, &serde_json::to_vec_pretty(&self.session)?)?)
    }

    /// Done with: the file goes.
    ///
    /// # Errors
    /// It cannot be removed.
    pub fn forget(self) -> Result<(), Refused> {
        output::remove(&self.path, ZEROING)
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

/// Makes all steps that are missing; `rounds` times through the blocks.
///
/// # Errors
/// The head is gone, or the zeroing cannot be kept.
pub fn walk(
    talk: &mut Talk,
    kept: &mut Kept,
    blocks: &[Block],
    rounds: usize,
) -> anyhow::Result<Walked> {
    println!(
        "Enter or the head's button goes on; `skip` leaves a step out; `quit` puts the zeroing aside."
    );
    if kept.session.eye && kept.session.dark.is_none() {
        let asked = "Dark: stand the head on the plate and cover the eye, or switch the light off.";
        match still(talk, asked, &text::eye, Ok)? {
            Asked::Read(still) => kept.session.dark = Some(still),
            Asked::Skipped => (),
            Asked::Quit => return Ok(Walked::PutAside),
        }
        kept.keep()?;
    }
    if kept.session.eye && kept.session.rolls.is_empty() {
        match roll(talk)? {
            Asked::Read(points) => kept.session.rolls.push(points),
            Asked::Skipped => (),
            Asked::Quit => return Ok(Walked::PutAside),
        }
        kept.keep()?;
    }
    let total = blocks.len() * rounds;
    let mut at = kept.session.blocks.len();
    while at < total {
        let block = blocks[at % blocks.len()];
        let roll = if kept.session.eye {
            ", the slide rolled until the light stands in the eye's middle"
        } else {
            ", the slide set to the light by sight"
        };
        let what = if block.mm == 0.0 {
            "nothing".to_owned()
        } else {
            format!("the {} mm block", block.mm)
        };
        let asked = format!(
            "Block {} of {total}: {what} under the laser's spot, the head lifted and seated anew{roll}.",
            at + 1
        );
        let eye = kept.session.eye;
        let read = still(talk, &asked, &text::eye, |still| still.seeing())?;
        match read {
            Asked::Read(still) => {
                let centred = talk.live().eye.is_none_or(|e| e.centred);
                if eye && !centred {
                    println!(
                        "The light stands off the eye's middle. Roll the slide to it; this block again."
                    );
                    continue;
                }
                kept.session.blocks.push(BlockStill {
                    block_mm: block.mm,
                    block_u_mm: block.u_mm,
                    still,
                });
            }
            Asked::Skipped => break,
            Asked::Quit => return Ok(Walked::PutAside),
        }
        at = kept.session.blocks.len();
        kept.keep()?;
    }
    for step in [Step::Level, Step::Lean] {
        let done = if step == Step::Level { kept.session.level } else { kept.session.lean };
        if done.is_some() {
            continue;
        }
        match reversal(talk, step)? {
            Asked::Read((pair, both)) => {
                if step == Step::Level || both {
                    kept.session.level = Some(pair);
                }
                if step == Step::Lean || both {
                    kept.session.lean = Some(pair);
                }
            }
            Asked::Skipped => (),
            Asked::Quit => return Ok(Walked::PutAside),
        }
        kept.keep()?;
    }
    Ok(Walked::Through)
}

enum Asked<T> {
    Read(T),
    Skipped,
    Quit,
}

/// Asks until the answer is Enter, skip or quit.
fn go_or_skip(
    talk: &mut Talk,
    asked: &str,
    status: &dyn Fn(&Live) -> Sentence,
) -> anyhow::Result<Asked<()>> {
    loop {
        match talk.prompt(asked, status)? {
            Word::Go => return Ok(Asked::Read(())),
            Word::Other(word) if word == "skip" => return Ok(Asked::Skipped),
            Word::Other(word) => println!("`{word}` is not known here: Enter, skip or quit."),
            Word::Quit | Word::End => return Ok(Asked::Quit),
        }
    }
}

/// Asks for a still stretch until there is one.
fn still(
    talk: &mut Talk,
    asked: &str,
    status: &dyn Fn(&Live) -> Sentence,
    fits: impl Fn(Still) -> Result<Still, skimgauge_metrology::zero::StillError>,
) -> anyhow::Result<Asked<Still>> {
    loop {
        match go_or_skip(talk, asked, status)? {
            Asked::Read(()) => (),
            Asked::Skipped => return Ok(Asked::Skipped),
            Asked::Quit => return Ok(Asked::Quit),
        }
        talk.until(LET_GO_S, |_| false)?;
        match talk.gather(STILL_S, |_| false)?.still().and_then(&fits) {
            Ok(still) => {
                println!("Read: {} readings.", still.readings);
                return Ok(Asked::Read(still));
            }
            Err(why) => println!("{why}"),
        }
    }
}

fn roll(talk: &mut Talk) -> anyhow::Result<Asked<Vec<skimgauge_metrology::zero::RollPoint>>> {
    loop {
        let asked = "Roll: nothing or a thin block under the spot, the light on, the slide rolled to one side of it. \
                     After Enter roll it slowly through the light to the other side, in about ten seconds.";
        match go_or_skip(talk, asked, &text::eye)? {
            Asked::Read(()) => (),
            Asked::Skipped => return Ok(Asked::Skipped),
            Asked::Quit => return Ok(Asked::Quit),
        }
        let (mut low, mut high) = (false, false);
        let points = talk
            .gather(ROLL_S, |live| {
                let ratio = live.eye.map_or(0.0, |e| e.ratio);
                low |= ratio < -CROSSED;
                high |= ratio > CROSSED;
                low && high
            })?
            .roll();
        if low && high {
            println!("Read: {} readings.", points.len());
            return Ok(Asked::Read(points));
        }
        println!("The slide did not cross the light from one side to the other in {ROLL_S} s.");
    }
}

/// Two positions; the other face of a plate serves both axes.
fn reversal(talk: &mut Talk, step: Step) -> anyhow::Result<Asked<(Pair, bool)>> {
    let both = step == Step::Level;
    let first = if both {
        "Level and lean: clip the head to an upright plate or a glass door with two parallel faces, about level."
    } else {
        "Lean: clip the head to one face of an upright plate or glass door with two parallel faces."
    };
    let first = match still(talk, first, &text::tilt, Ok)? {
        Asked::Read(still) => still,
        Asked::Skipped => return Ok(Asked::Skipped),
        Asked::Quit => return Ok(Asked::Quit),
    };
    let again = if both {
        "Now to the plate's other face, at the same place (the head turned end for end). \
         If only level matters: upside down on the same face, and type `level`."
    } else {
        "Now to the plate's other face, at the same place."
    };
    loop {
        let word = talk.prompt(again, &text::tilt)?;
        let level_only = matches!(&word, Word::Other(w) if w == "level") && both;
        match word {
            Word::Quit | Word::End => return Ok(Asked::Quit),
            Word::Other(w) if w == "skip" => return Ok(Asked::Skipped),
            Word::Other(w) if !level_only => {
                println!("`{w}` is not known here: Enter, skip or quit.");
                continue;
            }
            Word::Go | Word::Other(_) => (),
        }
        talk.until(LET_GO_S, |_| false)?;
        match talk.gather(STILL_S, |_| false)?.still() {
            Ok(second) => {
                println!("Read: {} readings.", second.readings);
                return Ok(Asked::Read((Pair { first, second }, both && !level_only)));
            }
            Err(why) => println!("{why}"),
        }
    }
}
