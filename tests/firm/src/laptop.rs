//! A laptop with a record of its own, and the command on it.
#![allow(clippy::missing_panics_doc, reason = "it panics where a test fails")]

use crate::fleet::{Spec, lot};
use crate::server::Server;
use skimgauge_record::Record;
use skimgauge_record::carry::Store;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// A laptop: a folder with a record of its own.
pub struct Laptop {
    folder: tempfile::TempDir,
    exe: PathBuf,
    /// The firm's jobs, as they are set up on it.
    pub url: String,
}

/// What was printed.
pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

impl Laptop {
    /// With nothing on it; `exe` is the command: `env!("CARGO_BIN_EXE_...")`.
    pub fn new(exe: &str, server: &Server) -> Self {
        let folder = tempfile::tempdir().expect("a laptop");
        Self { folder, exe: exe.into(), url: server.url("postgres", "jobs") }
    }

    /// Its folder.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Its record.
    pub fn record(&self) -> PathBuf {
        self.path().join("skimgauge/record.sqlite")
    }

    /// Puts a job into its record.
    pub fn keep(&self, spec: &Spec) {
        Record::open_or_create(&self.folder_made())
            .expect("a laptop")
            .put(&lot(spec))
            .expect("a laptop");
    }

    fn folder_made(&self) -> PathBuf {
        std::fs::create_dir_all(self.path().join("skimgauge")).expect("a laptop");
        self.record()
    }

    /// The command, with nothing of this computer's user.
    pub fn command(&self) -> Command {
        let mut command = Command::new(&self.exe);
        command
            .env_clear()
            .env("HOME", self.path())
            .env("XDG_DATA_HOME", self.path())
            .env("XDG_CONFIG_HOME", self.path())
            .env("USER", "oakes")
            .env("SKIMGAUGE_FIRM", &self.url)
            .current_dir(self.path())
            .stdin(Stdio::null());
        command
    }

    /// Runs it.
    pub fn run(&self, args: &[&str]) -> Output {
        self.command().args(args).output().expect("a laptop")
    }

    /// What it prints, where it is done.
    pub fn good(&self, args: &[&str]) -> String {
        let output = self.run(args);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{args:?}: {}{}",
            text(&output.stdout),
            text(&output.stderr)
        );
        text(&output.stdout)
    }

    /// What it says to an error.
    pub fn bad(&self, args: &[&str]) -> String {
        let output = self.run(args);
        assert_eq!(
            output.status.code(),
            Some(2),
            "{args:?}: {}{}",
            text(&output.stdout),
            text(&output.stderr)
        );
        text(&output.stderr)
    }
}
