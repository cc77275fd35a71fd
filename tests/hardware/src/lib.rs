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

pub mod figures;
pub mod interval;
pub mod netlist;
pub mod pins;
pub mod sums;

use std::path::Path;

/// A file of the source tree.
///
/// # Panics
/// It is not there.
pub fn source(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}
