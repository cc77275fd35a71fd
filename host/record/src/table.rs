//! A job for other programs: CSV and JSON.

use std::collections::HashSet;
use std::io::{self, Write};

use serde::Serialize;
use skimgauge_quantity::{shown, shown_json};

use crate::JobHistory;
use crate::event::{Came, Phase, Sayer, TakeFlag, Verdict};
use crate::practice::{Heads, simulated};
use crate::takes::CurrentTake;

/// Version of the JSON form; raised when a field goes or changes its meaning. In version 2 events
/// speak of each other by hash.
pub const JSON_VERSION: u32 = 2;

/// The columns of [`write_takes`], in order.
pub const TAKE_COLUMNS: [&str; 29] = [
    "seq",
    "at",
    "who",
    "stands",
    "station",
    "x_mm",
    "y_mm",
    "phase",
    "round",
    "gap_mm",
    "u_gap_mm",
    "dof",
    "readings",
    "window_s",
    "tilt_deg",
    "level_deg",
    "lean_deg",
    "temperature_c",
    "verdict",
    "head",
    "firmware",
    "calibration_date",
    "flags",
    "supersedes",
    "hash",
    "as_left",
    "came",
    "by",
    "simulated",
];

/// Writes every take on a line of CSV (RFC 4180) under [`TAKE_COLUMNS`]; `stands` is `yes` for
/// those that [`JobHistory::current_takes`] gives. What was not measured is empty.
///
/// # Errors
/// What `to` reports.
pub fn write_takes(job: &JobHistory, to: impl Write) -> io::Result<()> {
    let seqs = |takes: Vec<CurrentTake<'_>>| {
        takes.iter().map(|current| current.event.seq).collect::<HashSet<_>>()
    };
    let (stands, left) = (seqs(job.current_takes()), seqs(job.standing(Phase::AsLeft)));
    let yes = |yes: bool| if yes { "yes" } else { "no" }.to_owned();
    let mut table = csv_writer(to);
    table.write_record(TAKE_COLUMNS)?;
    for CurrentTake { event, take } in job.takes() {
        let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
        table.write_record([
            event.seq.to_string(),
            event.at.to_string(),
            cell(&event.who),
            yes(stands.contains(&event.seq)),
            cell(&take.station),
            take.x.0.to_string(),
            take.y.0.to_string(),
            take.phase.word().to_owned(),
            take.round.to_string(),
            take.gap.0.to_string(),
            take.u_gap.0.to_string(),
            number(take.dof),
            take.readings.to_string(),
            take.window_s.to_string(),
            number(take.tilt.map(|deg| deg.0)),
            number(take.level.map(|deg| deg.0)),
            number(take.lean.map(|deg| deg.0)),
            number(take.temperature.map(|celsius| celsius.0)),
            take.verdict.map_or("", Verdict::word).to_owned(),
            cell(&take.head.serial),
            cell(&take.head.firmware),
            cell(take.head.calibration_date.as_deref().unwrap_or_default()),
            cell(&take.flags.iter().map(TakeFlag::word).collect::<Vec<_>>().join("; ")),
            take.supersedes
                .and_then(|hash| job.place(hash))
                .map(|seq| seq.to_string())
                .unwrap_or_default(),
            event.hash.to_string(),
            yes(left.contains(&event.seq)),
            match &take.came {
                None => String::new(),
                Some(Came::First) => "first".to_owned(),
                Some(Came::Same) => "same".to_owned(),
                Some(Came::Seen) => "seen".to_owned(),
                Some(Came::Said { .. }) => "said".to_owned(),
            },
            cell(take.by.as_ref().map_or("", Sayer::word)),
            mark(take.head.is_simulated()),
        ])?;
    }
    table.flush()
}

/// Writes every event on a line of CSV: place, when, seconds the clock was set back, who, software,
/// kind, content as JSON, hash, whether it is of a practice with a simulated head.
///
/// # Errors
/// What `to` reports.
pub fn write_events(job: &JobHistory, to: impl Write) -> io::Result<()> {
    let mut table = csv_writer(to);
    table.write_record([
        "seq",
        "at",
        "clock_back_s",
        "who",
        "software",
        "kind",
        "content",
        "hash",
        "simulated",
    ])?;
    for (event, simulated) in job.events.iter().zip(simulated(&job.events)) {
        table.write_record([
            event.seq.to_string(),
            event.at.to_string(),
            event.clock_back_s.map(|back| back.to_string()).unwrap_or_default(),
            cell(&event.who),
            cell(&event.software),
            cell(event.body.kind()),
            cell(&shown_json(&event.body.payload().map_err(io::Error::other)?)),
            event.hash.to_string(),
            mark(simulated),
        ])?;
    }
    table.flush()
}

/// Beside what was read of a simulated head: in capitals, so that no row of it passes for a board's.
fn mark(simulated: bool) -> String {
    if simulated { "SIMULATED" } else { "no" }.to_owned()
}

/// A text as a cell that no spreadsheet takes for a formula: one that begins with a sign that opens
/// one is kept from it by an apostrophe before it (OWASP, "CSV Injection"). Numbers are written by
/// this program and stay as they are.
fn cell(text: &str) -> String {
    let text = shown(text).into_owned();
    let opens = [
        '=',
        '+',
        '-',
        '@',
        '\u{ff1d}',
        '\u{ff0b}',
        '\u{ff0d}',
        '\u{ff20}',
        char::REPLACEMENT_CHARACTER,
    ];
    if text.trim_start().starts_with(opens) { format!("'{text}") } else { text }
}

fn csv_writer<W: Write>(to: W) -> csv::Writer<W> {
    csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(to)
}

/// A job in its JSON form.
#[derive(Serialize)]
struct Document<'a> {
    format: &'static str,
    format_version: u32,
    practice: Option<&'static str>,
    #[serde(flatten)]
    job: &'a JobHistory,
}

/// Writes the job as one JSON object: `format`, `format_version`, `practice` (null; else what of it
/// was read of a simulated head), `summary`, `events` (each with
/// `seq`, `at`, `clock_back_s`, `who`, `software`, `kind`, `payload`, `hash`), `broken`. Photos are
/// named by their hash.
///
/// # Errors
/// What `to` reports.
pub fn write_json(job: &JobHistory, mut to: impl Write) -> io::Result<()> {
    let practice = match job.heads() {
        Heads::Simulated => Some("all: read of a simulated head, nothing was measured on a board"),
        Heads::Real if simulated(&job.events).contains(&true) => {
            Some("some: events whose head is simulated (SIM-...) or that say so count for nothing")
        }
        Heads::Real | Heads::None => None,
    };
    let document =
        Document { format: "skimgauge job", format_version: JSON_VERSION, practice, job };
    let text = serde_json::to_string_pretty(&document)?;
    to.write_all(shown_json(&text).as_bytes())?;
    to.write_all(b"\n")?;
    to.flush()
}
