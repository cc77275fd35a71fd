//! The job file on disk, and what it points to.

use crate::tables;
use anyhow::Context;
use skimgauge_jobfile::{Job, JobErrors, JobFile};
use skimgauge_metrology::assess::{MEASURABLE, NEAREST};
use skimgauge_metrology::plane::board::{Board, Shape, SurveyError};
use skimgauge_metrology::plane::surface::Surface;
use skimgauge_metrology::plane::unseen::LookedOver;
use skimgauge_procedure::takes::unsurveyed;
use skimgauge_quantity::Style;
use skimgauge_record::chain::Hash;
use skimgauge_shared::calibration::Date;
use skimgauge_site::survey::{HEIGHT_U_MM, Surveyed};
use skimgauge_steps::typed;
use skimgauge_system::input;
use std::path::{Path, PathBuf};

/// A job with what belongs to it.
pub struct Opened {
    /// The job.
    pub job: Job,
    /// Its file's text, for the record.
    pub text: String,
    /// The board as far as it is known.
    pub board: Board,
    /// The survey that it is known from, if it was surveyed.
    pub survey: Option<KnownFrom>,
}

/// The survey that a board is known from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KnownFrom {
    /// Its table, by its heights.
    pub table: Hash,
    /// Whether a simulated head read it.
    pub practised: bool,
}

/// Reads a job file, and the survey that it points to.
///
/// # Errors
/// Either cannot be read, or says something that cannot be: with line and what is expected.
pub fn open(path: &Path) -> anyhow::Result<Opened> {
    let (job, text) = read(path)?;
    let (board, survey) = match &job.survey {
        None => {
            surveyed_by_word(path, &job, &text)?;
            (unsurveyed(&job), None)
        }
        Some(survey) => surveyed(&beside(path, &survey.file), &job)?,
    };
    Ok(Opened { text, board, job, survey })
}

/// Refuses dents that are said to be surveyed where no survey is given: nobody has read their height.
fn surveyed_by_word(path: &Path, job: &Job, text: &str) -> Result<(), JobErrors> {
    if job.board.looked_over != LookedOver::Surveyed {
        return Ok(());
    }
    let wrong = "the dents are said to be surveyed, and the job names no survey".to_owned();
    let expected =
        "the survey's table under [survey], file = \"survey.csv\" (skimgauge survey makes it); \
                    until then looked_over = \"found\""
            .to_owned();
    let file = path.display().to_string();
    Err(skimgauge_jobfile::objection((&file, text), ("board", &["looked_over"]), wrong, expected))
}

/// Whether a head can find anything within a job's band.
///
/// # Errors
/// It cannot: with the line in the job file.
pub fn can_be_read(path: &Path, job: &Job, text: &str) -> Result<(), JobErrors> {
    let band = job.bands.gap;
    if band.high > NEAREST {
        return Ok(());
    }
    let style = Style::default();
    let (nearest, usual) = (NEAREST.gap().text(style), MEASURABLE.low.gap().text(style));
    let wrong = format!(
        "the band ends at {}, and no head sees light nearer than {nearest}: no place could be read within it",
        band.high.limit().text(style)
    );
    let expected = format!(
        "the band of the emitter's manual; a head sees a usual sheet from {usual} on, a very thin one from {nearest}"
    );
    let file = path.display().to_string();
    Err(skimgauge_jobfile::objection((&file, text), ("band", &["gap"]), wrong, expected))
}

/// A path that a job file names: a relative one counts from the file's folder.
pub fn beside(file: &Path, named: &str) -> PathBuf {
    file.parent().unwrap_or(Path::new("")).join(named)
}

/// Reads a job file alone: the job, and the text for the record.
///
/// # Errors
/// It cannot be read, says something that cannot be, or does not say what a gap may be.
pub fn read(path: &Path) -> anyhow::Result<(Job, String)> {
    let bytes = bytes_of(path)?;
    let job = Job::parse_bytes(&path.display().to_string(), &bytes)?;
    Ok((job, String::from_utf8_lossy(&bytes).into_owned()))
}

/// The same for work that comes before the touch plane, whatever of it the file says already.
///
/// # Errors
/// It cannot be read, or says something that cannot be.
pub fn read_early(path: &Path) -> anyhow::Result<(JobFile, String)> {
    let bytes = bytes_of(path)?;
    let job = JobFile::read_bytes(&path.display().to_string(), &bytes)?;
    Ok((job, String::from_utf8_lossy(&bytes).into_owned()))
}

