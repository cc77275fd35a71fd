//! A name for a port, removed by whoever made it alone: a symbolic link; on Windows, where links take
//! rights that an installer's account has not, a file that holds the port's own name, which
//! [`crate::port::dial`] reads.

use std::io;
use std::path::{Path, PathBuf};

/// Why there is no link.
#[derive(Debug, thiserror::Error)]
pub enum LinkError {
    /// Something of that name is there.
    #[error("{} is there already and was left as it is. Choose another name; or remove it, if a demonstration that was killed left it.", .0.display())]
    Exists(PathBuf),
    /// The system's reason.
    #[error("{} cannot be made.", .path.display())]
    System {
        /// The link.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

/// A name that is there for as long as this is.
#[derive(Debug)]
pub struct Link {
    at: PathBuf,
    target: PathBuf,
    made: Option<Identity>,
}

impl Link {
    /// Makes `at` lead to `target`. What is there already stays, a link of an earlier run included.
    ///
    /// # Errors
    /// Something is there, or the system's.
    pub fn make(target: &Path, at: &Path) -> Result<Self, LinkError> {
        make(target, at).map_err(|source| match source.kind() {
            io::ErrorKind::AlreadyExists => LinkError::Exists(at.to_owned()),
            _ => LinkError::System { path: at.to_owned(), source },
        })?;
        Ok(Self { at: at.to_owned(), target: target.to_owned(), made: identity(at) })
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        let is_ours = self.made.is_some()
            && identity(&self.at) == self.made
            && leads_to(&self.at).is_some_and(|target| target == self.target);
        if is_ours {
            let _ = std::fs::remove_file(&self.at);
        }
    }
}

/// Device and number of the link itself, or what there is instead.
type Identity = (u64, u64);

#[cfg(unix)]
fn identity(at: &Path) -> Option<Identity> {
    use std::os::unix::fs::MetadataExt;
    let about = std::fs::symlink_metadata(at).ok()?;
    about.is_symlink().then(|| (about.dev(), about.ino()))
}

#[cfg(unix)]
fn make(target: &Path, at: &Path) -> io::Result<()> {
    std::os::unix::fs::symlink(target, at)
}

#[cfg(unix)]
fn leads_to(at: &Path) -> Option<PathBuf> {
    std::fs::read_link(at).ok()
}

/// When the file was made, and how long it is.
#[cfg(windows)]
fn identity(at: &Path) -> Option<Identity> {
    use std::os::windows::fs::MetadataExt;
    let about = std::fs::symlink_metadata(at).ok()?;
    about.is_file().then(|| (about.creation_time(), about.file_size()))
}

#[cfg(windows)]
fn make(target: &Path, at: &Path) -> io::Result<()> {
    use std::io::Write;
    writeln!(std::fs::File::create_new(at)?, "{}", target.display())
}

#[cfg(windows)]
fn leads_to(at: &Path) -> Option<PathBuf> {
    std::fs::read_to_string(at).ok().map(|text| PathBuf::from(text.trim_end()))
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::fs;
    use std::os::unix::fs::symlink;

    #[test]
    fn a_link_goes_with_whoever_made_it() {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path().join("head");
        let link = Link::make(Path::new("/dev/pts/7"), &at).unwrap();
        assert_eq!(fs::read_link(&at).unwrap(), Path::new("/dev/pts/7"));
        drop(link);
        assert!(!at.is_symlink());
    }

    #[test]
    fn what_somebody_else_made_stays() {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path().join("head");
        // Somebody's link, also one that leads nowhere; somebody's file.
        symlink("/nowhere", &at).unwrap();
        let said = Link::make(Path::new("/dev/pts/7"), &at).unwrap_err().to_string();
        assert!(said.contains("is there already"), "{said}");
        assert_eq!(fs::read_link(&at).unwrap(), Path::new("/nowhere"));
        fs::remove_file(&at).unwrap();
        fs::write(&at, "mine").unwrap();
        assert!(matches!(Link::make(Path::new("/dev/pts/7"), &at), Err(LinkError::Exists(_))));
        assert_eq!(fs::read(&at).unwrap(), b"mine");
        fs::remove_file(&at).unwrap();
        // Put in its place meanwhile.
        let link = Link::make(Path::new("/dev/pts/7"), &at).unwrap();
        fs::remove_file(&at).unwrap();
        fs::write(&at, "mine").unwrap();
        drop(link);
        assert_eq!(fs::read(&at).unwrap(), b"mine");
        fs::remove_file(&at).unwrap();
        let link = Link::make(Path::new("/dev/pts/7"), &at).unwrap();
        fs::remove_file(&at).unwrap();
        symlink("/dev/pts/8", &at).unwrap();
        drop(link);
        assert_eq!(fs::read_link(&at).unwrap(), Path::new("/dev/pts/8"));
    }
}

#[cfg(all(test, windows))]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn a_name_goes_with_whoever_made_it_and_what_somebody_else_made_stays() {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path().join("head");
        let link = Link::make(Path::new("line:49152"), &at).unwrap();
        assert_eq!(leads_to(&at).unwrap(), Path::new("line:49152"));
        assert!(matches!(Link::make(Path::new("line:1"), &at), Err(LinkError::Exists(_))));
        drop(link);
        assert!(!at.exists());
        let link = Link::make(Path::new("line:49152"), &at).unwrap();
        fs::remove_file(&at).unwrap();
        fs::write(&at, "mine").unwrap();
        drop(link);
        assert_eq!(fs::read(&at).unwrap(), b"mine");
    }
}
