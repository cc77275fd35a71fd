//! What a fleet teaches: how far each emitter model's adjusters move, how each head's zero wanders,
//! how seats scatter, how long jobs take, which faults there were.
//!
//! [`Lessons`] hears one job after the other and [`Lessons::learnt`] gives the [`Figures`]; both are
//! pure. Nothing in them is about a person; figures by crew only where they were asked for. A job
//! whose chain breaks teaches nothing, and is named.

mod figures;
mod heard;
mod page;
mod table;

pub use figures::{
    AdjusterFigures, Count, CrewFigures, EmitterFigures, Figures, HeadFigures, JobFigures, Limits,
    Scatter, Shown, Zero,
};
pub use heard::Lessons;
pub use page::page;
pub use table::{COLUMNS, csv, prior};

use std::collections::HashMap;

use skimgauge_record::carry::{self, Store};
use skimgauge_record::{JobId, RecordError};

use crate::base::{Base, job_id};

/// Hears every job that the account may read.
///
/// # Errors
/// What reading can meet.
pub fn hear_all(base: &mut Base, by_crew: bool) -> Result<Lessons, RecordError> {
    base.batch("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")?;
    let heard = hear(base, by_crew);
    let ended = base.batch("ROLLBACK");
    let heard = heard?;
    ended?;
    Ok(heard)
}

fn hear(base: &mut Base, by_crew: bool) -> Result<Lessons, RecordError> {
    let mut lessons = Lessons::default();
    let crews: HashMap<JobId, String> = if by_crew {
        let rows = base.query(
            "SELECT job, crew::text FROM skimgauge.event WHERE octet_length(parents) = 0",
            &[],
        )?;
        rows.iter()
            .map(|row| Ok((job_id(&base.place, row.get(0))?, row.get(1))))
            .collect::<Result<_, crate::FirmError>>()?
    } else {
        HashMap::new()
    };
    for job in base.ids()? {
        let rows = base.rows_of(job)?;
        // Of branches that nobody joined the one that was gone on with last: what stands in all of
        // them counts once.
        let Some(branch) = carry::branches(rows).pop() else { continue };
        match carry::history(&branch) {
            Ok(history) if history.broken.is_none() => {
                lessons.hear(&history, crews.get(&job).map(String::as_str));
            }
            Ok(history) => lessons.is_broken(&history.summary.name),
            Err(_) => lessons.is_broken(&job.short()),
        }
    }
    Ok(lessons)
}
