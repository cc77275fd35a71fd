//! `survey`: the board's own shape, from surveyed points.

use crate::head::link::Link;
use crate::jobs;
use crate::keeping::section;
use crate::lengths::Lengths;
use crate::offline::{Asked, Files, beside};
use crate::outcome::{Ended, Outcome};
use crate::page;
use crate::report;
use crate::shell::{Mode, Shell, Source};
use crate::steps::Named;
use crate::survey::{Survey, further};
use crate::tables;
use crate::written::{DRAWING, POINTS};
use anyhow::Context;
use skimgauge_jobfile::JobFile;
use skimgauge_procedure::survey as procedure;
use skimgauge_procedure::takes::{Begin, unsurveyed};
use skimgauge_quantity::count;
use skimgauge_site::survey::{HEIGHT_U_MM, INSET_MM, Proposed, Surveyed, first_points, to_begin};
use skimgauge_system::output::{Outputs, Replace};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// The board's own shape: flatness, bow, twist, bumps, and whether the touch band can be met over
/// it.
///
/// Without --from and --head it proposes the points to survey. With --head they are taken one by
/// one, the touch plane being the straightedge; with both, those of the table are gone on with
/// where they say least. A job that names its survey is gone on with from there. Exit status: 0
/// done, or the band can be met; 1 it can't; 3 too close to call, or nobody looked at a part of the
/// image; 2 an error.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    asked: Asked,
    /// Surveyed points, a table x_mm,y_mm,z_mm: right of the image's middle, above its top edge,
    /// out toward the viewer.
    #[arg(long, value_name = "POINTS.csv")]
    from: Option<PathBuf>,
    /// Survey with the head at this port; `skimgauge ports` shows it.
    #[arg(long, value_name = "PORT", requires = "points", conflicts_with = "json", value_hint = clap::ValueHint::FilePath)]
    head: Option<String>,
    /// Write all points to this table; [survey] in the job file may then point to it.
    #[arg(long, value_name = "POINTS.csv")]
    points: Option<PathBuf>,
    /// Print a line a second instead of the screen while the head is heard.
    #[arg(long)]
    plain: bool,
    /// Standard uncertainty of one height, mm.
    #[arg(long, value_name = "MM", default_value_t = HEIGHT_U_MM)]
    u_mm: f64,
    /// How far inside the image's edges points are proposed, mm: the head's feet have to stand on
    /// the board.
    #[arg(long, value_name = "MM", default_value_t = INSET_MM)]
    inset_mm: f64,
    /// How many points to survey with the head, or to propose when going on: 4 of a board that was
    /// surveyed before, 9 of another; those where a verdict is doubted most are told by `trim`.
    #[arg(long, value_name = "N")]
    next: Option<usize>,
    /// Write a map of the heights.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Write map and table anew where an earlier one is; what --from reads is never written to.
    #[arg(long)]
    replace: bool,
    /// Whether it is shown in a browser.
    #[command(flatten)]
    page: page::Args,
}

