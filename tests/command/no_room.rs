//! What is written where there is no room: said, with nothing left half done.

use crate::outputs::full_of_traps;
use crate::said;
use std::process::{Command, Output, Stdio};

/// On a file system that is full. Needs root to mount one; elsewhere it says that it did not run.
#[test]
fn a_full_disk_is_named_with_the_file_and_nothing_is_left_on_it() {
    let place = full_of_traps();
    std::fs::create_dir(place.path("small")).unwrap();
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=8k", "tmpfs"])
        .arg(place.path("small"))
        .output();
    if !mounted.is_ok_and(|output| output.status.success()) {
        eprintln!("SKIPPED: a full disk; this account cannot mount one (run it as root)");
        return;
    }
    let text = place.run([
        "handover",
        "--job",
        "test wall",
        "--record",
        "record.sqlite",
        "--out",
        "small/page.html",
    ]);
    let left = std::fs::read_dir(place.path("small")).unwrap().count();
    Command::new("umount").arg("-l").arg(place.path("small")).status().unwrap();
    let text = said(&text);
    assert!(text.starts_with("No room is left for small/page.html: it was not written."), "{text}");
    assert_eq!(left, 0);
}

/// Standard output onto a full disk: `/dev/full` (Linux, full(4)) takes nothing.
#[cfg(target_os = "linux")]
#[test]
fn output_that_cannot_be_written_is_said() {
    let place = full_of_traps();
    let run = |words: &[&str]| -> Output {
        let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let mut command = place.command();
        command.args(words).stdin(Stdio::null()).stdout(full).stderr(Stdio::piped());
        skimgauge_tests::command::started(&mut command).wait_with_output().unwrap()
    };
    for words in [
        &["jobs", "--record", "record.sqlite", "list"][..],
        &["jobs", "--record", "record.sqlite", "show", "test wall", "--as", "json"],
        &["handover", "--job", "test wall", "--record", "record.sqlite", "--out", "-"],
        &["ports"],
        &["jobs", "new", "other.toml"],
        &["demo", "--json"],
    ] {
        let text = said(&run(words));
        assert!(text.contains("No space left on device"), "{words:?}: {text}");
        assert!(!text.contains("Nobody reads"), "{words:?}: {text}");
    }
}
