//! `jobs list` and `jobs show`: the record for people.

use crate::console::screen::words;
use crate::lengths::Lengths;
use anyhow::Result;
use serde::Serialize;
use skimgauge_handover::units::turn as turn_words;
use skimgauge_metrology::verdict::{JudgedAt, WholeBoard};
use skimgauge_model::Verdict;
use skimgauge_record::event::{self, Body, Came, Difference, Judged, Phase, VerdictWord};
use skimgauge_record::history::CheckedJob;
use skimgauge_record::sign::fingerprint;
use skimgauge_record::{Event, JobHistory, When};
use skimgauge_system::terminal::{shown, shown_json};
use std::io::{self, Write};

/// Version of what `jobs` writes with `--json`; fields may be added, what is there keeps its
/// meaning.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct Line<'a> {
    schema: u32,
    kind: &'static str,
    #[serde(flatten)]
    job: &'a CheckedJob,
}

/// Lists jobs.
///
/// As JSON a line for each: `schema` (1), `kind` (`job`), `id`, `name`, `opened`, `last`, `events`,
/// `takes`, `verdict` (`within`, `outside`, `unsure` or null), `closed`, `head_hash`, `unknown`
/// (events by a newer program), `broken` (null, or `seq` and `why`).
///
/// # Errors
/// What `out` reports.
pub fn list(jobs: &[CheckedJob], json: bool, out: &mut dyn Write) -> Result<()> {
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
    let shared = |name: &str| jobs.iter().filter(|job| job.summary.name == name).count() > 1;
    let names: Vec<String> = jobs
        .iter()
        .map(|CheckedJob { summary, .. }| match shown(&summary.name) {
            name if shared(&summary.name) => format!("{name} [{}]", summary.id.short()),
            name => name.into_owned(),
        })
        .collect();
    let width = names.iter().map(|name| name.chars().count()).max().unwrap_or(0).clamp(3, 40);
    writeln!(
        out,
        "{:width$}  {:16}  {:16}  {:>5}  {:19}  state",
        "job", "opened", "last", "takes", "verdict"
    )?;
    for (job, name) in jobs.iter().zip(names) {
        let about = &job.summary;
        let (opened, last) = (minute(about.opened), minute(about.last));
        let verdict = word(about.verdict.filter(|_| job.broken.is_none()));
        writeln!(
            out,
            "{name:width$}  {opened:16}  {last:16}  {:>5}  {verdict:19}  {}",
            about.takes,
            state(job)
        )?;
    }
    Ok(())
}

fn state(job: &CheckedJob) -> String {
    let state = if job.summary.closed { "closed" } else { "open" };
    match &job.broken {
        Some(broken) => format!("BROKEN at event {}", broken.seq),
        None if job.unknown > 0 => format!("{state}, gone on with by a newer version"),
        None => state.to_owned(),
    }
}

/// Shows one job.
///
/// # Errors
/// What `out` reports.
pub fn show(job: &JobHistory, units: Lengths, out: &mut dyn Write) -> Result<()> {
    let about = &job.summary;
    let state = if about.closed { "closed" } else { "open" };
    writeln!(
        out,
        "{}: {state}, {} events, opened {}, last {}",
        shown(&about.name),
        about.events,
        second(about.opened),
        second(about.last)
    )?;
    if let Some(broken) = &job.broken {
        writeln!(
            out,
            "THE RECORD OF THIS JOB IS BROKEN at event {}: {}. What follows stands before the break.",
            broken.seq,
            shown(&broken.why)
        )?;
    }
    match job.unknown() {
        0 => {}
        n => writeln!(
            out,
            "{n} of its events were written by a newer version of skimgauge: what they say is not counted here. Update skimgauge."
        )?,
    }
    for (phase, title) in
        [(Phase::AsFound, "As found"), (Phase::Between, "In between"), (Phase::AsLeft, "As left")]
    {
        show_phase(job, phase, title, units, out)?;
    }
    let mut title = Some("Events besides takes");
    for event in &job.events {
        let told_above =
            matches!(event.body, Body::Take(_) | Body::JobOpened(_)) || event.copy_of.is_some();
        if told_above && event.clock_back_s.is_none() {
            continue;
        }
        if let Some(title) = title.take() {
            writeln!(out, "\n{title}")?;
        }
        writeln!(
            out,
            "  {:>4}  {}  {}  {}",
            event.seq,
            second(event.at),
            shown(&event.who),
            shown(&told(job, event, units))
        )?;
        if let Some(back_s) = event.clock_back_s {
            writeln!(out, "        the clock was set back by {back_s:.0} s before this")?;
        }
    }
    writeln!(out, "\nHash of the last event: {}", about.head_hash)?;
    writeln!(out, "Identity of the job:    {}", about.id)?;
    Ok(())
}