/// Proposes points, or works the shape out.
///
/// # Errors
/// Job file or points cannot be read, or cannot be right; the head is lost.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let opened = args.asked.open()?;
    let image = opened.0.image;
    let next = args.next.unwrap_or(FURTHER).min(MOST);
    let from = args.from.clone().or_else(|| args.surveyed_before(&opened.0));
    let mut simulated = from.as_deref().is_some_and(tables::is_practised);
    let mut points = match &from {
        Some(from) => {
            tables::survey(from, &opened.0, || format!("{} cannot be read.", from.display()))?
        }
        None => Vec::new(),
    };
    if let Some(from) = &from {
        jobs::can_be_a_board(&points, &opened.0).with_context(|| from.display().to_string())?;
    }
    if points.is_empty() && args.head.is_none() {
        anyhow::ensure!(
            args.points.is_none(),
            "There are no points to write yet: --points goes with --head, which surveys them, or with --from and a table \
             that has some. Without --points this command says where to begin."
        );
        let found = Proposal { proposed: first_points(image, args.inset_mm)? };
        args.asked.show("skimgauge.survey-points", &found, || {
            let asked = &args.asked;
            let named = Named::new(&asked.job, &opened.0.about.name, asked.record.as_deref());
            report::survey::proposal(&found.proposed, &named.typed(), units)
        })?;
        return Ok(Ended::Well);
    }
    let mut outputs = args.asked.outputs(&opened.0, args.replace);
    if let Some(from) = &from {
        outputs = outputs.sparing(from, "the table that is read");
    }
    // Said before an hour's work, not after it.
    let wanted = [(args.points.as_deref(), POINTS), (args.svg.as_deref(), DRAWING)];
    outputs.check_all(wanted.into_iter().filter_map(|(path, kind)| Some((path?, kind))))?;
    // Points are proposed for any image; what they show is judged against the band.
    let (file, text) = opened;
    let zeroed_here = args.asked.zeroed_here(&file, &text);
    let opened = (file.touch_plane()?, text);
    if let Some(port) = &args.head {
        let at = if points.is_empty() {
            to_begin(image, args.inset_mm, args.next.unwrap_or(0).min(MOST))?
        } else {
            println!("Goes on from what is known: {}.", count(points.len(), "point"));
            further(&points, image, args.u_mm, args.inset_mm, next)?
        };
        let source = Source::Live(Link::open(port, None, None)?);
        let mode = Mode::of(args.plain, false);
        let (job, today) = (opened.0.clone(), jobs::today());
        let begin = Begin::new(job.clone(), unsurveyed(&job), today, port);
        let begin = Begin { zeroed_here, ..begin };
        let shell = Shell {
            source,
            store: None,
            mode,
            style: units.style(),
            person: None,
            pages: args.page.open_for(mode, &args.asked.job, args.asked.record.as_deref())?,
            plain_every: Duration::from_secs(1),
        };
        // It keeps nothing itself.
        let ran = shell.run(procedure::Survey::new(begin, &at))?;
        let before = points.len();
        points.extend(ran.procedure.heights());
        if points.len() == before {
            println!("Nothing was kept: no place was surveyed.");
            return Ok(Ended::Unsure);
        }
        simulated |= ran.procedure.is_simulated();
    }
    let mut files = Files::default();
    // Before anything can go wrong with them: surveyed heights are an hour's work.
    if let Some(path) = args.points.as_ref().filter(|_| !points.is_empty()) {
        files.note(path, save(&mut outputs, path, &points, simulated));
    }
    let survey = match Survey::of((&points, simulated), &opened.0, args.u_mm, args.inset_mm, next) {
        Ok(survey) => survey,
        Err(error) => return args.asked.say_where(files, Err(error)).map(|()| Ended::Well),
    };
    if let Some(path) = &args.svg {
        let drawn = outputs.write(path, DRAWING, survey.map.of(units.0).as_bytes());
        files.note(path, drawn.map_err(Into::into));
    }
    let section = section::survey(&survey);
    let kept = args.asked.keep_and_show(&opened, section, ("skimgauge.survey", &survey), || {
        report::survey::text(&survey, units)
    });
    args.asked.say_where(files, kept)?;
    Ok(survey.band.verdict.into())
}

/// So many further points where nobody says how many.
const FURTHER: usize = 4;
/// More are not asked of anybody at once.
const MOST: usize = 50;

impl Args {
    /// The table that the job names, where the head goes on from it.
    fn surveyed_before(&self, job: &JobFile) -> Option<PathBuf> {
        let named = job.survey.as_ref().filter(|_| self.head.is_some())?;
        Some(jobs::beside(&self.asked.job, &named.file)).filter(|file| file.exists())
    }
}

/// Writes the points; where that cannot be as it was asked for, beside it or to the folder for
/// temporary files.
fn save(
    outputs: &mut Outputs,
    path: &Path,
    points: &[Surveyed],
    simulated: bool,
) -> anyhow::Result<()> {
    let table = tables::of_survey(points, simulated);
    let Err(refused) = outputs.write(path, POINTS, table.as_bytes()) else { return Ok(()) };
    let name = beside(path, "saved");
    let elsewhere = std::env::temp_dir().join(name.file_name().unwrap_or_default());
    let saved = [name, elsewhere]
        .into_iter()
        .find(|path| Outputs::new(Replace::Never).write(path, POINTS, table.as_bytes()).is_ok());
    match saved {
        Some(saved) => {
            Err(refused).with_context(|| format!("The points are in {}.", saved.display()))
        }
        None => {
            print!("{table}");
            Err(refused).context("The points could not be saved; they stand above.")
        }
    }
}

/// The points to begin with.
#[derive(serde::Serialize)]
struct Proposal {
    proposed: Vec<Proposed>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Somebody took the name while the board was surveyed: an hour's work is not lost for that.
    #[test]
    fn points_that_cannot_be_where_they_were_wanted_are_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let wanted = folder.path().join("points.csv");
        std::fs::write(&wanted, "somebody's").unwrap();
        let points = [Surveyed { x_mm: 1.0, y_mm: -2.0, z_mm: 0.25 }];
        let error =
            save(&mut Outputs::new(Replace::NotAsked), &wanted, &points, false).unwrap_err();
        let said = crate::command::sentence(&error);
        assert!(said.contains("points-saved.csv") && said.contains("is there already"), "{said}");
        assert_eq!(std::fs::read(&wanted).unwrap(), b"somebody's");
        let saved = std::fs::read_to_string(folder.path().join("points-saved.csv")).unwrap();
        assert_eq!(saved, tables::of_survey(&points, false));
    }
}
