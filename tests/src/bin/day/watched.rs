//! The day through the shell that the command runs, and who sees what it shows.

use super::counted::{held, open_files, resident_kib};
use super::head::Day;
use super::looks;
use anyhow::Context;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use skimgauge::console::screen::{self, Look};
use skimgauge::jobs::{self, Opened};
use skimgauge::keeping::{Keeping, SameJob};
use skimgauge::page;
use skimgauge::practice::Person;
use skimgauge::shell::{Mode, Replay, Shell, Source};
use skimgauge::storing::{Book, Store};
use skimgauge_procedure::emitter_off::{EmitterOff, Saw};
use skimgauge_procedure::takes::{Begin, Takes};
use skimgauge_procedure::view::{LinkView, State};
use skimgauge_procedure::{View, Word};
use skimgauge_quantity::Style;
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, Record};
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

const JOB: &str = include_str!("../../../sessions/job.toml");
/// A word is said so often, in the day's time.
const SAID_EVERY: Duration = Duration::from_secs(40);
/// The day's memory may grow by this beside what its takes hold.
const MAY_GROW: i64 = 1 << 20;
/// So much may be held of a take: the list of stations and seats, the verdict's sums.
const OF_A_TAKE: i64 = 4 << 10;

/// How it stood at one time of the day.
#[derive(Debug, Clone, Copy)]
struct Stood {
    at: Duration,
    readings: u64,
    held: i64,
    resident_kib: Option<u64>,
    files: Option<usize>,
    drawn: u64,
    words: u64,
    page_bytes: u64,
}

impl fmt::Display for Stood {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let hours = self.at.as_secs_f64() / 3_600.0;
        write!(
            f,
            "{hours:>6.2} h {:>9} readings, {:>9} bytes held, resident {:?} KiB, {:?} files, {} screens, {} words, {} KB of page",
            self.readings,
            self.held,
            self.resident_kib.unwrap_or(0),
            self.files.unwrap_or(0),
            self.drawn,
            self.words,
            self.page_bytes >> 10
        )
    }
}

/// What came of the day.
#[derive(Debug)]
pub(crate) struct Came {
    stood: Vec<Stood>,
    takes: u64,
    wrong: Vec<String>,
}

impl fmt::Display for Came {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} takes kept", self.takes)
    }
}

impl Came {
    /// What should not have been.
    pub(crate) fn wrong(&self) -> Vec<String> {
        let mut wrong = self.wrong.clone();
        let (Some(first), Some(last)) = (self.stood.get(1), self.stood.last()) else {
            return vec!["the day was too short to say anything".to_owned()];
        };
        let grown = last.held - first.held;
        let allowed = MAY_GROW + OF_A_TAKE * (last.words - first.words) as i64;
        if grown > allowed {
            wrong.push(format!("{grown} bytes more are held than at first, {allowed} may be"));
        }
        if last.files > first.files {
            wrong.push(format!("{:?} open files, and {:?} at first", last.files, first.files));
        }
        if self.takes == 0 || last.drawn == 0 || last.page_bytes == 0 {
            wrong.push(format!("nothing was taken, drawn or published: {last}, {self}"));
        }
        wrong
    }
}

/// Sees the view as often as a screen is drawn, and takes what can be taken.
struct Watches {
    screen: Terminal<TestBackend>,
    looks: Vec<Arc<AtomicU64>>,
    every: u64,
    said_at: Duration,
    spoken: u64,
    drawn: u64,
    stood: Vec<Stood>,
    wrong: Vec<String>,
}

impl Person for Watches {
    fn sees(&mut self, now: Duration, view: &View) -> anyhow::Result<Vec<Word>> {
        let look = Look { style: Style::default(), help: false, beside: None, beside_keys: &[] };
        self.screen.draw(|frame| screen::draw(frame, view, &look))?;
        self.drawn += 1;
        self.judges(view);
        if view.counts.received / self.every >= self.stood.len() as u64 {
            let stood = self.stands(now, view);
            eprintln!("{stood}");
            self.stood.push(stood);
        }
        if now.saturating_sub(self.said_at) < SAID_EVERY {
            return Ok(Vec::new());
        }
        let said = self.word(view);
        if said.is_some() {
            self.said_at = now;
            self.spoken += 1;
        }
        Ok(said.into_iter().collect())
    }
}

impl Watches {
    fn stands(&self, at: Duration, view: &View) -> Stood {
        Stood {
            at,
            readings: view.counts.received,
            held: held(),
            resident_kib: resident_kib(),
            files: open_files(),
            drawn: self.drawn,
            words: self.spoken,
            page_bytes: self.looks.iter().map(|came| came.load(Ordering::Relaxed)).sum(),
        }
    }

