//! What a result in the record says of its step.

use skimgauge_jobfile::JobFile;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Sentence, Style, counted};
use skimgauge_record::section::{
    Fit, Fixings, ProofFound, ProofLoad, SetOut, Square, Survey, TapeChecked, WithinAllowed,
};
use skimgauge_site::fixings::proof::{Lacking, is_unasked, lacking};
use skimgauge_site::fixings::{FixedPlate, FixingsInput, crowding, worthless};
use std::collections::BTreeMap;

/// What an event says of a step.
pub(crate) enum Says {
    /// It is done.
    Done,
    /// Somebody says that it is done, where a measurement would tell; with what else was said.
    Said(Option<String>),
    /// It was tried and is not: why.
    Found(String),
    /// It was tried, and nothing is wanting but a proof load that nobody made: which. A name that
    /// says why none is made closes it.
    Unproved(String),
    /// It is left out: why.
    LeftOut(String),
}

pub(crate) fn found(what: &str) -> Says {
    Says::Found(what.to_owned())
}

/// A verdict closes a step where it is within.
pub(crate) fn of_verdict(verdict: Verdict) -> Says {
    match verdict {
        Verdict::Within => Says::Done,
        Verdict::Outside => found("outside"),
        Verdict::Unsure => found("too close to call"),
    }
}

pub(crate) fn of_set_out(set_out: &SetOut) -> Says {
    let short = |fit: &Fit| matches!(fit, Fit::Short | Fit::Far | Fit::Overlaps);
    if !set_out.to_change_first.is_empty() || set_out.clearances.iter().any(|c| short(&c.fit)) {
        return found("something is to be changed first");
    }
    // Marks and holes stand by figures that nobody answers for.
    let assumed = set_out.assumed.iter().map(|said| format!("assumed: {}", said.text_in_mm()));
    let not_listed = set_out.not_listed.iter().map(|_| NOT_LISTED.to_owned());
    let open: Vec<String> = assumed.chain(not_listed).collect();
    if open.is_empty() {
        Says::Done
    } else {
        Says::Found(open.join(" ").trim_end_matches('.').to_owned())
    }
}

const NOT_LISTED: &str =
    "the mount's figures are not listed for this size: ask its maker before drilling";

pub(crate) fn of_square(square: &Square) -> Says {
    if square.lengths_are == Some(TapeChecked::Contradicting) {
        found("the taped lengths contradict one another: measure again as `square` says")
    } else if square.corners_and_tape.as_ref().is_some_and(|both| !both.agree) {
        found("corners and tape contradict one another: measure again as `square` says")
    } else if !square.turn_in_this_order.is_empty() {
        found("something is to be turned; then measure it again")
    } else if square.lengths_are == Some(TapeChecked::Unchecked) {
        found("no spare length checks the tape: measure the sixth too")
    } else if let Some(beyond) = &square.beyond {
        Says::Found(beyond.text_in_mm())
    } else if square.too_close.is_some() {
        found("too close to call: measure finer, or each length once more")
    } else {
        Says::Done
    }
}

pub(crate) fn of_survey(survey: &Survey) -> Says {
    match survey.band.verdict {
        Some(Verdict::Outside) => found("no setting keeps the band over it"),
        // Bow and twist are of the whole image, and not known of a part.
        Some(Verdict::Unsure) if survey.twist.is_none() => Says::Found(format!(
            "not finished: {} surveyed so far, not all over the image",
            counted(survey.points, "place", "places")
        )),
        Some(Verdict::Unsure) => found("too close to call whether the band can be met over it"),
        Some(Verdict::Within) | None => Says::Done,
    }
}

