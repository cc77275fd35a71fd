//! The rule of udev that lets whoever sits at a Linux computer open a head's port: a release brings
//! it (`release/` of the project writes it).

use std::path::Path;

/// Its file's name.
pub const RULE: &str = "70-skimgauge-head.rules";

/// Where udev looks for rules (udev(7), "Rules files"), and older systems for those of packages.
const FOLDERS: [&str; 5] = [
    "/etc/udev/rules.d",
    "/run/udev/rules.d",
    "/usr/local/lib/udev/rules.d",
    "/usr/lib/udev/rules.d",
    "/lib/udev/rules.d",
];

/// Whether this computer has it.
pub(super) fn is_there() -> bool {
    FOLDERS.iter().any(|folder| Path::new(folder).join(RULE).exists())
}
