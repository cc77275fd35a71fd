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
    #[cfg(windows)]
    // The library's own would be marked as one that need not come to the disk.
    let made = builder.make_in(folder, |path| {
        fs::OpenOptions::new().read(true).write(true).create_new(true).open(path)
    });
    #[cfg(not(windows))]
    let made = builder.tempfile_in(folder);
    made.map_err(|error| {
        // The library adds the folder's path, which the sentence around this has.
        error.raw_os_error().map_or(error, io::Error::from_raw_os_error)
    })
}

/// Of several of this program that replace one file, the first does; the lock goes with the former
/// file.
fn alone_with(path: &Path, old: &Replaceable) -> Result<(), Refused> {
    // On Windows a lock would keep readers out, and what another put there is told by what comes out.
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
    like_the_former(&part, path, old)?;
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

/// The part under the path, the former file gone: in one step of the system's, which leaves whoever
/// might read the former file the same rights to this one. What came out is looked at again before it
/// goes, so that a file which took the path meanwhile is not lost.
#[cfg(windows)]
fn change_places(part: NamedTempFile, path: &Path, old: &Replaceable) -> Result<(), Refused> {
    use windows_sys::Win32::Foundation::{
        ERROR_FILE_NOT_FOUND, ERROR_UNABLE_TO_MOVE_REPLACEMENT_2,
    };
    let system = |error| Refused::system(path, error);
    // The system wants it closed; what is not moved still goes with this.
    let part = part.into_temp_path();
    let aside = part.with_extension("former");
    match replace_file(path, &part, &aside) {
        Ok(()) if is_still(&aside, old) => {
            // Its place is taken, so it is done; what is left under a name of ours harms nobody.
            let _ = fs::remove_file(&aside);
            Ok(())
        }
        Ok(()) => {
            fs::remove_file(path).and_then(|()| fs::rename(&aside, path)).map_err(system)?;
            Err(Refused::Changed(path.to_owned()))
        }
        Err(error) => Err(match error.raw_os_error().map(i32::cast_unsigned) {
            Some(ERROR_FILE_NOT_FOUND) => Refused::Changed(path.to_owned()),
            // The former file has left its place, and nothing has come there.
            Some(ERROR_UNABLE_TO_MOVE_REPLACEMENT_2) => {
                fs::rename(&aside, path).map_err(system)?;
                system(error)
            }
            _ => system(error),
        }),
    }
}

/// `ReplaceFileW`: the part takes the path, what was there the name aside.
#[cfg(windows)]
fn replace_file(path: &Path, part: &Path, aside: &Path) -> io::Result<()> {
    use std::os::windows::ffi::OsStrExt;
    use windows_sys::Win32::Storage::FileSystem::{REPLACEFILE_IGNORE_MERGE_ERRORS, ReplaceFileW};
    let wide = |path: &Path| path.as_os_str().encode_wide().chain([0]).collect::<Vec<u16>>();
    let (path, part, aside) = (wide(path), wide(part), wide(aside));
    #[allow(unsafe_code, reason = "the standard library moves a file, and so loses its rights")]
    // SAFETY: three texts that end with 0 and are there for as long as the call; the others may be
    // null.
    let done = unsafe {
        ReplaceFileW(
            path.as_ptr(),
            part.as_ptr(),
            aside.as_ptr(),
            REPLACEFILE_IGNORE_MERGE_ERRORS,
            std::ptr::null(),
            std::ptr::null(),
        )
    };
    if done == 0 { Err(io::Error::last_os_error()) } else { Ok(()) }
}

#[cfg(all(unix, not(target_os = "linux")))]
fn change_places(part: NamedTempFile, path: &Path, old: &Replaceable) -> Result<(), Refused> {
    like_the_former(&part, path, old)?;
    move_over(part, path, old)
}

/// Whoever might read the former file may read this one.
#[cfg(unix)]
fn like_the_former(part: &NamedTempFile, path: &Path, old: &Replaceable) -> Result<(), Refused> {
    let permissions = old.about.permissions();
    part.as_file().set_permissions(permissions).map_err(|error| Refused::system(path, error))
}

#[cfg(unix)]
fn move_over(part: NamedTempFile, path: &Path, old: &Replaceable) -> Result<(), Refused> {
    if is_still(path, old) {
        part.persist(path).map(|_| ()).map_err(|failed| Refused::system(path, failed.error))
    } else {
        Err(Refused::Changed(path.to_owned()))
    }
}
