//! `jobs find`: a board found again, and how it was left beside how it is found today.

use super::super::list::SCHEMA;
use super::{Patience, list, open};
use anyhow::{Context, Result, bail};
use jiff::civil::Date;
use skimgauge_firm::found::{Line, Wanted};
use skimgauge_jobfile::JobFile;
use skimgauge_model::{Phase, Verdict};
use skimgauge_quantity::{Mm, Style};
use skimgauge_record::{JobHistory, Record};
use skimgauge_system::terminal::{shown, shown_json};
use std::io::Write;

/// Find jobs of the firm's by client, place, head, emitter, day or verdict.
///
/// Texts are looked for within, small and capital letters alike; each that is said must hold.
#[derive(Debug, Clone, clap::Args)]
pub(in super::super) struct Find {
    /// The firm's jobs; without it the address that is set up.
    #[arg(long, value_name = "URL")]
    from: Option<String>,
    /// In the job's name.
    #[arg(long, value_name = "TEXT")]
    name: Option<String>,
    /// In its client.
    #[arg(long, value_name = "TEXT")]
    client: Option<String>,
    /// In the place where the board hangs.
    #[arg(long, value_name = "TEXT")]
    place: Option<String>,
    /// In the serial number of a head that measured.
    #[arg(long, value_name = "SERIAL")]
    head: Option<String>,
    /// In the emitter's model.
    #[arg(long, value_name = "TEXT")]
    emitter: Option<String>,
    /// Worked on at this day or later, as in 2026-11-26.
    #[arg(long, value_name = "DAY", value_parser = day)]
    since: Option<String>,
    /// Begun on this day or earlier.
    #[arg(long, value_name = "DAY", value_parser = day)]
    until: Option<String>,
    /// With this last verdict: within, outside or unsure.
    #[arg(long, value_name = "VERDICT", value_parser = verdict)]
    verdict: Option<Verdict>,
    /// A job of this record, today's at the same board: how the board was left last time stands
    /// beside how this job found it. Where client and place are not said they are this job's.
    #[arg(long, value_name = "JOB")]
    beside: Option<String>,
    /// As JSON: a line for each job; with --beside one object.
    #[arg(long)]
    json: bool,
}

impl Find {
    /// Whether JSON is written.
    pub(in super::super) fn is_json(&self) -> bool {
        self.json
    }
}

fn day(text: &str) -> Result<String, String> {
    text.parse::<Date>()
        .map(|day| day.to_string())
        .map_err(|_| "a day is written as in 2026-11-26".to_owned())
}

fn verdict(text: &str) -> Result<Verdict, String> {
    Verdict::parse(text).ok_or_else(|| "within, outside or unsure".to_owned())
}

/// Finds jobs.
///
/// # Errors
/// What reading can meet; with `beside`, there is no earlier job at that board.
pub(in super::super) fn find(
    args: &Find,
    record: &dyn Fn() -> Result<Record>,
    style: Style,
    out: &mut dyn Write,
) -> Result<()> {
    let mut wanted = Wanted {
        job: None,
        name: args.name.clone(),
        client: args.client.clone(),
        place: args.place.clone(),
        head: args.head.clone(),
        emitter: args.emitter.clone(),
        since: args.since.clone(),
        until: args.until.clone(),
        verdict: args.verdict,
    };
    let Some(today) = &args.beside else {
        let mut base = open(args.from.as_deref(), &Patience::default())?;
        let lines = base.lines(&wanted)?;
        if lines.is_empty() && !args.json {
            writeln!(out, "No job of the firm's is like that.")?;
            return Ok(());
        }
        return list(&base, &lines, args.json, out);
    };
    let today = record()?.job(today)?;
    if wanted == Wanted::default() {
        let text = today.job_file().unwrap_or_default();
        let file = JobFile::read("job file", text).ok();
        let file = file.context("This job's file cannot be read: say --client or --place.")?;
        (wanted.client, wanted.place) = (file.about.client, file.about.place);
        if wanted.client.is_none() && wanted.place.is_none() {
            bail!("This job says neither client nor place: say --client or --place.");
        }
    }
    let mut base = open(args.from.as_deref(), &Patience::default())?;
    let opened = today.summary.opened.moment();
    let earlier = base.lines(&wanted)?.into_iter().find(|line| {
        let begun = skimgauge_record::When::parse(&line.sum.opened);
        line.id != today.summary.id && begun.is_ok_and(|when| when.moment() < opened)
    });
    let earlier = earlier.context("No earlier job of the firm's is at that board.")?;
    let before = base.branches(earlier.id)?;
    let before = before.into_iter().find(|branch| branch.history.summary.head_hash == earlier.end);
    let before = before
        .context("The earlier job does not hold; `skimgauge jobs verify --from URL` tells more.")?;
    beside(&earlier, &before.history, &today, args.json, style, out)
}

