//! The shell of a watch: events in, effects carried out, screen or lines out.

use crate::keeping::Keeping;
use crate::log::Log;
use crate::port::link::{Link, Told};
use crate::port::recording::Player;
use crate::port::session::{Event, Session};
use crate::port::trouble::Trouble;
use crate::screen;
use crate::watch::stations::Kept;
use crate::watch::{Effect, Said, Watch, line};
use anyhow::Context;
use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::event::{self as terminal, Event as Key, KeyCode, KeyEventKind, KeyModifiers};
use skimgauge_shared::message::Request;
use skimgauge_system::input;
use skimgauge_system::signals::Heed;
use skimgauge_system::terminal::{Screen, shown, shown_json};
use std::collections::VecDeque;
use std::io::{IsTerminal, Read, Write};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

const TICK: Duration = Duration::from_millis(100);
/// A screen drawn so often looks alive.
const WAIT: Duration = Duration::from_millis(30);
/// However much comes in, the screen and the keys have their turn after so long.
const HEAR_FOR: Duration = Duration::from_millis(50);

/// After a signal a take that is being saved has so long: a record that another program holds is waited for less.
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

/// Where readings come from.
pub enum Source {
    /// A head.
    Live(Link),
    /// A recording.
    Replay(Box<Replay>),
    /// Either of them, its log printed on the standard error.
    Logged(Box<Source>, Box<Log>),
}

/// A recording being heard.
pub struct Replay {
    player: Player<Box<dyn Read>>,
    session: Session,
    told: VecDeque<Told>,
    now: Duration,
    /// The link was lost: the next piece begins a conversation.
    lost: bool,
    over: bool,
}

impl Replay {
    /// Hears a recording.
    ///
    /// # Errors
    /// It is none.
    pub fn new(from: Box<dyn Read>) -> std::io::Result<Self> {
        let player = Player::new(from)?;
        let session = Session::new(None, Duration::ZERO);
        Ok(Self { player, session, told: VecDeque::new(), now: Duration::ZERO, lost: false, over: false })
    }

