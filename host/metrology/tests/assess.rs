//! The whole answer: readings in, report out.

use proptest::prelude::*;
use skimgauge_metrology::assess::{AssessError, Assessment, MEASURABLE, Question, assess};
use skimgauge_metrology::plane::board::{Board, Unsurveyed};
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::report::{Feasibility, Report};
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::trim::solve::Hold;
use skimgauge_model::{Adjuster, Point, Sense, Verdict};
use skimgauge_quantity::{Band, Mm, Turns};

const WIDTH_MM: f64 = 2025.0;
const HEIGHT_MM: f64 = 1266.0;

fn adjusters(travel: f64) -> Vec<Adjuster> {
    [("left", -100.0, 60.0), ("right", 100.0, 60.0), ("upper", 0.0, 120.0)]
        .map(|(name, x_mm, y_mm)| Adjuster {
            name: name.into(),
            at: Point::mm(x_mm, y_mm),
            pitch: Mm(0.5),
            clockwise: if name == "upper" { Sense::In } else { Sense::Out },
            travel_clockwise: Turns(travel),
            travel_anticlockwise: Turns(travel),
        })
        .to_vec()
}

fn readings(of: impl Fn(f64, f64) -> f64) -> Observations {
    let mut gaps = Vec::new();
    for (row, y) in [("top", 0.0), ("middle", -HEIGHT_MM / 2.0), ("bottom", -HEIGHT_MM)] {
        for (column, x) in [("left", -WIDTH_MM / 2.0), ("", 0.0), ("right", WIDTH_MM / 2.0)] {
            if row != "middle" || !column.is_empty() {
                let station = Some(format!("{row} {column}").trim_end().to_owned());
                gaps.push(GapObservation { station, ..GapObservation::bare(x, y, of(x, y), 0.03) });
            }
        }
    }
    Observations { gaps, lean: None, shared: Vec::new() }
}

