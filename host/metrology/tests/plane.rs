//! The plane and its verdict, as the person with the readings meets them.

use proptest::prelude::*;
use skimgauge_metrology::coverage::conformance_probability;
use skimgauge_metrology::plane::board::{Board, ControlPoint, Grid, Shape, Unsurveyed};
use skimgauge_metrology::plane::choice::{fewest_stations, next_station};
use skimgauge_metrology::plane::fit::{Agreement, fit};
use skimgauge_metrology::plane::observation::{
    GapObservation, LeanObservation, Observations, SharedError,
};
use skimgauge_metrology::plane::refusal::PlaneError;
use skimgauge_metrology::verdict::{Remedy, decide, judge};
use skimgauge_model::{Point, Station, Verdict};
use skimgauge_quantity::{Band, Mm};

const WIDTH_MM: f64 = 2025.0;
const HEIGHT_MM: f64 = 1266.0;

fn edge() -> Vec<Station> {
    let (w, h) = (WIDTH_MM / 2.0, HEIGHT_MM);
    [
        ("top left", -w, 0.0),
        ("top", 0.0, 0.0),
        ("top right", w, 0.0),
        ("left", -w, -h / 2.0),
        ("right", w, -h / 2.0),
        ("bottom left", -w, -h),
        ("bottom", 0.0, -h),
        ("bottom right", w, -h),
    ]
    .map(|(name, x_mm, y_mm)| Station { name: name.into(), at: Point::mm(x_mm, y_mm) })
    .to_vec()
}

fn gaps(of: impl Fn(f64, f64) -> f64, stations: &[Station], u_mm: f64) -> Observations {
    Observations {
        gaps: stations
            .iter()
            .map(|s| GapObservation::at(s, of(s.at.x.0, s.at.y.0), u_mm))
            .collect(),
        ..Observations::default()
    }
}

fn slope(x: f64, y: f64) -> f64 {
    3.0 + 0.0004 * x - 0.0007 * y
}

fn unknown() -> Unsurveyed {
    Unsurveyed {
        width_mm: WIDTH_MM,
        height_mm: HEIGHT_MM,
        bow_across_mm: 0.6,
        bow_down_mm: 0.6,
        twist_mm: 0.6,
    }
}

#[test]
fn three_takes_give_the_plane_and_nothing_to_doubt_it_by() {
    let stations = edge();
    let three = [stations[0].clone(), stations[2].clone(), stations[6].clone()];
    let found = fit(&gaps(slope, &three, 0.05), &Board::flat()).unwrap();
    assert_eq!((found.dof, found.agreement), (0, Agreement::Untested));
    assert!((found.plane.c_mm - 3.0).abs() < 1e-12);
    assert!((found.plane.p_mm_per_m - 0.4).abs() < 1e-12);
    assert!((found.plane.q_mm_per_m - -0.7).abs() < 1e-12);
    assert!(found.worst().is_none());
}

#[test]
fn an_unsurveyed_board_makes_three_takes_less_certain_than_eight() {
    let stations = edge();
    let three = [stations[0].clone(), stations[2].clone(), stations[6].clone()];
    let board = Board::unsurveyed(unknown());
    let centre = board.point(0.0, -HEIGHT_MM / 2.0);
    let few = fit(&gaps(slope, &three, 0.05), &board).unwrap().gap_at(&centre);
    let many = fit(&gaps(slope, &stations, 0.05), &board).unwrap().gap_at(&centre);
    assert!(few.u_mm > 0.6 && few.u_board_mm > few.u_takes_mm);
    assert!(many.u_mm < 0.15, "{many:?}");
}

