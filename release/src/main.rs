//! Writes the papers of a release into a folder. `release/build` calls it.

use anyhow::{Context, ensure};
use clap::Parser;
use skimgauge_release::{Paper, completion, manual, notices, rule, sample_job};
use std::path::PathBuf;

/// Write what a release holds beside the program and the flash image.
#[derive(Debug, Parser)]
struct Args {
    /// Into this new folder.
    #[arg(long, value_name = "DIR")]
    into: PathBuf,
    /// The day that stands on the man pages, as in 2026-11-27.
    #[arg(long, value_name = "DAY")]
    day: String,
    /// The platform that the release is for, as the compiler names it.
    #[arg(long, value_name = "TRIPLE")]
    platform: String,
    /// The features that the program is built with.
    #[arg(long, value_name = "FEATURES", default_value = "pdf")]
    features: String,
    /// The project's folder.
    #[arg(long, value_name = "DIR", default_value = ".")]
    root: PathBuf,
}

fn main() -> anyhow::Result<()> {
    let args = Args::parse();
    let notices = notices::of(&args.root, &args.platform, &args.features)?;
    ensure!(!args.into.exists(), "{} is there already.", args.into.display());
    let mut papers: Vec<Paper> = manual::pages(&args.day)?;
    papers.extend(completion::scripts());
    papers.extend([rule::paper(), sample_job(), notices]);
    for Paper { path, bytes } in papers {
        let path = args.into.join(path);
        let folder = path.parent().context("A paper lies in no folder.")?;
        std::fs::create_dir_all(folder)?;
        std::fs::write(&path, bytes).with_context(|| path.display().to_string())?;
    }
    Ok(())
}
