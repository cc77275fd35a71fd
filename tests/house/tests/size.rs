//! One file, one subject: sources stay short, or say at their top why not. (Functions:
//! `clippy::too_many_lines`.) A module with files of its own stands with them, as `folder/mod.rs`.

use skimgauge_house::root;
use std::path::PathBuf;
use std::process::Command;

const LONGEST: usize = 400;
/// A first line of documentation that begins so gives the reason.
const REASON: &str = "//! Over 400 lines: ";

/// To be parted when what goes on in them has settled.
const FOR_NOW: &[&str] = &["firmware/bench/src/bench.rs"];

fn sources(folders: &[&str]) -> Vec<PathBuf> {
    let output = Command::new("git")
        .args(["ls-files", "-z", "--"])
        .args(folders)
        .current_dir(root())
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    let names = String::from_utf8(output.stdout).unwrap();
    names
        .split('\0')
        .filter(|name| name.ends_with(".rs"))
        .map(PathBuf::from)
        .filter(|name| root().join(name).is_file())
        .collect()
}

#[test]
fn no_file_of_the_lower_half_is_long_without_a_reason() {
    let files = sources(&["shared", "firmware", "tests"]);
    assert!(files.len() > 80, "{}", files.len());
    let mut long = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(root().join(&file)).unwrap();
        let known = FOR_NOW.iter().any(|known| file.ends_with(known));
        if text.lines().count() > LONGEST
            && !known
            && !text.lines().any(|line| line.starts_with(REASON))
        {
            long.push(file);
        }
    }
    assert!(long.is_empty(), "over {LONGEST} lines, and no line `{REASON}...` says why: {long:?}");
}

#[test]
fn a_module_with_files_of_its_own_stands_in_its_folder() {
    let files = sources(&["shared", "firmware", "host", "release", "tests"]);
    assert!(files.len() > 400, "{}", files.len());
    let has_files = |folder: &PathBuf| files.iter().any(|file| file.parent() == Some(folder));
    let beside: Vec<_> = files.iter().filter(|file| has_files(&file.with_extension(""))).collect();
    assert!(beside.is_empty(), "to be moved to `folder/mod.rs` with `git mv`: {beside:?}");
}