#[test]
fn stations_round_the_edge_find_bow_and_twist() {
    let bowed = |x: f64, y: f64| {
        let (across, down) = (2.0 * x / WIDTH_MM, 2.0 * y / HEIGHT_MM + 1.0);
        slope(x, y) - 0.5 * (1.0 - across * across) - 0.3 * across * down
    };
    let found = fit(&gaps(bowed, &edge(), 0.02), &Board::unsurveyed(unknown())).unwrap();
    assert_eq!(found.agreement, Agreement::Agrees);
    let centre = Board::flat().point(0.0, -HEIGHT_MM / 2.0);
    let gap = found.gap_at(&centre);
    assert!((gap.gap_mm - bowed(0.0, -HEIGHT_MM / 2.0)).abs() < 2.0 * gap.u_mm, "{gap:?}");
    let middle = found.found_shape_mm(0.0, -HEIGHT_MM / 2.0);
    let side = found.found_shape_mm(WIDTH_MM / 2.0, -HEIGHT_MM / 2.0);
    assert!((middle - side - 0.5).abs() < 0.05, "bow of half a millimetre found");
    // The same readings on a board called flat: a bad fit, and never hidden.
    let flat = fit(&gaps(bowed, &edge(), 0.02), &Board::flat()).unwrap();
    assert_eq!(flat.agreement, Agreement::Contradicts);
    assert!(flat.widening > 5.0);
    let verdict = judge(&flat, &[centre], Band::new(Mm(-50.0), Mm(50.0)).unwrap());
    assert_eq!((verdict.verdict, verdict.remedy), (Verdict::Unsure, Some(Remedy::Retake)));
}

#[test]
fn a_surveyed_shape_is_taken_off() {
    let grid = Grid::new(
        vec![-2000.0, 0.0, 2000.0],
        vec![-2000.0, 0.0],
        vec![0.0, 0.4, 0.1, 0.0, 0.8, 0.0],
    )
    .unwrap();
    let board = Board::surveyed(Shape::Grid(grid), 0.01);
    let over = |x: f64, y: f64| slope(x, y) - board.height_mm(x, y);
    let found = fit(&gaps(over, &edge(), 0.05), &board).unwrap();
    assert!(found.chi_square < 1e-18);
    let point = board.point(100.0, -50.0);
    assert!((found.gap_at(&point).gap_mm - over(100.0, -50.0)).abs() < 1e-12);
    assert!(
        found.gap_at(&point).u_mm > found.gap_at(&ControlPoint { u_shape_mm: 0.0, ..point }).u_mm
    );
}

#[test]
fn one_bad_take_is_named() {
    let mut observations = gaps(slope, &edge(), 0.05);
    observations.gaps[4].gap_mm += 0.6;
    let found = fit(&observations, &Board::flat()).unwrap();
    assert_eq!(found.agreement, Agreement::Contradicts);
    assert_eq!(found.worst().map(|w| w.index), Some(4));
}

#[test]
fn what_all_gaps_share_does_not_shrink_with_takes() {
    let mut observations = gaps(slope, &edge(), 0.001);
    observations.shared.push(SharedError::even("zero", 0.03, 9.0));
    let found = fit(&observations, &Board::flat()).unwrap();
    let gap = found.gap_at(&Board::flat().point(0.0, -600.0));
    assert!((gap.u_shared_mm - 0.03).abs() < 1e-12 && gap.u_mm >= 0.03);
    assert!((gap.dof - 9.0).abs() < 0.1, "degrees of freedom come from the zero: {}", gap.dof);
    assert!((found.covariance()[0][0].sqrt() - 0.03).abs() < 1e-4);
}

