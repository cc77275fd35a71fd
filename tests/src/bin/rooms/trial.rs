//! One guided trim in one room.

use crate::tally::Tally;
use skimgauge_bench::noise::Noise;
use skimgauge_bench::room::Room;
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::{MEASURABLE, Question, assess};
use skimgauge_metrology::coverage::{LEVEL, t_factor};
use skimgauge_metrology::plane::board::{Board, ControlPoint, Grid, Shape};
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::report::Feasibility;
use skimgauge_metrology::trim::guide::{Aim, Plan};
use skimgauge_metrology::trim::influence::{GeometryUncertainty, Influence};
use skimgauge_metrology::trim::learn::{Hand, Tracker};
use skimgauge_metrology::trim::solve::{Setting, Spot, solve, travel};
use skimgauge_metrology::verdict::JudgedAt;
use skimgauge_model::{Adjuster, Point, Sense, Station, Verdict};
use skimgauge_quantity::{Band, Mm, Turns};

/// Low end of every band, mm.
const LOW_MM: f64 = 2.0;
/// A height of a survey, standard deviation, mm.
const SURVEY_U_MM: f64 = 0.03;
/// What a hand stops a screw within while it watches the gap, turns.
const STOP_TURNS: f64 = 1.0 / 360.0;
/// The gap is dialled to within this share of what a turn does, and within these, mm.
const DIAL: (f64, f64, f64) = (0.0055, 0.03, 0.08);
/// Two seats that differ by more than so many standard uncertainties did not come back the same.
const RARE: f64 = 2.58;
const SEAT_U_MM: f64 = 0.05;
const LIVE_U_MM: f64 = 0.02;
const MOST_ROUNDS: usize = 3;
const MOST_TURNS: usize = 60;

/// What is known of the board's own shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// Takes at the eight stations on the edge, no more.
    Edge,
    /// One more take in the middle of the board.
    Middle,
    /// A survey at the nine control points.
    Survey,
}

impl Known {
    /// For the table.
    pub fn words(self) -> &'static str {
        match self {
            Self::Edge => "edge stations",
            Self::Middle => "and the middle",
            Self::Survey => "board surveyed",
        }
    }
}

/// The room of a seed.
pub fn room(seed: u64) -> Room {
    Room::new(seed)
}

/// A band of this width.
pub fn band(width_mm: f64) -> Band<Mm> {
    Band { low: Mm(LOW_MM), high: Mm(LOW_MM + width_mm) }
}

/// The true gaps at the control points.
pub fn spots(room: &Room) -> Vec<Spot> {
    room.control_points()
        .into_iter()
        .map(|(x_mm, y_mm)| Spot { x_mm, y_mm, gap_mm: room.gap_mm(x_mm, y_mm) })
        .collect()
}

/// What each screw truly does.
pub fn true_influence(room: &Room) -> Option<Influence> {
    let true_screws = [0, 1, 2].map(|k| {
        let a = &room.emitter.adjusters[k];
        screw(a.nominal.name, a.x_mm, a.y_mm, a.pitch_mm, a.clockwise_out, a.nominal.travel_turns)
    });
    Influence::of(&true_screws).ok()
}

/// The best setting there is, by what is true.
pub fn best(room: &Room, band: Band<Mm>) -> Option<Setting> {
    solve(&spots(room), &true_influence(room)?, &travel(&nominal(room)), band, None).ok()
}

fn screw(
    name: &str,
    x_mm: f64,
    y_mm: f64,
    pitch_mm: f64,
    clockwise_out: bool,
    travel_turns: f64,
) -> Adjuster {
    Adjuster {
        name: name.to_owned(),
        at: Point::mm(x_mm, y_mm),
        pitch: Mm(pitch_mm),
        clockwise: if clockwise_out { Sense::Out } else { Sense::In },
        travel_clockwise: Turns(travel_turns),
        travel_anticlockwise: Turns(travel_turns),
    }
}

/// The screws as in the papers.
fn nominal(room: &Room) -> [Adjuster; 3] {
    [0, 1, 2].map(|k| {
        let n = room.emitter.adjusters[k].nominal;
        screw(n.name, n.x_mm, n.y_mm, n.pitch_mm, n.clockwise_out, n.travel_turns)
    })
}

/// The board as the job knows it.
fn board(room: &Room, known: Known, noise: &mut Noise) -> Option<Board> {
    let (width_mm, height_mm) = (room.board.width_mm, room.board.height_mm);
    if known == Known::Survey {
        let x = [-0.5, 0.0, 0.5].map(|a| a * width_mm).to_vec();
        let y = [-1.0, -0.5, 0.0].map(|d| d * height_mm).to_vec();
        let places = y.iter().flat_map(|&y| x.iter().map(move |&x| (x, y)));
        let heights =
            places.map(|(x, y)| room.observe_shape_mm(x, y, SURVEY_U_MM, noise)).collect();
        return Some(Board::surveyed(Shape::Grid(Grid::new(x, y, heights).ok()?), SURVEY_U_MM));
    }
    // As the command takes a board that nobody has surveyed; the practice job has the image of
    // these rooms.
    let job = Job::parse("practice", skimgauge_jobfile::demo_job()).ok()?;
    Some(skimgauge::jobs::unsurveyed(&job))
}

