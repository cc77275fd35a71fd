//! `jobs learn`: what the firm's jobs teach.

use super::{Patience, open};
use crate::written::LESSONS;
use anyhow::{Context, Result};
use clap::ValueEnum;
use skimgauge_firm::learn::{Figures, Scatter, Shown, csv, hear_all, page, prior};
use skimgauge_quantity::{Mm, Style, counted};
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
pub(in super::super) fn learn(args: &Learn, style: Style, out: &mut dyn Write) -> Result<()> {
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
        None => say(&figures, style, out)?,
    }
    if let Some(file) = &args.page {
        outputs.write(file, LESSONS, page(&figures, style.units).as_bytes())?;
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

fn seats(of: Option<Scatter>, style: Style) -> String {
    of.map_or_else(
        || "not known".to_owned(),
        |s| {
            let dof = counted(s.dof, "degree of freedom", "degrees of freedom");
            format!("{} ({dof})", fine(s.sd_mm, style))
        },
    )
}

fn fine(mm: f64, style: Style) -> String {
    Mm(mm).fine().text(style)
}

/// So many of them.
fn many(count: usize, one: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {one}s") }
}

fn say(figures: &Figures, style: Style, out: &mut dyn Write) -> io::Result<()> {
    let jobs = &figures.jobs;
    let [within, outside, unsure, none] = jobs.verdicts;
    writeln!(
        out,
        "{}: {within} within, {outside} outside, {unsure} too close to call, {none} without a verdict",
        many(jobs.count, "job")
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
        writeln!(out, "\nEmitter {}: {}", shown(&emitter.model), many(emitter.jobs, "job"))?;
        for a in &emitter.adjusters {
            let other = if a.other_way > 0 {
                format!("; on {} THE OTHER WAY ROUND", a.other_way)
            } else {
                String::new()
            };
            writeln!(
                out,
                "  {}: {} a turn, clockwise {}, known to {}, {} from unit to unit; {}, {}{other}; job files say {}",
                shown(&a.name),
                fine(a.pitch_mm, style),
                a.clockwise,
                fine(a.u_pitch_mm, style),
                fine(a.spread_mm, style),
                many(a.units, "unit"),
                many(a.turns, "turn"),
                fine(a.stated_mm, style)
            )?;
        }
    }
    for head in &figures.heads {
        let last = head.zeros.last();
        let zero = last.map_or_else(
            || "no zero".to_owned(),
            |zero| format!("zero {} on {}", fine(zero.zero_mm, style), zero.day),
        );
        writeln!(
            out,
            "\nHead {}: {}, {zero}; seat to seat {}",
            shown(&head.serial),
            many(head.zeros.len(), "zero"),
            seats(head.seats, style)
        )?;
        if let Some(limits) = head.limits {
            writeln!(
                out,
                "  limits of its zero: {} to {}, mean {}",
                fine(limits.lower_mm, style),
                fine(limits.upper_mm, style),
                fine(limits.mean_mm, style)
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
            "\nCrew {}: {}; seat to seat {}; minutes {}; rounds {}",
            shown(&crew.crew),
            many(crew.jobs, "job"),
            seats(crew.seats, style),
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
            "  {} of a {}: {} in {}",
            shown(&fault.what),
            fault.of,
            many(fault.count, "time"),
            many(fault.jobs, "job")
        )?;
    }
    Ok(())
}
