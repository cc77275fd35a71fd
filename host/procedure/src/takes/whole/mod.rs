//! The verdict over the whole: gaps by the plane and by each reading, level and lean.

pub(crate) mod says;

pub use says::{about, contradiction, headline, remedy};

use super::kept::Kept;
use super::stations::{Stations, expanded};
use serde::Serialize;
use skimgauge_jobfile::Job;
use skimgauge_metrology::coverage::conformance_probability;
use skimgauge_metrology::plane::between::Between;
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::consistency::{Odd, best_check};
use skimgauge_metrology::plane::fit::{self, PlaneFit};
use skimgauge_metrology::plane::ground::Ground;
use skimgauge_metrology::plane::looking::{Looking, places_to_survey};
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::plane::prior::Expected;
use skimgauge_metrology::plane::refusal::PlaneError;
use skimgauge_metrology::plane::unseen::{LookedOver, Unseen};
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::verdict::whole::judge_whole;
use skimgauge_metrology::verdict::{self, BoardVerdict, JudgedAt, Remedy, WholeBoard};
use skimgauge_model::Station;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Deg, Mm};

/// What is supposed of a take or a surveyed height not yet made, standard uncertainty, mm.
pub(crate) const TAKE_U_MM: f64 = 0.06;

/// What a fresh clipping adds to the head's level (the clip, turned about the board's normal) and to
/// its lean (0.012 mm under a foot on a face that was wiped, over the stance), standard uncertainty,
/// degrees. Common practice, no source.
const SEAT_TILT_U_DEG: [f64; 2] = [0.01, 0.02];

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
    /// What may lie between the places read; `None` before there is a plane, and on a board that is
    /// taken to be flat.
    pub between: Option<Between>,
    /// The dent or bump that the places read would not have shown and that would matter; `None` where
    /// somebody looked the board over, and where none would.
    pub unseen: Option<Unseen>,
    /// What was found by whoever looked the board over.
    pub looked_over: LookedOver,
    /// What would settle a verdict that is unsure, what it costs and the chance that it helps.
    pub settles: Option<Settles>,
    /// Level, if it is judged.
    pub level: Option<Result<TiltVerdict, Undecided>>,
    /// Lean, if it is judged.
    pub lean: Option<Result<TiltVerdict, Undecided>>,
    /// With the emitter off a line of light stayed: what was read may be that.
    pub line_stays: bool,
    /// The adjusters bring it no further into the band: nobody is told to turn.
    pub turned_out: bool,
    /// Stations that were not read.
    pub missing: Vec<String>,
}

/// Why something is not judged yet.
#[derive(Debug, Clone, PartialEq)]
pub enum Undecided {
    /// These stations have no take.
    Missing(Vec<String>),
    /// The takes do not decide a plane.
    Plane(PlaneError),
}

/// What would settle a verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Settles {
    /// What is to be done.
    pub by: Settling,
    /// What it takes a person, s.
    pub seconds: f64,
    /// The chance that it is within then.
    pub chance: f64,
}

/// What is to be done to settle a verdict.
#[derive(Debug, Clone, PartialEq)]
pub enum Settling {
    /// So many more seats at this place.
    Seats {
        /// How many.
        count: u32,
        /// The station.
        at: String,
    },
    /// One more station, this one.
    Station(String),
    /// A survey of so many places.
    Survey(usize),
}

