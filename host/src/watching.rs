//! The shell of a watch: events in, effects carried out, screen or lines out.

use crate::keeping::Keeping;
use crate::port::link::{Link, Told};
use crate::port::recording::Player;
use crate::port::session::{Event, Session};
use crate::screen;
use crate::watch::stations::Place;
use crate::watch::{Effect, Said, Watch, line};
use anyhow::Context;
use ratatui::crossterm::event::{self as terminal, Event as Key, KeyCode, KeyEventKind, KeyModifiers};
use skimgauge_shared::message::Request;
use std::collections::VecDeque;
use std::io::{BufRead, IsTerminal, Read, Write};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

const TICK: Duration = Duration::from_millis(100);
/// A screen drawn so often looks alive.
const WAIT: Duration = Duration::from_millis(30);

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

/// Where readings come from.
pub enum Source {
    /// A head.
    Live(Link),
    /// A recording.
    Replay(Box<Replay>),
}

/// A recording being heard.
pub struct Replay {
    player: Player<Box<dyn Read>>,
    session: Session,
    told: VecDeque<Told>,
    now: Duration,
}

impl Replay {
    /// Hears a recording.
    ///
    /// # Errors
    /// It is none.
    pub fn new(from: Box<dyn Read>) -> std::io::Result<Self> {
        let player = Player::new(from)?;
        let session = Session::new(None, Duration::ZERO);
        Ok(Self { player, session, told: VecDeque::new(), now: Duration::ZERO })
    }

    fn next(&mut self) -> anyhow::Result<Told> {
        loop {
            if let Some(told) = self.told.pop_front() {
                return Ok(told);
            }
            let Some((at, bytes)) = self.player.piece().context("The recording cannot be read on.")? else {
                return Ok(Told::End);
            };
            self.now = at;
            let told = &mut self.told;
            if bytes.is_empty() {
                let gone = crate::port::trouble::Trouble::Gone { port: "in the recording".to_owned() };
                told.push_back(Told::Lost(gone));
                self.session.begin_again(at);
                continue;
            }
            let mut pulsed = false;
            self.session.poll(at, bytes, &mut |event| {
                pulsed |= matches!(event, Event::Pulse(_));
                told.push_back(Told::Head(event));
            });
            self.session.take_out();
            if pulsed {
                told.push_back(Told::Counts(self.session.counts()));
            }
        }
    }
}

impl Source {
    fn now(&self) -> Duration {
        match self {
            Self::Live(link) => link.now(),
            Self::Replay(replay) => replay.now,
        }
    }

    fn next(&mut self, wait: Duration) -> anyhow::Result<Option<Told>> {
        match self {
            Self::Live(link) => Ok(link.next(wait)),
            Self::Replay(replay) => replay.next().map(Some),
        }
    }

    fn ask(&self, request: Request) {
        if let Self::Live(link) = self {
            link.ask(request);
        }
    }
}

/// Somebody beside the user who does things: the demonstration's installer, the trim's guide.
pub trait Hands {
    /// What they say now. Called ten times a second; whatever is to be kept goes to the record.
    ///
    /// # Errors
    /// What ends the watch.
    fn act(&mut self, now: Duration, watch: &mut Watch, keeping: Option<&mut Keeping>) -> anyhow::Result<Vec<Said>>;

    /// Draws over or beside the screen; a line for the foot.
    fn says(&self) -> Option<String> {
        None
    }

    /// A key that the watch does not know.
    fn key(&mut self, _: char) {}
}

