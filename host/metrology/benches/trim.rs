//! How long an answer takes: a round of twelve stations, the same with a survey of ten thousand
//! places, flatness.
//!
//! `cargo bench -p skimgauge-metrology --bench trim`; with `-- --json` the cases are printed for
//! `scipy_side_by_side.py`.

#[path = "../tests/common/mod.rs"]
mod common;

use common::screws;
use microlp::{ComparisonOp, OptimizationDirection, Problem, SolveOutcome, Variable};
use skimgauge_metrology::assess::{MEASURABLE, Question, assess};
use skimgauge_metrology::flatness::zone::{minimum, vertical};
use skimgauge_metrology::plane::board::{Board, Grid, Shape};
use skimgauge_metrology::plane::fit::fit;
use skimgauge_metrology::plane::ground::Ground;
use skimgauge_metrology::plane::observation::{GapObservation, Observations, SharedError};
use skimgauge_metrology::plane::prior::BoardPrior;
use skimgauge_metrology::plane::surface::Surface;
use skimgauge_metrology::trim::influence::{GeometryUncertainty, Influence};
use skimgauge_metrology::trim::learn::{Hand, Tracker};
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::trim::plan::{Plan, Task};
use skimgauge_metrology::trim::solve::{Spot, solve, travel};
use skimgauge_metrology::verdict::judge;
use skimgauge_model::{Adjuster, Point, Station};
use skimgauge_quantity::{Band, Mm};
use std::hint::black_box;
use std::time::{Duration, Instant};

const WIDTH_MM: f64 = 2025.0;
const HEIGHT_MM: f64 = 1266.0;