/// What is to be reckoned with on a job's board where nobody reads it; `None` where it is taken to
/// be flat without doubt.
pub(crate) fn expected(job: &Job, board: &Board) -> Option<Expected> {
    (board.is_surveyed() || board.unknown.is_some()).then(|| job.board.expected())
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
        let size_mm = [job.image.width.0, job.image.height.0];
        let reckoned = expected(job, board);
        let (mut between, mut settles, mut over_all) = (None, None, None);
        let mut unseen = None;
        let board = fitted.map(|mut fit| {
            fit.consistency.came_back(&self.came_back());
            let Some(reckoned) = reckoned else {
                let judged = verdict::judge(&fit, &points, band);
                return (fit, judged);
            };
            let places = fit.consistency.places.iter();
            let read: Vec<(f64, f64)> = places.map(|place| (place.x_mm, place.y_mm)).collect();
            let ground = Ground::new(board, size_mm, reckoned, &read);
            let whole = judge_whole(&fit, &ground, &points, band, self.looks());
            if missing.is_empty() && whole.only_between() {
                let known = board.surveyed_places().iter().map(|p| (p[0], p[1]));
                let known: Vec<(f64, f64)> = known.chain(read.iter().copied()).collect();
                let (person, looks) = (&job.limits.person, self.looks() + 1);
                let between = &whole.between;
                let look =
                    places_to_survey(&ground, between, &known, band, TAKE_U_MM, person, looks);
                let chance = ground.chance_of_none_out(&whole.between);
                // A first survey begins with as many as show bow, twist and bulge.
                let least = if board.is_surveyed() { 0 } else { skimgauge_site::survey::FIRST };
                settles = Settles::by_survey(&look, least, chance, person);
            }
            (over_all, unseen) = (Some(whole.verdict), whole.unseen);
            between = Some(whole.between);
            (fit, whole.at_places)
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
        if let Ok((_, judged)) = &board
            && settles.is_none()
        {
            settles = Settles::by_reading(judged, one_more.as_deref(), band, &job.limits.person);
        }
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
            Some(
                board
                    .as_ref()
                    .map_or(Verdict::Unsure, |(_, judged)| over_all.unwrap_or(judged.verdict)),
            ),
            level.as_ref().map(word),
            lean.as_ref().map(word),
            (!missing.is_empty() || self.has_line()).then_some(Verdict::Unsure),
        ];
        let verdict = Verdict::of_all(
            parts.into_iter().flatten().chain(out.as_ref().map(|_| Verdict::Outside)),
        );
        let settles = settles.filter(|_| verdict == Verdict::Unsure);
        Whole {
            verdict,
            observations,
            out,
            one_more,
            judged_at,
            board,
            between,
            unseen,
            looked_over: job.board.looked_over,
            settles,
            level,
            lean,
            line_stays: self.has_line(),
            turned_out: false,
            missing,
        }
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
        // The head's own offset is in both and falls out; its seats are not.
        let seat = SEAT_TILT_U_DEG[usize::from(!level)].powi(2);
        let stated = of_board.iter().map(|(_, u)| u * u).sum::<f64>() / count + seat;
        // A bent board's stations differ by more than seats do: their mean is no surer than that.
        let freedom = (count - 1.0).max(1.0);
        let scatter = of_board.iter().map(|(tilt, _)| (tilt - mean).powi(2)).sum::<f64>() / freedom;
        let of_mean = stated.max(scatter) / count;
        let variance = of_mean + emitter.own_u_deg.powi(2) + seat;
        let u = variance.sqrt();
        // Welch and Satterthwaite (JCGM 100, G.4.1).
        let dof = (scatter > stated).then(|| freedom * (variance / of_mean).powi(2));
        let emitter_deg = if level { emitter.level_deg } else { emitter.lean_deg };
        let (value_deg, expanded_deg) = (emitter_deg - mean, expanded(u, dof));
        let verdict = verdict::decide(Deg(value_deg), Deg(expanded_deg), band);
        Ok(TiltVerdict { emitter_deg, board_deg: mean, value_deg, expanded_deg, verdict })
    }
}

impl Settles {
    fn by_survey(look: &Looking, least: usize, chance: f64, person: &Person) -> Option<Self> {
        let worth = look.settles && !look.places.is_empty();
        let count = look.places.len().max(least);
        worth.then(|| Self {
            seconds: person.survey_s(count),
            chance: chance.clamp(0.0, 1.0),
            by: Settling::Survey(count),
        })
    }

    /// One more seat or one more station.
    fn by_reading(
        judged: &BoardVerdict,
        one_more: Option<&str>,
        band: Band<Mm>,
        person: &Person,
    ) -> Option<Self> {
        let place = judged.limiting_place(band)?;
        match judged.remedy.as_ref()? {
            Remedy::OneMoreStation => {
                let (low, high) = (band.low.0, band.high.0);
                let chance = conformance_probability(place.gap_mm, place.u_mm, low, high);
                let by = Settling::Station(one_more?.to_owned());
                Some(Self { by, seconds: person.stations_s(1), chance })
            }
            // Where a point between or beyond the places is in the way, seats at this place are not
            // what it lacks.
            Remedy::MoreTakes { times } if place.verdict == Verdict::Unsure => {
                let count = (times.ceil() as u32).saturating_sub(1).clamp(1, 9);
                let k = place.expanded_mm / place.u_mm;
                let after_mm = place.u_mm / f64::from(count + 1).sqrt();
                // The mean still moves by what the further seats tell.
                let moves_mm = (place.u_mm.powi(2) - after_mm.powi(2)).max(0.0).sqrt();
                let (low, high) = (band.low.0 + k * after_mm, band.high.0 - k * after_mm);
                let chance = match low < high {
                    true => conformance_probability(place.gap_mm, moves_mm, low, high),
                    false => 0.0,
                };
                let by = Settling::Seats { count, at: place.name.clone() };
                Some(Self { by, seconds: f64::from(count) * person.clip_s, chance })
            }
            _ => None,
        }
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
