//! What is put in the way of a file that is to be written: nothing there is ever harmed, nothing is
//! left beside it.
#![cfg(unix)]

use skimgauge_system::output::{Kind, Outputs, Refused, Replace, remove};
use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Barrier;

const PAGE: Kind = Kind { name: "a page", is: |bytes| bytes.starts_with(b"<page>") };
const DRAWING: Kind = Kind { name: "a drawing", is: |bytes| bytes.starts_with(b"<drawing>") };

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn put(&self, name: &str, text: &str) -> PathBuf {
        let path = self.path(name);
        fs::write(&path, text).unwrap();
        path
    }

    /// Every name in it.
    fn names(&self) -> Vec<String> {
        let mut names: Vec<_> = fs::read_dir(self.0.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }
}

fn pipe(at: &Path) {
    assert!(Command::new("mkfifo").arg(at).status().unwrap().success());
}

/// Refused, with and without `--replace`, by `check` as by `write`, in a sentence that has this in
/// it.
fn refused(outputs: impl Fn(Replace) -> Outputs, path: &Path, replaces: &[Replace], says: &str) {
    for replace in replaces {
        let mut outputs = outputs(*replace);
        for refused in [outputs.check(path, PAGE), outputs.write(path, PAGE, b"<page>new")] {
            let said = refused.expect_err("refused").to_string();
            assert!(
                said.contains(says) && said.contains(&path.display().to_string()),
                "{replace:?}: {said}"
            );
            assert!(said.ends_with('.') && !said.contains("os error"), "{said}");
        }
    }
}

const ALWAYS: [Replace; 3] = [Replace::Never, Replace::NotAsked, Replace::Asked];

#[test]
fn a_new_file_is_whole_and_alone() {
    let folder = Folder::new();
    let path = folder.path("page.html");
    let mut outputs = Outputs::new(Replace::NotAsked);
    outputs.check(&path, PAGE).unwrap();
    outputs.write(&path, PAGE, b"<page>1").unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"<page>1");
    assert_eq!(folder.names(), ["page.html"]);
    // As open to others as any file that this account makes.
    let plain = folder.put("plain", "");
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
    assert_eq!(mode(&path), mode(&plain));
}

#[test]
fn a_file_that_is_there_is_replaced_only_if_that_was_asked_for() {
    let folder = Folder::new();
    let path = folder.put("page.html", "<page>1");
    refused(Outputs::new, &path, &ALWAYS[..2], "is there already and was left as it is");
    let said = Outputs::new(Replace::NotAsked).check(&path, PAGE).unwrap_err().to_string();
    assert!(said.contains("--replace"), "{said}");
    let said = Outputs::new(Replace::Never).check(&path, PAGE).unwrap_err().to_string();
    assert!(!said.contains("--replace"), "{said}");
    assert_eq!(fs::read(&path).unwrap(), b"<page>1");
    fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
    Outputs::new(Replace::Asked).write(&path, PAGE, b"<page>2").unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"<page>2");
    assert_eq!(
        fs::metadata(&path).unwrap().permissions().mode() & 0o777,
        0o640,
        "others may read what they might"
    );
    assert_eq!(folder.names(), ["page.html"]);
}

#[test]
fn another_kind_of_file_is_never_replaced() {
    let folder = Folder::new();
    for text in [
        "",
        "SQLite format 3\0",
        "[job]\nname = \"x\"\n",
        "x_mm,y_mm,z_mm\n1,2,3\n",
        "<drawing>",
        "<pag",
    ] {
        let path = folder.put("page.html", text);
        refused(Outputs::new, &path, &[Replace::Asked], "is not a page that skimgauge wrote");
        assert_eq!(fs::read(&path).unwrap(), text.as_bytes());
    }
    assert_eq!(folder.names(), ["page.html"]);
}

