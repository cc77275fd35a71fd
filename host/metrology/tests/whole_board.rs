//! The verdict over the whole board: what is said where nobody looked.

mod boards;
mod common;

use boards::{HEIGHT_MM, Kind, WIDTH_MM, edge, unsurveyed};
use common::Dice;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use skimgauge_metrology::flatness::zone::vertical;
use skimgauge_metrology::plane::between::MOST_CHANCE;
use skimgauge_metrology::plane::board::{Board, Shape};
use skimgauge_metrology::plane::choice::stations_to_take;
use skimgauge_metrology::plane::fit::fit;
use skimgauge_metrology::plane::ground::{GRID, Ground};
use skimgauge_metrology::plane::looking::places_to_survey;
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::plane::prior::{BoardPrior, Expected};
use skimgauge_metrology::plane::surface::Surface;
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::verdict::whole::{WholeVerdict, judge_whole};
use skimgauge_model::{Point, Station, Verdict};
use skimgauge_quantity::{Band, Mm};

const U_MM: f64 = 0.05;
const SIZE_MM: [f64; 2] = [WIDTH_MM, HEIGHT_MM];

fn band(width_mm: f64) -> Band<Mm> {
    Band { low: Mm(2.0), high: Mm(2.0 + width_mm) }
}

fn gaps(at: &[(f64, f64)], gap: &mut dyn FnMut(f64, f64) -> f64) -> Observations {
    let gaps = at.iter().map(|&(x, y)| GapObservation::bare(x, y, gap(x, y), U_MM)).collect();
    Observations { gaps, lean: None, shared: Vec::new() }
}

fn judged(
    board: &Board,
    observations: &Observations,
    prior: impl Into<Expected>,
    band: Band<Mm>,
    looks: u32,
) -> (Ground, WholeVerdict) {
    let read: Vec<(f64, f64)> = observations.gaps.iter().map(|g| (g.x_mm, g.y_mm)).collect();
    let ground = Ground::new(board, SIZE_MM, prior, &read);
    let found = fit(observations, board).unwrap();
    let points = board.control_points(WIDTH_MM, HEIGHT_MM);
    let whole = judge_whole(&found, &ground, &points, band, looks);
    (ground, whole)
}

#[test]
fn readings_at_the_edge_raise_the_allowance_and_never_lower_it() {
    let middle = |whole: &WholeVerdict| whole.between.places[GRID.0 * 10 + 8].u_local_mm;
    let amplitude = BoardPrior::Unknown.local().amplitude_mm;
    let mut last = 0.0;
    for off_mm in [0.0, 0.3, 0.8, 1.5] {
        // One station stands off; read again it was the same, so the board is believed.
        let board = unsurveyed().believed(BoardPrior::Unknown);
        let mut gap = |x: f64, y: f64| 3.5 + if (x, y) == edge()[2] { off_mm } else { 0.0 };
        let observations = gaps(&edge(), &mut gap);
        let (_, whole) = judged(&board, &observations, BoardPrior::Unknown, band(3.0), 1);
        assert!(whole.between.raised >= 1.0 && middle(&whole) >= 0.99 * amplitude);
        assert!(middle(&whole) >= last, "{off_mm}: {} {last}", middle(&whole));
        last = middle(&whole);
    }
    assert!(last > 1.3 * amplitude, "{last}");
}

