//! The head's hardware, from the files in `hardware/`: what its schematic joins, what its sums come
//! to, what its parts list and its guide name. No tool that drew them is needed.
//!
//! Every check gives what is wrong in words, an empty list where nothing is; the tests put one
//! fault of each kind in on purpose and see it found.
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

pub mod budget;
pub mod figures;
pub mod guide;
pub mod interval;
pub mod mesh;
pub mod netlist;
pub mod parts;
pub mod pins;
pub mod shape;
pub mod sums;
pub mod window;

use std::path::{Path, PathBuf};

/// A file of the source tree.
///
/// # Panics
/// It is not there.
pub fn source(path: &str) -> String {
    String::from_utf8(bytes(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// The same, whatever is in it.
///
/// # Panics
/// It is not there.
pub fn bytes(path: &str) -> Vec<u8> {
    let path = self::path(path);
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Where a file of the source tree is.
pub fn path(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(path)
}
