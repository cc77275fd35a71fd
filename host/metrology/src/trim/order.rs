//! In what order to turn, so that the plane never touches the board on the way.
//!
//! One turn moves every gap in a straight line, so the least gap on the way is at one of its ends:
//! it is enough to look between turns. The settings in which nothing touches are convex, so where
//! no order of three whole turns will do, turns in stages keep near the straight way from start to
//! end, which is clear. The same stages keep the gap at some station where the head can measure it,
//! before each turn and after.

use super::influence::Influence;
use super::solve::Spot;
use skimgauge_quantity::{Band, Mm};

/// Most stages that a person is asked to go through.
const MOST_STAGES: usize = 16;

/// Most stages for the sake of seeing each turn well; a turn seen less well is made good by those
/// after it.
const MOST_STAGES_TO_SEE: usize = 2;

/// Spots that are looked at from the beginning, those that could come nearest to the board.
const NEAREST: usize = 32;

/// A turn shows well at a station where it shows this share of what it does at the best: where it
/// shows much less, a reading leaves the far edge uncertain by more than the guard.
const SHOWS_WELL: f64 = 0.4;

/// Where a turn is not seen well the gaps stay this much further than the guard from the board, mm.
const UNSEEN_MM: f64 = 0.7;

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

impl Order {
    fn none() -> Self {
        Self {
            turns: Vec::new(),
            least_gap_mm: f64::INFINITY,
            at_spot: 0,
            highest_gap_mm: f64::NEG_INFINITY,
            clear: true,
            seen: true,
        }
    }
}

/// Where turns may be watched.
#[derive(Debug, Clone, Copy)]
pub struct Watched<'a> {
    /// The gaps as they are at the stations.
    pub stations: &'a [Spot],
    /// Gaps that the head can measure, mm.
    pub measurable: Band<Mm>,
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
    /// Highest gap at any spot after any of the turns, mm.
    pub highest_gap_mm: f64,
    /// Whether every gap stays at or above the guard all the way (or, where it starts or ends
    /// below the guard, no lower than it starts or ends). Where this is false the plane would
    /// come nearer, and turning wants watching there.
    pub clear: bool,
    /// Whether each turn has a station at which it shows well and the head can measure before it
    /// and after it.
    pub seen: bool,
}

/// Finds the order with the fewest turns that keeps every gap at `guard_mm` or more and each turn
/// where the head can measure it; of those the one in which the gaps rise least. Keeping clear goes
/// before being seen. Without spots or turns the order is empty, clear and seen.
pub fn order(
    spots: &[Spot],
    influence: &Influence,
    turns: &[f64; 3],
    guard_mm: f64,
    watched: Option<Watched<'_>>,
) -> Order {
    let all = Way::new(spots, influence, turns, guard_mm, watched);
    let mut kept = all.nearest();
    loop {
        let found = best(&all.only(&kept));
        let (along, missed) = all.along(&found.turns);
        let before = kept.len();
        // A spot that was not looked at and stands in the way is looked at from now on.
        if found.clear {
            kept.extend(
                missed
                    .into_iter()
                    .filter(|spot| !kept[..before].contains(spot))
                    .collect::<Vec<_>>(),
            );
            kept[before..].sort_unstable();
            kept.dedup();
        }
        if kept.len() == before {
            return along;
        }
    }
}

/// The best order for the spots of a way.
fn best(way: &Way<'_>) -> Order {
    let whole = ORDERS.iter().map(|o| way.walk(&[*o])).max_by(better);
    if let Some(whole) = &whole
        && whole.clear
        && whole.seen
    {
        return whole.clone();
    }
    let mut clear = whole.clone().filter(|whole| whole.clear);
    for stages in 2..=MOST_STAGES {
        if clear.is_some() && stages > MOST_STAGES_TO_SEE {
            break;
        }
        let Some(staged) = way.staged(stages).filter(|staged| staged.clear) else { continue };
        if staged.seen {
            return staged;
        }
        clear = clear.or(Some(staged));
    }
    // Where not even stages keep clear, more turns would help nobody: the best of the whole ones,
    // and it says so.
    clear.or(whole).unwrap_or_else(|| way.walk(&[]))
}

/// Of two that are clear the one that stays lower is better: the head must reach the light to watch
/// the turn. Of two that are not, the one that stays further from the board.
fn better(a: &Order, b: &Order) -> std::cmp::Ordering {
    a.clear.cmp(&b.clear).then(a.seen.cmp(&b.seen)).then(if a.clear && b.clear {
        b.highest_gap_mm.total_cmp(&a.highest_gap_mm)
    } else {
        a.least_gap_mm.total_cmp(&b.least_gap_mm)
    })
}

struct Way<'a> {
    /// Of the spots kept, among those given.
    indices: Vec<usize>,
    spots: Vec<Spot>,
    effects: Vec<[f64; 3]>,
    floors: Vec<f64>,
    /// The lower of each gap's two ends, before all turns and after.
    ends: Vec<f64>,
    turns: [f64; 3],
    watched: Option<(Watched<'a>, Vec<[f64; 3]>)>,
}

