//! The proof's page at work: what the page tells goes to the machine, how it stands to the page and
//! to phones; lines typed at the terminal are words as well.

use super::links;
use crate::lengths::Lengths;
use anyhow::Context;
use skimgauge_page::{Act, Heard, Page, Settings};
use skimgauge_procedure::proof::{Begin, Input, Made, Output, Proving};
use skimgauge_procedure::{Said, Speaker, Word};
use skimgauge_quantity::Sentence;
use skimgauge_system::signals::Heed;
use std::net::IpAddr;
use std::sync::mpsc::{Receiver, TryRecvError};
use std::time::{Duration, Instant};

const TICK: Duration = Duration::from_millis(100);
/// Between two looks at what came.
const WAIT: Duration = Duration::from_millis(5);
/// Whoever looks on has so long to see the verdict.
const SEEN_WITHIN: Duration = Duration::from_secs(3);
/// After a signal, so long to keep what was made.
const KEPT_WITHIN: Duration = Duration::from_secs(15);

/// Where the page is served.
#[derive(Debug, Clone, Copy)]
pub struct Served {
    /// In the local network, too.
    pub lan: bool,
    /// At this address of it.
    pub at: Option<IpAddr>,
    /// The port; 0: any.
    pub port: u16,
}

/// Serves the page until all is done, or somebody had enough. What was made is given to `keep` at
/// once.
///
/// `None` where the page was not opened.
///
/// # Errors
/// The page cannot be served, or what `keep` meets.
pub fn run(
    begin: Begin,
    served: Served,
    units: Lengths,
    quiet: bool,
    keep: impl FnOnce(&Made) -> anyhow::Result<()>,
) -> anyhow::Result<Option<Made>> {
    let lan = match (served.lan, served.at) {
        (false, _) => None,
        (true, Some(address)) => Some(address),
        (true, None) => Some(skimgauge_page::lan_address()?),
    };
    let page = Page::open(Settings { port: served.port, lan, ..Settings::default() })?;
    links::say_proof(&page, quiet).context("The page's addresses cannot be shown.")?;
    let heed = Heed::new(KEPT_WITHIN);
    let mut work = Work {
        proving: Proving::new(begin),
        page,
        began: Instant::now(),
        units,
        quiet,
        made: None,
        nothing: false,
    };
    let typed = crate::shell::typed_lines();
    work.turn_round(&typed, &heed)?;
    let Some(made) = work.made.take() else { return Ok(None) };
    keep(&made)?;
    // The page shows the verdict before it is gone.
    let until = work.began.elapsed() + SEEN_WITHIN;
    while work.began.elapsed() < until && heed.ended().is_none() && work.page.is_watched() {
        work.show()?;
        std::thread::sleep(TICK);
    }
    Ok(Some(made))
}

struct Work {
    proving: Proving,
    page: Page,
    began: Instant,
    units: Lengths,
    quiet: bool,
    made: Option<Made>,
    nothing: bool,
}

impl Work {
    fn turn_round(&mut self, typed: &Receiver<String>, heed: &Heed) -> anyhow::Result<()> {
        let mut ticked = Duration::ZERO;
        let mut said = String::new();
        while self.made.is_none() && !self.nothing {
            if heed.ended().is_some() {
                self.on(Input::Said(Said::by(Speaker::Typed, Word::Quit)))?;
                return Ok(());
            }
            while let Some(heard) = self.page.heard() {
                self.heard(heard)?;
            }
            match typed.try_recv() {
                Ok(line) => self.typed(&line)?,
                Err(TryRecvError::Empty | TryRecvError::Disconnected) => (),
            }
            let now = self.began.elapsed();
            if now.saturating_sub(ticked) >= TICK {
                ticked = now;
                self.on(Input::Tick)?;
                self.show()?;
                let instruction = self.proving.view(now).instruction;
                let says = self.text(instruction);
                if says != said {
                    self.tell(&says)?;
                    said = says;
                }
            }
            std::thread::sleep(WAIT);
        }
        Ok(())
    }

    fn text(&self, sentence: Sentence) -> String {
        sentence.capital().ended().text(self.units.style())
    }

    fn tell(&self, says: &str) -> anyhow::Result<()> {
        if !self.quiet {
            println!("{says}");
        }
        Ok(())
    }

    fn show(&self) -> anyhow::Result<()> {
        if self.page.is_watched() {
            let state = skimgauge_page::proof(&self.proving.view(self.began.elapsed()));
            self.page.show(state.context("The page cannot show this.")?);
        }
        Ok(())
    }

    fn on(&mut self, input: Input) -> anyhow::Result<()> {
        for output in self.proving.on(self.began.elapsed(), input) {
            match output {
                Output::Tell(says) => {
                    let says = self.text(says);
                    self.tell(&says)?;
                }
                Output::Over(made) => self.made = Some(*made),
                Output::Nothing(why) => {
                    self.nothing = true;
                    eprintln!("{}", self.text(why));
                }
            }
        }
        Ok(())
    }

    fn heard(&mut self, heard: Heard) -> anyhow::Result<()> {
        match heard {
            Heard::Came(who) => self.tell(&format!("{who} is there")),
            Heard::Left(who) => self.tell(&format!("{who} is gone")),
            Heard::Act { act: Act::Proof(told), .. } => self.on(Input::Told(told)),
            Heard::Act { act: Act::Say(word), seen, .. } => {
                self.on(Input::Said(Said { word, by: Speaker::Phone, seen }))
            }
            Heard::Act { by, .. } => self.tell(&format!(
                "{by} sent a note, a photo or lengths: during the proof nothing is kept of that"
            )),
        }
    }

    fn typed(&mut self, line: &str) -> anyhow::Result<()> {
        let word = match line.trim() {
            "missed" | "n" => Word::Missed,
            "undo" | "u" => Word::Redo,
            "skip" | "o" => Word::Skip,
            "pause" | "p" => Word::Pause,
            "" | "ready" => Word::Ready,
            "quit" | "q" => Word::Quit,
            _ => {
                return self.tell(
                    "Type missed (it did not react), undo, skip (out of reach), pause, ready, or quit.",
                );
            }
        };
        self.on(Input::Said(Said::by(Speaker::Typed, word)))
    }
}