/// A watch at work.
pub struct Watching<'a> {
    /// Where readings come from.
    pub source: Source,
    /// What is known.
    pub watch: Watch,
    /// The record; `None` keeps nothing.
    pub keeping: Option<Keeping>,
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
    /// Until the user has enough, or the recording ends. The watch as it then is.
    ///
    /// # Errors
    /// What ended it otherwise; the screen is given back first.
    pub fn run(mut self) -> anyhow::Result<(Watch, Option<Keeping>)> {
        let ended = if self.mode == Mode::Screen {
            let mut screen = ratatui::try_init().context("This terminal cannot show the screen. Try --plain.")?;
            let ended = self.turn_round(Some(&mut screen));
            ratatui::restore();
            ended
        } else {
            self.turn_round(None)
        };
        let now = self.source.now();
        if ended.is_ok() && self.mode == Mode::Json {
            self.print(&line::end(&self.watch, now).to_string())?;
        }
        ended?;
        if let Some(keeping) = &mut self.keeping
            && self.watch.stations.taken() > 0
        {
            keeping.judged(self.watch.whole())?;
        }
        Ok((self.watch, self.keeping))
    }

    fn turn_round(&mut self, mut screen: Option<&mut ratatui::DefaultTerminal>) -> anyhow::Result<()> {
        let typed = matches!((&self.source, self.mode), (Source::Live(_), Mode::Plain | Mode::Json)).then(typed_lines);
        let mut ticked = Duration::ZERO;
        let mut printed: Option<Duration> = None;
        let mut message_said = None;
        loop {
            let mut effects = Vec::new();
            if let Some(told) = self.source.next(WAIT)? {
                let now = self.source.now();
                let replay = matches!(self.source, Source::Replay(_));
                effects.extend(self.watch.told(now, told));
                // Everything that has come, before anything is drawn.
                while !replay && effects.is_empty() {
                    let Some(told) = self.source.next(Duration::ZERO)? else { break };
                    effects.extend(self.watch.told(now, told));
                }
            }
            let now = self.source.now();
            for said in typed.iter().flat_map(|typed| typed.try_iter()) {
                effects.extend(self.watch.said(now, said));
            }
            if screen.is_some() {
                while terminal::poll(Duration::ZERO)? {
                    if let Some(said) = self.key(terminal::read()?) {
                        effects.extend(self.watch.said(now, said));
                    }
                }
            }
            if now.saturating_sub(ticked) >= TICK {
                ticked = now;
                if let Some(hands) = &mut self.hands {
                    for said in hands.act(now, &mut self.watch, self.keeping.as_mut())? {
                        effects.extend(self.watch.said(now, said));
                    }
                }
                effects.extend(self.watch.tick(now));
                self.show_tick(now, &mut printed)?;
            }
            for effect in effects {
                if self.carry_out(now, effect)? {
                    return Ok(());
                }
            }
            self.say_messages(now, &mut message_said)?;
            if let Some(screen) = &mut screen {
                let says = self.hands.as_ref().and_then(|hands| hands.says());
                screen.draw(|frame| screen::watch::draw(frame, &self.watch, now, says.as_deref()))?;
            }
            if self.until_taken && self.watch.stations.all_taken() {
                return Ok(());
            }
        }
    }

    fn key(&mut self, key: Key) -> Option<Said> {
        let Key::Key(key) = key else { return None };
        if key.kind == KeyEventKind::Release {
            return None;
        }
        match key.code {
            KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => Some(Said::Quit),
            KeyCode::Char('q') | KeyCode::Esc => Some(Said::Quit),
            KeyCode::Char(' ') | KeyCode::Enter => Some(Said::Take),
            KeyCode::Char('r') => Some(Said::Redo),
            KeyCode::Char('s') => Some(Said::Sound),
            KeyCode::Char('e') => Some(Said::Go(self.watch.stations.rows().len())),
            KeyCode::Down | KeyCode::Right | KeyCode::Tab => Some(Said::Next),
            KeyCode::Up | KeyCode::Left | KeyCode::BackTab => Some(Said::Back),
            KeyCode::Char(digit @ '1'..='9') if self.hands.is_none() => Some(Said::Go(digit as usize - '1' as usize)),
            KeyCode::Char(other) => {
                if let Some(hands) = &mut self.hands {
                    hands.key(other);
                }
                None
            }
            _ => None,
        }
    }

    /// Whether the watch is over.
    fn carry_out(&mut self, now: Duration, effect: Effect) -> anyhow::Result<bool> {
        match effect {
            Effect::Ask(request) => self.source.ask(request),
            Effect::Quit(None) => return Ok(true),
            Effect::Quit(Some(trouble)) => return Err(trouble.into()),
            Effect::Keep { station, take, supersedes } => {
                let Some(at) = self.watch.stations.rows().nth(station).map(|(at, _)| at.clone()) else { return Ok(false) };
                let kept = self.head_kept().and_then(|()| match &mut self.keeping {
                    Some(keeping) => keeping.take(&at, &take, supersedes).map(Some).map_err(Into::into),
                    None => Ok(None),
                });
                match kept {
                    Ok(event) => {
                        self.watch.kept(now, station, *take, event);
                        if self.mode == Mode::Json
                            && let Some((_, Some(kept))) = self.watch.stations.rows().nth(station)
                        {
                            self.print(&line::take(&self.watch, now, &at.name, kept).to_string())?;
                        }
                    }
                    Err(why) => self.watch.not_kept(now, &format!("{why:#}")),
                }
            }
            Effect::KeepTilt(tilt) => {
                let kept = self.head_kept().and_then(|()| match &mut self.keeping {
                    Some(keeping) => keeping.tilt(tilt).map(|_| ()).map_err(Into::into),
                    None => Ok(()),
                });
                match kept {
                    Ok(()) => self.watch.kept_tilt(now, tilt),
                    Err(why) => self.watch.not_kept(now, &format!("{why:#}")),
                }
            }
        }
        Ok(false)
    }

    fn head_kept(&mut self) -> anyhow::Result<()> {
        if let (Some(keeping), crate::watch::Link::Up(head)) = (&mut self.keeping, &self.watch.link) {
            keeping.head_is(head)?;
        }
        Ok(())
    }

    fn show_tick(&self, now: Duration, printed: &mut Option<Duration>) -> anyhow::Result<()> {
        match self.mode {
            Mode::Screen => Ok(()),
            Mode::Json => self.print(&line::live(&self.watch, now).to_string()),
            Mode::Plain => {
                if printed.is_some_and(|before| now.saturating_sub(before) < self.plain_every) {
                    return Ok(());
                }
                *printed = Some(now);
                self.print(&line::plain(&self.watch, now))
            }
        }
    }

    fn say_messages(&self, now: Duration, said: &mut Option<String>) -> anyhow::Result<()> {
        let text = self.watch.message.as_ref().map(|message| &message.text);
        if text == said.as_ref() || self.mode == Mode::Screen {
            return Ok(());
        }
        *said = text.cloned();
        let Some(message) = &self.watch.message else { return Ok(()) };
        match self.mode {
            Mode::Json => self.print(&line::message(now, &message.text, message.bad).to_string()),
            _ => self.print(&format!("  > {}", message.text)),
        }
    }

    fn print(&self, line: &str) -> anyhow::Result<()> {
        let mut out = std::io::stdout().lock();
        writeln!(out, "{line}").and_then(|()| out.flush()).context("Nobody reads the output any more.")
    }
}

/// Lines typed while there is no screen: `take`, `redo`, `next`, `back`, `station N`, `emitter`, `quit`.
fn typed_lines() -> Receiver<Said> {
    let (tell, typed) = channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines().map_while(Result::ok) {
            let mut words = line.split_whitespace();
            let said = match (words.next(), words.next()) {
                (Some("take"), None) => Said::Take,
                (Some("redo"), None) => Said::Redo,
                (Some("next"), None) => Said::Next,
                (Some("back"), None) => Said::Back,
                (Some("quit"), None) => Said::Quit,
                (Some("emitter"), None) => Said::Go(usize::MAX),
                (Some("station"), Some(number)) => match number.parse::<usize>() {
                    Ok(number @ 1..) => Said::Go(number - 1),
                    _ => continue,
                },
                _ => continue,
            };
            if tell.send(said).is_err() {
                return;
            }
        }
    });
    typed
}

/// What the user is at, for messages.
pub fn place_name(watch: &Watch) -> &str {
    match watch.stations.place() {
        Place::Station(_) => watch.stations.station().map_or("", |station| &station.name),
        Place::Emitter => "emitter",
    }
}