/// One station then and now: mean of the takes that stand.
struct Compared {
    station: String,
    left: Option<Mm>,
    found: Option<Mm>,
}

/// Mean gap at each station of what stands for a state, in the order of the takes.
fn means(job: &JobHistory, phase: Phase) -> Vec<(String, Mm)> {
    let mut stations: Vec<(String, Vec<f64>)> = Vec::new();
    for current in job.standing(phase) {
        let name = &current.take.station;
        match stations.iter_mut().find(|(known, _)| known == name) {
            Some((_, gaps)) => gaps.push(current.take.gap.0),
            None => stations.push((name.clone(), vec![current.take.gap.0])),
        }
    }
    let mean = |gaps: Vec<f64>| Mm(gaps.iter().sum::<f64>() / gaps.len() as f64);
    stations.into_iter().map(|(name, gaps)| (name, mean(gaps))).collect()
}

fn compared(then: &JobHistory, now: &JobHistory) -> Vec<Compared> {
    let mut found = means(now, Phase::AsFound);
    let mut rows: Vec<Compared> = means(then, Phase::AsLeft)
        .into_iter()
        .map(|(station, left)| {
            let at = found.iter().position(|(name, _)| *name == station);
            let found = at.map(|at| found.remove(at).1);
            Compared { station, left: Some(left), found }
        })
        .collect();
    rows.extend(found.into_iter().map(|(station, gap)| Compared {
        station,
        left: None,
        found: Some(gap),
    }));
    rows
}

/// As JSON one object: `schema` (1), `kind` (`beside`), `then` and `now` (`id`, `name`, `opened`,
/// `last`), `stations` (`station`, `as_left_mm`, `as_found_mm`, `change_mm`; null where it was not
/// taken).
fn beside(
    line: &Line,
    then: &JobHistory,
    now: &JobHistory,
    json: bool,
    style: Style,
    out: &mut dyn Write,
) -> Result<()> {
    let rows = compared(then, now);
    let change = |row: &Compared| Some(Mm(row.found?.0 - row.left?.0));
    if json {
        let of = |job: &JobHistory| {
            let about = &job.summary;
            serde_json::json!({"id": about.id, "name": about.name, "opened": about.opened, "last": about.last})
        };
        let number = |length: Option<Mm>| length.map(|mm| mm.0);
        let stations: Vec<_> = rows
            .iter()
            .map(|row| {
                serde_json::json!({
                    "station": row.station,
                    "as_left_mm": number(row.left),
                    "as_found_mm": number(row.found),
                    "change_mm": number(change(row)),
                })
            })
            .collect();
        let object = serde_json::json!({
            "schema": SCHEMA, "kind": "beside", "then": of(then), "now": of(now), "stations": stations,
        });
        writeln!(out, "{}", shown_json(&object.to_string()))?;
        return Ok(());
    }
    let day = |when: skimgauge_record::When| when.to_string().chars().take(10).collect::<String>();
    writeln!(
        out,
        "\"{}\" of {}, {}, beside \"{}\" of {}",
        shown(&then.summary.name),
        day(then.summary.last),
        shown(&line.branch()),
        shown(&now.summary.name),
        day(now.summary.opened)
    )?;
    let width =
        rows.iter().map(|row| shown(&row.station).chars().count()).max().unwrap_or(0).max(7);
    let sign = style.units.sign();
    let (left, found) = (format!("left {sign}"), format!("found {sign}"));
    writeln!(out, "  {:width$}  {left:>9}  {found:>9}  {:>9}", "station", "change")?;
    let number = |length: Option<Mm>| {
        length.map_or_else(|| "-".to_owned(), |mm| mm.gap().number(style).to_string())
    };
    for row in &rows {
        writeln!(
            out,
            "  {:width$}  {:>9}  {:>9}  {:>9}",
            shown(&row.station),
            number(row.left),
            number(row.found),
            number(change(row))
        )?;
    }
    if rows.is_empty() {
        writeln!(out, "  Neither has takes that could be held against each other.")?;
    }
    Ok(())
}
