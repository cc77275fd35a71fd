//! The three-adjuster setting held against optima that were re-solved in exact fractions (scipy
//! 1.17.1 linprog).

mod table;
use skimgauge_metrology::trim::TrimError;
use skimgauge_metrology::trim::influence::Influence;
use skimgauge_metrology::trim::solve::{Hold, Setting, Spot, solve, travel};
use skimgauge_model::{Adjuster, Point, Sense};
use skimgauge_quantity::{Band, Mm, Turns};
use table::Table;

/// Adjusters of 1 mm pitch, so that turns are mm of travel, as the published cases count.
fn screws(places: [[f64; 2]; 3], travel_turns: f64) -> [Adjuster; 3] {
    let names = ["left", "right", "upper"];
    [0, 1, 2].map(|i| Adjuster {
        name: names[i].into(),
        at: Point::mm(places[i][0], places[i][1]),
        pitch: Mm(1.0),
        clockwise: Sense::Out,
        travel_clockwise: Turns(travel_turns),
        travel_anticlockwise: Turns(travel_turns),
    })
}

fn spots(text: &str) -> Vec<Spot> {
    let table = Table::read(text);
    (0..table.len())
        .map(|r| Spot {
            x_mm: table.number("x", r),
            y_mm: table.number("y", r),
            gap_mm: table.number("gap", r),
        })
        .collect()
}

/// Largest margin in a band of half width `half` round `target`: the published least deviation is
/// `half - margin`.
fn deviation(spots: &[Spot], screws: &[Adjuster; 3], target: f64, half: f64) -> (f64, Setting) {
    let influence = Influence::of(screws).unwrap();
    let band = Band::new(Mm(target - half), Mm(target + half)).unwrap();
    let setting = solve(spots, &influence, &travel(screws), band, None).unwrap();
    (half - setting.margin_mm, setting)
}

#[test]
fn twelve_stations_s1() {
    let spots = spots(include_str!("data/screws_s1.csv"));
    let screws = screws([[200.0, 150.0], [1800.0, 150.0], [1000.0, 1050.0]], 5.0);
    for half in [0.1, 0.5, 2.0] {
        let (t, setting) = deviation(&spots, &screws, 12.0, half);
        assert!((t - 341.0 / 2000.0).abs() < 1e-12, "t {t}");
        for (got, want) in setting.turns.iter().zip([-0.0213666666667, -2.78403333333, -0.4703]) {
            assert!((got - want).abs() < 1e-9, "{got} {want}");
        }
        let mut holding: Vec<usize> = setting.margin_answers_to().map(|(spot, _)| spot).collect();
        holding.sort_unstable();
        assert_eq!(holding, [1, 6, 8, 10]);
        assert_eq!(setting.is_feasible(), half >= 0.1705);
    }
}

#[test]
fn exact_fit_s3() {
    let spots = spots(include_str!("data/screws_s3.csv"));
    let screws = screws([[0.0, 0.0], [1000.0, 0.0], [0.0, 1000.0]], 1.0);
    let (t, setting) = deviation(&spots, &screws, 0.0, 1.0);
    assert!(t.abs() < 1e-12);
    for (got, want) in setting.turns.iter().zip([-0.3, 0.2, -0.1]) {
        assert!((got - want).abs() < 1e-12);
    }
}

#[test]
fn pure_twist_s4() {
    let spots = spots(include_str!("data/screws_s4.csv"));
    let screws = screws([[0.0, 0.0], [1000.0, 0.0], [0.0, 1000.0]], 1.0);
    let (t, setting) = deviation(&spots, &screws, 0.0, 1.0);
    assert!((t - 0.1).abs() < 1e-12);
    for (got, want) in setting.turns.iter().zip([0.1, -0.1, -0.1]) {
        assert!((got - want).abs() < 1e-12);
    }
    let weights: f64 = setting.holds.iter().map(|h| h.1).sum();
    assert!((weights - 1.0).abs() < 1e-9, "weights of the proof add up to one");
}

/// With only 1 mm of travel S1 stops at the adjusters' ends, and says so. (2.78 mm would be
/// needed.)
#[test]
fn travel_holds_the_margin_and_is_named() {
    let spots = spots(include_str!("data/screws_s1.csv"));
    let screws = screws([[200.0, 150.0], [1800.0, 150.0], [1000.0, 1050.0]], 1.0);
    let (t, setting) = deviation(&spots, &screws, 12.0, 0.5);
    assert!(t > 1.0 && setting.turns.iter().all(|n| n.abs() <= 1.0 + 1e-12));
    assert!(setting.holds.iter().any(|(h, _)| *h == Hold::TravelAnticlockwise { adjuster: 1 }));
    assert!(!setting.is_feasible());
}

