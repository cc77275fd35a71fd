//! How each step stands, from the events of the job in their order.

use crate::step::Step;
use crate::undoing::{Cause, undoings};
use serde::Serialize;
use skimgauge_jobfile::JobFile;
use skimgauge_model::Verdict;
use skimgauge_record::event::Body;
use skimgauge_record::section::{Fit, ProofFound, SaidHow, Section, WithinAllowed};
use skimgauge_record::{Event, When};
use std::collections::BTreeMap;

/// The event that brought a step to where it stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct By {
    /// Its place in the job, from 1.
    pub event: u32,
    /// Its kind, as the record has it.
    pub kind: String,
    /// When.
    pub at: When,
    /// The person.
    pub who: String,
}

impl By {
    fn of(event: &Event) -> Self {
        Self {
            event: event.seq,
            kind: event.body.kind().to_owned(),
            at: event.at,
            who: event.who.clone(),
        }
    }
}

/// How a step stands.
#[derive(Debug, Clone, PartialEq)]
pub enum State {
    /// Not done.
    Open {
        /// What was found when it was last tried, if it was.
        found: Option<(By, &'static str)>,
    },
    /// Done, and nothing came that undoes it.
    Done(By),
    /// Done, and undone by what came after.
    Stale {
        /// When it was done.
        done: By,
        /// What came after.
        by: By,
        /// Why that undoes it.
        why: &'static str,
    },
    /// Not done on this job.
    LeftOut {
        /// By whom and when that was said.
        by: By,
        /// Why.
        why: String,
    },
}

impl State {
    /// Its word, in JSON and on screens.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Open { .. } => "open",
            Self::Done(_) => "done",
            Self::Stale { .. } => "stale",
            Self::LeftOut { .. } => "left out",
        }
    }

    /// Whether it is still to be done.
    pub fn is_to_do(&self) -> bool {
        matches!(self, Self::Open { .. } | Self::Stale { .. })
    }
}

/// A step and how it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Which.
    pub step: Step,
    /// How it stands.
    pub state: State,
}

/// What an event says of a step.
enum Says {
    /// It is done.
    Done,
    /// It was tried and is not: why.
    Found(&'static str),
    /// It is left out: why.
    LeftOut(String),
}

/// Every step of the job, in the trade's order, from the job's events in theirs.
pub fn standings(events: &[Event]) -> Vec<Standing> {
    let mut reading = Reading::default();
    for event in events {
        reading.hear(event);
    }
    Step::all()
        .map(|step| Standing {
            step,
            state: reading.states.remove(&step).unwrap_or(State::Open { found: None }),
        })
        .collect()
}

/// The first step that is to be done.
pub fn next(standings: &[Standing]) -> Option<&Standing> {
    standings.iter().find(|standing| standing.state.is_to_do())
}

/// Whether a step is to be done that others lean on.
pub fn holds_others_up(standings: &[Standing]) -> bool {
    standings.iter().any(|standing| standing.state.is_to_do() && standing.step.is_leant_on())
}

#[derive(Default)]
struct Reading<'a> {
    states: BTreeMap<Step, State>,
    /// The last section of each word, to see whether another result is another.
    sections: BTreeMap<&'a str, &'a Section>,
    /// What was held level or plumb: of each thing and line the last verdict.
    levelled: BTreeMap<(&'a str, &'static str), Verdict>,
    job_file: Option<&'a str>,
    constants: Option<skimgauge_record::chain::Hash>,
}

impl<'a> Reading<'a> {
    fn hear(&mut self, event: &'a Event) {
        match &event.body {
            Body::JobOpened(opened) => self.job_file = Some(&opened.job_file),
            Body::JobRevised(revised) => {
                let before = self.job_file.replace(&revised.job_file);
                if before.is_none_or(|before| other_image(before, &revised.job_file)) {
                    self.undo(Cause::ImageChanged, event);
                }
            }
            Body::CalibrationUsed(used) => {
                let constants = used.head.calibration_sha256;
                let before = std::mem::replace(&mut self.constants, constants);
                if before.is_some() && before != constants {
                    self.undo(Cause::ZeroedAnew, event);
                }
            }
            Body::TurnObserved(_) => self.undo(Cause::Turned, event),
            Body::Judged(judged) => {
                let says = match judged.verdict {
                    Verdict::Within => Says::Done,
                    Verdict::Outside => Says::Found("outside"),
                    Verdict::Unsure => Says::Found("too close to call"),
                };
                self.say(Step::Trim, says, event);
            }
            // On this board it was found, or was found to hold.
            Body::Calibrated(found) if found.after.is_some() => {
                self.say(Step::Zero, Says::Done, event);
            }
            Body::ZeroChecked(checked) => {
                let says = match checked.verdict {
                    Verdict::Within => Says::Done,
                    Verdict::Outside => Says::Found("it does not hold: zero the head"),
                    Verdict::Unsure => Says::Found("too close to call"),
                };
                self.say(Step::Zero, says, event);
            }
            Body::AsLeft(_) => self.say(Step::AsLeft, Says::Done, event),
            Body::Closed(_) => self.say(Step::Handover, Says::Done, event),
            Body::Signed(_) => self.say(Step::Signature, Says::Done, event),
            Body::Section(section) => self.section(section, event),
            _ => {}
        }
    }

