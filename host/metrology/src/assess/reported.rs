//! The assessment as a report for other programs.

use super::{Assessment, Question};
use crate::report::{
    BetweenReport, ByHandReport, HoldReport, PlaneReport, PointReport, Report, SCHEMA, TurnReport,
    WorstReport,
};
use crate::trim::plan::{Instruction, Watch};
use crate::trim::promise::Promise;
use crate::trim::solve::Hold;
use skimgauge_model::Adjuster;
use skimgauge_quantity::Turns;

impl Assessment {
    /// The answer for other programs.
    pub fn report(&self, question: &Question<'_>) -> Report {
        let plane = self.fit.plane;
        let name = |adjuster: usize| question.adjusters[adjuster].name.clone();
        Report {
            schema: SCHEMA,
            plane: PlaneReport {
                c_mm: plane.c_mm,
                p_mm_per_m: plane.p_mm_per_m,
                q_mm_per_m: plane.q_mm_per_m,
                covariance: self.fit.covariance(),
            },
            chi_square: self.fit.chi_square,
            dof: self.fit.dof,
            agreement: self.fit.agreement,
            widening: self.fit.widening,
            worst: self.fit.worst().and_then(|worst| {
                let gap = &question.observations.gaps[worst.index];
                Some(WorstReport {
                    station: gap.station.clone(),
                    x_mm: gap.x_mm,
                    y_mm: gap.y_mm,
                    residual_mm: worst.residual_mm,
                    normalized: worst.normalized?,
                })
            }),
            points: self
                .verdict
                .points
                .iter()
                .map(|j| PointReport {
                    x_mm: j.point.x_mm,
                    y_mm: j.point.y_mm,
                    gap_mm: j.gap.gap_mm,
                    u_mm: j.gap.u_mm,
                    expanded_mm: j.expanded_mm,
                    verdict: j.said(),
                    looked_at: j.looked_at,
                })
                .collect(),
            verdict: self.word(),
            between: self.whole.as_ref().map(BetweenReport::of),
            limiting_point: self.verdict.limiting,
            remedy: self.verdict.remedy,
            places: self.verdict.places.clone(),
            judged_at: self.verdict.judged_at.clone(),
            consistency: self.fit.consistency.clone(),
            checked: self.fit.consistency.is_checked(),
            feasible: self.setting.is_feasible() && self.promises(),
            feasibility: self.feasibility(),
            margin_mm: self.promises().then_some(self.setting.margin_mm),
            margin_u_mm: self.promises().then_some(self.margin_u_mm),
            holds: match self.promises() {
                false => Vec::new(),
                true => self
                    .setting
                    .holds
                    .iter()
                    .map(|&(hold, weight)| hold_report(hold, weight, &name))
                    .collect(),
            },
            turns: self.turns(question.adjusters),
            promise: self.promise.filter(|_| self.promises_turns()),
            least_gap_mm: self.told().and_then(|plan| plan.least_gap_mm),
            clear: self.told().and_then(|plan| plan.least_gap_mm).is_none_or(|mm| mm > 0.0),
            seen: self.told().iter().flat_map(|plan| &plan.instructions).all(is_watched),
            seconds: self.told().map(|plan| plan.plan.seconds),
            chance: self.told().map(|plan| plan.plan.chance),
            by_hand: question.smallest_turn.and_then(|_| self.by_hand()),
        }
    }

    /// The turns told, in the job's order.
    fn by_hand(&self) -> Option<ByHandReport> {
        let (told, promise) = (self.told()?, self.promise?);
        let mut turns = [0.0; 3];
        told.instructions.iter().for_each(|turn| turns[turn.adjuster.min(2)] += turn.turns);
        let Promise { margin_mm, low_mm, high_mm } = promise;
        Some(ByHandReport { turns, margin_mm, low_mm, high_mm })
    }

    /// Whether turns are told, and every reading on which they stand is checked by others.
    fn promises_turns(&self) -> bool {
        self.promises()
            && self.fit.consistency.is_checked()
            && self.told().is_some_and(|plan| !plan.instructions.is_empty())
    }

    fn turns(&self, adjusters: &[Adjuster]) -> Vec<TurnReport> {
        let turn = |(at, instruction): (usize, &Instruction)| {
            let dial_from_mm = match instruction.watch {
                Watch::Reading { from, .. } if at == 0 => Some(from.gap_mm),
                Watch::Reading { .. } | Watch::Count { .. } => None,
            };
            let (dial_to_mm, station, outside_band) = match instruction.watch {
                Watch::Reading { station, to, outside_band, .. } => {
                    (Some(to.gap_mm), self.stations.get(station), outside_band)
                }
                Watch::Count { .. } => (None, None, false),
            };
            let turns = Turns(instruction.turns);
            let then = instruction.then.and_then(|(station, to)| {
                Some((self.stations.get(station)?.name.clone(), to.gap_mm))
            });
            let (then_at_station, then_to_mm) = then.unzip();
            TurnReport {
                adjuster: adjusters[instruction.adjuster].name.clone(),
                turns: turns.0.abs(),
                sense: if turns.0 > 0.0 { "clockwise" } else { "anticlockwise" }.into(),
                dial_to_mm,
                at_station: station.map(|station| station.name.clone()),
                dial_from_mm,
                outside_band,
                then_at_station,
                then_to_mm,
            }
        };
        self.told()
            .into_iter()
            .flat_map(|plan| plan.instructions.iter().enumerate())
            .map(turn)
            .collect()
    }
}

fn is_watched(instruction: &Instruction) -> bool {
    matches!(instruction.watch, Watch::Reading { .. })
}

fn hold_report(hold: Hold, weight: f64, name: &dyn Fn(usize) -> String) -> HoldReport {
    let (by, point, adjuster) = match hold {
        Hold::Low { spot } => ("low", Some(spot), None),
        Hold::High { spot } => ("high", Some(spot), None),
        Hold::TravelClockwise { adjuster } | Hold::TravelAnticlockwise { adjuster } => {
            ("travel", None, Some(name(adjuster)))
        }
    };
    HoldReport { by: by.into(), point, adjuster, weight }
}
