//! A simulated board surveyed by a simulated head through a real port, against the board that the
//! simulation made.

use skimgauge::head::link::Link;
use skimgauge::jobs;
use skimgauge::practice::before::carry::Carry;
use skimgauge::practice::stage::Stage;
use skimgauge::storing::Entry;
use skimgauge::survey::Survey;
use skimgauge::surveying::heights;
use skimgauge::watch::{Said, Watch};
use skimgauge::watching::{Hands, Mode, Source};
use skimgauge_bench::bench::Bench;
use skimgauge_jobfile::Job;
use skimgauge_metrology::flatness::zone;
use skimgauge_site::survey::first_points;
use std::time::Duration;

/// Someone who stands the head where the watch wants it, rolls the slide into the light and takes.
struct Surveyor {
    bench: Bench,
    carry: Carry,
}

impl Hands for Surveyor {
    fn act(
        &mut self,
        now: Duration,
        watch: &mut Watch,
        _: &mut Vec<Entry>,
    ) -> anyhow::Result<Vec<Said>> {
        anyhow::ensure!(now < Duration::from_secs(240), "the survey does not get on");
        if self.carry.on(now, &self.bench, watch).is_none() {
            return Ok(Vec::new());
        }
        if let Some(off_mm) = self.bench.truth().offset_mm.filter(|off_mm| off_mm.abs() >= 0.08) {
            self.bench
                .scene(|scene| scene.set_slide_mm(scene.slide_mm() + off_mm.clamp(-0.4, 0.4)));
            return Ok(Vec::new());
        }
        let ready =
            watch.live(now).can_take.is_ok() && watch.busy().is_none() && self.carry.presses(now);
        Ok(ready.then_some(Said::Take).into_iter().collect())
    }
}

#[test]
fn the_boards_shape_comes_out_as_the_simulation_made_it() {
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let today = jobs::today();
    let stage = Stage::new(&job, 11, today).unwrap();
    let bench = stage.bench().clone();
    let source = Source::Live(Link::open(stage.port(), None, None).unwrap());
    let at = first_points(job.image, 40.0).unwrap();
    let mut surveyor = Surveyor { bench: bench.clone(), carry: Carry::default() };
    let points = heights(source, &job, &at, today, Mode::Plain, Some(&mut surveyor)).unwrap();
    assert_eq!(points.len(), 9);
    let survey = Survey::of(&points, &job, jobs::SURVEYED_MM, 40.0, 4).unwrap();
    let truth: Vec<[f64; 3]> = at
        .iter()
        .map(|point| {
            [
                point.x_mm,
                point.y_mm,
                bench.scene(|scene| scene.room.board.shape_mm(point.x_mm, point.y_mm)),
            ]
        })
        .collect();
    let true_mm = zone::minimum(&truth).unwrap().width;
    println!(
        "surveyed flatness {:.3} mm, true {true_mm:.3} mm at the same points",
        survey.flatness_mm
    );
    // Nine heights of about 0.06 mm each: the zone's two sides, three standard deviations.
    assert!((survey.flatness_mm - true_mm).abs() < 0.25, "{} {true_mm}", survey.flatness_mm);
}
