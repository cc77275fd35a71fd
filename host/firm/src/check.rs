//! All of a firm's jobs read back and checked, as far as the account may read them.
//!
//! In this order: the tables refuse what they should; each branch of each job holds link by link;
//! what is summed up of it is what its events say; photos match their hashes; signatures hold.
//!
//! What this cannot find: a job that whoever owns the database took away whole, with its sum; the
//! end of a job, cut off with its sum; a job that nobody signed, written anew from end to end. The
//! crews' own records have all of these: what they send again is put back, and where the two part
//! ways both are kept and shown.

use skimgauge_quantity::{count, counted};
use std::collections::{HashMap, HashSet};

use postgres::Row;
use serde::Serialize;
use skimgauge_record::carry::{self, Store};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Body, hashes_in};
use skimgauge_record::verify::JobReport;
use skimgauge_record::{JobId, RecordError};

use crate::FirmError;
use crate::base::{Base, hash, job_id};
use crate::found::Wanted;
use crate::schema;
use crate::summary::Summary;

/// What a check came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// User, server and database.
    pub place: String,
    /// Branch by branch.
    pub jobs: Vec<JobReport>,
    /// What is wrong beside the chains, one sentence each.
    pub findings: Vec<String>,
}

impl Report {
    /// Whether nothing at all is wrong.
    pub fn sound(&self) -> bool {
        let job = |job: &JobReport| {
            job.broken.is_none() && job.signatures.iter().all(|signature| signature.wrong.is_none())
        };
        self.findings.is_empty() && self.jobs.iter().all(job)
    }
}

/// Checks everything that the account may read. One state of the database from beginning to end,
/// whoever sends meanwhile.
///
/// # Errors
/// What reading can meet. What is wrong is no error but a [`Report`].
pub fn verify(base: &mut Base) -> Result<Report, RecordError> {
    base.batch("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")?;
    let report = verify_in(base);
    let ended = base.batch("ROLLBACK");
    let report = report?;
    ended?;
    Ok(report)
}

fn verify_in(base: &mut Base) -> Result<Report, RecordError> {
    let mut report = Report { place: base.place(), jobs: Vec::new(), findings: Vec::new() };
    guards(base, &mut report.findings)?;
    let mut lines: HashMap<JobId, Vec<(Hash, Summary)>> = HashMap::new();
    for line in base.lines(&Wanted::default())? {
        lines.entry(line.id).or_default().push((line.end, line.sum));
    }
    let mut photos = photos(base)?;
    let jobs: HashSet<JobId> = base.ids()?.into_iter().chain(lines.keys().copied()).collect();
    let mut jobs: Vec<JobId> = jobs.into_iter().collect();
    jobs.sort();
    for job in jobs {
        let sums = lines.remove(&job).unwrap_or_default();
        check_job(base, job, sums, photos.remove(&job).unwrap_or_default(), &mut report)?;
    }
    if !photos.is_empty() {
        let jobs = counted(photos.len(), "job that is", "jobs that are");
        report.findings.push(format!("There are photos of {jobs} not here."));
    }
    let otherwise = base.one(
        "SELECT count(*) FROM skimgauge.summary s JOIN skimgauge.event e ON e.job = s.job AND e.hash = s.end_hash \
         WHERE (s.laptop, s.received) <> (e.laptop, e.received)",
        &[],
    )?;
    let otherwise: i64 = otherwise.get(0);
    if otherwise > 0 {
        report.findings.push(format!(
            "Of {}, who sent it last is not who sent its last event.",
            count(otherwise, "job")
        ));
    }
    let strays = base.one(
        "SELECT count(*) FROM skimgauge.event e WHERE NOT EXISTS \
         (SELECT FROM skimgauge.event f WHERE f.job = e.job AND octet_length(f.parents) = 0)",
        &[],
    )?;
    let strays: i64 = strays.get(0);
    if strays > 0 {
        report
            .findings
            .push(format!("Of jobs whose first event is gone: {}.", count(strays, "event")));
    }
    Ok(report)
}

fn check_job(
    base: &mut Base,
    job: JobId,
    mut sums: Vec<(Hash, Summary)>,
    photos: Vec<Photo>,
    report: &mut Report,
) -> Result<(), RecordError> {
    let rows = match base.rows_of(job) {
        Err(FirmError::Damaged { what, .. }) => {
            report.findings.push(format!("The job {} cannot be read: {what}.", job.short()));
            return Ok(());
        }
        rows => rows?,
    };
    let (mut spoken, mut named) = (HashMap::new(), HashSet::new());
    for branch in carry::branches(rows) {
        let history = match carry::history(&branch) {
            Ok(history) => history,
            Err(broken) => {
                let name = sums.first().map(|(_, sum)| sum.name.clone()).unwrap_or_default();
                let found = JobReport { id: job, name, ..JobReport::of(&[], Some(broken)) };
                report.jobs.push(found);
                continue;
            }
        };
        for event in &history.events {
            match &event.body {
                Body::PhotoAttached(photo) => drop(spoken.insert(photo.sha256, photo.bytes)),
                Body::Unknown(unknown) => named.extend(hashes_in(&unknown.payload)),
                Body::Salvaged(saved) => named.extend(hashes_in(&saved.payload)),
                _ => {}
            }
        }
        let name = history.summary.name.clone();
        let found = JobReport::of(&history.events, history.broken.clone());
        if found.id != job {
            report.findings.push(format!("Under the identity {job} stands the job {}.", found.id));
        }
        if history.broken.is_none() {
            let end = history.summary.head_hash;
            let kept = sums.iter().position(|(hash, _)| *hash == end).map(|at| sums.remove(at).1);
            if kept.as_ref() != Some(&Summary::of(&history)) {
                report.findings.push(format!(
                    "What is summed up of the job \"{name}\" is not what its events say."
                ));
            }
        }
        report.jobs.push(found);
    }
    check_photos(job, photos, spoken, &named, &mut report.findings);
    Ok(())
}

