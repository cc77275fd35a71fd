//! The walls between the crates, held against what cargo says that they are built from.

use skimgauge_house::walls::{Crate, Found, HOUSE, IO, PURE, Row, breaches, found, reaches_out};
use skimgauge_house::{host, image, root};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Both workspaces.
fn house() -> Found {
    let mut all = found(&host());
    all.extend(found(&image()));
    all
}

fn is_test(folder: &Path) -> bool {
    folder.starts_with(root().join("tests")) || folder.starts_with("tests")
}

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            into.push(path);
        }
    }
}

#[test]
fn every_crate_stands_where_the_table_says() {
    let said = breaches(HOUSE, &house(), is_test);
    assert!(said.is_empty(), "\n{}", said.join("\n"));
}

#[test]
fn no_library_is_in_both_lists_and_the_lists_are_in_order() {
    assert!(PURE.is_sorted() && IO.is_sorted());
    assert_eq!(PURE.iter().filter(|library| IO.contains(library)).count(), 0);
}

#[test]
fn no_pure_crate_reaches_out_with_the_standard_library() {
    let house = house();
    let mut looked_at = 0;
    for row in HOUSE.iter().filter(|row| row.io.is_none()) {
        let Some(found) = house.get(row.name) else { continue };
        let mut files = Vec::new();
        let source = found.folder.join("src");
        sources(&source, &mut files);
        for file in files.iter().filter(|file| **file != source.join("main.rs")) {
            looked_at += 1;
            let text = std::fs::read_to_string(file).unwrap();
            assert_eq!(reaches_out(&text), Vec::<&str>::new(), "{}", file.display());
        }
    }
    assert!(looked_at > 50, "{looked_at}");
}

fn add(set: &mut BTreeSet<String>, name: &str) {
    assert!(set.insert(name.to_owned()));
}

/// A small house, and one thing wrong with it at a time: each is found, so that the checks above
/// can fail.
#[test]
fn each_breach_is_found() {
    const LOW: Row = Row { name: "low", on: &[], io: None };
    const HIGH: Row = Row { name: "high", on: &["low"], io: None };
    const SHELL: Row = Row { name: "shell", on: &["low", "high"], io: Some(&["serialport"]) };
    let names =
        |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<BTreeSet<String>>();
    let of = |folder: &str, on: &[&str], libraries: &[&str]| Crate {
        folder: folder.into(),
        on: names(on),
        libraries: names(libraries),
        all: names(libraries),
    };
    let good = || -> Found {
        [
            ("low", of("low", &[], &["serde"])),
            ("high", of("high", &["low"], &[])),
            ("shell", of("shell", &["high"], &["serialport"])),
            ("tests", of("tests", &["shell"], &["tempfile", "some-library"])),
        ]
        .map(|(name, found)| (name.to_owned(), found))
        .into()
    };
    let said = |rows: &[Row], change: &dyn Fn(&mut Found)| {
        let mut found = good();
        change(&mut found);
        breaches(rows, &found, is_test).join("; ")
    };
    let rows = [LOW, HIGH, SHELL];
    let put = |name: &'static str, change: fn(&mut Crate)| {
        move |found: &mut Found| change(found.get_mut(name).unwrap())
    };
    assert_eq!(said(&rows, &|_| ()), "");
    for (change, expected) in [
        (
            put("low", |low| add(&mut low.on, "high")),
            "`low` stands on `high`, which the table does not let it",
        ),
        (put("low", |low| add(&mut low.libraries, "rusqlite")), "`low` does I/O with `rusqlite`"),
        (put("low", |low| add(&mut low.all, "mio")), "`low` is pure, and `mio` is built into it"),
        (
            put("high", |high| add(&mut high.libraries, "some-library")),
            "do not say whether it does I/O",
        ),
        (put("shell", |shell| add(&mut shell.libraries, "axum")), "`shell` does I/O with `axum`"),
        (put("shell", |shell| add(&mut shell.on, "tests")), "`shell` stands on `tests`, a test"),
    ] {
        let said = said(&rows, &change);
        assert!(said.contains(expected), "{expected}: {said}");
    }
    assert!(
        said(&rows, &|found| drop(found.insert("new".into(), Crate::default())))
            .contains("`new` is not in the table")
    );
    assert!(
        said(&rows, &|found| drop(found.remove("high")))
            .contains("`high` is in the table and not in the house")
    );
    assert!(
        said(&[HIGH, LOW, SHELL], &|_| ())
            .contains("lets `high` stand on `low`, which is not above it")
    );
    assert_eq!(reaches_out("use std::fs;\n// std::fs\nlet x = 1;"), ["use std::fs;"]);
    assert_eq!(
        reaches_out("    let now = Instant::now();\nwrite!(f, \"a\")"),
        ["let now = Instant::now();"]
    );
}
