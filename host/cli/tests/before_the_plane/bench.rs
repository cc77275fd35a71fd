//! A folder with a job file, and whole commands in it.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

pub(crate) struct Bench {
    pub(crate) folder: PathBuf,
}

impl Bench {
    /// A folder of its own with a job file that tells everything, made from the template.
    pub(crate) fn new(name: &str) -> Self {
        let folder =
            Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("before-the-plane-{name}"));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).unwrap();
        let known = skimgauge_jobfile::Known {
            name: Some("reading room"),
            client: Some("Larch Lane Library"),
            place: Some("ground floor, north wall"),
            by: Some("R. Oakes"),
        };
        let text = skimgauge_jobfile::filled_in(&known)
            .replace("#width = \"220 mm\"", "width = \"220 mm\"")
            .replace("#height = \"60 mm\"", "height = \"60 mm\"")
            .replace("#lower_edge = \"55 mm\"", "lower_edge = \"55 mm\"");
        std::fs::write(folder.join("job.toml"), text).unwrap();
        Self { folder }
    }

    /// A folder with this job file.
    pub(crate) fn with(name: &str, job: &str) -> Self {
        let bench = Self::new(name);
        std::fs::write(bench.folder.join("job.toml"), job).unwrap();
        bench
    }

    pub(crate) fn job(&self) -> String {
        self.read("job.toml")
    }

    pub(crate) fn change(&self, from: &str, to: &str) {
        let path = self.folder.join("job.toml");
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains(from), "{from}");
        std::fs::write(path, text.replacen(from, to, 1)).unwrap();
    }

    pub(crate) fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_skimgauge"));
        command
            .current_dir(&self.folder)
            .args(words)
            .args(["--job", "job.toml"])
            .stdin(Stdio::null());
        command
    }

    pub(crate) fn run(&self, words: &[&str]) -> (i32, String, String) {
        told(&self.command(words).output().unwrap())
    }

    pub(crate) fn json(&self, words: &[&str]) -> (i32, Value) {
        let (status, out, err) = self.run(&[words, &["--json", "--no-record"]].concat());
        let found: Value =
            serde_json::from_str(&out).unwrap_or_else(|error| panic!("{error}: {out}{err}"));
        // Whoever reads the JSON alone is told the same as by the exit status.
        if matches!(words[0], "setout" | "fixings" | "square") {
            let verdict = match status {
                0 => "within",
                1 => "outside",
                _ => "unsure",
            };
            assert_eq!(found["verdict"], verdict, "{words:?}: {status}");
        }
        (status, found)
    }

    pub(crate) fn read(&self, file: &str) -> String {
        std::fs::read_to_string(self.folder.join(file)).unwrap()
    }
}

pub(crate) fn told(output: &Output) -> (i32, String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}
