//! What an assessment says: verdict, feasibility, turns, survey.

use super::{Assessment, Question, WORTH_MM};
use crate::coverage::{LEVEL, t_factor};
use crate::plane::looking::Looking;
use crate::report::Feasibility;
use crate::trim::feasible::WholeSetting;
use crate::trim::plan::{Listed, Task};
use crate::trim::survey::{Standing, survey_now};
use skimgauge_model::Verdict;

/// A setting is promised from so many standard uncertainties of its margin on.
const SURE: f64 = 3.5;

impl Assessment {
    /// The verdict: over the whole board where that was asked, else at the points and places. No
    /// `Within` where earlier rounds contradict it, or where more is judged than the gap.
    pub fn word(&self) -> Verdict {
        if self.gap_alone { Verdict::Unsure } else { self.of_gap() }
    }

    /// The same of the gap alone.
    fn of_gap(&self) -> Verdict {
        self.whole.as_ref().map_or(self.verdict.verdict, |whole| whole.verdict)
    }

    /// The best setting of the whole board, where that decides and the points alone would pass.
    pub fn decided_by_whole(&self) -> Option<&WholeSetting> {
        self.whole_setting.as_ref().filter(|_| self.at_points() == Feasibility::Yes)
    }

    /// Whether a setting exists: `No` at 95 %, `Yes` only beyond three and a half standard
    /// uncertainties, because whoever is told so begins to turn. Over the whole board where that
    /// was asked. `Unsure` where the readings contradict one another.
    pub fn feasibility(&self) -> Feasibility {
        self.decided_by_whole().map_or_else(|| self.at_points(), |whole| whole.feasible)
    }

    fn at_points(&self) -> Feasibility {
        let expanded =
            t_factor(LEVEL, f64::INFINITY).map_or(f64::INFINITY, |k| k * self.margin_u_mm);
        match self.setting.margin_mm {
            _ if !self.promises() => Feasibility::Unsure,
            m if m < -expanded => Feasibility::No,
            m if m >= SURE * self.margin_u_mm => Feasibility::Yes,
            _ => Feasibility::Unsure,
        }
    }

    /// Whether the readings contradict one another, so that nothing is promised.
    pub fn contradicts(&self) -> bool {
        self.fit.contradiction().is_some()
    }

    /// Whether anything is promised: neither the readings nor earlier rounds contradict.
    pub fn promises(&self) -> bool {
        !self.contradicts() && !self.contradicted
    }

    /// The turns that are told: none where it is within and they would bring it no further inside,
    /// as read and for sure.
    pub fn told(&self) -> Option<&Listed> {
        let gains = self.promise.is_some_and(|after| {
            after.margin_mm >= self.stands.margin_mm + WORTH_MM
                && after.low_mm >= self.stands.low_mm
        });
        self.plan.as_ref().filter(|_| self.of_gap() != Verdict::Within || gains)
    }

    /// The chance that a survey finds nothing in the way of `within`: as the board stands now, or with
    /// the best setting.
    pub fn survey_helps(&self, now: bool) -> Option<f64> {
        let (ground, best) = (self.ground.as_ref()?, self.whole_setting.as_ref()?);
        let between = if now { &self.whole.as_ref()?.between } else { &best.after };
        Some(ground.chance_of_none_out(between))
    }

    /// The survey that is to be done now, before the next turns or for the verdict, once every station
    /// is read; each of its heights will have the standard uncertainty `u_mm`. [`survey_now`].
    pub fn survey(&self, question: &Question<'_>, u_mm: f64) -> Option<Looking> {
        let (ground, whole, best) =
            (self.ground.as_ref()?, self.whole.as_ref()?, self.whole_setting.as_ref()?);
        if self.contradicts() {
            return None;
        }
        let places = question.board.surveyed_places().iter();
        survey_now(&Standing {
            ground,
            whole,
            best,
            surveyed: &places.map(|p| (p[0], p[1])).collect::<Vec<_>>(),
            band: question.band,
            u_mm,
            person: question.person,
            round_s: Task::round_s(&question.person, self.stations.len()),
        })
    }
}
