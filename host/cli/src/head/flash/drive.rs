//! The drive that a board in its boot loader shows: a folder with `INFO_UF2.TXT` that names the
//! board.

use skimgauge_system::drives;
use skimgauge_system::input::{self, Limit};
use std::path::{Path, PathBuf};

/// What the RP2040's boot loader calls its board (RP2040 datasheet, 2.8.4.2).
const BOARD: &str = "RPI-RP2";
const INFO: &str = "INFO_UF2.TXT";
const LONGEST: Limit = Limit { what: "such description", most: 64 << 10 };

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
    drives::mounted().into_iter().filter(|folder| is_loader(folder)).collect()
}

/// How this system mounts such a drive that it sees and has not mounted.
pub fn how_to_mount() -> Option<String> {
    drives::how_to_mount(BOARD)
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
        assert!(!is_loader(place.path()));
        std::fs::write(place.path().join(INFO), "Board-ID: ANOTHER\n").unwrap();
        assert!(!is_loader(place.path()));
        std::fs::write(place.path().join(INFO), info).unwrap();
        assert!(is_loader(place.path()));
    }
}
