//! What turns are said to come to is what they come to: the very turns that were told, on the plane
//! that was assumed, and on planes as far from it as readings and hands are.

use proptest::prelude::*;
use rand::SeedableRng as _;
use rand_distr::{Distribution as _, Normal};
use skimgauge_metrology::assess::{MEASURABLE, Question, assess, watched};
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::report::Report;
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::trim::promise::as_told;
use skimgauge_model::{Adjuster, Point, Sense, Station, Verdict};
use skimgauge_quantity::{Band, Mm, Turns};

const WIDE_MM: f64 = 2000.0;
const HIGH_MM: f64 = 1250.0;
/// Where the adjusters stand, mm, and what one turn does there.
const SCREWS: [(f64, f64); 3] = [(-100.0, 80.0), (100.0, 80.0), (0.0, 140.0)];
const PITCH_MM: f64 = 0.5;

fn adjusters() -> Vec<Adjuster> {
    let named = ["left", "right", "upper"].into_iter().zip(SCREWS);
    named
        .map(|(name, (x_mm, y_mm))| Adjuster {
            name: name.into(),
            at: Point::mm(x_mm, y_mm),
            pitch: Mm(PITCH_MM),
            clockwise: Sense::Out,
            travel_clockwise: Turns(20.0),
            travel_anticlockwise: Turns(20.0),
        })
        .collect()
}

fn stations() -> Vec<Station> {
    let (half, down) = (WIDE_MM / 2.0, -HIGH_MM);
    [
        ("top left", -half, 0.0),
        ("top", 0.0, 0.0),
        ("top right", half, 0.0),
        ("right", half, down / 2.0),
        ("bottom right", half, down),
        ("bottom", 0.0, down),
        ("bottom left", -half, down),
        ("left", -half, down / 2.0),
    ]
    .map(|(name, x, y)| Station { name: name.into(), at: Point::mm(x, y) })
    .to_vec()
}

/// Of each adjuster the share that its turn has in the plane at a place: three heights make a plane.
/// By Cramer's rule, not as the program has it.
fn shares(x: f64, y: f64) -> [f64; 3] {
    let area = |a: (f64, f64), b: (f64, f64), c: (f64, f64)| {
        (b.0 - a.0) * (c.1 - a.1) - (c.0 - a.0) * (b.1 - a.1)
    };
    let [a, b, c] = SCREWS;
    let whole = area(a, b, c);
    let here = (x, y);
    [area(here, b, c) / whole, area(a, here, c) / whole, area(a, b, here) / whole]
}

fn asked(gap: impl Fn(f64, f64) -> f64, u_mm: f64, band: Band<Mm>) -> Report {
    asked_in_steps(gap, u_mm, band, None)
}

fn asked_in_steps(
    gap: impl Fn(f64, f64) -> f64,
    u_mm: f64,
    band: Band<Mm>,
    smallest_turn: Option<f64>,
) -> Report {
    let stations = stations();
    let gaps: Vec<GapObservation> =
        stations.iter().map(|s| GapObservation::at(s, gap(s.at.x.0, s.at.y.0), u_mm)).collect();
    let observations = Observations { gaps, lean: None, shared: Vec::new() };
    let (board, adjusters) = (Board::flat(), adjusters());
    let points = board.control_points(WIDE_MM, HIGH_MM);
    let question = Question {
        observations: &observations,
        board: &board,
        adjusters: &adjusters,
        band,
        points: &points,
        live: &stations,
        held: &[],
        measurable: watched(MEASURABLE),
        smallest_turn,
        seat_u_mm: 0.05,
        came_back: &[],
        unread: None,
        person: Person::default(),
        earlier: None,
        contradicted: false,
        more_is_judged: false,
    };
    assess(&question).unwrap().report(&question)
}

/// Least room inside the band at the points and places of a report, moved by so much at each.
fn least(report: &Report, band: Band<Mm>, moved: impl Fn(f64, f64) -> f64) -> f64 {
    let points = report.points.iter().map(|p| (p.x_mm, p.y_mm, p.gap_mm));
    let places = report.places.iter().map(|p| (p.x_mm, p.y_mm, p.gap_mm));
    let inside = |(x, y, gap): (f64, f64, f64)| band.inside(Mm(gap + moved(x, y))).0;
    points.chain(places).map(inside).fold(f64::INFINITY, f64::min)
}

/// The turns of a report, clockwise, in the adjusters' order.
fn turned(report: &Report) -> [f64; 3] {
    ["left", "right", "upper"].map(|name| {
        let of = report.turns.iter().find(|turn| turn.adjuster == name);
        of.map_or(0.0, |turn| if turn.sense == "clockwise" { turn.turns } else { -turn.turns })
    })
}

