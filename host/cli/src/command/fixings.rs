//! `fixings`: what the anchors of a bracket carry, against their approval. Never says that a wall
//! is safe.

use crate::keeping::section;
use crate::lengths::Lengths;
use crate::offline::{Asked, Files};
use crate::outcome::Outcome;
use crate::report;
use skimgauge_site::fixings::fixings;

/// Loads on the anchors against the values entered from their approval. Says nothing about the
/// wall.
///
/// Exit status: 0 within the values entered, 1 beyond them, 3 no approval data or a proof load is
/// still to be made, too small or too large to prove anything, or not asked for in a wall that counts
/// as weak, 2 an error. `verdict` in the JSON says the same: `within`, `outside`, `unsure`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    asked: Asked,
}

/// Works the fixings out.
///
/// # Errors
/// The job file, or what it says of plates and loads, cannot be right.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let opened = args.asked.open()?;
    let report = fixings(opened.0.fixings()?)?;
    let section = section::fixings(&report);
    let kept = args.asked.keep_and_show(&opened, section, ("skimgauge.fixings", &report), || {
        report::fixings::text(&report, units)
    });
    args.asked.say_where(Files::default(), kept)?;
    Ok(report.verdict.into())
}
