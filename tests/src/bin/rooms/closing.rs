//! What a trim that has ended counts for.

use crate::tally::Tally;
use crate::trial::{MOST_ROUNDS, Trial};
use skimgauge_metrology::report::Feasibility;
use skimgauge_metrology::trim::solve::Setting;
use skimgauge_model::Verdict;

impl Trial {
    pub(super) fn close(mut self, tally: &mut Tally, best: &Setting, seed: u64) {
        let truly = self.room.is_within(self.band);
        let feasible = best.is_feasible();
        let called = self.best.as_ref().map_or(Feasibility::Unsure, |best| best.feasible);
        let last = self.inside.last().copied().unwrap_or(false);
        self.inside.resize(MOST_ROUNDS, last);
        for (round, inside) in self.inside.iter().enumerate() {
            tally.in_rounds[round] += usize::from(feasible && *inside);
        }
        tally.spare_two += usize::from(best.margin_mm >= 0.1 && self.inside[1]);
        if best.margin_mm >= 0.1 && !self.survey.is_empty() {
            tally.spare_surveyed += 1;
            tally.spare_in_two += usize::from(self.inside[1]);
        }
        let within = self.said == Some(Verdict::Within);
        // As it was said: but for what is narrower than nobody would have seen.
        let excepted_mm = self.unseen.map_or(0.0, |unseen| unseen.width_mm);
        let truly_so = truly || self.room.is_within_but(self.band, excepted_mm);
        let misses = [
            ("late", feasible && !self.inside[1]),
            ("false", within && !truly_so),
            ("unsaid", truly && !within),
            ("called", called == Feasibility::Yes && !feasible),
            ("refused", called == Feasibility::No && feasible),
        ];
        let missed = misses.into_iter().filter(|(_, is)| *is);
        tally.misses.extend(missed.map(|(what, _)| (seed, best.margin_mm, what)));
        tally.called.0 += usize::from(called == Feasibility::Yes);
        tally.called.1 += usize::from(called == Feasibility::No);
        tally.within += usize::from(within);
        tally.excepting += usize::from(within && excepted_mm > 0.0);
        tally.false_within += usize::from(within && !truly_so);
        tally.out_in_all += usize::from(within && !truly);
        tally.truly += usize::from(truly);
        tally.truly_said += usize::from(within && truly);
        tally.surveys += usize::from(!self.survey.is_empty());
        tally.wrong_yes += usize::from(called == Feasibility::Yes && !feasible);
        tally.wrong_no += usize::from(called == Feasibility::No && feasible);
        if feasible {
            tally.instructions.push(self.instructions as f64);
            tally.clips.push(self.clips as f64);
            tally.minutes.push(self.seconds / 60.0);
        }
    }
}