fn show_phase(
    job: &JobHistory,
    phase: Phase,
    title: &str,
    units: Lengths,
    out: &mut dyn Write,
) -> io::Result<()> {
    let takes = job.standing(phase);
    if takes.is_empty() && job.verdict(phase).is_none() {
        return Ok(());
    }
    writeln!(out, "\n{title}")?;
    let width = takes
        .iter()
        .map(|current| shown(&current.take.station).chars().count())
        .max()
        .unwrap_or(0)
        .max(7);
    if !takes.is_empty() {
        let (gap, u) = (format!("gap {}", units.sign()), format!("u {}", units.sign()));
        writeln!(
            out,
            "  {:>4}  {:width$}  {gap:>8}  {u:>7}  {:19}  when",
            "", "station", "verdict"
        )?;
    }
    for current in takes {
        let take = current.take;
        let (station, verdict) = (shown(&take.station), word(take.verdict));
        let mut noticed = take.flags.clone();
        if let Some(Came::Said { last_at }) = &take.came {
            let from =
                last_at.as_ref().map_or_else(String::new, |last| format!(" and not at {last}"));
            noticed.push(format!("the head was said to be here{from}"));
        }
        let flags = if noticed.is_empty() {
            String::new()
        } else {
            format!("  ({})", shown(&noticed.join(", ")))
        };
        let (seq, at) = (current.event.seq, second(current.event.at));
        writeln!(
            out,
            "  {seq:>4}  {station:width$}  {:>8}  {:>7}  {verdict:19}  {at}{flags}",
            units.gap_number(take.gap_mm),
            units.fine_number(take.u_gap_mm)
        )?;
    }
    match job.verdict(phase) {
        Some(judged) => writeln!(out, "  Verdict: {}", shown(&units.sentence(&verdict(judged)))),
        None => writeln!(out, "  Verdict: none yet"),
    }
}

fn verdict(judged: &Judged) -> String {
    let mut text = match (judged.verdict, &judged.judged_at) {
        (VerdictWord::Within, Some(at)) => {
            let at = match at {
                event::JudgedAt::Places(names) => JudgedAt::Places(names.clone()),
                event::JudgedAt::Board => JudgedAt::Board(WholeBoard::Board),
            };
            format!("{} {}", words::shape(Verdict::Within), words::verdict_at(Verdict::Within, &at))
        }
        (VerdictWord::Within, None) => {
            format!("{} (this record does not say at which places)", word(Some(judged.verdict)))
        }
        (other, _) => word(Some(other)),
    };
    if let (Some(worst), Some(gap_mm)) = (&judged.worst, judged.worst_gap_mm) {
        text += &format!("; what limits it: {}: {gap_mm:.2} mm", worst.name);
    }
    if let Some(margin_mm) = judged.margin_mm {
        let side = if margin_mm < 0.0 { "beyond" } else { "inside" };
        text += &format!(", {:.2} mm {side} the band", margin_mm.abs());
    }
    if let Some(u_mm) = judged.expanded_u_mm {
        text += &format!(", known to ± {u_mm:.2} mm");
    }
    for name in ["level", "lean"] {
        let tilt = &judged.detail[name];
        if let (Some(deg), Some(expanded_deg)) =
            (tilt["value_deg"].as_f64(), tilt["expanded_deg"].as_f64())
        {
            text += &format!("; {name} {deg:+.2} deg ± {expanded_deg:.2}");
        }
    }
    if let Some(settle) = &judged.would_settle {
        text += &format!("; to settle it: {settle}");
    }
    text
}