    fn section(&mut self, section: &'a Section, event: &Event) {
        let before = match section {
            // Each thing and each step has its own.
            Section::Level(_) | Section::Step(_) => None,
            _ => self.sections.insert(section.word(), section),
        };
        let Some((step, says)) = self.said(section) else { return };
        let did = matches!(says, Says::Done | Says::Found(_));
        self.say(step, says, event);
        if did && before != Some(section) {
            self.undo(Cause::Did(step), event);
        }
    }

    /// Of which step a section speaks, and what.
    fn said(&mut self, section: &'a Section) -> Option<(Step, Says)> {
        Some(match section {
            Section::SetOut(found) => (Step::SetOut, set_out(found)),
            Section::Fixings(found) => (Step::Fixings, fixings(found)),
            Section::Square(found) if found.turn_in_this_order.is_empty() => {
                (Step::Square, Says::Done)
            }
            Section::Square(_) => {
                (Step::Square, Says::Found("something is to be turned; then measure it again"))
            }
            Section::Survey(found) => {
                let says = match found.band.verdict {
                    Some(Verdict::Outside) => Says::Found("no setting keeps the band over it"),
                    Some(Verdict::Unsure) => {
                        Says::Found("too close to call, or a part that nobody looked at")
                    }
                    Some(Verdict::Within) | None => Says::Done,
                };
                (Step::Survey, says)
            }
            Section::Level(found) => {
                let line = found.line.shown();
                self.levelled.insert((found.of.as_str(), line), found.verdict);
                let says = if self.levelled.values().any(|verdict| *verdict == Verdict::Outside) {
                    Says::Found("outside")
                } else if self.levelled.values().any(|verdict| *verdict == Verdict::Unsure) {
                    Says::Found("too close to call")
                } else {
                    Says::Done
                };
                (Step::Bracket, says)
            }
            Section::Touch(found) => {
                let says = match found.verdict {
                    Verdict::Within => Says::Done,
                    Verdict::Outside => Says::Found("outside"),
                    Verdict::Unsure => Says::Found("too close to call"),
                };
                (Step::Proof, says)
            }
            Section::Step(said) => {
                let step = Step::from_word(&said.step)?;
                let says = match said.how {
                    SaidHow::Done => Says::Done,
                    SaidHow::LeftOut => Says::LeftOut(said.why.clone().unwrap_or_default()),
                };
                (step, says)
            }
            Section::Prove(_) | Section::Other(_) => return None,
        })
    }

    fn say(&mut self, step: Step, says: Says, event: &Event) {
        let by = By::of(event);
        let state = match says {
            Says::Done => State::Done(by),
            Says::Found(found) => State::Open { found: Some((by, found)) },
            Says::LeftOut(why) => State::LeftOut { by, why },
        };
        self.states.insert(step, state);
    }

    fn undo(&mut self, cause: Cause, event: &Event) {
        for undoing in undoings(cause) {
            for step in undoing.undoes {
                if let Some(State::Done(done)) = self.states.get(step) {
                    let state =
                        State::Stale { done: done.clone(), by: By::of(event), why: undoing.why };
                    self.states.insert(*step, state);
                }
            }
        }
    }
}

fn set_out(found: &skimgauge_record::section::SetOut) -> Says {
    let short = |fit: &Fit| matches!(fit, Fit::Short | Fit::Far | Fit::Overlaps);
    if found.to_change_first.is_empty() && !found.clearances.iter().any(|c| short(&c.fit)) {
        Says::Done
    } else {
        Says::Found("something is to be changed first")
    }
}

fn fixings(found: &skimgauge_record::section::Fixings) -> Says {
    // Of each anchor its last pull: one that was too short is pulled again.
    let mut pulls = BTreeMap::new();
    for load in &found.proof_loads {
        pulls.insert(load.anchor.as_str(), load.found);
    }
    let judged = |as_word| found.plates.iter().any(|plate| plate.judged == as_word);
    if pulls.values().any(|found| *found != ProofFound::Held) {
        Says::Found("an anchor did not hold its proof load")
    } else if judged(WithinAllowed::BeyondAllowed) {
        Says::Found("an anchor carries more than was entered for it")
    } else if judged(WithinAllowed::NotJudged) || found.plates.is_empty() {
        Says::Found("not every anchor could be compared with what it may carry")
    } else {
        Says::Done
    }
}

/// Whether two job files have another image; also where one of them cannot be read.
fn other_image(before: &str, after: &str) -> bool {
    let read = |text: &str| JobFile::read("job file", text).ok();
    match (read(before), read(after)) {
        (Some(before), Some(after)) => {
            let place = |job: &JobFile| job.room.as_ref().map(|plan| plan.place);
            before.image != after.image || place(&before) != place(&after)
        }
        _ => before != after,
    }
}
