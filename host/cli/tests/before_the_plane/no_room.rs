//! A full disk: what was worked out is shown although it could not be kept, and it is said. Needs
//! root to mount one; elsewhere it says that it did not run.

use crate::bench::Bench;
use std::fs::{File, read_dir, remove_file};
use std::io::Write;
use std::path::PathBuf;
use std::process::Command;

/// A file system without room, unmounted at the end.
struct Full(PathBuf);

impl Full {
    fn mount(bench: &Bench) -> Option<Self> {
        let at = bench.folder.join("full");
        std::fs::create_dir(&at).unwrap();
        let mounted =
            Command::new("mount").args(["-t", "tmpfs", "-o", "size=8k", "tmpfs"]).arg(&at).output();
        if !mounted.is_ok_and(|output| output.status.success()) {
            eprintln!("SKIPPED: a full disk; this account cannot mount one (run it as root)");
            return None;
        }
        let full = Self(at);
        let mut film = File::create(full.0.join("film")).unwrap();
        while film.write_all(&[7; 1024]).is_ok() {}
        Some(full)
    }

    fn names(&self) -> Vec<String> {
        let entries = read_dir(&self.0).unwrap();
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
    }
}

impl Drop for Full {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

const POINTS: &str = "x_mm,y_mm,z_mm\n-900,-50,0\n0,-50,0.1\n900,-50,0\n-900,-600,0.2\n0,-600,0.3\n900,-600,0.1\n-900,-1200,0\n0,-1200,0.1\n900,-1200,0\n";

#[test]
fn a_result_is_shown_although_it_could_not_be_kept() {
    let bench = Bench::new("no-room");
    std::fs::write(bench.folder.join("points.csv"), POINTS).unwrap();
    let Some(full) = Full::mount(&bench) else { return };
    let survey = ["survey", "--from", "points.csv"];
    for words in [&["setout"][..], &["fixings"], &["square"], &survey] {
        let kept = bench.run(&[words, &["--no-record"]].concat());
        let (status, out, err) = bench.run(&[words, &["--record", "full/record.sqlite"]].concat());
        assert_eq!(out, kept.1, "{words:?}: {err}");
        assert!(out.lines().count() > 20, "{words:?}: {out}");
        let why = "No room is left where the record full/record.sqlite is kept";
        assert!(status == 2 && err.starts_with(why), "{words:?}: {status} {err}");
        assert_eq!(full.names(), ["film"], "an empty record stays: {words:?}");
    }
    // A word has no result; nor is anything of it kept.
    let word = ["next", "--done", "services", "--checked", "--record", "full/record.sqlite"];
    let (status, _, err) = bench.run(&word);
    assert!(status == 2 && err.contains("this entry was not saved"), "{status} {err}");
    assert_eq!(full.names(), ["film"]);
    // With room it is kept as ever.
    remove_file(full.0.join("film")).unwrap();
    drop(full);
    let (status, _, err) = bench.run(&["setout", "--record", "full/record.sqlite"]);
    assert!(status != 2 && err.contains("Kept in full/record.sqlite"), "{status} {err}");
}

/// A file beside the result holds up neither the result nor the record.
#[test]
fn a_result_is_shown_and_kept_although_its_drawing_has_no_room() {
    let bench = Bench::new("no-room-for-a-drawing");
    std::fs::write(bench.folder.join("points.csv"), POINTS).unwrap();
    let Some(full) = Full::mount(&bench) else { return };
    let survey = ["survey", "--from", "points.csv"];
    for (words, name) in [(&["setout"][..], "full/a.svg"), (&survey, "full/b.svg")] {
        let words = [words, &["--record", "kept.sqlite", "--svg", name]].concat();
        let (status, out, err) = bench.run(&words);
        assert!(out.lines().count() > 20, "{words:?}: {out}");
        assert!(err.contains("Kept in kept.sqlite"), "{words:?}: {err}");
        let why = format!("No room is left for {name}: it was not written.");
        assert!(err.contains(&why), "{words:?}: {err}");
        assert_eq!(status, 2, "{words:?}: {err}");
        assert_eq!(full.names(), ["film"], "{words:?}");
    }
    // What was written beside it is named, and nothing says otherwise.
    let both = ["--no-record", "--points", "kept.csv", "--svg", "full/c.svg"];
    let (status, _, err) = bench.run(&[&survey[..], &both].concat());
    let said = "Written: kept.csv\nNo room is left for full/c.svg: it was not written.";
    assert!(status == 2 && err.starts_with(said), "{status} {err}");
    assert!(bench.folder.join("kept.csv").exists() && !err.contains("Nothing"), "{err}");
}
