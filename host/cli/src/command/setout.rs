//! `setout`: where everything goes on the wall, before anything is drilled.

use crate::keeping::section::{self, InBoth};
use crate::lengths::Lengths;
use crate::offline::{Asked, Files, beside};
use crate::outcome::Outcome;
use crate::page::marking::Marking;
use crate::page::{self, desk};
use crate::report;
use crate::shell::Mode;
use crate::written::{DRAWING, PDF};
use anyhow::bail;
use skimgauge_jobfile::JobFile;
use skimgauge_quantity::{Style, Units};
use skimgauge_site::drawing::Paper;
use skimgauge_site::drawing::template::{Sheet, templates};
use skimgauge_site::drawing::wall::wall_drawing;
use skimgauge_site::setout::{SetOut, SetOutInput, set_out};
use skimgauge_system::output::Kind;
use std::path::PathBuf;

/// Where everything goes on the wall: marks from two struck lines, checks, clearances, reach,
/// drawings.
///
/// Exit status: 0 all clear, 1 something has to be changed first, 3 mount figures are between
/// listed sizes or the emitter's lower edge is assumed (the step stays open until that is settled),
/// 2 an error. `verdict` in the JSON says the same: `within`, `outside`, `unsure`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    asked: Asked,
    /// Write a scale drawing of the wall.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Write full-size hole templates: as SVG, with several sheets each with its plate and number
    /// in its name; or, to a file ending in `.pdf`, all in one (where skimgauge was built with
    /// its feature `pdf`).
    #[arg(long, value_name = "FILE")]
    template: Option<PathBuf>,
    /// What templates are printed on.
    #[arg(long, value_enum, default_value = "a4")]
    paper: PaperName,
    /// Write drawings and templates anew where an earlier one is.
    #[arg(long)]
    replace: bool,
    /// With the image on the wall its marks light up one after another.
    #[command(flatten)]
    page: page::Args,
}

/// A sheet of paper.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum PaperName {
    /// 210 mm by 297 mm.
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

impl From<PaperName> for Paper {
    fn from(name: PaperName) -> Self {
        match name {
            PaperName::A4 => Self::A4,
            PaperName::Letter => Self::Letter,
        }
    }
}

/// Sets out the job.
///
/// # Errors
/// The job file, or what it says of room and mount, does not give a set-out; a file cannot be
/// written.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let opened = args.asked.open()?;
    let input = input(&opened.0)?;
    let found = set_out(&input)?;
    let drawing = |units| wall_drawing(&found, &input.room, Style::typed(units)).svg;
    let drawing = InBoth { mm: drawing(Units::Mm), inch: drawing(Units::Inch) };
    let mut wanted: Vec<(PathBuf, Kind, Vec<u8>)> = Vec::new();
    if let Some(path) = &args.svg {
        wanted.push((path.clone(), DRAWING, drawing.of(units.0).as_bytes().to_vec()));
    }
    if let Some(path) = &args.template {
        let sheets = sheets(&found, args.paper.into());
        if sheets.is_empty() {
            bail!("There are no holes to make a template of: the job file has no [mount] section.");
        }
        if path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("pdf")) {
            let title = format!("Hole templates: {}", opened.0.about.name);
            wanted.push((path.clone(), PDF, pdf(&title, &sheets)?));
        } else {
            let one = sheets.len() == 1;
            for sheet in &sheets {
                let name = if one { path.clone() } else { beside(path, &sheet_name(sheet)) };
                wanted.push((name, DRAWING, sheet.svg.clone().into_bytes()));
            }
        }
    }
    let files = Files::write(&mut args.asked.outputs(&opened.0, args.replace), &wanted)?;
    let section = section::set_out(&found, &drawing);
    let kept = args.asked.keep_and_show(&opened, section, ("skimgauge.setout", &found), || {
        report::set_out::text(&found, units)
    });
    args.asked.say_where(files, kept)?;
    let mode = if args.asked.json { Mode::Json } else { Mode::Plain };
    if let Some(pages) = args.page.open_for(mode, &args.asked.job, args.asked.record.as_deref())? {
        desk::run(pages, &mut Marking::new(&opened.0.about.name, &found))?;
    }
    Ok(found.verdict.into())
}

/// What the job says for set-out.
///
/// # Errors
/// It has no `[room]`.
pub fn input(job: &JobFile) -> anyhow::Result<SetOutInput> {
    let plan = job.room()?.clone();
    Ok(SetOutInput {
        image: job.image,
        place: plan.place,
        room: plan.room,
        emitter: Some(job.emitter.place()),
        mount: job.mount.clone(),
        level_line_mm: plan.level_line_mm,
        shelf_depth_mm: plan.shelf_depth_mm,
        mark_u_mm: 0.7,
    })
}

fn sheets(found: &SetOut, paper: Paper) -> Vec<Sheet> {
    let plates = found.mount.iter().flat_map(|mount| &mount.plates);
    plates
        .flat_map(|placed| {
            let middle = format!("{} middle", placed.plate.name);
            let mark = found.marks.iter().find(|mark| mark.name == middle);
            let (x_mm, y_mm) = mark.map_or((placed.x_mm, placed.y_mm), |mark| {
                (mark.from_plumb_mm, mark.from_level_mm)
            });
            templates(&placed.plate, x_mm, y_mm, paper)
        })
        .collect()
}

fn sheet_name(sheet: &Sheet) -> String {
    let plate: String =
        sheet.plate.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    format!("{plate}-{}-{}", sheet.row, sheet.column)
}

#[cfg(feature = "pdf")]
fn pdf(title: &str, sheets: &[Sheet]) -> anyhow::Result<Vec<u8>> {
    let drawings: Vec<&str> = sheets.iter().map(|sheet| sheet.svg.as_str()).collect();
    Ok(skimgauge_handover::drawings_pdf(title, &drawings)?)
}

#[cfg(not(feature = "pdf"))]
fn pdf(_: &str, _: &[Sheet]) -> anyhow::Result<Vec<u8>> {
    bail!(
        "This skimgauge was built without PDF. Give --template a name ending in .svg and print the sheets from a browser at \
         actual size, or build it with `cargo build --release -p skimgauge --features pdf`."
    )
}
