//! Payloads in the forms that earlier versions of the program wrote, read into today's.
//!
//! Up to format 1 an event spoke of another by its place in the job. `earlier` holds the hashes of
//! the events before, in their order, so that the place can be looked up.

use serde::Deserialize;
use serde_json::{Map, Value};

use super::{
    Body, Calibrated, EmitterTilt, JobOpened, JobRevised, Judged, Note, PRACTISED_VERDICT, Section,
    Signed, Take, TurnAdvised, TurnObserved,
};
use crate::chain::Hash;
use crate::id::JobId;

/// The fields of a payload, to be brought into today's form.
type Fields = Map<String, Value>;

/// Reads an earlier version of a payload; `None` where there is no such version.
///
/// # Errors
/// What does not fit, as a clause.
pub(super) fn read(
    kind: &str,
    version: u32,
    payload: &str,
    earlier: &[Hash],
) -> Option<Result<Body, String>> {
    let read = match (kind, version) {
        ("job opened", 1) => job_opened,
        ("job revised", 1) => job_revised,
        ("take", 1) => take,
        ("take", 2) => said_by_nobody::<Take>,
        ("emitter tilt", 1) => said_by_nobody::<EmitterTilt>,
        ("turn advised", 1) => turn_advised,
        ("turn observed", 1) => turn_observed,
        ("turn observed", 2) => said_by_nobody::<TurnObserved>,
        ("turn observed", 3) => turn_observed_watched,
        ("verdict", 1) => judged,
        ("verdict", 2) => judged_in_texts,
        ("verdict", PRACTISED_VERDICT) => judged_practised,
        ("section", 1) => section,
        ("calibration", 1) => calibrated,
        ("note", 1) => note,
        ("signed", 1) => signed,
        _ => return None,
    };
    let fields = serde_json::from_str(payload).map_err(|error| error.to_string());
    Some(fields.and_then(|fields| read(fields, earlier)))
}

fn whole<T: for<'de> Deserialize<'de> + Into<Body>>(fields: Fields) -> Result<Body, String> {
    serde_json::from_value::<T>(Value::Object(fields))
        .map(Into::into)
        .map_err(|error| error.to_string())
}

/// Puts the hash of an event in the place of its number.
fn by_hash(fields: &mut Fields, key: &str, earlier: &[Hash]) -> Result<(), String> {
    let Some(number) = fields.get(key).filter(|value| !value.is_null()) else { return Ok(()) };
    let place = number.as_u64().and_then(|place| usize::try_from(place).ok()?.checked_sub(1));
    match place.and_then(|place| earlier.get(place)) {
        Some(hash) => {
            fields.insert(key.to_owned(), Value::String(hash.to_string()));
            Ok(())
        }
        None => Err(format!("it speaks of event {number}, which does not come before it")),
    }
}

/// An old job's identity comes from its first event's hash, which this function does not see: the
/// walk puts it in.
fn job_opened(mut fields: Fields, _: &[Hash]) -> Result<Body, String> {
    fields.insert("id".to_owned(), Value::String(JobId::NONE.to_string()));
    whole::<JobOpened>(fields)
}

fn job_revised(mut fields: Fields, _: &[Hash]) -> Result<Body, String> {
    fields.insert("said_same".to_owned(), Value::Array(Vec::new()));
    whole::<JobRevised>(fields)
}

fn take(mut fields: Fields, earlier: &[Hash]) -> Result<Body, String> {
    by_hash(&mut fields, "supersedes", earlier)?;
    fields.remove("came");
    said_by_nobody::<Take>(fields, earlier)
}

/// It was not kept by which way the word for it came.
fn said_by_nobody<T: for<'de> Deserialize<'de> + Into<Body>>(
    mut fields: Fields,
    _: &[Hash],
) -> Result<Body, String> {
    fields.remove("by");
    whole::<T>(fields)
}

fn turn_observed(mut fields: Fields, earlier: &[Hash]) -> Result<Body, String> {
    by_hash(&mut fields, "advice", earlier)?;
    said_by_nobody::<TurnObserved>(fields, earlier)
}

/// Every turn was watched at a station.
fn turn_advised(fields: Fields, _: &[Hash]) -> Result<Body, String> {
    whole::<TurnAdvised>(fields)
}

/// Likewise.
fn turn_observed_watched(fields: Fields, _: &[Hash]) -> Result<Body, String> {
    whole::<TurnObserved>(fields)
}

fn judged(mut fields: Fields, _: &[Hash]) -> Result<Body, String> {
    fields.remove("judged_at");
    whole::<Judged>(fields)
}

/// What would settle it was a text in millimetres.
fn judged_in_texts(fields: Fields, _: &[Hash]) -> Result<Body, String> {
    whole::<Judged>(fields)
}

/// The form of today, beside the one of a verdict on a board.
fn judged_practised(fields: Fields, _: &[Hash]) -> Result<Body, String> {
    whole::<Judged>(fields)
}

/// Its sentences were texts in millimetres.
fn section(fields: Fields, _: &[Hash]) -> Result<Body, String> {
    whole::<Section>(fields)
}

/// Its seats were not kept.
fn calibrated(mut fields: Fields, _: &[Hash]) -> Result<Body, String> {
    fields.insert("seats_mm".to_owned(), Value::Array(Vec::new()));
    whole::<Calibrated>(fields)
}

fn note(mut fields: Fields, earlier: &[Hash]) -> Result<Body, String> {
    by_hash(&mut fields, "about", earlier)?;
    whole::<Note>(fields)
}

/// The signed event's place stood beside its hash, which says the same.
fn signed(fields: Fields, _: &[Hash]) -> Result<Body, String> {
    whole::<Signed>(fields)
}
