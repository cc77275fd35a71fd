//! What comes into skimgauge from outside, as bytes, and what has to hold of each whatever they are.
//!
//! A [`Target`] takes any bytes and panics where one of its properties does not hold. `cargo test`
//! plays every input of `corpora/TARGET`, then [changes](mutate) of them from fixed numbers, so many
//! as the table says: the same in every run. `guided`, a workspace of its own beside this one, lets
//! libFuzzer look for more; what it finds goes into `corpora` under a name that says what it broke.

pub mod mutate;
pub mod target;

use std::path::{Path, PathBuf};

/// One way in.
#[derive(Debug, Clone, Copy)]
pub struct Target {
    /// Its folder under `corpora`.
    pub name: &'static str,
    /// Panics where a property does not hold.
    pub check: fn(&[u8]),
    /// Changed inputs in each run of the tests. All targets together take some 30 s of one core.
    pub each_run: u64,
    /// Texts that such inputs are made of.
    pub words: &'static [&'static str],
}

/// Every way in.
pub const TARGETS: &[Target] = &[
    target::frame::TARGET,
    target::recording::TARGET,
    target::job_file::TARGET,
    target::tables::TARGET,
    target::event::TARGET,
    target::record::TARGET,
    target::flash::TARGET,
    target::profile::TARGET,
    target::photo::TARGET,
];

/// The target of that name.
pub fn named(name: &str) -> Option<&'static Target> {
    TARGETS.iter().find(|target| target.name == name)
}

impl Target {
    /// Where its inputs are.
    pub fn folder(&self) -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("corpora").join(self.name)
    }

    /// Its inputs by name, in the order of their names.
    ///
    /// # Errors
    /// The system's.
    pub fn corpus(&self) -> std::io::Result<Vec<(String, Vec<u8>)>> {
        let mut inputs = Vec::new();
        for entry in std::fs::read_dir(self.folder())? {
            let entry = entry?;
            let name = entry.file_name().to_string_lossy().into_owned();
            inputs.push((name, std::fs::read(entry.path())?));
        }
        inputs.sort();
        Ok(inputs)
    }
}
