//! `fixings`: what the anchors of a bracket carry, against their approval. Never says that a wall
//! is safe.

use crate::keeping::section;
use crate::lengths::Lengths;
use crate::offline::{Asked, Files};
use crate::outcome::{Ended, Outcome};
use crate::report;
use skimgauge_site::fixings::{FixingsReport, Judged, fixings};

/// Loads on the anchors against the values entered from their approval. Says nothing about the
/// wall.
///
/// Exit status: 0 within the values entered, 1 beyond them, 3 no approval data or a proof load is
/// still to be made or too small to prove anything, 2 an error.
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
    Ok(ended(&report))
}

fn ended(report: &FixingsReport) -> Ended {
    let any = |judged: Judged| report.plates.iter().any(|plate| plate.judged == judged);
    let lacking =
        report.plates.iter().any(|plate| !plate.proof_lacking.is_empty() || plate.proof_too_small);
    if any(Judged::BeyondAllowed) {
        Ended::Outside
    } else if any(Judged::NotJudged) || lacking {
        Ended::Unsure
    } else {
        Ended::Well
    }
}