/// A number between minus one and one that depends on `k` alone, without pattern.
fn scatter(k: usize) -> f64 {
    let mixed = (k as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    (mixed >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

fn twelve_stations() -> Observations {
    let gaps = (0..12)
        .map(|k| {
            let x = (k % 4) as f64 / 3.0 * WIDTH_MM - WIDTH_MM / 2.0;
            let y = -((k / 4) as f64) / 2.0 * HEIGHT_MM;
            GapObservation {
                station: Some(format!("station {k}")),
                dof: 30.0,
                ..GapObservation::bare(x, y, 5.0 + 0.002 * x - 0.003 * y + 0.3 * scatter(k), 0.05)
            }
        })
        .collect();
    let shared = vec![SharedError::even("zero", 0.03, 9.0)];
    Observations { gaps, lean: None, shared }
}

/// A bowed, twisted and rough board on a grid of 125 by 80 places.
fn survey() -> Board {
    let (columns, rows) = (125, 80);
    let line = |n: usize, from: f64, to: f64| {
        (0..n).map(|i| from + (to - from) * i as f64 / (n - 1) as f64).collect()
    };
    let xs: Vec<f64> = line(columns, -WIDTH_MM / 2.0, WIDTH_MM / 2.0);
    let ys: Vec<f64> = line(rows, -HEIGHT_MM, 0.0);
    let mut heights = Vec::with_capacity(columns * rows);
    for (row, y) in ys.iter().enumerate() {
        for (column, x) in xs.iter().enumerate() {
            let (a, d) = (2.0 * x / WIDTH_MM, 2.0 * y / HEIGHT_MM + 1.0);
            heights
                .push(0.4 * (1.0 - a * a) + 0.2 * a * d + 0.05 * scatter(row * columns + column));
        }
    }
    Board::surveyed(Shape::Grid(Grid::new(xs, ys, heights).expect("a grid")), 0.03)
}

/// Least of many runs' means: what the work takes when nothing else runs.
fn timed(mut work: impl FnMut()) -> Duration {
    let once = Instant::now();
    work();
    let per_batch = (Duration::from_millis(20).as_nanos() / once.elapsed().as_nanos().max(1))
        .clamp(1, 100_000) as u32;
    (0..15)
        .map(|_| {
            let start = Instant::now();
            (0..per_batch).for_each(|_| work());
            start.elapsed() / per_batch
        })
        .min()
        .unwrap_or_default()
}

fn row(what: &str, took: Duration, target: &str) {
    println!("{what:<62} {:>12.1} us   {target}", took.as_secs_f64() * 1e6);
}

fn by_general_solver(spots: &[Spot], influence: &Influence, band: Band<Mm>) -> f64 {
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    let t = problem.add_var(1.0, (-1000.0, band.width().0 / 2.0));
    let n: Vec<Variable> = (0..3).map(|_| problem.add_var(0.0, (-10.0, 10.0))).collect();
    for spot in spots {
        let j = influence.effect(spot.x_mm, spot.y_mm);
        let with = |sign: f64| [(n[0], j[0]), (n[1], j[1]), (n[2], j[2]), (t, sign)];
        problem.add_constraint(with(-1.0), ComparisonOp::Ge, band.low.0 - spot.gap_mm);
        problem.add_constraint(with(1.0), ComparisonOp::Le, band.high.0 - spot.gap_mm);
    }
    match problem.solve() {
        Ok(SolveOutcome::Solution(found)) => found.objective(),
        _ => f64::NAN,
    }
}

fn main() {
    let (adjusters, band) = (screws(10.0), Band::new(Mm(2.0), Mm(5.0)).expect("a band"));
    let influence = Influence::of(&adjusters).expect("three screws");
    let observations = twelve_stations();
    let flat = Board::flat();
    let rough = Board { u_shape_mm: 0.2, ..Board::flat() };
    let board = survey();
    let surveyed = board.control_points(WIDTH_MM, HEIGHT_MM);
    let question = |board, points| Question {
        observations: &observations,
        board,
        adjusters: &adjusters,
        band,
        points,
        live: &[],
        held: &[],
        measurable: MEASURABLE,
        smallest_turn: Some(1.0 / 36.0),
        seat_u_mm: 0.05,
        came_back: &[],
        unread: None,
        person: Person::default(),
        earlier: None,
        contradicted: false,
        more_is_judged: false,
    };
    let spots = |board: &Board, points: &[_]| -> Vec<Spot> {
        let found = fit(&observations, board).expect("a plane");
        judge(&found, points, band)
            .points
            .iter()
            .map(|j| Spot { x_mm: j.point.x_mm, y_mm: j.point.y_mm, gap_mm: j.gap.gap_mm })
            .collect()
    };
    let rough_points: Vec<_> =
        observations.gaps.iter().map(|g| rough.point(g.x_mm, g.y_mm)).collect();
    let few = spots(&rough, &rough_points);
    let many = spots(&board, &surveyed);
    let travel = travel(&adjusters);
    if std::env::args().any(|a| a == "--json") {
        return print_cases(
            &[("12 stations", &few), ("10009 points", &many)],
            &influence,
            band,
            &travel,
        );
    }
    row(
        "12 stations: plane, verdict, plan",
        timed(|| {
            black_box(assess(&question(&rough, &rough_points)).expect("an answer"));
        }),
        "target 50 us",
    );
    let found = fit(&observations, &rough).expect("a plane");
    row("  of that: plane", timed(|| drop(black_box(fit(&observations, &rough)))), "");
    row("  of that: verdict", timed(|| drop(black_box(judge(&found, &rough_points, band)))), "");
    row(
        "  of that: turns",
        timed(|| drop(black_box(solve(&few, &influence, &travel, band, None)))),
        "",
    );
    row(
        "  of that: turns in whole steps as well",
        timed(|| {
            drop(black_box(solve(&few, &influence, &travel, band, Some(1.0 / 36.0))));
        }),
        "",
    );
    row(
        "  turns by a general solver of linear programmes",
        timed(|| {
            black_box(by_general_solver(&few, &influence, band));
        }),
        "",
    );
    row(
        "10 000 point survey: plane, verdict, plan",
        timed(|| {
            black_box(assess(&question(&board, &surveyed)).expect("an answer"));
        }),
        "target 5000 us",
    );
    let over_survey = fit(&observations, &board).expect("a plane");
    row("  of that: plane", timed(|| drop(black_box(fit(&observations, &board)))), "");
    row("  of that: verdict", timed(|| drop(black_box(judge(&over_survey, &surveyed, band)))), "");
    row(
        "  of that: turns",
        timed(|| drop(black_box(solve(&many, &influence, &travel, band, Some(1.0 / 36.0))))),
        "",
    );
    let places: Vec<[f64; 3]> = surveyed.iter().map(|p| [p.x_mm, p.y_mm, p.shape_mm]).collect();
    row("10 000 points: zone along z", timed(|| drop(black_box(vertical(&places)))), "");
    row(
        "10 000 points: minimum zone (flatness)",
        timed(|| drop(black_box(minimum(&places)))),
        "target 50000 us",
    );
    rows_of_the_whole_board(&places, &observations, &adjusters, band);
    let gap = |k: usize| {
        let (x, y) = ((k % 1000) as f64 * 2.0 - 1000.0, -((k / 1000) as f64));
        GapObservation::bare(x, y, 5.0 + 0.1 * scatter(k), 0.05)
    };
    let million =
        Observations { gaps: (0..1_000_000).map(gap).collect(), lean: None, shared: Vec::new() };
    row("1 000 000 gaps: plane", timed(|| drop(black_box(fit(&million, &flat)))), "");
}

/// The survey's shape, the fine grid, and the plan of a round.
fn rows_of_the_whole_board(
    places: &[[f64; 3]],
    observations: &Observations,
    adjusters: &[Adjuster; 3],
    band: Band<Mm>,
) {
    let size_mm = [WIDTH_MM, HEIGHT_MM];
    let shape = || Surface::new(places.to_vec(), 0.05, size_mm, BoardPrior::Unknown);
    row(
        "10 000 point survey: its shape fitted",
        timed(|| drop(black_box(shape()))),
        "target 5000 us",
    );
    let thin: Vec<[f64; 3]> = places.iter().step_by(200).copied().collect();
    let few = Surface::new(thin, 0.05, size_mm, BoardPrior::Unknown).expect("a surface");
    let surveyed = Board::surveyed(Shape::Surface(few), 0.0);
    let flat = Board { u_shape_mm: 0.03, ..Board::flat() };
    let read: Vec<(f64, f64)> = observations.gaps.iter().map(|g| (g.x_mm, g.y_mm)).collect();
    for (name, board) in [("not surveyed", &flat), ("50 places surveyed", &surveyed)] {
        let ground = || Ground::new(board, size_mm, BoardPrior::Unknown, &read);
        row(
            &format!("{name}: ground of 33 by 21, once a job"),
            timed(|| drop(black_box(ground()))),
            "",
        );
        let (ground, found) = (ground(), fit(observations, board).expect("a plane"));
        row("  judged over it", timed(|| drop(black_box(ground.judge(&found, band)))), "");
    }
    let found = fit(observations, &flat).expect("a plane");
    let influence = Influence::of(adjusters).expect("three adjusters");
    let (geometry, hand) = (GeometryUncertainty::default(), Hand::default());
    let tracker = Tracker::new(&found, &flat, &influence, adjusters, geometry, hand);
    let points = flat.control_points(WIDTH_MM, HEIGHT_MM);
    let stations: Vec<Station> = observations
        .gaps
        .iter()
        .map(|g| Station { name: "one".into(), at: Point::mm(g.x_mm, g.y_mm) })
        .collect();
    let person = Person::default();
    let task = Task {
        adjusters,
        points: &points,
        band,
        stations: &stations,
        held: &[],
        measurable: MEASURABLE,
        smallest_turn: 1.0 / 72.0,
        step: None,
        worth_mm: 0.02,
        inside_mm: 0.5,
        person,
        hand,
        live_u_mm: 0.03,
        seat_u_mm: 0.05,
        reads_after_count: false,
        next_round_s: Task::round_s(&person, stations.len()),
    };
    let plan = || Plan::new(&task, &tracker, &[0.0; 3], None);
    row("plan of a round, 12 stations", timed(|| drop(black_box(plan()))), "target 50000 us");
}

/// The turns' linear programmes as JSON: gaps, effects, band, travel, this crate's margin and time.
fn print_cases(
    cases: &[(&str, &Vec<Spot>)],
    influence: &Influence,
    band: Band<Mm>,
    travel: &[(f64, f64); 3],
) {
    let cases: Vec<serde_json::Value> = cases
        .iter()
        .map(|(name, spots)| {
            let took = timed(|| drop(black_box(solve(spots, influence, travel, band, None))));
            let setting = solve(spots, influence, travel, band, None).expect("a setting");
            serde_json::json!({
                "name": name,
                "gap_mm": spots.iter().map(|s| s.gap_mm).collect::<Vec<_>>(),
                "effect": spots.iter().map(|s| influence.effect(s.x_mm, s.y_mm)).collect::<Vec<_>>(),
                "band": [band.low, band.high],
                "travel": travel,
                "margin_mm": setting.margin_mm,
                "turns": setting.turns,
                "seconds": took.as_secs_f64(),
            })
        })
        .collect();
    println!("{}", serde_json::Value::Array(cases));
}
