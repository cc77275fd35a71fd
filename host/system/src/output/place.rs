//! Bytes under a file's name, in one step.

use super::existing::Replaceable;
use super::{Refused, fill, folder};
use std::fs::{self, File, TryLockError};
use std::io;
use std::path::Path;
use tempfile::NamedTempFile;

pub(super) fn put(path: &Path, bytes: &[u8], found: Option<Replaceable>) -> Result<(), Refused> {
    let system = |error| Refused::system(path, error);
    let part = part(folder(path)).map_err(system)?;
    fill(part.as_file(), bytes).map_err(system)?;
    match found {
        None => {
            part.persist_noclobber(path).map_err(|failed| match failed.error.kind() {
                io::ErrorKind::AlreadyExists => {
                    Refused::Exists { path: path.to_owned(), replaceable: false }
                }
                _ => system(failed.error),
            })?;
        }
        Some(old) => {
            alone_with(path, &old)?;
            // Whoever might read the former file may read this one.
            part.as_file().set_permissions(old.about.permissions()).map_err(system)?;
            change_places(part, path, &old)?;
        }
    }
    // The name on disk, too, where folders can be synced.
    if let Ok(folder) = File::open(folder(path)) {
        let _ = folder.sync_all();
    }
    Ok(())
}

/// Whether a file can be made beside the path.
pub(super) fn try_out(path: &Path) -> Result<(), Refused> {
    part(folder(path)).map(drop).map_err(|error| Refused::system(path, error))
}

/// A file of a random name, as open to others as any new file.
fn part(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".skimgauge-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The account's umask takes away what it takes from every file.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder).map_err(|error| {
        // The library adds the folder's path, which the sentence around this has.
        error.raw_os_error().map_or(error, io::Error::from_raw_os_error)
    })
}

/// Of several of this program that replace one file, the first does; the lock goes with the former
/// file.
fn alone_with(path: &Path, old: &Replaceable) -> Result<(), Refused> {
    // On Windows a lock would keep readers out, and a file that is open is not replaced unseen.
    if cfg!(unix) && matches!(old.file.try_lock(), Err(TryLockError::WouldBlock))
        || !is_still(path, old)
    {
        return Err(Refused::Changed(path.to_owned()));
    }
    Ok(())
}

/// Whether what now has this path is the file that was looked at, with nothing written to it since.
fn is_still(path: &Path, old: &Replaceable) -> bool {
    // Only a file is opened for this: a pipe would wait for somebody to write.
    if !fs::symlink_metadata(path).is_ok_and(|about| about.is_file()) {
        return false;
    }
    let (Ok(here), Ok(now)) = (same_file::Handle::from_path(path), old.file.metadata()) else {
        return false;
    };
    let Ok(looked_at) = old.file.try_clone().and_then(same_file::Handle::from_file) else {
        return false;
    };
    here == looked_at
        && now.len() == old.about.len()
        && now.modified().ok() == old.about.modified().ok()
}

/// The part under the path, the former file gone. On Linux both names are changed for one another
/// and what came out is looked at again before it goes, so that a file which took the path
/// meanwhile is not lost.
#[cfg(target_os = "linux")]
fn change_places(part: NamedTempFile, path: &Path, old: &Replaceable) -> Result<(), Refused> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    let change = || renameat_with(CWD, part.path(), CWD, path, RenameFlags::EXCHANGE);
    match change() {
        Ok(()) if is_still(part.path(), old) => {
            part.close().map_err(|error| Refused::system(path, error))
        }
        Ok(()) => {
            let ours = part.as_file().try_clone().and_then(same_file::Handle::from_file);
            change().map_err(|error| Refused::system(path, error.into()))?;
            // What came back is no file of ours where the name was taken once more: then it stays
            // under the part's name.
            if !ours.is_ok_and(|ours| {
                same_file::Handle::from_path(part.path()).is_ok_and(|here| here == ours)
            }) {
                let _ = part.keep();
            }
            Err(Refused::Changed(path.to_owned()))
        }
        // A file system that cannot change two names.
        Err(Errno::INVAL | Errno::NOSYS | Errno::OPNOTSUPP) => move_over(part, path, old),
        Err(Errno::NOENT) => Err(Refused::Changed(path.to_owned())),
        Err(error) => Err(Refused::system(path, error.into())),
    }
}

#[cfg(not(target_os = "linux"))]
use move_over as change_places;

fn move_over(part: NamedTempFile, path: &Path, old: &Replaceable) -> Result<(), Refused> {
    if is_still(path, old) {
        part.persist(path).map(|_| ()).map_err(|failed| Refused::system(path, failed.error))
    } else {
        Err(Refused::Changed(path.to_owned()))
    }
}
