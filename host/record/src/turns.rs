//! The turns that stand: those that were taken back count no more.

use crate::JobHistory;
use crate::event::{Body, TurnFlag, TurnObserved};

impl JobHistory {
    /// The place of the last event that tells of a turn, one that was taken back too: whoever takes
    /// it back may have turned. 0 where nothing was turned.
    pub fn last_turn(&self) -> u32 {
        let turns = |event: &&crate::Event| matches!(event.body, Body::TurnObserved(_));
        self.events.iter().rev().find(turns).map_or(0, |event| event.seq)
    }

    /// The turns that stand, in their order. One that was [taken back](TurnFlag::TakenBack) takes the
    /// last of the same adjuster with it.
    pub fn standing_turns(&self) -> Vec<&TurnObserved> {
        let mut stand: Vec<&TurnObserved> = Vec::new();
        for event in &self.events {
            let Body::TurnObserved(turn) = &event.body else { continue };
            if !turn.flags.contains(&TurnFlag::TakenBack) {
                stand.push(turn);
            } else if let Some(at) = stand.iter().rposition(|made| made.adjuster == turn.adjuster) {
                stand.remove(at);
            }
        }
        stand
    }
}

#[cfg(test)]
mod tests {
    use crate::event::{TurnFlag, TurnObserved};
    use crate::{JobId, Record, Stamp, When};
    use skimgauge_quantity::Turns;

    fn turn(adjuster: &str, turns: f64, flags: &[TurnFlag]) -> TurnObserved {
        TurnObserved {
            adjuster: adjuster.to_owned(),
            advice: None,
            turns: Some(Turns(turns)),
            station: None,
            gap_before: None,
            gap_after: None,
            gap_predicted: None,
            flags: flags.to_vec(),
            by: None,
        }
    }

    #[test]
    fn a_turn_that_was_taken_back_takes_the_last_of_its_adjuster_with_it() {
        let folder = tempfile::tempdir().unwrap();
        let mut record = Record::create(&folder.path().join("record.sqlite")).unwrap();
        let at = When::parse("2026-11-25T08:00:00+01:00").unwrap();
        let stamp = Stamp::new(at, "A. Fitter", "skimgauge 0.1.0").unwrap();
        record.open_job(JobId([1; 16]), "Hall 3", "", &stamp).unwrap();
        let back = [TurnFlag::TakenBack];
        for body in [
            turn("left", 1.0, &[]),
            turn("left", 2.0, &[]),
            turn("right", 3.0, &[]),
            turn("left", 2.0, &back),
            turn("upper", 1.0, &back),
        ] {
            record.append("Hall 3", &stamp, body).unwrap();
        }
        let history = record.job("Hall 3").unwrap();
        let stand = history.standing_turns();
        let stand: Vec<_> =
            stand.iter().map(|turn| (turn.adjuster.as_str(), turn.turns.unwrap().0)).collect();
        assert_eq!(stand, [("left", 1.0), ("right", 3.0)]);
    }
}
