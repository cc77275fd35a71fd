//! The one way in which a file that a person named is written: whole or not at all, and never over
//! another.
//!
//! A file of a random name is made beside the target, written, brought to disk and moved into
//! place. What is there already is replaced only if it is of the same kind by its content, if that
//! was asked for, and if it is none of the files that the command itself works with; never a
//! device, a pipe, a folder, and never through a symbolic or a hard link. Which file a path leads
//! to is told by device and number, not by the path's text.

mod existing;
mod place;

use crate::terminal::shown;
use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// A kind of file that this program writes and knows again.
#[derive(Debug, Clone, Copy)]
pub struct Kind {
    /// In a sentence: `a handover page`.
    pub name: &'static str,
    /// Whether a file's content is of this kind, written by this program.
    pub is: fn(&[u8]) -> bool,
}

/// A file of this program's that may be replaced has at most so many bytes.
const LONGEST: u64 = 256 << 20;

/// Whether an existing file may be replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Replace {
    /// Never: the command has no flag for it.
    Never,
    /// The command has `--replace`, and it was not given.
    NotAsked,
    /// `--replace` was given, or the file is the program's own.
    Asked,
}

impl Replace {
    /// As the flag `--replace` says.
    pub fn flag(given: bool) -> Self {
        if given { Self::Asked } else { Self::NotAsked }
    }
}

/// Why a file was not written; it is as it was, and nothing is left beside it.
#[derive(Debug, thiserror::Error)]
pub enum Refused {
    /// There is such a file.
    #[error("{} is there already and was left as it is. Choose another name{}.", named(.path),
        if *.replaceable { ", or give --replace to write it anew" } else { "" })]
    Exists {
        /// The file.
        path: PathBuf,
        /// `--replace` would do.
        replaceable: bool,
    },
    /// One of the files that the command works with.
    #[error("{} is {what} and was left as it is. Choose another name.", named(.path))]
    Needed {
        /// The file.
        path: PathBuf,
        /// In a sentence: `the record`.
        what: &'static str,
    },
    /// Another kind of file.
    #[error("{} is there already, is not {kind} that skimgauge wrote, and was left as it is. Choose another name.", named(.path))]
    OtherKind {
        /// The file.
        path: PathBuf,
        /// What would have been written.
        kind: &'static str,
    },
    /// A folder, or no file's name.
    #[error("{} is a folder. Give the name of a file in it.", named(.0))]
    Folder(PathBuf),
    /// The folder is not there.
    #[error("There is no folder {} to put {} in. Make it, or choose another.", named(folder(.0)), name_of(.0))]
    NoFolder(PathBuf),
    /// A device, a pipe, a socket.
    #[error("{} is {what}, no file, and was left as it is. Give a file's name.", named(.path))]
    NoFile {
        /// The path.
        path: PathBuf,
        /// In a sentence: `a device`.
        what: &'static str,
    },
    /// A name that this system would not keep as it was written.
    #[error("{} is no name for a file here: {why}. Choose another name.", named(.path))]
    Name {
        /// The path.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// A symbolic link.
    #[error("{} is a link to another file; nothing is written through it. Name the file itself, or choose another name.", named(.0))]
    Link(PathBuf),
    /// A file that has other names, too.
    #[error("{} has another name, too (a hard link), and was left as it is. Choose another name.", named(.0))]
    OtherNames(PathBuf),
    /// Somebody else wrote it meanwhile.
    #[error("{} was changed by another program just now and was left as it is. Try again, or choose another name.", named(.0))]
    Changed(PathBuf),
    /// The disk is full.
    #[error("No room is left for {}: it was not written. Make room, or choose a name on another disk.", named(.0))]
    Full(PathBuf),
    /// The system's reason.
    #[error("{} cannot be written.", named(.path))]
    System {
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

fn named(path: &Path) -> String {
    shown(&path.display().to_string()).into_owned()
}

fn name_of(path: &Path) -> String {
    named(path.file_name().map_or(path, Path::new))
}

impl Refused {
    /// Whether it is for want of room alone.
    pub fn is_full(&self) -> bool {
        matches!(self, Self::Full(_))
    }

    fn system(path: &Path, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                Self::Full(path.to_owned())
            }
            io::ErrorKind::NotFound if !folder(path).exists() => Self::NoFolder(path.to_owned()),
            _ => Self::System { path: path.to_owned(), source },
        }
    }
}

/// The files that a command writes.
#[derive(Debug)]
pub struct Outputs {
    replace: Replace,
    needed: Vec<(PathBuf, &'static str)>,
}

impl Outputs {
    /// None so far.
    pub fn new(replace: Replace) -> Self {
        Self { replace, needed: Vec::new() }
    }

    /// A file that this command works with and never writes to: the record, the job file, an input.
    /// It need not be there.
    #[must_use]
    pub fn sparing(mut self, path: &Path, what: &'static str) -> Self {
        self.needed.push((path.to_owned(), what));
        self
    }

    /// Whether a file could be written as things are: to be asked before the work that is to be
    /// written.
    ///
    /// # Errors
    /// Why not.
    pub fn check(&self, path: &Path, kind: Kind) -> Result<(), Refused> {
        existing::look(path, kind, self.replace, &self.needed)?;
        place::try_out(path)
    }

    /// [`Self::check`] for several files, each of which needs a place of its own.
    ///
    /// # Errors
    /// Why one of them could not be written.
    pub fn check_all<'a>(
        &self,
        files: impl IntoIterator<Item = (&'a Path, Kind)>,
    ) -> Result<(), Refused> {
        let mut trial = Self { replace: self.replace, needed: self.needed.clone() };
        for (path, kind) in files {
            trial.check(path, kind)?;
            trial = trial.sparing(path, "what this command writes besides");
        }
        Ok(())
    }

    /// Writes a file. When this returns it is on disk under its name, and spared by what this
    /// command writes further.
    ///
    /// # Errors
    /// Why not; then nothing was written.
    pub fn write(&mut self, path: &Path, kind: Kind, bytes: &[u8]) -> Result<(), Refused> {
        debug_assert!((kind.is)(bytes), "{} that would not be known again", kind.name);
        let found = existing::look(path, kind, self.replace, &self.needed)?;
        place::put(path, bytes, found)?;
        self.needed.push((path.to_owned(), "what this command has just written"));
        Ok(())
    }

    /// A new file that is written bit by bit and is there from its first byte on, so that what
    /// stops the program loses no more than the last of it: a recording. Never replaces
    /// anything.
    ///
    /// # Errors
    /// Why not.
    pub fn stream(&mut self, path: &Path, kind: Kind) -> Result<File, Refused> {
        existing::look(path, kind, Replace::Never, &self.needed)?;
        let file = File::create_new(path).map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => {
                Refused::Exists { path: path.to_owned(), replaceable: false }
            }
            _ => Refused::system(path, error),
        })?;
        self.needed.push((path.to_owned(), "what this command writes"));
        Ok(file)
    }
}

/// Takes a file away again that [`Outputs::write`] wrote, if it still is of its kind.
///
/// # Errors
/// It is something else now, or the system's.
pub fn remove(path: &Path, kind: Kind) -> Result<(), Refused> {
    match existing::look(path, kind, Replace::Asked, &[])? {
        None => Ok(()),
        Some(_) => std::fs::remove_file(path).map_err(|error| Refused::system(path, error)),
    }
}

/// The folder that a file is in.
fn folder(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Writes all and brings it to disk.
fn fill(mut file: &File, bytes: &[u8]) -> io::Result<()> {
    file.write_all(bytes)?;
    file.sync_all()
}
