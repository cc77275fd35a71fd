//! What this program writes at the most: names, texts, sizes, rounds. What comes in from elsewhere
//! is held to the same.

use crate::chain::MOST_PARENTS;
use crate::event::{Body, Head, TakeFlag, TurnFlag};
use crate::photo;
use crate::text::steers;

/// The highest round of a job.
pub const LAST_ROUND: u32 = 100_000;

/// Longest name of a job, in characters.
pub const LONGEST_NAME: usize = 120;

/// Longest text on one line, in characters: names of people, stations, files, programs; what is
/// noticed.
pub const LONGEST_LINE: usize = 300;

/// Longest text of several lines, in characters: notes, what is left to do, signatures.
pub const LONGEST_TEXT: usize = 20_000;

/// Largest payload, bytes: a survey of some ten thousand points has one million.
pub const LARGEST_PAYLOAD: usize = 16 << 20;

/// Largest file that is read in from elsewhere, bytes: what SQLite reads into memory at once.
pub const LARGEST_FILE: u64 = 2_000_000_000;

/// Most takes or remarks in one event.
const MOST: usize = 100_000;

/// Checks a job's name.
///
/// # Errors
/// What does not fit, as a clause.
pub fn name(text: &str) -> Result<(), String> {
    let length = text.chars().count();
    if length == 0 || length > LONGEST_NAME || text.chars().any(steers) || text.trim() != text {
        return Err(format!(
            "a job's name has 1 to {LONGEST_NAME} characters on one line, and \"{}\" does not",
            text.escape_debug()
        ));
    }
    Ok(())
}

/// Checks a text on one line; `what` names it.
///
/// # Errors
/// What does not fit, as a clause.
pub fn line(what: &str, text: &str) -> Result<(), String> {
    if text.chars().any(steers) {
        return Err(format!(
            "{what} holds characters that show nothing and steer the screen: \"{}\"",
            text.escape_debug()
        ));
    }
    length(what, text, LONGEST_LINE)
}

/// Checks a text that may have several lines; `what` names it.
///
/// # Errors
/// What does not fit, as a clause.
pub fn lines(what: &str, text: &str) -> Result<(), String> {
    if let Some(c) = text.chars().find(|c| steers(*c) && !matches!(c, '\n' | '\r' | '\t')) {
        return Err(format!(
            "{what} holds a character that shows nothing and steers the screen: {}",
            c.escape_debug()
        ));
    }
    length(what, text, LONGEST_TEXT)
}

fn length(what: &str, text: &str, longest: usize) -> Result<(), String> {
    match text.chars().count() {
        length if length > longest => {
            Err(format!("{what} has {length} characters; at most {longest} are kept"))
        }
        _ => Ok(()),
    }
}

fn round(round: u32) -> Result<(), String> {
    if round > LAST_ROUND {
        Err(format!("round {round}: no job has more than {LAST_ROUND}"))
    } else {
        Ok(())
    }
}

fn head(head: &Head) -> Result<(), String> {
    line("the head's serial number", &head.serial)?;
    line("the head's firmware", &head.firmware)?;
    line("the head's calibration date", head.calibration_date.as_deref().unwrap_or_default())
}

fn each<'a>(
    what: &str,
    texts: impl ExactSizeIterator<Item = &'a str>,
    check: fn(&str, &str) -> Result<(), String>,
) -> Result<(), String> {
    if texts.len() > MOST {
        return Err(format!("{what}: more than {MOST}"));
    }
    texts.into_iter().try_for_each(|text| check(what, text))
}

