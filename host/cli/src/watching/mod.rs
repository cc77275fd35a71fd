//! The shell of a watch: events in, effects carried out, screen or lines out.

mod record;
pub mod source;
mod typed;

pub use source::{Replay, Source};

use crate::console::screen;
use crate::storing::{Entry, Saver, Store};
use crate::watch::keys::{Keys, Meant};
use crate::watch::{Effect, Link, Said, Watch, Ways, line};
use anyhow::Context;
use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::event::{self as terminal, Event as Key};
use skimgauge_system::signals::Heed;
use skimgauge_system::terminal::{Screen, shown, shown_json};
use std::io::{IsTerminal, Write};
use std::sync::mpsc::Receiver;
use std::time::Duration;

const TICK: Duration = Duration::from_millis(100);
/// A screen drawn so often looks alive.
const WAIT: Duration = Duration::from_millis(30);
/// However much comes in, the screen and the keys have their turn after so long.
const HEAR_FOR: Duration = Duration::from_millis(50);
/// After a signal a take that is being saved has so long: a record that another program holds is
/// waited for less.
const SAVED_WITHIN: Duration = Duration::from_secs(15);
/// A recording that says nothing any more is not waited for.
const REPLAYED_WITHIN: Duration = Duration::from_secs(2);

/// How a watch is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// The whole terminal.
    Screen,
    /// A line a second.
    Plain,
    /// A JSON object a line.
    Json,
}

impl Mode {
    /// As the flags say; the screen only where there is one.
    pub fn of(plain: bool, json: bool) -> Self {
        if json {
            Self::Json
        } else if plain || !std::io::stdout().is_terminal() {
            Self::Plain
        } else {
            Self::Screen
        }
    }
}

/// Somebody beside the user who does things: the demonstration's installer, the trim's guide.
pub trait Hands {
    /// What they say now. Called ten times a second; whatever is to be kept goes to `entries`.
    ///
    /// # Errors
    /// What ends the watch.
    fn act(
        &mut self,
        now: Duration,
        watch: &mut Watch,
        entries: &mut Vec<Entry>,
    ) -> anyhow::Result<Vec<Said>>;

    /// Draws over or beside the screen; a line for the foot.
    fn says(&self) -> Option<String> {
        None
    }

    /// A key that the watch does not know.
    fn key(&mut self, _: char) {}

    /// A typed line, where there is no screen; `false` where it is none of theirs.
    fn word(&mut self, _: &str) -> bool {
        false
    }

    /// Draws the whole screen in the watch's stead; `false` where it does not.
    fn draw(&self, _: &mut ratatui::Frame<'_>, _: &Watch, _: Duration) -> bool {
        false
    }
}

/// A watch at work.
pub struct Watching<'a> {
    /// Where readings come from.
    pub source: Source,
    /// What is known.
    pub watch: Watch,
    /// Where takes are kept; `None` keeps nothing.
    pub store: Option<Box<dyn Store>>,
    /// How it is shown.
    pub mode: Mode,
    /// Somebody beside the user.
    pub hands: Option<&'a mut dyn Hands>,
    /// Between two lines of `Plain`.
    pub plain_every: Duration,
    /// End once every place has a take.
    pub until_taken: bool,
}

impl Watching<'_> {
    /// Until the user has enough, or the recording ends; everything that is on its way into the
    /// record is waited for. The watch as it then is.
    ///
    /// # Errors
    /// What ended it otherwise, or what could not be kept; the screen is given back first.
    pub fn run(self) -> anyhow::Result<Watch> {
        let Self { source, mut watch, store, mode, hands, plain_every, until_taken } = self;
        let heed = Heed::new(if source.is_live() { SAVED_WITHIN } else { REPLAYED_WITHIN });
        watch.ways = if mode == Mode::Screen { Ways::Keys } else { Ways::Words };
        watch.asks_who = source.is_live();
        let saver = store
            .map(Saver::new)
            .transpose()
            .context("This computer gives no thread to write the record in.")?;
        let mut shell = Shell {
            source,
            watch,
            saver,
            mode,
            hands,
            plain_every,
            until_taken,
            keys: Keys::default(),
            printed: Printed::default(),
            ending: false,
        };
        let ended = if mode == Mode::Screen {
            let cannot = "This terminal cannot show the screen. Try --plain.";
            let _given_back = Screen::enter().context(cannot)?;
            let mut screen =
                ratatui::Terminal::new(CrosstermBackend::new(std::io::stdout())).context(cannot)?;
            let ended = shell.turn_round(Some(&mut screen), &heed);
            (ended, shell.store_the_rest(Some(&mut screen)))
        } else {
            let ended = shell.turn_round(None, &heed);
            (ended, shell.store_the_rest(None))
        };
        let (ended, stored) = ended;
        let told = shell.say_messages().and(ended);
        // A terminal that hung up cannot be told anything; what was taken is in the record and
        // judged all the same.
        let must_tell = heed.ended().is_none();
        if must_tell {
            told?;
        }
        stored?;
        let judged = shell.judge().and_then(|()| match mode {
            Mode::Json => shell.print(&line::end(&shell.watch, shell.source.now()).to_string()),
            _ => Ok(()),
        });
        if must_tell {
            judged?;
        }
        Ok(shell.watch)
    }
}