/// The prior is the job's: on a solid board eight stations say all of it, on an unknown one they do
/// not, and then it is said where to look, for how long, and after that look it is within.
#[test]
fn what_the_edge_does_not_show_is_looked_for_where_it_matters() {
    let board = unsurveyed();
    let observations = gaps(&edge(), &mut |_, _| 2.75);
    let in_the_middle = gaps(&edge(), &mut |_, _| 3.2);
    let (_, solid) = judged(&board, &in_the_middle, BoardPrior::Solid, band(2.4), 1);
    assert_eq!(solid.verdict, Verdict::Within, "{}", solid.between.chance);
    let (ground, unknown) = judged(&board, &observations, BoardPrior::Unknown, band(1.5), 1);
    assert!(unknown.only_between() && unknown.verdict == Verdict::Unsure);
    let (_, wide) = judged(&board, &observations, BoardPrior::Unknown, band(3.6), 1);
    assert_eq!(wide.between.verdict, Verdict::Unsure, "low side is no farther");
    let person = Person::default();
    let look =
        places_to_survey(&ground, &unknown.between, ground.read(), band(1.5), U_MM, &person, 1);
    assert!(look.settles && look.chance_after <= MOST_CHANCE, "{look:?}");
    assert!((20..=80).contains(&look.places.len()), "{}", look.places.len());
    let seconds = person.walk_s + person.place_s * look.places.len() as f64;
    assert!((look.seconds - seconds).abs() < 1e-9);
    let places = look.places.iter().chain(&edge()).map(|&(x, y)| [x, y, -2.75]).collect();
    let surface = Surface::new(places, U_MM, SIZE_MM, BoardPrior::Unknown).unwrap();
    let board = Board::surveyed(Shape::Surface(surface), 0.0);
    let (_, after) = judged(&board, &observations, BoardPrior::Unknown, band(1.5), 1);
    assert_eq!(after.verdict, Verdict::Within, "{}", after.between.chance);
    // Whoever has looked before is promised no more than what is then said: more places are asked for.
    let mut fewer = look.places.len();
    for looks in [2, 3, 4, 5, 7] {
        let read = ground.read();
        let look =
            places_to_survey(&ground, &unknown.between, read, band(1.5), U_MM, &person, looks);
        if !look.settles {
            break;
        }
        assert!(look.places.len() >= fewer, "{looks} looks: {}", look.places.len());
        fewer = look.places.len();
        let places = look.places.iter().chain(&edge()).map(|&(x, y)| [x, y, -2.75]).collect();
        let surface = Surface::new(places, U_MM, SIZE_MM, BoardPrior::Unknown).unwrap();
        let board = Board::surveyed(Shape::Surface(surface), 0.0);
        let (_, after) = judged(&board, &observations, BoardPrior::Unknown, band(1.5), looks);
        assert_eq!(after.verdict, Verdict::Within, "{looks} looks: {}", after.between.chance);
    }
}

#[test]
fn a_lift_that_the_survey_found_is_outside_where_it_is() {
    let lift = |x: f64, y: f64| {
        1.2 * (-((x - 506.0).powi(2) + (y + 316.0).powi(2)) / (2.0 * 150f64.powi(2))).exp()
    };
    let at: Vec<(f64, f64)> = (0..63)
        .map(|k| {
            let (across, down) = (f64::from(k % 9) / 8.0 - 0.5, f64::from(k / 9) / 6.0);
            (across * WIDTH_MM, -down * HEIGHT_MM)
        })
        .collect();
    let places = at.iter().map(|&(x, y)| [x, y, lift(x, y)]).collect();
    let surface = Surface::new(places, U_MM, SIZE_MM, BoardPrior::Unknown).unwrap();
    let board = Board::surveyed(Shape::Surface(surface), 0.0);
    let observations = gaps(&edge(), &mut |x, y| 2.75 - lift(x, y));
    let (_, whole) = judged(&board, &observations, BoardPrior::Unknown, band(1.5), 1);
    assert_eq!(whole.verdict, Verdict::Outside);
    let worst = whole.between.worst_place().unwrap();
    assert!((worst.x_mm - 506.0).hypot(worst.y_mm + 316.0) < 100.0, "{worst:?}");
}

/// Whoever looks until it passes is right less often: the more looks, the less may be left.
#[test]
fn repeated_looks_are_counted() {
    let board = unsurveyed();
    let straight = Expected { bulge_mm: 0.0, ..BoardPrior::Unknown.into() };
    let mut said = [0; 3];
    for step in 0..40 {
        let gap_mm = 3.2 + 0.01 * f64::from(step);
        let observations = gaps(&edge(), &mut |_, _| gap_mm);
        for (count, looks) in said.iter_mut().zip([1, 4, 6]) {
            let (_, whole) = judged(&board, &observations, straight, band(3.0), looks);
            *count += i32::from(whole.verdict == Verdict::Within);
        }
    }
    assert!(said[0] > said[1] && said[1] > said[2] && said[2] > 0, "{said:?}");
}

