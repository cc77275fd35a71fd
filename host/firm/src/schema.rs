//! The numbered steps of the schema: forward only, each in one transaction.
//!
//! A step adds; it takes nothing away that an earlier program reads. So a program that is older than
//! the tables reads and verifies what is there, and sends nothing.

use postgres::{Client, GenericClient};

use crate::FirmError;

/// One after the other: step `n` is the `n`th, from 1.
const STEPS: [&str; 3] = [
    include_str!("../migrations/0001_jobs.sql"),
    include_str!("../migrations/0002_together.sql"),
    include_str!("../migrations/0003_list.sql"),
];

/// The step that this program knows.
pub(crate) const KNOWN: i32 = STEPS.len() as i32;

/// Only one at a time takes steps: a number of this program's own.
const LOCK: i64 = 0x534B_4D47;

/// The step that a database is at; 0 where it has no tables for jobs.
pub(crate) fn found(client: &mut impl GenericClient, place: &str) -> Result<i32, FirmError> {
    let of = |error: postgres::Error| FirmError::of(place, &error);
    let there: bool = client
        .query_one("SELECT to_regclass('skimgauge.step') IS NOT NULL", &[])
        .map_err(of)?
        .get(0);
    if !there {
        return Ok(0);
    }
    let step =
        client.query_one("SELECT coalesce(max(number), 0) FROM skimgauge.step", &[]).map_err(of)?;
    Ok(step.get(0))
}

/// Takes the steps that are open. Which it took: none where all were.
pub(crate) fn climb(client: &mut Client, place: &str) -> Result<Vec<i32>, FirmError> {
    let of = |error: postgres::Error| FirmError::of(place, &error);
    let mut transaction = client.transaction().map_err(of)?;
    transaction.execute("SELECT pg_advisory_xact_lock($1)", &[&LOCK]).map_err(of)?;
    let from = found(&mut transaction, place)?;
    if from > KNOWN {
        return Err(FirmError::Newer { place: place.to_owned(), found: from, known: KNOWN });
    }
    let mut taken = Vec::new();
    for (number, step) in (1..).zip(STEPS).filter(|(number, _)| *number > from) {
        transaction.batch_execute(step).map_err(of)?;
        let program = concat!("skimgauge ", env!("CARGO_PKG_VERSION"));
        transaction
            .execute(
                "INSERT INTO skimgauge.step (number, program) VALUES ($1, $2)",
                &[&number, &program],
            )
            .map_err(of)?;
        taken.push(number);
    }
    transaction.commit().map_err(of)?;
    Ok(taken)
}

/// The triggers that stand after the last step.
pub(crate) fn triggers() -> Vec<&'static str> {
    let mut names = Vec::new();
    for line in STEPS.into_iter().flat_map(str::lines) {
        let name = |what: &str| line.strip_prefix(what)?.split(' ').next();
        if let Some(gone) = name("DROP TRIGGER ") {
            names.retain(|name| *name != gone);
        }
        names.extend(name("CREATE TRIGGER "));
    }
    names
}

/// The functions that stand after the last step, with their bodies.
pub(crate) fn functions() -> Vec<(&'static str, &'static str)> {
    let mut functions = Vec::new();
    for step in STEPS {
        let named = |what| {
            step.split(what).skip(1).filter_map(|text| Some((text.split('(').next()?, text)))
        };
        for (gone, _) in named("DROP FUNCTION skimgauge.") {
            functions.retain(|(name, _)| *name != gone);
        }
        let made = named("CREATE FUNCTION skimgauge.");
        functions.extend(made.filter_map(|(name, text)| Some((name, text.split("$$").nth(1)?))));
    }
    functions
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_after_the_last_step_is_read_from_the_steps() {
        let names = triggers();
        assert!(names.contains(&"events_enter") && names.contains(&"event_stays"), "{names:?}");
        assert!(!names.contains(&"event_enters") && names.len() == 7, "{names:?}");
        let functions = functions();
        let names: Vec<&str> = functions.iter().map(|(name, _)| *name).collect();
        assert_eq!(names, ["stays", "event_hash", "job_begins", "events_enter"]);
        let bodies = |(_, body): &(_, &str)| body.contains("SELECT") || body.contains("BEGIN");
        assert!(functions.iter().all(bodies));
    }
}
