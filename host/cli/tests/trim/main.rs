//! `trim --from` as a user runs it: whole commands on files.

mod promises;
mod tables;
mod twice;

use std::path::{Path, PathBuf};
use std::process::Command;

/// Stations all round the image of that job, right of its middle and above its top edge, mm.
const STATIONS: [(&str, f64, f64); 8] = [
    ("top left", -1012.3, 0.0),
    ("top", 0.0, 0.0),
    ("top right", 1012.3, 0.0),
    ("right", 1012.3, -632.7),
    ("bottom right", 1012.3, -1265.4),
    ("bottom", 0.0, -1265.4),
    ("bottom left", -1012.3, -1265.4),
    ("left", -1012.3, -632.7),
];

/// A job that judges the gap alone, of which a table of readings says all there is.
fn job() -> String {
    let of_gaps = |line: &&str| !line.starts_with("level = ") && !line.starts_with("lean = ");
    skimgauge_jobfile::demo_job().lines().filter(of_gaps).collect::<Vec<_>>().join("\n")
}

/// A folder of this name, new, with that job.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("trim-{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("job.toml"), job()).unwrap();
    folder
}

/// The same where the board is solid: its middle bulges by no more than matters in that job's band.
fn solid_folder(name: &str) -> PathBuf {
    let folder = folder(name);
    std::fs::write(folder.join("job.toml"), format!("{}\n[board]\nkind = \"solid\"\n", job()))
        .unwrap();
    folder
}

/// A trim of that job by the readings of this table.
fn trim_of(folder: &Path, readings: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_skimgauge"));
    command.current_dir(folder).args(["trim", "--job", "job.toml", "--from", readings]);
    command
}

/// Without its line ends, which go by the width.
fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
