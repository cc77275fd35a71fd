//! The drive that a board in its boot loader shows: a folder with `INFO_UF2.TXT` that names the
//! board.

use skimgauge_system::input::{self, Limit};
use std::path::{Path, PathBuf};

/// What the RP2040's boot loader calls its board (RP2040 datasheet, 2.8.4.2).
const BOARD: &str = "RPI-RP2";
const INFO: &str = "INFO_UF2.TXT";
const LONGEST: Limit = Limit { what: "such description", most: 64 << 10 };
/// Where systems mount drives: a folder, and how many levels below it they are.
const ROOTS: [(&str, usize); 4] = [("/media", 2), ("/run/media", 2), ("/Volumes", 1), ("/mnt", 1)];

/// The board that an `INFO_UF2.TXT` names.
pub fn board(info: &str) -> Option<&str> {
    info.lines().find_map(|line| line.strip_prefix("Board-ID:")).map(str::trim)
}

/// Whether the folder is the drive of a board like the head's, in its boot loader.
pub fn is_loader(folder: &Path) -> bool {
    // A drive that goes away while it is read is none.
    let info = folder.join(INFO);
    info.is_file()
        && input::read(&info, LONGEST)
            .is_ok_and(|info| board(&String::from_utf8_lossy(&info)) == Some(BOARD))
}

/// Every such drive that is mounted.
pub fn loaders() -> Vec<PathBuf> {
    let mut found = Vec::new();
    for (root, levels) in ROOTS {
        below(Path::new(root), levels, &mut found);
    }
    found.sort();
    found
}

fn below(folder: &Path, levels: usize, found: &mut Vec<PathBuf>) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    for path in entries.filter_map(|entry| Some(entry.ok()?.path())) {
        if is_loader(&path) {
            found.push(path);
        } else if levels > 1 {
            below(&path, levels - 1, found);
        }
    }
}

/// How this system mounts such a drive that it sees and has not mounted.
pub fn how_to_mount() -> Option<String> {
    let device = "/dev/disk/by-label/RPI-RP2";
    Path::new(device).exists().then(|| format!("udisksctl mount -b {device}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loaders_drive_is_known_by_the_board_that_it_names() {
        // As the boot ROM of the RP2040 writes it, from memory.
        let info = "UF2 Bootloader v3.0\r\nModel: Raspberry Pi RP2\r\nBoard-ID: RPI-RP2\r\n";
        assert_eq!(board(info), Some("RPI-RP2"));
        assert_eq!(board("Board-ID:"), Some(""));
        assert_eq!(board("a stick"), None);

        let place = tempfile::tempdir().unwrap();
        let drive = place.path().join("somebody/RPI-RP2");
        std::fs::create_dir_all(&drive).unwrap();
        std::fs::create_dir_all(place.path().join("somebody/photos")).unwrap();
        let mut found = Vec::new();
        below(place.path(), 2, &mut found);
        assert!(found.is_empty());
        std::fs::write(drive.join(INFO), "Board-ID: ANOTHER\n").unwrap();
        assert!(!is_loader(&drive));
        std::fs::write(drive.join(INFO), info).unwrap();
        below(place.path(), 2, &mut found);
        assert_eq!(found, [drive]);
    }
}