fn band(low: f64, high: f64) -> Band<Mm> {
    Band::new(Mm(low), Mm(high)).unwrap()
}

proptest! {
    /// The turns as they stand in the report, made on the plane as it stands there.
    #[test]
    fn what_is_promised_is_what_the_turns_told_come_to(
        c in 1.0..9.0f64, p in -2.0..2.0f64, q in -3.0..3.0f64, low in 0.5..3.0f64,
        wide in 1.0..3.5f64,
    ) {
        let band = band(low, low + wide);
        let report = asked(|x, y| c + (p * x + q * y) / 1000.0, 0.06, band);
        let Some(promise) = report.promise else {
            prop_assert!(report.turns.is_empty(), "{report:?}");
            return Ok(());
        };
        let n = turned(&report);
        let come_to = least(&report, band, |x, y| {
            shares(x, y).iter().zip(n).map(|(share, n)| share * n * PITCH_MM).sum()
        });
        prop_assert!((come_to - promise.margin_mm).abs() < 1e-6, "{come_to} {report:?}");
        prop_assert!(promise.low_mm < promise.margin_mm && promise.margin_mm < promise.high_mm);
        // What is told has no more digits than are said.
        for turns in n {
            prop_assert!((100.0 * turns - (100.0 * turns).round()).abs() < 1e-9, "{turns}");
        }
    }

    /// Where it is within, nobody is told to turn it out of where it stands best.
    #[test]
    fn within_and_well_inside_nothing_is_told_that_makes_it_worse(
        c in 1.2..3.8f64, p in -0.3..0.3f64, q in -0.3..0.3f64,
    ) {
        let band = band(1.0, 4.0);
        let report = asked(|x, y| c + (p * x + q * y) / 1000.0, 0.03, band);
        if report.verdict == Verdict::Within && let Some(promise) = report.promise {
            let now = least(&report, band, |_, _| 0.0);
            prop_assert!(promise.margin_mm > now, "{now} {report:?}");
        }
    }
}

/// A band whose middle is nearer to the board than the head can watch: the turns aim at what it
/// sees, and no more than that is promised.
#[test]
fn a_band_whose_middle_no_head_watches_is_not_promised_its_middle() {
    let band = band(0.5, 2.5);
    let report = asked(|x, y| 3.4 + 0.0005 * x - 0.0018 * y, 0.06, band);
    let promise = report.promise.unwrap();
    assert!((report.margin_mm.unwrap() - 1.0).abs() < 1e-6);
    assert!(promise.margin_mm < 0.7 && promise.high_mm < 1.0, "{promise:?}");
}

/// A band of which the head sees all but the end: what stands in the middle of it stays there,
/// whoever has read how much of it.
#[test]
fn nobody_is_told_to_turn_away_from_the_middle_of_the_band() {
    let band = band(1.0, 4.0);
    for u_mm in [0.03, 0.06, 0.15] {
        let report = asked(|_, _| 2.5, u_mm, band);
        assert!(report.turns.is_empty() && report.promise.is_none(), "{report:?}");
    }
    let low = asked(|_, _| 1.9, 0.06, band);
    assert!(low.promise.unwrap().margin_mm > 1.4, "{low:?}");
}

/// What a hand can make is chosen for all adjusters together, and is the one plan there is: rounding
/// each by itself costs, at the far edge, the leverage times the step.
#[test]
fn whole_steps_are_one_plan_and_the_best_there_is() {
    let (band, step) = (band(1.0, 4.0), 0.25);
    let gap = |x: f64, y: f64| 3.42 + 0.00048 * x - 0.0018 * y;
    let report = asked_in_steps(gap, 0.06, band, Some(step));
    let (by_hand, promise) = (report.by_hand.as_ref().unwrap(), report.promise.unwrap());
    assert_eq!(by_hand.turns, turned(&report));
    assert_eq!(by_hand.margin_mm, promise.margin_mm);
    let come_to = |n: [f64; 3]| {
        least(&report, band, |x, y| {
            shares(x, y).iter().zip(n).map(|(share, n)| share * n * PITCH_MM).sum()
        })
    };
    let near = |turns: f64| [-1.0, 0.0, 1.0].map(|by| turns + by * step);
    let mut others = Vec::new();
    for a in near(by_hand.turns[0]) {
        for b in near(by_hand.turns[1]) {
            others.extend(near(by_hand.turns[2]).map(|c| come_to([a, b, c])));
        }
    }
    let best = others.into_iter().fold(f64::NEG_INFINITY, f64::max);
    assert!(promise.margin_mm > best - 1e-6, "{} {best}", promise.margin_mm);
}

