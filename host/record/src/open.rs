//! Opening a record: made where there is none, read as it is, or brought up to date.

use std::ffi::OsString;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, MAIN_DB, OpenFlags, TransactionBehavior};

use crate::schema::{self, Found};
use crate::{Record, RecordError, place};

/// How long to wait for another process before giving up.
const PATIENCE: Duration = Duration::from_secs(10);

/// A record that was brought up to date when it was opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MovedOn {
    /// The format that it was in.
    pub from: i64,
    /// Where the file is kept as it was.
    pub copy: PathBuf,
}

/// Which file a path leads to, where the system says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct FileId(u64, u64);

#[cfg(unix)]
pub(crate) fn file_id(path: &Path) -> Option<FileId> {
    use std::os::unix::fs::MetadataExt;
    std::fs::metadata(path).ok().map(|about| FileId(about.dev(), about.ino()))
}

/// Elsewhere an open file can't be removed or replaced.
#[cfg(not(unix))]
pub(crate) fn file_id(path: &Path) -> Option<FileId> {
    path.exists().then_some(FileId(0, 0))
}

impl Record {
    /// Opens the record, makes it if there is none, and brings an earlier format up to date.
    ///
    /// # Errors
    /// Each case of [`RecordError`] that opening can meet.
    pub fn open_or_create(path: &Path) -> Result<Self, RecordError> {
        not_a_device(path)?;
        place::make_folder(path)?;
        match make_file(path) {
            Err(error) if error.kind() != std::io::ErrorKind::AlreadyExists => {
                return Err(RecordError::from_io(path, &error, error.to_string()));
            }
            _ => {}
        }
        let mut record = Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        record.bring_up_to_date()?;
        Ok(record)
    }

    /// Makes a new record where nothing is yet.
    ///
    /// # Errors
    /// [`RecordError::Exists`], and as [`Record::open_or_create`].
    pub fn create(path: &Path) -> Result<Self, RecordError> {
        place::make_folder(path)?;
        match make_file(path) {
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
                Err(RecordError::Exists(path.to_owned()))
            }
            Err(error) => Err(RecordError::from_io(path, &error, error.to_string())),
            Ok(_) => Self::open_or_create(path),
        }
    }

    /// Opens a record that is there, to read and append; an earlier format is brought up to date,
    /// which [`Record::moved_on`] tells.
    ///
    /// # Errors
    /// [`RecordError::Missing`], and as [`Record::open_or_create`].
    pub fn open(path: &Path) -> Result<Self, RecordError> {
        let mut record = Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        if schema::identify(&record.connection, path)? == Found::Empty {
            return Err(RecordError::NotARecord(path.to_owned()));
        }
        record.bring_up_to_date()?;
        Ok(record)
    }

    /// Opens a record that is there, to read only; one in an earlier format is read as it is. An
    /// interrupted write is undone first, where that is possible.
    ///
    /// # Errors
    /// As [`Record::open`].
    pub fn open_read_only(path: &Path) -> Result<Self, RecordError> {
        let mut record = Self::connect_to_read(path)?;
        schema::check(&record.connection, path, record.format, false)?;
        record.altered = !schema::is_exact(&record.connection, record.format)
            .map_err(|error| record.sqlite(&error))?;
        record.only_read()?;
        Ok(record)
    }

    /// The same before its tables are looked at; [`Record::only_read`] comes after.
    pub(crate) fn connect_to_read(path: &Path) -> Result<Self, RecordError> {
        // Undoing an interrupted write takes a connection that may write; where none is to be had,
        // SQLite falls back.
        let mut record = match Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE) {
            Err(RecordError::NoPermission(_) | RecordError::ReadOnly(_)) => {
                Self::connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?
            }
            other => other?,
        };
        record.format = match schema::identify(&record.connection, path)? {
            Found::Current => schema::VERSION,
            Found::Older(format) => format,
            Found::Empty => return Err(RecordError::NotARecord(path.to_owned())),
        };
        Ok(record)
    }

    /// Makes an earlier format look like today's, and writes nothing from here on, whatever is
    /// asked.
    pub(crate) fn only_read(&self) -> Result<(), RecordError> {
        schema::shadow(&self.connection, self.format)
            .and_then(|()| self.connection.pragma_update(None, "query_only", true))
            .map_err(|error| self.sqlite(&error))
    }

    pub(crate) fn connect(path: &Path, flags: OpenFlags) -> Result<Self, RecordError> {
        let sqlite = |error: rusqlite::Error| RecordError::from_sqlite(path, &error);
        not_a_device(path)?;
        let about = std::fs::metadata(path)
            .map_err(|error| RecordError::from_io(path, &error, error.to_string()))?;
        // A device, a pipe: what would be written there is gone, and what is read never ends.
        if !about.is_file() {
            return Err(RecordError::NoFile {
                path: path.to_owned(),
                is: kind_of(about.file_type()),
            });
        }
        // Not SQLITE_OPEN_URI: a path that looks like a URI is a path.
        let connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
            .map_err(sqlite)?;
        connection.busy_timeout(PATIENCE).map_err(sqlite)?;
        connection.pragma_update(None, "trusted_schema", false).map_err(sqlite)?;
        connection.pragma_update(None, "cell_size_check", true).map_err(sqlite)?;
        connection.pragma_update(None, "foreign_keys", true).map_err(sqlite)?;
        connection.pragma_update(None, "synchronous", "EXTRA").map_err(sqlite)?;
        Ok(Self {
            connection,
            path: path.to_owned(),
            format: schema::VERSION,
            file: None,
            moved_on: None,
            altered: false,
        })
    }

    /// Makes the tables in an empty file, or brings an earlier format up to date: in one
    /// transaction, so that a killed process leaves the one or the other.
    fn bring_up_to_date(&mut self) -> Result<(), RecordError> {
        let path = self.path.clone();
        let sqlite = |error: rusqlite::Error| RecordError::from_sqlite(&path, &error);
        if schema::identify(&self.connection, &path)? != Found::Current {
            let transaction = self
                .connection
                .transaction_with_behavior(TransactionBehavior::Immediate)
                .map_err(sqlite)?;
            // Another process may have done it while this one waited.
            let climb = |from| schema::climb_from(&transaction, from).map_err(sqlite);
            self.moved_on = match schema::identify(&transaction, &path)? {
                Found::Current => None,
                Found::Empty => {
                    climb(0)?;
                    None
                }
                Found::Older(from) => {
                    schema::check(&transaction, &path, from, true)?;
                    let copy = keep_copy(&path, from)?;
                    climb(from).inspect_err(|_| drop(std::fs::remove_file(&copy)))?;
                    Some(MovedOn { from, copy })
                }
            };
            transaction.commit().map_err(sqlite)?;
            if self.moved_on.is_some() {
                for_its_owner_alone(&path);
            }
        }
        schema::check(&self.connection, &path, schema::VERSION, true)?;
        self.file = file_id(&path);
        Ok(())
    }

    /// Whether something took away or changed a table or a trigger of the record: what it holds is
    /// still checked link by link, but the file no longer refuses what it should. One that is
    /// altered is only ever read.
    pub fn is_altered(&self) -> bool {
        self.altered
    }

    /// Whether the record was brought up to date when it was opened, and where the file is kept as
    /// it was.
    pub fn moved_on(&self) -> Option<&MovedOn> {
        self.moved_on.as_ref()
    }
}

