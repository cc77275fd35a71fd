//! An installer that does the job by itself: takes every station, turns what it is told to turn, takes every station
//! again.

use crate::keeping::Keeping;
use crate::watch::stations::Place;
use crate::watch::{Link, Said, Watch};
use crate::watching::Hands;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head;
use skimgauge_metrology::assess::{Assessment, Dial, Question, assess};
use skimgauge_metrology::band::Band;
use skimgauge_metrology::measure::Shown;
use skimgauge_metrology::plane::Plane;
use skimgauge_metrology::station::Station;
use skimgauge_record::event::{Phase, TurnAdvised, TurnObserved};
use std::collections::VecDeque;
use std::time::Duration;

/// After this long at a place without a take something is wrong, and it is said.
const PATIENCE: Duration = Duration::from_secs(25);
/// The slide is rolled so far at once, mm.
const ROLL_MM: f64 = 0.4;
/// The screw is turned so far at once.
const TWIST_TURNS: f64 = 0.1;
/// The live gap is dialled to within this, mm.
const DIALLED_MM: f64 = 0.03;
/// The touch plane stays this far off the board on the way, mm.
const GUARD_MM: f64 = 0.3;
const NOT_MOVED: Plane = Plane { c_mm: 0.0, p_mm_per_m: 0.0, q_mm_per_m: 0.0 };
/// Gaps that the head can measure, mm.
const MEASURABLE_MM: (f64, f64) = (0.4, 10.5);
/// Between a twist and the look at what it did.
const LOOK: Duration = Duration::from_millis(400);
const MOST_ROUNDS: u32 = 3;

enum Doing {
    /// At a place, rolling the slide and waiting for it to settle.
    Taking { at: Option<Place>, since: Duration },
    /// Turning an adjuster while the live gap is watched.
    Turning { clipped: bool, before_mm: Option<f64>, look_at: Duration, twists: u32, turned: f64 },
    /// Done.
    Over { until: Duration },
}

/// One adjuster to be turned.
#[derive(Debug, Clone)]
struct ToTurn {
    adjuster: usize,
    turns: f64,
    station: usize,
    dial_to_mm: f64,
    advice: Option<u32>,
}

/// The installer.
pub struct Installer {
    bench: Bench,
    doing: Doing,
    queue: VecDeque<ToTurn>,
    rounds: u32,
    says: String,
    /// What was said, for plain output.
    pub told: Vec<String>,
    lines: bool,
}

impl Installer {
    /// Begins in this room. `lines`: print what it says.
    pub fn new(bench: Bench, lines: bool) -> Self {
        Self {
            bench,
            doing: Doing::Taking { at: None, since: Duration::ZERO },
            queue: VecDeque::new(),
            rounds: 1,
            says: "the installer clips the head to the first station".to_owned(),
            told: Vec::new(),
            lines,
        }
    }

    fn say(&mut self, what: String) {
        if self.lines {
            println!("  * {what}");
        }
        self.says = format!("installer: {what}");
        self.told.push(what);
    }

    fn take(&mut self, now: Duration, watch: &Watch, at: Option<Place>, since: Duration) -> anyhow::Result<Vec<Said>> {
        let place = watch.stations.place();
        if at != Some(place) {
            match place {
                Place::Station(_) => {
                    if let Some(station) = watch.stations.station() {
                        let (x_mm, y_mm) = (station.x_mm, station.y_mm);
                        self.bench.scene(|scene| scene.clip(x_mm, y_mm));
                        self.say(format!("clips the head at {}", station.name));
                    }
                }
                Place::Emitter => {
                    self.bench.scene(|scene| scene.put(head::Place::Emitter, head::Attitude::Upright));
                    self.say("holds the head on the emitter, for its level".to_owned());
                }
            }
            self.doing = Doing::Taking { at: Some(place), since: now };
            return Ok(Vec::new());
        }
        anyhow::ensure!(now.saturating_sub(since) < PATIENCE, "The demonstration does not settle at {place:?}: {:?}", watch.live(now));
        let live = watch.live(now);
        if place == Place::Emitter {
            let rested = now.saturating_sub(since) > Duration::from_millis(1_500);
            return Ok(if rested && live.level_deg.good().is_some() { vec![Said::Take] } else { Vec::new() });
        }
        if roll(&self.bench) {
            return Ok(Vec::new());
        }
        Ok(if live.can_take.is_ok() { vec![Said::Take] } else { Vec::new() })
    }

