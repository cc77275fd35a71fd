//! Work that pages show and that needs no head: lengths to be taped, points to be marked.

use super::{EVERY, Pages, aside};
use crate::shell;
use anyhow::Context;
use skimgauge_page::shown::Shown;
use skimgauge_page::{Act, Taped};
use skimgauge_procedure::Word;
use skimgauge_quantity::Units;
use skimgauge_system::signals::Heed;
use std::io::Write;
use std::time::{Duration, Instant};

/// Nothing here takes longer to come to its end.
const ENDS_WITHIN: Duration = Duration::from_secs(2);

/// Such work: pure but for what it is told.
pub trait Desk {
    /// Counts up whenever what a word would do changes.
    fn number(&self) -> u64;
    /// How it stands, in these units.
    fn shown(&self, units: Units) -> Shown;
    /// Somebody said a word.
    fn say(&mut self, word: Word);
    /// Somebody taped a length.
    ///
    /// # Errors
    /// It was not asked for, or cannot be: in a sentence.
    fn taped(&mut self, taped: &Taped) -> Result<(), String>;
    /// Somebody typed a line at the terminal.
    ///
    /// # Errors
    /// It means nothing here: in a sentence.
    fn typed(&mut self, line: &str) -> Result<(), String>;
    /// What is new for the terminal, once.
    fn news(&mut self) -> Option<String>;
    /// Enough.
    fn is_over(&self) -> bool;
}

/// Until somebody has enough; what was done by then stands.
///
/// # Errors
/// Nobody reads the terminal any more.
pub fn run(mut pages: Pages, desk: &mut dyn Desk) -> anyhow::Result<()> {
    let heed = Heed::new(ENDS_WITHIN);
    let (typed, began) = (shell::typed_lines(), Instant::now());
    while !desk.is_over() && heed.ended().is_none() {
        let now = began.elapsed();
        let mut says: Vec<String> =
            typed.try_iter().filter_map(|line| desk.typed(&line).err()).collect();
        for (by, seen, act) in pages.acts(now) {
            says.push(match obeyed(desk, seen, act) {
                Ok(what) => format!("  - {by}: {what}"),
                Err(why) => format!("  - {by}: {why}"),
            });
        }
        says.splice(0..0, pages.news().into_iter().map(|what| format!("  - {what}")));
        says.extend(desk.news());
        tell(&says)?;
        if pages.is_due(now) {
            pages.show_as(|units| desk.shown(units))?;
        }
        heed.wait(Some(EVERY));
    }
    Ok(())
}

fn obeyed(desk: &mut dyn Desk, seen: Option<u64>, act: Act) -> Result<String, String> {
    match act {
        Act::Say(_) if seen.is_some_and(|seen| seen != desk.number()) => {
            Err("let go: it was meant for what stood here before".to_owned())
        }
        Act::Say(word) => {
            desk.say(word);
            Ok(aside::spelled(word))
        }
        Act::Taped(taped) => desk.taped(&taped).map(|()| format!("taped {}", taped.name)),
        Act::Proof(_) => Err("not kept: no proof is at work".to_owned()),
        Act::Note(_) | Act::Frame(_) | Act::Photo(_) => Err(
            "not kept: notes, photos and the frame go with `watch` and `trim`, which have a head"
                .to_owned(),
        ),
    }
}

fn tell(says: &[String]) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    says.iter()
        .try_for_each(|line| writeln!(out, "{}", skimgauge_system::terminal::shown_lines(line)))
        .and_then(|()| out.flush())
        .context("Nobody reads the output any more.")
}
