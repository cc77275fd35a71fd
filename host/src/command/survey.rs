//! `survey`: the board's own shape, from surveyed points.

use super::{Ended, Outcome};
use crate::offline::{Asked, written};
use crate::report;
use crate::survey::Survey;
use anyhow::Context;
use skimgauge_record::event::SectionName;
use skimgauge_site::survey::{Proposed, first_points};
use skimgauge_site::survey_csv;
use std::path::PathBuf;

/// The board's own shape: flatness, bow, twist, bumps, and whether the touch band can be met over it.
///
/// Without --from it proposes the points to survey. Exit status: 0 done, or the band can be met; 1 it can't; 2 an error.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    asked: Asked,
    /// Surveyed points, a table x_mm,y_mm,z_mm: right of the image's middle, above its top edge, out toward the viewer.
    #[arg(long, value_name = "POINTS.csv")]
    from: Option<PathBuf>,
    /// Standard uncertainty of one height, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.05)]
    u_mm: f64,
    /// How far inside the image's edges points are proposed, mm: the head's feet have to stand on the board.
    #[arg(long, value_name = "MM", default_value_t = 40.0)]
    inset_mm: f64,
    /// How many further points to propose.
    #[arg(long, value_name = "N", default_value_t = 4)]
    next: usize,
    /// Write a map of the heights.
    #[arg(long, value_name = "FILE", requires = "from")]
    svg: Option<PathBuf>,
}

/// Proposes points, or works the shape out.
///
/// # Errors
/// Job file or points cannot be read, or cannot be right.
pub fn run(args: Args) -> Outcome {
    let opened = args.asked.open()?;
    let image = opened.job.image;
    let Some(from) = &args.from else {
        let proposed = first_points(image, args.inset_mm)?;
        let found = Proposal { proposed };
        args.asked.show("skimgauge.survey-points", &found, || report::survey::proposal(&found.proposed))?;
        return Ok(Ended::Well);
    };
    let text = std::fs::read_to_string(from).with_context(|| format!("{} cannot be read.", from.display()))?;
    let points = survey_csv::read(&text).with_context(|| from.display().to_string())?;
    let survey = Survey::of(&points, &opened.job, args.u_mm, args.inset_mm, args.next.min(50))?;
    let mut files = Vec::new();
    if let Some(path) = &args.svg {
        files.push(written(path, &survey.map)?);
    }
    let kept = args.asked.keep(&opened, SectionName::Survey, &survey.recorded())?;
    args.asked.show("skimgauge.survey", &survey, || report::survey::text(&survey))?;
    args.asked.say_files(&files, kept.as_deref());
    Ok(if survey.band.can_be_met { Ended::Well } else { Ended::Outside })
}

/// The points to begin with.
#[derive(serde::Serialize)]
struct Proposal {
    proposed: Vec<Proposed>,
}