/// Degrees of freedom at a point, worked out the long way: gain of each observation, Welch and
/// Satterthwaite.
#[test]
fn degrees_of_freedom_are_those_of_welch_and_satterthwaite() {
    use skimgauge_metrology::coverage::{Share, effective_dof};
    let stations = edge();
    let mut observations = gaps(slope, &stations, 0.05);
    for (i, gap) in observations.gaps.iter_mut().enumerate() {
        gap.u_mm = 0.03 + 0.01 * i as f64;
        gap.dof = 3.0 + i as f64;
    }
    observations.lean = Some(LeanObservation { q_mm_per_m: -0.7, u_mm_per_m: 0.1, dof: 5.0 });
    observations.shared.push(SharedError::even("zero", 0.02, 7.0));
    let point = Board::flat().point(300.0, -900.0);
    let base = fit(&observations, &Board::flat()).unwrap().gap_at(&point);
    let mut shares = vec![Share { u: 0.02, dof: 7.0 }];
    for i in 0..=stations.len() {
        let mut moved = observations.clone();
        let (u, dof) = match moved.gaps.get_mut(i) {
            Some(gap) => {
                gap.gap_mm += 1.0;
                (gap.u_mm, gap.dof)
            }
            None => {
                moved.lean.as_mut().unwrap().q_mm_per_m += 1.0;
                (0.1, 5.0)
            }
        };
        let gain = fit(&moved, &Board::flat()).unwrap().gap_at(&point).gap_mm - base.gap_mm;
        shares.push(Share { u: gain * u, dof });
    }
    assert!((base.dof / effective_dof(&shares) - 1.0).abs() < 1e-9);
    assert!((base.u_mm / skimgauge_metrology::coverage::combined_u(&shares) - 1.0).abs() < 1e-9);
}

#[test]
fn the_lean_saves_a_station() {
    let stations = edge();
    let mut two = gaps(slope, &[stations[0].clone(), stations[2].clone()], 0.05);
    assert!(matches!(
        fit(&two, &Board::flat()),
        Err(PlaneError::TooFewPlaces { places: 2, needed: 3 })
    ));
    two.lean = Some(LeanObservation::from_degrees((-0.0007f64).atan().to_degrees(), 0.01));
    let found = fit(&two, &Board::flat()).unwrap();
    assert!(
        (found.plane.q_mm_per_m - -0.7).abs() < 1e-9 && (found.plane.p_mm_per_m - 0.4).abs() < 1e-9
    );
    let mut upright = gaps(slope, &[stations[0].clone(), stations[5].clone()], 0.05);
    upright.lean = two.lean;
    assert_eq!(fit(&upright, &Board::flat()), Err(PlaneError::OneAboveTheOther));
}

#[test]
fn stations_that_decide_nothing_are_refused_in_words() {
    let flat = Board::flat();
    let stations = edge();
    let top = gaps(slope, &stations[0..3], 0.05);
    assert_eq!(fit(&top, &flat), Err(PlaneError::InALine));
    assert!(PlaneError::InALine.to_string().contains("take one more, well away from that line"));
    let twice = gaps(slope, &[stations[0].clone(), stations[0].clone(), stations[7].clone()], 0.05);
    assert!(matches!(fit(&twice, &flat), Err(PlaneError::TooFewPlaces { places: 2, needed: 3 })));
    assert!(matches!(
        fit(&Observations::default(), &flat),
        Err(PlaneError::TooFewPlaces { places: 0, .. })
    ));
    for u in [0.0, -0.1, f64::NAN, f64::INFINITY] {
        let mut bad = gaps(slope, &stations, 0.05);
        bad.gaps[3].u_mm = u;
        let refused = fit(&bad, &flat).unwrap_err();
        assert!(refused.to_string().contains("take at left"), "{refused}");
    }
    for value in [f64::NAN, f64::INFINITY] {
        let mut bad = gaps(slope, &stations, 0.05);
        bad.gaps[1].gap_mm = value;
        assert!(matches!(fit(&bad, &flat), Err(PlaneError::NotFinite { what: "gap", .. })));
        bad.gaps[1].x_mm = value;
        assert!(matches!(fit(&bad, &flat), Err(PlaneError::NotFinite { what: "position", .. })));
    }
    let mut moved = gaps(slope, &stations, 0.05);
    moved.gaps[1].station = Some("top left".into());
    assert!(matches!(fit(&moved, &flat), Err(PlaneError::NameAtTwoPlaces { .. })));
    let mut no_dof = gaps(slope, &stations, 0.05);
    no_dof.gaps[0].dof = 0.5;
    assert!(matches!(fit(&no_dof, &flat), Err(PlaneError::BadDof { .. })));
}

