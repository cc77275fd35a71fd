//! Reading that stops at a limit: a device or an endless pipe named in a file's place fills no
//! memory.
//!
//! | what | at most |
//! | --- | --- |
//! | a job file | 1 MB |
//! | a table: readings, survey points | 64 MB |
//! | a key, a passphrase | 64 kB |
//! | a zeroing that was put aside, a touch proof | 16 MB |
//! | firmware: a UF2, an ELF | 64 MB |
//! | a line that is typed | 4 kB |
//!
//! A recording is read piece by piece and needs no limit; replaying one that never ends takes a
//! Ctrl-C. A pipe that says nothing is waited for, as for a person who still writes: Ctrl-C ends
//! that, too.

use std::fs::File;
use std::io::{self, BufRead, BufReader, ErrorKind, Read};
use std::path::Path;

/// How long a kind of file may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limit {
    /// In a sentence: `job file`.
    pub what: &'static str,
    /// Bytes.
    pub most: u64,
}

/// A job file: a person writes it.
pub const JOB_FILE: Limit = Limit { what: "job file", most: 1 << 20 };
/// Readings, survey points: ten thousand lines are half a megabyte.
pub const TABLE: Limit = Limit { what: "table", most: 64 << 20 };
/// A key or a passphrase: the largest OpenSSH keys have 4 kB.
pub const KEY: Limit = Limit { what: "key", most: 64 << 10 };
/// A zeroing that was put aside: a roll has some 4000 points.
pub const ZEROING: Limit = Limit { what: "zeroing", most: 16 << 20 };
/// A touch proof: some thousand reports are a hundred kilobytes.
pub const PROOF: Limit = Limit { what: "touch proof", most: 16 << 20 };
/// A UF2 or an ELF: the board has 2 MB of flash, an ELF its texts besides.
pub const FIRMWARE: Limit = Limit { what: "firmware file", most: 64 << 20 };

/// A line that is typed has no more bytes.
pub const LONGEST_LINE: usize = 4 << 10;

/// Reads a file, a device or a pipe up to the limit.
///
/// # Errors
/// The system's, and [`ErrorKind::FileTooLarge`] where there is more: in a sentence.
pub fn read(path: &Path, limit: Limit) -> io::Result<Vec<u8>> {
    let file = open(path)?;
    let length = file.metadata().map_or(0, |about| about.len());
    if length > limit.most {
        return Err(too_large(limit));
    }
    read_from(file, limit)
}

/// [`read`], as text.
///
/// # Errors
/// As [`read`]; [`ErrorKind::InvalidData`] where it is not UTF-8, naming the line.
pub fn read_text(path: &Path, limit: Limit) -> io::Result<String> {
    text(read(path, limit)?)
}

/// Bytes as text.
///
/// # Errors
/// [`ErrorKind::InvalidData`] where they are not UTF-8, naming the line.
pub fn text(bytes: Vec<u8>) -> io::Result<String> {
    String::from_utf8(bytes).map_err(|error| {
        let good = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        let line = 1 + good.iter().filter(|byte| **byte == b'\n').count();
        io::Error::new(
            ErrorKind::InvalidData,
            format!("Line {line} is not UTF-8 text: save it as UTF-8"),
        )
    })
}

/// Opens what is read piece by piece and may be longer than any memory: a recording.
///
/// # Errors
/// The system's.
pub fn stream(path: &Path) -> io::Result<impl Read + use<>> {
    Ok(BufReader::with_capacity(1 << 16, open(path)?))
}

/// Windows opens a device under a name like `con.toml` in any folder, and would wait for what is
/// typed there; a folder it refuses as if it were another's.
fn open(path: &Path) -> io::Result<File> {
    if crate::names::is_device(path) {
        return Err(io::Error::new(ErrorKind::InvalidInput, "It is a device, and no file"));
    }
    if cfg!(windows) && path.is_dir() {
        return Err(ErrorKind::IsADirectory.into());
    }
    File::open(path)
}

/// Reads what is open up to the limit: standard input.
///
/// # Errors
/// As [`read`].
pub fn read_from(from: impl Read, limit: Limit) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    from.take(limit.most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > limit.most { Err(too_large(limit)) } else { Ok(bytes) }
}

fn too_large(limit: Limit) -> io::Error {
    let most = match limit.most {
        most if most < 1 << 20 => format!("{} kB", most >> 10),
        most => format!("{} MB", most >> 20),
    };
    io::Error::new(
        ErrorKind::FileTooLarge,
        format!("It has more than {most}, and no {} has", limit.what),
    )
}

/// Lines that somebody types or pipes in, without their ends; bytes that are no text are shown as
/// such. Ends with the input, and at a line of more than [`LONGEST_LINE`] bytes: nobody types that.
pub fn lines(mut from: impl BufRead) -> impl Iterator<Item = String> {
    std::iter::from_fn(move || {
        let mut line = Vec::new();
        let length =
            from.by_ref().take(LONGEST_LINE as u64 + 1).read_until(b'\n', &mut line).ok()?;
        if length == 0 || length > LONGEST_LINE {
            return None;
        }
        let end =
            line.iter().rposition(|byte| !matches!(byte, b'\n' | b'\r')).map_or(0, |last| last + 1);
        Some(String::from_utf8_lossy(&line[..end]).into_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: Limit = Limit { what: "job file", most: 1 << 20 };

    #[test]
    fn an_endless_source_stops_at_the_limit() {
        let said = read_from(io::repeat(b'x'), SMALL).unwrap_err().to_string();
        assert_eq!(said, "It has more than 1 MB, and no job file has");
        assert_eq!(read_from(&[7; 1 << 20][..], SMALL).unwrap().len(), 1 << 20);
        assert!(read_from(io::repeat(0), KEY).unwrap_err().to_string().contains("64 kB"));
    }

    #[cfg(unix)]
    #[test]
    fn a_device_in_a_files_place_stops_at_the_limit() {
        assert_eq!(
            read(Path::new("/dev/zero"), SMALL).unwrap_err().kind(),
            ErrorKind::FileTooLarge
        );
        assert_eq!(read(Path::new("/dev/null"), SMALL).unwrap(), b"");
    }

    #[test]
    fn a_long_file_is_refused_before_it_is_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("long");
        // Sparse: no disk is used.
        File::create(&path).unwrap().set_len(1 << 40).unwrap();
        assert_eq!(read(&path, TABLE).unwrap_err().kind(), ErrorKind::FileTooLarge);
    }

    #[test]
    fn what_is_no_text_names_its_line() {
        assert_eq!(
            text(b"a\nb\n\xff".to_vec()).unwrap_err().to_string(),
            "Line 3 is not UTF-8 text: save it as UTF-8"
        );
    }

    #[test]
    fn lines_end_where_nobody_types_any_more() {
        let typed: Vec<_> = lines(&b"take\r\n\nstation \xff\nquit"[..]).collect();
        assert_eq!(typed, ["take", "", "station \u{fffd}", "quit"]);
        assert_eq!(lines(io::BufReader::new(io::repeat(b'x'))).count(), 0);
        let mut long = vec![b'y'; LONGEST_LINE - 1];
        long.push(b'\n');
        assert_eq!(lines(&long[..]).count(), 1);
    }
}
