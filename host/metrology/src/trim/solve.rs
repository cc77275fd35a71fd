//! The setting that brings the gap into the band with the most room to spare, everywhere at once.

use super::TrimError;
use super::influence::Influence;
use crate::minimax::{Limit, Optimum, Value, largest_margin};
use serde::{Deserialize, Serialize};
use skimgauge_model::Adjuster;
use skimgauge_quantity::{Band, Mm};

/// Turns that stand for travel without end: no adjuster of an emitter has more.
const ENDLESS_TURNS: f64 = 200.0;

/// The gap as it is at a place that must come into the band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// The gap, mm.
    pub gap_mm: f64,
}

/// Why the margin is not larger.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum Hold {
    /// The gap at this spot would come too near to the low end of the band.
    Low {
        /// Index into the spots.
        spot: usize,
    },
    /// The gap at this spot would come too near to the high end.
    High {
        /// Index into the spots.
        spot: usize,
    },
    /// This adjuster has no further travel clockwise.
    TravelClockwise {
        /// Index into the adjusters.
        adjuster: usize,
    },
    /// This adjuster has no further travel anticlockwise.
    TravelAnticlockwise {
        /// Index into the adjusters.
        adjuster: usize,
    },
}

/// The best setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// Clockwise turns by adjuster; negative is anticlockwise.
    pub turns: [f64; 3],
    /// Least distance to an end of the band over all spots, mm; negative where no setting can
    /// pass, and then by how much.
    pub margin_mm: f64,
    /// What holds the margin down, with its weight: by how much the margin grows when it gives way
    /// by 1 mm (one turn for travel). The largest first; at most four.
    pub holds: Vec<(Hold, f64)>,
    /// The best setting in whole steps of the smallest turn, where one was asked for.
    pub by_hand: Option<ByHand>,
}

/// A setting in steps that a hand can make.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByHand {
    /// Clockwise turns by adjuster, each a whole number of smallest turns.
    pub turns: [f64; 3],
    /// Least distance to an end of the band with them, mm.
    pub margin_mm: f64,
}

impl Setting {
    /// Whether a setting exists that brings every spot into the band.
    pub fn is_feasible(&self) -> bool {
        self.margin_mm >= 0.0
    }

    /// How the margin answers to the gap at each spot that holds it: spot and mm per mm.
    pub fn margin_answers_to(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.holds.iter().filter_map(|&(hold, weight)| match hold {
            Hold::Low { spot } => Some((spot, weight)),
            Hold::High { spot } => Some((spot, -weight)),
            Hold::TravelClockwise { .. } | Hold::TravelAnticlockwise { .. } => None,
        })
    }
}

/// Finds it. `smallest_turn` (turns, above zero; a hand makes about 1/36) asks for a setting in
/// whole steps as well.
///
/// # Errors
/// [`TrimError::NoPoints`] without spots, [`TrimError::Numbers`] where a gap is not a number.
pub fn solve(
    spots: &[Spot],
    influence: &Influence,
    travel: &[(f64, f64); 3],
    band: Band<Mm>,
    smallest_turn: Option<f64>,
) -> Result<Setting, TrimError> {
    if spots.is_empty() {
        return Err(TrimError::NoPoints);
    }
    let values: Vec<Value> = spots
        .iter()
        .map(|s| Value { value: s.gap_mm, effect: influence.effect(s.x_mm, s.y_mm) })
        .collect();
    let optimum =
        largest_margin(&values, band.low.0, band.high.0, *travel).ok_or(TrimError::Numbers)?;
    let by_hand = smallest_turn
        .filter(|s| s.is_finite() && *s > 0.0)
        .map(|step| in_steps(&values, &optimum, travel, band, step));
    let mut holds: Vec<(Hold, f64)> =
        optimum.active.iter().filter_map(|&(limit, weight)| Some((hold(limit)?, weight))).collect();
    holds.retain(|(_, weight)| *weight > 1e-9);
    holds.sort_by(|a, b| b.1.total_cmp(&a.1));
    Ok(Setting { turns: optimum.x, margin_mm: optimum.margin, holds, by_hand })
}

/// Clockwise turns that each adjuster may still make, low (anticlockwise, zero or less) and high.
pub fn travel(adjusters: &[Adjuster; 3]) -> [(f64, f64); 3] {
    [0, 1, 2].map(|i| {
        let a = &adjusters[i];
        (-a.travel_anticlockwise.0.min(ENDLESS_TURNS), a.travel_clockwise.0.min(ENDLESS_TURNS))
    })
}

/// Least distance to an end of the band over all values at `x`; negative outside.
fn margin_at<'a>(values: impl Iterator<Item = &'a Value>, x: &[f64; 3], band: Band<Mm>) -> f64 {
    values.map(|v| band.inside(Mm(v.at(x))).0).fold(f64::INFINITY, f64::min)
}

fn hold(limit: Limit) -> Option<Hold> {
    match limit {
        Limit::Low(spot) => Some(Hold::Low { spot }),
        Limit::High(spot) => Some(Hold::High { spot }),
        Limit::AtMost(adjuster) => Some(Hold::TravelClockwise { adjuster }),
        Limit::AtLeast(adjuster) => Some(Hold::TravelAnticlockwise { adjuster }),
        Limit::HalfWidth => None,
    }
}

/// Steps looked at round the optimum: where they are coarse beside what a slope wants, the best lies
/// some of them away, all adjusters alike.
const NEAR: [f64; 8] = [-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0];

/// The best of the step settings round the optimum, all three chosen together: rounding one
/// adjuster by itself costs, at the far edge, the leverage times the step.
fn in_steps(
    values: &[Value],
    optimum: &Optimum,
    travel: &[(f64, f64); 3],
    band: Band<Mm>,
    step: f64,
) -> ByHand {
    let near = [0, 1, 2].map(|i| {
        let (least, most) = ((travel[i].0 / step).ceil(), (travel[i].1 / step).floor());
        let floor = (optimum.x[i] / step).floor();
        NEAR.map(|off| (floor + off).clamp(least, most) * step)
    });
    let mut tried: Vec<ByHand> = Vec::with_capacity(NEAR.len().pow(3));
    for a in near[0] {
        for b in near[1] {
            for c in near[2] {
                let turns = [a, b, c];
                let margin_mm = margin_at(optimum.seen.iter().map(|&k| &values[k]), &turns, band);
                tried.push(ByHand { turns, margin_mm });
            }
        }
    }
    tried.sort_by(|a, b| b.margin_mm.total_cmp(&a.margin_mm));
    // A look at the few values that ever mattered bounds the margin from above; the whole look is
    // for the best only.
    let mut best = ByHand { turns: [0.0; 3], margin_mm: f64::NEG_INFINITY };
    for candidate in tried {
        if candidate.margin_mm <= best.margin_mm {
            break;
        }
        let margin_mm = margin_at(values.iter(), &candidate.turns, band);
        if margin_mm > best.margin_mm {
            best = ByHand { margin_mm, ..candidate };
        }
    }
    best
}
