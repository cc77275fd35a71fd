//! `watch`: live gap and tilt, takes, verdict.

mod level;

use crate::head::link;
use crate::head::log::Log;
use crate::jobs::{self, Opened};
use crate::keeping::{Keeping, SameJob, record_path};
use crate::lengths::Lengths;
use crate::outcome::{Ended, Outcome};
use crate::page;
use crate::report;
use crate::shell::{Mode, Replay, Shell, Source};
use crate::storing::at_work::AtWorkMark;
use crate::storing::{Book, Store};
use crate::written;
use anyhow::Context;
use skimgauge_procedure::emitter_off::{EmitterOff, Saw};
use skimgauge_procedure::takes::{Begin, Takes};
use skimgauge_quantity::{Deg, count};
use skimgauge_record::event::Phase;
use skimgauge_system::input;
use skimgauge_system::output::Replace;
use std::io::{BufReader, IsTerminal, Read};
use std::path::PathBuf;
use std::time::Duration;

/// Watch gap and tilt live, take the stations, judge.
///
/// Without a screen (--plain, --json) lines typed are obeyed: take, redo, more (one more seat),
/// next, back, station N, emitter, quit. Exit status: 0 within, or somebody at the screen only looked;
/// 1 outside; 3 too close to call, or a station has no take; 2 an error.
#[derive(Debug, Default, clap::Args)]
pub struct Args {
    /// The job file.
    #[arg(long, required_unless_present = "level")]
    pub job: Option<PathBuf>,
    /// Use the head as a digital level: degrees, mm per m, inches per foot, and reversal. With a job
    /// what is found is kept in its record.
    #[arg(long, conflicts_with_all = ["from", "keep", "no_record", "until_taken"], requires = "head")]
    pub level: bool,
    /// With --level: what is set level, by name; once for each thing.
    #[arg(long, value_name = "NAME", requires = "level")]
    pub thing: Vec<String>,
    /// With --level: what is set plumb, by name; once for each thing.
    #[arg(long, value_name = "NAME", requires = "level")]
    pub plumb: Vec<String>,
    /// With --level: how far it may be off, degrees either way.
    #[arg(long, value_name = "DEG", requires = "level", value_parser = degrees)]
    pub target: Option<Deg>,
    /// The head's port; `skimgauge ports` shows it.
    #[arg(long, required_unless_present = "from", value_hint = clap::ValueHint::FilePath)]
    pub head: Option<String>,
    /// Hear a recording instead of a head; `-` reads it from standard input.
    #[arg(long, conflicts_with = "head", value_name = "RECORDING")]
    pub from: Option<PathBuf>,
    /// Record what the head sends, byte by byte, to hear it again with --from.
    #[arg(long, value_name = "RECORDING", conflicts_with = "from")]
    pub keep: Option<PathBuf>,
    /// The record; without this, the platform's place (a recording is not recorded unless this
    /// says where).
    #[arg(long, value_name = "FILE")]
    pub record: Option<PathBuf>,
    /// Only look: take and judge, and keep nothing.
    #[arg(long, conflicts_with_all = ["record", "phase"])]
    pub no_record: bool,
    /// Whether the job of that name in the record is this one.
    #[command(flatten)]
    pub same_job: SameJob,
    /// Which state of the installation is taken; without this, as found the first time and as left
    /// afterwards.
    #[arg(long, value_enum)]
    pub phase: Option<PhaseName>,
    /// Print a line a second instead of the screen.
    #[arg(long)]
    pub plain: bool,
    /// Print a JSON object a line instead of the screen.
    #[arg(long, conflicts_with = "plain")]
    pub json: bool,
    /// Print the head's own log on the standard error, decoded. Needs --elf, and a build with the
    /// feature `log`.
    #[arg(long, conflicts_with = "level")]
    pub log: bool,
    /// With --log: the ELF of the head's firmware.
    #[arg(long, value_name = "FILE", requires = "log")]
    pub elf: Option<PathBuf>,
    /// End by itself when every station has a take.
    #[arg(long)]
    pub until_taken: bool,
    /// Whether it is shown in a browser.
    #[command(flatten)]
    pub page: page::Args,
}

/// As `page` watches: lines at the terminal, everything else in the browser.
///
/// # Errors
/// As [`run`].
pub(super) fn paged(
    job: PathBuf,
    head: String,
    record: Option<PathBuf>,
    same_job: SameJob,
    page: page::Args,
    units: Lengths,
) -> Outcome {
    let (job, head) = (Some(job), Some(head));
    run(Args { job, head, record, same_job, page, plain: true, ..Args::default() }, units)
}

/// An angle as a flag gives it, in degrees where it says no unit.
fn degrees(text: &str) -> Result<Deg, String> {
    Deg::read_bare(text).map_err(|why| why.to_string())
}

/// A state of the installation.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
pub enum PhaseName {
    /// Before anything was touched.
    AsFound,
    /// In the course of the work.
    Between,
    /// As handed over.
    AsLeft,
}

