//! `--from`: the firm's jobs listed, shown and verified.

use super::super::list::{self as listing, SCHEMA};
use super::super::{Form, check, show as showing};
use super::{is_meant, meant};
use crate::outcome::{Ended, Outcome};
use anyhow::{Result, bail};
use skimgauge_firm::check::verify as verify_all;
use skimgauge_firm::found::{Branch, Line};
use skimgauge_firm::{Base, FirmError};
use skimgauge_quantity::Style;
use skimgauge_record::JobId;
use skimgauge_record::history::CheckedJob;
use skimgauge_record::table;
use skimgauge_system::terminal::{shown, shown_json};
use std::collections::{HashMap, HashSet};
use std::io::Write;

/// Lists lines: namesakes with client and place, branches with who sent them. As JSON a line for
/// each.
///
/// # Errors
/// What `out` reports, or what is summed up makes no sense.
pub(in super::super) fn list(
    base: &Base,
    lines: &[Line],
    json: bool,
    out: &mut dyn Write,
) -> Result<()> {
    let jobs: Vec<CheckedJob> =
        lines.iter().map(|line| line.summary(base)).collect::<Result<_, FirmError>>()?;
    if json {
        for (job, line) in jobs.iter().zip(lines) {
            writeln!(out, "{}", shown_json(&as_json(job, line)?.to_string()))?;
        }
        return Ok(());
    }
    listing::list(&jobs, &beside(lines), false, out)?;
    if !jobs.is_empty() {
        writeln!(
            out,
            "As its senders summed it up; `skimgauge jobs verify --from URL` goes through every link."
        )?;
    }
    Ok(())
}

/// A line as JSON: what a list of a record has, and `client`, `place`, `emitter` (null where the job
/// file says none), `heads`, `laptop`, `received` (who sent its last event, and when).
fn as_json(job: &CheckedJob, line: &Line) -> serde_json::Result<serde_json::Value> {
    let mut object = serde_json::json!({
        "schema": SCHEMA,
        "kind": "job",
        "client": line.sum.client,
        "place": line.sum.place,
        "emitter": line.sum.emitter,
        "heads": line.sum.heads,
        "laptop": line.laptop,
        "received": line.received,
    });
    if let (Some(object), serde_json::Value::Object(job)) =
        (object.as_object_mut(), serde_json::to_value(job)?)
    {
        object.extend(job);
    }
    Ok(object)
}

/// What tells each line from others of its name or of its job.
fn beside(lines: &[Line]) -> Vec<String> {
    let mut named: HashMap<&str, HashSet<JobId>> = HashMap::new();
    let mut branches: HashMap<JobId, usize> = HashMap::new();
    for line in lines {
        named.entry(&line.sum.name).or_default().insert(line.id);
        *branches.entry(line.id).or_default() += 1;
    }
    let of_line = |line: &Line| {
        let mut parts = Vec::new();
        if named[line.sum.name.as_str()].len() > 1 {
            parts.extend([&line.sum.client, &line.sum.place].into_iter().flatten().cloned());
        }
        if branches[&line.id] > 1 {
            parts.push(format!(
                "the branch {}, which ends with {}",
                line.branch(),
                line.end.short()
            ));
        }
        parts.join(", ")
    };
    lines.iter().map(of_line).collect()
}

/// Shows a job, each of its branches. Exit status 1: one is damaged.
///
/// # Errors
/// What reading can meet; several branches, where programs want one.
pub(in super::super) fn show(
    base: &mut Base,
    job: &str,
    branch: Option<&str>,
    form: Option<Form>,
    style: Style,
    out: &mut dyn Write,
) -> Outcome {
    let branches = match (form, branch) {
        (None, None) => {
            let job = meant(base, job)?;
            base.branches(job)?
        }
        _ => vec![one(base, job, branch)?.1],
    };
    let many = branches.len();
    for (at, branch) in branches.iter().enumerate() {
        let history = &branch.history;
        match form {
            Some(Form::Json) => table::write_json(history, &mut *out)?,
            Some(Form::Takes) => table::write_takes(history, &mut *out)?,
            Some(Form::Events) => table::write_events(history, &mut *out)?,
            None => {
                if many > 1 {
                    let gap = if at == 0 { "" } else { "\n" };
                    writeln!(
                        out,
                        "{gap}== Branch {} of {many}, {}",
                        at + 1,
                        shown(&branch.name())
                    )?;
                }
                showing::show(history, style, out)?;
            }
        }
    }
    if form.is_none() && many > 1 {
        writeln!(
            out,
            "\nThe job was gone on with apart. `skimgauge jobs join` makes its branches one."
        )?;
    }
    let broken = branches.iter().any(|branch| branch.history.broken.is_some());
    Ok(if broken { Ended::Outside } else { Ended::Well })
}

/// One branch of a job: the one that is said, or the only one.
///
/// # Errors
/// What reading can meet; there are several, and none is said; there is none that is said.
pub(in super::super) fn one(
    base: &mut Base,
    job: &str,
    branch: Option<&str>,
) -> Result<(JobId, Branch)> {
    let id = meant(base, job)?;
    let mut branches = base.branches(id)?;
    let wanted = |at: &usize| {
        branch.is_none_or(|said| is_meant(branches[*at].history.summary.head_hash, said))
    };
    let picked: Vec<usize> = (0..branches.len()).filter(wanted).collect();
    if let [only] = picked.as_slice() {
        return Ok((id, branches.swap_remove(*only)));
    }
    let list: Vec<String> =
        branches.iter().map(|branch| format!("one {}", branch.name())).collect();
    if let (1, Some(said)) = (branches.len(), branch) {
        bail!("No branch of the job \"{job}\" ends with {said}; it has {}.", list.join("; "));
    }
    bail!(
        "The job \"{job}\" was gone on with apart: {}. Say which with --branch HASH; `skimgauge jobs join` makes them one.",
        list.join("; ")
    )
}

/// Checks all of the firm's jobs that this account may read.
///
/// As JSON one object: `schema` (1), `kind` (`verify`), `sound` and `report` (`place`, `jobs`,
/// `findings`).
///
/// # Errors
/// What reading can meet.
pub(in super::super) fn verify(base: &mut Base, json: bool, out: &mut dyn Write) -> Outcome {
    let report = verify_all(base)?;
    if json {
        let object = serde_json::json!({
            "schema": SCHEMA,
            "kind": "verify",
            "sound": report.sound(),
            "report": report,
        });
        writeln!(out, "{}", shown_json(&object.to_string()))?;
    } else {
        for job in &report.jobs {
            check::say_job(job, out)?;
        }
        for finding in &report.findings {
            writeln!(out, "{}", shown(finding))?;
        }
        if report.sound() {
            writeln!(
                out,
                "Every link holds in what {} may read; nothing there speaks against it.",
                shown(&report.place)
            )?;
        } else {
            writeln!(
                out,
                "Something is WRONG. Leave it as it is; the crews' own records hold what they sent."
            )?;
        }
        let unsigned = report.jobs.iter().any(|job| job.signatures.is_empty());
        writeln!(
            out,
            "But whoever owns the database could have taken a whole job away or cut off its last entries{}. The crews' records settle \
             that: what they send again is put back, and where it parts from what is there both are kept and shown.",
            if unsigned {
                ", or written a job that nobody signed anew from end to end"
            } else {
                ""
            }
        )?;
    }
    Ok(if report.sound() { Ended::Well } else { Ended::Outside })
}
