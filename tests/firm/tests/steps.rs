//! The numbered steps of the tables: what an earlier one holds is there after the next.

use skimgauge_firm::summary::Summary;
use skimgauge_firm::{Base, FirmError, check};
use skimgauge_firm_tests::fleet::{Spec, id, rows};
use skimgauge_firm_tests::server::{Server, Setup};
use skimgauge_record::carry::{Lot, Store};

/// The tables as they were first made, which no later step may change any more.
const FIRST: &str = include_str!("../../../host/firm/migrations/0001_jobs.sql");

/// A job as it was sent to those.
fn sent_first(owner: &mut postgres::Client, lot: &Lot) {
    let job = lot.id.0.as_slice();
    for row in &lot.rows {
        owner
            .execute(
                "INSERT INTO skimgauge.event (job, hash, parents, rule, version, at, who, software, kind, payload, laptop) \
                 VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, 'van 1')",
                &[
                    &job,
                    &row.hash.0.as_slice(),
                    &row.parents.bytes(),
                    &row.rule.cast_signed(),
                    &i64::from(row.version),
                    &row.at,
                    &row.who,
                    &row.software,
                    &row.kind,
                    &row.payload.as_bytes(),
                ],
            )
            .unwrap();
    }
    let sum = Summary::of(&lot.branches[0]);
    owner
        .execute(
            "INSERT INTO skimgauge.summary (job, end_hash, name, client, place, emitter, heads, opened, last, opened_at, last_at, \
             events, takes, verdict, judged_at, closed, unknown) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, \
             $8::text::timestamptz, $9::text::timestamptz, $10, $11, $12, $13, $14, $15)",
            &[
                &job,
                &lot.branches[0].summary.head_hash.0.as_slice(),
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
        .unwrap();
}

#[test]
fn tables_of_the_first_step_are_brought_up_to_date_with_what_is_in_them() {
    let server = Server::start(&Setup::default());
    server.create("jobs");
    let mut owner = server.admin("jobs");
    let first = "INSERT INTO skimgauge.step (number, program) VALUES (1, 'skimgauge 0.1.0')";
    owner.batch_execute(&format!("{FIRST}; {first}")).unwrap();
    let all = rows(&Spec { closes: false, ..Spec::default() });
    let part = |many: usize| Lot::checked(id(1), "a laptop", all[..many].to_vec()).unwrap();
    sent_first(&mut owner, &part(20));
    let address = server.address("postgres", "jobs");
    let early = Base::open(&address).unwrap_err();
    assert!(matches!(early, FirmError::Older { found: 1, .. }), "{early:?}");
    assert!(early.to_string().contains("jobs prepare"), "{early}");
    assert_eq!(Base::prepare(&address).unwrap().first(), Some(&2));
    assert!(Base::prepare(&address).unwrap().is_empty());
    let mut base = Base::open(&address).unwrap();
    let report = check::verify(&mut base).unwrap();
    assert!(report.sound() && report.jobs.len() == 1, "{report:?}");
    assert_eq!(base.rows(id(1)).unwrap().as_slice(), &all[..20]);
    assert_eq!(base.put(&part(all.len())).unwrap() as usize, all.len() - 20);
    assert!(check::verify(&mut base).unwrap().sound());
}