    fn next(&mut self) -> anyhow::Result<Told> {
        loop {
            if let Some(told) = self.told.pop_front() {
                return Ok(told);
            }
            if self.over {
                return Ok(Told::End);
            }
            let Some((at, bytes)) = self.player.piece().context("The recording cannot be read on.")? else {
                self.over = true;
                self.told.push_back(Told::Counts(self.session.counts()));
                continue;
            };
            self.now = at;
            let told = &mut self.told;
            if bytes.is_empty() {
                self.lost = true;
                told.push_back(Told::Lost(Trouble::Unplugged { port: "the recording's port".to_owned() }));
                continue;
            }
            if std::mem::take(&mut self.lost) {
                self.session.begin_again(at);
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
            Self::Logged(source, _) => source.now(),
        }
    }

    fn is_live(&self) -> bool {
        match self {
            Self::Live(_) => true,
            Self::Replay(_) => false,
            Self::Logged(source, _) => source.is_live(),
        }
    }

    fn next(&mut self, wait: Duration) -> anyhow::Result<Option<Told>> {
        match self {
            Self::Live(link) => Ok(link.next(wait)),
            Self::Replay(replay) => replay.next().map(Some),
            Self::Logged(source, log) => {
                let told = source.next(wait)?;
                if let Some(Told::Head(event)) = &told {
                    let lines = log.hear(source.now(), event);
                    let mut out = std::io::stderr().lock();
                    // Where nobody reads the log, the watch goes on.
                    lines.iter().for_each(|line| drop(writeln!(out, "{}", shown(line))));
                }
                Ok(told)
            }
        }
    }

    fn ask(&self, request: Request) {
        match self {
            Self::Live(link) => link.ask(request),
            Self::Replay(_) => (),
            Self::Logged(source, _) => source.ask(request),
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
        let heed = Heed::new(if self.source.is_live() { SAVED_WITHIN } else { REPLAYED_WITHIN });
        let ended = if self.mode == Mode::Screen {
            let cannot = "This terminal cannot show the screen. Try --plain.";
            let _given_back = Screen::enter().context(cannot)?;
            let mut screen = ratatui::Terminal::new(CrosstermBackend::new(std::io::stdout())).context(cannot)?;
            self.turn_round(Some(&mut screen), &heed)
        } else {
            self.turn_round(None, &heed)
        };
        // A terminal that hung up cannot be told anything; what was taken is judged all the same.
        let ended = if heed.ended().is_some() { Ok(()) } else { ended };
        let now = self.source.now();
        let said = self.say_messages(now).and_then(|()| match &ended {
            Ok(()) if self.mode == Mode::Json => self.print(&line::end(&self.watch, now).to_string()),
            _ => Ok(()),
        });
        if heed.ended().is_none() {
            said?;
        }
        ended?;
        if let Some(keeping) = &mut self.keeping
            && self.watch.stations.taken() > 0
        {
            keeping.judged(self.watch.whole())?;
        }
        Ok((self.watch, self.keeping))
    }

    fn turn_round(&mut self, mut screen: Option<&mut ratatui::DefaultTerminal>, heed: &Heed) -> anyhow::Result<()> {
        let typed = (self.source.is_live() && self.mode != Mode::Screen).then(typed_lines);
        let mut ticked = Duration::ZERO;
        let mut printed = Printed::default();
        while heed.ended().is_none() {
            let mut effects = Vec::new();
            if let Some(told) = self.source.next(WAIT)? {
                let now = self.source.now();
                let replay = !self.source.is_live();
                effects.extend(self.watch.told(now, told));
                // Everything that has come, before anything is drawn.
                while !replay && effects.is_empty() && self.source.now().saturating_sub(now) < HEAR_FOR {
                    let Some(told) = self.source.next(Duration::ZERO)? else { break };
                    effects.extend(self.watch.told(now, told));
                }
            }
            let now = self.source.now();
            // Each thing said finds what the one before it did.
            if self.carry_out_all(now, effects)? {
                return Ok(());
            }
            for line in typed.iter().flat_map(|typed| typed.try_iter()) {
                if self.hands.as_mut().is_some_and(|hands| hands.word(line.trim())) {
                    continue;
                }
                match understood(&line, &self.watch) {
                    Ok(said) => {
                        let effects = self.watch.said(now, said);
                        if self.carry_out_all(now, effects)? {
                            return Ok(());
                        }
                    }
                    Err(why) => self.watch.say(now, true, why),
                }
            }
            if screen.is_some() {
                while terminal::poll(Duration::ZERO)? {
                    if let Some(said) = self.key(terminal::read()?) {
                        let effects = self.watch.said(now, said);
                        if self.carry_out_all(now, effects)? {
                            return Ok(());
                        }
                    }
                }
            }
            if now.saturating_sub(ticked) >= TICK {
                ticked = now;
                let mut effects = Vec::new();
                if let Some(hands) = &mut self.hands {
                    for said in hands.act(now, &mut self.watch, self.keeping.as_mut())? {
                        effects.extend(self.watch.said(now, said));
                    }
                }
                effects.extend(self.watch.tick(now));
                self.show(now, &mut printed)?;
                if self.carry_out_all(now, effects)? {
                    return Ok(());
                }
            } else if printed.good && self.source.is_live() && self.watch.live(now).gap_mm.good().is_none() {
                // A number that is not good any more does not stand until the next line is due.
                self.show(now, &mut printed)?;
            }
            self.say_messages(now)?;
            if let Some(screen) = &mut screen {
                let says = self.hands.as_ref().and_then(|hands| hands.says());
                let says = says.map(|says| self.watch.units.sentence(&says));
                screen.draw(|frame| {
                    if !self.hands.as_ref().is_some_and(|hands| hands.draw(frame, &self.watch, now)) {
                        screen::watch::draw(frame, &self.watch, now, says.as_deref());
                    }
                    screen::steer_nothing(frame.buffer_mut());
                })?;
            }
            if self.until_taken && self.watch.stations.all_taken() {
                return Ok(());
            }
        }
        Ok(())
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
            KeyCode::Char('m') => Some(Said::More),
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
        match effect {
            Effect::Ask(request) => self.source.ask(request),
            Effect::Quit(None) => return Ok(true),
            Effect::Quit(Some(trouble)) => return Err(trouble.into()),
            Effect::Keep { station, kept, supersedes } => {
                let (Some(at), Some(take)) =
                    (self.watch.stations.rows().nth(station).map(|(at, _)| at.clone()), kept.seats.last())
                else {
                    return Ok(false);
                };
                let event = self.head_kept().and_then(|()| match &mut self.keeping {
                    Some(keeping) => keeping.take(&at, take, kept.verdict, supersedes).map(Some).map_err(Into::into),
                    None => Ok(None),
                });
                match event {
                    Ok(event) => {
                        self.watch.kept(now, station, Kept { event, ..*kept });
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
                    Some(keeping) => keeping.tilt(tilt).map(Some).map_err(Into::into),
                    None => Ok(None),
                });
                match kept {
                    Ok(event) => {
                        self.watch.kept_tilt(now, tilt);
                        if self.mode == Mode::Json {
                            self.print(&line::tilt(&self.watch, now, tilt, event).to_string())?;
                        }
                    }
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

    /// Prints the live state if a line is due: by time, or because the gap is not good any more.
    fn show(&self, now: Duration, printed: &mut Printed) -> anyhow::Result<()> {
        if self.mode == Mode::Screen {
            return Ok(());
        }
        let good = self.watch.live(now).gap_mm.good().is_some();
        let every = if self.mode == Mode::Plain { self.plain_every } else { TICK };
        let due = printed.at.is_none_or(|before| now.saturating_sub(before) >= every);
        if !due && (good || !printed.good) {
            return Ok(());
        }
        *printed = Printed { at: Some(now), good };
        match self.mode {
            Mode::Json => self.print(&line::live(&self.watch, now).to_string()),
            _ => self.print(&line::plain(&self.watch, now)),
        }
    }

    fn say_messages(&mut self, now: Duration) -> anyhow::Result<()> {
        for message in self.watch.take_untold() {
            match self.mode {
                Mode::Screen => (),
                Mode::Json => self.print(&line::message(now, &message.text, message.bad).to_string())?,
                Mode::Plain => self.print(&format!("  > {}", self.watch.units.sentence(&message.text)))?,
            }
        }
        Ok(())
    }

    fn print(&self, line: &str) -> anyhow::Result<()> {
        let line = if self.mode == Mode::Json { shown_json(line) } else { shown(line) };
        let mut out = std::io::stdout().lock();
        writeln!(out, "{line}").and_then(|()| out.flush()).context("Nobody reads the output any more.")
    }
}

/// The last line of the live state.
#[derive(Debug, Default)]
struct Printed {
    at: Option<Duration>,
    /// It showed a good gap.
    good: bool,
}

/// Lines typed while there is no screen.
fn typed_lines() -> Receiver<String> {
    let (tell, typed) = channel();
    std::thread::spawn(move || {
        for line in input::lines(std::io::stdin().lock()) {
            if tell.send(line).is_err() {
                return;
            }
        }
    });
    typed
}

/// A typed line: `take`, `redo`, `more`, `next`, `back`, `station` with a number or a name, `emitter`, `quit`.
///
/// # Errors
/// It is none of these, or there is no such place: in a sentence.
fn understood(line: &str, watch: &Watch) -> Result<Said, String> {
    let line = line.trim();
    Ok(match line {
        "take" => Said::Take,
        "redo" => Said::Redo,
        "more" => Said::More,
        "next" => Said::Next,
        "back" => Said::Back,
        "quit" => Said::Quit,
        "emitter" => match watch.stations.named(line) {
            Some(place) => Said::Go(place),
            None => {
                return Err(
                    "This job asks for no tilt of the emitter: its file has no band for level or lean.".to_owned()
                );
            }
        },
        _ => {
            let Some(name) = line.strip_prefix("station ") else {
                return Err(format!(
                    "\"{line}\" is not known here. Type take, redo, more, next, back, station N, emitter or quit."
                ));
            };
            match watch.stations.named(name) {
                Some(place) => Said::Go(place),
                None => {
                    return Err(format!(
                        "There is no station \"{}\". They are numbered 1 to {}.",
                        name.trim(),
                        watch.stations.rows().len()
                    ));
                }
            }
        }
    })
}
