//! The numbered steps of the schema: forward only, each in one transaction.
//!
//! A step adds; it takes nothing away that an earlier program reads. So a program that is older than
//! the tables reads and verifies what is there, and sends nothing.

use postgres::{Client, GenericClient};

use crate::FirmError;

/// One after the other: step `n` is the `n`th, from 1.
const STEPS: [&str; 1] = [include_str!("../migrations/0001_jobs.sql")];

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

/// The triggers that the steps make.
pub(crate) fn triggers() -> impl Iterator<Item = &'static str> {
    STEPS.into_iter().flat_map(|step| {
        step.lines().filter_map(|line| line.strip_prefix("CREATE TRIGGER ")?.split(' ').next())
    })
}

/// The functions that the steps make, with their bodies.
pub(crate) fn functions() -> impl Iterator<Item = (&'static str, &'static str)> {
    STEPS.into_iter().flat_map(|step| {
        step.split("CREATE FUNCTION skimgauge.").skip(1).filter_map(|text| {
            let name = text.split('(').next()?;
            Some((name, text.split("$$").nth(1)?))
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn triggers_and_functions_are_read_from_the_steps() {
        assert!(triggers().any(|name| name == "event_enters") && triggers().count() == 7);
        let names: Vec<&str> = functions().map(|(name, _)| name).collect();
        assert_eq!(names, ["event_hash", "event_enters", "event_is_in", "stays"]);
        assert!(functions().all(|(_, body)| body.contains("SELECT") || body.contains("BEGIN")));
    }
}