fn asked(
    observations: &Observations,
    board: &Board,
    band: Band<Mm>,
    travel: f64,
) -> (Assessment, Report) {
    let points = board.control_points(WIDTH_MM, HEIGHT_MM);
    let adjusters = adjusters(travel);
    let question = Question {
        observations,
        board,
        adjusters: &adjusters,
        band,
        points: &points,
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
    let assessment = assess(&question).unwrap();
    let report = assessment.report(&question);
    (assessment, report)
}

#[test]
fn a_leaning_plane_is_brought_to_the_middle_of_the_band() {
    let of = |x: f64, y: f64| 6.0 + 0.002 * x - 0.003 * y;
    let (assessment, report) =
        asked(&readings(of), &Board::flat(), Band::new(Mm(2.0), Mm(5.0)).unwrap(), 20.0);
    assert_eq!(
        (report.verdict, report.feasible, report.feasibility),
        (Verdict::Outside, true, Feasibility::Yes)
    );
    assert!((report.margin_mm.unwrap() - 1.5).abs() < 1e-9);
    let after = assessment.influence.turned(assessment.fit.plane, &assessment.setting.turns);
    assert!(
        (after.c_mm - 3.5).abs() < 1e-9
            && after.p_mm_per_m.abs() < 1e-9
            && after.q_mm_per_m.abs() < 1e-9
    );
    // At most one turn of each adjuster, counted or to a reading that the head can see.
    assert!((1..=3).contains(&report.turns.len()), "{:?}", report.turns);
    for turn in &report.turns {
        assert!(turn.turns > 0.0, "{turn:?}");
        assert_eq!(turn.dial_to_mm.is_some(), turn.at_station.is_some(), "{turn:?}");
        assert!(turn.dial_to_mm.is_none_or(|mm| MEASURABLE.contains(Mm(mm))), "{turn:?}");
        assert!(turn.sense == "clockwise" || turn.sense == "anticlockwise");
    }
    assert!(report.seconds.unwrap() > 0.0 && report.chance.is_some());
    let by_hand = report.by_hand.unwrap();
    assert!(by_hand.margin_mm > 1.2 && by_hand.margin_mm <= report.margin_mm.unwrap());
    for n in by_hand.turns {
        assert!((n * 36.0 - (n * 36.0).round()).abs() < 1e-6);
    }
}

/// Three takes see no bow at all. Whether a band much narrower than the board may bow can be met,
/// they cannot say, however flat the board looks to them.
#[test]
fn three_takes_do_not_promise_a_narrow_band_on_a_board_that_may_bow() {
    let gaps = [(-1012.0, 0.0, 3.0), (1012.0, 0.0, 3.2), (0.0, -1266.0, 3.1)]
        .map(|(x, y, gap)| GapObservation::bare(x, y, gap, 0.03))
        .to_vec();
    let observations = Observations { gaps, lean: None, shared: Vec::new() };
    let unknown = Unsurveyed {
        width_mm: WIDTH_MM,
        height_mm: HEIGHT_MM,
        bow_across_mm: 0.4,
        bow_down_mm: 0.4,
        twist_mm: 0.4,
    };
    let board = Board::unsurveyed(unknown);
    let called = |width_mm: f64| {
        asked(&observations, &board, Band::new(Mm(2.0), Mm(2.0 + width_mm)).unwrap(), 20.0).1
    };
    assert_eq!(called(0.5).feasibility, Feasibility::Unsure);
    assert_eq!(called(4.0).feasibility, Feasibility::Yes);
    assert!(called(0.5).margin_u_mm.unwrap() > 0.2);
}

/// A plane that is parallel and too far off is one turn of each adjuster, whatever the gaps on the
/// way.
#[test]
fn a_parallel_plane_is_three_turns_however_far_off() {
    for k in 1..8 {
        let of = |_: f64, _: f64| 2.5 + 1.0 * f64::from(k);
        let (_, report) =
            asked(&readings(of), &Board::flat(), Band::new(Mm(1.0), Mm(4.0)).unwrap(), 40.0);
        assert!(report.turns.len() <= 3, "{:?}", report.turns);
        assert!(k == 1 || report.turns.len() == 3, "{k}: {:?}", report.turns);
    }
}

#[test]
fn the_report_has_the_documented_fields_and_comes_back() {
    let of = |x: f64, y: f64| 3.0 + 0.0002 * x - 0.0001 * y;
    let (_, report) =
        asked(&readings(of), &Board::flat(), Band::new(Mm(2.0), Mm(5.0)).unwrap(), 20.0);
    let json = serde_json::to_value(&report).unwrap();
    for field in [
        "schema",
        "plane",
        "chi_square",
        "dof",
        "points",
        "verdict",
        "feasible",
        "margin_mm",
        "turns",
    ] {
        assert!(!json[field].is_null(), "{field}");
    }
    for field in ["c_mm", "p_mm_per_m", "q_mm_per_m", "covariance"] {
        assert!(!json["plane"][field].is_null(), "{field}");
    }
    for field in ["x_mm", "y_mm", "gap_mm", "u_mm", "expanded_mm", "verdict"] {
        assert!(!json["points"][0][field].is_null(), "{field}");
        assert_eq!(
            json["points"][4][field].is_null(),
            field == "verdict",
            "nobody looked in the middle"
        );
        assert!(!json["places"][0][field].is_null(), "{field}");
    }
    assert_eq!(json["judged_at"].as_array().unwrap().len(), 8, "{json}");
    assert_eq!(
        (json["checked"].as_bool(), json["consistency"]["odd"].is_null()),
        (Some(true), true),
        "{json}"
    );
    for turn in json["turns"].as_array().unwrap() {
        for field in ["adjuster", "turns", "sense", "outside_band"] {
            assert!(!turn[field].is_null(), "{field}");
        }
    }
    assert_eq!((json["schema"].as_u64(), json["verdict"].as_str()), (Some(2), Some("within")));
    let back: Report = serde_json::from_value(json).unwrap();
    assert_eq!(back.schema, report.schema);
    assert_eq!(back.turns.len(), report.turns.len());
}

#[test]
fn a_twisted_board_that_no_setting_can_pass_is_told_with_its_corners() {
    let of = |x: f64, y: f64| 3.0 + 2.0 * (x / WIDTH_MM * 2.0) * (y / HEIGHT_MM * 2.0 + 1.0);
    let board = Board::unsurveyed(Unsurveyed {
        width_mm: WIDTH_MM,
        height_mm: HEIGHT_MM,
        bow_across_mm: 0.7,
        bow_down_mm: 0.7,
        twist_mm: 1.0,
    });
    let (assessment, report) =
        asked(&readings(of), &board, Band::new(Mm(2.0), Mm(5.0)).unwrap(), 20.0);
    assert!(!report.feasible);
    assert_eq!((report.feasibility, report.verdict), (Feasibility::No, Verdict::Outside));
    let (margin_mm, margin_u_mm) = (report.margin_mm.unwrap(), report.margin_u_mm.unwrap());
    assert!((margin_mm - -0.5).abs() < 0.02, "short by half a millimetre: {margin_mm}");
    assert!(margin_u_mm > 0.0 && margin_u_mm < 0.05);
    let corners = [0, 2, 6, 8];
    for (hold, weight) in &assessment.setting.holds {
        let (Hold::Low { spot } | Hold::High { spot }) = hold else {
            panic!("travel is not in the way")
        };
        assert!(corners.contains(spot) && (weight - 0.25).abs() < 1e-6);
    }
    assert_eq!(report.holds.len(), 4);
    assert!(report.turns.iter().all(|turn| turn.turns.is_finite()));
}

#[test]
fn screws_without_travel_are_what_holds() {
    let of = |x: f64, y: f64| 6.0 + 0.002 * x - 0.003 * y;
    let (_, report) =
        asked(&readings(of), &Board::flat(), Band::new(Mm(2.0), Mm(5.0)).unwrap(), 0.25);
    assert!(!report.feasible);
    assert!(report.holds.iter().any(|h| h.by == "travel" && h.adjuster.is_some()));
}

#[test]
fn two_or_four_adjusters_are_refused() {
    let observations = readings(|_, _| 3.0);
    let board = Board::flat();
    let points = board.control_points(WIDTH_MM, HEIGHT_MM);
    let adjusters = adjusters(5.0);
    let question = Question {
        observations: &observations,
        board: &board,
        adjusters: &adjusters[..2],
        band: Band::new(Mm(2.0), Mm(5.0)).unwrap(),
        points: &points,
        live: &[],
        held: &[],
        measurable: MEASURABLE,
        smallest_turn: None,
        seat_u_mm: 0.05,
        came_back: &[],
        unread: None,
        person: Person::default(),
        earlier: None,
        contradicted: false,
        more_is_judged: false,
    };
    assert_eq!(assess(&question), Err(AssessError::NotThree { given: 2 }));
}

proptest! {
    /// Whatever the plane and the board: the solved setting keeps every point `margin` inside the band, no turn exceeds
    /// its travel, and three turns of a plan bring it where they say.
    #[test]
    fn the_setting_does_what_it_says(
        c in 0.5..12.0f64, p in -4.0..4.0f64, q in -4.0..4.0f64,
        bow in -0.6..0.6f64, twist in -0.6..0.6f64, low in 1.0..3.0f64, width in 0.5..3.0f64,
    ) {
        let of = |x: f64, y: f64| {
            let (a, d) = (2.0 * x / WIDTH_MM, 2.0 * y / HEIGHT_MM + 1.0);
            c + (p * x + q * y) / 1000.0 + bow * a * a + twist * a * d
        };
        let board = Board::unsurveyed(Unsurveyed {
            width_mm: WIDTH_MM, height_mm: HEIGHT_MM, bow_across_mm: 0.6, bow_down_mm: 0.6, twist_mm: 0.6,
        });
        let band = Band::new(Mm(low), Mm(low + width)).unwrap();
        let (assessment, report) = asked(&readings(of), &board, band, 20.0);
        let gaps_at = |turns: &[f64; 3]| -> Vec<f64> {
            assessment.verdict.points.iter().map(|j| {
                let effect = assessment.influence.effect(j.point.x_mm, j.point.y_mm);
                j.gap.gap_mm + (0..3).map(|i| effect[i] * turns[i]).sum::<f64>()
            }).collect()
        };
        let setting = &assessment.setting;
        let end = gaps_at(&setting.turns);
        let least = end.iter().map(|g| band.inside(Mm(*g)).0).fold(f64::INFINITY, f64::min);
        prop_assert!((least - setting.margin_mm).abs() < 1e-8);
        prop_assert!(setting.turns.iter().all(|n| n.abs() <= 20.0 + 1e-9));
        // No other setting near it does better.
        for i in 0..3 {
            for step in [-1e-3, 1e-3] {
                let mut other = setting.turns;
                other[i] += step;
                let gaps = gaps_at(&other);
                let margin = gaps.iter().map(|g| band.inside(Mm(*g)).0).fold(f64::INFINITY, f64::min);
                prop_assert!(margin <= setting.margin_mm + 1e-9 || other[i].abs() > 20.0);
            }
        }
        prop_assert!(assessment.plan.as_ref().unwrap().instructions.len() <= 3);
        if let Some(by_hand) = report.by_hand {
            prop_assert!(by_hand.margin_mm <= setting.margin_mm + 1e-9);
            prop_assert!(by_hand.turns.iter().all(|n| (n * 36.0 - (n * 36.0).round()).abs() < 1e-6));
        }
    }
}
