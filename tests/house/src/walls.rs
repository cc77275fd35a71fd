//! The walls between the crates: which may stand on which, and which do I/O.
//!
//! A new crate is a line in [`HOUSE`], above every crate that is to stand on it; a new library a
//! name in [`PURE`] or [`IO`], after a look at what it does.

use cargo_metadata::{DependencyKind, Metadata, Package};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// What stands where.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row {
    /// The crate, without `skimgauge-`.
    pub name: &'static str,
    /// The crates of ours that it may stand on: all of them above it in the table.
    pub on: &'static [&'static str],
    /// The libraries with which it does I/O; `None`: it does none, of the standard library's
    /// neither.
    pub io: Option<&'static [&'static str]>,
}

impl Row {
    /// Takes values and the time, and gives values.
    const fn pure(name: &'static str, on: &'static [&'static str]) -> Self {
        Self { name, on, io: None }
    }

    /// Does I/O, with the standard library and these.
    const fn shell(
        name: &'static str,
        on: &'static [&'static str],
        io: &'static [&'static str],
    ) -> Self {
        Self { name, on, io: Some(io) }
    }
}

/// The house, from its foundation up. Tests stand outside: nothing may stand on them.
pub const HOUSE: &[Row] = &[
    Row::pure("shared", &[]),
    Row::pure("profile", &["shared"]),
    Row::pure("head", &["shared", "profile"]),
    Row::shell("pico", &["shared", "head"], BOARD),
    // Its binary reads and writes files; the library does not.
    Row::pure("image", &["shared"]),
    Row::pure("bench", &["shared", "head"]),
    Row::shell("emulator", &["bench"], &["rustix"]),
    Row::pure("say", &[]),
    Row::pure("quantity", &["say"]),
    Row::pure("model", &["quantity"]),
    Row::shell(
        "system",
        &["quantity"],
        &[
            "crossterm",
            "libc",
            "rustix",
            "same-file",
            "signal-hook",
            "tempfile",
            "winapi-util",
            "windows-sys",
        ],
    ),
    Row::pure("metrology", &["shared", "quantity", "model"]),
    Row::pure("proof", &["quantity", "model", "metrology"]),
    Row::pure("site", &["quantity", "model"]),
    Row::pure("tables", &["quantity", "model"]),
    Row::pure("jobfile", &["quantity", "model", "metrology", "proof", "site"]),
    Row::shell(
        "record",
        &["shared", "quantity", "model", "system"],
        &["etcetera", "getrandom", "jiff", "rusqlite", "tempfile"],
    ),
    // Of the record it takes what was read; it opens none.
    Row::shell("steps", &["quantity", "model", "jobfile", "record", "site"], &[]),
    Row::pure("drawing", &["quantity", "model"]),
    // A firm's jobs in its database: what it learns from them and its page are pure.
    Row::shell(
        "firm",
        &["quantity", "model", "metrology", "jobfile", "record", "drawing"],
        &[
            "etcetera",
            "getrandom",
            "postgres",
            "rustls",
            "rustls-native-certs",
            "tokio-postgres-rustls",
            "whoami",
        ],
    ),
    // Of the record it takes what was read; it opens none.
    Row::shell(
        "handover",
        &["quantity", "model", "metrology", "site", "jobfile", "record", "steps", "drawing"],
        &["jiff"],
    ),
    Row::pure("session", &["shared", "quantity"]),
    Row::pure(
        "procedure",
        &["shared", "quantity", "model", "metrology", "proof", "site", "jobfile", "session"],
    ),
    Row::shell(
        "page",
        &["quantity", "model", "proof", "procedure", "drawing"],
        &["getrandom", "hyper", "hyper-util", "tempfile", "tokio"],
    ),
    Row::shell("", EVERYTHING_BELOW, &["jiff", "ratatui", "serialport"]),
    // What a release holds beside the program, made from the program's own crates.
    Row::shell("release", &["", "shared", "jobfile"], &["cargo_metadata"]),
];

