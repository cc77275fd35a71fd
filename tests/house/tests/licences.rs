//! Whatever is built into the host program and the flash image may be given on under this project's
//! own licences, and what only checks it may be used.

use cargo_metadata::Metadata;
use serde_json::Value;
use skimgauge_house::{host, image, root};
use spdx::{Expression, LicenseReq};

/// Ask for no more than their own text to go along.
const FREE: &[&str] = &[
    "0BSD",
    "Apache-2.0",
    "BlueOak-1.0.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];
/// Asks for the source of its own files alone; lets a program that uses them be as it likes. Not in
/// the head, whose image goes out without any source.
const FREE_BY_FILE: &[&str] = &["MPL-2.0"];

/// Whether one way to read the expression needs no licence but these.
fn fits(expression: &str, allowed: &[&[&str]]) -> bool {
    let name = |asked: &LicenseReq| asked.license.id().map(|id| id.name);
    let fits =
        |asked: &LicenseReq| name(asked).is_some_and(|name| allowed.concat().contains(&name));
    // `A/B` is how older crates write `A OR B`.
    Expression::parse(&expression.replace('/', " OR ")).is_ok_and(|parsed| parsed.evaluate(fits))
}

fn refused(metadata: &Metadata, allowed: &[&[&str]]) -> Vec<String> {
    let of = |package: &cargo_metadata::Package| {
        let licence = package.license.clone().unwrap_or_default();
        (!fits(&licence, allowed))
            .then(|| format!("{} {}: `{licence}`", package.name, package.version))
    };
    metadata.packages.iter().filter_map(of).collect()
}

#[test]
fn an_expression_is_read_as_its_author_meant_it() {
    for (expression, head, host) in [
        ("MIT OR Apache-2.0", true, true),
        ("MIT/Apache-2.0", true, true),
        ("(MIT OR Apache-2.0) AND Unicode-3.0", true, true),
        ("GPL-3.0-only OR MIT", true, true),
        ("MPL-2.0", false, true),
        ("MIT AND GPL-3.0-only", false, false),
        ("GPL-3.0-or-later", false, false),
        ("Proprietary", false, false),
        ("", false, false),
    ] {
        assert_eq!(
            (fits(expression, &[FREE]), fits(expression, &[FREE, FREE_BY_FILE])),
            (head, host),
            "{expression}"
        );
    }
}

#[test]
fn the_host_program_holds_nothing_that_may_not_be_given_on() {
    assert_eq!(refused(&host(), &[FREE, FREE_BY_FILE]), Vec::<String>::new());
}

#[test]
fn the_flash_image_holds_nothing_that_asks_for_its_source() {
    assert_eq!(refused(&image(), &[FREE]), Vec::<String>::new());
}

#[test]
fn what_runs_under_node_may_be_used() {
    for lock in ["firmware/emulator/chip/package-lock.json", "tests/page/package-lock.json"] {
        let text = std::fs::read_to_string(root().join(lock)).unwrap();
        let lock: Value = serde_json::from_str(&text).unwrap();
        let packages = lock["packages"].as_object().unwrap();
        assert!(packages.len() > 1);
        for (path, package) in packages.iter().filter(|(path, _)| !path.is_empty()) {
            let licence = package["license"].as_str().unwrap_or_default();
            assert!(fits(licence, &[FREE]), "{path}: `{licence}`");
        }
    }
}
