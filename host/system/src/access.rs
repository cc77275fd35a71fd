//! Who may use a device.

use std::path::Path;

/// The group that owns a device file, by name; `None` where there is no such thing, or it is root's alone.
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
