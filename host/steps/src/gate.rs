//! What has to stand before a person may say that a step is done, and what hangs on anchors that are
//! not proved.

use crate::state::{Standing, State};
use crate::step::Step;
use std::collections::BTreeMap;

/// A step that has to stand first and does not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missing {
    /// Which.
    pub step: Step,
    /// Why it does not.
    pub why: String,
}

/// What this step leans on and nobody did yet, or left out with a reason. Nothing is lifted over
/// people's heads because somebody left out what it hangs on.
pub fn missing(step: Step, standings: &[Standing]) -> Vec<Missing> {
    let of = |earlier: &Step| {
        let standing = standings.iter().find(|standing| standing.step == *earlier)?;
        let why = match (step, earlier) {
            (Step::Hanging, Step::Fixings) => not_proved(&standing.state)?,
            _ if standing.state.is_to_do() => why(&standing.state, "open"),
            _ => return None,
        };
        Some(Missing { step: *earlier, why })
    };
    step.leans_on().iter().filter_map(of).collect()
}

/// Why nothing may hang by the step fixings as it stands; `None` where it was worked out and found
/// good, or somebody answers for it by name.
pub(crate) fn not_proved(fixings: &State) -> Option<String> {
    match fixings {
        State::Done(_) | State::Said { .. } => None,
        State::LeftOut { why, .. } => Some(format!("left out ({why})")),
        // Whatever a simulated head read, no anchor was among it.
        State::Simulated(_) => Some("only practised".to_owned()),
        open => Some(why(open, "nobody worked out what the anchors carry")),
    }
}

fn why(state: &State, untried: &str) -> String {
    match state {
        State::Open { found: Some((_, found)) } => found.clone(),
        State::Stale { why, .. } => why.clone(),
        _ => untried.to_owned(),
    }
}

/// Whether the load was hung after its anchors had been left out, which earlier programs took for
/// done: nothing came after it that undoes it.
pub(crate) fn hung_without(hanging: &State, fixings: &State) -> bool {
    match (hanging, fixings) {
        (State::Done(hung), State::LeftOut { by, .. }) => by.event < hung.event,
        _ => false,
    }
}

/// Whether the job was closed so: then it stands as it was closed.
pub(crate) fn closed_as_hung(states: &BTreeMap<Step, State>) -> bool {
    let of = |step| states.get(&step);
    let hung = of(Step::Hanging).zip(of(Step::Fixings));
    matches!(of(Step::Handover), Some(State::Done(_)))
        && hung.is_some_and(|(hanging, fixings)| hung_without(hanging, fixings))
}

/// What is to be done at once: a load was hung, and its anchors are not proved, or no longer.
pub fn hangs_unproved(standings: &[Standing]) -> Option<String> {
    let of = |step| standings.iter().find(|standing| standing.step == step);
    let (hanging, fixings) = (&of(Step::Hanging)?.state, &of(Step::Fixings)?.state);
    // Left out after that, it is down again.
    let hangs = matches!(hanging, State::Done(_) | State::Stale { .. });
    let why = not_proved(fixings).filter(|_| hangs)?;
    // Of an open job such a step is stale by now.
    if hung_without(hanging, fixings) {
        return Some(format!(
            "WARNING: when this load was hung, its fixings had been {why}: nothing in this job shows that the anchors carry it. Until somebody has worked them out or pulled them, keep people from below it."
        ));
    }
    Some(format!(
        "DANGER: a load hangs on anchors that are not proved: {why}. Keep people from below it, and take it down or have it held."
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every step that a word closes, with nothing done yet: the trade's order.
    #[test]
    fn what_a_word_closes_wants_what_it_leans_on() {
        let nothing: Vec<Standing> =
            Step::all().map(|step| Standing { step, state: State::Open { found: None } }).collect();
        let wanted = |step| missing(step, &nothing).into_iter().map(|missing| missing.step);
        let wanted = |step| wanted(step).collect::<Vec<_>>();
        use Step::{
            Bracket, Covers, Emitter, Fixings, Focus, Hanging, Retighten, Services, SetOut, Square,
        };
        assert_eq!(wanted(Services), []);
        assert_eq!(wanted(Hanging), [SetOut, Services, Fixings, Bracket]);
        assert_eq!(wanted(Focus), [Hanging]);
        assert_eq!(wanted(Retighten), [Hanging, Square]);
        assert_eq!(wanted(Emitter), [SetOut, Services]);
        assert_eq!(wanted(Covers), [Hanging, Retighten]);
        assert_eq!(hangs_unproved(&nothing), None);
    }
}