/// An event in one line.
fn told(job: &JobHistory, event: &Event, units: Lengths) -> String {
    let text = match event.copy_of.and_then(|first| job.place(first)) {
        Some(first) => format!("{first} written again, as left"),
        None => told_in_mm(job, &event.body),
    };
    match &event.body {
        // What a person wrote stays as it was written.
        Body::Note(_)
        | Body::PhotoAttached(_)
        | Body::Closed(_)
        | Body::Unknown(_)
        | Body::Salvaged(_) => text,
        _ => units.sentence(&text),
    }
}

fn told_in_mm(job: &JobHistory, body: &Body) -> String {
    match body {
        Body::JobOpened(_) => "job opened".to_owned(),
        Body::JobRevised(revised) => format!("job file changed{}", said_same(&revised.said_same)),
        Body::AsLeft(left) => {
            let tilt = if left.tilt.is_some() { ", and the emitter's tilt" } else { "" };
            match left.takes.len() {
                1 => format!("left as 1 take found it{tilt}"),
                takes => format!("left as {takes} takes found it{tilt}"),
            }
        }
        Body::Unknown(unknown) => format!("\"{}\": written by a newer program", unknown.kind),
        Body::Salvaged(saved) => format!(
            "saved from behind a break at {}: event {}, \"{}\", by {}, {}; whether it belongs here nobody can say",
            saved.broke_at, saved.seq, saved.kind, saved.who, saved.at
        ),
        Body::CalibrationUsed(used) => {
            format!(
                "head {} with zero {:.3} mm, u {:.3} mm",
                used.head.serial, used.zero_mm, used.u_zero_mm
            )
        }
        Body::Calibrated(zero) => format!("head {} zeroed on {}", zero.head.serial, zero.reference),
        Body::Take(take) => format!("take at {}: {:.2} mm", take.station, take.gap_mm),
        Body::EmitterTilt(tilt) => {
            format!(
                "the emitter itself stands, against gravity, turned by {:.3} deg and toward the board by {:.3} deg, u {:.3} deg",
                tilt.level_deg, tilt.lean_deg, tilt.u_deg
            )
        }
        Body::TurnAdvised(turn) => {
            format!(
                "advised: {}, {}, until {} reads {:.2} mm",
                turn.adjuster,
                turn_words(turn.turns),
                turn.station,
                turn.target_gap_mm
            )
        }
        Body::TurnObserved(turn) => format!(
            "{} turned: {} went from {:.2} to {:.2} mm{}",
            turn.adjuster,
            turn.station,
            turn.gap_before_mm,
            turn.gap_after_mm,
            if turn.flags.is_empty() {
                String::new()
            } else {
                format!(" ({})", turn.flags.join(", "))
            }
        ),
        Body::Judged(judged) => {
            format!("verdict, {}: {}", judged.phase.as_str().replace('-', " "), verdict(judged))
        }
        Body::Section(section) => {
            let name = serde_json::to_value(section.section).ok();
            format!(
                "result of {}",
                name.as_ref().and_then(serde_json::Value::as_str).unwrap_or("other work")
            )
        }
        Body::Note(note) => match note.about.and_then(|about| job.place(about)) {
            Some(seq) => format!("note on {seq}: {}", note.text),
            None => format!("note: {}", note.text),
        },
        Body::PhotoAttached(photo) => {
            let caption =
                photo.caption.as_ref().map(|caption| format!(": {caption}")).unwrap_or_default();
            format!("attached {} ({} kB){caption}", photo.name, photo.bytes.div_ceil(1000))
        }
        Body::Closed(closed) if closed.open_points.is_empty() => {
            "closed, nothing left to do".to_owned()
        }
        Body::Closed(closed) => format!("closed; left to do: {}", closed.open_points.join("; ")),
        Body::Signed(signed) => {
            format!("signed with {}", fingerprint(&signed.public_key).unwrap_or_default())
        }
    }
}

