//! The verdict over the whole board: the places read, and all that lies between them.

use super::{BoardVerdict, decide, judge_at};
use crate::coverage::LEVEL;
use crate::plane::apart_mm;
use crate::plane::between::{Between, BetweenPlace, MOST_CHANCE};
use crate::plane::board::ControlPoint;
use crate::plane::fit::PlaneFit;
use crate::plane::ground::Ground;
use crate::plane::refusal::SAME_PLACE_MM;
use crate::plane::unseen::Unseen;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Mm};

/// What is to be said of the board.
#[derive(Debug, Clone, PartialEq)]
pub struct WholeVerdict {
    /// `Within` where the places read and all between them are; `Outside` where either surely is
    /// not.
    pub verdict: Verdict,
    /// At the places read.
    pub at_places: BoardVerdict,
    /// Between them.
    pub between: Between,
    /// The dent or bump that the places read would not have shown and that would take the gap out:
    /// the verdict does not speak of it, and says so; where one was found that nobody has surveyed,
    /// it is not `Within`. `None` where somebody looked and what was found is surveyed, and where
    /// none would matter.
    pub unseen: Option<Unseen>,
    /// How many times this same setting has been judged.
    pub looks: u32,
}

/// Judges the whole board. `looks`, one or more, counts how often this same setting has been
/// judged, this time included: whoever looks until it passes is right less often than whoever looks
/// once, so the allowed share of wrong verdicts is divided among the looks (Bonferroni).
pub fn judge_whole(
    fit: &PlaneFit,
    ground: &Ground,
    points: &[ControlPoint],
    band: Band<Mm>,
    looks: u32,
) -> WholeVerdict {
    let looks = looks.max(1);
    let share = 1.0 / f64::from(looks);
    let mut at_places = judge_at(fit, points, band, 1.0 - (1.0 - LEVEL) * share);
    let mut between = ground.judge(fit, band);
    if between.verdict == Verdict::Within && between.chance > MOST_CHANCE * share {
        between.verdict = Verdict::Unsure;
    }
    widen_where_nobody_looked(&mut at_places, &between, band);
    let unseen = ground.unseen(&between, band);
    // A dent that is known of and would matter is not left out of what is said.
    let dents = (ground.has_dents() && unseen.is_some()).then_some(Verdict::Unsure);
    let verdict = Verdict::of_all([at_places.verdict, between.verdict].into_iter().chain(dents));
    WholeVerdict { verdict, at_places, between, unseen, looks }
}

/// What the plane has at a place that nobody read is as unsure as the board is there.
fn widen_where_nobody_looked(at_places: &mut BoardVerdict, between: &Between, band: Band<Mm>) {
    for judged in at_places.points.iter_mut().filter(|judged| !judged.looked_at) {
        let there = (judged.point.x_mm, judged.point.y_mm);
        let apart = |place: &&BetweenPlace| apart_mm((place.x_mm, place.y_mm), there);
        let Some(place) = between.places.iter().find(|place| apart(place) <= SAME_PLACE_MM) else {
            continue;
        };
        let k = judged.expanded_mm / judged.gap.u_mm.max(1e-9);
        let more_mm = (place.u_mm * place.u_mm - judged.gap.u_mm * judged.gap.u_mm).max(0.0).sqrt();
        judged.gap.u_board_mm = judged.gap.u_board_mm.hypot(more_mm);
        judged.gap.u_mm = judged.gap.u_mm.max(place.u_mm);
        judged.expanded_mm = k * judged.gap.u_mm;
        // What is not promised stays so.
        if judged.verdict != Verdict::Unsure {
            judged.verdict = decide(Mm(judged.gap.gap_mm), Mm(judged.expanded_mm), band);
        }
    }
}

impl WholeVerdict {
    /// Nothing is `Within` any more, here or between the places read.
    pub(crate) fn withhold_within(&mut self) {
        self.at_places.withhold_within();
        if self.between.verdict == Verdict::Within {
            self.between.verdict = Verdict::Unsure;
        }
        if self.verdict == Verdict::Within {
            self.verdict = Verdict::Unsure;
        }
    }

    /// Whether nothing but what may lie between the places read is in the way of `within`: a survey
    /// may then settle it.
    pub fn only_between(&self) -> bool {
        self.at_places.verdict == Verdict::Within && self.between.verdict == Verdict::Unsure
    }
}
