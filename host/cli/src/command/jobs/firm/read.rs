//! `--from`: the firm's jobs listed, shown and verified.

use super::super::list::{self as listing, SCHEMA};
use super::super::{Form, check, show as showing};
use super::is_meant;
use crate::outcome::{Ended, Outcome};
use anyhow::{Result, bail};
use skimgauge_firm::check::verify as verify_all;
use skimgauge_firm::found::{Branch, Line};
use skimgauge_firm::{Base, FirmError};
use skimgauge_quantity::Style;
use skimgauge_record::JobId;
use skimgauge_record::carry::Store;
use skimgauge_record::history::CheckedJob;
use skimgauge_record::table;
use skimgauge_system::terminal::{shown, shown_json};
use std::io::Write;

/// Lists lines: namesakes with client and place, branches with who sent them.
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
    let beside: Vec<String> = lines.iter().map(|line| beside(line, lines)).collect();
    listing::list(&jobs, &beside, json, out)?;
    if !json && !jobs.is_empty() {
        writeln!(
            out,
            "As its senders summed it up; `skimgauge jobs verify --from URL` goes through every link."
        )?;
    }
    Ok(())
}

/// What tells a line from others of its name or of its job.
fn beside(line: &Line, lines: &[Line]) -> String {
    let mut parts = Vec::new();
    let namesake = |other: &&Line| other.sum.name == line.sum.name && other.id != line.id;
    if lines.iter().any(|other| namesake(&other)) {
        parts.extend([&line.sum.client, &line.sum.place].into_iter().flatten().cloned());
    }
    if lines.iter().filter(|other| other.id == line.id).count() > 1 {
        parts.push(format!("the branch {}", line.branch()));
    }
    parts.join(", ")
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
            let job = base.meant(job)?;
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
    let id = base.meant(job)?;
    let mut branches = base.branches(id)?;
    let meant = |at: &usize| {
        branch.is_none_or(|said| is_meant(branches[*at].history.summary.head_hash, said))
    };
    let picked: Vec<usize> = (0..branches.len()).filter(meant).collect();
    if let [only] = picked.as_slice() {
        return Ok((id, branches.swap_remove(*only)));
    }
    let list: Vec<String> =
        branches.iter().map(|branch| format!("one {}", branch.name())).collect();
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