    fn plan(&mut self, watch: &Watch, keeping: &mut Option<&mut Keeping>) -> anyhow::Result<bool> {
        let assessment = assessment(watch)?;
        if self.rounds > 1 && assessment.verdict.verdict == skimgauge_metrology::verdict::Verdict::Within {
            return Ok(false);
        }
        if self.rounds >= MOST_ROUNDS {
            return Ok(false);
        }
        let names: Vec<&str> = watch.job.adjusters.iter().map(|adjuster| adjuster.name.as_str()).collect();
        let mut made = [0.0; 3];
        for turn in &assessment.order.turns {
            let before = made;
            made[turn.adjuster] += turn.turns;
            let Some((station, dial)) = dial(watch, &assessment, turn.adjuster, before, made) else { continue };
            let advice = match keeping {
                Some(keeping) => Some(keeping.append(TurnAdvised {
                    adjuster: names[turn.adjuster].to_owned(),
                    turns: turn.turns,
                    station: dial.station.name.clone(),
                    target_gap_mm: dial.gap_mm,
                    round: self.rounds,
                })?),
                None => None,
            };
            self.queue.push_back(ToTurn {
                adjuster: turn.adjuster,
                turns: turn.turns,
                station,
                dial_to_mm: dial.gap_mm,
                advice,
            });
        }
        Ok(!self.queue.is_empty())
    }

    /// Turns the first of the queue a little further toward its dial-to gap. `true`: it is there.
    fn turn(&mut self, now: Duration, watch: &mut Watch, keeping: &mut Option<&mut Keeping>) -> anyhow::Result<bool> {
        let Some(todo) = self.queue.front().cloned() else { return Ok(true) };
        let Doing::Turning { clipped, before_mm, look_at, twists, turned } = &mut self.doing else { return Ok(true) };
        if !*clipped {
            *clipped = true;
            *look_at = now + LOOK * 3;
            watch.stations.go(todo.station);
            let name = watch.stations.station().map(|station| station.name.clone()).unwrap_or_default();
            if let Some(station) = watch.stations.station() {
                let (x_mm, y_mm) = (station.x_mm, station.y_mm);
                self.bench.scene(|scene| scene.clip(x_mm, y_mm));
            }
            let adjuster = &watch.job.adjusters[todo.adjuster].name;
            let way = if todo.turns > 0.0 { "clockwise" } else { "anticlockwise" };
            let text = format!("turns {adjuster} {way}, about {:.2} turns, until {name} reads {:.2} mm", todo.turns.abs(), todo.dial_to_mm);
            self.say(text);
            return Ok(false);
        }
        if roll(&self.bench) || now < *look_at {
            return Ok(false);
        }
        let Shown::Good { value: gap_mm, .. } = watch.live(now).gap_mm else { return Ok(false) };
        let before = *before_mm.get_or_insert(gap_mm);
        let to_go_mm = todo.dial_to_mm - gap_mm;
        let per_turn = (todo.dial_to_mm - before) / todo.turns;
        if to_go_mm.abs() <= DIALLED_MM || *twists > 200 || per_turn.abs() < 1e-6 {
            let turned = *turned;
            if let Some(keeping) = keeping {
                keeping.append(TurnObserved {
                    adjuster: watch.job.adjusters[todo.adjuster].name.clone(),
                    advice: todo.advice,
                    turns: Some(turned),
                    station: watch.stations.station().map(|station| station.name.clone()).unwrap_or_default(),
                    gap_before_mm: before,
                    gap_after_mm: gap_mm,
                    gap_predicted_mm: Some(todo.dial_to_mm),
                    flags: Vec::new(),
                })?;
            }
            self.queue.pop_front();
            return Ok(true);
        }
        let twist = (to_go_mm / per_turn * 0.8).clamp(-TWIST_TURNS, TWIST_TURNS);
        // A large way to go is turned without looking after every twist.
        let bold = (to_go_mm / per_turn).abs() > 4.0 * TWIST_TURNS;
        *look_at = if bold { now + LOOK / 5 } else { now + LOOK };
        *twists += 1;
        *turned += twist;
        self.bench.scene(|scene| scene.room.turn(todo.adjuster, twist));
        Ok(false)
    }
}

