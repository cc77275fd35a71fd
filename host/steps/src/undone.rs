//! A person's word on a step taken back: what of it counts no more.

use crate::step::Step;
use skimgauge_record::Event;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Body, StepUndone};
use skimgauge_record::section::{SaidHow, Section, StepSaid};
use std::collections::HashMap;

/// A word on a step that counts no more.
pub(crate) struct Word {
    /// Its place in the job, where it said that the step is done.
    pub(crate) done_at: Option<u32>,
}

/// Every word on a step that counts no more, by its event.
pub(crate) fn words(events: &[Event]) -> HashMap<Hash, Word> {
    let undone = undone(events);
    let said = events.iter().filter(|event| undone.contains(&event.hash));
    said.filter_map(|event| {
        let done = said_of(event)?.how == SaidHow::Done;
        Some((event.hash, Word { done_at: done.then_some(event.seq) }))
    })
    .collect()
}

/// What is to be kept so that the last word on a step counts no more, and those before it that said
/// the same; `None` where no word on it stands.
pub fn undo(events: &[Event], step: Step, why: &str) -> Option<StepUndone> {
    let undone = undone(events);
    let mut words = events.iter().rev().filter_map(|event| {
        let said = said_of(event).filter(|said| said.step == step.word())?;
        (!undone.contains(&event.hash)).then_some((event.hash, said.how))
    });
    let (last, how) = words.next()?;
    let alike = words.take_while(|(_, before)| *before == how).map(|(hash, _)| hash);
    let mut said: Vec<Hash> = std::iter::once(last).chain(alike).collect();
    said.reverse();
    Some(StepUndone { step: step.word().to_owned(), said, why: why.to_owned() })
}

fn undone(events: &[Event]) -> Vec<Hash> {
    let undone = |event: &Event| match &event.body {
        Body::StepUndone(undone) => undone.said.clone(),
        _ => Vec::new(),
    };
    events.iter().flat_map(undone).collect()
}

fn said_of(event: &Event) -> Option<&StepSaid> {
    match &event.body {
        Body::Section(Section::Step(said)) => Some(said),
        _ => None,
    }
}
