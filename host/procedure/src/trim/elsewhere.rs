//! A take that was read elsewhere than at its station, where there is no light to be read.

use super::guide::{Advice, Guide, Taken, Told};
use crate::takes::unsurveyed;
use skimgauge_jobfile::Job;
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::trim::blind::Missing;
use std::time::Duration;

/// The head stood at the station before when the first was taken; read again, the light leaves the
/// window there. That disproves the take: the rest is gone on with, and no survey asked for.
#[test]
fn a_take_that_its_own_station_disproves_counts_no_more() {
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let mut guide = Guide::new(&job, &unsurveyed(&job), Some(job.board.expected())).unwrap();
    let named = |name: &str| job.stations.iter().position(|one| one.name == name).unwrap();
    let (corner, top) = (named("top left"), named("top"));
    let gap_mm =
        |at: usize| 6.0 + 0.0048 * job.stations[at].at.x.0 - 0.001 * job.stations[at].at.y.0;
    let gaps = (0..job.stations.len()).map(|at| {
        let read_at = if at == corner { top } else { at };
        GapObservation::at(&job.stations[at], gap_mm(read_at), 0.055)
    });
    let observations = Observations { gaps: gaps.collect(), lean: None, shared: Vec::new() };
    let taken = vec![true; job.stations.len()];
    guide.takes(Taken { observations, taken, looks: 1, ..Taken::default() });
    assert_eq!(*guide.advice(), Advice::Take { station: corner });
    let second = Duration::from_secs(1);
    guide.looks_at(second, None, true);
    guide.looks_at(2 * second, Some(Missing::Part), false);
    guide.looks_at(12 * second, Some(Missing::Part), false);
    let told = guide.drain();
    assert!(told.contains(&Told::Disproved { station: corner }), "{told:?}");
    assert!(!guide.is_taken(corner));
    assert_eq!(*guide.advice(), Advice::Begin, "the others give a plan");
}
