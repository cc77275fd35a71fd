//! The record's side of a watch's shell: what is stored beside the drawing, what came of it, and
//! the wait at the end.

use super::{Mode, Shell};
use crate::storing::{Done, Entry, Saver};
use crate::watch::stations::Kept;
use crate::watch::{Effect, line};
use std::time::Duration;

impl Shell<'_> {
    /// Into the record, beside the drawing. A recording is heard faster than it can be stored: it
    /// waits for each.
    pub(super) fn put(&mut self, now: Duration, entry: Entry) -> anyhow::Result<()> {
        let Some(saver) = &mut self.saver else { return self.done(now, Done::Stored(entry, None)) };
        saver.put(now, entry);
        if !self.source.is_live() {
            let done = saver.wait(now);
            return done.into_iter().try_for_each(|done| self.done(now, done));
        }
        self.watch.storing = saver.storing();
        Ok(())
    }

    pub(super) fn look_at_record(&mut self, now: Duration) -> anyhow::Result<()> {
        let Some(saver) = &mut self.saver else { return Ok(()) };
        let done = saver.look(now);
        self.watch.storing = saver.storing();
        done.into_iter().try_for_each(|done| self.done(now, done))
    }

    fn done(&mut self, now: Duration, done: Done) -> anyhow::Result<()> {
        match done {
            Done::Stored(Entry::Take { at, station, kept, .. }, stored) => {
                self.watch.kept(
                    now,
                    at,
                    Kept { event: stored.map(|stored| stored.event), ..*kept },
                );
                if self.mode == Mode::Json
                    && let Some((_, Some(kept))) = self.watch.stations.rows().nth(at)
                {
                    let place = stored.map(|stored| stored.place);
                    self.print(
                        &line::take(&self.watch, now, &station.name, kept, place).to_string(),
                    )?;
                }
            }
            Done::Stored(Entry::Tilt { tilt, came, .. }, stored) => {
                self.watch.kept_tilt(now, tilt);
                if self.mode == Mode::Json {
                    let place = stored.map(|stored| stored.place);
                    self.print(&line::tilt(&self.watch, now, tilt, &came, place).to_string())?;
                }
            }
            Done::Stored(..) => (),
            Done::NotTaken(entry, why) => {
                let came = match entry {
                    Entry::Take { kept, .. } => Some(kept.came),
                    Entry::Tilt { came, .. } => Some(came),
                    _ => None,
                };
                self.watch.not_kept(now, came, &why);
            }
            Done::Late(what, why) => {
                self.watch.say(
                    now,
                    true,
                    format!("NOT in the record yet: {what} ({why}) It is tried again and again."),
                );
            }
            // The end has been told of.
            Done::Slow(_) if self.ending => (),
            Done::Slow(what) => {
                self.watch.say(now, false, format!("saving {what}: the record takes its time"));
            }
        }
        Ok(())
    }

    /// At the end: what is on its way into the record is waited for, and it is said.
    pub(super) fn store_the_rest(
        &mut self,
        mut screen: Option<&mut ratatui::DefaultTerminal>,
    ) -> anyhow::Result<()> {
        self.ending = true;
        if let Some(what) = self.watch.busy().map(str::to_owned) {
            let now = self.source.now();
            self.watch.say(now, false, format!("Ends as soon as {what} is saved."));
        }
        // The number stays live meanwhile; nothing ends an end.
        while self.watch.waits_for_head() || self.saver.as_ref().is_some_and(Saver::is_busy) {
            let mut effects = self.hear()?;
            let now = self.source.now();
            effects.extend(self.watch.tick(now));
            effects.retain(|effect| !matches!(effect, Effect::Quit(_)));
            self.carry_out_all(now, effects)?;
            self.look_at_record(now)?;
            // Whether anybody sees it or not, what was taken is kept.
            let _ = self.say_messages();
            if let Some(screen) = &mut screen {
                let _ = self.draw(screen, now);
            }
        }
        self.wait_for_record()
    }

    fn wait_for_record(&mut self) -> anyhow::Result<()> {
        let now = self.source.now();
        let _ = self.say_messages();
        let Some(saver) = &mut self.saver else { return Ok(()) };
        let done = saver.wait(now);
        let left = saver.left();
        self.watch.storing = None;
        let mut why = String::new();
        for done in done {
            if let Done::Late(_, because) = &done {
                why.clone_from(because);
            }
            self.done(now, done)?;
        }
        anyhow::ensure!(left.is_empty(), "NOT in the record: {}. {why}", left.join(", "));
        Ok(())
    }

    /// The verdict over everything that was taken goes to the record.
    pub(super) fn judge(&mut self) -> anyhow::Result<()> {
        let now = self.source.now();
        if self.saver.is_some() && self.watch.stations.taken() > 0 {
            let whole = Box::new(self.watch.whole().clone());
            self.put(now, Entry::Judged(whole))?;
            self.wait_for_record()?;
            self.say_messages()?;
        }
        Ok(())
    }
}