/// Checks what an event says, and how long its payload is.
///
/// # Errors
/// What is beyond what this program writes, as a clause.
pub fn check(body: &Body, payload: &str) -> Result<(), String> {
    if payload.len() > LARGEST_PAYLOAD {
        return Err(format!(
            "it has {} MB; at most {} are kept",
            payload.len() >> 20,
            LARGEST_PAYLOAD >> 20
        ));
    }
    match body {
        Body::JobOpened(opened) => name(&opened.name),
        Body::JobRevised(revised) => revised.said_same.iter().try_for_each(|differs| {
            let texts = [Some(&differs.what), differs.was.as_ref(), differs.is.as_ref()];
            texts.into_iter().flatten().try_for_each(|text| line("what differs", text))
        }),
        Body::Take(_)
        | Body::EmitterTilt(_)
        | Body::EmitterOff(_)
        | Body::CalibrationUsed(_)
        | Body::Calibrated(_)
        | Body::ZeroChecked(_)
        | Body::AsLeft(_) => measured(body),
        Body::TurnAdvised(turn) => {
            round(turn.round)?;
            line("the adjuster's name", &turn.adjuster)?;
            line("the station's name", turn.station.as_deref().unwrap_or_default())
        }
        Body::TurnObserved(turn) => {
            line("the adjuster's name", &turn.adjuster)?;
            line("the station's name", turn.station.as_deref().unwrap_or_default())?;
            each("what was noticed", turn.flags.iter().map(TurnFlag::word), line)
        }
        Body::StruckOut(struck) if struck.takes.len() > MOST => {
            Err(format!("more than {MOST} takes are struck out"))
        }
        Body::StruckOut(struck) => line("why takes are struck out", struck.why.word()),
        Body::StepUndone(undone) if undone.said.len() > MOST => {
            Err(format!("more than {MOST} words on a step are undone"))
        }
        Body::StepUndone(undone) => {
            line("the step", &undone.step)?;
            lines("why a step is undone", &undone.why)
        }
        Body::Touched(touched) => line("how it is known", touched.why.word()),
        Body::Judged(judged) => {
            line("the place", judged.worst.as_ref().map_or("", |worst| worst.name.as_str()))?;
            lines("the decision rule", &judged.decision_rule)?;
            let settle = judged.would_settle.as_ref();
            settle.map_or(Ok(()), |said| lines("what would settle it", &said.text_in_mm()))
        }
        Body::Note(note) => lines("the note", &note.text),
        Body::PhotoAttached(attached) => {
            line("the file's name", &attached.name)?;
            line("the file's kind", &attached.media_type)?;
            lines("the caption", attached.caption.as_deref().unwrap_or_default())?;
            let fits = (1..=photo::LARGEST as u64).contains(&attached.bytes);
            if fits {
                Ok(())
            } else {
                Err(format!("\"{}\" has {} bytes", attached.name, attached.bytes))
            }
        }
        Body::Closed(closed) => {
            each("what is left to do", closed.open_points.iter().map(String::as_str), lines)
        }
        Body::Signed(signed) => {
            lines("the public key", &signed.public_key)?;
            lines("the signature", &signed.signature)
        }
        Body::Joined(joined) if joined.branches.len() > MOST_PARENTS => {
            Err(format!("more than {MOST_PARENTS} branches are joined"))
        }
        Body::Joined(joined) => joined.branches.iter().try_for_each(|branch| {
            line("the machine's name", branch.laptop.as_deref().unwrap_or_default())?;
            line("the time", &branch.last_at)
        }),
        Body::Salvaged(saved) => [&saved.at, &saved.who, &saved.software, &saved.kind]
            .into_iter()
            .try_for_each(|text| line("what was saved", text)),
        Body::Unknown(unknown) => line("the kind", &unknown.kind),
        Body::Section(section) => line("the section", section.word()),
    }
}

fn measured(body: &Body) -> Result<(), String> {
    match body {
        Body::Take(take) => {
            line("the station's name", &take.station)?;
            round(take.round)?;
            head(&take.head)?;
            each("what was noticed", take.flags.iter().map(TakeFlag::word), line)
        }
        Body::EmitterTilt(tilt) => round(tilt.round).and_then(|()| head(&tilt.head)),
        Body::EmitterOff(off) => {
            line("what was seen", off.saw.word()).and_then(|()| head(&off.head))
        }
        Body::CalibrationUsed(used) => head(&used.head),
        Body::Calibrated(calibrated) => {
            head(&calibrated.head)?;
            lines("the reference", &calibrated.reference)?;
            calibrated.budget.iter().try_for_each(|row| {
                [&row.source, &row.unit, &row.distribution]
                    .into_iter()
                    .try_for_each(|text| line("the budget", text))
            })
        }
        Body::ZeroChecked(checked) => {
            head(&checked.head).and_then(|()| lines("the reference", &checked.reference))
        }
        Body::AsLeft(left) if left.takes.len() > MOST => {
            Err(format!("more than {MOST} takes stand as left"))
        }
        _ => Ok(()),
    }
}
