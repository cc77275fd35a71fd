//! `jobs verify`: the record checked to the last bit, and what that can and cannot show.

use super::list::SCHEMA;
use crate::outcome::{Ended, Outcome};
use anyhow::Context;
use skimgauge_quantity::{count, counted};
use skimgauge_record::RecordError;
use skimgauge_record::chain::Hash;
use skimgauge_record::seal::Seal;
use skimgauge_record::sign::fingerprint;
use skimgauge_record::verify::{JobReport, Report, verify};
use skimgauge_steps::typed;
use skimgauge_system::input;
use skimgauge_system::terminal::{shown, shown_json};
use std::io::{self, Write};
use std::path::Path;

/// What the record is to be held against, beside itself.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Asked<'a> {
    /// A public key file.
    pub key: Option<&'a Path>,
    /// The fingerprint on a page.
    pub fingerprint: Option<Hash>,
}

/// A fingerprint as it is typed off a page: 64 hexadecimal digits, with blanks as one likes.
///
/// # Errors
/// It is none.
pub(super) fn fingerprint_given(text: &str) -> Result<Hash, String> {
    let digits: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    Hash::parse(&digits).ok_or_else(|| {
        "a page's fingerprint has 64 digits, 0 to 9 and a to f: type all of them".to_owned()
    })
}

/// What the record is, held against what was asked.
struct Answer<'a> {
    report: &'a Report,
    /// Jobs that do not bear the key's signature, with whether they are closed.
    unsigned: Vec<&'a JobReport>,
    /// The job with the fingerprint, and how many entries came after it.
    found: Option<Option<(&'a JobReport, usize)>>,
}

impl Answer<'_> {
    fn good(&self) -> bool {
        self.report.sound() && self.unsigned.is_empty() && !matches!(self.found, Some(None))
    }
}

/// Checks the record at `path`, and holds it against what is asked.
///
/// As JSON one object: `schema` (1), `kind` (`verify`), `sound` (as far as asked), `unsigned` (jobs
/// without that key's signature), `fingerprint` (null when none was asked for; else `found` and, if
/// so, `job`, `later_entries`) and `report` (`path`, `seal`: `holds`, `broken`, `none` or
/// `unchecked`; `jobs`; `findings`).
///
/// # Errors
/// The record cannot be opened or read at all, or the key file is none.
pub(super) fn run(path: &Path, asked: &Asked<'_>, json: bool, out: &mut dyn Write) -> Outcome {
    let report = verify(path).map_err(|error| unreadable(error, SALVAGE))?;
    let key = match asked.key {
        None => None,
        Some(key) => {
            let text = input::read_text(key, input::KEY)
                .with_context(|| format!("{} cannot be read.", key.display()))?;
            Some(fingerprint(text.trim())?)
        }
    };
    let found = asked.fingerprint.map(|hash| find(&report, hash));
    let meant: Vec<&JobReport> = match found {
        Some(found) => found.into_iter().map(|(job, _)| job).collect(),
        None => report.jobs.iter().collect(),
    };
    let unsigned = key
        .map_or_else(Vec::new, |key| meant.into_iter().filter(|job| !signed(job, &key)).collect());
    let answer = Answer { report: &report, unsigned, found };
    if json {
        write_json(&answer, out)?;
    } else {
        say(path, &answer, out)?;
    }
    Ok(if answer.good() { Ended::Well } else { Ended::Outside })
}

/// What may help where a record cannot be checked.
const SALVAGE: &str = "`skimgauge jobs export --salvage NEW-FILE` may save a part. ";

/// A record that cannot be read far enough for this: what to do, which is neither to check it nor to
/// save from it what holds once more. `first`: what may help before that.
pub(super) fn unreadable(error: RecordError, first: &str) -> anyhow::Error {
    let RecordError::Damaged { path, what } = error else { return error.into() };
    anyhow::anyhow!(
        "The record {} is damaged, too far to be read: {what}. Nothing was changed. Put a copy of it aside. {first}A \
         copy that broke off is made anew from where the whole one lies. Else what stands elsewhere is whole: an \
         earlier copy (`--record COPY`), an exported job (`skimgauge jobs import`), the firm's jobs (`skimgauge jobs \
         fetch`).",
        path.display()
    )
}

fn write_json(answer: &Answer<'_>, out: &mut dyn Write) -> anyhow::Result<()> {
    let found = answer.found.map(|found| match found {
        None => serde_json::json!({ "found": false }),
        Some((job, later)) => {
            serde_json::json!({ "found": true, "job": job.name, "later_entries": later })
        }
    });
    let object = serde_json::json!({
        "schema": SCHEMA,
        "kind": "verify",
        "sound": answer.good(),
        "unsigned": answer.unsigned.iter().map(|job| &job.name).collect::<Vec<_>>(),
        "fingerprint": found,
        "report": answer.report,
    });
    writeln!(out, "{}", shown_json(&object.to_string()))?;
    Ok(())
}

