//! The guided trim in simulated rooms, and each of the things that go wrong at a screw.

use super::guide::{Advice, Guide, Stage, Told};
use crate::takes::unsurveyed;
use skimgauge_bench::noise::Noise;
use skimgauge_bench::room::Room;
use skimgauge_jobfile::Job;
use skimgauge_metrology::plane::board::{Board, Shape};
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::plane::prior::BoardPrior;
use skimgauge_metrology::plane::surface::Surface;
use skimgauge_model::TurnNoticed;
use skimgauge_quantity::{Sentence, Style};
use std::time::Duration;

fn text(says: &Sentence) -> String {
    says.text(Style::default())
}

const TICK: Duration = Duration::from_millis(100);

/// A room, its guide, and a person who does what the guide says.
struct Trial {
    room: Room,
    noise: Noise,
    guide: Guide,
    job: Job,
    now: Duration,
    taken: Vec<Option<f64>>,
    came_back: Vec<String>,
    /// What a person reads too much at a station, mm, and how often.
    misread: Option<(usize, f64, u32)>,
    at: Option<usize>,
    seat_mm: f64,
    turned: f64,
    /// Turns a screw on purpose otherwise: what is done of each twist.
    told: Vec<Told>,
    turns: usize,
    /// Ticks without getting anywhere.
    stuck: u32,
}

impl Trial {
    fn new(seed: u64, change: impl FnOnce(&mut Room)) -> Self {
        let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
        let mut room = super::walked::room(&job, seed);
        change(&mut room);
        let guide = Guide::new(&job, &unsurveyed(&job)).unwrap();
        let taken = vec![None; job.stations.len()];
        Self {
            room,
            noise: Noise::new(seed, 7),
            guide,
            job,
            now: Duration::ZERO,
            taken,
            came_back: Vec::new(),
            misread: None,
            at: None,
            seat_mm: 0.0,
            turned: 0.0,
            told: Vec::new(),
            turns: 0,
            stuck: 0,
        }
    }

    fn live_mm(&mut self) -> Option<f64> {
        let station = &self.job.stations[self.at?];
        Some(self.room.live_gap(station.at.x.0, station.at.y.0, self.seat_mm, &mut self.noise))
    }

    fn clip(&mut self, station: usize) {
        self.at = Some(station);
        self.seat_mm = self.noise.normal(0.05);
    }

    fn hand_in(&mut self) {
        let stations = self.job.stations.iter().zip(&self.taken);
        let gaps =
            stations.filter_map(|(s, gap)| Some(GapObservation::at(s, (*gap)?, 0.055))).collect();
        let taken: Vec<bool> = self.taken.iter().map(Option::is_some).collect();
        let observations = Observations { gaps, lean: None, shared: Vec::new() };
        self.guide.takes(observations, &taken, self.came_back.clone(), false);
    }

    /// One tick of a person who follows advice.
    fn step(&mut self) {
        self.now += TICK;
        let live = self.live_mm();
        self.guide.live(self.now, live, false);
        self.hear();
        match self.guide.advice().clone() {
            Advice::Take { station } => {
                let at = self.job.stations[station].clone();
                let mut gap_mm = self.room.observe_gap(at.at.x.0, at.at.y.0, &mut self.noise);
                if let Some((misread, by_mm, times @ 1..)) = &mut self.misread
                    && *misread == station
                {
                    gap_mm += *by_mm;
                    *times -= 1;
                }
                if self.taken[station].is_some_and(|before| (before - gap_mm).abs() < 0.2) {
                    self.came_back.push(at.name);
                }
                self.taken[station] = Some(gap_mm);
                self.hand_in();
            }
            Advice::TakeEmitter => panic!("no tilt is asked for"),
            Advice::Begin => self.guide.begin(self.now),
            Advice::Clip { station } => {
                if let Stage::Clip { ready: false, .. } = self.guide.stage() {
                    self.clip(station);
                    self.guide.press(self.now);
                }
            }
            Advice::Turn { .. } => self.twist(live),
            Advice::Survey | Advice::Over => (),
        }
        self.hear();
    }

    fn hear(&mut self) {
        for told in self.guide.drain() {
            match &told {
                Told::NewRound => {
                    self.taken.fill(None);
                    self.came_back.clear();
                }
                Told::Advised { .. } => {
                    self.turns += 1;
                    self.turned = 0.0;
                }
                _ => (),
            }
            self.told.push(told);
        }
    }

