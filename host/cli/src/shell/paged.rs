//! The shell's side of the pages: what they say is heard between readings, what they see is shown
//! when there is time. Neither waits for a browser.

use super::AtWork;
use crate::page::Wanted;
use skimgauge_procedure::{Input, Procedure};
use std::time::Duration;

impl<P: Procedure> AtWork<'_, P> {
    /// What came from pages. Whether it is over.
    pub(super) fn obey_pages(&mut self, now: Duration) -> anyhow::Result<bool> {
        let Some(pages) = &mut self.pages else { return Ok(false) };
        let wanted = pages.wanted(now, || self.procedure.view(now));
        for what in pages.news() {
            self.tell_beside(&what)?;
        }
        for wanted in wanted {
            let over = match wanted {
                Wanted::Say(said, page) => self.on_page(now, Input::Said(said), page)?,
                Wanted::Keep(entry) => self.put(now, entry)?,
            };
            if over {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// How things stand, to whoever looks on.
    pub(super) fn show_pages(&mut self, now: Duration) -> anyhow::Result<()> {
        let Some(pages) = &mut self.pages else { return Ok(()) };
        pages.show(now, || self.procedure.view(now))
    }
}