    /// Without a head no number is good, on the screen neither; and no other head is this one.
    fn judges(&mut self, view: &View) {
        let lost = !matches!(view.link, LinkView::Up { .. });
        if lost && (view.live.gap.good().is_some() || view.live.verdict.is_some()) {
            self.wrong.push(format!("a good gap without a head: {:?}", view.live));
        }
        if lost && view.state == State::Ready {
            self.wrong.push("ready to take without a head".to_owned());
        }
        if let LinkView::Up { head: Some(head) } = &view.link
            && !head.contains(&skimgauge_tests::stream::hello().serial.expect("known").to_string())
        {
            self.wrong.push(format!("another head is taken for this one: {head}"));
        }
        if let Some(value) = view.live.gap.good() {
            // 33.0 and 2.6 mm, and the zero of a head as it is built.
            let near = (value.0 - self.gap_mm()).abs() < 0.3;
            if !near {
                self.wrong.push(format!("a gap of {} mm, which no reading says", value.0));
            }
        }
        self.wrong.truncate(20);
    }

    fn gap_mm(&self) -> f64 {
        let zero = skimgauge_tests::stream::calibration().calibration.zero;
        (33_000 + 2_600 + zero.0) as f64 / 1_000.0
    }

    /// In turn what takes, what goes on, and what takes again.
    fn word(&self, view: &View) -> Option<Word> {
        let offered = |word: Word| view.words.iter().any(|offer| offer.word == word);
        if view.question.is_some() {
            return Some(Word::Yes);
        }
        if view.state == State::Ready && offered(Word::Take) {
            return Some(Word::Take);
        }
        let turn = [Word::More, Word::Redo, Word::Next, Word::Skip];
        let turn = turn.into_iter().cycle().skip(self.spoken as usize % 4).take(4);
        turn.into_iter().find(|word| offered(*word))
    }
}

/// A day of so many readings, told so many times, with so many pulls of the head.
///
/// # Errors
/// It ended otherwise than with its last reading.
pub(crate) fn day(readings: u32, told: u64, pulls: u32) -> anyhow::Result<Came> {
    let folder = tempfile::tempdir()?;
    let (file, path) = (folder.path().join("job.toml"), folder.path().join("record.sqlite"));
    std::fs::write(&file, JOB)?;
    let Opened { job, text, board, .. } = jobs::open(&file)?;
    let keeping = Keeping::open(&path, &job, &text, None, &SameJob::default())?;
    let mut begin = Begin::new(job, board, jobs::today(), "recording");
    begin.asks_who = false;
    let args = page::Args { page: true, ..page::Args::default() };
    let pages = args.open_for(Mode::Plain, &file, Some(&path))?.context("a page")?;
    let links = pages.links().clone();
    let looks = vec![looks::on(&links.board, "board")?, looks::on(&links.looks, "phone")?];
    let mut watches = Watches {
        screen: Terminal::new(TestBackend::new(120, 40))?,
        looks,
        every: (u64::from(readings) / told).max(1),
        said_at: Duration::ZERO,
        spoken: 0,
        drawn: 0,
        stood: Vec::new(),
        wrong: Vec::new(),
    };
    let shell = Shell {
        source: Source::Replay(Box::new(Replay::new(Box::new(Day::new(readings, pulls)))?)),
        store: Some(Box::new(Book::new(keeping)) as Box<dyn Store>),
        mode: Mode::Plain,
        style: Style::default(),
        person: Some(&mut watches),
        pages: Some(pages),
        plain_every: Duration::from_secs(600),
    };
    shell.run(EmitterOff::before(Takes::new(begin), Some(Saw::LeftOut)))?.kept?;
    let Watches { stood, mut wrong, .. } = watches;
    let takes = kept(&path, &mut wrong)?;
    Ok(Came { stood, takes, wrong })
}

/// Takes in the record, which is sound, and all of this head.
fn kept(path: &std::path::Path, wrong: &mut Vec<String>) -> anyhow::Result<u64> {
    let report = verify(path)?;
    wrong.extend(report.first_wrong());
    let record = Record::open_read_only(path)?;
    let ours = skimgauge_tests::stream::hello().serial.expect("known").to_string();
    let mut takes = 0;
    for summary in record.jobs()? {
        for event in record.job(&summary.id.to_string())?.events {
            let Body::Take(take) = &event.body else { continue };
            takes += 1;
            if take.head.serial != ours {
                wrong.push(format!("a take of {}", take.head.serial));
            }
        }
    }
    Ok(takes)
}
