//! A simulated board surveyed by a simulated head through a real port, against the board that the
//! simulation made.

use skimgauge::head::link::Link;
use skimgauge::jobs;
use skimgauge::practice::Person;
use skimgauge::practice::planned;
use skimgauge::practice::stage::Stage;
use skimgauge::shell::{Mode, Shell, Source};
use skimgauge::survey::Survey;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head::{Attitude, Place};
use skimgauge_jobfile::Job;
use skimgauge_metrology::flatness::zone;
use skimgauge_procedure::takes::{Begin, unsurveyed};
use skimgauge_procedure::{Stop, View, Word, survey};
use skimgauge_quantity::Style;
use skimgauge_site::survey::{HEIGHT_U_MM, first_points};
use std::time::Duration;

/// In the hand for so long.
const IN_HAND: Duration = Duration::from_millis(500);
/// Nobody speaks twice within so long.
const BETWEEN_WORDS: Duration = Duration::from_secs(1);

/// Someone who stands the head where the view wants it, turns its eye to the emitter and takes.
struct Surveyor {
    bench: Bench,
    at: Option<Stop>,
    lifted: Option<Duration>,
    spoke: Duration,
}

impl Person for Surveyor {
    fn sees(&mut self, now: Duration, view: &View) -> anyhow::Result<Vec<Word>> {
        anyhow::ensure!(now < Duration::from_secs(240), "the survey does not get on");
        let place = view.place.as_ref().unwrap();
        if self.at != Some(place.stop) {
            let lifted = *self.lifted.get_or_insert(now);
            self.bench.scene(|scene| scene.put(Place::Hand, Attitude::Upright));
            if now.saturating_sub(lifted) >= IN_HAND {
                (self.at, self.lifted) = (Some(place.stop), None);
                let point = place.place.point().unwrap();
                self.bench.scene(|scene| scene.clip(point.x.0, point.y.0));
            }
            return Ok(Vec::new());
        }
        self.bench.scene(|scene| scene.turn_eye_to_emitter(0.0));
        let ready = view.live.can_take
            && view.saving.is_none()
            && now.saturating_sub(self.spoke) >= BETWEEN_WORDS;
        if ready {
            self.spoke = now;
        }
        Ok(Vec::from_iter(ready.then_some(Word::Take)))
    }
}

#[test]
fn the_boards_shape_comes_out_as_the_simulation_made_it() {
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let today = jobs::today();
    let stage = Stage::new(planned::bench(&job, None, 11), today).unwrap();
    let bench = stage.bench().clone();
    let source = Source::Live(Link::open(stage.port(), None, None).unwrap());
    let at = first_points(job.image, 40.0).unwrap();
    let mut surveyor =
        Surveyor { bench: bench.clone(), at: None, lifted: None, spoke: Duration::ZERO };
    let begin = Begin::new(job.clone(), unsurveyed(&job), today, stage.port());
    let shell = Shell {
        source,
        store: None,
        mode: Mode::Plain,
        style: Style::default(),
        person: Some(&mut surveyor),
        pages: None,
        plain_every: Duration::from_secs(1),
    };
    let points = shell.run(survey::Survey::new(begin, &at)).unwrap().procedure.heights();
    assert_eq!(points.len(), 9);
    let survey = Survey::of((&points, false), &job, HEIGHT_U_MM, 40.0, 4).unwrap();
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
