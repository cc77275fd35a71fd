//! What is built into the program and into the head's firmware, each with its licence's own text:
//! most of them ask for no more than that it goes along.

use crate::Paper;
use anyhow::{Context, ensure};
use cargo_metadata::{Metadata, MetadataCommand, Package};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

/// How the names of files begin that a licence's text stands in.
const BEGINNINGS: [&str; 6] = ["licen", "copying", "copyright", "notice", "unlicense", "ofl"];

/// A part that is built in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// The crate's name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// Its licence, as its package states it.
    pub expression: String,
    /// Who wrote it, as far as its package tells.
    pub authors: Vec<String>,
    /// The texts that lie in its package.
    pub texts: Vec<String>,
}

/// The notices of a release for this platform.
///
/// # Errors
/// Cargo does not say what is built in, or a part has no licence at all.
pub fn of(root: &Path, platform: &str, features: &str) -> anyhow::Result<Paper> {
    let program = parts(&root.join("host/cli/Cargo.toml"), platform, features)?;
    let board = parts(&root.join("firmware/pico/Cargo.toml"), "thumbv6m-none-eabi", "")?;
    let sections = [("In the program", program), ("In the head's firmware", board)];
    Ok(Paper { path: "THIRD-PARTY-LICENSES".to_owned(), bytes: told(&sections).into_bytes() })
}

/// What cargo builds into the package of this manifest; nothing that only builds or tests it.
fn parts(manifest: &Path, platform: &str, features: &str) -> anyhow::Result<Vec<Part>> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let mut tree = Command::new(cargo);
    tree.args(["tree", "--locked", "--prefix", "none", "--format", "{p}"]);
    tree.args(["--edges", "normal,no-proc-macro", "--target", platform]);
    tree.args(["--features", features, "--manifest-path"]).arg(manifest);
    let output = tree.output().context("cargo cannot be run.")?;
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    ensure!(output.status.success(), "cargo tree: {said}");
    let metadata = MetadataCommand::new()
        .manifest_path(manifest)
        .other_options(["--locked".to_owned(), "--filter-platform".to_owned(), platform.to_owned()])
        .features(cargo_metadata::CargoOpt::AllFeatures)
        .exec()?;
    let mut parts = BTreeMap::new();
    for line in String::from_utf8_lossy(&output.stdout).lines() {
        let mut words = line.split(' ');
        let (Some(name), Some(version)) = (words.next(), words.next()) else { continue };
        let version = version.trim_start_matches('v');
        let key = (name.to_owned(), version.to_owned());
        if name.starts_with("skimgauge") || parts.contains_key(&key) {
            continue;
        }
        parts.insert(key, part(package(&metadata, name, version)?)?);
    }
    ensure!(!parts.is_empty(), "{}: nothing is built in.", manifest.display());
    Ok(parts.into_values().collect())
}

fn package<'a>(metadata: &'a Metadata, name: &str, version: &str) -> anyhow::Result<&'a Package> {
    let is_it =
        |package: &&Package| *package.name == name && package.version.to_string() == version;
    metadata.packages.iter().find(is_it).with_context(|| format!("cargo knows no {name} {version}"))
}

fn part(package: &Package) -> anyhow::Result<Part> {
    let folder = package.manifest_path.parent().context("A manifest lies in no folder.")?;
    let mut files: Vec<_> = std::fs::read_dir(folder)?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.is_file() && is_licence(path))
        .collect();
    if let Some(named) = &package.license_file {
        files.push(folder.join(named).into_std_path_buf());
    }
    files.sort();
    files.dedup();
    let texts = files.iter().map(std::fs::read).collect::<Result<Vec<_>, _>>()?;
    let part = Part {
        name: package.name.to_string(),
        version: package.version.to_string(),
        expression: package.license.clone().unwrap_or_default(),
        authors: package.authors.clone(),
        texts: texts.iter().map(|text| plain(&String::from_utf8_lossy(text))).collect(),
    };
    ensure!(
        !part.expression.is_empty() || !part.texts.is_empty(),
        "{} {} says nothing of its licence.",
        part.name,
        part.version
    );
    Ok(part)
}