/// The same cases through a general solver of linear programmes.
#[test]
fn agrees_with_a_general_solver() {
    use microlp::{ComparisonOp, OptimizationDirection, Problem, SolveOutcome, Variable};
    let spots = spots(include_str!("data/screws_s1.csv"));
    for travel_turns in [5.0, 2.0, 1.0, 0.3] {
        let screws = screws([[200.0, 150.0], [1800.0, 150.0], [1000.0, 1050.0]], travel_turns);
        let influence = Influence::of(&screws).unwrap();
        let (ours, _) = deviation(&spots, &screws, 12.0, 1.0);
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let t = problem.add_var(1.0, (-100.0, 1.0));
        let n: Vec<Variable> =
            (0..3).map(|_| problem.add_var(0.0, (-travel_turns, travel_turns))).collect();
        for spot in &spots {
            let j = influence.effect(spot.x_mm, spot.y_mm);
            let with = |sign: f64| [(n[0], j[0]), (n[1], j[1]), (n[2], j[2]), (t, sign)];
            problem.add_constraint(with(-1.0), ComparisonOp::Ge, 11.0 - spot.gap_mm);
            problem.add_constraint(with(1.0), ComparisonOp::Le, 13.0 - spot.gap_mm);
        }
        let SolveOutcome::Solution(theirs) = problem.solve().unwrap() else {
            panic!("no solution")
        };
        assert!((1.0 - theirs.objective() - ours).abs() < 1e-7, "travel {travel_turns}");
    }
}

/// Metric coarse pitches after ISO 261: M4 0.7 mm, M6 1.0 mm. One turn moves the gap at the
/// adjuster itself by the pitch, and at the other two by nothing.
#[test]
fn a_turn_moves_its_own_screw_by_the_pitch() {
    let mut screws = screws([[-100.0, 60.0], [100.0, 60.0], [0.0, 120.0]], 5.0);
    screws[0].pitch = Mm(0.7);
    screws[2].clockwise = Sense::In;
    let influence = Influence::of(&screws).unwrap();
    for (i, own) in [0.7, 1.0, -1.0].into_iter().enumerate() {
        let effect = influence.effect(screws[i].at.x.0, screws[i].at.y.0);
        for (j, effect) in effect.into_iter().enumerate() {
            assert!((effect - if i == j { own } else { 0.0 }).abs() < 1e-12);
        }
    }
    // The leverage of the far edge: 1260 mm below, a turn of the upper adjuster does some twenty
    // times as much.
    assert!(influence.effect(0.0, -1260.0)[2] > 20.0);
}

#[test]
fn adjusters_in_a_line_or_impossible_are_refused() {
    let line = screws([[-100.0, 60.0], [100.0, 60.0], [0.0, 62.0]], 5.0);
    let refused = Influence::of(&line).unwrap_err();
    assert!(matches!(refused, TrimError::InALine { .. }));
    assert!(refused.to_string().contains("left, right, upper are in a line"));
    let good = screws([[-100.0, 60.0], [100.0, 60.0], [0.0, 120.0]], 5.0);
    for (pitch, x, travel) in
        [(0.0, 0.0, 1.0), (f64::NAN, 0.0, 1.0), (0.5, f64::INFINITY, 1.0), (0.5, 0.0, -1.0)]
    {
        let mut bad = good.clone();
        (bad[1].pitch, bad[1].at.x, bad[1].travel_clockwise) = (Mm(pitch), Mm(x), Turns(travel));
        assert!(matches!(Influence::of(&bad), Err(TrimError::BadAdjuster { .. })));
    }
    let influence = Influence::of(&good).unwrap();
    let band = Band::new(Mm(1.0), Mm(4.0)).unwrap();
    assert_eq!(solve(&[], &influence, &travel(&good), band, None), Err(TrimError::NoPoints));
    let nan = [Spot { x_mm: 0.0, y_mm: 0.0, gap_mm: f64::NAN }];
    assert_eq!(solve(&nan, &influence, &travel(&good), band, None), Err(TrimError::Numbers));
}
