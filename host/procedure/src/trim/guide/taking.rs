//! Takes, until the plane is known well enough.

use super::{Advice, Guide, Stage, TAKE_U_MM, Told};
use crate::trim::{GUARD_MM, says};
use skimgauge_metrology::assess::{AssessError, Assessment, MEASURABLE, Question, assess};
use skimgauge_metrology::plane::choice::{fewest_stations, next_station};
use skimgauge_metrology::plane::consistency::{Explains, Odd};
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::report::Feasibility;
use skimgauge_model::Station;
use skimgauge_model::Verdict;
use skimgauge_quantity::Turns;

/// A further take is worth while above this uncertainty (95 %) of the worst point, as a share of
/// the band's width.
const KNOWN_SHARE: f64 = 0.08;

impl Guide {
    /// Takes as they stand now: which stations have one, which came back the same when they were
    /// taken again from a new seat, and whether the emitter's tilt is asked for and missing.
    pub(crate) fn takes(
        &mut self,
        observations: Observations,
        taken: &[bool],
        came_back: Vec<String>,
        emitter_missing: bool,
    ) {
        if !matches!(self.stage, Stage::Take)
            || (observations == self.observations
                && taken == self.taken
                && came_back == self.came_back
                && emitter_missing == self.emitter_missing)
        {
            return;
        }
        self.observations = observations;
        self.came_back = came_back;
        self.taken = taken.to_vec();
        self.emitter_missing = emitter_missing;
        self.answer =
            (taken.iter().filter(|t| **t).count() >= 3).then(|| self.assess().map(Box::new));
        self.choice = self.answer().and_then(|answer| {
            let left: Vec<Station> = self.untaken().map(|(_, s)| s.clone()).collect();
            next_station(&answer.fit, &left, &self.points, TAKE_U_MM)
        });
        self.advice = self.what_to_take();
        self.say_contradiction();
        let all = self.untaken().next().is_none() && !self.emitter_missing;
        if all && self.answer().is_some_and(|answer| answer.verdict.verdict == Verdict::Within) {
            self.told.push(Told::Judged);
            self.over();
        }
    }

    fn assess(&self) -> Result<Assessment, AssessError> {
        let mut adjusters = self.adjusters.clone();
        for (adjuster, made) in adjusters.iter_mut().zip(self.made) {
            let made = Turns(made);
            adjuster.travel_clockwise = (adjuster.travel_clockwise - made).max(Turns::ZERO);
            adjuster.travel_anticlockwise = (adjuster.travel_anticlockwise + made).max(Turns::ZERO);
        }
        assess(&Question {
            observations: &self.observations,
            board: &self.board,
            adjusters: &adjusters[..],
            band: self.band,
            points: &self.points,
            live: &self.stations,
            guard_mm: GUARD_MM,
            measurable: MEASURABLE,
            smallest_turn: None,
            came_back: &self.came_back,
        })
    }

    pub(super) fn untaken(&self) -> impl Iterator<Item = (usize, &Station)> {
        self.stations.iter().enumerate().filter(|(at, _)| !self.is_taken(*at))
    }

    /// What to do while stations are taken.
    pub(super) fn what_to_take(&self) -> Advice {
        let Some(answer) = self.answer() else {
            let (at, left): (Vec<usize>, Vec<Station>) =
                self.untaken().map(|(at, s)| (at, s.clone())).unzip();
            let taken: Vec<Station> = self
                .stations
                .iter()
                .zip(&self.taken)
                .filter(|(_, t)| **t)
                .map(|(s, _)| s.clone())
                .collect();
            let fewest = fewest_stations(&taken, &left, &self.points, &self.board, false)
                .unwrap_or_default();
            let first = fewest.first().copied().or(if left.is_empty() { None } else { Some(0) });
            return first.map_or(Advice::Begin, |k| Advice::Take { station: at[k] });
        };
        let next =
            self.choice.and_then(|choice| self.untaken().nth(choice.candidate)).map(|(at, _)| at);
        if let Some(odd) = answer.fit.contradiction() {
            return self.what_to_take_again(odd, next);
        }
        let known_mm = KNOWN_SHARE * self.band.width();
        let worst_mm = answer.verdict.points.iter().map(|p| p.expanded_mm).fold(0.0, f64::max);
        let out = answer.verdict.verdict == Verdict::Outside;
        let turn_now = out && worst_mm <= known_mm.0 && answer.feasibility() != Feasibility::Unsure;
        match next {
            Some(station) if !turn_now => Advice::Take { station },
            _ if self.emitter_missing && !out => Advice::TakeEmitter,
            _ => Advice::Begin,
        }
    }

    /// What to do while the takes contradict one another: one more station where that tells which
    /// of several is odd, else the odd one again; nothing of it is left once it came back the
    /// same.
    fn what_to_take_again(&self, odd: &Odd, next: Option<usize>) -> Advice {
        let named = |name: &str| self.stations.iter().position(|station| station.name == name);
        let again = odd.to_read_again().find_map(|suspect| named(&suspect.name));
        match (again, next) {
            (Some(_), Some(station)) if odd.explains == Explains::Any => Advice::Take { station },
            (Some(station), _) => Advice::Take { station },
            (None, _) => Advice::Survey,
        }
    }

    /// Says which take is odd, once.
    fn say_contradiction(&mut self) {
        let says =
            self.answer().and_then(|answer| Some(says::no_turns(answer.fit.contradiction()?)));
        let says = says.unwrap_or_default();
        if says == self.contradiction_said {
            return;
        }
        self.contradiction_said.clone_from(&says);
        if !says.is_empty() {
            self.say(says, true);
        }
    }
}
