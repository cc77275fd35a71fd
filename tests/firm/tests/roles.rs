//! Who may what, tried as each: a crew adds and reads its own, the office reads all, nobody changes
//! or deletes.

use postgres::Client;
use skimgauge_firm::found::Wanted;
use skimgauge_firm::{Base, FirmError};
use skimgauge_firm_tests::fleet::{Spec, id, lot, rows};
use skimgauge_firm_tests::server::{Server, Setup};
use skimgauge_record::RecordError;
use skimgauge_record::carry::{Lot, Store};

struct Firm {
    server: Server,
}

impl Firm {
    fn new() -> Self {
        let server = Server::start(&Setup::default());
        server.prepared("jobs");
        for (name, role) in
            [("north", "skimgauge_crew"), ("south", "skimgauge_crew"), ("desk", "skimgauge_office")]
        {
            server.user(name, role);
        }
        server.admin("jobs").batch_execute("CREATE ROLE stranger LOGIN").unwrap();
        Self { server }
    }

    fn base(&self, user: &str) -> Base {
        Base::open(&self.server.address(user, "jobs")).unwrap()
    }

    fn client(&self, user: &str) -> Client {
        postgres::Config::new()
            .host_path(self.server.folder())
            .port(self.server.port())
            .user(user)
            .dbname("jobs")
            .connect(postgres::NoTls)
            .unwrap()
    }
}

fn job(number: u64) -> Lot {
    lot(&Spec { number, name: format!("job {number}"), ..Spec::default() })
}

#[test]
fn a_crew_adds_and_reads_its_own_and_the_office_reads_all() {
    let firm = Firm::new();
    let (mut north, mut south, mut desk) =
        (firm.base("north"), firm.base("south"), firm.base("desk"));
    north.put(&job(1)).unwrap();
    north.put(&job(2)).unwrap();
    south.put(&job(3)).unwrap();
    let names = |base: &mut Base| {
        let mut names: Vec<String> =
            base.lines(&Wanted::default()).unwrap().into_iter().map(|line| line.sum.name).collect();
        names.sort();
        names
    };
    assert_eq!(names(&mut north), ["job 1", "job 2"]);
    assert_eq!(names(&mut south), ["job 3"]);
    assert_eq!(names(&mut desk), ["job 1", "job 2", "job 3"]);
    assert!(south.rows(id(1)).unwrap().is_empty() && south.hashes(id(1)).unwrap().is_empty());
    assert!(matches!(south.meant("job 1"), Err(RecordError::NoSuchJob { .. })));
    for base in [&mut north, &mut south, &mut desk] {
        let report = skimgauge_firm::check::verify(base).unwrap();
        assert!(report.sound(), "{:?}", report.findings);
    }
    north.may_add().unwrap();
    assert!(matches!(desk.may_add(), Err(FirmError::NotAllowed { .. })));
    let refused = desk.put(&job(4)).unwrap_err();
    assert!(
        matches!(FirmError::within(&refused), Some(FirmError::NotAllowed { .. })),
        "{refused:?}"
    );
    let stranger = Base::open(&firm.server.address("stranger", "jobs")).unwrap_err();
    assert!(
        matches!(stranger, FirmError::NotAllowed { .. } | FirmError::NotPrepared { .. }),
        "{stranger:?}"
    );
}

/// A second crew goes on with a job that came to it as a file: both read the whole from then on.
#[test]
fn who_adds_to_a_job_reads_it() {
    let firm = Firm::new();
    let (mut north, mut south) = (firm.base("north"), firm.base("south"));
    let all = rows(&Spec::default());
    let part = |many: usize| Lot::checked(id(1), "a laptop", all[..many].to_vec()).unwrap();
    north.put(&part(10)).unwrap();
    assert_eq!(south.put(&part(10)).unwrap(), 0, "nothing new, nothing to read");
    assert!(south.rows(id(1)).unwrap().is_empty());
    assert_eq!(south.put(&part(15)).unwrap(), 5);
    assert_eq!(south.rows(id(1)).unwrap().len(), 15);
    assert_eq!(north.put(&part(all.len())).unwrap() as usize, all.len() - 15);
    let desk = skimgauge_firm::check::verify(&mut firm.base("desk")).unwrap();
    assert!(desk.sound() && desk.jobs.len() == 1, "{desk:?}");
}

