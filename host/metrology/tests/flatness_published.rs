//! Flatness held against the check sets: least squares, the zone along z, and the minimum zone with
//! its proof.
//!
//! Values computed for this project with numpy and scipy 1.17.1 (exhaustive over hull facets and
//! edge pairs, optima re-solved in exact fractions) or by hand; each data file says which. Moody's
//! plate is the published example of 1955.

mod common;
mod table;

use common::Dice;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use skimgauge_metrology::flatness::form::form;
use skimgauge_metrology::flatness::proof::Proof;
use skimgauge_metrology::flatness::zone::{Contact, minimum, vertical};
use skimgauge_metrology::flatness::{FlatnessError, HeightAt, least_squares};
use table::Table;

fn places(table: &Table, columns: [&str; 3]) -> Vec<HeightAt> {
    (0..table.len()).map(|r| columns.map(|c| table.number(c, r))).collect()
}

fn near(got: f64, want: f64, digits: f64, what: &str) {
    assert!(
        (got - want).abs() <= 1e-12 + want.abs() * 10f64.powf(-digits),
        "{what}: got {got}, want {want}"
    );
}

struct Want {
    /// Least-squares peak to valley; zone along z; minimum zone.
    widths: [f64; 3],
    two_and_two: bool,
}

fn check(name: &str, text: &str, columns: [&str; 3], want: &Want) {
    let table = Table::read(text);
    let places = places(&table, columns);
    let squares = least_squares(&places).unwrap();
    near(squares.peak_to_valley, want.widths[0], 8.0, &format!("{name}: least squares"));
    let zone = vertical(&places).unwrap();
    near(zone.width, want.widths[1], 9.0, &format!("{name}: zone along z"));
    for &[x, y, z] in &places {
        let off = z - zone.a - zone.b * x - zone.c * y;
        assert!(
            off.abs() <= zone.width / 2.0 * (1.0 + 1e-9) + 1e-12,
            "{name}: a place outside the zone"
        );
    }
    let least = minimum(&places).unwrap();
    near(least.width, want.widths[2], 9.0, &format!("{name}: minimum zone"));
    assert!(least.is_proved(&places, 1e-6), "{name}: {:?}", least.contact);
    assert_eq!(
        matches!(least.contact, Contact::TwoAndTwo { .. }),
        want.two_and_two,
        "{name}: {:?}",
        least.contact
    );
}

#[test]
fn wall_grid_f1() {
    let text = include_str!("data/flat_f1_grid35.csv");
    let want = Want { widths: [1.07412992739, 1.01796401205, 1.01795929173], two_and_two: true };
    check("F1", text, ["x", "y", "z"], &want);
    let places = places(&Table::read(text), ["x", "y", "z"]);
    let zone = vertical(&places).unwrap();
    near(zone.width / 2.0, 81_436_103.0 / 159_998_000.0, 13.0, "exact fraction");
    let least = minimum(&places).unwrap();
    for (got, want) in least.normal.iter().zip([-0.00215926697835, 0.00214746005218, 0.99999536298])
    {
        assert!((got - want).abs() < 1e-11);
    }
    let Contact::TwoAndTwo { mut upper, mut lower } = least.contact else { panic!("2-2") };
    upper.sort_unstable();
    lower.sort_unstable();
    assert_eq!((upper, lower), ([10, 28], [0, 32]));
    let squares = least_squares(&places).unwrap();
    assert_eq!((squares.highest, squares.lowest), (10, 0));
    near(squares.rms, 0.245105013316, 9.0, "rms");
}

#[test]
fn constructed_f3() {
    let want = Want { widths: [0.5551886449, 0.5, 0.5], two_and_two: false };
    check("F3", include_str!("data/flat_f3_known31.csv"), ["x", "y", "z"], &want);
}

#[test]
fn tetrahedron_f5() {
    let want = Want { widths: [2.0, 2.0, 2.0], two_and_two: true };
    check("F5", include_str!("data/flat_f5_tetra.csv"), ["x", "y", "z"], &want);
}

#[test]
fn twisted_square_f6() {
    let want = Want { widths: [1.0, 1.0, 1.0], two_and_two: true };
    check("F6", include_str!("data/flat_f6_saddle4.csv"), ["x", "y", "z"], &want);
}

