//! Readings that are not of where they should be, or are missing, and what may be said then.

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

/// Clipped on to watch a turn, the head reads a millimetre other than the takes have it, and once more
/// when it is looked at: something was moved. That is told for the record, so that no later run goes
/// on with these takes, and another round begins.
#[test]
fn a_light_that_is_twice_elsewhere_is_told_and_begins_another_round() {
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let mut guide = Guide::new(&job, &unsurveyed(&job), Some(job.board.expected())).unwrap();
    let gaps = job.stations.iter().map(|station| GapObservation::at(station, 3.4, 0.055));
    let observations = Observations { gaps: gaps.collect(), lean: None, shared: Vec::new() };
    let taken = vec![true; job.stations.len()];
    guide.takes(Taken { observations, taken, looks: 1, ..Taken::default() });
    let mut now = Duration::from_secs(1);
    guide.begin(now);
    for looked in 0..2 {
        assert!(matches!(guide.advice(), Advice::Clip { .. }), "{looked}: {:?}", guide.advice());
        assert!(!guide.drain().contains(&Told::ReadsOtherwise), "{looked}");
        guide.press(now);
        for _ in 0..40 {
            now += Duration::from_millis(100);
            guide.live(now, Some(4.4), false);
        }
    }
    assert!(guide.drain().contains(&Told::ReadsOtherwise));
    assert_eq!((guide.round(), guide.can_take_back()), (2, None));
}