/// `job` is the job file that the anchors were worked out from: it says which are to be pulled.
pub(crate) fn of_fixings(fixings: &Fixings, job: Option<&JobFile>) -> Says {
    // Of each anchor of each plate its last pull: one that was too short is pulled again.
    let mut pulls = BTreeMap::new();
    for load in &fixings.proof_loads {
        pulls.insert((&load.plate, load.anchor.as_str()), load);
    }
    let not_held = pulls.into_values().find(|load| load.found != ProofFound::Held);
    let judged = |as_word| fixings.plates.iter().any(|plate| plate.judged == as_word);
    let asked = job.and_then(|job| job.fixings.as_ref()?.as_ref().ok());
    let slipped = fixings.proof_loads.iter().find(|load| load.found == ProofFound::Slipped);
    if let Some(contradicted) = asked.and_then(failed_proofs) {
        Says::Found(contradicted)
    } else if let Some(load) = slipped {
        // Another pull that holds does not make it good.
        Says::Found(format!("{} slipped under its proof load: do not use it", pulled(load)))
    } else if let Some(load) = not_held.filter(|_| asked.is_none()) {
        Says::Found(format!("{}, proof load: {}", pulled(load), load.found.shown()))
    } else if judged(WithinAllowed::BeyondAllowed) {
        Says::Found(why_beyond(fixings, asked))
    } else if judged(WithinAllowed::NotJudged) || fixings.plates.is_empty() {
        found("not every anchor could be compared with what it may carry")
    } else {
        let small = asked.map(worthless).unwrap_or_default();
        match asked.and_then(missing_proofs) {
            _ if !small.is_empty() => Says::Found(joined(&small)),
            Some(missing) => Says::Unproved(missing),
            None => Says::Done,
        }
    }
}

/// The anchor, and the plate that it is of: each plate has an anchor A.
fn pulled(load: &ProofLoad) -> String {
    let of = load.plate.as_ref().map(|plate| format!(" of {plate}")).unwrap_or_default();
    format!("anchor {}{of}", load.anchor)
}

fn joined(said: &[Sentence]) -> String {
    let texts: Vec<String> = said.iter().map(|said| said.text(Style::default())).collect();
    texts.join("; ")
}

/// What is beyond the allowed values or their conditions, where no anchor slipped.
fn why_beyond(fixings: &Fixings, asked: Option<&FixingsInput>) -> String {
    // Kept to the whole percent: of 100 it is not known on which side it was.
    if fixings.plates.iter().any(|plate| plate.used_percent.is_some_and(|used| used > 100.0)) {
        return "an anchor carries more than was entered for it".to_owned();
    }
    let crowded: Vec<Sentence> =
        asked.into_iter().flat_map(|asked| &asked.plates).filter_map(crowding).collect();
    if crowded.is_empty() {
        "an anchor is beyond what was entered for it, or its conditions are not kept".to_owned()
    } else {
        joined(&crowded)
    }
}

/// Which anchors were pulled and did not hold as they are to, plate by plate.
fn failed_proofs(asked: &FixingsInput) -> Option<String> {
    let of = |plate: &FixedPlate| {
        let failed = lack(plate).into_iter().filter(|lack| lack.was_pulled);
        let says = |lack: Lacking| format!("{} ({})", lack.says.text(Style::default()), plate.name);
        failed.map(says).collect::<Vec<_>>()
    };
    let mut open: Vec<String> = asked.plates.iter().flat_map(of).collect();
    if !open.is_empty() {
        open.extend(missing_proofs(asked));
    }
    (!open.is_empty()).then(|| open.join("; "))
}

/// Which anchors nobody pulled though a proof load is asked for, or though nothing else tells what
/// they hold, plate by plate.
fn missing_proofs(asked: &FixingsInput) -> Option<String> {
    let of = |plate: &FixedPlate| {
        if is_unasked(plate, asked.wall) {
            return Some(format!(
                "the wall counts as weak, and no proof load is asked for on {}",
                plate.name
            ));
        }
        let lacking = lack(plate);
        let not_pulled = lacking.iter().filter(|lack| !lack.was_pulled);
        let names: Vec<&str> = not_pulled.map(|lack| lack.anchor.as_str()).collect();
        (!names.is_empty())
            .then(|| format!("no proof load yet on {} of {}", names.join(", "), plate.name))
    };
    let open: Vec<String> = asked.plates.iter().filter_map(of).collect();
    (!open.is_empty()).then(|| open.join("; "))
}

/// Figures that cannot be right were refused when the job file was read.
fn lack(plate: &FixedPlate) -> Vec<Lacking> {
    lacking(plate).unwrap_or_default()
}