const EVERYTHING_BELOW: &[&str] = &[
    "shared",
    "image",
    "bench",
    "emulator",
    "quantity",
    "model",
    "system",
    "metrology",
    "proof",
    "site",
    "tables",
    "jobfile",
    "record",
    "steps",
    "drawing",
    "firm",
    "handover",
    "session",
    "procedure",
    "page",
];

/// What the flash image reaches its board with.
const BOARD: &[&str] = &[
    "cortex-m",
    "cortex-m-rt",
    "critical-section",
    "embedded-hal-bus",
    "rp2040-boot2",
    "rp2040-hal",
    "usb-device",
    "usbd-serial",
];

/// Libraries that compute, and do nothing else. `embedded-hal` and the parts' drivers are traits
/// and what is written to them; `anyhow` and `clap` are for the command.
pub const PURE: &[&str] = &[
    "ads1x1x",
    "anyhow",
    "base64",
    "bytes",
    "clap",
    "clap_complete",
    "clap_mangen",
    "cobs",
    "crc",
    "csv",
    "defmt",
    "defmt-decoder",
    "dejavu",
    "eeprom24x",
    "embedded-hal",
    "heapless",
    "http-body-util",
    "kamadak-exif",
    "krilla",
    "krilla-svg",
    "maud",
    "nalgebra",
    "object",
    "percent-encoding",
    "postcard",
    "proc-macro2",
    "qrcodegen",
    "quote",
    "rand_core",
    "rand_pcg",
    "serde",
    "serde_json",
    "sha2",
    "ssh-key",
    "statrs",
    "strsim",
    "subtle",
    "svg",
    "syn",
    "textwrap",
    "thiserror",
    "toml",
    "toml_parser",
    "ttf-parser",
    "unicode-width",
    "usvg",
];

/// Libraries that reach files, ports, terminals, networks, processes, clocks or chance: no pure
/// crate may reach one of them, through whatever else.
pub const IO: &[&str] = &[
    "async-std",
    "axum",
    "cargo_metadata",
    "chrono",
    "cortex-m",
    "cortex-m-rt",
    "critical-section",
    "crossterm",
    "directories",
    "dirs",
    "embedded-hal-bus",
    "etcetera",
    "fs4",
    "hyper",
    "hyper-util",
    "jiff",
    "libsqlite3-sys",
    "memmap2",
    "mio",
    "nix",
    "notify",
    "polling",
    "postgres",
    "ratatui",
    "reqwest",
    "rp2040-boot2",
    "rp2040-hal",
    "rusqlite",
    "rustix",
    "rustls",
    "rustls-native-certs",
    "same-file",
    "serialport",
    "signal-hook",
    "socket2",
    "tempfile",
    "termios",
    "time",
    "tokio",
    "tokio-postgres",
    "tokio-postgres-rustls",
    "tungstenite",
    "ureq",
    "usb-device",
    "usbd-serial",
    "walkdir",
    "whoami",
    "winapi-util",
];

/// How a pure crate would reach out with the standard library.
const STD_IO: &[&str] = &[
    "dbg!",
    "Instant::now",
    "print!",
    "println!",
    "std::env::",
    "std::fs",
    "std::io::stderr",
    "std::io::stdin",
    "std::io::stdout",
    "std::net",
    "std::os",
    "std::process",
    "std::thread",
    "SystemTime",
    "use std::env",
];

/// A crate of ours, as it is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Crate {
    /// Where it is.
    pub folder: PathBuf,
    /// The crates of ours that it is built from, without `skimgauge-`.
    pub on: BTreeSet<String>,
    /// The libraries that it names.
    pub libraries: BTreeSet<String>,
    /// Everything that gets built into it.
    pub all: BTreeSet<String>,
}

/// Every crate of ours by its name without `skimgauge-`.
pub type Found = BTreeMap<String, Crate>;

/// The name in the table.
fn short(name: &str) -> Option<&str> {
    name.strip_prefix("skimgauge").map(|rest| rest.strip_prefix('-').unwrap_or(rest))
}

