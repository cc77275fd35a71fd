//! A mark that says who is at work: a file that is locked (on Windows: that nobody else may write to),
//! so that the system itself lets go of it when the program ends, however it ends.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// Longest text that is read from another's mark, bytes.
const LONGEST: u64 = 200;

/// Why there is no mark.
#[derive(Debug, thiserror::Error)]
pub enum NotMarked {
    /// Another program has it.
    #[error("another program has it{}", .0.as_ref().map_or_else(String::new, |who| format!(" ({who})")))]
    Taken(Option<String>),
    /// The system's reason, with the file.
    #[error("{} cannot be written.", .path.display())]
    System {
        /// The mark, or its folder.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

/// A mark: it is there for as long as this is.
#[derive(Debug)]
pub struct Mark {
    path: PathBuf,
    // Nobody else's for as long as it is open.
    _file: File,
}

impl Mark {
    /// Leaves a mark at this path; its folder is made if there is none.
    ///
    /// # Errors
    /// [`NotMarked::Taken`] where another program, or another mark of this one, is there; else the
    /// system's.
    pub fn leave(path: &Path) -> Result<Self, NotMarked> {
        let system = |path: &Path| {
            let path = path.to_owned();
            move |source| NotMarked::System { path, source }
        };
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(system(folder))?;
        }
        let file = take(path, system(path))?;
        let text = format!("process {}\n", std::process::id());
        let _ = (&file).write_all(text.as_bytes()).and_then(|()| file.set_len(text.len() as u64));
        Ok(Self { path: path.to_owned(), _file: file })
    }
}

impl Drop for Mark {
    fn drop(&mut self) {
        take_away(&self.path);
    }
}

/// Who has it, as far as that can be read: on some systems what is locked cannot be.
fn who(file: File) -> Option<String> {
    let mut text = String::new();
    let _ = file.take(LONGEST).read_to_string(&mut text);
    let line = text.lines().next().unwrap_or_default();
    Some(line.chars().filter(|character| !character.is_control()).collect())
        .filter(|who: &String| !who.is_empty())
}

/// The file, for this mark alone.
#[cfg(unix)]
fn take(path: &Path, system: impl FnOnce(io::Error) -> NotMarked) -> Result<File, NotMarked> {
    use std::fs::TryLockError;
    loop {
        let opened =
            OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path);
        let file = match opened {
            Ok(file) => file,
            Err(error) => return Err(system(error)),
        };
        match file.try_lock() {
            Ok(()) => (),
            Err(TryLockError::WouldBlock) => return Err(NotMarked::Taken(who(file))),
            // A drive without locks: there is no telling, and that is no reason to do nothing.
            Err(TryLockError::Error(_)) => (),
        }
        // Whoever was here before took its mark away between the two steps: then this one marks
        // nothing.
        if is_still(&file, path) {
            return Ok(file);
        }
    }
}

#[cfg(unix)]
fn is_still(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let id = |about: std::fs::Metadata| (about.dev(), about.ino());
    let (open, there) = (file.metadata().map(id), std::fs::metadata(path).map(id));
    matches!((open, there), (Ok(open), Ok(there)) if open == there)
}

/// The mark goes while it is still locked, so that nobody else's is taken away.
#[cfg(unix)]
fn take_away(path: &Path) {
    let _ = std::fs::remove_file(path);
}

/// The file, for this mark alone: nobody else opens it to write while it is open, everybody may read
/// it, and the system removes it when it is closed, however this program ends.
#[cfg(windows)]
fn take(path: &Path, system: impl FnOnce(io::Error) -> NotMarked) -> Result<File, NotMarked> {
    use std::os::windows::fs::OpenOptionsExt;
    use windows_sys::Win32::Foundation::{
        ERROR_ACCESS_DENIED, ERROR_SHARING_VIOLATION, GENERIC_READ, GENERIC_WRITE,
    };
    use windows_sys::Win32::Storage::FileSystem::{
        DELETE, FILE_FLAG_DELETE_ON_CLOSE, FILE_SHARE_READ,
    };
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(false);
    options.access_mode(GENERIC_READ | GENERIC_WRITE | DELETE).share_mode(FILE_SHARE_READ);
    options.custom_flags(FILE_FLAG_DELETE_ON_CLOSE);
    let mut left = GOES_WITHIN;
    loop {
        let error = match options.open(path) {
            Ok(file) => return Ok(file),
            Err(error) => error,
        };
        match error.raw_os_error().map(i32::cast_unsigned) {
            Some(ERROR_SHARING_VIOLATION) => {
                return Err(NotMarked::Taken(File::open(path).ok().and_then(who)));
            }
            // A file that is just going away is refused so, too.
            Some(ERROR_ACCESS_DENIED) if left > 0 => {
                left -= 1;
                std::thread::sleep(std::time::Duration::from_millis(10));
            }
            _ => return Err(system(error)),
        }
    }
}

/// So often a mark that is just going away is looked for again, every 10 ms.
#[cfg(windows)]
const GOES_WITHIN: u32 = 20;

/// The system does it.
#[cfg(windows)]
fn take_away(_: &Path) {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_second_is_told_of_the_first_and_may_begin_when_that_has_ended() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("new").join("mark");
        let first = Mark::leave(&path).unwrap();
        let NotMarked::Taken(who) = Mark::leave(&path).unwrap_err() else { panic!("not told") };
        assert!(who.is_some_and(|who| who.starts_with("process ")));
        drop(first);
        drop(Mark::leave(&path).unwrap());
        assert_eq!(
            std::fs::read_dir(folder.path().join("new")).unwrap().count(),
            0,
            "nothing is left"
        );
    }

    #[test]
    fn a_mark_left_by_a_program_that_was_killed_stands_in_nobodys_way() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("mark");
        std::fs::write(&path, "process 1\n").unwrap();
        Mark::leave(&path).unwrap();
    }
}
