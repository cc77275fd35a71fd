//! The database makes the hashes that the record makes.

use skimgauge_firm_tests::server::{Server, Setup};
use skimgauge_record::chain::{Hash, Parents, Row, Rule, link_by};

/// The database works the hash of an event out by itself, from the bytes that the documentation of
/// the record names.
#[test]
fn the_database_makes_the_same_hashes() {
    let server = Server::start(&Setup::default());
    server.prepared("hashes");
    let mut client = server.admin("hashes");
    let texts = ["", "x", "Überhang – \"left\" \\ ' \u{1F4D0}", "2026-11-25T09:14:03+01:00"];
    for (nth, payload) in texts.iter().enumerate() {
        let row = Row {
            seq: 7,
            at: texts[3],
            who: texts[(nth + 1) % 4],
            software: texts[(nth + 2) % 4],
            kind: "note",
            version: u32::MAX,
            payload,
        };
        for (rule, parents) in [
            (1_i32, vec![]),
            (1, vec![Hash([7; 32])]),
            (2, vec![]),
            (2, vec![Hash([1; 32]), Hash([2; 32])]),
        ] {
            let theirs: Vec<u8> = client
                .query_one(
                    "SELECT skimgauge.event_hash($1, $2, $3, $4, $5, $6, $7, $8, $9)",
                    &[
                        &rule,
                        &Parents(parents.clone()).bytes(),
                        &i64::from(row.seq),
                        &i64::from(row.version),
                        &row.at,
                        &row.who,
                        &row.software,
                        &row.kind,
                        &row.payload.as_bytes(),
                    ],
                )
                .unwrap()
                .get(0);
            let rule = Rule::of(rule.cast_unsigned()).unwrap();
            assert_eq!(theirs, link_by(rule, &parents, row).0, "{rule:?} {row:?}");
        }
    }
}
