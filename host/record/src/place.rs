//! Where the record lives unless the user says otherwise.

use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;

use crate::RecordError;

/// File name of the record in its default place.
pub const FILE_NAME: &str = "record.sqlite";

/// The default place by the platform's convention: under `~/.local/share/skimgauge` (or
/// `$XDG_DATA_HOME`) on Linux, `~/Library/Application Support/skimgauge` on macOS,
/// `%APPDATA%\skimgauge` on Windows. `None` when the account has no home folder; then ask for
/// `--record`.
pub fn default_path() -> Option<PathBuf> {
    let base = etcetera::base_strategy::choose_native_strategy().ok()?;
    Some(base.data_dir().join("skimgauge").join(FILE_NAME))
}

/// Makes the folder that a record is to lie in. The program's own folder is for its owner alone;
/// one that the user named is made, or left, as the system has it.
pub(crate) fn make_folder(record: &Path) -> Result<(), RecordError> {
    let Some(folder) = record.parent().filter(|folder| !folder.as_os_str().is_empty()) else {
        return Ok(());
    };
    let there = folder.ancestors().find(|above| above.is_dir());
    std::fs::create_dir_all(folder)
        .map(|()| keep_names(folder, there))
        .and_then(|()| if is_own(folder) { for_its_owner_alone(folder) } else { Ok(()) })
        .map_err(|error| RecordError::from_io(folder, &error, error.to_string()))
}

/// The names of new folders on disk, too, where folders can be synced: what is kept in them is no
/// safer than they are.
fn keep_names(folder: &Path, there: Option<&Path>) {
    let new = folder.ancestors().take_while(|above| Some(*above) != there);
    for above in new.filter_map(Path::parent) {
        let above = if above.as_os_str().is_empty() { Path::new(".") } else { above };
        let _ = std::fs::File::open(above).and_then(|above| above.sync_all());
    }
}

fn is_own(folder: &Path) -> bool {
    default_path().is_some_and(|path| path.parent() == Some(folder))
}

#[cfg(unix)]
fn for_its_owner_alone(folder: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let mode = std::fs::metadata(folder)?.permissions().mode();
    if mode & 0o077 == 0 {
        return Ok(());
    }
    std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o700))
}

#[cfg(not(unix))]
fn for_its_owner_alone(_: &Path) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lies_in_a_folder_of_its_own() {
        let path = default_path().unwrap();
        assert!(path.ends_with("skimgauge/record.sqlite"), "{}", path.display());
        assert!(path.is_absolute());
    }
}