    fn twist(&mut self, live: Option<f64>) {
        let (Stage::Turn(turning), Some(gap_mm)) = (self.guide.stage(), live) else { return };
        let per_turn_mm = turning.predicted_mm() / turning.instruction.turns;
        let left = (turning.dial_to_mm - gap_mm) / per_turn_mm;
        let (adjuster, advised) = (turning.instruction.adjuster, turning.instruction.turns);
        if turning.wrong_way || (self.turned.abs() >= advised.abs() && !turning.is_there(gap_mm)) {
            self.stuck += 1;
            if self.stuck > 5 {
                self.stuck = 0;
                let counted = self.turned;
                self.turned = 0.0;
                self.guide.turned_as_told(self.now, Some(counted));
            }
            return;
        }
        if (turning.dial_to_mm - gap_mm).abs() > 0.5 * turning.within_mm {
            let most = (advised.abs() - self.turned.abs()).max(0.02);
            let twist = (0.8 * left).clamp(-0.1, 0.1).clamp(-most, most);
            self.turned += twist;
            self.room.turn(adjuster, twist);
        }
    }

    /// To the end; whether it got there.
    fn run(&mut self) -> bool {
        for _ in 0..6_000 {
            self.step();
            if matches!(self.guide.stage(), Stage::Over) {
                return true;
            }
            if *self.guide.advice() == Advice::Survey {
                return false;
            }
        }
        false
    }

    fn said(&self, what: &str) -> bool {
        self.told
            .iter()
            .any(|told| matches!(told, Told::Say { says, .. } if text(says).contains(what)))
    }

    fn noticed(&self, what: TurnNoticed) -> bool {
        self.told
            .iter()
            .any(|told| matches!(told, Told::Observed { noticed, .. } if noticed.contains(&what)))
    }
}

#[test]
fn rooms_are_trimmed_into_their_band_in_two_rounds_of_turns() {
    let (mut all, mut within, mut turns, mut alarms, mut rounds) = (0, 0, 0, 0, [0; 6]);
    for seed in 0..40 {
        let mut trial = Trial::new(seed, |_| ());
        assert!(trial.run(), "{seed}: {:?} {:?}", trial.guide.stage(), trial.told.last());
        let band = trial.job.bands.gap;
        all += 1;
        within += usize::from(trial.room.is_within(band.low.0, band.high.0));
        turns += trial.turns;
        rounds[trial.guide.round() as usize] += 1;
        alarms += usize::from(trial.said("the emitter moved"));
    }
    assert_eq!(alarms, 0);
    assert!(rounds[1] + rounds[2] >= 38 && rounds[4] + rounds[5] == 0, "{rounds:?}");
    assert_eq!(within, all, "with {turns} turns");
}

#[test]
fn the_fewest_stations_come_first_and_then_the_one_that_helps_most() {
    let mut trial = Trial::new(3, |_| ());
    for _ in 0..3 {
        assert!(matches!(trial.guide.advice(), Advice::Take { .. }));
        assert!(trial.guide.answer().is_none());
        trial.step();
    }
    assert!(trial.guide.answer().is_some(), "three stations decide the plane");
    let (station, choice) = trial.guide.offer().unwrap();
    assert!(choice.u_after_mm < choice.u_now_mm, "{}", station.name);
    let Advice::Take { station: advised } = trial.guide.advice() else {
        panic!("{:?}", trial.guide.advice())
    };
    assert_eq!(trial.guide.station(*advised).unwrap().name, station.name);
}

#[test]
fn with_fewer_than_three_takes_it_says_what_is_missing() {
    let mut trial = Trial::new(3, |_| ());
    trial.step();
    trial.guide.begin(trial.now);
    assert!(
        matches!(&trial.guide.drain()[..], [Told::Say { says, bad: true }] if text(says).contains("three stations"))
    );
    assert!(matches!(trial.guide.stage(), Stage::Take));
}

#[test]
fn a_reversed_screw_is_found_said_and_turned_about() {
    for adjuster in 0..3 {
        let mut trial =
            Trial::new(5, |room| room.emitter.adjusters[adjuster].clockwise_out ^= true);
        assert!(trial.run(), "{:?}", trial.told.last());
        assert!(
            trial.said("goes the wrong way") && trial.said("works the other way round"),
            "{adjuster}: {:?}",
            trial.told
        );
        assert!(trial.noticed(TurnNoticed::OtherWay));
        let band = trial.job.bands.gap;
        assert!(trial.room.is_within(band.low.0, band.high.0), "{adjuster}");
    }
}

#[test]
fn a_slipping_screw_is_said_and_the_rest_planned_anew() {
    let mut trial = Trial::new(5, |room| room.emitter.adjusters[1].grip = 0.4);
    assert!(trial.run(), "{:?}", trial.told.last());
    assert!(
        trial.said("right adjuster slips") && trial.noticed(TurnNoticed::Slips),
        "{:?}",
        trial.told
    );
    let band = trial.job.bands.gap;
    assert!(trial.room.is_within(band.low.0, band.high.0));
}

#[test]
fn a_screw_at_its_end_is_said_and_not_asked_for_again() {
    // It stands much nearer to both ends than the job says.
    let mut trial = Trial::new(5, |room| room.emitter.adjusters[2].nominal.travel_turns = 0.15);
    trial.run();
    assert!(
        trial.said("upper adjuster")
            && (trial.noticed(TurnNoticed::EndOfTravel) || trial.noticed(TurnNoticed::Slips)),
        "{:?}",
        trial.told
    );
}

