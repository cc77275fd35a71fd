//! The service file and the password file.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::text::KEYWORDS;
use super::{Around, Host};
use crate::FirmError;

/// Longest file of those that are read here, bytes.
const LARGEST_FILE: u64 = 1 << 20;

/// What the service file says of a service.
pub(super) fn service_of(
    name: &str,
    around: &Around<'_>,
) -> Result<Vec<(String, String)>, FirmError> {
    let named = around.said("PGSERVICEFILE").map(PathBuf::from);
    let own = named.or_else(|| around.kept(".pg_service.conf", ".pg_service.conf"));
    let system =
        around.said("PGSYSCONFDIR").map(|folder| PathBuf::from(folder).join("pg_service.conf"));
    for path in own.into_iter().chain(system) {
        let Some(text) = (around.file)(&path) else { continue };
        let mut words = Vec::new();
        let mut found = false;
        let mut inside = false;
        for line in text.lines().map(str::trim) {
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            if let Some(section) = line.strip_prefix('[').and_then(|line| line.strip_suffix(']')) {
                inside = section == name;
                found |= inside;
            } else if inside {
                let (key, value) = line.split_once('=').ok_or_else(|| {
                    FirmError::Address(format!("{}: \"{line}\" has no =", path.display()))
                })?;
                let key = key.trim();
                if !KEYWORDS.contains(&key) || key == "service" {
                    let why = format!("{}: \"{key}\" is not known here", path.display());
                    return Err(FirmError::Address(why));
                }
                words.push((key.to_owned(), value.trim().to_owned()));
            }
        }
        if found {
            return Ok(words);
        }
    }
    Err(FirmError::Address(format!("there is no service \"{name}\" in a service file")))
}

/// The password that the password file has for this place.
pub(super) fn password_of(
    words: &BTreeMap<String, String>,
    hosts: &[Host],
    user: &str,
    database: &str,
    around: &Around<'_>,
) -> Result<Option<String>, FirmError> {
    let usual = || around.kept(".pgpass", "pgpass.conf");
    let Some(path) = words.get("passfile").map(PathBuf::from).or_else(usual) else {
        return Ok(None);
    };
    let Some(text) = (around.file)(&path) else { return Ok(None) };
    if (around.open_to_others)(&path) {
        return Err(FirmError::Address(format!(
            "the password file {} may be read by others, and was not used: close it with `chmod 600`",
            path.display()
        )));
    }
    for host in hosts {
        // A socket in its usual folder goes by this name there.
        let name = if host.is_socket() { "localhost" } else { host.name.as_str() };
        let wanted = [name, &host.port.to_string(), database, user];
        for line in text.lines().filter(|line| !line.starts_with('#')) {
            let fields = fields_of(line);
            let [four @ .., password] = fields.as_slice() else { continue };
            let fits = four.len() == 4
                && four.iter().zip(wanted).enumerate().all(|(at, (field, wanted))| {
                    field == "*" || field == wanted || (at == 0 && *field == host.name)
                });
            if fits {
                return Ok(Some(password.clone()));
            }
        }
    }
    Ok(None)
}

/// A line of a password file: five fields between colons, `\:` and `\\` in them.
fn fields_of(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut chars = line.chars();
    while let Some(c) = chars.next() {
        let field = fields.len() - 1;
        match c {
            '\\' => fields[field].extend(chars.next()),
            ':' if fields.len() < 5 => fields.push(String::new()),
            c => fields[field].push(c),
        }
    }
    fields
}

pub(super) fn read_short(path: &Path) -> Option<String> {
    let about = std::fs::metadata(path).ok()?;
    if !about.is_file() || about.len() > LARGEST_FILE {
        return None;
    }
    std::fs::read_to_string(path).ok()
}

#[cfg(unix)]
pub(super) fn open_to_others(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt;
    std::fs::metadata(path).is_ok_and(|about| about.permissions().mode() & 0o077 != 0)
}

#[cfg(not(unix))]
pub(super) fn open_to_others(_: &Path) -> bool {
    false
}
