//! What readings at single places cannot show is said with the verdict.

mod boards;
mod common;

use boards::{HEIGHT_MM, UNKNOWN, WIDTH_MM, edge};
use common::Dice;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use skimgauge_metrology::plane::board::{Board, Shape};
use skimgauge_metrology::plane::fit::fit;
use skimgauge_metrology::plane::ground::Ground;
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::plane::prior::{BoardPrior, Expected};
use skimgauge_metrology::plane::surface::Surface;
use skimgauge_metrology::plane::unseen::{LookedOver, Unseen};
use skimgauge_metrology::verdict::whole::{WholeVerdict, judge_whole};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Mm};

const SIZE_MM: [f64; 2] = [WIDTH_MM, HEIGHT_MM];
const U_MM: f64 = 0.03;

/// A survey of so many columns and rows, between the edges and on them.
fn surveyed(columns: usize, rows: usize, height: impl Fn(f64, f64) -> f64) -> Board {
    let at = |k: usize, of: usize| k as f64 / (of - 1) as f64;
    let places = (0..columns * rows).map(|k| {
        let (x, y) =
            ((at(k % columns, columns) - 0.5) * WIDTH_MM, -at(k / columns, rows) * HEIGHT_MM);
        [x, y, height(x, y)]
    });
    let surface = Surface::new(places.collect(), U_MM, SIZE_MM, BoardPrior::Unknown).unwrap();
    Board::surveyed(Shape::Surface(surface), 0.0)
}

fn judged(board: &Board, expected: Expected, gap_mm: f64, width_mm: f64) -> WholeVerdict {
    let gaps = edge().into_iter().map(|(x, y)| GapObservation::bare(x, y, gap_mm, U_MM)).collect();
    let observations = Observations { gaps, lean: None, shared: Vec::new() };
    let found = fit(&observations, board).unwrap();
    let ground = Ground::new(board, SIZE_MM, expected, &edge());
    let points = board.control_points(WIDTH_MM, HEIGHT_MM);
    let band = Band { low: Mm(2.0), high: Mm(2.0 + width_mm) };
    judge_whole(&found, &ground, &points, band, 1)
}

/// A dent 60 mm across and 0.6 mm deep, which the survey does not meet, is in no reading: `within` is
/// said, and with it that such a dent would not have shown. Of places drawn at random none lies
/// further from all that was read than half of the width that is named (but for the grid's cell).
#[test]
fn within_names_the_dent_that_nobody_would_have_seen() {
    let board = surveyed(9, 6, |_, _| 0.0);
    let whole = judged(&board, BoardPrior::Unknown.into(), 2.75, 1.5);
    assert_eq!(whole.verdict, Verdict::Within);
    let Unseen { width_mm, from_mm, x_mm, y_mm } = whole.unseen.unwrap();
    assert!(width_mm > 60.0 && (0.4..0.8).contains(&from_mm), "{width_mm} {from_mm}");
    let read: Vec<(f64, f64)> =
        board.surveyed_places().iter().map(|p| (p[0], p[1])).chain(edge()).collect();
    let apart = |x: f64, y: f64| {
        read.iter().map(|r| (r.0 - x).hypot(r.1 - y)).fold(f64::INFINITY, f64::min)
    };
    assert!((2.0 * apart(x_mm, y_mm) - width_mm).abs() < 1e-9);
    let mut dice = Dice(Pcg64::seed_from_u64(3));
    let widest = (0..20_000)
        .map(|_| apart(dice.uniform(-0.5, 0.5) * WIDTH_MM, dice.uniform(-1.0, 0.0) * HEIGHT_MM))
        .fold(0.0, f64::max);
    let cell_mm = (WIDTH_MM / 32.0).hypot(HEIGHT_MM / 20.0) / 2.0;
    // The places drawn lie some 11 mm apart.
    let drawn_mm = 11.0;
    let (least, most) = (2.0 * (widest - cell_mm), 2.0 * (widest + drawn_mm));
    assert!((least..=most).contains(&width_mm), "{width_mm}: {least} to {most}");
}

#[test]
fn whoever_looked_the_board_over_is_not_told_so() {
    let board = surveyed(9, 6, |_, _| 0.0);
    let not_yet: Expected = BoardPrior::Unknown.into();
    assert_eq!(not_yet.looked_over, LookedOver::NotYet);
    for found in [LookedOver::Nothing, LookedOver::Surveyed] {
        let whole = judged(&board, not_yet.looked_over(found), 2.75, 1.5);
        assert_eq!((whole.verdict, whole.unseen), (Verdict::Within, None));
    }
}

/// As deep as dents are they do not matter where the gap is further inside than that.
#[test]
fn a_dent_that_would_not_matter_is_not_spoken_of() {
    let board = surveyed(9, 6, |_, _| 0.0);
    assert!(judged(&board, BoardPrior::Unknown.into(), 3.5, 3.0).unseen.is_none());
    let near = judged(&board, BoardPrior::Unknown.into(), 2.9, 3.0).unseen.unwrap();
    assert!((near.from_mm - 0.9).abs() < 0.05, "{near:?}");
    let more = BoardPrior::Unknown.lifts().expected;
    let deep = Expected::from(BoardPrior::Unknown).with_lifts(more, 2.0);
    assert!(judged(&board, deep, 3.5, 3.0).unseen.is_some(), "somebody says that they are deeper");
}

/// More places read leave room for narrower ones only; nobody surveyed: for one of half the board.
#[test]
fn more_places_leave_narrower_dents() {
    let width = |board: &Board| {
        judged(board, BoardPrior::Unknown.into(), 2.75, 1.5).unseen.unwrap().width_mm
    };
    let none = width(&Board::unsurveyed(UNKNOWN));
    // On the middle line, as far from the middles of top and bottom as from that of a side.
    let (w, h) = (WIDTH_MM / 2.0, HEIGHT_MM / 2.0);
    let widest = 2.0 * (w - (w * w - h * h) / (2.0 * w));
    assert!((widest - 64.0..=widest).contains(&none), "{none}, {widest}");
    let (few, many) = (width(&surveyed(5, 4, |_, _| 0.0)), width(&surveyed(12, 8, |_, _| 0.0)));
    assert!(none > few && few > many && many > 200.0, "{none} {few} {many}");
}

#[test]
fn the_answer_is_written_as_the_job_and_the_record_have_it() {
    let expected = Expected::from(BoardPrior::Solid).looked_over(LookedOver::Nothing);
    let text = serde_json::to_string(&expected).unwrap();
    assert!(text.contains("\"looked_over\":\"nothing\""), "{text}");
    // Older ones do not have it: then nobody looked.
    let older = text.replace(",\"looked_over\":\"nothing\"", "");
    let read: Expected = serde_json::from_str(&older).unwrap();
    assert_eq!(read.looked_over, LookedOver::NotYet);
}
