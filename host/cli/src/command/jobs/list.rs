//! `jobs list`: every job in a line.

use super::told::verdict_in_short;
use crate::report::minute;
use anyhow::Result;
use serde::Serialize;
use skimgauge_quantity::Style;
use skimgauge_record::history::CheckedJob;
use skimgauge_system::terminal::{shown, shown_json};
use std::collections::HashMap;
use std::io::Write;

/// Version of what `jobs` writes with `--json`; fields may be added, what is there keeps its
/// meaning.
pub(super) const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct Line<'a> {
    schema: u32,
    kind: &'static str,
    #[serde(flatten)]
    job: &'a CheckedJob,
}

/// Lists jobs, each with what stands `beside` it where something does.
///
/// As JSON a line for each: `schema` (1), `kind` (`job`), `id`, `name`, `opened`, `last`, `events`,
/// `takes`, `verdict` (`within`, `outside`, `unsure` or null), `judged_at` (`{"places": [...]}`,
/// `board` or null), `closed`, `head_hash`, `unknown`
/// (events by a newer program), `simulated` (whether it was only practised), `broken` (null, or `seq` and `why`).
///
/// # Errors
/// What `out` reports.
pub(super) fn list(
    jobs: &[CheckedJob],
    beside: &[String],
    json: bool,
    out: &mut dyn Write,
) -> Result<()> {
    if json {
        for job in jobs {
            let line = serde_json::to_string(&Line { schema: SCHEMA, kind: "job", job })?;
            writeln!(out, "{}", shown_json(&line))?;
        }
        return Ok(());
    }
    if jobs.is_empty() {
        writeln!(out, "No jobs yet. `skimgauge jobs new FILE` writes a job file to begin with.")?;
        return Ok(());
    }
    let mut named: HashMap<&str, usize> = HashMap::new();
    for job in jobs {
        *named.entry(&job.summary.name).or_default() += 1;
    }
    let shared = |name: &str| named[name] > 1;
    let names: Vec<String> = jobs
        .iter()
        .map(|CheckedJob { summary, .. }| match shown(&summary.name) {
            name if shared(&summary.name) => format!("{name} [{}]", summary.id.short()),
            name => name.into_owned(),
        })
        .collect();
    let width = names.iter().map(|name| name.chars().count()).max().unwrap_or(0).clamp(3, 40);
    let verdicts: Vec<String> = jobs.iter().map(verdict).collect();
    let wide = verdicts.iter().map(|verdict| verdict.chars().count()).max().unwrap_or(0).max(7);
    writeln!(
        out,
        "{:width$}  {:23}  {:23}  {:>5}  {:wide$}  state",
        "job", "opened", "last", "takes", "verdict"
    )?;
    for (at, ((job, name), verdict)) in jobs.iter().zip(names).zip(verdicts).enumerate() {
        let about = &job.summary;
        let (opened, last) = (minute(about.opened), minute(about.last));
        writeln!(
            out,
            "{name:width$}  {opened:23}  {last:23}  {:>5}  {verdict:wide$}  {}",
            about.takes,
            state(job)
        )?;
        if let Some(beside) = beside.get(at).filter(|beside| !beside.is_empty()) {
            writeln!(out, "  {}", shown(beside))?;
        }
    }
    Ok(())
}

/// With the places that it speaks of.
fn verdict(job: &CheckedJob) -> String {
    if job.simulated {
        return "simulated".to_owned();
    }
    let verdict = job.summary.verdict.filter(|_| job.broken.is_none());
    verdict_in_short(verdict, job.judged_at.as_ref()).text(Style::default())
}

fn state(job: &CheckedJob) -> String {
    let state = if job.summary.closed { "closed" } else { "open" };
    match &job.broken {
        Some(broken) => format!("BROKEN at event {}", broken.seq),
        None if job.unknown > 0 => format!("{state}, gone on with by a newer version"),
        None => state.to_owned(),
    }
}
