//! Whether an event may follow in its job.

use std::collections::HashSet;
use std::path::Path;

use rusqlite::Transaction;

use crate::RecordError;
use crate::chain::Hash;
use crate::event::{AsLeft, Body, Note, Section, StepUndone, StruckOut, Take, TurnObserved};
use crate::store::Open;

/// Whether the event may follow in this job.
pub(crate) fn admit(
    transaction: &Transaction<'_>,
    path: &Path,
    job: &Open,
    body: &Body,
) -> Result<(), RecordError> {
    if job.events.iter().any(|event| event.body.closes()) {
        return Err(RecordError::Closed(job.name.clone()));
    }
    let unknown = job.events.iter().any(|event| matches!(event.body, Body::Unknown(_)));
    if unknown && !matches!(body, Body::Note(_) | Body::PhotoAttached(_)) {
        return Err(RecordError::NewerEvents(job.name.clone()));
    }
    let refuse = |why: String| Err(RecordError::BadEvent(why));
    match body {
        Body::JobOpened(_) => refuse(format!("the job \"{}\" was opened already", job.name)),
        Body::Joined(_) => refuse("branches are joined where they were sent to".to_owned()),
        Body::Signed(_) => Err(RecordError::NotClosed(job.name.clone())),
        Body::Unknown(unknown) => {
            refuse(format!("\"{}\" is no event that this program knows", unknown.kind))
        }
        Body::PhotoAttached(photo) => {
            let there = transaction
                .prepare_cached("SELECT 1 FROM photo WHERE sha256 = ?1")
                .and_then(|mut query| query.exists([photo.sha256]));
            match there.map_err(|error| RecordError::from_sqlite(path, &error))? {
                true => Ok(()),
                false => {
                    refuse(format!("the bytes of \"{}\" are not in the record yet", photo.name))
                }
            }
        }
        Body::Take(take) => replaces(job, take).or_else(refuse),
        Body::AsLeft(left) => stand(job, left).or_else(refuse),
        Body::StruckOut(struck) => strikes(job, struck).or_else(refuse),
        Body::StepUndone(undone) => undoes(job, undone).or_else(refuse),
        Body::Note(Note { about: Some(hash), .. })
        | Body::TurnObserved(TurnObserved { advice: Some(hash), .. })
            if find(job, *hash).is_none() =>
        {
            refuse(format!("there is no event {} in \"{}\"", hash.short(), job.name))
        }
        _ => Ok(()),
    }
}

fn find(job: &Open, hash: Hash) -> Option<(u32, &Body)> {
    job.events.iter().find(|event| event.hash == hash).map(|event| (event.seq, &event.body))
}

fn replaced_by(job: &Open, hash: Hash) -> Option<u32> {
    let replaces = |body: &Body| matches!(body, Body::Take(take) if take.supersedes == Some(hash));
    job.events.iter().find(|event| replaces(&event.body)).map(|event| event.seq)
}

/// What a take replaces is a take of the same station and state that nothing has replaced yet.
fn replaces(job: &Open, take: &Take) -> Result<(), String> {
    let Some(hash) = take.supersedes else { return Ok(()) };
    let Some((seq, Body::Take(old))) = find(job, hash) else {
        return Err(format!(
            "event {} of \"{}\" is no take that could be replaced",
            hash.short(),
            job.name
        ));
    };
    if (&old.station, old.phase) != (&take.station, take.phase) {
        return Err(format!(
            "the take {seq} is of station \"{}\", {}, and can't be replaced by one of \"{}\", {}",
            old.station,
            old.phase.word(),
            take.station,
            take.phase.word()
        ));
    }
    if is_struck_out(job, hash) {
        return Err(format!("the take {seq} was struck out: nothing replaces it"));
    }
    match replaced_by(job, hash) {
        None => Ok(()),
        Some(by) => Err(format!("the take {seq} was replaced already, by {by}: replace that one")),
    }
}

fn is_struck_out(job: &Open, hash: Hash) -> bool {
    let strikes = |body: &Body| matches!(body, Body::StruckOut(out) if out.takes.contains(&hash));
    job.events.iter().any(|event| strikes(&event.body))
}

/// Whether a take stands: nothing replaced it or struck it out.
fn stands(job: &Open, hash: Hash) -> bool {
    replaced_by(job, hash).is_none() && !is_struck_out(job, hash)
}

/// What is struck out is each a take that stands, named once.
fn strikes(job: &Open, struck: &StruckOut) -> Result<(), String> {
    if struck.takes.is_empty() {
        return Err("nothing is named that is struck out".to_owned());
    }
    each_stands(job, &struck.takes)
}

fn each_stands(job: &Open, takes: &[Hash]) -> Result<(), String> {
    let mut seen = HashSet::new();
    for hash in takes {
        match find(job, *hash) {
            Some((_, Body::Take(_))) if stands(job, *hash) && seen.insert(*hash) => {}
            Some((seq, _)) => {
                return Err(format!("event {seq} is no take that stands, or is named twice"));
            }
            None => return Err(format!("there is no event {} in \"{}\"", hash.short(), job.name)),
        }
    }
    Ok(())
}

/// What is undone was said of that step in this job, each once, and was not undone yet.
fn undoes(job: &Open, undone: &StepUndone) -> Result<(), String> {
    if undone.said.is_empty() {
        return Err("nothing is named that is undone".to_owned());
    }
    let is_undone = |hash: Hash| {
        let undoes =
            |body: &Body| matches!(body, Body::StepUndone(known) if known.said.contains(&hash));
        job.events.iter().any(|event| undoes(&event.body))
    };
    let mut seen = HashSet::new();
    for hash in &undone.said {
        match find(job, *hash) {
            Some((_, Body::Section(Section::Step(said))))
                if said.step == undone.step && !is_undone(*hash) && seen.insert(*hash) => {}
            Some((seq, _)) => {
                return Err(format!(
                    "event {seq} says nothing of the step \"{}\" that stands, or is named twice",
                    undone.step
                ));
            }
            None => return Err(format!("there is no event {} in \"{}\"", hash.short(), job.name)),
        }
    }
    Ok(())
}

/// What stands as left is each a take of this job, named once, that stands.
fn stand(job: &Open, left: &AsLeft) -> Result<(), String> {
    if left.takes.is_empty() && left.tilt.is_none() {
        return Err("nothing was taken that could stand as left".to_owned());
    }
    each_stands(job, &left.takes)?;
    match left.tilt.map(|hash| find(job, hash)) {
        None | Some(Some((_, Body::EmitterTilt(_)))) => Ok(()),
        _ => Err("what stands as the emitter's tilt is none".to_owned()),
    }
}