impl<'a> Way<'a> {
    /// Every spot.
    fn new(
        spots: &[Spot],
        influence: &Influence,
        turns: &[f64; 3],
        guard_mm: f64,
        watched: Option<Watched<'a>>,
    ) -> Self {
        let effects: Vec<[f64; 3]> =
            spots.iter().map(|s| influence.effect(s.x_mm, s.y_mm)).collect();
        let ends: Vec<f64> = spots
            .iter()
            .zip(&effects)
            .map(|(spot, effect)| spot.gap_mm.min(spot.gap_mm + dot(effect, turns)))
            .collect();
        let floors = ends.iter().map(|end| guard_mm.min(*end) - 1e-9).collect();
        let watched = watched.map(|w| {
            (w, w.stations.iter().map(|s| influence.effect(s.x_mm, s.y_mm)).collect::<Vec<_>>())
        });
        let indices = (0..spots.len()).collect();
        Self { indices, spots: spots.to_vec(), effects, floors, ends, turns: *turns, watched }
    }

    /// Those spots that could come nearest to the board: every setting on the way has between none
    /// and all of each turn, which bounds how low each gap can come.
    fn nearest(&self) -> Vec<usize> {
        let lowest = |k: usize| {
            let falls: f64 =
                self.effects[k].iter().zip(&self.turns).map(|(j, n)| (j * n).min(0.0)).sum();
            self.spots[k].gap_mm + falls
        };
        let mut indices: Vec<(f64, usize)> =
            (0..self.spots.len()).map(|k| (lowest(k), k)).collect();
        if indices.len() > NEAREST {
            indices.select_nth_unstable_by(NEAREST, |a, b| a.0.total_cmp(&b.0));
            indices.truncate(NEAREST);
        }
        indices.into_iter().map(|(_, k)| k).collect()
    }

    /// The same way for these spots alone.
    fn only(&self, kept: &[usize]) -> Way<'a> {
        Way {
            indices: kept.to_vec(),
            spots: kept.iter().map(|&k| self.spots[k]).collect(),
            effects: kept.iter().map(|&k| self.effects[k]).collect(),
            floors: kept.iter().map(|&k| self.floors[k]).collect(),
            ends: kept.iter().map(|&k| self.ends[k]).collect(),
            turns: self.turns,
            watched: self.watched.clone(),
        }
    }

    /// These turns over every spot; and, after each of them, the spot that stands most in the way,
    /// if one does.
    fn along(&self, turns: &[Turn]) -> (Order, Vec<usize>) {
        let mut done = Order { turns: turns.to_vec(), ..Order::none() };
        let mut at = [0.0; 3];
        let mut missed = Vec::new();
        for turn in turns {
            let before = at;
            at[turn.adjuster] += turn.turns;
            let seen = self.can_see(&before, &at);
            done.seen &= seen;
            missed.extend(self.look(&at, if seen { 0.0 } else { UNSEEN_MM }, &mut done));
        }
        (done, missed)
    }

    /// The order that goes through the stages, an equal share of every turn in each.
    fn walk(&self, stages: &[[usize; 3]]) -> Order {
        let mut done = Order { turns: Vec::with_capacity(3 * stages.len()), ..Order::none() };
        let mut at = [0.0; 3];
        for (index, order) in stages.iter().enumerate() {
            let share = (index + 1) as f64 / stages.len() as f64;
            for &adjuster in order {
                let target = self.turns[adjuster] * share;
                let turn = target - at[adjuster];
                if turn.abs() < NO_TURN {
                    continue;
                }
                let before = at;
                at[adjuster] = target;
                let seen = self.can_see(&before, &at);
                done.seen &= seen;
                match done.turns.last_mut() {
                    Some(last) if last.adjuster == adjuster => last.turns += turn,
                    _ => done.turns.push(Turn { adjuster, turns: turn }),
                }
                self.look(&at, if seen { 0.0 } else { UNSEEN_MM }, &mut done);
            }
        }
        done
    }

    /// Whether some station's gap can be measured at both ends of a turn.
    fn can_see(&self, before: &[f64; 3], after: &[f64; 3]) -> bool {
        let Some((watched, effects)) = &self.watched else { return true };
        let measurable = |gap_mm: f64| watched.measurable.contains(Mm(gap_mm));
        let turned = (0..3).find(|&i| before[i] != after[i]).unwrap_or(0);
        let most = effects.iter().map(|effect| effect[turned].abs()).fold(0.0, f64::max);
        watched.stations.iter().zip(effects).any(|(station, effect)| {
            effect[turned].abs() >= SHOWS_WELL * most
                && measurable(station.gap_mm + dot(effect, before))
                && measurable(station.gap_mm + dot(effect, after))
        })
    }

    /// Looks at every spot. `spare_mm`: how much further than the floors the gaps must stay away,
    /// where the turn is not seen well. The spot that stands most in the way, if one does.
    fn look(&self, at: &[f64; 3], spare_mm: f64, done: &mut Order) -> Option<usize> {
        let mut worst: Option<(f64, usize)> = None;
        for (index, ((spot, effect), floor)) in
            self.spots.iter().zip(&self.effects).zip(&self.floors).enumerate()
        {
            let gap = spot.gap_mm + dot(effect, at);
            if gap < done.least_gap_mm {
                (done.least_gap_mm, done.at_spot) = (gap, self.indices[index]);
            }
            done.highest_gap_mm = done.highest_gap_mm.max(gap);
            let over = gap - floor - if gap < self.ends[index] - 1e-9 { spare_mm } else { 0.0 };
            if over < 0.0 {
                done.clear = false;
                if worst.is_none_or(|(least, _)| over < least) {
                    worst = Some((over, self.indices[index]));
                }
            }
        }
        worst.map(|(_, index)| index)
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
                    for ((spot, effect), floor) in
                        self.spots.iter().zip(&self.effects).zip(&self.floors)
                    {
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
