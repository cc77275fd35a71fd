//! What cargo knows of both workspaces, for the tests that hold the house to its rules.
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

pub mod walls;

use cargo_metadata::{CargoOpt, Metadata, MetadataCommand};
use std::path::{Path, PathBuf};
use std::process::Command;

/// The root of the source tree.
///
/// # Panics
/// It was moved since this was compiled.
pub fn root() -> PathBuf {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    path.canonicalize().unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Everything that this computer's programs are built from, each feature counted.
///
/// # Panics
/// Cargo does not say.
pub fn host() -> Metadata {
    metadata("Cargo.toml", &this_computer(), CargoOpt::AllFeatures)
}

/// Everything that the flash image is built from.
///
/// # Panics
/// Cargo does not say.
pub fn image() -> Metadata {
    metadata("firmware/pico/Cargo.toml", "thumbv6m-none-eabi", CargoOpt::SomeFeatures(Vec::new()))
}

fn metadata(manifest: &str, platform: &str, features: CargoOpt) -> Metadata {
    let mut command = MetadataCommand::new();
    command.manifest_path(root().join(manifest)).features(features);
    // What only other systems need is not built, and may not have been fetched.
    command.other_options([
        "--locked".to_owned(),
        "--filter-platform".to_owned(),
        platform.to_owned(),
    ]);
    command.exec().unwrap_or_else(|error| panic!("{manifest}: {error}"))
}

/// The compiler's name for the system that it runs on.
fn this_computer() -> String {
    let output =
        Command::new("rustc").arg("-vV").output().unwrap_or_else(|error| panic!("rustc: {error}"));
    let said = String::from_utf8_lossy(&output.stdout);
    let host = said.lines().find_map(|line| line.strip_prefix("host: "));
    host.unwrap_or_else(|| panic!("rustc does not say where it runs: {said}")).to_owned()
}
