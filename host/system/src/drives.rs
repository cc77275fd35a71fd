//! Drives that are plugged in: where a board in its boot loader shows.

use std::io;
use std::path::PathBuf;

/// Folders that may be the top of a drive that was plugged in.
pub fn mounted() -> Vec<PathBuf> {
    let mut found = system::mounted();
    found.sort();
    found
}

/// How this system mounts a drive of this label that it sees and has not mounted.
pub fn how_to_mount(label: &str) -> Option<String> {
    system::how_to_mount(label)
}

/// Whether an error says that the drive is not there any more.
pub fn is_gone(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::BrokenPipe)
        || error.raw_os_error().is_some_and(|number| system::GONE.contains(&number))
}

#[cfg(unix)]
mod system {
    use std::path::{Path, PathBuf};

    /// EIO, ENXIO and ENODEV have no kinds of their own.
    pub(super) const GONE: [i32; 3] = [5, 6, 19];

    /// Where systems mount drives: a folder, and how many levels below it they are.
    const ROOTS: [(&str, usize); 4] =
        [("/media", 2), ("/run/media", 2), ("/Volumes", 1), ("/mnt", 1)];

    pub(super) fn mounted() -> Vec<PathBuf> {
        let mut found = Vec::new();
        for (root, levels) in ROOTS {
            below(Path::new(root), levels, &mut found);
        }
        found
    }

    /// Every folder so many levels below, and those on the way.
    pub(super) fn below(folder: &Path, levels: usize, found: &mut Vec<PathBuf>) {
        let Ok(entries) = std::fs::read_dir(folder) else { return };
        for path in entries.filter_map(|entry| Some(entry.ok()?.path())) {
            if levels > 1 {
                below(&path, levels - 1, found);
            }
            found.push(path);
        }
    }

    pub(super) fn how_to_mount(label: &str) -> Option<String> {
        let device = format!("/dev/disk/by-label/{label}");
        Path::new(&device).exists().then(|| format!("udisksctl mount -b {device}"))
    }
}

#[cfg(windows)]
mod system {
    use std::path::PathBuf;
    use windows_sys::Win32::Foundation::{
        ERROR_DEVICE_NOT_CONNECTED, ERROR_FILE_INVALID, ERROR_GEN_FAILURE, ERROR_IO_DEVICE,
        ERROR_NO_SUCH_DEVICE, ERROR_NOT_READY,
    };
    use windows_sys::Win32::Storage::FileSystem::{GetDriveTypeW, GetLogicalDrives};
    use windows_sys::Win32::System::Diagnostics::Debug::{
        SEM_FAILCRITICALERRORS, SetThreadErrorMode,
    };

    pub(super) const GONE: [i32; 6] = [
        ERROR_DEVICE_NOT_CONNECTED.cast_signed(),
        ERROR_FILE_INVALID.cast_signed(),
        ERROR_GEN_FAILURE.cast_signed(),
        ERROR_IO_DEVICE.cast_signed(),
        ERROR_NO_SUCH_DEVICE.cast_signed(),
        ERROR_NOT_READY.cast_signed(),
    ];

    /// `DRIVE_REMOVABLE`, which a boot loader's drive is.
    const REMOVABLE: u32 = 2;

    #[allow(unsafe_code, reason = "no library of those here lists drives")]
    pub(super) fn mounted() -> Vec<PathBuf> {
        // SAFETY: the first takes nothing; the second a number, and nowhere to put the former mode.
        let drives = unsafe {
            // An empty card reader is no reason to ask for a card.
            SetThreadErrorMode(SEM_FAILCRITICALERRORS, std::ptr::null_mut());
            GetLogicalDrives()
        };
        let letters = (b'A'..=b'Z').enumerate().filter(|(bit, _)| drives >> bit & 1 == 1);
        letters
            .map(|(_, letter)| format!("{}:\\", char::from(letter)))
            .filter(|root| {
                let name: Vec<u16> = root.encode_utf16().chain([0]).collect();
                // SAFETY: a text that ends with 0 and is there for as long as the call.
                unsafe { GetDriveTypeW(name.as_ptr()) == REMOVABLE }
            })
            .map(PathBuf::from)
            .collect()
    }

    /// It mounts every drive by itself.
    pub(super) fn how_to_mount(_: &str) -> Option<String> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(unix)]
    #[test]
    fn drives_are_looked_for_as_deep_as_systems_put_them() {
        let place = tempfile::tempdir().unwrap();
        let drive = place.path().join("somebody/RPI-RP2");
        std::fs::create_dir_all(drive.join("deeper")).unwrap();
        let mut found = Vec::new();
        system::below(place.path(), 2, &mut found);
        found.sort();
        assert_eq!(found, [place.path().join("somebody"), drive]);
    }

    #[test]
    fn a_drive_that_was_pulled_is_told_from_one_that_is_full() {
        let number = if cfg!(windows) { 1167 } else { 19 };
        assert!(is_gone(&io::Error::from_raw_os_error(number)));
        assert!(!is_gone(&io::ErrorKind::StorageFull.into()));
        assert!(!is_gone(&io::ErrorKind::PermissionDenied.into()));
    }
}