#[test]
fn what_the_command_works_with_is_spared_by_any_name() {
    let folder = Folder::new();
    let record = folder.put("record.sqlite", "<page>that looks like one");
    fs::create_dir(folder.path("sub")).unwrap();
    symlink(&record, folder.path("link")).unwrap();
    fs::hard_link(&record, folder.path("hard")).unwrap();
    symlink(folder.0.path(), folder.path("here")).unwrap();
    let names = [
        "record.sqlite",
        "./record.sqlite",
        "sub/../record.sqlite",
        "link",
        "hard",
        "here/record.sqlite",
    ];
    for name in names {
        let outputs = |replace| Outputs::new(replace).sparing(&record, "the record");
        refused(outputs, &folder.path(name), &ALWAYS, "is the record and was left as it is");
        // The other way round: the command was given the odd name, the target is the plain one.
        let outputs = |replace| Outputs::new(replace).sparing(&folder.path(name), "the record");
        refused(outputs, &record, &ALWAYS, "is the record and was left as it is");
    }
    assert_eq!(fs::read(&record).unwrap(), b"<page>that looks like one");
    assert_eq!(folder.names(), ["hard", "here", "link", "record.sqlite", "sub"]);
}

#[test]
fn a_record_that_is_still_to_come_is_spared_too() {
    let folder = Folder::new();
    symlink(folder.0.path(), folder.path("here")).unwrap();
    for name in ["record.sqlite", "./record.sqlite", "here/record.sqlite", "Record.SQLITE"] {
        let outputs =
            |replace| Outputs::new(replace).sparing(&folder.path("record.sqlite"), "the record");
        refused(outputs, &folder.path(name), &ALWAYS, "is the record");
    }
    assert_eq!(folder.names(), ["here"]);
}

#[test]
fn one_file_of_a_command_does_not_take_anothers_place() {
    let folder = Folder::new();
    let mut outputs = Outputs::new(Replace::Asked);
    outputs.write(&folder.path("a"), PAGE, b"<page>1").unwrap();
    let said = outputs.write(&folder.path("./a"), PAGE, b"<page>2").unwrap_err().to_string();
    assert!(said.contains("what this command has just written"), "{said}");
    assert_eq!(fs::read(folder.path("a")).unwrap(), b"<page>1");
    let kept = outputs.stream(&folder.path("kept"), DRAWING).unwrap();
    drop(kept);
    assert!(outputs.write(&folder.path("kept"), PAGE, b"<page>2").is_err());
    assert!(matches!(outputs.stream(&folder.path("kept"), DRAWING), Err(Refused::Needed { .. })));
}

#[test]
fn nothing_is_written_through_a_link() {
    let folder = Folder::new();
    let target = folder.put("theirs", "<page>theirs");
    symlink(&target, folder.path("link")).unwrap();
    symlink(folder.path("nowhere"), folder.path("dangling")).unwrap();
    for name in ["link", "dangling"] {
        refused(Outputs::new, &folder.path(name), &ALWAYS, "is a link to another file");
    }
    fs::hard_link(&target, folder.path("hard")).unwrap();
    refused(Outputs::new, &folder.path("hard"), &[Replace::Asked], "has another name, too");
    assert!(Outputs::new(Replace::Asked).stream(&folder.path("dangling"), DRAWING).is_err());
    assert_eq!(fs::read(&target).unwrap(), b"<page>theirs");
    assert!(!folder.path("nowhere").exists());
    assert_eq!(folder.names(), ["dangling", "hard", "link", "theirs"]);
}

#[test]
fn devices_pipes_sockets_and_folders_are_no_files() {
    let folder = Folder::new();
    pipe(&folder.path("pipe"));
    let _listening = std::os::unix::net::UnixListener::bind(folder.path("socket")).unwrap();
    fs::create_dir(folder.path("folder")).unwrap();
    for (path, says) in [
        (PathBuf::from("/dev/null"), "is a device"),
        (PathBuf::from("/dev/full"), "is a device"),
        (folder.path("pipe"), "is a pipe"),
        (folder.path("socket"), "is a socket"),
        (folder.path("folder"), "is a folder"),
        (folder.path("folder/"), "is a folder"),
        (folder.path("new/"), "is a folder"),
        (folder.path("folder/.."), "is a folder"),
        (PathBuf::from("/"), "is a folder"),
    ] {
        refused(Outputs::new, &path, &ALWAYS, says);
    }
    assert!(Outputs::new(Replace::Asked).check(Path::new(""), PAGE).is_err());
    let said = Outputs::new(Replace::Asked)
        .check(&folder.path("no/page.html"), PAGE)
        .unwrap_err()
        .to_string();
    assert!(said.starts_with("There is no folder ") && said.contains("page.html"), "{said}");
    assert_eq!(folder.names(), ["folder", "pipe", "socket"]);
}