/// One room, from the takes as found to the last verdict.
pub fn run(seed: u64, width_mm: f64, known: Known) -> Tally {
    let mut tally = Tally::default();
    if trim(seed, width_mm, known, &mut tally).is_none() {
        tally.failed = 1;
    }
    tally
}

fn trim(seed: u64, width_mm: f64, known: Known, tally: &mut Tally) -> Option<()> {
    let (mut room, band) = (room(seed), band(width_mm));
    let mut noise = Noise::new(seed, 77);
    let possible = best(&room, band)?.is_feasible();
    tally.feasible = usize::from(possible);
    let screws = nominal(&room);
    let board = board(&room, known, &mut noise)?;
    let points: Vec<ControlPoint> =
        room.control_points().into_iter().map(|(x, y)| board.point(x, y)).collect();
    let edge: Vec<Station> = room
        .stations()
        .iter()
        .map(|s| Station { name: s.name.to_owned(), at: Point::mm(s.x_mm, s.y_mm) })
        .collect();
    let mut stations = edge.clone();
    if known == Known::Middle {
        stations.push(Station {
            name: "middle".to_owned(),
            at: Point::mm(0.0, -room.board.height_mm / 2.0),
        });
    }
    let aim = Aim {
        adjusters: &screws,
        points: &points,
        band,
        live: &edge,
        guard_mm: 0.3,
        measurable: MEASURABLE,
        worth_mm: 0.02,
    };
    let mut tracker: Option<Tracker> = None;
    let mut made = [0.0; 3];
    let mut turns = 0;
    let mut done = room.is_within(band.low.0, band.high.0).then_some((0, 0));
    for round in 1..=MOST_ROUNDS + 1 {
        let u_mm = room.errors.seating_mm.hypot(room.errors.reading_mm);
        let mut gaps: Vec<GapObservation> = stations
            .iter()
            .map(|s| GapObservation::at(s, room.observe_gap(s.at.x.0, s.at.y.0, &mut noise), u_mm))
            .collect();
        let mut came_back: Vec<String> = Vec::new();
        let (answer, observations) = loop {
            let observations = Observations { gaps: gaps.clone(), lean: None, shared: Vec::new() };
            let answer = assess(&Question {
                observations: &observations,
                board: &board,
                adjusters: &screws,
                band,
                points: &points,
                live: &edge,
                guard_mm: aim.guard_mm,
                measurable: aim.measurable,
                smallest_turn: None,
                came_back: &came_back,
            })
            .ok()?;
            let odd = answer.fit.contradiction().and_then(|odd| odd.to_read_again().next());
            let Some(at) = odd.and_then(|odd| stations.iter().position(|s| s.name == odd.name))
            else {
                break (answer, observations);
            };
            // Read again from a new seat, as the guide asks for.
            let again_mm = room.observe_gap(stations[at].at.x.0, stations[at].at.y.0, &mut noise);
            if (again_mm - gaps[at].gap_mm).abs() < RARE * 2f64.sqrt() * u_mm {
                came_back.push(stations[at].name.clone());
            }
            gaps[at].gap_mm = again_mm;
        };
        if answer.contradicts() {
            // A survey is asked for, and no screw is turned on these readings.
            tally.surveys += usize::from(possible);
            done = None;
            break;
        }
        if round == 1 {
            let called = match answer.feasibility() {
                Feasibility::Yes => 0,
                Feasibility::Unsure => 1,
                Feasibility::No => 2,
            };
            if possible {
                tally.can[called] += 1;
            } else {
                tally.cannot[called] += 1;
            }
            let k = t_factor(LEVEL, f64::INFINITY)?;
            for judged in &answer.verdict.points {
                let off_mm = judged.gap.gap_mm - room.gap_mm(judged.point.x_mm, judged.point.y_mm);
                tally.intervals.0 += 1;
                tally.intervals.1 +=
                    usize::from(off_mm.abs() <= judged.expanded_mm.max(k * judged.gap.u_mm));
            }
        }
        if answer.verdict.verdict == Verdict::Within {
            tally.within += 1;
            let inside = |x_mm: f64, y_mm: f64| band.contains(Mm(room.gap_mm(x_mm, y_mm)));
            let claimed = match &answer.verdict.judged_at {
                JudgedAt::Places(_) => stations.iter().all(|s| inside(s.at.x.0, s.at.y.0)),
                JudgedAt::Board(_) => room.is_within(band.low.0, band.high.0),
            };
            tally.false_within += usize::from(!claimed);
            tally.false_between += usize::from(!grid(&room).all(|(x_mm, y_mm)| inside(x_mm, y_mm)));
            break;
        }
        if round > MOST_ROUNDS || !possible {
            break;
        }
        let tracker = match &mut tracker {
            None => tracker.insert(Tracker::new(
                &answer.fit,
                &board,
                &answer.influence,
                &screws,
                GeometryUncertainty::default(),
                Hand::default(),
            )),
            Some(tracker) => {
                observations.gaps.iter().for_each(|take| {
                    tracker.take(take);
                });
                tracker
            }
        };
        let mut plan = Plan::new(&aim, tracker, &made).ok()?;
        let mut seat: Option<(usize, f64)> = None;
        for _ in 0..MOST_TURNS {
            let Some(at) = plan.station(&aim, tracker, &made, seat.map(|(at, _)| at)).ok()? else {
                break;
            };
            let station = &edge[at];
            let seat_mm = match seat {
                Some((last, seat_mm)) if last == at => seat_mm,
                _ => {
                    let seat_mm = noise.normal(room.errors.seating_mm);
                    tracker.seat(SEAT_U_MM);
                    let gap_mm = room.live_gap(station.at.x.0, station.at.y.0, seat_mm, &mut noise);
                    tracker.read(station.at.x.0, station.at.y.0, gap_mm, LIVE_U_MM);
                    seat_mm
                }
            };
            seat = Some((at, seat_mm));
            let next = plan.instruction(&aim, tracker, &made, station).ok()??;
            let before_mm = room.live_gap(station.at.x.0, station.at.y.0, seat_mm, &mut noise);
            let effect_mm =
                tracker.influence().effect(station.at.x.0, station.at.y.0)[next.adjuster];
            let to_mm = before_mm + next.turns * effect_mm;
            let after_mm =
                dial(&mut room, next.adjuster, station, seat_mm, to_mm, effect_mm, &mut noise);
            // Nobody counts: how far it went is what the gap says.
            let turned = (after_mm - before_mm) / effect_mm;
            tracker.turn(next.adjuster, turned);
            tracker.read(station.at.x.0, station.at.y.0, after_mm, LIVE_U_MM);
            made[next.adjuster] += turned;
            if next.whole {
                plan.done();
            } else {
                plan = Plan::new(&aim, tracker, &made).ok()?;
            }
            turns += 1;
            tally.all_turns += 1;
            tally.touched += usize::from(room.gap_range_mm().0 <= 0.0);
            if done.is_none() && plan.left() > 0 && room.is_within(band.low.0, band.high.0) {
                done = Some((round, turns));
            }
        }
        let inside = room.is_within(band.low.0, band.high.0);
        done = match done {
            // In passing only: the round's end counts.
            Some((at, _)) if at == round && !inside => None,
            None if inside => Some((round, turns)),
            done => done,
        };
    }
    if let (true, Some((round, turns))) = (possible, done) {
        tally.in_rounds[round.min(MOST_ROUNDS)] += 1;
        tally.turns.push(turns);
    }
    Some(())
}

