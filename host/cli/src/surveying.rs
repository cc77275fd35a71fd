//! A survey with the head: the touch plane is the straightedge, and the board's height is what the
//! gap lacks.

use crate::jobs;
use crate::watch::Watch;
use crate::watching::{Hands, Mode, Source, Watching};
use skimgauge_jobfile::Job;
use skimgauge_model::{Point, Station};
use skimgauge_shared::calibration::Date;
use skimgauge_site::survey::{Proposed, Surveyed};
use std::time::Duration;

/// Takes the gap at each of these points, in turn; those left out when the user quits are left out
/// of the answer.
///
/// A height is the gap with its sign turned: the touch plane is flat, and its own height and tilt
/// go out with the plane that flatness takes off. Nothing here is a take of the job: nothing goes
/// to the record.
///
/// # Errors
/// What ends a watch: the port is gone, the terminal does not answer.
pub fn heights(
    source: Source,
    job: &Job,
    at: &[Proposed],
    today: Date,
    mode: Mode,
    hands: Option<&mut dyn Hands>,
) -> anyhow::Result<Vec<Surveyed>> {
    let mut job = job.clone();
    job.bands.level = None;
    job.bands.lean = None;
    job.stations = at
        .iter()
        .map(|point| Station {
            name: format!("{} at {:.0}, {:.0}", point.order, point.x_mm, point.y_mm),
            at: Point::mm(point.x_mm, point.y_mm),
        })
        .collect();
    let board = jobs::unsurveyed(&job);
    let watch = Watch::new(job, board, today, "head");
    let watching = Watching {
        source,
        watch,
        store: None,
        mode,
        hands,
        plain_every: Duration::from_secs(1),
        until_taken: true,
    };
    let watch = watching.run()?;
    let taken = watch.stations.rows().filter_map(|(station, kept)| {
        kept.map(|kept| Surveyed {
            x_mm: station.at.x.0,
            y_mm: station.at.y.0,
            z_mm: -kept.take.gap_mm,
        })
    });
    Ok(taken.collect())
}