#[test]
fn the_same_station_taken_again_counts_as_a_further_take() {
    let stations = edge();
    let once = fit(&gaps(slope, &stations, 0.05), &Board::flat()).unwrap();
    let both: Vec<Station> = stations.iter().chain(&stations).cloned().collect();
    let twice = fit(&gaps(slope, &both, 0.05), &Board::flat()).unwrap();
    let ratio = once.gap_at(&Board::flat().point(0.0, 0.0)).u_mm
        / twice.gap_at(&Board::flat().point(0.0, 0.0)).u_mm;
    assert!((ratio - 2f64.sqrt()).abs() < 1e-9);
}

#[test]
fn three_wide_stations_decide_first_and_the_next_helps_most() {
    let (stations, board) = (edge(), Board::flat());
    let points = board.control_points(WIDTH_MM, HEIGHT_MM);
    let first = fewest_stations(&[], &stations, &points, &board, false).unwrap();
    assert_eq!(first.len(), 3);
    let chosen: Vec<Station> = first.iter().map(|&i| stations[i].clone()).collect();
    assert!(fit(&gaps(slope, &chosen, 0.05), &board).is_ok());
    assert_eq!(fewest_stations(&chosen, &stations, &points, &board, false), Some(vec![]));
    assert_eq!(fewest_stations(&[], &stations, &points, &board, true).unwrap().len(), 2);
    assert_eq!(fewest_stations(&[], &stations[0..3], &points, &board, false), None);
    let found = fit(&gaps(slope, &chosen, 0.05), &board).unwrap();
    let next = next_station(&found, &stations, &points, 0.05).unwrap();
    assert!(next.u_after_mm < next.u_now_mm);
    // Held against a refit with each candidate in turn.
    let worst_after = |i: usize| {
        let mut with = chosen.clone();
        with.push(stations[i].clone());
        let refit = fit(&gaps(slope, &with, 0.05), &board).unwrap();
        points.iter().map(|p| refit.gap_at(p).u_mm).fold(0.0, f64::max)
    };
    let best = (0..stations.len()).map(worst_after).fold(f64::INFINITY, f64::min);
    assert!((next.u_after_mm - best).abs() < 1e-9);
    assert!((worst_after(next.candidate) - best).abs() < 1e-9);
}

/// ISO 14253-1 rule on a shaft of 10.00 to 10.10 with U 0.02: accept 10.02 to 10.08, reject below
/// 9.98 or above 10.12.
#[test]
fn verdicts_on_a_shaft() {
    let band = Band::new(Mm(10.00), Mm(10.10)).unwrap();
    for (value, want) in [
        (10.0200001, Verdict::Within),
        (10.0799999, Verdict::Within),
        (9.9799999, Verdict::Outside),
        (10.1200001, Verdict::Outside),
        (9.99, Verdict::Unsure),
        (10.019, Verdict::Unsure),
        (10.081, Verdict::Unsure),
        (10.119, Verdict::Unsure),
    ] {
        assert_eq!(decide(Mm(value), Mm(0.02), band), want, "{value}");
    }
    for (value, expanded) in
        [(f64::NAN, 0.1), (10.05, f64::NAN), (10.05, f64::INFINITY), (10.05, -0.1)]
    {
        assert_eq!(decide(Mm(value), Mm(expanded), band), Verdict::Unsure);
    }
}

/// JCGM 106: upper limit 1.000, u 0.100, k 1.645. Conformance probabilities computed with scipy
/// 1.17.1.
#[test]
fn three_way_verdicts_one_sided() {
    let band = Band::new(Mm(-100.0), Mm(1.0)).unwrap();
    for (value, probability, want) in [
        (0.80, 0.97725, Verdict::Within),
        (0.8355, 0.95001, Verdict::Within),
        (0.84, 0.9452, Verdict::Unsure),
        (1.10, 0.15866, Verdict::Unsure),
        (1.1645, 0.04998, Verdict::Unsure),
        (1.1646, 0.04988, Verdict::Outside),
        (1.25, 0.00621, Verdict::Outside),
    ] {
        assert_eq!(decide(Mm(value), Mm(0.1645), band), want, "{value}");
        assert!(
            (conformance_probability(value, 0.1, -100.0, 1.0) - probability).abs() < 1e-5,
            "{value}"
        );
    }
}