impl Hands for Installer {
    fn act(&mut self, now: Duration, watch: &mut Watch, mut keeping: Option<&mut Keeping>) -> anyhow::Result<Vec<Said>> {
        if !matches!(watch.link, Link::Up(_)) {
            return Ok(Vec::new());
        }
        match &self.doing {
            Doing::Over { until } => Ok(if now > *until { vec![Said::Quit] } else { Vec::new() }),
            Doing::Taking { at, since } => {
                if !watch.stations.all_taken() {
                    let (at, since) = (*at, *since);
                    return self.take(now, watch, at, since);
                }
                if let Some(keeping) = &mut keeping {
                    keeping.judged(watch.whole())?;
                }
                let board = watch.whole();
                let because = board.because(watch.job.bands.gap_mm);
                let word = crate::screen::words::verdict(board.verdict);
                self.say(format!("round {}: {word} {because}", self.rounds).trim_end().to_owned());
                if self.plan(watch, &mut keeping)? {
                    self.doing = turning();
                } else {
                    self.doing = Doing::Over { until: now + Duration::from_secs(3) };
                }
                Ok(Vec::new())
            }
            Doing::Turning { .. } => {
                if !self.turn(now, watch, &mut keeping)? {
                    return Ok(Vec::new());
                }
                if self.queue.is_empty() {
                    self.rounds += 1;
                    watch.start_round();
                    if let Some(keeping) = keeping {
                        keeping.start_round(Phase::AsLeft);
                    }
                    self.doing = Doing::Taking { at: None, since: now };
                } else {
                    self.doing = turning();
                }
                Ok(Vec::new())
            }
        }
    }

    fn says(&self) -> Option<String> {
        Some(self.says.clone())
    }
}

/// Where to watch a turn of this adjuster: of the stations at which the head can measure before and after it, the one
/// where it shows most.
fn dial(
    watch: &Watch,
    assessment: &Assessment,
    adjuster: usize,
    before: [f64; 3],
    after: [f64; 3],
) -> Option<(usize, Dial)> {
    let gap_mm = |station: &Station, turns: &[f64; 3]| {
        let here = assessment.fit.gap_at(&watch.board.point(station.x_mm, station.y_mm)).gap_mm;
        here + assessment.influence.turned(NOT_MOVED, turns).height_mm(station.x_mm, station.y_mm)
    };
    let shows = |station: &Station| assessment.influence.effect(station.x_mm, station.y_mm)[adjuster].abs();
    let seen = |station: &Station| {
        [before, after].iter().all(|turns| (MEASURABLE_MM.0..=MEASURABLE_MM.1).contains(&gap_mm(station, turns)))
    };
    let (at, station) = watch
        .stations
        .rows()
        .map(|(station, _)| station)
        .enumerate()
        .filter(|(_, station)| seen(station))
        .max_by(|(_, a), (_, b)| shows(a).total_cmp(&shows(b)))?;
    Some((at, Dial { station: station.clone(), gap_mm: gap_mm(station, &after) }))
}

fn turning() -> Doing {
    Doing::Turning { clipped: false, before_mm: None, look_at: Duration::ZERO, twists: 0, turned: 0.0 }
}

/// The slide a little further toward the light, as a thumb would; `false` when the light is in the middle.
fn roll(bench: &Bench) -> bool {
    let Some(off_mm) = bench.truth().offset_mm else { return false };
    if off_mm.abs() < 0.08 {
        return false;
    }
    bench.scene(|scene| scene.set_slide_mm(scene.slide_mm() + off_mm.clamp(-ROLL_MM, ROLL_MM)));
    true
}

/// Plane, verdict and turns from the takes that stand.
///
/// # Errors
/// They do not decide a plane.
pub fn assessment(watch: &Watch) -> anyhow::Result<Assessment> {
    let observations = watch.stations.observations();
    let points = watch.board.control_points(watch.job.image.width_mm, watch.job.image.height_mm);
    let live: Vec<_> = watch.stations.rows().map(|(station, _)| station.clone()).collect();
    let band: Band = watch.job.bands.gap_mm;
    Ok(assess(&Question {
        observations: &observations,
        board: &watch.board,
        adjusters: &watch.job.adjusters,
        band,
        points: &points,
        live: &live,
        guard_mm: GUARD_MM,
        measurable: Band { low: MEASURABLE_MM.0, high: MEASURABLE_MM.1 },
        smallest_turn: None,
    })?)
}
