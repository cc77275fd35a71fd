//! The live view in browsers, beside whatever else shows it: what came from pages is said to the
//! procedure or kept in the record, and told at the terminal with who it was.

mod aside;
pub mod desk;
mod links;
pub mod marking;
pub mod proof;
mod steps;
pub mod taping;

use crate::keeping::record_path;
use crate::shell::Mode;
use crate::steps::Whose;
use anyhow::Context;
use skimgauge_page::shown::Shown;
use skimgauge_page::{Act, From, Heard, Links, Page, Role, Settings, State, Watching};
use skimgauge_procedure::{Entry, Said, Speaker, View};
use skimgauge_quantity::{Style, Units};
use std::collections::VecDeque;
use std::net::IpAddr;
use std::path::Path;
use std::time::Duration;

/// So often a page is shown a new state at most.
const EVERY: Duration = Duration::from_millis(20);
/// What was told last stands so long at the foot of the screen.
const TOLD_FOR: Duration = Duration::from_secs(5);

/// The page, as flags.
#[derive(Debug, Clone, Default, clap::Args)]
// Its group would have the name of the command's own.
#[group(skip)]
pub struct Args {
    /// Show it in a browser too: on the board itself, and on a phone. On this computer alone,
    /// unless --lan is given.
    #[arg(long)]
    pub page: bool,
    /// Phones in the local network may open the page, at one address of this computer. What is
    /// shown can be read by others in that network; its keys end with the run.
    #[arg(long)]
    pub lan: bool,
    /// With --lan: at this address of this computer; without it, the one by which it is in its
    /// network.
    #[arg(long, value_name = "ADDRESS", requires = "lan")]
    pub at: Option<IpAddr>,
    /// The page's port; 0: any that is free.
    #[arg(long, value_name = "PORT", default_value_t = 0)]
    pub page_port: u16,
}

/// What is to be done about something that came from a page.
#[derive(Debug)]
pub enum Wanted {
    /// Say this to the procedure; on the page of this name.
    Say(Said, String),
    /// Keep this in the record.
    Keep(Entry),
}

/// The pages that look on.
pub struct Pages {
    page: Page,
    steps: Option<steps::Followed>,
    shown_at: Option<Duration>,
    told: VecDeque<String>,
    last_told: Option<(String, Duration)>,
}

impl Args {
    /// As [`Self::open`]; the page shows the steps of this job, too, out of this record or the
    /// usual one.
    ///
    /// # Errors
    /// As there.
    pub fn open_for(
        &self,
        mode: Mode,
        job: &Path,
        record: Option<&Path>,
    ) -> anyhow::Result<Option<Pages>> {
        Ok(self.open(mode)?.map(|pages| pages.with_steps(job, record)))
    }

    /// Opens the page, where it is asked for, and says where it is: before a screen covers it, it
    /// waits until the user has seen it; what programs read stays free of it.
    ///
    /// # Errors
    /// The address cannot be had, or there is no network: with what to do.
    pub fn open(&self, mode: Mode) -> anyhow::Result<Option<Pages>> {
        if !self.page && !self.lan {
            return Ok(None);
        }
        let lan = match (self.lan, self.at) {
            (false, _) => None,
            (true, Some(address)) => Some(address),
            (true, None) => Some(skimgauge_page::lan_address()?),
        };
        let page = Page::open(Settings { port: self.page_port, lan, ..Settings::default() })?;
        links::say(&page, mode).context("The page's addresses cannot be shown.")?;
        let pages =
            Pages { page, steps: None, shown_at: None, told: VecDeque::new(), last_told: None };
        Ok(Some(pages))
    }
}

impl Pages {
    /// The addresses to open.
    pub fn links(&self) -> &Links {
        self.page.links()
    }

    fn with_steps(mut self, job: &Path, record: Option<&Path>) -> Self {
        let (file, named) = (job.to_owned(), record.map(Path::to_owned));
        if let Ok(record) = record_path(record) {
            self.steps = steps::Followed::new(Whose { file, named, record }, self.page.steps());
        }
        self
    }

    /// Shows how a procedure stands, if anybody looks on and it is time. Never waits.
    ///
    /// # Errors
    /// The view cannot be written as JSON: a fault of this program's.
    pub fn show(&mut self, now: Duration, view: impl FnOnce() -> View) -> anyhow::Result<()> {
        if !self.is_due(now) {
            return Ok(());
        }
        let view = view();
        self.show_as(|units| skimgauge_page::told(&view, units))
    }

    /// Whether anybody looks on and it is time.
    fn is_due(&mut self, now: Duration) -> bool {
        let due = self.shown_at.is_none_or(|before| now.saturating_sub(before) >= EVERY)
            && self.page.is_watched();
        if due {
            self.shown_at = Some(now);
        }
        due
    }

    fn show_as(&self, shown: impl Fn(Units) -> Shown) -> anyhow::Result<()> {
        let [mm, inch] = [Units::Mm, Units::Inch].map(shown);
        self.page.show(State::of(&mm, &inch).context("The page cannot show this.")?);
        Ok(())
    }

    /// Everything that came from pages since this was last asked.
    pub fn wanted(&mut self, now: Duration, view: impl FnOnce() -> View) -> Vec<Wanted> {
        let acts = self.acts(now);
        if acts.is_empty() {
            return Vec::new();
        }
        let view = view();
        acts.into_iter().filter_map(|act| self.want(now, &view, act)).collect()
    }

    /// What somebody wants done; who came and went is told.
    fn acts(&mut self, now: Duration) -> Vec<(From, Option<u64>, Act)> {
        let heard: Vec<Heard> = std::iter::from_fn(|| self.page.heard()).collect();
        let mut acts = Vec::new();
        for heard in heard {
            match heard {
                Heard::Came(who) => {
                    let may = if who.role == Role::Acts { "acts" } else { "looks on" };
                    self.tell(now, format!("{who} {may}"));
                }
                Heard::Left(who) => self.tell(now, format!("{who} is gone")),
                Heard::Act { by, seen, act } => acts.push((by, seen, act)),
            }
        }
        acts
    }

    fn want(
        &mut self,
        now: Duration,
        view: &View,
        (by, seen, act): (From, Option<u64>, Act),
    ) -> Option<Wanted> {
        match act {
            Act::Say(word) => {
                let does = view.words.iter().find(|offer| offer.word == word);
                let does = does.map_or_else(
                    || aside::spelled(word),
                    |offer| offer.does.text(Style::default()),
                );
                self.tell(now, format!("{by}: {does}"));
                Some(Wanted::Say(Said { word, by: speaker(by), seen }, by.to_string()))
            }
            act => match aside::entry(by, act, view.image) {
                Ok((entry, what)) => {
                    self.tell(now, format!("{by}: {what}"));
                    Some(Wanted::Keep(entry))
                }
                Err(why) => {
                    self.tell(now, format!("{by}: not kept: {why}"));
                    None
                }
            },
        }
    }

    fn tell(&mut self, now: Duration, what: String) {
        self.last_told = Some((what.clone(), now));
        self.told.push_back(what);
    }

    /// What happened since this was last asked, for lines.
    pub fn news(&mut self) -> Vec<String> {
        self.told.drain(..).collect()
    }

    /// What happened last, for the foot of the screen.
    pub fn says(&self, now: Duration) -> Option<&str> {
        let (what, at) = self.last_told.as_ref()?;
        (now.saturating_sub(*at) < TOLD_FOR).then_some(what)
    }
}

fn speaker(who: From) -> Speaker {
    match who.page {
        Watching::Phone => Speaker::Phone,
        Watching::Board => Speaker::Keyboard,
    }
}
