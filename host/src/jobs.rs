//! The job file on disk, and what it points to.

use anyhow::Context;
use skimgauge_job::Job;
use skimgauge_metrology::plane::board::{Board, Unsurveyed};
use skimgauge_shared::calibration::Date;
use std::path::Path;

/// How far a board that nobody has surveyed may bow or twist, standard uncertainty, mm. Common practice, no source:
/// a porcelain-on-steel board of 2 m bows by up to about a millimetre.
const UNSURVEYED_MM: f64 = 0.4;

/// A job with what belongs to it.
pub struct Opened {
    /// The job.
    pub job: Job,
    /// Its file's text, for the record.
    pub text: String,
    /// The board as far as it is known.
    pub board: Board,
}

/// Reads a job file.
///
/// # Errors
/// It cannot be read, or says something that cannot be: with line and what is expected.
pub fn open(path: &Path) -> anyhow::Result<Opened> {
    let bytes = std::fs::read(path).with_context(|| {
        format!("The job file {} cannot be read. `skimgauge jobs new {}` writes one.", path.display(), path.display())
    })?;
    let job = Job::parse_bytes(&path.display().to_string(), &bytes)?;
    let board = unsurveyed(&job);
    Ok(Opened { text: String::from_utf8_lossy(&bytes).into_owned(), board, job })
}

/// The job's board before anyone has surveyed it.
pub fn unsurveyed(job: &Job) -> Board {
    Board::unsurveyed(Unsurveyed {
        width_mm: job.image.width_mm,
        height_mm: job.image.height_mm,
        bow_across_mm: UNSURVEYED_MM,
        bow_down_mm: UNSURVEYED_MM,
        twist_mm: UNSURVEYED_MM,
    })
}

/// Today, here.
pub fn today() -> Date {
    let now = jiff::Timestamp::now();
    let today = jiff::tz::TimeZone::system().to_datetime(now);
    Date { year: today.year().max(0) as u16, month: today.month() as u8, day: today.day() as u8 }
}
