//! `survey`: the board's own shape, from surveyed points.

use crate::jobs;
use crate::lengths::Lengths;
use crate::offline::{Asked, written};
use crate::outcome::{Ended, Outcome};
use crate::port::link::Link;
use crate::reading;
use crate::report;
use crate::survey::{Survey, further};
use crate::surveying::heights;
use crate::watching::{Mode, Source};
use anyhow::Context;
use skimgauge_record::event::SectionName;
use skimgauge_site::survey::{Proposed, first_points};
use skimgauge_site::survey_csv;
use std::path::PathBuf;

/// The board's own shape: flatness, bow, twist, bumps, and whether the touch band can be met over it.
///
/// Without --from and --head it proposes the points to survey. With --head they are taken one by one, the touch plane
/// being the straightedge; with both, those of the table are gone on with where they say least. Exit status: 0 done, or
/// the band can be met; 1 it can't; 2 an error.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    asked: Asked,
    /// Surveyed points, a table x_mm,y_mm,z_mm: right of the image's middle, above its top edge, out toward the viewer.
    #[arg(long, value_name = "POINTS.csv")]
    from: Option<PathBuf>,
    /// Survey with the head at this port; `skimgauge ports` shows it.
    #[arg(long, value_name = "PORT", requires = "points", conflicts_with = "json")]
    head: Option<String>,
    /// Write all points to this table; [survey] in the job file may then point to it.
    #[arg(long, value_name = "POINTS.csv")]
    points: Option<PathBuf>,
    /// Print a line a second instead of the screen while the head is heard.
    #[arg(long)]
    plain: bool,
    /// Standard uncertainty of one height, mm.
    #[arg(long, value_name = "MM", default_value_t = jobs::SURVEYED_MM)]
    u_mm: f64,
    /// How far inside the image's edges points are proposed, mm: the head's feet have to stand on the board.
    #[arg(long, value_name = "MM", default_value_t = 40.0)]
    inset_mm: f64,
    /// How many further points to propose, or to survey when going on.
    #[arg(long, value_name = "N", default_value_t = 4)]
    next: usize,
    /// Write a map of the heights.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// Proposes points, or works the shape out.
///
/// # Errors
/// Job file or points cannot be read, or cannot be right; the head is lost.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let opened = args.asked.open()?;
    let image = opened.0.image;
    let next = args.next.min(50);
    let mut points = match &args.from {
        Some(from) => {
            let text = reading::text(from, reading::LARGEST_TEXT)?;
            survey_csv::read(&text).with_context(|| from.display().to_string())?
        }
        None => Vec::new(),
    };
    if points.is_empty() && args.head.is_none() {
        let found = Proposal { proposed: first_points(image, args.inset_mm)? };
        args.asked.show("skimgauge.survey-points", &found, || report::survey::proposal(&found.proposed, units))?;
        return Ok(Ended::Well);
    }
    if let Some(port) = &args.head {
        let at = if points.is_empty() {
            first_points(image, args.inset_mm)?
        } else {
            further(&points, image, args.u_mm, args.inset_mm, next)?
        };
        let source = Source::Live(Link::open(port, None, None)?);
        let mode = Mode::of(args.plain, false);
        points.extend(heights(source, &opened.0, &at, jobs::today(), mode, None)?);
    }
    let mut files = Vec::new();
    // Before anything can go wrong with them: surveyed heights are an hour's work.
    if let Some(path) = args.points.as_ref().filter(|_| !points.is_empty()) {
        files.push(written(path, survey_csv::write(&points))?);
    }
    let survey = Survey::of(&points, &opened.0, args.u_mm, args.inset_mm, next)?;
    if let Some(path) = &args.svg {
        files.push(written(path, &survey.map)?);
    }
    let kept = args.asked.keep(&opened, SectionName::Survey, &survey.recorded())?;
    args.asked.show("skimgauge.survey", &survey, || report::survey::text(&survey, units))?;
    args.asked.say_files(&files, kept.as_deref());
    Ok(if survey.band.can_be_met { Ended::Well } else { Ended::Outside })
}

/// The points to begin with.
#[derive(serde::Serialize)]
struct Proposal {
    proposed: Vec<Proposed>,
}