/// A needed file that is a pipe or a device is not opened to be compared: that would wait for
/// whoever writes.
#[test]
fn an_input_that_is_a_pipe_is_not_waited_for() {
    let folder = Folder::new();
    pipe(&folder.path("pipe"));
    folder.put("page", "<page>1");
    let mut outputs = Outputs::new(Replace::Asked).sparing(&folder.path("pipe"), "what is read");
    outputs.write(&folder.path("page"), PAGE, b"<page>2").unwrap();
    let said = outputs.check(&folder.path("pipe"), PAGE).unwrap_err().to_string();
    assert!(said.contains("is a pipe"), "{said}");
}

#[test]
fn control_characters_of_a_name_do_not_come_out_in_the_refusal() {
    let folder = Folder::new();
    let path = folder.put("a\x1b[2J\u{202e}b", "x");
    let said = Outputs::new(Replace::Never).check(&path, PAGE).unwrap_err().to_string();
    assert!(!said.chars().any(skimgauge_system::terminal::steers), "{said:?}");
}

/// Of many that write one name at once, one is told that it did.
#[test]
fn two_at_once_never_mix_and_never_both_win() {
    let folder = Folder::new();
    for round in 0..40 {
        let path = folder.path(&format!("page-{round}"));
        let start = Barrier::new(4);
        let won: Vec<usize> = std::thread::scope(|scope| {
            let writers: Vec<_> = (0..4)
                .map(|writer| {
                    let (path, start) = (&path, &start);
                    scope.spawn(move || {
                        let text = format!("<page>{writer}").repeat(5_000);
                        start.wait();
                        Outputs::new(Replace::NotAsked)
                            .write(path, PAGE, text.as_bytes())
                            .map(|()| writer)
                    })
                })
                .collect();
            writers.into_iter().filter_map(|writer| writer.join().unwrap().ok()).collect()
        });
        let [won] = won[..] else { panic!("{won:?} all say that they wrote") };
        assert_eq!(fs::read_to_string(&path).unwrap(), format!("<page>{won}").repeat(5_000));
    }
    assert_eq!(folder.names().len(), 40, "something is left: {:?}", folder.names());
}

/// While others replace it, whoever is told that it wrote did write the whole, and nobody sees
/// anything else than one whole.
#[test]
fn replacing_at_once_leaves_one_whole_file() {
    let folder = Folder::new();
    let path = folder.put("page", &"<page>0".repeat(5_000));
    let mut wins = 0;
    for _ in 0..40 {
        wins += std::thread::scope(|scope| {
            let writers: Vec<_> = (1..=3)
                .map(|writer| {
                    let path = &path;
                    scope.spawn(move || {
                        let text = format!("<page>{writer}").repeat(5_000);
                        let done = Outputs::new(Replace::Asked).write(path, PAGE, text.as_bytes());
                        assert!(matches!(done, Ok(()) | Err(Refused::Changed(_))), "{done:?}");
                        usize::from(done.is_ok())
                    })
                })
                .collect();
            let text = fs::read_to_string(&path).unwrap();
            assert!(
                (0..=3).any(|writer| text == format!("<page>{writer}").repeat(5_000)),
                "a mixture"
            );
            writers.into_iter().map(|writer| writer.join().unwrap()).sum::<usize>()
        });
    }
    assert!(wins >= 40, "in each round somebody wrote: {wins}");
    assert_eq!(folder.names(), ["page"]);
}

