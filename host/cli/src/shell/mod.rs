//! The one shell that runs any procedure: it hears head, keys, typed words and the record, carries
//! out what follows, and shows the view.

mod paged;
mod presses;
mod record;
mod source;
mod speaks;
mod tells;
mod typed;

pub use source::{Replay, Source};
pub use typed::lines as typed_lines;

use crate::console::keys::{Hidden, Meant, meant, meant_unseen};
use crate::console::screen::{self, Look};
use crate::page::Pages;
use crate::practice::Person;
use crate::storing::{Saver, Store};
use anyhow::Context;
use presses::Presses;
use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::event::{self as terminal, Event as Key, KeyEventKind};
use skimgauge_procedure::{Input, News, Output, Procedure, Said, Speaker, View, Word};
use skimgauge_quantity::{Sentence, Style};
use skimgauge_shared::message::Request;
use skimgauge_system::signals::Heed;
use skimgauge_system::terminal::Screen;
use speaks::Speaks;
use std::io::IsTerminal;
use std::sync::mpsc::{Receiver, TryRecvError};
use std::time::Duration;
use tells::Printed;

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

/// How a procedure is shown.
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

/// What a procedure is run with.
pub struct Shell<'a> {
    /// Where readings come from.
    pub source: Source,
    /// Where entries are kept; `None` keeps nothing.
    pub store: Option<Box<dyn Store>>,
    /// How it is shown.
    pub mode: Mode,
    /// In which units.
    pub style: Style,
    /// Somebody who sees the view and says words beside the user.
    pub person: Option<&'a mut dyn Person>,
    /// Who looks on in a browser.
    pub pages: Option<Pages>,
    /// Between two lines of `Plain`.
    pub plain_every: Duration,
}

/// What a run came to.
#[must_use = "what could not be kept has to be said"]
pub struct Ran<P> {
    /// The procedure as it ended.
    pub procedure: P,
    /// Its view as it then is.
    pub view: View,
    /// Whether everything is in the record. What was found is told before it is said that it is not.
    pub kept: anyhow::Result<()>,
}

impl Shell<'_> {
    /// Until the user has enough, or the recording ends; everything that is on its way into the
    /// record is waited for.
    ///
    /// # Errors
    /// What ended it otherwise; the screen is given back first.
    pub fn run<P: Procedure>(self, procedure: P) -> anyhow::Result<Ran<P>> {
        let Self { source, store, mode, style, person, pages, plain_every } = self;
        let heed = Heed::new(if source.is_live() { SAVED_WITHIN } else { REPLAYED_WITHIN });
        let saver = store
            .map(Saver::new)
            .transpose()
            .context("This computer gives no thread to write the record in.")?;
        let mut work = AtWork {
            procedure,
            source,
            saver,
            saving: None,
            mode,
            style,
            person,
            pages,
            plain_every,
            presses: Presses::default(),
            speaks: Speaks::default(),
            help: false,
            too_small: false,
            printed: Printed::default(),
            ending: false,
            unattended: false,
            messages: Vec::new(),
            untold: None,
        };
        let (ended, stored) = if mode == Mode::Screen {
            let cannot = "This terminal cannot show the screen. Try --plain.";
            let _given_back = Screen::enter().context(cannot)?;
            let mut screen =
                ratatui::Terminal::new(CrosstermBackend::new(std::io::stdout())).context(cannot)?;
            let ended = work.turn_round(Some(&mut screen), &heed);
            (ended, work.store_the_rest(Some(&mut screen)))
        } else {
            let ended = work.turn_round(None, &heed);
            (ended, work.store_the_rest(None))
        };
        // A terminal that hung up cannot be told anything; what was taken is in the record and
        // judged all the same.
        let must_tell = heed.ended().is_none();
        if must_tell {
            work.told().and(ended)?;
        }
        // What is left over is tried once more with the verdict.
        let kept = work.close().and(stored);
        let view = work.procedure.view(work.source.now());
        let last = work.told().and_then(|()| work.last_line(&view));
        if must_tell {
            last?;
        }
        Ok(Ran { procedure: work.procedure, view, kept })
    }
}