#[test]
fn five_points_f7() {
    let want =
        Want { widths: [0.072097313176, 4103.0 / 61000.0, 0.0672620575281], two_and_two: true };
    check("F7", include_str!("data/flat_f7_public5.csv"), ["x", "y", "z"], &want);
}

/// J. C. Moody, The Tool Engineer, October 1955: a 48 by 72 inch plate, heights in microinches.
#[test]
fn surface_plate_of_1955() {
    let text = include_str!("data/flat_moody1955.csv");
    let places = places(&Table::read(text), ["x_in", "y_in", "z_uin"]);
    assert_eq!(places.len(), 126);
    near(least_squares(&places).unwrap().peak_to_valley, 175.605714, 8.0, "least squares");
    near(vertical(&places).unwrap().width, 163.673, 9.0, "zone along z");
    // Heights brought to inches, as they stand to the plate; slopes are then about one in a
    // million.
    let inches: Vec<HeightAt> = places.iter().map(|p| [p[0], p[1], p[2] * 1e-6]).collect();
    let least = minimum(&inches).unwrap();
    near(least.width * 1e6, 163.673, 8.0, "minimum zone");
    assert!(least.is_proved(&inches, 1e-6));
}

/// Turning a survey in space moves nothing: the minimum zone stays as thick as it was.
#[test]
fn the_minimum_zone_does_not_depend_on_how_the_survey_stands() {
    let places = places(&Table::read(include_str!("data/flat_f1_grid35.csv")), ["x", "y", "z"]);
    let want = minimum(&places).unwrap().width;
    for (about_x, about_y) in [(0.2, 0.0), (0.0, -0.5), (0.4, 0.7)] {
        let turn = nalgebra::Rotation3::from_euler_angles(about_x, about_y, 0.3);
        let turned: Vec<HeightAt> =
            places.iter().map(|p| (turn * nalgebra::Vector3::from(*p)).into()).collect();
        near(minimum(&turned).unwrap().width, want, 8.0, "turned");
    }
}

#[test]
fn bow_twist_and_a_bump_are_told_apart() {
    let (width, height) = (2000.0, 1250.0);
    let mut places = Vec::new();
    for row in 0..9 {
        for column in 0..13 {
            let (x, y) =
                (-1000.0 + f64::from(column) * width / 12.0, -f64::from(row) * height / 8.0);
            let (a, d) = (2.0 * x / width, 2.0 * y / height + 1.0);
            let ripple = 0.005 * f64::from((row * 7 + column * 11) % 5 - 2);
            places.push([
                x,
                y,
                4.0 + 0.3 * a + 0.8 * (1.0 - a * a) - 0.25 * (1.0 - d * d) + 0.4 * a * d + ripple,
            ]);
        }
    }
    places[40][2] += 0.5;
    let found = form(&places, width, height, 0.01).unwrap();
    assert!((found.bow_across_mm - 0.8).abs() < 0.01);
    assert!((found.bow_down_mm - -0.25).abs() < 0.01);
    assert!((found.twist_mm - 0.4).abs() < 0.01);
    assert_eq!(found.bumps.len(), 1);
    assert_eq!(found.bumps[0].place, 40);
    assert!((found.bumps[0].height_mm - 0.5).abs() < 0.02);
}