impl From<PhaseName> for Phase {
    fn from(name: PhaseName) -> Self {
        match name {
            PhaseName::AsFound => Self::AsFound,
            PhaseName::Between => Self::Between,
            PhaseName::AsLeft => Self::AsLeft,
        }
    }
}

/// Watches until the user has enough.
///
/// # Errors
/// Job file, port, record: each in a sentence.
pub fn run(args: Args, units: Lengths) -> Outcome {
    if args.level {
        return level::run(&args, units);
    }
    let log = args.log.then(|| log(&args)).transpose()?;
    let path = args.job.context("A watch needs the job file: --job.")?;
    let Opened { job, text, board, survey } = jobs::open(&path)?;
    let name = args.head.clone().unwrap_or_else(|| "recording".to_owned());
    let replayed = args.from.is_some();
    if !replayed {
        jobs::can_be_read(&path, &job, &text)?;
    }
    let kept = if args.no_record || replayed && args.record.is_none() {
        None
    } else {
        let (record, phase) = (record_path(args.record.as_deref())?, args.phase.map(Into::into));
        let alone = AtWorkMark::leave(&record, &job.about.name)?;
        let mut keeping = Keeping::open(&record, &job, &text, phase, &args.same_job)?;
        keeping.set_survey(survey);
        Some((keeping, record, alone))
    };
    let source = match &args.from {
        Some(path) => Source::Replay(Box::new(replay(path)?)),
        None => {
            let mut outputs = written::outputs(
                Replace::Never,
                &path,
                &job,
                kept.as_ref().map(|(_, record, _)| record.as_path()),
            );
            if let Some(elf) = &args.elf {
                outputs = outputs.sparing(elf, "the firmware's ELF");
            }
            Source::Live(link::open_kept(&name, args.keep.as_deref(), outputs)?)
        }
    };
    let mode = Mode::of(args.plain || (replayed && !args.json), args.json);
    let source = match log {
        Some(log) => Source::Logged(Box::new(source), Box::new(log)),
        None => source,
    };
    let mut begin = Begin::new(job, board, jobs::today(), &name);
    begin.asks_who = !replayed;
    begin.until_taken = args.until_taken;
    // A recording has its own emitter, and answers nobody.
    let mut saw = Some(Saw::LeftOut);
    if let Some((keeping, ..)) = &kept {
        begin.zeroed_here = keeping.zeroed_here()?;
    }
    // A recording begins where it begins; and who names the state begins it.
    if !replayed && let Some((keeping, ..)) = &kept {
        begin.stood = keeping.stood_at()?;
        if args.phase.is_none() {
            let (resumed, _) = keeping.resumed(&begin.job.adjusters, &begin.job.stations)?;
            begin.resumed = Some(resumed);
        }
        saw = keeping.saw_with_emitter_off()?;
        begin.line_stays = saw.is_some_and(Saw::is_line);
    }
    let (store, kept) = match kept {
        None => (None, None),
        Some((keeping, path, alone)) => {
            let round = keeping.round();
            (Some(Box::new(Book::new(keeping)) as Box<dyn Store>), Some((round, path, alone)))
        }
    };
    let plain_every = Duration::from_secs(1);
    let style = units.style();
    let pages = args.page.open_for(mode, &path, args.record.as_deref())?;
    let shell = Shell { source, store, mode, style, person: None, pages, plain_every };
    let ran = shell.run(EmitterOff::before(Takes::new(begin), saw))?;
    let (takes, view) = (ran.procedure.then(), ran.view);
    if mode != Mode::Json {
        println!("{}", report::whole(&view, style));
        let taken = takes.stations().taken();
        if let Some((round, path, _)) = &kept {
            println!("{} of round {round} kept in {}", count(taken, "take"), path.display());
        } else if args.no_record {
            println!("Nothing was kept.");
        }
    }
    ran.kept?;
    // Who only looked at the screen got what they wanted; a program is told that nothing is known.
    let only_looked = view.whole.as_ref().is_some_and(|whole| whole.nothing_taken);
    match mode {
        Mode::Screen if only_looked => Ok(Ended::Well),
        _ => Ok(takes.whole().verdict.into()),
    }
}

/// The log's decoder, and a place for its lines.
fn log(args: &Args) -> anyhow::Result<Log> {
    let elf = args.elf.as_deref().context(crate::head::log::WHERE)?;
    let screen = Mode::of(args.plain || args.from.is_some(), args.json) == Mode::Screen;
    anyhow::ensure!(
        !screen || !std::io::stderr().is_terminal(),
        "The log would write over the screen. Send it elsewhere (2> head.log), or watch with --plain or --json."
    );
    Log::open(elf)
}

fn replay(path: &std::path::Path) -> anyhow::Result<Replay> {
    let from: Box<dyn Read> = if path == std::path::Path::new("-") {
        Box::new(BufReader::with_capacity(1 << 16, std::io::stdin()))
    } else {
        Box::new(
            input::stream(path).with_context(|| format!("{} cannot be read.", path.display()))?,
        )
    };
    Replay::new(from).with_context(|| {
        format!(
            "{} is no recording of a head. `skimgauge watch --keep FILE` makes one.",
            path.display()
        )
    })
}
