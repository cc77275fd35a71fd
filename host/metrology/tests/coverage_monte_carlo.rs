//! Whether the intervals hold what they claim: simulated rounds after JCGM 101 (GUM supplement 1),
//! seeded.

mod common;

use common::Dice;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use skimgauge_metrology::coverage::{LEVEL, t_factor};
use skimgauge_metrology::plane::board::{Board, Grid, Shape, Unsurveyed};
use skimgauge_metrology::plane::fit::fit;
use skimgauge_metrology::plane::observation::{
    GapObservation, LeanObservation, Observations, SharedError,
};
use skimgauge_metrology::verdict::{decide, judge};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Mm};

const WIDTH_MM: f64 = 2025.0;
const HEIGHT_MM: f64 = 1266.0;
const STATIONS: [(f64, f64); 8] = [
    (-1.0, 0.0),
    (0.0, 0.0),
    (1.0, 0.0),
    (-1.0, 0.5),
    (1.0, 0.5),
    (-1.0, 1.0),
    (0.0, 1.0),
    (1.0, 1.0),
];

/// What one simulated round is like.
struct Room {
    /// Readings behind each take; none where its uncertainty is known.
    readings: Option<usize>,
    u_take_mm: f64,
    u_zero_mm: f64,
    /// Readings behind the zero.
    zero_readings: Option<usize>,
    lean: bool,
    /// Bow and twist of an unsurveyed board.
    unknown: Option<f64>,
    /// Uncertainty of a survey's heights.
    u_survey_mm: f64,
}

/// Share of 95 % intervals that hold the true gap, over all points and rounds, and the worst
/// point's.
fn covered(room: &Room, rounds: usize, seed: u64) -> (f64, f64) {
    let mut dice = Dice(Pcg64::seed_from_u64(seed));
    let points: Vec<(f64, f64)> = STATIONS
        .iter()
        .copied()
        .chain([(0.0, 0.5)])
        .map(|(a, d)| (a * WIDTH_MM / 2.0, -d * HEIGHT_MM))
        .collect();
    let mut hits = vec![0usize; points.len()];
    for _ in 0..rounds {
        let (c, p, q) = (dice.uniform(1.0, 8.0), dice.uniform(-3.0, 3.0), dice.uniform(-3.0, 3.0));
        let unknown = room.unknown.map(|u| Unsurveyed {
            width_mm: WIDTH_MM,
            height_mm: HEIGHT_MM,
            bow_across_mm: u,
            bow_down_mm: u,
            twist_mm: u,
        });
        let [bow, sag, twist] = [0; 3].map(|_| dice.normal(room.unknown.unwrap_or(0.0)));
        let shape = |x: f64, y: f64| {
            let (a, d) = (2.0 * x / WIDTH_MM, 2.0 * y / HEIGHT_MM + 1.0);
            bow * (1.0 / 3.0 - a * a) + sag * (1.0 / 3.0 - d * d) + twist * a * d
        };
        let truth = |x: f64, y: f64| c + (p * x + q * y) / 1000.0 - shape(x, y);
        // A survey, wrong by its own uncertainty at each place of a grid on which all stations and
        // points lie.
        let board = if room.u_survey_mm > 0.0 {
            let xs = vec![-WIDTH_MM / 2.0, 0.0, WIDTH_MM / 2.0];
            let ys = vec![-HEIGHT_MM, -HEIGHT_MM / 2.0, 0.0];
            let heights = (0..9).map(|_| dice.normal(room.u_survey_mm)).collect();
            Board::surveyed(Shape::Grid(Grid::new(xs, ys, heights).unwrap()), room.u_survey_mm)
        } else {
            Board { unknown, ..Board::flat() }
        };
        let zero = match room.zero_readings {
            Some(n) => {
                let (error, u) = dice.mean_of(n, room.u_zero_mm * (n as f64).sqrt());
                (error, u, n as f64 - 1.0)
            }
            None => (dice.normal(room.u_zero_mm), room.u_zero_mm, f64::INFINITY),
        };
        let mut observations = Observations {
            gaps: Vec::new(),
            lean: room.lean.then(|| LeanObservation {
                q_mm_per_m: q + dice.normal(0.1),
                u_mm_per_m: 0.1,
                dof: f64::INFINITY,
            }),
            shared: vec![SharedError::even("zero", zero.1, zero.2)],
        };
        for &(x, y) in &points[..STATIONS.len()] {
            let (error, u_mm, dof) = match room.readings {
                Some(n) => {
                    let (error, u) = dice.mean_of(n, room.u_take_mm * (n as f64).sqrt());
                    (error, u, n as f64 - 1.0)
                }
                None => (dice.normal(room.u_take_mm), room.u_take_mm, f64::INFINITY),
            };
            observations.gaps.push(GapObservation {
                dof,
                ..GapObservation::bare(x, y, truth(x, y) + zero.0 + error, u_mm)
            });
        }
        let found = fit(&observations, &board).unwrap();
        for (hit, &(x, y)) in hits.iter_mut().zip(&points) {
            let gap = found.gap_at(&board.point(x, y));
            let k = t_factor(LEVEL, gap.dof.floor()).unwrap();
            *hit += usize::from((gap.gap_mm - truth(x, y)).abs() <= k * gap.u_mm);
        }
    }
    let share = |h: usize| h as f64 / rounds as f64;
    let mean = share(hits.iter().sum::<usize>()) / points.len() as f64;
    let worst = hits
        .iter()
        .map(|&h| share(h))
        .fold(0.95, |w: f64, s| if (s - 0.95).abs() > (w - 0.95).abs() { s } else { w });
    println!("covered: mean {mean:.4}, furthest from 0.95 {worst:.4}");
    (mean, worst)
}