#[test]
fn verdicts_over_many_points_and_their_words() {
    use Verdict::{Outside, Unsure, Within};
    assert_eq!(Verdict::of_all([Within, Within]), Within);
    assert_eq!(Verdict::of_all([Within, Unsure]), Unsure);
    assert_eq!(Verdict::of_all([Unsure, Outside, Within]), Outside);
    assert_eq!(Verdict::of_all([]), Unsure);
    for (verdict, word) in [(Within, "within"), (Outside, "outside"), (Unsure, "unsure")] {
        assert_eq!(serde_json::to_string(&verdict).unwrap(), format!("\"{word}\""));
        assert_eq!(verdict.word(), word);
    }
}

#[test]
fn the_remedy_names_what_stands_in_the_way() {
    let at = |low: f64, u_takes: f64, u_zero: f64, board: &Board| {
        let mut observations = gaps(|_, _| 3.0, &edge(), u_takes);
        observations.shared.push(SharedError::even("zero", u_zero, f64::INFINITY));
        let found = fit(&observations, board).unwrap();
        judge(
            &found,
            &board.control_points(WIDTH_MM, HEIGHT_MM),
            Band::new(Mm(low), Mm(9.0)).unwrap(),
        )
        .remedy
    };
    let flat = Board::flat();
    assert_eq!(at(2.0, 0.05, 0.01, &flat), None);
    let Some(Remedy::MoreTakes { times }) = at(2.95, 0.06, 0.001, &flat) else {
        panic!("more takes")
    };
    assert!(times > 1.0 && times < 10.0);
    assert_eq!(at(2.9, 0.01, 0.1, &flat), Some(Remedy::BetterZero));
    assert_eq!(at(3.0, 0.05, 0.01, &flat), Some(Remedy::Trim));
    // In the middle of a wide band, and read as badly as can be: it lies on no limit.
    assert_eq!(at(-3.0, 20.0, 0.01, &flat), Some(Remedy::SurerReading));
    let rough = Board { u_shape_mm: 0.2, ..Board::flat() };
    assert_eq!(at(2.8, 0.01, 0.01, &rough), Some(Remedy::SurveyBoard));
}

/// All stations in one corner: seats there do not tell the far one, a station there does.
#[test]
fn far_from_the_stations_no_seat_helps_and_a_station_there_does() {
    let board = Board::flat();
    let points = board.control_points(WIDTH_MM, HEIGHT_MM);
    let band = Band::new(Mm(2.75), Mm(9.0)).unwrap();
    let judged = |places: &[(f64, f64)], seats: usize| {
        let places = (0..seats).flat_map(|_| places);
        let station = |(at, &(x, y)): (usize, &(f64, f64))| Station {
            name: at.to_string(),
            at: Point::mm(x, y),
        };
        let stations: Vec<Station> = places.enumerate().map(station).collect();
        let found = fit(&gaps(|_, _| 3.0, &stations, 0.06), &board).unwrap();
        judge(&found, &points, band)
    };
    let near = [(-900.0, 0.0), (-500.0, 0.0), (-900.0, -400.0), (-500.0, -400.0)];
    let here = judged(&near, 1);
    assert_eq!((here.verdict, here.remedy), (Verdict::Unsure, Some(Remedy::StationThere)));
    // What it says is so: twice as many seats do not do it, two stations more at the far end do.
    assert_eq!(judged(&near, 2).verdict, Verdict::Unsure);
    let far = [near.as_slice(), &[(900.0, 0.0), (900.0, -1200.0)]].concat();
    assert_eq!(judged(&far, 1).verdict, Verdict::Within);
}