/// A procedure at work, its record in a thread of its own.
struct AtWork<'a, P> {
    procedure: P,
    source: Source,
    saver: Option<Saver>,
    /// What the procedure was told that is being saved.
    saving: Option<Sentence>,
    mode: Mode,
    style: Style,
    person: Option<&'a mut dyn Person>,
    pages: Option<Pages>,
    plain_every: Duration,
    presses: Presses,
    speaks: Speaks,
    /// The words of the screen are explained over it.
    help: bool,
    /// The window could not show the screen when it was drawn last.
    too_small: bool,
    printed: Printed,
    ending: bool,
    /// Nobody types any more.
    unattended: bool,
    /// Said to the user, and not printed yet.
    messages: Vec<News>,
    /// Why nobody could be told, while it ends.
    untold: Option<anyhow::Error>,
}

impl<P: Procedure> AtWork<'_, P> {
    /// Something comes: all that follows is carried out. Whether it is over.
    fn on(&mut self, now: Duration, input: Input) -> anyhow::Result<bool> {
        self.on_by(now, input, None)
    }

    /// The same from a page of this name.
    fn on_page(&mut self, now: Duration, input: Input, page: String) -> anyhow::Result<bool> {
        self.on_by(now, input, Some(page))
    }

    fn on_by(&mut self, now: Duration, input: Input, page: Option<String>) -> anyhow::Result<bool> {
        let before = self.speaks.hears(&input, page, || self.procedure.view(now).saving.is_some());
        let mut over = Ok(false);
        for output in self.procedure.on(now, input) {
            let done = self.carry_out(now, output);
            // What went wrong with one thing keeps no other from being done.
            over = match (over, done) {
                (Ok(before), Ok(now)) => Ok(before || now),
                (Err(first), _) => Err(first),
                (Ok(_), Err(first)) => Err(first),
            };
        }
        self.speaks.goes_back(before);
        over
    }

    /// Whether it is over.
    fn carry_out(&mut self, now: Duration, output: Output) -> anyhow::Result<bool> {
        match output {
            Output::Ask(request) => self.source.ask(request),
            Output::Cue(cue) => self.source.ask(Request::Cue(cue)),
            Output::Tell(news) => self.tell(now, news)?,
            Output::Keep(entry) => return self.put(now, entry),
            Output::End(_) if self.ending => (),
            Output::End(None) => return Ok(true),
            Output::End(Some(trouble)) => return Err(trouble.into()),
        }
        Ok(false)
    }

    fn turn_round(
        &mut self,
        mut screen: Option<&mut ratatui::DefaultTerminal>,
        heed: &Heed,
    ) -> anyhow::Result<()> {
        let typed = (self.source.is_live() && self.mode != Mode::Screen).then(typed::lines);
        let mut ticked = Duration::ZERO;
        while heed.ended().is_none() {
            // Each thing said finds what the one before it did.
            if self.hear()? {
                return Ok(());
            }
            let now = self.source.now();
            if self.obey(now, typed.as_ref())? || (screen.is_some() && self.obey_keys(now)?) {
                return Ok(());
            }
            if self.look_at_record(now)? || self.obey_pages(now)? {
                return Ok(());
            }
            if now.saturating_sub(ticked) >= TICK {
                ticked = now;
                if self.tick(now)? {
                    return Ok(());
                }
            } else {
                self.take_back(now)?;
            }
            self.tell_messages()?;
            if let Some(screen) = &mut screen {
                self.draw(screen, now)?;
            }
            self.show_pages(now)?;
        }
        Ok(())
    }

    /// Everything that has come, before anything is drawn. Whether it is over.
    fn hear(&mut self) -> anyhow::Result<bool> {
        let Some(told) = self.source.next(WAIT)? else { return Ok(false) };
        let began = self.source.now();
        let mut over = self.on(began, Input::Head(told))?;
        while !over && self.source.is_live() {
            let now = self.source.now();
            if now.saturating_sub(began) >= HEAR_FOR {
                break;
            }
            let Some(told) = self.source.next(Duration::ZERO)? else { break };
            over = self.on(now, Input::Head(told))?;
        }
        Ok(over)
    }

    /// What was typed. Whether it is over.
    fn obey(&mut self, now: Duration, typed: Option<&Receiver<String>>) -> anyhow::Result<bool> {
        let Some(typed) = typed else { return Ok(false) };
        loop {
            let line = match typed.try_recv() {
                Ok(line) => line,
                Err(TryRecvError::Empty) => return Ok(false),
                Err(TryRecvError::Disconnected) => {
                    let before = std::mem::replace(&mut self.unattended, true);
                    return if before { Ok(false) } else { self.on(now, Input::Unattended) };
                }
            };
            let view = self.procedure.view(now);
            let input = match (typed::reason(&line, &view), typed::understood(&line, &view)) {
                (Some(why), _) => Input::LeftOut(why),
                (None, Ok(word)) => Input::Said(Said::by(Speaker::Typed, word)),
                (None, Err(why)) => Input::Unread(why),
            };
            if self.on(now, input)? {
                return Ok(true);
            }
        }
    }

    /// What was pressed. Whether it is over.
    fn obey_keys(&mut self, now: Duration) -> anyhow::Result<bool> {
        while terminal::poll(Duration::ZERO)? {
            let Key::Key(key) = terminal::read()? else { continue };
            let counts = self.presses.counts(now, key);
            let meant = match self.hidden() {
                Some(hidden) => meant_unseen(key, hidden),
                None => meant(key, &self.procedure.view(now)),
            };
            // A hand that holds a key of the practice turns on and on.
            let turns_on = matches!(meant, Meant::Beside(_)) && key.kind != KeyEventKind::Release;
            if !counts && !turns_on {
                continue;
            }
            let word = match meant {
                Meant::Say(word) => word,
                Meant::Help => {
                    self.help = !self.help;
                    continue;
                }
                Meant::Nothing => continue,
                Meant::Beside(key) => {
                    // A key of the practice is no word; but to a question every other key is no.
                    let asked = self.procedure.view(now).question.is_some();
                    match &mut self.person {
                        Some(person) if !asked => {
                            person.key(key);
                            continue;
                        }
                        _ => Word::Unknown,
                    }
                }
            };
            if self.on(now, Input::Said(Said::by(Speaker::Keyboard, word)))? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Ten times a second. Whether it is over.
    fn tick(&mut self, now: Duration) -> anyhow::Result<bool> {
        if let Some(person) = &mut self.person {
            let words = person.sees(now, &self.procedure.view(now))?;
            let did = person.news();
            for what in did {
                self.tell_beside(&what)?;
            }
            for word in words {
                if self.on(now, Input::Said(Said::by(Speaker::Practice, word)))? {
                    return Ok(true);
                }
            }
        }
        let over = self.on(now, Input::Tick)?;
        self.show(now)?;
        Ok(over)
    }

    /// What keeps the user from seeing the screen.
    fn hidden(&self) -> Option<Hidden> {
        match self.too_small {
            true => Some(Hidden::TooSmall),
            false => self.help.then_some(Hidden::ByHelp),
        }
    }

    fn draw(&mut self, screen: &mut ratatui::DefaultTerminal, now: Duration) -> anyhow::Result<()> {
        let view = self.procedure.view(now);
        let beside = self.pages.as_ref().and_then(|pages| pages.says(now));
        let beside = beside.or_else(|| self.person.as_ref().and_then(|person| person.says()));
        let beside_keys = self.person.as_ref().map_or(&[][..], |person| person.keys());
        let look = Look { style: self.style, help: self.help, beside, beside_keys };
        let drawn = screen.draw(|frame| screen::draw(frame, &view, &look))?;
        self.too_small = !screen::fits(drawn.area);
        Ok(())
    }
}