fn assert_covers(room: &Room, seed: u64) {
    let (mean, worst) = covered(room, 10_000, seed);
    assert!((0.94..=0.96).contains(&mean), "mean {mean}");
    assert!((0.94..=0.965).contains(&worst), "worst point {worst}");
}

const PLAIN: Room = Room {
    readings: None,
    u_take_mm: 0.05,
    u_zero_mm: 0.03,
    zero_readings: None,
    lean: false,
    unknown: None,
    u_survey_mm: 0.0,
};

#[test]
fn known_uncertainties_on_a_flat_board() {
    assert_covers(&PLAIN, 1);
}

#[test]
fn with_the_lean() {
    assert_covers(&Room { lean: true, ..PLAIN }, 2);
}

#[test]
fn an_unsurveyed_board() {
    assert_covers(&Room { unknown: Some(0.5), ..PLAIN }, 3);
}

#[test]
fn few_readings_behind_the_zero() {
    assert_covers(&Room { zero_readings: Some(6), u_zero_mm: 0.1, ..PLAIN }, 4);
}

#[test]
fn many_readings_behind_each_take() {
    assert_covers(&Room { readings: Some(40), ..PLAIN }, 5);
}

/// A value truly outside the band is called within in at most 2.5 % of rounds, wherever it lies.
#[test]
fn false_within_is_rare() {
    let mut dice = Dice(Pcg64::seed_from_u64(6));
    let band = Band::new(Mm(2.0), Mm(3.5)).unwrap();
    let board = Board::flat();
    let points = board.control_points(WIDTH_MM, HEIGHT_MM);
    let (mut truly_outside, mut false_within, mut within) = (0, 0, 0);
    for _ in 0..20_000 {
        let (c, p, q) = (dice.uniform(1.8, 3.7), dice.uniform(-0.5, 0.5), dice.uniform(-0.8, 0.8));
        let truth = |x: f64, y: f64| c + (p * x + q * y) / 1000.0;
        let zero = dice.normal(0.03);
        let gaps = STATIONS
            .iter()
            .map(|&(a, d)| {
                let (x, y) = (a * WIDTH_MM / 2.0, -d * HEIGHT_MM);
                GapObservation::bare(x, y, truth(x, y) + zero + dice.normal(0.05), 0.05)
            })
            .collect();
        let shared = vec![SharedError::even("zero", 0.03, f64::INFINITY)];
        let observations = Observations { gaps, lean: None, shared };
        let called = judge(&fit(&observations, &board).unwrap(), &points, band).verdict;
        let outside = points.iter().any(|p| !band.contains(Mm(truth(p.x_mm, p.y_mm))));
        truly_outside += usize::from(outside);
        false_within += usize::from(outside && called == Verdict::Within);
        within += usize::from(called == Verdict::Within);
    }
    println!(
        "truly outside {truly_outside}, of these called within {false_within}; called within in all {within}"
    );
    assert!(within > 500 && truly_outside > 5000);
    assert!(false_within as f64 <= 0.025 * truly_outside as f64);
    assert!(
        false_within as f64 <= 0.025 * within as f64,
        "of all called within at most one in forty is wrong"
    );
}

/// On the limit itself, the hardest place, one point is called within in one of forty.
#[test]
fn false_within_on_the_limit_is_one_in_forty() {
    let mut dice = Dice(Pcg64::seed_from_u64(7));
    let band = Band::new(Mm(2.0), Mm(9.0)).unwrap();
    let rounds = 40_000;
    let wrong = (0..rounds)
        .filter(|_| {
            decide(Mm(2.0 + dice.normal(0.05)), Mm(1.959_964 * 0.05), band) == Verdict::Within
        })
        .count();
    let share = wrong as f64 / f64::from(rounds);
    assert!((0.0225..=0.0275).contains(&share), "{share}");
}

#[test]
fn a_survey_with_noise() {
    assert_covers(&Room { u_survey_mm: 0.04, ..PLAIN }, 8);
}
