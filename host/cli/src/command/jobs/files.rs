//! Files that `jobs` reads and writes beside the record: attachments, exports, keys.

use crate::written;
use anyhow::{Context, Result, bail};
use skimgauge_quantity::count;
use skimgauge_record::chain::Hash;
use skimgauge_record::photo::{LARGEST, Photo};
use skimgauge_record::sign::Signer;
use skimgauge_record::{Record, Stamp, table};
use skimgauge_system::output::{Outputs, Replace};
use skimgauge_system::terminal::shown;
use skimgauge_system::{access, input};
use std::path::Path;

/// What was attached.
pub(super) struct Attached {
    /// Its place in the job.
    pub(super) seq: u32,
    /// What is kept, in a sentence.
    pub(super) says: String,
}

/// Attaches a file: its bytes as they are now. The file itself is not looked at again, so a page or
/// an export has what was kept, whatever became of it or of what it links to.
///
/// # Errors
/// It cannot be read, is empty or too large, or the record refuses it.
pub(super) fn attach(
    record: &mut Record,
    job: &str,
    file: &Path,
    caption: Option<&str>,
    stamp: &Stamp,
) -> Result<Attached> {
    let limit = input::Limit { what: "attachment", most: LARGEST as u64 };
    let bytes =
        input::read(file, limit).with_context(|| format!("{} cannot be read.", file.display()))?;
    let name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let photo = Photo { name: &name, media_type: media_type(file), bytes: &bytes, caption };
    let seq = record.attach(job, stamp, photo)?.seq;
    let link = access::linked(file).map_or_else(String::new, |to| {
        format!(
            " {} is a link: they are those of {}.",
            shown(&name),
            shown(&to.display().to_string())
        )
    });
    let says = format!(
        "Kept are its {} as they are now, with SHA-256 {}: what becomes of the file later changes nothing here.{link}",
        count(bytes.len(), "byte"),
        Hash::of(&bytes).short()
    );
    Ok(Attached { seq, says })
}

fn ending(file: &Path) -> String {
    file.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default()
}

/// The media type that a file's ending stands for (IANA's registry).
fn media_type(file: &Path) -> &'static str {
    match ending(file).as_str() {
        "jpg" | "jpeg" => "image/jpeg",
        "png" => "image/png",
        "webp" => "image/webp",
        "heic" => "image/heic",
        "gif" => "image/gif",
        "pdf" => "application/pdf",
        "txt" => "text/plain",
        _ => "application/octet-stream",
    }
}

/// Writes one job to a file of its own, in the form that its ending says.
///
/// # Errors
/// The job's chain is broken, or the file is there already or cannot be written.
pub(super) fn export(record: &Record, job: &str, file: &Path) -> Result<()> {
    let ending = ending(file);
    if !matches!(ending.as_str(), "json" | "csv") {
        return Ok(record.export_job(job, file)?);
    }
    let history = record.job(job)?;
    if let Some(broken) = &history.broken {
        bail!(
            "The chain of \"{}\" breaks at event {}: {}. Nothing was written.",
            shown(job),
            broken.seq,
            broken.why
        );
    }
    let mut bytes = Vec::new();
    let kind = if ending == "json" {
        table::write_json(&history, &mut bytes)?;
        written::JOB_JSON
    } else {
        table::write_takes(&history, &mut bytes)?;
        written::TAKES
    };
    Ok(written::sparing_record(Outputs::new(Replace::Never), record.path())
        .write(file, kind, &bytes)?)
}

/// The key in this file, which nobody but its owner may read.
///
/// # Errors
/// It is no key that can sign, its passphrase does not open it, or others may read it or its
/// passphrase.
pub(super) fn signer(key: &Path, passphrase_file: Option<&Path>) -> Result<Signer> {
    let read = |file: &Path| {
        input::read_text(file, input::KEY)
            .with_context(|| format!("{} cannot be read.", file.display()))
    };
    let passphrase =
        passphrase_file.map(|file| private(file).and_then(|()| read(file))).transpose()?;
    let first_line = passphrase.as_deref().map(|text| text.lines().next().unwrap_or_default());
    let signer = Signer::from_openssh(&read(key)?, first_line)
        .with_context(|| format!("{} was not used", key.display()))?;
    private(key)?;
    Ok(signer)
}

/// As OpenSSH has it (`sshkey_perm_ok`): neither group nor others may do anything with it.
fn private(file: &Path) -> Result<()> {
    let open = access::open_to_others(file)
        .with_context(|| format!("{} cannot be read.", file.display()))?;
    if let Some(mode) = open {
        bail!(
            "{} may be read or changed by others (mode {mode:03o}), so that a signature with it proves nothing. It was not used. \
             Close it with `chmod 600 {}`; if others have had it, make a new key with `ssh-keygen -t ed25519`.",
            file.display(),
            file.display()
        );
    }
    Ok(())
}
