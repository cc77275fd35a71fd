//! Events and sums on their way in.

use postgres::Transaction;
use skimgauge_record::chain::Hash;
use skimgauge_record::{JobId, StoredRow};

use crate::summary::Summary;

/// Puts events, each after what it follows. Those that are there already stay as they are: also
/// those that this account may not see.
pub(crate) fn put_events(
    transaction: &mut Transaction<'_>,
    job: JobId,
    rows: &[&StoredRow],
    laptop: &str,
) -> Result<u64, postgres::Error> {
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
    transaction.execute(
        "INSERT INTO skimgauge.event (job, hash, parents, rule, version, at, who, software, kind, payload, laptop) \
         SELECT $1, hash, parents, rule, version, at, who, software, kind, payload, $11 \
         FROM unnest($2::bytea[], $3::bytea[], $4::int[], $5::bigint[], $6::text[], $7::text[], $8::text[], $9::text[], $10::bytea[]) \
         WITH ORDINALITY AS new (hash, parents, rule, version, at, who, software, kind, payload, place) \
         ORDER BY place ON CONFLICT DO NOTHING",
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
            &laptop,
        ],
    )
}

pub(crate) fn put_summary(
    transaction: &mut Transaction<'_>,
    job: JobId,
    end: Hash,
    sum: &Summary,
) -> Result<u64, postgres::Error> {
    transaction.execute(
        "INSERT INTO skimgauge.summary (job, end_hash, name, client, place, emitter, heads, opened, last, opened_at, last_at, \
         events, takes, verdict, judged_at, closed, unknown) \
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $8::text::timestamptz, $9::text::timestamptz, $10, $11, $12, $13, $14, $15) \
         ON CONFLICT DO NOTHING",
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
        ],
    )
}