/// A name that leads to a device of Windows, whatever its folder and its ending.
fn not_a_device(path: &Path) -> Result<(), RecordError> {
    if skimgauge_system::names::is_device(path) {
        return Err(RecordError::NoFile { path: path.to_owned(), is: "a device" });
    }
    Ok(())
}

/// What stands where a file should.
fn kind_of(kind: std::fs::FileType) -> &'static str {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if kind.is_fifo() {
            return "a pipe";
        }
        if kind.is_socket() {
            return "a socket";
        }
    }
    if kind.is_dir() { "a folder" } else { "a device" }
}

/// A record of an earlier format may have been made for everybody's eyes. Where it is another's
/// file it stays as it is.
fn for_its_owner_alone(path: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let _ = std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600));
    }
    #[cfg(not(unix))]
    let _ = path;
}

/// Makes the empty file that becomes a record, for its owner's eyes only.
fn make_file(path: &Path) -> std::io::Result<()> {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map(|_| ())
}

/// Copies the file beside itself, byte for byte, under a name that nothing has.
fn keep_copy(path: &Path, format: i64) -> Result<PathBuf, RecordError> {
    let folder =
        path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let no_copy = |error: std::io::Error| RecordError::NoCopy {
        path: path.to_owned(),
        why: error.to_string(),
    };
    // A connection of its own: what the disk holds, whatever this process has in its cache.
    let mut disk = Record::connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    let image = disk
        .connection
        .serialize(MAIN_DB)
        .map_err(|error| RecordError::from_sqlite(path, &error))?;
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(no_copy)?;
    file.write_all(&image).and_then(|()| file.as_file().sync_all()).map_err(no_copy)?;
    for nth in 1_u32.. {
        let copy = copy_name(path, format, nth);
        match file.persist_noclobber(&copy) {
            Ok(_) => {
                // The new name on disk, too, where folders can be synced.
                let _ = std::fs::File::open(folder).and_then(|folder| folder.sync_all());
                return Ok(copy);
            }
            Err(taken) if taken.error.kind() == std::io::ErrorKind::AlreadyExists => {
                file = taken.file;
            }
            Err(failed) => return Err(no_copy(failed.error)),
        }
    }
    Err(no_copy(std::io::ErrorKind::AlreadyExists.into()))
}

/// `record.sqlite` in format 1 is kept as `record.format-1.sqlite`, or with a number more where
/// that is taken.
fn copy_name(path: &Path, format: i64, nth: u32) -> PathBuf {
    let mut name: OsString = path.file_stem().unwrap_or_default().to_owned();
    name.push(format!(".format-{format}"));
    if nth > 1 {
        name.push(format!("-{nth}"));
    }
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    path.with_file_name(name)
}
