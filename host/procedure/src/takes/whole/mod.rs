//! The verdict over the whole: gaps by the plane and by each reading, level and lean.

pub(crate) mod says;

pub use says::{contradiction, headline, remedy};

use super::kept::Kept;
use super::stations::{Stations, expanded};
use serde::Serialize;
use skimgauge_jobfile::Job;
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::consistency::{Odd, best_check};
use skimgauge_metrology::plane::fit::{self, PlaneFit};
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::plane::refusal::PlaneError;
use skimgauge_metrology::verdict::{self, BoardVerdict, JudgedAt, WholeBoard};
use skimgauge_model::Station;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Deg, Mm};

/// What is supposed of a take not yet made, mm.
const TAKE_U_MM: f64 = 0.06;

/// Level or lean: how the emitter stands against the board, judged. Each is computed here and
/// nowhere else.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TiltVerdict {
    /// How the emitter itself stands, against gravity, degrees.
    pub emitter_deg: f64,
    /// How the board stands, against gravity, degrees: its top edge for level, all stations for
    /// lean.
    pub board_deg: f64,
    /// The level or lean: the first less the second, degrees.
    pub value_deg: f64,
    /// Half width of its 95 % interval, degrees.
    pub expanded_deg: f64,
    /// Against its band.
    pub verdict: Verdict,
}

/// The verdict over everything.
#[derive(Debug, Clone)]
pub struct Whole {
    /// The word.
    pub verdict: Verdict,
    /// What was taken, as the plane saw it.
    pub observations: Observations,
    /// The station that is furthest out of the band, with its gap, mm, where one is out for sure.
    pub out: Option<(String, f64)>,
    /// The station that would check the others, where an error in one of them would not show.
    pub one_more: Option<String>,
    /// What a verdict of `within` speaks of.
    pub judged_at: JudgedAt,
    /// The plane and every control point, once the takes decide it.
    pub board: Result<(PlaneFit, BoardVerdict), Undecided>,
    /// Level, if it is judged.
    pub level: Option<Result<TiltVerdict, Undecided>>,
    /// Lean, if it is judged.
    pub lean: Option<Result<TiltVerdict, Undecided>>,
}

/// Why something is not judged yet.
#[derive(Debug, Clone, PartialEq)]
pub enum Undecided {
    /// These stations have no take.
    Missing(Vec<String>),
    /// The takes do not decide a plane.
    Plane(PlaneError),
}

impl Stations {
    /// The verdict over everything that the job judges.
    pub fn whole(&self, job: &Job, board: &Board) -> Whole {
        let band = job.bands.gap;
        let points = board.control_points(job.image.width.0, job.image.height.0);
        let missing: Vec<String> =
            self.rows().filter(|(_, kept)| kept.is_none()).map(|(s, _)| s.name.clone()).collect();
        let observations = self.observations();
        let fitted = if self.taken() < 3 {
            Err(Undecided::Missing(missing.clone()))
        } else {
            fit::fit(&observations, board).map_err(Undecided::Plane)
        };
        let surveyed = board.is_surveyed();
        let board = fitted.map(|mut fit| {
            fit.consistency.came_back(&self.came_back());
            let judged = verdict::judge(&fit, &points, band);
            (fit, judged)
        });
        let level = job.bands.level.map(|band| self.tilt(band, true));
        let lean = job.bands.lean.map(|band| self.tilt(band, false));
        // Before there is a plane, a station that is itself out is out.
        let out = match &board {
            Ok((_, judged)) => worst_out(
                judged.places.iter().map(|place| (&place.name, place.gap_mm, place.verdict)),
                band,
            ),
            Err(_) => {
                let kept = self.rows().filter_map(|(station, kept)| Some((&station.name, kept?)));
                worst_out(kept.map(|(name, kept)| (name, kept.take.gap_mm, kept.verdict)), band)
            }
        };
        let one_more = board.as_ref().ok().and_then(|(fit, _)| self.one_more(fit));
        let judged_at = match surveyed {
            true => JudgedAt::Board(WholeBoard::Board),
            false => JudgedAt::Places(
                self.rows()
                    .filter(|(_, kept)| kept.is_some())
                    .map(|(station, _)| station.name.clone())
                    .collect(),
            ),
        };
        let word = |tilt: &Result<TiltVerdict, Undecided>| {
            tilt.as_ref().map_or(Verdict::Unsure, |tilt| tilt.verdict)
        };
        let parts = [
            Some(board.as_ref().map_or(Verdict::Unsure, |(_, judged)| judged.verdict)),
            level.as_ref().map(word),
            lean.as_ref().map(word),
            (!missing.is_empty()).then_some(Verdict::Unsure),
        ];
        let verdict = Verdict::of_all(
            parts.into_iter().flatten().chain(out.as_ref().map(|_| Verdict::Outside)),
        );
        Whole { verdict, observations, out, one_more, judged_at, board, level, lean }
    }

