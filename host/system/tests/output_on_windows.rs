//! What stands in a file's way on Windows, and that one takes another's place whole.
//! (`output.rs` beside this has the same for unix.)
#![cfg(windows)]

use skimgauge_system::output::{Kind, Outputs, Refused, Replace, remove};
use std::fs;
use std::io::Read;
use std::path::PathBuf;

const PAGE: Kind = Kind { name: "a page", is: |bytes| bytes.starts_with(b"page ") };

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.0.path()).unwrap();
        let mut names: Vec<_> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

#[test]
fn a_file_takes_anothers_place_and_nothing_is_left_beside_it() {
    let folder = Folder::new();
    let path = folder.path("Übergabe 1.html");
    Outputs::new(Replace::NotAsked).write(&path, PAGE, b"page 1").unwrap();
    let refused = Outputs::new(Replace::NotAsked).write(&path, PAGE, b"page 2").unwrap_err();
    assert!(matches!(refused, Refused::Exists { replaceable: true, .. }), "{refused}");
    // Whoever reads the former goes on reading it.
    let mut reads = fs::File::open(&path).unwrap();
    Outputs::new(Replace::Asked).write(&path, PAGE, b"page 2").unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"page 2");
    let mut former = String::new();
    reads.read_to_string(&mut former).unwrap();
    assert_eq!(former, "page 1");
    drop(reads);
    assert_eq!(folder.names(), ["Übergabe 1.html"]);
    remove(&path, PAGE).unwrap();
    assert!(folder.names().is_empty());
}

#[test]
fn what_somebody_holds_alone_is_left_as_it_is() {
    use std::os::windows::fs::OpenOptionsExt;
    let folder = Folder::new();
    let path = folder.path("page.html");
    fs::write(&path, "page 1").unwrap();
    let held = fs::OpenOptions::new().read(true).share_mode(1).open(&path).unwrap();
    let refused = Outputs::new(Replace::Asked).write(&path, PAGE, b"page 2").unwrap_err();
    assert!(matches!(refused, Refused::System { .. }), "{refused}");
    drop(held);
    assert_eq!(fs::read(&path).unwrap(), b"page 1");
    assert_eq!(folder.names(), ["page.html"]);
}

#[test]
fn another_kind_another_name_and_a_folder_are_refused() {
    let folder = Folder::new();
    let asked = || Outputs::new(Replace::Asked);
    fs::write(folder.path("theirs.html"), "mine").unwrap();
    fs::write(folder.path("one.html"), "page 1").unwrap();
    fs::hard_link(folder.path("one.html"), folder.path("two.html")).unwrap();
    fs::create_dir(folder.path("folder")).unwrap();
    let before = folder.names();
    let refused = |name: &str| asked().write(&folder.path(name), PAGE, b"page 2").unwrap_err();
    assert!(matches!(refused("theirs.html"), Refused::OtherKind { .. }));
    assert!(matches!(refused("THEIRS.HTML"), Refused::OtherKind { .. }));
    assert!(matches!(refused("two.html"), Refused::OtherNames(_)));
    assert!(matches!(refused("folder"), Refused::Folder(_)));
    assert!(matches!(refused("no/page.html"), Refused::NoFolder(_)));
    assert!(matches!(refused("con.html"), Refused::NoFile { .. }));
    assert!(matches!(refused("theirs.html:page"), Refused::Name { .. }));
    assert!(matches!(refused("page.html. "), Refused::Name { .. }));
    let spared = asked().sparing(&folder.path("RECORD.sqlite"), "the record");
    let needed = spared.check(&folder.path("record.SQLITE"), PAGE).unwrap_err();
    assert!(matches!(needed, Refused::Needed { .. }), "{needed}");
    assert_eq!(folder.names(), before);
    assert_eq!(fs::read(folder.path("theirs.html")).unwrap(), b"mine");
}
