//! Where the record lives unless the user says otherwise.

use std::path::PathBuf;

use etcetera::BaseStrategy;

/// File name of the record in its default place.
pub const FILE_NAME: &str = "record.sqlite";

/// The default place by the platform's convention: under `~/.local/share/skimgauge` (or `$XDG_DATA_HOME`) on Linux,
/// `~/Library/Application Support/skimgauge` on macOS, `%APPDATA%\skimgauge` on Windows. `None` when the account has no
/// home folder; then ask for `--record`.
pub fn default_path() -> Option<PathBuf> {
    let base = etcetera::base_strategy::choose_native_strategy().ok()?;
    Some(base.data_dir().join("skimgauge").join(FILE_NAME))
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