/// In what another job file was of the same job, in the person's word.
fn said_same(differs: &[Difference]) -> String {
    let said = |text: &Option<String>| text.clone().unwrap_or_else(|| "not said".to_owned());
    let list: Vec<String> = differs
        .iter()
        .map(|d| format!("{} was {}, is {}", d.what, said(&d.was), said(&d.is)))
        .collect();
    if list.is_empty() {
        String::new()
    } else {
        format!("; said to be the same job, though {}", list.join("; "))
    }
}

/// A verdict by shape and word.
fn word(verdict: Option<VerdictWord>) -> String {
    let verdict = match verdict {
        None => return "-".to_owned(),
        Some(VerdictWord::Within) => Verdict::Within,
        Some(VerdictWord::Outside) => Verdict::Outside,
        Some(VerdictWord::Unsure) => Verdict::Unsure,
    };
    format!("{} {}", words::shape(verdict), words::verdict(verdict))
}

/// To the second, with its offset.
fn second(when: When) -> String {
    let text = when.to_string();
    let offset = text.find(['+', 'Z']).or_else(|| text.rfind('-')).unwrap_or(text.len());
    format!(
        "{} {}",
        text.chars().take(19).map(|c| if c == 'T' { ' ' } else { c }).collect::<String>(),
        &text[offset..]
    )
}

fn minute(when: When) -> String {
    when.to_string().chars().take(16).map(|c| if c == 'T' { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_handover::Units;
    use skimgauge_record::event::{Head, Note, Point, Take};
    use skimgauge_record::{Record, Stamp};

    #[test]
    fn a_job_is_shown_in_inches_and_notes_as_they_were_written() {
        let folder = tempfile::tempdir().unwrap();
        let mut record = Record::create(&folder.path().join("r.sqlite")).unwrap();
        let stamp =
            Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "A. Fitter", "test")
                .unwrap();
        record
            .open_job(
                skimgauge_record::JobId([1; 16]),
                "wall",
                skimgauge_jobfile::demo_job(),
                &stamp,
            )
            .unwrap();
        let head = Head {
            serial: "SG-1".to_owned(),
            firmware: "0.1.0".to_owned(),
            calibration_date: None,
            calibration_sha256: None,
        };
        let take = Take {
            station: "left".to_owned(),
            x_mm: -900.0,
            y_mm: -600.0,
            phase: Phase::AsFound,
            round: 1,
            gap_mm: 5.08,
            u_gap_mm: 0.0508,
            dof: None,
            readings: 50,
            window_s: 1.0,
            tilt_deg: None,
            level_deg: None,
            lean_deg: None,
            temperature_c: None,
            verdict: Some(VerdictWord::Outside),
            head,
            flags: Vec::new(),
            supersedes: None,
            came: None,
        };
        record.append("wall", &stamp, take).unwrap();
        let judged = Judged {
            verdict: VerdictWord::Outside,
            phase: Phase::AsFound,
            worst: Some(Point {
                name: "middle of the left edge".to_owned(),
                x_mm: -900.0,
                y_mm: -600.0,
            }),
            worst_gap_mm: Some(5.08),
            margin_mm: Some(-1.08),
            expanded_u_mm: Some(0.1),
            decision_rule: String::new(),
            would_settle: None,
            judged_at: None,
            detail: serde_json::Value::Null,
        };
        record.append("wall", &stamp, judged).unwrap();
        record
            .append("wall", &stamp, Note { text: "plate 8 mm thick".to_owned(), about: None })
            .unwrap();
        let history = record.job("wall").unwrap();
        let shown = |units| {
            let mut out = Vec::new();
            show(&history, Lengths(units), &mut out).unwrap();
            String::from_utf8(out).unwrap()
        };
        let (mm, inch) = (shown(Units::Mm), shown(Units::Inch));
        for said in [
            "gap in",
            "0.200   0.0020",
            "middle of the left edge: 0.200 in, 0.043 in beyond the band, known to ± 0.004 in",
        ] {
            assert!(inch.contains(said), "{said}: {inch}");
        }
        assert!(inch.contains("note: plate 8 mm thick"), "{inch}");
        assert!(
            mm.contains("5.08    0.051")
                && mm.contains("1.08 mm beyond the band, known to ± 0.10 mm"),
            "{mm}"
        );
    }
}
