//! The firmware that came with the program: a release holds both.

use anyhow::Context;
use std::path::{Path, PathBuf};

/// What the file is called, in a release and on a board's drive.
pub const NAME: &str = "skimgauge-head.uf2";

/// The firmware beside this program.
///
/// # Errors
/// There is none: where it was looked for, and what to do.
pub fn image() -> anyhow::Result<PathBuf> {
    // A link leads to where the program lies; else the path stays one that people read, as it does not
    // on Windows where every path is resolved.
    let program = std::env::current_exe()
        .and_then(|path| match std::fs::read_link(&path) {
            Ok(_) => std::fs::canonicalize(path),
            Err(_) => Ok(path),
        })
        .context("This computer does not say where skimgauge lies. Name the firmware's file.")?;
    let places = places(&program);
    let found = places.iter().find(|place| place.is_file());
    found.cloned().with_context(|| {
        let places: Vec<String> =
            places.iter().map(|place| place.display().to_string()).collect();
        format!(
            "No firmware came with this skimgauge (there is no {}). Name the file: skimgauge ports --flash FILE.",
            places.join(" and no ")
        )
    })
}

/// Where it may lie: in the program's own folder, or where systems keep what belongs to one
/// (Filesystem Hierarchy Standard 3.0, 4.11).
fn places(program: &Path) -> Vec<PathBuf> {
    let folder = program.parent();
    let above = folder.and_then(Path::parent);
    folder
        .map(|folder| folder.join(NAME))
        .into_iter()
        .chain(above.map(|above| above.join("share").join("skimgauge").join(NAME)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn firmware_lies_in_the_programs_folder_or_where_the_system_keeps_it() {
        assert_eq!(
            places(Path::new("/usr/bin/skimgauge")),
            [
                Path::new("/usr/bin/skimgauge-head.uf2"),
                Path::new("/usr/share/skimgauge/skimgauge-head.uf2")
            ]
        );
    }
}