/// Somebody's own file that takes the name between the look and the move is not lost.
#[test]
fn a_file_that_takes_the_name_meanwhile_stays() {
    let folder = Folder::new();
    let path = folder.put("page", "<page>0");
    let other = folder.path("theirs");
    let stop = std::sync::atomic::AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            // Puts a file of its own there and looks whether it still is.
            while !stop.load(std::sync::atomic::Ordering::Relaxed) {
                fs::write(&other, "theirs").unwrap();
                fs::rename(&other, &path).unwrap();
                // Both names are changed back where the wrong file came out: that takes a moment.
                let is_there = || fs::read(&path).unwrap_or_default() == b"theirs";
                let parts = || {
                    folder.names().iter().any(|name| name.ends_with(".part") && kept(&folder, name))
                };
                assert!((0..100_000).any(|_| is_there()) || parts(), "somebody's file is gone");
                fs::write(&other, "<page>0").unwrap();
                fs::rename(&other, &path).unwrap();
            }
        });
        for _ in 0..300 {
            match Outputs::new(Replace::Asked).write(&path, PAGE, b"<page>1") {
                Ok(()) | Err(Refused::Changed(_) | Refused::OtherKind { .. }) => (),
                other => panic!("{other:?}"),
            }
        }
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
    });
    // What took the name twice within that moment was put aside.
    let known = |name: &String| name == "page" || name == "theirs" || kept(&folder, name);
    assert!(folder.names().iter().all(known), "{:?}", folder.names());
}

fn kept(folder: &Folder, name: &str) -> bool {
    fs::read(folder.path(name)).is_ok_and(|content| content == b"theirs" || content == b"<page>0")
}

#[test]
fn taken_away_is_only_what_is_of_the_kind() {
    let folder = Folder::new();
    let (page, other) = (folder.put("page", "<page>"), folder.put("other", "mine"));
    symlink(&page, folder.path("link")).unwrap();
    assert!(remove(&other, PAGE).is_err() && remove(&folder.path("link"), PAGE).is_err());
    remove(&page, PAGE).unwrap();
    remove(&page, PAGE).unwrap();
    assert_eq!(folder.names(), ["link", "other"]);
}

/// A file system of this size, or one that takes nothing; unmounted at the end. Needs root.
struct Mounted<'a>(&'a Path);

impl<'a> Mounted<'a> {
    fn new(at: &'a Path, options: &str) -> Option<Self> {
        fs::create_dir_all(at).ok()?;
        let mounted =
            Command::new("mount").args(["-t", "tmpfs", "-o", options, "tmpfs"]).arg(at).output();
        let mounted = mounted.is_ok_and(|output| output.status.success());
        if !mounted {
            eprintln!("SKIPPED: this account cannot mount a file system (run it as root)");
        }
        mounted.then_some(Self(at))
    }
}

impl Drop for Mounted<'_> {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.0).status();
    }
}

#[test]
fn a_full_disk_leaves_nothing_and_the_former_file() {
    let folder = Folder::new();
    let at = folder.path("small");
    let Some(_small) = Mounted::new(&at, "size=64k") else { return };
    let names = || fs::read_dir(&at).unwrap().count();
    let large = "<page>".repeat(50_000);
    let refused = Outputs::new(Replace::NotAsked)
        .write(&at.join("page"), PAGE, large.as_bytes())
        .unwrap_err();
    assert!(matches!(refused, Refused::Full(_)), "{refused:?}");
    let said = refused.to_string();
    assert!(said.starts_with("No room is left for ") && said.contains("small/page"), "{said}");
    assert_eq!(names(), 0);
    fs::write(at.join("page"), "<page>former").unwrap();
    let refused =
        Outputs::new(Replace::Asked).write(&at.join("page"), PAGE, large.as_bytes()).unwrap_err();
    assert!(matches!(refused, Refused::Full(_)), "{refused:?}");
    assert_eq!(fs::read(at.join("page")).unwrap(), b"<page>former");
    assert_eq!(names(), 1);
}

#[test]
fn a_folder_that_takes_nothing_is_said_before_the_work() {
    let folder = Folder::new();
    let at = folder.path("sealed");
    // Where this account may not mount, it is also held to a folder's permissions.
    let mounted = Mounted::new(&at, "ro");
    if mounted.is_none() {
        fs::create_dir_all(&at).unwrap();
        fs::set_permissions(&at, fs::Permissions::from_mode(0o555)).unwrap();
    }
    refused(Outputs::new, &at.join("page"), &ALWAYS, "cannot be written");
}