/// Attached bytes as the database finds them.
struct Photo {
    sha256: Hash,
    /// Whether that is the hash of its bytes.
    whole: bool,
    bytes: i32,
}

/// All of them at once, by job: few jobs have any.
fn photos(base: &mut Base) -> Result<HashMap<JobId, Vec<Photo>>, FirmError> {
    let rows = base.query(
        "SELECT job, sha256, sha256(bytes) = sha256, octet_length(bytes) FROM skimgauge.photo",
        &[],
    )?;
    let mut photos: HashMap<JobId, Vec<Photo>> = HashMap::new();
    for row in &rows {
        let sha256 = hash(&base.place, row.get(1))?;
        let photo = Photo { sha256, whole: row.get(2), bytes: row.get(3) };
        photos.entry(job_id(&base.place, row.get(0))?).or_default().push(photo);
    }
    Ok(photos)
}

fn check_photos(
    job: JobId,
    photos: Vec<Photo>,
    mut spoken: HashMap<Hash, u64>,
    named: &HashSet<Hash>,
    findings: &mut Vec<String>,
) {
    for Photo { sha256, whole, bytes } in photos {
        let said = spoken.remove(&sha256);
        let wrong = match said {
            _ if !whole => "does not match its hash",
            None if named.contains(&sha256) => continue,
            None => "is spoken of by no event",
            Some(length) if i64::try_from(length) != Ok(i64::from(bytes)) => {
                "is not as long as its event says"
            }
            Some(_) => continue,
        };
        findings.push(format!("The photo {} of the job {} {wrong}.", sha256.short(), job.short()));
    }
    for sha256 in spoken.keys() {
        findings.push(format!(
            "The photo {} of the job {} is missing.",
            sha256.short(),
            job.short()
        ));
    }
}

/// Whether triggers, functions and row rules are as this program makes them.
fn guards(base: &mut Base, findings: &mut Vec<String>) -> Result<(), FirmError> {
    if base.may_send().is_err() {
        // What a newer program made of them is not known here.
        return Ok(());
    }
    let names = |rows: Vec<Row>| -> HashSet<String> { rows.iter().map(|row| row.get(0)).collect() };
    let triggers = names(base.query(
        "SELECT tgname::text FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid \
         JOIN pg_namespace n ON n.oid = c.relnamespace \
         WHERE n.nspname = 'skimgauge' AND NOT tgisinternal AND tgenabled IN ('O', 'A')",
        &[],
    )?);
    for trigger in schema::triggers().into_iter().filter(|name| !triggers.contains(*name)) {
        findings.push(format!("The trigger {trigger} is gone or switched off: the tables do not refuse what they should."));
    }
    let bodies: HashMap<String, String> = base
        .query(
            "SELECT proname::text, prosrc FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace \
             WHERE n.nspname = 'skimgauge'",
            &[],
        )?
        .iter()
        .map(|row| (row.get(0), row.get(1)))
        .collect();
    for (name, body) in schema::functions() {
        if bodies.get(name).map(|kept| kept.trim()) != Some(body.trim()) {
            findings.push(format!("The function {name} is not the one that this program makes: the tables may not refuse what they should."));
        }
    }
    let open = names(base.query(
        "SELECT relname::text FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace \
         WHERE n.nspname = 'skimgauge' AND relname IN ('crew_job', 'event', 'photo', 'summary') AND NOT relrowsecurity",
        &[],
    )?);
    for table in open {
        findings.push(format!(
            "The table {table} is open to every crew: its row rules are switched off."
        ));
    }
    let may = names(base.query(
        "SELECT DISTINCT grantee || ' may ' || lower(privilege_type) || ' in ' || table_name \
         FROM information_schema.role_table_grants WHERE table_schema = 'skimgauge' \
         AND privilege_type IN ('UPDATE', 'DELETE', 'TRUNCATE', 'TRIGGER') \
         AND grantee IN ('skimgauge_crew', 'skimgauge_office', 'PUBLIC')",
        &[],
    )?);
    for grant in may {
        findings.push(format!("{grant}: nobody should."));
    }
    Ok(())
}
