//! What is printed where there is no screen.

use super::{AtWork, Mode, TICK};
use crate::console::{json, plain};
use crate::report;
use skimgauge_procedure::{News, Procedure, View};
use skimgauge_system::terminal::{shown_json, shown_lines};
use std::io::{ErrorKind, Write};
use std::time::Duration;

/// The last line of the live state.
#[derive(Debug, Default)]
pub(super) struct Printed {
    at: Option<Duration>,
    /// It showed a good gap.
    good: bool,
}

impl<P: Procedure> AtWork<'_, P> {
    /// Prints the live state if a line is due: by time, or because the gap is not good any more.
    pub(super) fn show(&mut self, now: Duration) -> anyhow::Result<()> {
        let away = self.person.as_ref().is_some_and(|person| person.is_away());
        if self.mode == Mode::Screen || (away && self.mode == Mode::Plain) {
            return Ok(());
        }
        let every = if self.mode == Mode::Plain { self.plain_every } else { TICK };
        let due = self.printed.at.is_none_or(|before| now.saturating_sub(before) >= every);
        if !due && !self.printed.good {
            return Ok(());
        }
        let view = self.procedure.view(now);
        let good = view.live.gap.good().is_some();
        if !due && good {
            return Ok(());
        }
        self.printed = Printed { at: Some(now), good };
        match self.mode {
            Mode::Json => print(&json::line(&view).to_string(), Mode::Json),
            _ => print(&plain::line(&view, self.style), Mode::Plain),
        }
    }

    /// A number that is not good any more does not stand until the next line is due.
    pub(super) fn take_back(&mut self, now: Duration) -> anyhow::Result<()> {
        if self.printed.good && self.source.is_live() { self.show(now) } else { Ok(()) }
    }

    /// Something that happened; what is said to the user waits until the line that shows how things
    /// stand has been printed.
    pub(super) fn tell(&mut self, now: Duration, news: News) -> anyhow::Result<()> {
        match news {
            News::Message(_) | News::Step(_) | News::Constants(_) => {
                self.messages.push(news);
                Ok(())
            }
            news => self.tell_now(now, &news),
        }
    }

    /// What was said to the user since the last call.
    pub(super) fn tell_messages(&mut self) -> anyhow::Result<()> {
        let now = self.source.now();
        std::mem::take(&mut self.messages).iter().try_for_each(|news| self.tell_now(now, news))
    }

    /// While it ends, what cannot be told is said at the end: what was taken is kept whether anybody
    /// hears of it or not.
    fn tell_now(&mut self, now: Duration, news: &News) -> anyhow::Result<()> {
        let told = match self.mode {
            Mode::Screen => Ok(()),
            Mode::Json => print(&json::news(now.as_secs_f64(), news).to_string(), Mode::Json),
            Mode::Plain => {
                plain::news(news, self.style).map_or(Ok(()), |line| print(&line, Mode::Plain))
            }
        };
        match told {
            Err(why) if self.ending => self.untold = self.untold.take().or(Some(why)),
            told => return told,
        }
        Ok(())
    }

    /// What somebody beside the user did.
    pub(super) fn tell_beside(&self, what: &str) -> anyhow::Result<()> {
        if self.mode == Mode::Plain { print(&format!("  - {what}"), Mode::Plain) } else { Ok(()) }
    }

    /// Whether everything could be told.
    pub(super) fn told(&mut self) -> anyhow::Result<()> {
        self.tell_messages()?;
        self.untold.take().map_or(Ok(()), Err)
    }

    pub(super) fn last_line(&self, view: &View) -> anyhow::Result<()> {
        match self.mode {
            Mode::Json if view.whole.is_some() => print(&json::end(view).to_string(), Mode::Json),
            _ => Ok(()),
        }
    }
}

fn print(line: &str, mode: Mode) -> anyhow::Result<()> {
    // What comes of one piece of news may be several lines: whoever wrote it made each of them safe.
    let line = match mode {
        Mode::Json => shown_json(line),
        Mode::Screen | Mode::Plain => report::line(&shown_lines(line)).into(),
    };
    let mut out = std::io::stdout().lock();
    writeln!(out, "{line}").and_then(|()| out.flush()).map_err(|why| {
        let says = match why.kind() {
            ErrorKind::BrokenPipe => "Nobody reads the output any more.",
            ErrorKind::StorageFull => "No room is left where the output goes.",
            _ => "The output cannot be written.",
        };
        anyhow::Error::new(why).context(says)
    })
}
