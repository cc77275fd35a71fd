//! What all readings share keeps its sign over the board: the chance that is stated, beside the share
//! of simulated rounds (JCGM 101) in which the gap is truly out somewhere.

mod common;

use common::{Dice, screws};
use rand::SeedableRng;
use rand_pcg::Pcg64;
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::fit::fit;
use skimgauge_metrology::plane::ground::Ground;
use skimgauge_metrology::plane::observation::{GapObservation, Observations, SharedError};
use skimgauge_metrology::plane::prior::{BoardPrior, Expected};
use skimgauge_metrology::trim::feasible::whole_setting;
use skimgauge_metrology::trim::influence::Influence;
use skimgauge_metrology::trim::solve::travel;
use skimgauge_metrology::verdict::whole::judge_whole;
use skimgauge_quantity::{Band, Mm};

const SIZE_MM: [f64; 2] = [2024.7, 1265.4];
const TAKE_U_MM: f64 = 0.01;
const ROUNDS: usize = 4000;

fn edge() -> Vec<(f64, f64)> {
    let (w, h) = (SIZE_MM[0] / 2.0, -SIZE_MM[1]);
    vec![(-w, 0.0), (0.0, 0.0), (w, 0.0), (w, h / 2.0), (w, h), (0.0, h), (-w, h), (-w, h / 2.0)]
}

/// A board that does nothing by itself.
fn still() -> Expected {
    let solid = Expected::from(BoardPrior::Solid).with_local(0.002).with_lifts(0.0, 1.2);
    Expected { bulge_mm: 0.0, ..solid }
}

fn observed(shared: &[SharedError], gap: impl FnMut((f64, f64)) -> f64) -> Observations {
    let gaps = edge().into_iter().zip(edge().into_iter().map(gap));
    let gaps = gaps.map(|((x, y), gap)| GapObservation::bare(x, y, gap, TAKE_U_MM)).collect();
    Observations { gaps, lean: None, shared: shared.to_vec() }
}

/// The chance stated for readings of this plane, and the share of rounds in which what would read so
/// is truly out at a corner: each error drawn anew, and the gap what is left of the reading.
fn stated_and_true(shared: &[SharedError], plane: impl Fn(f64, f64) -> f64) -> (f64, f64) {
    let (board, band) = (Board::flat(), Band { low: Mm(2.0), high: Mm(5.0) });
    let ground = Ground::new(&board, SIZE_MM, still(), &edge());
    let read = observed(shared, |(x, y)| plane(x, y));
    let points = board.control_points(SIZE_MM[0], SIZE_MM[1]);
    let whole = judge_whole(&fit(&read, &board).unwrap(), &ground, &points, band, 1);
    let mut dice = Dice(Pcg64::seed_from_u64(11));
    let corners = [edge()[0], edge()[2], edge()[4], edge()[6]];
    let out = (0..ROUNDS).filter(|_| {
        let drawn: Vec<f64> = shared.iter().map(|_| dice.normal(1.0)).collect();
        let noise = observed(shared, |_| dice.normal(TAKE_U_MM));
        let off = fit(&noise, &board).unwrap().plane;
        corners.iter().any(|&(x, y)| {
            let gap = plane(x, y);
            let common: f64 = shared.iter().zip(&drawn).map(|(s, e)| e * s.effect_mm(gap)).sum();
            !band.contains(Mm(gap - off.height_mm(x, y) - common))
        })
    });
    (whole.between.chance, out.count() as f64 / ROUNDS as f64)
}

/// Whether a stated bound is one, and no looser than it need be.
fn assert_near(name: &str, (stated, truly): (f64, f64)) {
    println!("{name}: stated {stated:.4}, truly {truly:.4}");
    let by_chance = 3.0 * (truly * (1.0 - truly) / ROUNDS as f64).sqrt();
    assert!(stated >= 0.95 * truly - by_chance, "{name}: {stated} {truly}");
    assert!(stated <= 1.35 * truly + by_chance + 0.002, "{name}: {stated} {truly}");
}

#[test]
fn a_zero_that_is_wrong_moves_all_of_the_board_one_way() {
    let zero = [SharedError::even("zero", 0.1, f64::INFINITY)];
    for inside_mm in [0.05, 0.1, 0.15, 0.2, 0.25] {
        assert_near("parallel, low", stated_and_true(&zero, |_, _| 2.0 + inside_mm));
        assert_near("parallel, high", stated_and_true(&zero, |_, _| 5.0 - inside_mm));
        // One side near the low end, the other near the high one: out at one of them.
        let lean = |x: f64, _: f64| 3.5 + (1.5 - inside_mm) * 2.0 * x / SIZE_MM[0];
        assert_near("leaning", stated_and_true(&zero, lean));
    }
}

#[test]
fn temperature_beside_the_zero_and_a_scale_that_turns_its_sign() {
    let two = [
        SharedError::even("zero", 0.06, f64::INFINITY),
        SharedError::even("temperature", 0.08, f64::INFINITY),
    ];
    assert_near("zero and temperature", stated_and_true(&two, |_, _| 2.18));
    // Found at 3.5 mm: one way at the low end of the band, the other way at the high one.
    let scale =
        [SharedError::even("zero", 0.04, f64::INFINITY), SharedError::scale("scale", 0.06, 3.5)];
    assert_near("zero and scale, low", stated_and_true(&scale, |_, _| 2.2));
    let lean = |x: f64, _: f64| 3.5 + 1.3 * 2.0 * x / SIZE_MM[0];
    assert_near("zero and scale, leaning", stated_and_true(&scale, lean));
}

/// A gap that is held down at both ends of the band gains at one what it loses at the other, whatever
/// the zero: the best margin does not depend on it.
#[test]
fn the_best_margin_is_as_sure_as_what_differs_over_the_board() {
    let (board, band) = (Board::flat(), Band { low: Mm(2.0), high: Mm(3.0) });
    let zero = [SharedError::even("zero", 0.2, f64::INFINITY)];
    let ground = Ground::new(&board, SIZE_MM, still(), &edge());
    let points = board.control_points(SIZE_MM[0], SIZE_MM[1]);
    let adjusters = screws(10.0);
    let influence = Influence::of(&adjusters).unwrap();
    let mut dice = Dice(Pcg64::seed_from_u64(3));
    let mut margins = Vec::new();
    for _ in 0..20 {
        let e = dice.normal(0.2);
        let read = observed(&zero, |(x, _)| 2.5 + e + 0.1 * x / SIZE_MM[0]);
        let whole = judge_whole(&fit(&read, &board).unwrap(), &ground, &points, band, 1);
        let best = whole_setting(&ground, &whole.between, &influence, &travel(&adjusters), band);
        margins.push(best.unwrap());
    }
    let first = margins[0].setting.margin_mm;
    assert!(margins.iter().all(|m| (m.setting.margin_mm - first).abs() < 1e-9));
    assert!(margins.iter().all(|m| m.margin_u_mm < 0.03), "{}", margins[0].margin_u_mm);
}