/// The job in which an event has this hash, and how many came after it.
fn find(report: &Report, hash: Hash) -> Option<(&JobReport, usize)> {
    report.jobs.iter().find_map(|job| {
        let at = job.hashes.iter().position(|known| *known == hash)?;
        Some((job, job.hashes.len() - at - 1))
    })
}

/// Whether a job is closed and bears a good signature of this key.
fn signed(job: &JobReport, fingerprint: &str) -> bool {
    let good = |signature: &skimgauge_record::verify::Signature| {
        signature.wrong.is_none() && signature.fingerprint == fingerprint
    };
    job.closed && job.signatures.iter().any(good)
}

fn say(path: &Path, answer: &Answer<'_>, out: &mut dyn Write) -> io::Result<()> {
    for job in &answer.report.jobs {
        say_job(job, out)?;
    }
    for job in &answer.unsigned {
        let (name, state) = (shown(&job.name), if job.closed { "closed" } else { "still open" });
        writeln!(out, "\"{name}\": {state}, and NOT signed with that key")?;
    }
    for finding in &answer.report.findings {
        writeln!(out, "{}", shown(finding))?;
    }
    writeln!(
        out,
        "{}",
        match answer.report.seal {
            Seal::Holds => "The seal over the whole file holds.",
            Seal::Broken => "The seal over the whole file is BROKEN: something in it was changed.",
            Seal::Unchecked =>
                "The seal over the whole file was not checked: the file's tables are not those of a record.",
            Seal::None =>
                "The file bears no seal: closing a job puts one on the whole file, and the next entry takes it off again.",
        }
    )?;
    match answer.found {
        None => {}
        Some(None) => writeln!(
            out,
            "NO job here has that fingerprint: this is not the record that the page was made from, or it was changed since."
        )?,
        Some(Some((job, 0))) => writeln!(
            out,
            "The fingerprint is that of \"{}\" as it stands: it is the job that the page was made from, unchanged.",
            shown(&job.name)
        )?,
        Some(Some((job, later))) => writeln!(
            out,
            "The fingerprint is in \"{}\": what the page was made from is unchanged, and {} added since.",
            shown(&job.name),
            counted(later, "entry was", "entries were")
        )?,
    }
    if !answer.good() {
        return writeln!(
            out,
            "{}. Keep a copy of the file as it is; `{}` saves what holds.",
            if answer.report.sound() {
                "This is not what was asked for"
            } else {
                "Something is wrong"
            },
            typed::on_record("jobs export --salvage NEW-FILE", Some(&path.display().to_string()))
        );
    }
    say_limits(path, answer, out)
}

/// What a check of the file alone cannot show, and what can.
fn say_limits(path: &Path, answer: &Answer<'_>, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "Every link holds; nothing that the file itself can show is wrong.")?;
    let settled = |job: &&JobReport| {
        let signed = job.signatures.iter().any(|signature| signature.wrong.is_none());
        signed || matches!(answer.found, Some(Some((found, _))) if std::ptr::eq(found, *job))
    };
    let open: Vec<String> = answer
        .report
        .jobs
        .iter()
        .filter(|job| !settled(job))
        .map(|job| format!("\"{}\"", shown(&job.name)))
        .collect();
    if !open.is_empty() {
        writeln!(
            out,
            "But whoever holds this file could have written it anew from end to end, or cut off its last entries or a whole job, and \
             it would look like this. Not signed, so that nothing in the file speaks against that: {}. What settles it is the \
             fingerprint printed on the job's page: `skimgauge jobs verify {} --fingerprint HASH`.",
            open.join(", "),
            typed::path(&path.display().to_string())
        )?;
    }
    if answer.report.jobs.iter().any(|job| !job.signatures.is_empty()) {
        writeln!(
            out,
            "A signature shows that the holder of its key signed, not who that is: compare the key with one that came to you by \
             another way, or give that one with --key."
        )?;
    }
    Ok(())
}

pub(super) fn say_job(job: &JobReport, out: &mut dyn Write) -> io::Result<()> {
    let (name, closed) = (shown(&job.name), if job.closed { "closed" } else { "open" });
    match &job.broken {
        None => writeln!(
            out,
            "\"{name}\": {}, {closed}, every link holds, hash {}",
            count(job.events, "event"),
            job.head_hash
        )?,
        Some(broken) => {
            writeln!(out, "\"{name}\": BROKEN at event {}: {}", broken.seq, shown(&broken.why))?;
        }
    }
    if job.unknown > 0 {
        writeln!(
            out,
            "  {} of them written by a newer version of skimgauge: their links hold, what they say is not known here",
            job.unknown
        )?;
    }
    for signature in &job.signatures {
        let who = shown(&signature.who);
        match &signature.wrong {
            None => writeln!(
                out,
                "  signed with the key {} by one who gave the name {who}",
                signature.fingerprint
            )?,
            Some(wrong) => {
                writeln!(
                    out,
                    "  the signature at event {} DOES NOT HOLD: {}",
                    signature.seq,
                    shown(wrong)
                )?;
            }
        }
    }
    Ok(())
}