/// A fine grid over the board: what is between the places.
fn grid(room: &Room) -> impl Iterator<Item = (f64, f64)> {
    let (width_mm, height_mm) = (room.board.width_mm, room.board.height_mm);
    let at = move |column: u32, row: u32| {
        ((f64::from(column) / 32.0 - 0.5) * width_mm, -f64::from(row) / 20.0 * height_mm)
    };
    (0..33).flat_map(move |column| (0..21).map(move |row| at(column, row)))
}

/// Turns until the live gap is where it should be; the first turn as a hand that counts makes it,
/// the rest by looking.
fn dial(
    room: &mut Room,
    adjuster: usize,
    station: &Station,
    seat_mm: f64,
    to_mm: f64,
    effect_mm: f64,
    noise: &mut Noise,
) -> f64 {
    let within_mm = (DIAL.0 * effect_mm.abs()).clamp(DIAL.1, DIAL.2);
    let mut live_mm = room.live_gap(station.at.x.0, station.at.y.0, seat_mm, noise);
    for step in 0..30 {
        let turn = (to_mm - live_mm) / effect_mm;
        if (to_mm - live_mm).abs() <= within_mm {
            break;
        }
        if step == 0 && turn.abs() > 0.1 {
            room.turn_by_hand(adjuster, turn, noise);
        } else {
            room.turn(adjuster, turn + noise.uniform(-STOP_TURNS, STOP_TURNS));
        }
        live_mm = room.live_gap(station.at.x.0, station.at.y.0, seat_mm, noise);
    }
    live_mm
}