/// Three turns ended at the one place by the hinge, each by the reading of a seat that nobody had
/// read when they were told, leave the far edge known to millimetres: the plan counts that.
#[test]
fn turns_are_watched_where_the_far_edge_is_known_afterwards() {
    let band = band(1.0, 4.0);
    let report = asked(|x, y| 3.42 + 0.00048 * x - 0.0018 * y, 0.06, band);
    let promise = report.promise.unwrap();
    assert!(promise.margin_mm > 1.2 && promise.low_mm > 0.0, "{promise:?} {:?}", report.turns);
}

/// The range holds what comes of it, where readings scatter as they say, pitches are off, hands turn
/// as hands do and what is read before the first turn changes what is told there (Monte Carlo after
/// JCGM 101).
#[test]
fn the_range_holds_what_comes_of_the_turns() {
    let mut dice = rand_pcg::Pcg64::seed_from_u64(11);
    let mut scatter = |u: f64| Normal::new(0.0, u).unwrap().sample(&mut dice);
    let (band, at) = (band(1.0, 4.0), stations());
    let (mut held, mut below, mut all) = (0, 0, 0);
    for _ in 0..400 {
        let plane = [5.0 + scatter(1.0), scatter(1.0), scatter(1.0)];
        let gap = |x: f64, y: f64| plane[0] + (plane[1] * x + plane[2] * y) / 1000.0;
        let read: Vec<f64> = at.iter().map(|s| gap(s.at.x.0, s.at.y.0) + scatter(0.06)).collect();
        let index = |x: f64, y: f64| at.iter().position(|s| s.at == Point::mm(x, y)).unwrap();
        let report = asked(|x, y| read[index(x, y)], 0.06, band);
        let Some(promise) = report.promise else { continue };
        let pitch: [f64; 3] = std::array::from_fn(|_| PITCH_MM * (1.0 + scatter(0.05)));
        let mut n = [0.0f64; 3];
        let moved = |n: &[f64; 3], x: f64, y: f64| -> f64 {
            shares(x, y).iter().zip(n).zip(pitch).map(|((share, n), pitch)| share * n * pitch).sum()
        };
        // The head stays where it is clipped on, and so does its seat's error.
        let (mut seat, mut more) = ((String::new(), 0.0), 0.0);
        for turn in &report.turns {
            let adjuster = ["left", "right", "upper"].iter().position(|a| **a == turn.adjuster);
            let adjuster = adjuster.unwrap();
            let told = if turn.sense == "clockwise" { turn.turns } else { -turn.turns };
            // What is counted first is ended by its reading all the same.
            let watched = turn.at_station.as_ref().or(turn.then_at_station.as_ref());
            n[adjuster] = match (watched, turn.dial_to_mm.or(turn.then_to_mm)) {
                (Some(name), Some(to_mm)) => {
                    let station = at.iter().find(|s| s.name == *name).unwrap().at;
                    let (x, y) = (station.x.0, station.y.0);
                    let gap_now = gap(x, y) + moved(&n, x, y);
                    if seat.0 != *name {
                        seat = (name.clone(), scatter(0.05));
                        let reads = gap_now + seat.1 + scatter(0.02);
                        more = turn.dial_from_mm.map_or(0.0, |from_mm| reads - from_mm);
                    }
                    let now = gap_now + seat.1 + scatter(0.02);
                    (to_mm + more - now) / (shares(x, y)[adjuster] * pitch[adjuster])
                }
                _ => told + scatter(0.05f64.hypot(0.05 * told)),
            };
        }
        let points = report.points.iter().map(|p| (p.x_mm, p.y_mm));
        let come_to = points
            .map(|(x, y)| band.inside(Mm(gap(x, y) + moved(&n, x, y))).0)
            .fold(f64::INFINITY, f64::min);
        all += 1;
        held += u32::from((promise.low_mm..=promise.high_mm).contains(&come_to));
        below += u32::from(come_to < promise.low_mm);
    }
    let share = |count: u32| 100.0 * f64::from(count) / f64::from(all);
    println!("{all} trims: {:.1} % held, {:.1} % come to less", share(held), share(below));
    assert!(all > 300, "{all}");
    assert!(share(held) > 90.0 && share(below) < 5.0, "{} {}", share(held), share(below));
}

#[test]
fn a_turn_is_told_to_a_hundredth_or_in_what_a_hand_can_make() {
    assert_eq!(as_told(0.6349, None), 0.63);
    assert_eq!(as_told(-0.6351, None), -0.64);
    assert_eq!(as_told(0.004, None), 0.0);
    assert_eq!(as_told(0.6349, Some(0.25)), 0.75);
    assert_eq!(as_told(0.6349, Some(0.125)), 0.625);
    assert_eq!(as_told(0.31, Some(0.1)), 0.3);
}