#[test]
fn nobody_changes_or_deletes_or_speaks_for_another() {
    let firm = Firm::new();
    firm.base("north").put(&job(1)).unwrap();
    let changes = [
        "UPDATE skimgauge.event SET who = 'x'",
        "DELETE FROM skimgauge.event",
        "TRUNCATE skimgauge.event CASCADE",
        "UPDATE skimgauge.summary SET verdict = 'within'",
        "DELETE FROM skimgauge.summary",
        "TRUNCATE skimgauge.photo",
        "DELETE FROM skimgauge.crew_job",
        "UPDATE skimgauge.step SET number = 7",
    ];
    for user in ["north", "south", "desk", "stranger", "postgres"] {
        let mut client = firm.client(user);
        for sql in changes {
            let error = client.batch_execute(sql).unwrap_err();
            let code = error.code().map(|code| code.code().to_owned()).unwrap_or_default();
            let expected = if user == "postgres" { "SKG03" } else { "42501" };
            assert_eq!(code, expected, "{user}: {sql}: {error}");
        }
    }
    // Nor does a crew write in another's name, open another's jobs, or make up what is summed up.
    let event = |columns: &str, values: &str| {
        format!(
            "INSERT INTO skimgauge.event (job, hash, parents, rule, version, at, who, software, kind, payload, depth, shut, \
             laptop{columns}) SELECT job, sha256('x'), parents, rule, version, at, who, software, kind, payload, depth, shut, \
             laptop{values} FROM skimgauge.event WHERE kind = 'take' LIMIT 1"
        )
    };
    // Behind the close, its hash right: it stands where it says or not.
    let behind = |depth: i32, shut: bool, kind: &str, version: i64| {
        format!(
            "INSERT INTO skimgauge.event (job, hash, parents, rule, version, at, who, software, kind, payload, depth, shut, laptop) \
             SELECT job, sha256('skimgauge event 2'::bytea || '\\x0000' || int8send(1) || hash || int8send({version}) \
             || int8send(length(at)) || convert_to(at, 'UTF8') || int8send(length(who)) || convert_to(who, 'UTF8') || int8send(length(software)) \
             || convert_to(software, 'UTF8') || int8send({}) || '{kind}'::bytea || int8send(2) || '{{}}'::bytea), hash, 2, {version}, at, who, \
             software, '{kind}', '{{}}'::bytea, depth + {depth}, {shut}, laptop FROM skimgauge.event WHERE kind = 'closed'",
            kind.len()
        )
    };
    let forged = [
        ("north", event("", ""), "SKG01"),
        ("north", behind(1, true, "note", 2), "SKG02"),
        ("north", behind(1, true, "emitter off", 1), "SKG02"),
        ("north", behind(1, true, "closed", 1), "SKG02"),
        ("north", behind(1, false, "note", 2), "SKG01"),
        ("north", behind(2, true, "signed", 2), "SKG01"),
        ("north", behind(0, true, "signed", 2), "SKG01"),
        ("north", event(", crew", ", 'south'"), "42501"),
        ("north", event(", received", ", '1999-01-01'"), "42501"),
        (
            "south",
            format!("INSERT INTO skimgauge.crew_job VALUES ('\\x{}', 'south')", id(1)),
            "42501",
        ),
        (
            "south",
            format!(
                "INSERT INTO skimgauge.photo (job, sha256, bytes) VALUES ('\\x{}', sha256('x'), 'x')",
                id(1)
            ),
            "42501",
        ),
        (
            "north",
            format!(
                "INSERT INTO skimgauge.photo (job, sha256, bytes) VALUES ('\\x{}', sha256('y'), 'x')",
                id(1)
            ),
            "23514",
        ),
        ("north", "ALTER TABLE skimgauge.event DISABLE TRIGGER ALL".to_owned(), "42501"),
        ("north", "DROP SCHEMA skimgauge CASCADE".to_owned(), "42501"),
        ("north", "SET ROLE skimgauge_office".to_owned(), "42501"),
    ];
    for (user, sql, code) in forged {
        let error = firm.client(user).batch_execute(&sql).unwrap_err();
        assert_eq!(
            error.code().map(postgres::error::SqlState::code),
            Some(code),
            "{user}: {sql}: {error}"
        );
    }
    let report = skimgauge_firm::check::verify(&mut firm.base("desk")).unwrap();
    assert!(report.sound(), "{report:?}");
}