    /// What may be said of a station with this take, which is not kept yet: nothing where it
    /// contradicts the others.
    pub fn told_with(&self, at: usize, kept: &Kept, job: &Job, board: &Board) -> Verdict {
        let mut with = self.clone();
        with.keep(at, kept.clone());
        with.whole(job, board).told(kept.verdict)
    }

    /// The station without a take that would best check the others, where an error in one of them
    /// would not show.
    fn one_more(&self, fit: &PlaneFit) -> Option<String> {
        let left: Vec<&Station> =
            self.rows().filter(|(_, kept)| kept.is_none()).map(|(s, _)| s).collect();
        let places: Vec<(f64, f64)> = left.iter().map(|s| (s.at.x.0, s.at.y.0)).collect();
        let best = (!fit.consistency.is_checked())
            .then(|| best_check(&fit.consistency, &places, TAKE_U_MM))
            .flatten()?;
        Some(left[best].name.clone())
    }

    /// The emitter's tilt against the board's: its top edge for level, all stations for lean.
    fn tilt(&self, band: Band<Deg>, level: bool) -> Result<TiltVerdict, Undecided> {
        let emitter =
            self.emitter().1.ok_or_else(|| Undecided::Missing(vec!["emitter".to_owned()]))?;
        let of_board: Vec<(f64, f64)> = self
            .rows()
            .filter(|(station, _)| !level || station.at.y.0 >= -1.0)
            .filter_map(|(_, kept)| {
                kept.map(|k| {
                    (if level { k.take.level_deg } else { k.take.lean_deg }, k.take.tilt_u_deg)
                })
            })
            .collect();
        if of_board.is_empty() {
            return Err(Undecided::Missing(vec![
                if level { "a station on the top edge" } else { "a station" }.to_owned(),
            ]));
        }
        let count = of_board.len() as f64;
        let mean = of_board.iter().map(|(tilt, _)| tilt).sum::<f64>() / count;
        // The head's own offset is in both and falls out.
        let u = (of_board.iter().map(|(_, u)| u * u).sum::<f64>() / count / count
            + emitter.own_u_deg * emitter.own_u_deg)
            .sqrt();
        let emitter_deg = if level { emitter.level_deg } else { emitter.lean_deg };
        let (value_deg, expanded_deg) = (emitter_deg - mean, expanded(u, None));
        let verdict = verdict::decide(Deg(value_deg), Deg(expanded_deg), band);
        Ok(TiltVerdict { emitter_deg, board_deg: mean, value_deg, expanded_deg, verdict })
    }
}

/// Of places with their gaps (mm) the one furthest out of the band, of those that are out.
fn worst_out<'a>(
    places: impl Iterator<Item = (&'a String, f64, Verdict)>,
    band: Band<Mm>,
) -> Option<(String, f64)> {
    let beyond = |gap_mm: f64| band.beyond(Mm(gap_mm));
    places
        .filter(|(_, _, verdict)| *verdict == Verdict::Outside)
        .map(|(name, gap_mm, _)| (name.clone(), gap_mm))
        .max_by(|(_, a), (_, b)| beyond(*a).total_cmp(&beyond(*b)))
}

impl Whole {
    /// Which take is odd, where they contradict one another.
    pub fn contradiction(&self) -> Option<&Odd> {
        self.board.as_ref().ok()?.0.contradiction()
    }

    /// Of a station's own verdict, what may be said: nothing while the takes contradict one
    /// another, and only that it is outside once the odd one came back the same.
    pub fn told(&self, verdict: Verdict) -> Verdict {
        match self.contradiction().map(Odd::came_back) {
            None => verdict,
            Some(true) if verdict == Verdict::Outside => verdict,
            Some(_) => Verdict::Unsure,
        }
    }
}

#[cfg(test)]
mod tests;