fn bytes_of(path: &Path) -> anyhow::Result<Vec<u8>> {
    input::read(path, input::JOB_FILE).with_context(|| {
        format!(
            "The job file {} cannot be read. `skimgauge jobs new {}` writes one.",
            path.display(),
            typed::path(&path.display().to_string())
        )
    })
}

/// The job's board as a survey found it, and which survey that is.
///
/// # Errors
/// The survey cannot be read, or cannot be right: with line and what is expected.
pub fn surveyed(path: &Path, job: &Job) -> anyhow::Result<(Board, Option<KnownFrom>)> {
    let points = tables::survey(path, job, || {
        format!(
            "The job's survey {} cannot be read. `skimgauge survey --job FILE --head PORT --points {}` makes one.",
            path.display(),
            typed::path(&path.display().to_string())
        )
    })?;
    let board = of_survey(&points, job).with_context(|| path.display().to_string())?;
    let (table, practised) = (tables::fingerprint(&points), tables::is_practised(path));
    Ok((board, Some(KnownFrom { table, practised })))
}

/// The job's board as these points have it.
fn of_survey(points: &[Surveyed], job: &Job) -> anyhow::Result<Board> {
    not_in_one_spot(points, job)?;
    let surface = surface(heights(points), job)?;
    without_slip(&surface)?;
    Ok(Board::surveyed(Shape::Surface(surface), 0.0))
}

/// The job's board through places `[x, y, z]`, mm, each known to [`HEIGHT_U_MM`].
///
/// # Errors
/// The places do not decide a board.
pub fn through(places: Vec<[f64; 3]>, job: &Job) -> anyhow::Result<Board> {
    Ok(Board::surveyed(Shape::Surface(surface(places, job)?), 0.0))
}

fn surface<B>(places: Vec<[f64; 3]>, job: &Job<B>) -> Result<Surface, SurveyError> {
    let size_mm = [job.image.width.0, job.image.height.0];
    Surface::new(places, HEIGHT_U_MM, size_mm, job.board.expected())
}

/// Surveyed points as `[x, y, z]`, mm.
pub fn heights(points: &[Surveyed]) -> Vec<[f64; 3]> {
    points.iter().map(|point| [point.x_mm, point.y_mm, point.z_mm]).collect()
}

/// Refuses a survey that no board has: points that all but stand in one place (metres, most often), and
/// one that stands far off what those round it say. Points that do not decide a board yet may still be
/// added to.
///
/// # Errors
/// It is such a one: with the point, and what to do.
pub fn can_be_a_board<B>(points: &[Surveyed], job: &Job<B>) -> anyhow::Result<()> {
    not_in_one_spot(points, job)?;
    surface(heights(points), job).map_or(Ok(()), |surface| without_slip(&surface))
}

fn not_in_one_spot<B>(points: &[Surveyed], job: &Job<B>) -> anyhow::Result<()> {
    const LEAST_SHARE: f64 = 0.05;
    let extent = |of: fn(&Surveyed) -> f64| {
        let low = points.iter().map(of).fold(f64::INFINITY, f64::min);
        points.iter().map(of).fold(f64::NEG_INFINITY, f64::max) - low
    };
    let (wide, high) = (extent(|point| point.x_mm), extent(|point| point.y_mm));
    let (width, height) = (job.image.width.0, job.image.height.0);
    anyhow::ensure!(
        points.len() < 3 || wide >= LEAST_SHARE * width || high >= LEAST_SHARE * height,
        "All {} points lie within {wide:.1} by {high:.1} mm. x, y and z are in mm: are these metres?",
        points.len()
    );
    Ok(())
}

fn without_slip(surface: &Surface) -> anyhow::Result<()> {
    let Some(slip) = surface.slip() else { return Ok(()) };
    let ([x_mm, y_mm, z_mm], off_mm) = (slip.place, slip.off_mm.abs());
    anyhow::bail!(
        "The point x {x_mm}, y {y_mm} has z {z_mm}, {off_mm:.1} mm off what the points round it say: no board is so. \
         Measure it again, or leave its line out. Where it is the same again, survey round it, a hand apart."
    );
}

/// Today, here.
pub fn today() -> Date {
    let now = jiff::Timestamp::now();
    let today = jiff::tz::TimeZone::system().to_datetime(now);
    Date { year: today.year().max(0) as u16, month: today.month() as u8, day: today.day() as u8 }
}
