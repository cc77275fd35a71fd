//! Where a watch's readings come from: a head, or its recording.

use crate::head::link::Link;
use crate::head::log::Log;
use anyhow::Context;
use skimgauge_session::Told;
use skimgauge_session::Trouble;
use skimgauge_session::recording::Player;
use skimgauge_session::{Event, Refused, Session};
use skimgauge_shared::message::{PROTOCOL, Request};
use skimgauge_system::terminal::shown;
use std::collections::VecDeque;
use std::io::{Read, Write};
use std::time::Duration;

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
        Ok(Self {
            player,
            session,
            told: VecDeque::new(),
            now: Duration::ZERO,
            lost: false,
            over: false,
        })
    }

    fn next(&mut self) -> anyhow::Result<Told> {
        loop {
            if let Some(told) = self.told.pop_front() {
                return Ok(told);
            }
            if self.over {
                return Ok(Told::End);
            }
            let Some((at, bytes)) =
                self.player.piece().context("The recording cannot be read on.")?
            else {
                self.over = true;
                self.told.push_back(Told::Counts(self.session.counts()));
                continue;
            };
            self.now = at;
            let told = &mut self.told;
            if bytes.is_empty() {
                self.lost = true;
                told.push_back(Told::Lost(Trouble::LostWhenRecorded));
                continue;
            }
            if std::mem::take(&mut self.lost) {
                self.session.begin_again(at);
            }
            let (mut pulsed, mut old) = (false, None);
            self.session.poll(at, bytes, &mut |event| {
                pulsed |= matches!(event, Event::Pulse(_));
                if let Event::Refused(why @ (Refused::Protocol { .. } | Refused::Schema)) = &event {
                    old = Some(why.clone());
                }
                told.push_back(Told::Head(event));
            });
            self.session.take_out();
            match old {
                Some(Refused::Protocol { theirs }) => anyhow::bail!(
                    "This recording is of a head that spoke protocol {theirs}, and this program reads protocol {PROTOCOL} \
                     only. Use the skimgauge that made it. The job's own record needs no recording, and stays readable."
                ),
                Some(_) => anyhow::bail!(
                    "This recording is of a head whose firmware does not belong to this program. Use the skimgauge that \
                     made it. The job's own record needs no recording, and stays readable."
                ),
                None => (),
            }
            if pulsed {
                told.push_back(Told::Counts(self.session.counts()));
            }
        }
    }
}

impl Source {
    /// The time on its clock.
    pub fn now(&self) -> Duration {
        match self {
            Self::Live(link) => link.now(),
            Self::Replay(replay) => replay.now,
            Self::Logged(source, _) => source.now(),
        }
    }

    /// Whether a head is there, and not its recording.
    pub fn is_live(&self) -> bool {
        match self {
            Self::Live(_) => true,
            Self::Replay(_) => false,
            Self::Logged(source, _) => source.is_live(),
        }
    }

    /// What was told next, waiting no longer than this for it.
    ///
    /// # Errors
    /// The recording cannot be read on.
    pub fn next(&mut self, wait: Duration) -> anyhow::Result<Option<Told>> {
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

    /// Sends a request; a recording answers none.
    pub fn ask(&self, request: Request) {
        match self {
            Self::Live(link) => link.ask(request),
            Self::Replay(_) => (),
            Self::Logged(source, _) => source.ask(request),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_quantity::{Style, Tell};
    use skimgauge_session::recording::Recorder;

    /// Nobody can plug in a head that was lost when this was recorded.
    #[test]
    fn a_link_that_was_lost_when_it_was_recorded_is_told_as_that_and_then_the_end() {
        let mut kept = Vec::new();
        let mut recorder = Recorder::new(&mut kept).unwrap();
        recorder.piece(Duration::from_millis(5), &[]).unwrap();
        let mut replay = Replay::new(Box::new(std::io::Cursor::new(kept))).unwrap();
        let Told::Lost(trouble) = replay.next().unwrap() else { panic!("it was lost") };
        let says = trouble.tell().text(Style::default());
        assert_eq!(says, "When this was recorded, the head was lost here.");
        assert!(matches!(replay.next().unwrap(), Told::Counts(_)));
        assert!(matches!(replay.next().unwrap(), Told::End));
    }
}
