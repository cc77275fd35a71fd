//! `jobs verify`: the record checked to the last bit.

use super::show::{SCHEMA, plain};
use crate::outcome::{Ended, Outcome};
use anyhow::Context;
use skimgauge_record::seal::Seal;
use skimgauge_record::sign::fingerprint;
use skimgauge_record::verify::{JobReport, Report, verify};
use skimgauge_system::input;
use std::io::{self, Write};
use std::path::Path;

/// Checks the record at `path`, and that each closed job bears a signature of `key`, if one is given.
///
/// As JSON one object: `schema` (1), `kind` (`verify`), `sound`, `unsigned` (closed jobs without that key's signature) and
/// `report` (`path`, `seal`: `holds`, `broken` or `none`; `jobs`; `findings`).
///
/// # Errors
/// The record cannot be opened or read at all, or the key file is none.
pub fn run(path: &Path, key: Option<&Path>, json: bool, out: &mut dyn Write) -> Outcome {
    let report = verify(path)?;
    let unsigned = match key {
        None => Vec::new(),
        Some(key) => {
            let text =
                input::read_text(key, input::KEY).with_context(|| format!("{} cannot be read.", key.display()))?;
            unsigned_by(&report, &fingerprint(text.trim())?)
        }
    };
    if json {
        let object = serde_json::json!({
            "schema": SCHEMA,
            "kind": "verify",
            "sound": report.sound() && unsigned.is_empty(),
            "unsigned": unsigned,
            "report": report,
        });
        serde_json::to_writer(&mut *out, &object)?;
        writeln!(out)?;
    } else {
        say_report(&report, &unsigned, out)?;
    }
    Ok(if report.sound() && unsigned.is_empty() { Ended::Well } else { Ended::Outside })
}

/// Closed jobs that bear no good signature of this key.
fn unsigned_by<'a>(report: &'a Report, fingerprint: &str) -> Vec<&'a str> {
    let signed = |job: &&JobReport| {
        job.signatures.iter().any(|signature| signature.wrong.is_none() && signature.fingerprint == fingerprint)
    };
    report.jobs.iter().filter(|job| job.closed).filter(|job| !signed(job)).map(|job| job.name.as_str()).collect()
}

fn say_report(report: &Report, unsigned: &[&str], out: &mut dyn Write) -> io::Result<()> {
    for job in &report.jobs {
        let closed = if job.closed { "closed" } else { "open" };
        match &job.broken {
            None => writeln!(
                out,
                "\"{}\": {} events, {closed}, every link holds, hash {}",
                plain(&job.name),
                job.events,
                job.head_hash
            )?,
            Some(broken) => {
                writeln!(out, "\"{}\": BROKEN at event {}: {}", plain(&job.name), broken.seq, plain(&broken.why))?;
            }
        }
        for signature in &job.signatures {
            let who = plain(&signature.who);
            match &signature.wrong {
                None => {
                    writeln!(out, "  signed with the key {} by one who gave the name {who}", signature.fingerprint)?;
                }
                Some(wrong) => writeln!(out, "  the signature at event {} DOES NOT HOLD: {wrong}", signature.seq)?,
            }
        }
    }
    for job in unsigned {
        writeln!(out, "\"{}\": closed, and NOT signed with that key", plain(job))?;
    }
    for finding in &report.findings {
        writeln!(out, "{}", plain(finding))?;
    }
    writeln!(
        out,
        "{}",
        match report.seal {
            Seal::Holds => "The seal over the whole file holds.",
            Seal::Broken => "The seal over the whole file is BROKEN: something in it was changed.",
            Seal::Unchecked =>
                "The seal over the whole file was not checked: the file's tables are not those of a record.",
            Seal::None =>
                "The file bears no seal: closing a job puts one on the whole file, and the next entry takes it off again.",
        }
    )?;
    if report.sound() && unsigned.is_empty() {
        writeln!(out, "Nothing is wrong.")
    } else {
        writeln!(
            out,
            "Something is wrong. Keep a copy of the file as it is; `skimgauge jobs export --salvage` saves what holds."
        )
    }
}