/// Whoever owns the database can take every guard away: then what was altered is found, and so is
/// that the guards are gone.
#[test]
fn what_the_owner_of_the_database_alters_is_found() {
    let firm = Firm::new();
    let open_again = "ALTER TABLE skimgauge.event ENABLE TRIGGER USER; ALTER TABLE skimgauge.summary ENABLE TRIGGER USER;";
    let closed = "ALTER TABLE skimgauge.event DISABLE TRIGGER USER; ALTER TABLE skimgauge.summary DISABLE TRIGGER USER;";
    firm.base("north").put(&job(1)).unwrap();
    let take = "kind = 'take' AND depth = 4";
    let alterations = [
        format!("UPDATE skimgauge.event SET payload = convert_to(replace(convert_from(payload, 'UTF8'), '\"gap_mm\":', '\"gap_mm\":1'), 'UTF8') WHERE {take}"),
        format!("UPDATE skimgauge.event SET who = 'somebody else' WHERE {take}"),
        format!("DELETE FROM skimgauge.event WHERE {take}"),
        format!("UPDATE skimgauge.event SET payload = '\\xff' WHERE {take}"),
        "UPDATE skimgauge.summary SET client = 'another'".to_owned(),
        "UPDATE skimgauge.summary SET verdict = 'outside'".to_owned(),
        "DELETE FROM skimgauge.summary".to_owned(),
        "UPDATE skimgauge.summary SET laptop = 'another'".to_owned(),
        "INSERT INTO skimgauge.photo (job, sha256, bytes) VALUES (substr(sha256('x'), 1, 16), sha256('x'), 'x')".to_owned(),
        "INSERT INTO skimgauge.photo (job, sha256, bytes) SELECT job, sha256('x'), 'x' FROM skimgauge.event LIMIT 1".to_owned(),
    ];
    for sql in alterations {
        let mut owner = firm.client("postgres");
        owner.batch_execute(&format!("CREATE TABLE kept AS TABLE skimgauge.event; CREATE TABLE sums AS TABLE skimgauge.summary; {closed} {sql}; {open_again}")).unwrap();
        let found = skimgauge_firm::check::verify(&mut firm.base("desk"));
        assert!(found.as_ref().map_or(true, |report| !report.sound()), "{sql}: {found:?}");
        owner
            .batch_execute(&format!(
                "{closed} ALTER TABLE skimgauge.photo DISABLE TRIGGER USER; DELETE FROM skimgauge.photo; \
                 ALTER TABLE skimgauge.photo ENABLE TRIGGER USER; DELETE FROM skimgauge.summary; DELETE FROM skimgauge.event; \
                 INSERT INTO skimgauge.event TABLE kept; INSERT INTO skimgauge.summary TABLE sums; DROP TABLE kept, sums; {open_again}"
            ))
            .unwrap();
        assert!(
            skimgauge_firm::check::verify(&mut firm.base("desk")).unwrap().sound(),
            "mended: {sql}"
        );
    }
    for (sql, back) in [
        (
            "ALTER TABLE skimgauge.event DISABLE TRIGGER event_stays",
            "ALTER TABLE skimgauge.event ENABLE TRIGGER event_stays",
        ),
        (
            "ALTER TABLE skimgauge.photo DISABLE ROW LEVEL SECURITY",
            "ALTER TABLE skimgauge.photo ENABLE ROW LEVEL SECURITY",
        ),
        (
            "GRANT DELETE ON skimgauge.event TO skimgauge_crew",
            "REVOKE DELETE ON skimgauge.event FROM skimgauge_crew",
        ),
        (
            "CREATE OR REPLACE FUNCTION skimgauge.events_enter() RETURNS trigger LANGUAGE plpgsql AS $$BEGIN RETURN NULL; END$$",
            "",
        ),
    ] {
        let mut owner = firm.client("postgres");
        owner.batch_execute(sql).unwrap();
        let report = skimgauge_firm::check::verify(&mut firm.base("postgres")).unwrap();
        assert_eq!(report.findings.len(), 1, "{sql}: {report:?}");
        owner.batch_execute(back).unwrap();
    }
}