fn is_licence(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
    BEGINNINGS.iter().any(|beginning| name.starts_with(beginning)) && !name.ends_with(".rs")
}

/// Without what tells two copies of one text apart and says nothing.
fn plain(text: &str) -> String {
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    lines.join("\n").trim_matches('\n').to_owned()
}

/// The paper: who is built in, then each text once.
pub fn told(sections: &[(&str, Vec<Part>)]) -> String {
    let mut texts: Vec<&str> = Vec::new();
    let mut paper = String::from(
        "What others wrote that is built into skimgauge. Behind each its licence, and the numbers of the texts\n\
         below that came with it. Its source: https://crates.io/crates/NAME/VERSION\n\n\
         The standard library of Rust is built in as well: MIT OR Apache-2.0, the Rust project's contributors.\n",
    );
    for (heading, parts) in sections {
        let _ = write!(paper, "\n== {heading} ==\n");
        for part in parts {
            let _ = write!(paper, "{} {}: {}", part.name, part.version, part.expression);
            let numbers = part.texts.iter().map(|text| {
                let known = texts.iter().position(|known| known == text);
                let at = known.unwrap_or_else(|| {
                    texts.push(text);
                    texts.len() - 1
                });
                format!("[{}]", at + 1)
            });
            let numbers: Vec<String> = numbers.collect();
            let _ = match numbers.is_empty() {
                false => writeln!(paper, " {}", numbers.join(" ")),
                true => writeln!(paper, " (no text came with it; by {})", authors(part)),
            };
        }
    }
    for (at, text) in texts.iter().enumerate() {
        let _ = write!(paper, "\n== [{}] ==\n{text}\n", at + 1);
    }
    paper
}

fn authors(part: &Part) -> String {
    match part.authors.is_empty() {
        true => format!("the authors of {}", part.name),
        false => part.authors.join(", "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(name: &str, texts: &[&str]) -> Part {
        Part {
            name: name.to_owned(),
            version: "1.0.0".to_owned(),
            expression: "MIT".to_owned(),
            authors: vec!["Somebody".to_owned()],
            texts: texts.iter().map(|text| plain(text)).collect(),
        }
    }

    #[test]
    fn each_text_stands_once_and_every_part_leads_to_its_own() {
        let one = [part("a", &["First \r\ntext\n"]), part("b", &["Second"])];
        let two = [part("c", &["\nFirst\ntext"]), part("d", &[])];
        let paper = told(&[("One", one.to_vec()), ("Two", two.to_vec())]);
        for line in [
            "a 1.0.0: MIT [1]",
            "b 1.0.0: MIT [2]",
            "c 1.0.0: MIT [1]",
            "d 1.0.0: MIT (no text came with it; by Somebody)",
        ] {
            assert!(paper.lines().any(|found| found == line), "{line}: {paper}");
        }
        assert_eq!(paper.matches("First\ntext").count(), 1);
    }

    #[test]
    fn the_program_and_the_firmware_are_told_with_their_texts() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
        let platform = "x86_64-unknown-linux-gnu";
        let paper = String::from_utf8(of(&root, platform, "pdf").unwrap().bytes).unwrap();
        let line =
            |name: &str| paper.lines().find(|line| line.starts_with(name)).map(str::to_owned);
        // Of the program, of it with the PDF alone, of the firmware alone; not what only derives.
        for name in ["rusqlite ", "usvg ", "rp2040-hal "] {
            assert!(line(name).is_some_and(|line| line.contains('[')), "{name}");
        }
        assert_eq!(line("serde_derive "), None);
        assert_eq!(line("skimgauge"), None);
        assert!(!paper.contains('\r') && paper.contains("Permission is hereby granted"));
    }
}
