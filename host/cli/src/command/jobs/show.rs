//! `jobs show`: one job for people.

use super::told::{told, verdict, word};
use crate::report::second;
use anyhow::Result;
use skimgauge_quantity::{Style, count, counted};
use skimgauge_record::JobHistory;
use skimgauge_record::event::{Body, Came, Phase};
use skimgauge_record::practice::{Heads, simulated};
use skimgauge_system::terminal::shown;
use std::io::{self, Write};

/// What is said of a record that is not as this program makes it.
pub(super) const ALTERED: &str = "THIS RECORD'S TABLES ARE NOT THOSE THAT SKIMGAUGE MAKES: something altered them, so that it does not refuse what it should. \
`skimgauge jobs verify` with this record tells more.";

/// Shows one job.
///
/// # Errors
/// What `out` reports.
pub(super) fn show(job: &JobHistory, style: Style, out: &mut dyn Write) -> Result<()> {
    let about = &job.summary;
    let state = if about.closed { "closed" } else { "open" };
    writeln!(
        out,
        "{}: {state}, {}, opened {}, last {}",
        shown(&about.name),
        count(about.events, "event"),
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
    if job.altered {
        writeln!(out, "{ALTERED}")?;
    }
    match job.heads() {
        Heads::Simulated => writeln!(
            out,
            "PRACTICE: what follows was read of a simulated head. Nothing of it was measured on a board."
        )?,
        Heads::Real if simulated(&job.events).contains(&true) => writeln!(
            out,
            "What is called simulated here was practised with a simulated head: nothing of it counts."
        )?,
        Heads::Real | Heads::None => {}
    }
    match job.unknown() {
        0 => {}
        n => writeln!(
            out,
            "Of its events {} written by a newer version of skimgauge: not counted here. Update skimgauge.",
            counted(n, "was", "were")
        )?,
    }
    for (phase, title) in
        [(Phase::AsFound, "As found"), (Phase::Between, "In between"), (Phase::AsLeft, "As left")]
    {
        show_phase(job, phase, title, style, out)?;
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
            shown(&told(job, event).text(style))
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
    style: Style,
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
        let sign = style.units.sign();
        let (gap, u) = (format!("gap {sign}"), format!("u {sign}"));
        writeln!(
            out,
            "  {:>4}  {:width$}  {gap:>8}  {u:>7}  {:19}  when",
            "", "station", "verdict"
        )?;
    }
    for current in takes {
        let take = current.take;
        let (station, verdict) = (shown(&take.station), word(take.verdict).text(style));
        let mut noticed: Vec<String> = Vec::new();
        if take.head.is_simulated() {
            noticed.push("simulated".to_owned());
        }
        noticed.extend(take.flags.iter().map(|flag| flag.word().to_owned()));
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
            take.gap.gap().number(style),
            take.u_gap.fine().number(style)
        )?;
    }
    match job.verdict(phase) {
        Some(judged) => writeln!(out, "  Verdict: {}", verdict(judged).text(style)),
        None => writeln!(out, "  Verdict: none yet"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_quantity::{Mm, Units};
    use skimgauge_record::event::{Detail, Head, Judged, Note, Point, Station, Take, Verdict};
    use skimgauge_record::{Record, Stamp, When};

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
            x: Mm(-900.0),
            y: Mm(-600.0),
            phase: Phase::AsFound,
            round: 1,
            gap: Mm(5.08),
            u_gap: Mm(0.0508),
            dof: None,
            readings: 50,
            window_s: 1.0,
            tilt: None,
            level: None,
            lean: None,
            temperature: None,
            verdict: Some(Verdict::Outside),
            head,
            flags: Vec::new(),
            supersedes: None,
            came: None,
            by: None,
        };
        record.append("wall", &stamp, take).unwrap();
        let judged = Judged {
            verdict: Verdict::Outside,
            phase: Phase::AsFound,
            worst: Some(Station {
                name: "shelf at 100 mm".to_owned(),
                at: Point { x: Mm(-900.0), y: Mm(-600.0) },
            }),
            worst_gap: Some(Mm(5.08)),
            margin: Some(Mm(-1.08)),
            expanded_u: Some(Mm(0.1)),
            decision_rule: String::new(),
            would_settle: None,
            judged_at: None,
            detail: Detail::default(),
            simulated: false,
            survey_sha256: None,
        };
        record.append("wall", &stamp, judged).unwrap();
        record
            .append("wall", &stamp, Note { text: "plate 8 mm thick".to_owned(), about: None })
            .unwrap();
        let history = record.job("wall").unwrap();
        let shown = |units| {
            let mut out = Vec::new();
            show(&history, Style::typed(units), &mut out).unwrap();
            String::from_utf8(out).unwrap()
        };
        let (mm, inch) = (shown(Units::Mm), shown(Units::Inch));
        for said in [
            "gap in",
            "0.200   0.0020",
            "shelf at 100 mm: 0.200 in, 0.043 in beyond the band, known to ± 0.004 in",
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
