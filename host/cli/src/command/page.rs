//! `page`: the live view in a browser.

use super::{trim, watch};
use crate::keeping::SameJob;
use crate::lengths::Lengths;
use crate::outcome::Outcome;
use crate::page;
use std::path::PathBuf;

/// Show the work at the board in a browser: on the board itself at true scale, and on a phone.
///
/// The same view as the terminal's, and the same words. The board page only looks, and swallows every
/// touch; words come from the keyboard, the head's button or a phone. On this computer alone, unless
/// --lan is given. The terminal shows a line a second, and who is there.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The job file.
    #[arg(long, value_name = "FILE")]
    job: PathBuf,
    /// The head's port; `skimgauge ports` shows it.
    #[arg(long, value_name = "PORT", value_hint = clap::ValueHint::FilePath)]
    head: String,
    /// Be guided through the trim; without this, take the stations and judge.
    #[arg(long)]
    trim: bool,
    /// The record; without this, the platform's place.
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
    #[command(flatten)]
    same_job: SameJob,
    /// Phones in the local network may open the page, at one address of this computer. What is
    /// shown can be read by others in that network; its keys end with the run.
    #[arg(long)]
    lan: bool,
    /// With --lan: at this address of this computer; without it, the one by which it is in its
    /// network.
    #[arg(long, value_name = "ADDRESS", requires = "lan")]
    at: Option<std::net::IpAddr>,
    /// The page's port; 0: any that is free.
    #[arg(long, value_name = "PORT", default_value_t = 0)]
    page_port: u16,
}

/// Serves it until the user has enough.
///
/// # Errors
/// As `watch` and `trim`.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let page = page::Args { page: true, lan: args.lan, at: args.at, page_port: args.page_port };
    if args.trim {
        trim::paged(args.job, args.head, args.record, args.same_job, page, units)
    } else {
        watch::paged(args.job, args.head, args.record, args.same_job, page, units)
    }
}
