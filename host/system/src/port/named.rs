//! What a port's name leads to, where opening it as a port did not work.

use std::borrow::Cow;

/// Why a port could not be opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    /// Another program has it.
    Busy,
    /// A file, a folder, a device that is no port.
    NotAPort,
    /// There is nothing of that name.
    Gone,
}

/// Why a port of this name could not be opened, where the system says so in numbers. Its words are
/// in the language of whoever sits there, and nothing is read from them.
#[cfg(windows)]
pub fn refusal(name: &str) -> Option<Refusal> {
    use std::os::windows::fs::OpenOptionsExt;
    use windows_sys::Win32::Foundation::{
        ERROR_ACCESS_DENIED, ERROR_BAD_PATHNAME, ERROR_FILE_NOT_FOUND, ERROR_INVALID_NAME,
        ERROR_PATH_NOT_FOUND, ERROR_SHARING_VIOLATION,
    };
    if std::fs::exists(name).unwrap_or(false) && !is_serial(name) {
        return Some(Refusal::NotAPort);
    }
    let device = match name.starts_with('\\') {
        true => name.to_owned(),
        false => format!(r"\\.\{name}"),
    };
    let opened = std::fs::OpenOptions::new().read(true).write(true).share_mode(0).open(device);
    let number = match opened {
        // Given free just now, or something that takes no settings of a port.
        Ok(_) if is_serial(name) => return Some(Refusal::Busy),
        Ok(_) => return Some(Refusal::NotAPort),
        Err(error) => error.raw_os_error().map(i32::cast_unsigned),
    };
    match number? {
        ERROR_ACCESS_DENIED | ERROR_SHARING_VIOLATION => Some(Refusal::Busy),
        ERROR_FILE_NOT_FOUND | ERROR_PATH_NOT_FOUND | ERROR_INVALID_NAME | ERROR_BAD_PATHNAME => {
            Some(Refusal::Gone)
        }
        _ => None,
    }
}

/// Why a port of this name could not be opened: here opening it told.
#[cfg(not(windows))]
pub fn refusal(_: &str) -> Option<Refusal> {
    None
}

/// Whether the system tells what a device on USB says of itself. Windows tells its driver's name for
/// it instead, which is the same for every serial port: `USB Serial Device (COM3)`.
pub fn tells_what_devices_say() -> bool {
    cfg!(not(windows))
}

/// The name by which the system opens a port: on Windows `com3:` and `\\.\COM3` are `COM3`.
pub fn native(name: &str) -> Cow<'_, str> {
    if cfg!(windows) && is_serial(name) { bare(name) } else { Cow::Borrowed(name) }
}

/// Whether a name is one that Windows gives to a serial port.
fn is_serial(name: &str) -> bool {
    bare(name).strip_prefix("COM").is_some_and(|number| number.parse::<u16>().is_ok())
}

/// A port's name as Windows itself writes it.
fn bare(name: &str) -> Cow<'_, str> {
    let name = name.strip_prefix(r"\\.\").or_else(|| name.strip_prefix(r"\\?\")).unwrap_or(name);
    let name = name.strip_suffix(':').unwrap_or(name);
    match name.bytes().any(|byte| byte.is_ascii_lowercase()) {
        true => Cow::Owned(name.to_ascii_uppercase()),
        false => Cow::Borrowed(name),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_has_one_name_however_it_is_typed() {
        for name in ["COM12", "com12", "COM12:", r"\\.\COM12", r"\\?\com12"] {
            assert_eq!(bare(name), "COM12", "{name}");
        }
        assert_eq!(native("com12:"), if cfg!(windows) { "COM12" } else { "com12:" });
        for name in ["/dev/ttyACM0", "com", "company", "line:49152", "./head"] {
            assert!(!is_serial(name), "{name}");
            assert_eq!(native(name), name);
        }
    }

    #[cfg(windows)]
    #[test]
    fn what_is_no_port_is_told_by_numbers() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("job.toml");
        std::fs::write(&file, "").unwrap();
        for name in [file.to_str().unwrap(), folder.path().to_str().unwrap(), "NUL"] {
            assert_eq!(refusal(name), Some(Refusal::NotAPort), "{name}");
        }
        for name in ["COM219", r"\\.\COM219", "/dev/ttyACM0", r"C:\no\such"] {
            assert_eq!(refusal(name), Some(Refusal::Gone), "{name}");
        }
    }
}