/// A middle that nobody read may stand 1.6 mm out between straight edges, with readings at the edge that
/// know nothing of it: `within` is not said, the middle is asked for, and once it is read as the edge is,
/// nothing is in the way.
#[test]
fn a_bulge_between_straight_edges_is_not_judged_from_the_edge() {
    let (board, middle) = (unsurveyed(), (0.0, -HEIGHT_MM / 2.0));
    for prior in [BoardPrior::Unknown, BoardPrior::StudWall] {
        let observations = gaps(&edge(), &mut |_, _| 3.5);
        let (ground, whole) = judged(&board, &observations, prior, band(3.0), 1);
        assert_eq!((whole.at_places.verdict, whole.verdict), (Verdict::Within, Verdict::Unsure));
        let person = Person::default();
        let look =
            places_to_survey(&ground, &whole.between, ground.read(), band(3.0), U_MM, &person, 1);
        let apart = |p: &(f64, f64)| (p.0 - middle.0).hypot(p.1 - middle.1);
        let in_it = look.places.iter().any(|place| apart(place) < 200.0);
        assert!(in_it && look.settles && look.places.len() < 5, "{look:?}");
        let mut at = edge();
        at.extend(look.places);
        let observations = gaps(&at, &mut |_, _| 3.5);
        let (_, whole) = judged(&board, &observations, prior, band(3.0), 1);
        assert_eq!(whole.verdict, Verdict::Within, "{}", whole.between.chance);
    }
    // The same surveyed: a bulge that was read is a bulge, and its flanks with it.
    let bulge = |x: f64, y: f64| {
        let (a, d) = (2.0 * x / WIDTH_MM, 2.0 * y / HEIGHT_MM + 1.0);
        1.6 * (1.0 - a * a) * (1.0 - d * d)
    };
    let places = edge().into_iter().chain([middle]).map(|(x, y)| [x, y, bulge(x, y)]).collect();
    let surface = Surface::new(places, U_MM, SIZE_MM, BoardPrior::Unknown).unwrap();
    for (x, y) in [(300.0, -400.0), (-500.0, -900.0), (0.0, -300.0)] {
        let found = surface.at(x, y);
        assert!((found.height_mm - bulge(x, y)).abs() < 0.1 + found.u_mm, "{x} {y} {found:?}");
        assert!((found.height_mm - bulge(x, y)).abs() < 0.25, "{x} {y} {found:?}");
    }
}

/// Boards set as well as they can be and judged from eight edge stations and the middle: of all `within`
/// said, at most one in forty is false anywhere on the fine grid, on every kind of board and for each
/// band.
#[test]
fn within_from_the_edge_and_the_middle_is_hardly_ever_false_between() {
    let mut said_at_all = 0;
    let mut at = edge();
    at.push((0.0, -HEIGHT_MM / 2.0));
    for kind in boards::KINDS {
        for width_mm in [3.0, 1.5] {
            let (mut said, mut wrong) = (0, 0);
            for seed in 0..120 {
                let mut dice = Dice(Pcg64::seed_from_u64(1000 + seed));
                let shape = boards::Shape::new(kind, &mut dice);
                let board = unsurveyed();
                let points = Ground::new(&board, SIZE_MM, BoardPrior::Unknown, &[]);
                let truth: Vec<[f64; 3]> = points
                    .points()
                    .iter()
                    .map(|p| [p.x_mm, p.y_mm, shape.at(p.x_mm, p.y_mm)])
                    .collect();
                let zone = vertical(&truth).unwrap();
                let band = band(width_mm);
                let gap = |x: f64, y: f64| {
                    band.middle().0 + zone.a + zone.b * x + zone.c * y - shape.at(x, y)
                };
                let observations = gaps(&at, &mut |x, y| gap(x, y) + dice.normal(U_MM));
                let (_, whole) = judged(&board, &observations, BoardPrior::Unknown, band, 1);
                if whole.verdict == Verdict::Within {
                    said += 1;
                    let inside = |p: &[f64; 3]| band.contains(Mm(gap(p[0], p[1])));
                    wrong += i32::from(!truth.iter().all(inside));
                }
            }
            println!("{kind:?} {width_mm}: said {said}, wrong {wrong}");
            assert!(f64::from(wrong) <= 0.025 * f64::from(said) + 1.0, "{kind:?} {width_mm}");
            assert!(kind != Kind::Flat || width_mm < 3.0 || said > 100, "{said}");
            said_at_all += said;
        }
    }
    assert!(said_at_all > 300, "{said_at_all}");
}

/// A wide band needs the fewest stations, a narrow one more; another round that costs nothing asks
/// for no more than the fewest.
#[test]
fn stations_are_taken_as_long_as_they_are_worth_their_seconds() {
    let board = unsurveyed();
    let points = board.control_points(WIDTH_MM, HEIGHT_MM);
    let stations: Vec<Station> = edge()
        .into_iter()
        .enumerate()
        .map(|(k, (x, y))| Station { name: format!("{k}"), at: Point::mm(x, y) })
        .collect();
    let person = Person::default();
    let count = |typical_mm: f64, round_s: f64| {
        stations_to_take(&stations, &points, &board, typical_mm, &person, round_s).len()
    };
    assert_eq!(count(1.2, 0.0), 3);
    let (wide, narrow) = (count(1.2, 150.0), count(0.3, 600.0));
    assert!((3..=5).contains(&wide) && narrow > wide, "{wide} {narrow}");
    let two = &stations[..2];
    let none = stations_to_take(two, &points, &board, 1.0, &person, 100.0);
    assert!(none.is_empty());
}