/// A watch at work, its record in a thread of its own.
struct Shell<'a> {
    source: Source,
    watch: Watch,
    saver: Option<Saver>,
    mode: Mode,
    hands: Option<&'a mut dyn Hands>,
    plain_every: Duration,
    until_taken: bool,
    keys: Keys,
    printed: Printed,
    ending: bool,
}

impl Shell<'_> {
    fn turn_round(
        &mut self,
        mut screen: Option<&mut ratatui::DefaultTerminal>,
        heed: &Heed,
    ) -> anyhow::Result<()> {
        let typed = (self.source.is_live() && self.mode != Mode::Screen).then(typed::lines);
        let mut ticked = Duration::ZERO;
        while heed.ended().is_none() {
            let effects = self.hear()?;
            let now = self.source.now();
            // Each thing said finds what the one before it did.
            if self.carry_out_all(now, effects)? || self.obey(now, typed.as_ref())? {
                return Ok(());
            }
            if screen.is_some() && self.obey_keys(now)? {
                return Ok(());
            }
            self.look_at_record(now)?;
            if now.saturating_sub(ticked) >= TICK {
                ticked = now;
                if self.tick(now)? {
                    return Ok(());
                }
            } else if self.printed.good
                && self.source.is_live()
                && self.watch.live(now).gap_mm.good().is_none()
            {
                // A number that is not good any more does not stand until the next line is due.
                self.show(now)?;
            }
            self.say_messages()?;
            if let Some(screen) = &mut screen {
                self.draw(screen, now)?;
            }
            if self.until_taken && self.watch.stations.all_taken() {
                return Ok(());
            }
        }
        Ok(())
    }

    /// Everything that has come, before anything is drawn.
    fn hear(&mut self) -> anyhow::Result<Vec<Effect>> {
        let mut effects = Vec::new();
        if let Some(told) = self.source.next(WAIT)? {
            let now = self.source.now();
            let replay = !self.source.is_live();
            effects.extend(self.watch.told(now, told));
            while !replay && effects.is_empty() && self.source.now().saturating_sub(now) < HEAR_FOR
            {
                let Some(told) = self.source.next(Duration::ZERO)? else { break };
                effects.extend(self.watch.told(now, told));
            }
        }
        Ok(effects)
    }

    /// What was typed. Whether the watch is over.
    fn obey(&mut self, now: Duration, typed: Option<&Receiver<String>>) -> anyhow::Result<bool> {
        for line in typed.iter().flat_map(|typed| typed.try_iter()) {
            if self.hands.as_mut().is_some_and(|hands| hands.word(line.trim())) {
                continue;
            }
            let said = typed::understood(&line, &self.watch);
            let why = said.as_ref().err().cloned();
            let effects = self.watch.said(now, said.unwrap_or(Said::Other));
            if let Some(why) = why {
                self.watch.say(now, true, why);
            }
            if self.carry_out_all(now, effects)? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// What was pressed. Whether the watch is over.
    fn obey_keys(&mut self, now: Duration) -> anyhow::Result<bool> {
        while terminal::poll(Duration::ZERO)? {
            let Key::Key(key) = terminal::read()? else { continue };
            let said = match self.keys.press(now, key, self.hands.is_none()) {
                None => continue,
                Some(Meant::Watch(said)) => said,
                Some(Meant::Hands(key)) => {
                    if let Some(hands) = &mut self.hands {
                        hands.key(key);
                    }
                    Said::Other
                }
            };
            let effects = self.watch.said(now, said);
            if self.carry_out_all(now, effects)? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Ten times a second. Whether the watch is over.
    fn tick(&mut self, now: Duration) -> anyhow::Result<bool> {
        let mut effects = Vec::new();
        if let Some(hands) = &mut self.hands {
            let mut entries = Vec::new();
            for said in hands.act(now, &mut self.watch, &mut entries)? {
                effects.extend(self.watch.said(now, said));
            }
            for entry in entries {
                self.put(now, entry)?;
            }
        }
        effects.extend(self.watch.tick(now));
        self.show(now)?;
        self.carry_out_all(now, effects)
    }

    fn draw(&mut self, screen: &mut ratatui::DefaultTerminal, now: Duration) -> anyhow::Result<()> {
        let says = self.hands.as_ref().and_then(|hands| hands.says());
        let says = says.map(|says| self.watch.units.sentence(&says));
        screen.draw(|frame| {
            if !self.hands.as_ref().is_some_and(|hands| hands.draw(frame, &self.watch, now)) {
                screen::watch::draw(frame, &self.watch, now, says.as_deref());
            }
            screen::steer_nothing(frame.buffer_mut());
        })?;
        Ok(())
    }

    /// Whether the watch is over.
    fn carry_out_all(&mut self, now: Duration, effects: Vec<Effect>) -> anyhow::Result<bool> {
        for effect in effects {
            if self.carry_out(now, effect)? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Whether the watch is over.
    fn carry_out(&mut self, now: Duration, effect: Effect) -> anyhow::Result<bool> {
        let head = match &self.watch.link {
            Link::Up(head) => Some(head.clone()),
            _ => None,
        };
        match (effect, head) {
            (Effect::Ask(request), _) => self.source.ask(request),
            (Effect::Quit(None), _) => return Ok(true),
            (Effect::Quit(Some(trouble)), _) => return Err(trouble.into()),
            (Effect::Keep { station: at, kept, supersedes }, Some(head)) => {
                let station =
                    self.watch.stations.rows().nth(at).map(|(station, _)| station.clone());
                if let Some(station) = station {
                    let told = self.watch.stations.told_with(
                        at,
                        &kept,
                        &self.watch.job,
                        &self.watch.board,
                    );
                    self.put(now, Entry::Take { at, station, kept, told, supersedes, head })?;
                }
            }
            (Effect::KeepTilt(tilt, came), Some(head)) => {
                self.put(now, Entry::Tilt { tilt, came, head })?;
            }
            // A take is kept of a head that is there.
            (Effect::Keep { .. } | Effect::KeepTilt(..), None) => {
                self.watch.not_kept(now, None, "the head is not connected");
            }
        }
        Ok(false)
    }

    /// Prints the live state if a line is due: by time, or because the gap is not good any more.
    fn show(&mut self, now: Duration) -> anyhow::Result<()> {
        if self.mode == Mode::Screen {
            return Ok(());
        }
        let good = self.watch.live(now).gap_mm.good().is_some();
        let every = if self.mode == Mode::Plain { self.plain_every } else { TICK };
        let due = self.printed.at.is_none_or(|before| now.saturating_sub(before) >= every);
        if !due && (good || !self.printed.good) {
            return Ok(());
        }
        self.printed = Printed { at: Some(now), good };
        match self.mode {
            Mode::Json => self.print(&line::live(&self.watch, now).to_string()),
            _ => self.print(&line::plain(&self.watch, now)),
        }
    }

    fn say_messages(&mut self) -> anyhow::Result<()> {
        let now = self.source.now();
        for message in self.watch.take_untold() {
            match self.mode {
                Mode::Screen => (),
                Mode::Json => {
                    self.print(&line::message(now, &message.text, message.bad).to_string())?;
                }
                Mode::Plain => {
                    self.print(&format!("  > {}", self.watch.units.sentence(&message.text)))?;
                }
            }
        }
        Ok(())
    }

    fn print(&self, line: &str) -> anyhow::Result<()> {
        let line = if self.mode == Mode::Json { shown_json(line) } else { shown(line) };
        let mut out = std::io::stdout().lock();
        writeln!(out, "{line}")
            .and_then(|()| out.flush())
            .context("Nobody reads the output any more.")
    }
}

/// The last line of the live state.
#[derive(Debug, Default)]
struct Printed {
    at: Option<Duration>,
    /// It showed a good gap.
    good: bool,
}
