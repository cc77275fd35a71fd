//! What stands in the target's place, and whether it may be replaced.

use super::{Kind, LONGEST, Refused, Replace, folder};
use crate::names::{self, Odd};
use std::fs::{self, File, Metadata};
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};

/// A file that may be replaced, held open so that it is known again.
#[derive(Debug)]
pub(super) struct Replaceable {
    pub(super) about: Metadata,
    pub(super) file: File,
}

/// Nothing, or what may be replaced.
pub(super) fn look(
    path: &Path,
    kind: Kind,
    replace: Replace,
    needed: &[(PathBuf, &'static str)],
) -> Result<Option<Replaceable>, Refused> {
    let system = |error| Refused::system(path, error);
    match names::odd(path) {
        Some(Odd::Device) => {
            return Err(Refused::NoFile { path: path.to_owned(), what: "a device" });
        }
        Some(Odd::Cut) => {
            let why = "it ends with a dot or a space, which Windows leaves off".to_owned();
            return Err(Refused::Name { path: path.to_owned(), why });
        }
        Some(Odd::Character(c)) => {
            let why = format!("Windows has no file with {c:?} in its name");
            return Err(Refused::Name { path: path.to_owned(), why });
        }
        None => (),
    }
    if path.file_name().is_none()
        || path.as_os_str().to_string_lossy().ends_with(std::path::is_separator)
    {
        return Err(Refused::Folder(path.to_owned()));
    }
    let about = match fs::symlink_metadata(path) {
        Ok(about) => about,
        Err(error) if error.kind() == ErrorKind::NotFound => {
            let coming = needed.iter().find(|(other, _)| will_be_one(path, other));
            return match coming {
                Some((_, what)) => Err(Refused::Needed { path: path.to_owned(), what }),
                None => Ok(None),
            };
        }
        Err(error) => return Err(system(error)),
    };
    // What is needed is named before anything else that may be wrong with it.
    if about.is_file() || about.is_symlink() {
        for (other, what) in needed {
            if is_one(path, other) {
                return Err(Refused::Needed { path: path.to_owned(), what });
            }
        }
    }
    if about.is_symlink() {
        return Err(Refused::Link(path.to_owned()));
    }
    if about.is_dir() {
        return Err(Refused::Folder(path.to_owned()));
    }
    if !about.is_file() {
        return Err(Refused::NoFile { path: path.to_owned(), what: what_it_is(&about) });
    }
    if replace != Replace::Asked {
        return Err(Refused::Exists {
            path: path.to_owned(),
            replaceable: replace == Replace::NotAsked,
        });
    }
    let mut file = open(path).map_err(system)?;
    let about = file.metadata().map_err(system)?;
    if !about.is_file() {
        return Err(Refused::Changed(path.to_owned()));
    }
    if names(&file, &about).map_err(system)? > 1 {
        return Err(Refused::OtherNames(path.to_owned()));
    }
    let mut content = Vec::new();
    file.by_ref().take(LONGEST).read_to_end(&mut content).map_err(system)?;
    if !(kind.is)(&content) {
        return Err(Refused::OtherKind { path: path.to_owned(), kind: kind.name });
    }
    Ok(Some(Replaceable { about, file }))
}

/// Whether both lead to one file that is there.
fn is_one(path: &Path, other: &Path) -> bool {
    // Only what is a file is opened for this: a pipe would wait for somebody to write.
    let files =
        [path, other].iter().all(|path| fs::metadata(path).is_ok_and(|about| about.is_file()));
    files && same_file::is_same_file(path, other).unwrap_or(false)
}

/// Whether both would be one file, once it is there. Where a system tells large letters from small
/// this is asked too strictly for two names that differ in nothing else; a new name is soon found.
fn will_be_one(path: &Path, other: &Path) -> bool {
    let name = |path: &Path| path.file_name().map(|name| name.to_string_lossy().to_lowercase());
    name(path) == name(other)
        && same_file::is_same_file(folder(path), folder(other)).unwrap_or(false)
}

#[cfg(unix)]
fn open(path: &Path) -> io::Result<File> {
    use std::os::unix::fs::OpenOptionsExt;
    // What was a file a moment ago may be a link or a pipe by now: neither is followed nor waited
    // for.
    fs::OpenOptions::new().read(true).custom_flags(libc::O_NOFOLLOW | libc::O_NONBLOCK).open(path)
}

#[cfg(windows)]
fn open(path: &Path) -> io::Result<File> {
    use std::os::windows::fs::OpenOptionsExt;
    use windows_sys::Win32::Storage::FileSystem::FILE_FLAG_OPEN_REPARSE_POINT;
    // What was a file a moment ago may be a link by now: it is not followed.
    fs::OpenOptions::new().read(true).custom_flags(FILE_FLAG_OPEN_REPARSE_POINT).open(path)
}

#[cfg(unix)]
fn names(_: &File, about: &Metadata) -> io::Result<u64> {
    use std::os::unix::fs::MetadataExt;
    Ok(about.nlink())
}

#[cfg(windows)]
fn names(file: &File, _: &Metadata) -> io::Result<u64> {
    Ok(winapi_util::file::information(file)?.number_of_links())
}

#[cfg(unix)]
fn what_it_is(about: &Metadata) -> &'static str {
    use std::os::unix::fs::FileTypeExt;
    let kind = about.file_type();
    if kind.is_fifo() {
        "a pipe"
    } else if kind.is_socket() {
        "a socket"
    } else {
        "a device"
    }
}

#[cfg(not(unix))]
fn what_it_is(_: &Metadata) -> &'static str {
    "a device"
}
