//! Files that the user names, read up to a limit: a device or a pipe never ends.

use anyhow::{Context, Result, bail};
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Largest file of texts and tables that is read, bytes: far more than a person or a program writes for this one.
pub const LARGEST_TEXT: usize = 64 << 20;

/// The first `most` bytes and one more, if there are more.
///
/// # Errors
/// The system's own, as it is.
pub fn up_to(path: &Path, most: usize) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(path)?.take(most as u64 + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// The whole file, if it has at most so many bytes.
///
/// # Errors
/// It cannot be read, or is larger.
pub fn whole(path: &Path, most: usize) -> Result<Vec<u8>> {
    let bytes = up_to(path, most).with_context(|| format!("{} cannot be read.", path.display()))?;
    within(path, bytes, most)
}

/// What [`up_to`] read, if that was all.
///
/// # Errors
/// There is more.
pub fn within(path: &Path, bytes: Vec<u8>, most: usize) -> Result<Vec<u8>> {
    if bytes.len() > most {
        bail!("{} has more than {}, or never ends. Check that it is the file you mean.", path.display(), size(most));
    }
    Ok(bytes)
}

/// The whole file as text, if it has at most so many bytes.
///
/// # Errors
/// It cannot be read, is larger, or is no UTF-8 text.
pub fn text(path: &Path, most: usize) -> Result<String> {
    as_text(path, whole(path, most)?)
}

/// Bytes of this file as text.
///
/// # Errors
/// They are no UTF-8.
pub fn as_text(path: &Path, bytes: Vec<u8>) -> Result<String> {
    String::from_utf8(bytes)
        .map_err(|_| anyhow::anyhow!("{} is no text (UTF-8). Check that it is the file you mean.", path.display()))
}

fn size(bytes: usize) -> String {
    if bytes >= 1 << 20 { format!("{} MB", bytes >> 20) } else { format!("{} KB", bytes >> 10) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_read_to_its_limit_and_not_beyond() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x");
        std::fs::write(&path, "0123456789").unwrap();
        assert_eq!(text(&path, 10).unwrap(), "0123456789");
        assert!(text(&path, 9).unwrap_err().to_string().contains("never ends"));
        assert_eq!(up_to(&path, 3).unwrap(), b"0123");
        std::fs::write(&path, [0xff]).unwrap();
        assert!(text(&path, 9).unwrap_err().to_string().contains("no text"));
        assert!(text(&folder.path().join("none"), 9).unwrap_err().to_string().contains("cannot be read"));
    }

    #[cfg(unix)]
    #[test]
    fn a_device_that_never_ends_is_refused() {
        let error = whole(Path::new("/dev/zero"), 1 << 20).unwrap_err().to_string();
        assert!(error.contains("/dev/zero has more than 1 MB, or never ends"), "{error}");
    }
}