#[test]
fn a_moved_emitter_is_found_at_the_next_station() {
    let mut trial = Trial::new(5, |_| ());
    while !matches!(trial.guide.stage(), Stage::Clip { .. }) {
        trial.step();
    }
    trial.room.emitter.start.c_mm += 1.0;
    assert!(trial.run(), "{:?}", trial.told.last());
    assert!(trial.said("was expected") && trial.said("the emitter moved"), "{:?}", trial.told);
    let band = trial.job.bands.gap;
    assert!(trial.room.is_within(band.low.0, band.high.0));
}

#[test]
fn a_knocked_head_is_seated_again_and_the_work_goes_on() {
    let mut trial = Trial::new(5, |_| ());
    while !matches!(trial.guide.stage(), Stage::Turn(_)) {
        trial.step();
    }
    trial.step();
    let now = trial.now + TICK;
    trial.guide.live(now, None, true);
    assert!(matches!(trial.guide.stage(), Stage::Clip { ready: false, .. }));
    assert!(trial.run());
    assert!(trial.said("the head was moved"));
    let band = trial.job.bands.gap;
    assert!(trial.room.is_within(band.low.0, band.high.0));
}

fn twisted(room: &mut Room) {
    room.board.twist_mm = 4.0;
    room.board.bow_x_mm = 0.0;
}

#[test]
fn a_board_that_no_setting_can_pass_is_told_before_a_screw_is_turned() {
    let mut trial = Trial::new(5, twisted);
    // As surveyed: unsurveyed, nobody would believe it.
    let image = trial.job.image;
    let places = unsurveyed(&trial.job).control_points(image.width.0, image.height.0);
    let heights = places.iter().map(|p| {
        let height_mm = trial.room.observe_shape_mm(p.x_mm, p.y_mm, 0.03, &mut trial.noise);
        [p.x_mm, p.y_mm, height_mm]
    });
    let size_mm = [image.width.0, image.height.0];
    let surface = Surface::new(heights.collect(), 0.05, size_mm, BoardPrior::Unknown).unwrap();
    trial.guide = Guide::new(&trial.job, &Board::surveyed(Shape::Surface(surface), 0.0)).unwrap();
    while !trial.said("NO setting") {
        trial.step();
        assert!(trial.turns == 0, "turned before anything was said");
        assert!(!matches!(trial.guide.stage(), Stage::Over));
        assert_ne!(*trial.guide.advice(), Advice::Survey, "{:?}", trial.told);
    }
    assert!(trial.said("corner"), "{:?}", trial.told);
    assert!(trial.run());
    assert!(trial.turns > 0, "asked again, the best setting is offered");
}

/// The same board unsurveyed: its takes contradict one another however often they are taken, and no
/// screw is turned on them.
#[test]
fn a_board_that_is_not_what_was_assumed_asks_for_a_survey() {
    let mut trial = Trial::new(5, twisted);
    assert!(!trial.run());
    assert_eq!((trial.guide.advice(), trial.turns), (&Advice::Survey, 0));
    assert!(
        trial.said("contradict one another") && trial.said("skimgauge survey"),
        "{:?}",
        trial.told
    );
}

/// A station misread by 1.5 mm: no screw is turned, it is asked for again, and the trim goes on as
/// if nothing had been.
#[test]
fn a_misread_station_is_asked_for_again_before_a_screw_is_turned() {
    for seed in [5, 6, 8] {
        let mut trial = Trial::new(seed, |_| ());
        trial.misread = Some((0, 1.5, 1));
        while !trial.said("the takes contradict one another") {
            trial.step();
            assert_eq!(trial.turns, 0, "turned before anything was said");
        }
        trial.guide.begin(trial.now);
        let refused = trial.guide.drain();
        assert!(
            matches!(&refused[..], [Told::Say { says, bad: true }] if text(says).contains("no turns")),
            "{refused:?}"
        );
        assert!(matches!(trial.guide.stage(), Stage::Take));
        assert!(trial.said("top left"), "{:?}", trial.told);
        assert!(trial.run(), "{:?}", trial.told.last());
        let band = trial.job.bands.gap;
        assert!(trial.room.is_within(band.low.0, band.high.0), "{seed}");
    }
}

/// It comes back the same: nothing is turned, and a survey is asked for.
#[test]
fn what_comes_back_the_same_asks_for_a_survey() {
    let mut trial = Trial::new(5, |_| ());
    trial.misread = Some((0, 1.5, u32::MAX));
    assert!(!trial.run());
    assert_eq!((trial.guide.advice(), trial.turns), (&Advice::Survey, 0));
    assert!(trial.said("came back the same") && trial.said("skimgauge survey"), "{:?}", trial.told);
}