proptest! {
    /// More uncertainty never turns a verdict about, and never makes a doubtful one sure.
    #[test]
    fn verdict_is_monotone_in_uncertainty(value in -10.0..10.0f64, u in 0.0..5.0f64, more in 0.0..5.0f64, width in 0.1..8.0f64) {
        let band = Band::new(Mm(-width / 2.0), Mm(width / 2.0)).unwrap();
        let (sharp, blunt) = (decide(Mm(value), Mm(u), band), decide(Mm(value), Mm(u + more), band));
        prop_assert!(blunt == sharp || blunt == Verdict::Unsure);
    }

    /// Any plane whatever comes back from exact gaps, and no input of finite numbers panics.
    #[test]
    fn exact_gaps_give_the_plane_back(c in -20.0..20.0f64, p in -9.0..9.0f64, q in -9.0..9.0f64, u in 0.001..1.0f64) {
        let of = |x: f64, y: f64| c + (p * x + q * y) / 1000.0;
        let found = fit(&gaps(of, &edge(), u), &Board::flat()).unwrap();
        prop_assert!((found.plane.c_mm - c).abs() < 1e-9);
        prop_assert!((found.plane.p_mm_per_m - p).abs() < 1e-9);
        prop_assert!((found.plane.q_mm_per_m - q).abs() < 1e-9);
    }

    #[test]
    fn odd_numbers_are_refused_or_fitted_and_never_panic(values in proptest::collection::vec(proptest::num::f64::ANY, 15)) {
        let gaps = values.chunks(5).map(|v| GapObservation {
            dof: v[4],
            ..GapObservation::bare(v[0], v[1], v[2], v[3])
        }).collect();
        let observations = Observations { gaps, ..Observations::default() };
        if let Ok(found) = fit(&observations, &Board::flat()) {
            let verdict = judge(&found, &[Board::flat().point(0.0, 0.0)], Band::new(Mm(0.0), Mm(1.0)).unwrap());
            prop_assert!(verdict.points.len() == 1);
        }
    }
}

/// A scale that is wrong moves a gap of 5 mm one way, one of 1 mm the other, and one at which it was
/// found not at all: as the plane fitted to gaps that are off by it shows, everywhere.
#[test]
fn a_scale_keeps_its_sign_over_the_board() {
    let scale = SharedError::scale("stand-off scale", 0.02, 3.0);
    let plane = |x: f64, y: f64| 3.0 + 0.0015 * x - 0.0004 * y;
    let true_gaps = gaps(plane, &edge(), 0.03);
    let mut off = true_gaps.clone();
    off.gaps.iter_mut().for_each(|gap| gap.gap_mm += scale.effect_mm(gap.gap_mm));
    let mut known = true_gaps.clone();
    known.shared.push(scale.clone());
    let board = Board::flat();
    let [right, wrong, stated] = [&true_gaps, &off, &known].map(|o| fit(o, &board).unwrap());
    let mut signs = [0; 2];
    for station in edge() {
        let (x, y) = (station.at.x.0, station.at.y.0);
        let point = board.point(x, y);
        let (was, is) = (right.gap_at(&point), wrong.gap_at(&point));
        let shift_mm = is.gap_mm - was.gap_mm;
        assert!((stated.gap_at(&point).u_shared_mm - shift_mm.abs()).abs() < 1e-9, "{x} {y}");
        signs[usize::from(shift_mm > 0.0)] += 1;
    }
    assert!(signs[0] > 1 && signs[1] > 1, "{signs:?}");
    // The same in the plane's own covariance.
    let [c, p, q] = [
        wrong.plane.c_mm - right.plane.c_mm,
        wrong.plane.p_mm_per_m - right.plane.p_mm_per_m,
        wrong.plane.q_mm_per_m - right.plane.q_mm_per_m,
    ];
    let (with, without) = (stated.covariance(), right.covariance());
    for (row, a) in [c, p, q].into_iter().enumerate() {
        for (column, b) in [c, p, q].into_iter().enumerate() {
            assert!((with[row][column] - without[row][column] - a * b).abs() < 1e-12);
        }
    }
}