/// What cargo tells of our crates. What they need only to be tested or built counts for nothing.
pub fn found(metadata: &Metadata) -> Found {
    metadata
        .workspace_packages()
        .into_iter()
        .filter_map(|package| Some((short(&package.name)?.to_owned(), of(package, metadata))))
        .collect()
}

fn of(package: &Package, metadata: &Metadata) -> Crate {
    let folder = package
        .manifest_path
        .parent()
        .map(|folder| folder.as_std_path().to_owned())
        .unwrap_or_default();
    let normal =
        package.dependencies.iter().filter(|dependency| dependency.kind == DependencyKind::Normal);
    let (on, libraries) = normal
        .map(|dependency| dependency.name.clone())
        .partition::<BTreeSet<_>, _>(|name| short(name).is_some());
    let on = on.iter().filter_map(|name| Some(short(name)?.to_owned())).collect();
    let mut all = BTreeSet::new();
    let mut waiting = vec![&package.id];
    while let Some(id) = waiting.pop() {
        let node = metadata
            .resolve
            .as_ref()
            .and_then(|resolve| resolve.nodes.iter().find(|node| node.id == *id));
        for next in node.into_iter().flat_map(|node| &node.deps) {
            let built_in = next.dep_kinds.iter().any(|kind| kind.kind == DependencyKind::Normal);
            if built_in && all.insert(metadata[&next.pkg].name.to_string()) {
                waiting.push(&next.pkg);
            }
        }
    }
    Crate { folder, on, libraries, all }
}

/// Every breach of the walls, in words.
pub fn breaches(house: &[Row], found: &Found, is_test: impl Fn(&Path) -> bool) -> Vec<String> {
    let mut said = Vec::new();
    for (at, row) in house.iter().enumerate() {
        for below in
            row.on.iter().filter(|below| !house[..at].iter().any(|lower| lower.name == **below))
        {
            said.push(format!(
                "the table lets `{}` stand on `{below}`, which is not above it in the table",
                row.name
            ));
        }
        if !found.contains_key(row.name) {
            said.push(format!("`{}` is in the table and not in the house", row.name));
        }
    }
    for (name, this) in found {
        for below in this
            .on
            .iter()
            .filter(|below| found.get(*below).is_some_and(|below| is_test(&below.folder)))
        {
            if !is_test(&this.folder) {
                said.push(format!("`{name}` stands on `{below}`, a test"));
            }
        }
        let row = house.iter().find(|row| row.name == name);
        match row {
            Some(row) => breaches_of(row, this, &mut said),
            None if is_test(&this.folder) => (),
            None => {
                said.push(format!(
                    "`{name}` is not in the table: give it a line, above whatever is to stand on it"
                ));
            }
        }
    }
    said
}

fn breaches_of(row: &Row, this: &Crate, said: &mut Vec<String>) {
    let name = row.name;
    for below in this.on.iter().filter(|below| !row.on.contains(&below.as_str())) {
        said.push(format!("`{name}` stands on `{below}`, which the table does not let it"));
    }
    for library in &this.libraries {
        let library = library.as_str();
        if row.io.is_some_and(|io| io.contains(&library)) || PURE.contains(&library) {
            continue;
        }
        said.push(if IO.contains(&library) {
            format!("`{name}` does I/O with `{library}`, which the table does not let it")
        } else {
            format!("`{name}` uses `{library}`, of which the lists in walls.rs do not say whether it does I/O")
        });
    }
    if row.io.is_none() {
        for library in this.all.iter().filter(|library| IO.contains(&library.as_str())) {
            said.push(format!("`{name}` is pure, and `{library}` is built into it"));
        }
    }
}

/// Lines of a pure crate's sources that reach out with the standard library, but for those of a
/// binary of its own.
pub fn reaches_out(source: &str) -> Vec<&str> {
    let code = source.lines().map(str::trim).filter(|line| !line.starts_with("//"));
    code.filter(|line| STD_IO.iter().any(|needle| line.contains(needle))).collect()
}
