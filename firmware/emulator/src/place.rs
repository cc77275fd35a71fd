//! Where the image and the emulator are.

use std::fmt;
use std::path::{Path, PathBuf};

/// Something that the emulated head needs is not there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Missing {
    /// The flash image has not been built.
    Image(PathBuf),
    /// The emulator's package has not been installed.
    Emulator(PathBuf),
    /// Node does not run.
    Node(String),
}

impl fmt::Display for Missing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Image(at) => {
                write!(f, "there is no flash image at {}: run firmware/build", at.display())
            }
            Self::Emulator(at) => {
                write!(f, "the emulator is not installed: run `npm ci` in {}", at.display())
            }
            Self::Node(why) => write!(f, "Node does not run ({why}): install Node 20 or later"),
        }
    }
}

impl std::error::Error for Missing {}

/// The root of the source tree, as it was when this was compiled; `SKIMGAUGE_SOURCE` for another.
fn source() -> PathBuf {
    match std::env::var_os("SKIMGAUGE_SOURCE") {
        Some(path) => path.into(),
        None => Path::new(env!("CARGO_MANIFEST_DIR")).join("../.."),
    }
}

/// The flash image that `firmware/build` makes; `SKIMGAUGE_IMAGE` for another.
///
/// # Errors
/// It is not there.
pub fn image() -> Result<PathBuf, Missing> {
    let path = match std::env::var_os("SKIMGAUGE_IMAGE") {
        Some(path) => path.into(),
        None => source().join("firmware/pico/target/skimgauge-head.uf2"),
    };
    if path.is_file() { Ok(path) } else { Err(Missing::Image(path)) }
}

/// The ELF beside an image: its symbols and its table of log texts.
///
/// # Errors
/// It is not there.
pub fn elf() -> Result<PathBuf, Missing> {
    let path = image()?.with_extension("elf");
    if path.is_file() { Ok(path) } else { Err(Missing::Image(path)) }
}

/// The emulator's program.
///
/// # Errors
/// Its package is not installed.
pub fn emulator() -> Result<PathBuf, Missing> {
    let folder = source().join("firmware/emulator/chip");
    if folder.join("node_modules/rp2040js/package.json").is_file() {
        Ok(folder.join("main.mjs"))
    } else {
        Err(Missing::Emulator(folder))
    }
}
