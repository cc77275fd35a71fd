//! Where a watched turn ended beside where it was meant to: in numbers, whatever word stands with it.

use super::{TurnFlag, TurnObserved};
use skimgauge_quantity::{Mm, Name, Sentence, say};

/// A gap that came by less than this share of the way hardly moved: as while the turn is made.
const HARDLY: f64 = 0.2;

impl TurnObserved {
    /// The way it was meant to go and the way it went, mm; `None` where nobody watched.
    fn ways(&self) -> Option<(f64, f64)> {
        let (before, after) = (self.gap_before?, self.gap_after?);
        let meant = self.gap_predicted? - before;
        (meant.0 != 0.0).then_some((meant.0, after.0 - before.0))
    }

    /// How far the gap went past where it was meant to be; `None` where it did not, or nobody watched.
    pub fn past(&self) -> Option<Mm> {
        let (meant, went) = self.ways()?;
        let past = (went - meant) * meant.signum();
        (past > 0.0).then_some(Mm(past))
    }

    /// Whether the gap stayed where it was, though it was to move: nothing shows that it was turned.
    pub fn hardly_moved(&self) -> bool {
        self.ways().is_some_and(|(meant, went)| (went / meant).abs() < HARDLY)
    }

    /// What was noticed, for people. Earlier versions wrote "stopped before" of a turn that went past,
    /// too: the gaps beside it tell.
    pub fn noticed(&self) -> Vec<Sentence> {
        let ended = |flag: &TurnFlag| matches!(flag, TurnFlag::StoppedBefore | TurnFlag::WentPast);
        let told = |flag: &TurnFlag| match self.past() {
            Some(past) if ended(flag) => say!("went past the advised gap by {}", past.gap()),
            _ => say!("{}", Name(flag.word())),
        };
        let mut noticed: Vec<Sentence> = self.flags.iter().map(told).collect();
        if self.hardly_moved() && !self.flags.contains(&TurnFlag::TakenBack) {
            noticed.push(say!("the gap hardly moved"));
        }
        noticed
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_quantity::Style;

    /// Watched from the first gap, meant to come to the second, ended at the third.
    fn turn([before, meant, after]: [f64; 3], flags: &[TurnFlag]) -> TurnObserved {
        TurnObserved {
            adjuster: "upper".to_owned(),
            advice: None,
            turns: None,
            station: Some("top".to_owned()),
            gap_before: Some(Mm(before)),
            gap_after: Some(Mm(after)),
            gap_predicted: Some(Mm(meant)),
            flags: flags.to_vec(),
            by: None,
        }
    }

    fn told(turn: &TurnObserved) -> String {
        let told: Vec<String> =
            turn.noticed().iter().map(|one| one.text(Style::default())).collect();
        told.join("; ").replace('\u{a0}', " ")
    }

    #[test]
    fn a_turn_that_went_past_is_not_said_to_have_stopped_before() {
        // To a larger gap and to a smaller, and as earlier versions wrote both.
        for (gaps, past) in [([2.73, 3.65, 4.54], "0.89 mm"), ([4.54, 2.91, 1.63], "1.28 mm")] {
            for flag in [TurnFlag::StoppedBefore, TurnFlag::WentPast] {
                let told = told(&turn(gaps, &[flag]));
                assert_eq!(told, format!("went past the advised gap by {past}"));
            }
        }
        let short = told(&turn([2.73, 3.65, 3.40], &[TurnFlag::StoppedBefore]));
        assert_eq!(short, "stopped before the advised gap");
    }

    #[test]
    fn a_gap_that_stayed_is_told_and_one_that_came_part_of_the_way_is_not() {
        let stayed = turn([4.72, 3.65, 4.73], &[TurnFlag::StoppedBefore]);
        assert!(stayed.hardly_moved());
        assert_eq!(told(&stayed), "stopped before the advised gap; the gap hardly moved");
        assert!(!turn([4.72, 3.65, 4.40], &[]).hardly_moved());
        let counted = TurnObserved { gap_after: None, ..turn([4.72, 3.65, 4.73], &[]) };
        assert!(!counted.hardly_moved() && counted.noticed().is_empty());
    }
}
