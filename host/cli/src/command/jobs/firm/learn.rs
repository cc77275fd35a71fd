//! `jobs learn`: what the firm's jobs teach.

use super::{Patience, open};
use crate::written::LESSONS;
use anyhow::{Context, Result};
use clap::ValueEnum;
use skimgauge_firm::learn::{Figures, Scatter, Shown, csv, hear_all, page, prior};
use skimgauge_system::output::{Outputs, Replace};
use skimgauge_system::terminal::{shown, shown_json};
use std::io::{self, Write};
use std::path::PathBuf;

/// Learn from the firm's jobs: how far each emitter model's adjusters move, how each head's zero
/// wanders, how seats scatter, how long jobs take, which faults there were.
///
/// Nothing is said of a person; figures by crew only with --by-crew. A job whose chain breaks
/// teaches nothing, and is named.
#[derive(Debug, Clone, clap::Args)]
pub(in super::super) struct Learn {
    /// The firm's jobs; without it the address that is set up.
    #[arg(long, value_name = "URL")]
    from: Option<String>,
    /// As something that programs read.
    #[arg(long = "as", value_name = "FORM", value_enum)]
    form: Option<LessonForm>,
    /// Write a page with it, charts and all.
    #[arg(long, value_name = "FILE")]
    page: Option<PathBuf>,
    /// Write the page anew where an earlier one is.
    #[arg(long, requires = "page")]
    replace: bool,
    /// Lines for the next job's file: the adjusters of this emitter model as they work.
    #[arg(long, value_name = "MODEL", conflicts_with_all = ["form", "page"])]
    emitter: Option<String>,
    /// With figures by crew: the user under which a job was begun.
    #[arg(long)]
    by_crew: bool,
}

/// What `learn` writes for programs.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(in super::super) enum LessonForm {
    /// One JSON object.
    Json,
    /// One table.
    Csv,
}

impl Learn {
    /// Whether JSON is written.
    pub(in super::super) fn is_json(&self) -> bool {
        matches!(self.form, Some(LessonForm::Json))
    }

    /// Whether a table is written.
    pub(in super::super) fn is_table(&self) -> bool {
        matches!(self.form, Some(LessonForm::Csv))
    }
}

/// Learns.
///
/// # Errors
/// What reading can meet; the page cannot be written.
pub(in super::super) fn learn(args: &Learn, out: &mut dyn Write) -> Result<()> {
    let mut outputs = Outputs::new(Replace::flag(args.replace));
    if let Some(page) = &args.page {
        outputs.check(page, LESSONS)?;
    }
    let mut base = open(args.from.as_deref(), &Patience::default())?;
    let figures = hear_all(&mut base, args.by_crew)?.learnt();
    if let Some(model) = &args.emitter {
        let lines = prior(&figures, model).with_context(|| {
            format!("Of \"{model}\" fewer than three units were watched while a counted turn was made: the job file's own figures are better.")
        })?;
        write!(out, "{}", shown_lines(&lines))?;
        return Ok(());
    }
    match args.form {
        Some(LessonForm::Json) => {
            writeln!(out, "{}", shown_json(&serde_json::to_string_pretty(&figures)?))?;
        }
        Some(LessonForm::Csv) => csv(&figures, &mut *out)?,
        None => say(&figures, out)?,
    }
    if let Some(file) = &args.page {
        outputs.write(file, LESSONS, page(&figures).as_bytes())?;
        eprintln!("Written: {}", file.display());
    }
    Ok(())
}

fn shown_lines(text: &str) -> String {
    text.lines().map(|line| format!("{}\n", shown(line))).collect()
}

fn three(of: Option<Shown>, places: usize) -> String {
    of.map_or_else(
        || "-".to_owned(),
        |s| format!("{:.places$} ({:.places$} to {:.places$})", s.middle, s.low, s.high),
    )
}

fn seats(of: Option<Scatter>) -> String {
    of.map_or_else(
        || "not known".to_owned(),
        |s| format!("{:.3} mm ({} degrees of freedom)", s.sd_mm, s.dof),
    )
}

fn say(figures: &Figures, out: &mut dyn Write) -> io::Result<()> {
    let jobs = &figures.jobs;
    let [within, outside, unsure, none] = jobs.verdicts;
    writeln!(
        out,
        "{} jobs: {within} within, {outside} outside, {unsure} too close to call, {none} without a verdict",
        jobs.count
    )?;
    writeln!(
        out,
        "Minutes at work, median and middle half: {}; rounds: {}",
        three(jobs.minutes, 0),
        three(jobs.rounds, 0)
    )?;
    for name in &jobs.broken {
        writeln!(out, "BROKEN, and so not counted: \"{}\"", shown(name))?;
    }
    for emitter in &figures.emitters {
        writeln!(out, "\nEmitter {}: {} jobs", shown(&emitter.model), emitter.jobs)?;
        for a in &emitter.adjusters {
            let other = if a.other_way > 0 {
                format!("; on {} THE OTHER WAY ROUND", a.other_way)
            } else {
                String::new()
            };
            writeln!(
                out,
                "  {}: {:.3} mm a turn, clockwise {}, known to {:.3} mm, {:.3} mm from unit to unit; {} units, {} turns{other}; job files say {:.3} mm",
                shown(&a.name),
                a.pitch_mm,
                a.clockwise,
                a.u_pitch_mm,
                a.spread_mm,
                a.units,
                a.turns,
                a.stated_mm
            )?;
        }
    }
    for head in &figures.heads {
        let last = head.zeros.last();
        let zero = last.map_or_else(
            || "no zero".to_owned(),
            |zero| format!("zero {:.3} mm on {}", zero.zero_mm, zero.day),
        );
        writeln!(
            out,
            "\nHead {}: {} zeros, {zero}; seat to seat {}",
            shown(&head.serial),
            head.zeros.len(),
            seats(head.seats)
        )?;
        if let Some(limits) = head.limits {
            writeln!(
                out,
                "  limits of its zero: {:.3} to {:.3} mm, mean {:.3} mm",
                limits.lower_mm, limits.upper_mm, limits.mean_mm
            )?;
        }
        for sign in &head.signs {
            writeln!(
                out,
                "  LOOK AT THIS HEAD: {}. Zero it anew on the gauge before the next board.",
                shown(sign)
            )?;
        }
    }
    for crew in &figures.crews {
        writeln!(
            out,
            "\nCrew {}: {} jobs; seat to seat {}; minutes {}; rounds {}",
            shown(&crew.crew),
            crew.jobs,
            seats(crew.seats),
            three(crew.minutes, 0),
            three(crew.rounds, 0)
        )?;
    }
    if !figures.faults.is_empty() {
        writeln!(out, "\nFaults")?;
    }
    for fault in &figures.faults {
        writeln!(
            out,
            "  {} of a {}: {} times in {} jobs",
            shown(&fault.what),
            fault.of,
            fault.count,
            fault.jobs
        )?;
    }
    Ok(())
}
