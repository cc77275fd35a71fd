//! Who may use a device or read a file, and whose account this is.

use std::path::Path;

/// The group that owns a device file, by name; `None` where there is no such thing, or it is root's
/// alone.
#[cfg(unix)]
pub fn group_of(device: &Path) -> Option<String> {
    use std::os::unix::fs::MetadataExt;
    let gid = std::fs::metadata(device).ok()?.gid().to_string();
    let groups = std::fs::read_to_string("/etc/group").ok()?;
    groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let (name, id) = (fields.next()?, fields.nth(1)?);
        (id == gid && name != "root").then(|| name.to_owned())
    })
}

/// The group that owns a device file: Windows has none.
#[cfg(not(unix))]
pub fn group_of(_: &Path) -> Option<String> {
    None
}

/// What others than its owner may do with a file, as its mode; `None` where they may do nothing, or
/// modes are unknown.
///
/// # Errors
/// The system's.
#[cfg(unix)]
pub fn open_to_others(file: &Path) -> std::io::Result<Option<u32>> {
    use std::os::unix::fs::PermissionsExt;
    let mode = std::fs::metadata(file)?.permissions().mode() & 0o777;
    Ok((mode & 0o077 != 0).then_some(mode))
}

/// What others than its owner may do with a file: on Windows its folder says, and that is not
/// looked at.
///
/// # Errors
/// None.
#[cfg(not(unix))]
pub fn open_to_others(_: &Path) -> std::io::Result<Option<u32>> {
    Ok(None)
}

/// The file that a link leads to; `None` where it is no link, or leads nowhere.
pub fn linked(file: &Path) -> Option<std::path::PathBuf> {
    file.is_symlink().then(|| file.canonicalize().ok()).flatten()
}

/// Whether others with an account on this computer may read a file that is made here, whatever this
/// program does: on Windows its folder says, and only the account's own folders are closed to others.
pub fn goes_by_its_folder(path: &Path) -> bool {
    let lower = |path: &Path| path.to_string_lossy().to_lowercase();
    let own = std::env::var_os("USERPROFILE").map(std::path::PathBuf::from);
    cfg!(windows)
        && !own.is_some_and(|own| {
            let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
            Path::new(&lower(&whole)).starts_with(lower(&own))
        })
}

/// The name of the account that this program runs under, as the system says it; `None` where it does
/// not.
pub fn account() -> Option<String> {
    let names = ["USER", "USERNAME", "LOGNAME"].iter();
    names.filter_map(|name| std::env::var(name).ok()).find(|name| !name.trim().is_empty())
}