#[test]
fn what_makes_no_plane_is_refused() {
    assert_eq!(least_squares(&[[0.0; 3]; 2]), Err(FlatnessError::TooFew { given: 2 }));
    let line = [[0.0, 0.0, 1.0], [1.0, 1.0, 2.0], [2.0, 2.0, 1.0], [3.0, 3.0, 5.0]];
    assert_eq!(least_squares(&line), Err(FlatnessError::InALine));
    assert_eq!(minimum(&line), Err(FlatnessError::InALine));
    let bad = [[0.0, 0.0, 1.0], [1.0, f64::NAN, 2.0], [2.0, 1.0, 1.0]];
    assert_eq!(vertical(&bad), Err(FlatnessError::NotFinite { at: 1 }));
    assert!(form(&[[0.0, 0.0, 0.0]; 6], 1.0, 1.0, 0.0).is_err());
    // Without the middle of an edge, the two bows cannot be told apart: two unknowns share the
    // middle.
    let corners =
        [[-1000.0, 0.0, 0.0], [1000.0, 0.0, 0.0], [1000.0, -1250.0, 0.0], [-1000.0, -1250.0, 0.0]];
    let middle = [0.0, -625.0, 0.5];
    let ambiguous: Vec<HeightAt> = corners.iter().chain([&middle, &middle]).copied().collect();
    assert_eq!(form(&ambiguous, 2000.0, 1250.0, 0.01), Err(FlatnessError::InALine));
    let six: Vec<HeightAt> = corners.iter().chain([&middle, &[0.0, 0.0, 0.25]]).copied().collect();
    assert!(
        form(&six, 2000.0, 1250.0, 0.01).unwrap().residuals_mm.iter().all(|mm| mm.abs() < 1e-9)
    );
    let flat = [[0.0, 0.0, 1.0], [1.0, 0.0, 1.0], [0.0, 1.0, 1.0], [1.0, 1.0, 1.0]];
    let zone = minimum(&flat).unwrap();
    assert!(zone.width.abs() < 1e-12 && zone.contact == Contact::Fewer);
}

/// Two rows close together: a zone on their side, square to the rows' distance, may be thinner than
/// the one seen from above. A hand's check: two rows 1 mm apart whose heights swing by 3 mm.
#[test]
fn places_in_two_rows_are_searched_whole_or_said_to_be_local() {
    let two_rows = |count: u32| -> Vec<HeightAt> {
        (0..count)
            .map(|k| {
                let swing = if k / 2 % 2 == 0 { 0.0 } else { 3.0 };
                [f64::from(k / 2) * 200.0, f64::from(k % 2), swing]
            })
            .collect()
    };
    let few = two_rows(20);
    let least = minimum(&few).unwrap();
    near(least.width, 1.0, 9.0, "the rows' distance");
    assert_eq!(least.proof(&few, 1e-6), Proof::Global);
    // Too many to look at every zone: what is found near the start is not called proved.
    let many = two_rows(400);
    let found = minimum(&many).unwrap();
    assert!(!found.is_proved(&many, 1e-6));
    // The same rows a board's height apart: from above there is no thinner one.
    let board: Vec<HeightAt> = many.iter().map(|p| [p[0], 1200.0 * p[1], p[2]]).collect();
    let found = minimum(&board).unwrap();
    assert_eq!(found.proof(&board, 1e-6), Proof::Global, "{found:?}");
    // All but in a line: the line's own bend shows from the side.
    let bent: Vec<HeightAt> = (0..12)
        .map(|k| {
            let x = f64::from(k) * 100.0;
            [x, 0.002 * f64::from(k * k % 5), (x / 300.0).sin()]
        })
        .collect();
    let least = minimum(&bent).unwrap();
    assert!(least.width <= 0.008 + 1e-9, "{least:?}");
    assert_eq!(least.proof(&bent, 1e-6), Proof::Global);
}

/// The narrow clouds of a seeded search: no direction of many tried is thinner than what is called
/// proved globally.
#[test]
fn nothing_is_thinner_than_what_is_proved() {
    let mut dice = Dice(Pcg64::seed_from_u64(5));
    for _ in 0..40 {
        let wide = 10f64.powf(dice.uniform(-1.0, 3.0));
        let cloud: Vec<HeightAt> = (0..12)
            .map(|_| [dice.uniform(0.0, 1000.0), dice.uniform(0.0, wide), dice.uniform(0.0, 2.0)])
            .collect();
        let Ok(least) = minimum(&cloud) else { continue };
        assert_eq!(least.proof(&cloud, 1e-6), Proof::Global);
        for _ in 0..4000 {
            let normal = nalgebra::Vector3::new(
                dice.uniform(-0.01, 0.01),
                dice.uniform(-1.0, 1.0),
                dice.uniform(0.0, 1.0),
            )
            .normalize();
            let heights = cloud.iter().map(|p| normal.dot(&nalgebra::Vector3::from(*p)));
            let most = heights.clone().fold(f64::NEG_INFINITY, f64::max);
            let width = most - heights.fold(f64::INFINITY, f64::min);
            assert!(width >= least.width * (1.0 - 1e-9), "{width} {least:?}");
        }
    }
}
