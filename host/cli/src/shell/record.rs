//! The record's side of the shell: what is stored beside the drawing, what came of it, and the wait
//! at the end.

use super::AtWork;
use crate::storing::{Done, Saver};
use skimgauge_procedure::{Answer, Entry, EventId, Input, Procedure};
use skimgauge_quantity::{Name, Style, say};
use std::time::Duration;

impl<P: Procedure> AtWork<'_, P> {
    /// Into the record, beside the drawing. A recording is heard faster than it can be stored: it
    /// waits for each. Whether it is over.
    pub(super) fn put(&mut self, now: Duration, entry: Entry) -> anyhow::Result<bool> {
        let Some(saver) = &mut self.saver else {
            let kept = Answer::Kept { entry, event: None, place: None };
            return self.on(now, Input::Record(kept));
        };
        let by = self.speaks.of(&entry);
        saver.put(now, entry, by);
        if !self.source.is_live() {
            let done = saver.wait(now);
            return self.all_done(now, done);
        }
        self.tell_saving(now)
    }

    /// Whether it is over.
    pub(super) fn look_at_record(&mut self, now: Duration) -> anyhow::Result<bool> {
        let Some(saver) = &mut self.saver else { return Ok(false) };
        let done = saver.look(now);
        let over = self.all_done(now, done)?;
        Ok(self.tell_saving(now)? || over)
    }

    /// Tells the procedure what is being saved, where that has changed.
    fn tell_saving(&mut self, now: Duration) -> anyhow::Result<bool> {
        let saving = self.saver.as_ref().and_then(Saver::storing);
        if saving == self.saving {
            return Ok(false);
        }
        self.saving.clone_from(&saving);
        self.on(now, Input::Record(Answer::Saving(saving)))
    }

    fn all_done(&mut self, now: Duration, done: Vec<Done>) -> anyhow::Result<bool> {
        let mut over = false;
        for done in done {
            let answer = match done {
                Done::Stored(entry, stored) => Answer::Kept {
                    entry,
                    event: stored.map(|stored| EventId(stored.event.0)),
                    place: stored.map(|stored| stored.place),
                },
                Done::NotTaken(entry, why) => {
                    Answer::NotKept { entry, why: say!("{}", Name(&why)) }
                }
                Done::Late(what, why) => Answer::Late { what, why: say!("{}", Name(&why)) },
                // The end has been told of.
                Done::Slow(_) if self.ending => continue,
                Done::Slow(what) => Answer::Slow { what },
            };
            over |= self.on(now, Input::Record(answer))?;
        }
        Ok(over)
    }

    /// Whether a take waits for the head to say who it is.
    fn waits_for_head(&self, now: Duration) -> bool {
        self.saver.as_ref().and_then(Saver::storing).is_none()
            && self.saving.is_none()
            && self.procedure.view(now).saving.is_some()
    }

    /// At the end: what is on its way into the record is waited for, and it is said.
    pub(super) fn store_the_rest(
        &mut self,
        mut screen: Option<&mut ratatui::DefaultTerminal>,
    ) -> anyhow::Result<()> {
        self.ending = true;
        let mut now = self.source.now();
        self.on(now, Input::Ending)?;
        self.tell_messages()?;
        // The number stays live meanwhile; nothing ends an end.
        while self.waits_for_head(now) || self.saver.as_ref().is_some_and(Saver::is_busy) {
            self.hear()?;
            now = self.source.now();
            self.on(now, Input::Tick)?;
            self.look_at_record(now)?;
            self.tell_messages()?;
            if let Some(screen) = &mut screen {
                let _ = self.draw(screen, now);
            }
        }
        self.wait_for_record()
    }

    fn wait_for_record(&mut self) -> anyhow::Result<()> {
        let now = self.source.now();
        let Some(saver) = &mut self.saver else { return Ok(()) };
        let done = saver.wait(now);
        let left = saver.left();
        let mut why = String::new();
        for done in &done {
            if let Done::Late(_, because) = done {
                why.clone_from(because);
            }
        }
        self.all_done(now, done)?;
        let left: Vec<String> = left.iter().map(|what| what.text(Style::default())).collect();
        anyhow::ensure!(left.is_empty(), "NOT in the record: {}. {why}", left.join(", "));
        self.saving = None;
        self.on(now, Input::Record(Answer::Saving(None)))?;
        Ok(())
    }

    /// Nothing more comes: what follows goes to the record.
    pub(super) fn close(&mut self) -> anyhow::Result<()> {
        self.on(self.source.now(), Input::Close)?;
        self.wait_for_record()
    }
}
