//! Names that a path may have here and a file may not: on Windows some lead to a device whatever
//! folder and ending stand around them, and some are not kept as they were written.
//!
//! After Microsoft's "Naming Files, Paths, and Namespaces" (from memory). Windows 11 has lifted part
//! of it; a file that an older one cannot open is of no use to a client.

use std::path::{Component, Path};

/// What is wrong with a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Odd {
    /// It leads to a device.
    Device,
    /// It ends with a dot or a space, which is left off.
    Cut,
    /// A character that no name may have.
    Character(char),
}

/// What is wrong with a path on this system, if anything is.
pub fn odd(path: &Path) -> Option<Odd> {
    if !cfg!(windows) {
        return None;
    }
    path.components().find_map(|part| match part {
        Component::Prefix(prefix) => is_device_space(prefix.kind()).then_some(Odd::Device),
        Component::Normal(name) => odd_on_windows(&name.to_string_lossy()),
        _ => None,
    })
}

/// Whether a path leads to one of Windows' devices, by its name alone.
pub fn is_device(path: &Path) -> bool {
    odd(path) == Some(Odd::Device)
}

fn is_device_space(prefix: std::path::Prefix<'_>) -> bool {
    matches!(prefix, std::path::Prefix::DeviceNS(_))
}

/// One part of a path, as Windows takes it.
fn odd_on_windows(name: &str) -> Option<Odd> {
    let before = name.split(['.', ':']).next().unwrap_or(name).trim_end_matches(' ');
    if is_device_name(&before.to_uppercase()) {
        return Some(Odd::Device);
    }
    if let Some(odd) = name.chars().find(|c| r#"<>:"|?*"#.contains(*c) || u32::from(*c) < 32) {
        return Some(Odd::Character(odd));
    }
    name.ends_with(['.', ' ']).then_some(Odd::Cut)
}

fn is_device_name(name: &str) -> bool {
    let numbered = ["COM", "LPT"].iter().find_map(|kind| name.strip_prefix(kind));
    match numbered {
        Some(number) => {
            let mut digits = number.chars();
            let digit = digits.next().is_some_and(|c| matches!(c, '1'..='9' | '¹' | '²' | '³'));
            digit && digits.next().is_none()
        }
        None => matches!(name, "CON" | "PRN" | "AUX" | "NUL" | "CONIN$" | "CONOUT$"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_devices_name_is_one_whatever_its_ending_and_its_letters() {
        for name in [
            "CON",
            "nul",
            "aux.toml",
            "Com1",
            "LPT9.tar.gz",
            "prn .html",
            "com².csv",
            "CONOUT$",
            "nul:",
        ] {
            assert_eq!(odd_on_windows(name), Some(Odd::Device), "{name}");
        }
        for name in
            ["console", "com0", "com10", "lpt", "auxiliary.toml", "a.con", "Büro Süd", "..x"]
        {
            assert_eq!(odd_on_windows(name), None, "{name}");
        }
    }

    #[test]
    fn what_is_not_kept_as_written_is_told() {
        assert_eq!(odd_on_windows("page.html."), Some(Odd::Cut));
        assert_eq!(odd_on_windows("page "), Some(Odd::Cut));
        // A colon writes into a stream beside the file's content, where nobody looks for it.
        assert_eq!(odd_on_windows("page.html:hidden"), Some(Odd::Character(':')));
        assert_eq!(odd_on_windows("what?"), Some(Odd::Character('?')));
        assert_eq!(odd_on_windows("a\tb"), Some(Odd::Character('\t')));
    }

    #[test]
    fn only_windows_minds() {
        let minds = cfg!(windows).then_some(Odd::Device);
        assert_eq!(odd(Path::new("jobs/aux.toml")), minds);
        assert_eq!(odd(Path::new("../jobs/./board.toml")), None);
    }

    #[cfg(windows)]
    #[test]
    fn drives_shares_and_long_paths_are_paths() {
        for path in
            [r"C:\jobs\board.toml", r"c:board.toml", r"\\server\share\board.toml", r"\\?\C:\a"]
        {
            assert_eq!(odd(Path::new(path)), None, "{path}");
        }
        assert_eq!(odd(Path::new(r"\\.\COM12")), Some(Odd::Device));
    }
}
