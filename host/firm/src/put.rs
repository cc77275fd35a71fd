//! Events and sums on their way in.

use std::collections::HashMap;

use postgres::{Client, Statement, Transaction};
use skimgauge_record::chain::Hash;
use skimgauge_record::{JobId, StoredRow};

use crate::summary::Summary;

/// The hashes of a job's events that are there.
pub(crate) const HASHES: &str = "SELECT hash FROM skimgauge.event WHERE job = $1";

/// What is asked for each job that is sent, read by the server once a connection.
#[derive(Clone)]
pub(crate) struct Statements {
    pub hashes: Statement,
    event: Statement,
    summary: Statement,
}

impl Statements {
    pub(crate) fn of(client: &mut Client) -> Result<Self, postgres::Error> {
        Ok(Self {
            hashes: client.prepare(HASHES)?,
            event: client.prepare(
                "INSERT INTO skimgauge.event \
                 (job, hash, parents, rule, version, at, who, software, kind, payload, depth, shut, laptop) \
                 SELECT $1, hash, parents, rule, version, at, who, software, kind, payload, depth, shut, $13 \
                 FROM unnest($2::bytea[], $3::bytea[], $4::int[], $5::bigint[], $6::text[], $7::text[], $8::text[], \
                 $9::text[], $10::bytea[], $11::int[], $12::bool[]) WITH ORDINALITY \
                 AS new (hash, parents, rule, version, at, who, software, kind, payload, depth, shut, place) \
                 ORDER BY place ON CONFLICT DO NOTHING",
            )?,
            summary: client.prepare(
                "INSERT INTO skimgauge.summary (job, end_hash, name, client, place, emitter, heads, opened, last, \
                 opened_at, last_at, events, takes, verdict, judged_at, closed, unknown, laptop) \
                 VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $8::text::timestamptz, $9::text::timestamptz, $10, $11, $12, \
                 $13, $14, $15, $16) ON CONFLICT DO NOTHING",
            )?,
        })
    }
}

/// Where each of a job's events stands: how many stand before it in the longest row that leads to
/// it, and whether the job is closed there. `rows` are all of the job's, each after those that it
/// follows; what it follows and is not among them is left to the database to refuse.
fn places(rows: &[StoredRow]) -> HashMap<Hash, (i32, bool)> {
    let mut places: HashMap<Hash, (i32, bool)> = HashMap::with_capacity(rows.len());
    for row in rows {
        let before = row.parents.0.iter().filter_map(|parent| places.get(parent));
        let (depth, shut) = before.fold((0, row.kind == "closed"), |(depth, shut), before| {
            (depth.max(before.0.saturating_add(1)), shut || before.1)
        });
        places.insert(row.hash, (depth, shut));
    }
    places
}

/// Puts those of a job's events that are new, each after what it follows. Those that are there
/// already stay as they are: also those that this account may not see.
pub(crate) fn put_events(
    transaction: &mut Transaction<'_>,
    statements: &Statements,
    job: JobId,
    all: &[StoredRow],
    is_new: impl Fn(&Hash) -> bool,
    laptop: &str,
) -> Result<u64, postgres::Error> {
    let places = places(all);
    let rows: Vec<&StoredRow> = all.iter().filter(|row| is_new(&row.hash)).collect();
    let hashes: Vec<&[u8]> = rows.iter().map(|row| row.hash.0.as_slice()).collect();
    let parents: Vec<Vec<u8>> = rows.iter().map(|row| row.parents.bytes()).collect();
    let rules: Vec<i32> = rows.iter().map(|row| row.rule.cast_signed()).collect();
    let versions: Vec<i64> = rows.iter().map(|row| i64::from(row.version)).collect();
    let texts = |text: fn(&StoredRow) -> &String| -> Vec<&str> {
        rows.iter().map(|row| text(row).as_str()).collect()
    };
    let (at, who) = (texts(|row| &row.at), texts(|row| &row.who));
    let (software, kind) = (texts(|row| &row.software), texts(|row| &row.kind));
    let payloads: Vec<&[u8]> = rows.iter().map(|row| row.payload.as_bytes()).collect();
    let (depths, shut): (Vec<i32>, Vec<bool>) = rows.iter().map(|row| places[&row.hash]).unzip();
    transaction.execute(
        &statements.event,
        &[
            &job.0.as_slice(),
            &hashes,
            &parents,
            &rules,
            &versions,
            &at,
            &who,
            &software,
            &kind,
            &payloads,
            &depths,
            &shut,
            &laptop,
        ],
    )
}

pub(crate) fn put_summary(
    transaction: &mut Transaction<'_>,
    statements: &Statements,
    job: JobId,
    end: Hash,
    sum: &Summary,
    laptop: &str,
) -> Result<u64, postgres::Error> {
    transaction.execute(
        &statements.summary,
        &[
            &job.0.as_slice(),
            &end.0.as_slice(),
            &sum.name,
            &sum.client,
            &sum.place,
            &sum.emitter,
            &sum.heads,
            &sum.opened,
            &sum.last,
            &sum.events,
            &sum.takes,
            &sum.verdict,
            &sum.judged_at,
            &sum.closed,
            &sum.unknown,
            &laptop,
        ],
    )
}
