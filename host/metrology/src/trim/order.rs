//! In what order to turn, so that the plane never touches the board on the way.
//!
//! One turn moves every gap in a straight line, so the least gap on the way is at one of its ends: it is enough to look
//! between turns. The settings in which nothing touches are convex, so where no order of three whole turns will do, turns
//! in stages keep near the straight way from start to end, which is clear.

use super::influence::Influence;
use super::solve::Spot;

/// Most stages that a person is asked to go through.
const MOST_STAGES: usize = 16;

/// Spots that are looked at in any case, those that could come nearest to the board.
const NEAREST: usize = 32;

/// Turns smaller than this are none.
const NO_TURN: f64 = 1e-9;

/// The six orders of three.
const ORDERS: [[usize; 3]; 6] = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];

/// One turn of one adjuster.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Index into the adjusters.
    pub adjuster: usize,
    /// Clockwise turns; negative is anticlockwise.
    pub turns: f64,
}

/// A way from the present setting to the wanted one.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// The turns, first to last.
    pub turns: Vec<Turn>,
    /// Least gap at any spot after any of them, mm.
    pub least_gap_mm: f64,
    /// The spot where it is.
    pub at_spot: usize,
    /// Highest gap at any of the spots that come nearest, after any of the turns, mm.
    pub highest_gap_mm: f64,
    /// Whether every gap stays at or above the guard all the way (or, where it starts or ends below the guard, no lower
    /// than it starts or ends). Where this is false the plane would come nearer, and turning wants watching there.
    pub clear: bool,
}

/// Finds the order with the fewest turns that keeps every gap at `guard_mm` or more; of those the one in which the gaps
/// rise least. Without spots or turns the order is empty and clear.
pub fn order(spots: &[Spot], influence: &Influence, turns: &[f64; 3], guard_mm: f64) -> Order {
    let way = Way::new(spots, influence, turns, guard_mm);
    let whole = ORDERS.iter().map(|o| way.walk(&[*o])).max_by(better);
    if let Some(whole) = &whole
        && whole.clear
    {
        return whole.clone();
    }
    let staged = (2..=MOST_STAGES).filter_map(|stages| way.staged(stages)).find(|s| s.clear);
    // Where not even stages keep clear, more turns would help nobody: the best of the whole ones, and it says so.
    staged.or(whole).unwrap_or_else(|| way.walk(&[]))
}

/// Of two that are clear the one that stays lower is better: the head must reach the light to watch the turn. Of two that
/// are not, the one that stays further from the board.
fn better(a: &Order, b: &Order) -> std::cmp::Ordering {
    a.clear.cmp(&b.clear).then(if a.clear && b.clear {
        b.highest_gap_mm.total_cmp(&a.highest_gap_mm)
    } else {
        a.least_gap_mm.total_cmp(&b.least_gap_mm)
    })
}

struct Way {
    /// Of the spots kept, among those given.
    indices: Vec<usize>,
    spots: Vec<Spot>,
    effects: Vec<[f64; 3]>,
    floors: Vec<f64>,
    turns: [f64; 3],
}

impl Way {
    fn new(spots: &[Spot], influence: &Influence, turns: &[f64; 3], guard_mm: f64) -> Self {
        let all: Vec<[f64; 3]> = spots.iter().map(|s| influence.effect(s.x_mm, s.y_mm)).collect();
        // Every setting on the way has between none and all of each turn: that bounds how low each gap can come.
        let lowest: Vec<f64> = spots
            .iter()
            .zip(&all)
            .map(|(spot, effect)| spot.gap_mm + effect.iter().zip(turns).map(|(j, n)| (j * n).min(0.0)).sum::<f64>())
            .collect();
        let mut indices: Vec<usize> = (0..spots.len()).collect();
        if indices.len() > NEAREST {
            indices.select_nth_unstable_by(NEAREST, |&a, &b| lowest[a].total_cmp(&lowest[b]));
            let rest = indices.split_off(NEAREST);
            indices.extend(rest.into_iter().filter(|&k| lowest[k] < guard_mm));
        }
        let effects: Vec<[f64; 3]> = indices.iter().map(|&k| all[k]).collect();
        let spots: Vec<Spot> = indices.iter().map(|&k| spots[k]).collect();
        let floors = spots
            .iter()
            .zip(&effects)
            .map(|(spot, effect)| {
                let end = spot.gap_mm + dot(effect, turns);
                guard_mm.min(spot.gap_mm).min(end) - 1e-9
            })
            .collect();
        Self { indices, spots, effects, floors, turns: *turns }
    }

    /// The order that goes through the stages, an equal share of every turn in each.
    fn walk(&self, stages: &[[usize; 3]]) -> Order {
        let mut done = Order {
            turns: Vec::with_capacity(3 * stages.len()),
            least_gap_mm: f64::INFINITY,
            at_spot: 0,
            highest_gap_mm: f64::NEG_INFINITY,
            clear: true,
        };
        let mut at = [0.0; 3];
        for (index, order) in stages.iter().enumerate() {
            let share = (index + 1) as f64 / stages.len() as f64;
            for &adjuster in order {
                let target = self.turns[adjuster] * share;
                let turn = target - at[adjuster];
                if turn.abs() < NO_TURN {
                    continue;
                }
                at[adjuster] = target;
                match done.turns.last_mut() {
                    Some(last) if last.adjuster == adjuster => last.turns += turn,
                    _ => done.turns.push(Turn { adjuster, turns: turn }),
                }
                self.look(&at, &mut done);
            }
        }
        done
    }

    fn look(&self, at: &[f64; 3], done: &mut Order) {
        for (index, ((spot, effect), floor)) in self.spots.iter().zip(&self.effects).zip(&self.floors).enumerate() {
            let gap = spot.gap_mm + dot(effect, at);
            if gap < done.least_gap_mm {
                (done.least_gap_mm, done.at_spot) = (gap, self.indices[index]);
            }
            done.highest_gap_mm = done.highest_gap_mm.max(gap);
            done.clear &= gap >= *floor;
        }
    }

    /// The best order in so many stages, each stage's order chosen when its turn comes.
    fn staged(&self, stages: usize) -> Option<Order> {
        let mut chosen: Vec<[usize; 3]> = Vec::with_capacity(stages);
        for stage in 0..stages {
            // How far a stage's order stays above the floors, and how high it goes.
            let extent = |order: &[usize; 3]| {
                let start = stage as f64 / stages as f64;
                let end = (stage + 1) as f64 / stages as f64;
                let mut at = self.turns.map(|t| t * start);
                let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
                for &adjuster in order {
                    at[adjuster] = self.turns[adjuster] * end;
                    for ((spot, effect), floor) in self.spots.iter().zip(&self.effects).zip(&self.floors) {
                        let gap = spot.gap_mm + dot(effect, &at);
                        least = least.min(gap - floor);
                        most = most.max(gap);
                    }
                }
                (least, most)
            };
            let best = ORDERS.iter().max_by(|a, b| {
                let ((least_a, most_a), (least_b, most_b)) = (extent(a), extent(b));
                match (least_a >= 0.0, least_b >= 0.0) {
                    (true, true) => most_b.total_cmp(&most_a),
                    _ => least_a.total_cmp(&least_b),
                }
            })?;
            chosen.push(*best);
        }
        Some(self.walk(&chosen))
    }
}

fn dot(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}
