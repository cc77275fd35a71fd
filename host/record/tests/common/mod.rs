//! What these tests share: a stamp, a take, a record with a job.
#![allow(dead_code)]

#[path = "../made/mod.rs"]
pub(crate) mod made;

use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use serde_json::json;
use skimgauge_quantity::{Band, Celsius, Deg, Mm, Turns};
use skimgauge_record::chain::{Hash, Row, link};
use skimgauge_record::event::{
    AsLeft, BudgetLine, Calibrated, CalibrationUsed, Came, Difference, EmitterOff, EmitterTilt,
    Head, JobRevised, Judged, JudgedAt, Looked, Note, Phase, Point, Salvaged, Sayer, Section,
    Station, StepUndone, Struck, StruckOut, Take, Touched, TurnAdvised, TurnObserved, Unasked,
    Verdict, ZeroChecked,
};
use skimgauge_record::photo::Photo;
use skimgauge_record::section::{Known, Levelled, Line, Said, Tool};
use skimgauge_record::sign::Signer;
use skimgauge_record::{Body, JobId, Record, Stamp, When};
use ssh_key::private::{Ed25519Keypair, KeypairData};
use ssh_key::{LineEnding, PrivateKey};

pub(crate) const READY: &str = "site = \"Hall 3\"\n";

/// A stamp so many seconds after a fixed moment.
pub(crate) fn stamp(after_s: u32) -> Stamp {
    let (h, m, s) = (8 + after_s / 3600, after_s / 60 % 60, after_s % 60);
    let at = When::parse(&format!("2026-11-25T{h:02}:{m:02}:{s:02}+01:00")).unwrap();
    Stamp::new(at, "A. Fitter", "skimgauge 0.1.0").unwrap()
}

pub(crate) fn take(station: &str, gap_mm: f64) -> Take {
    Take {
        station: station.to_owned(),
        x: Mm(-1000.0),
        y: Mm(-0.0),
        phase: Phase::AsFound,
        round: 1,
        gap: Mm(gap_mm),
        u_gap: Mm(0.02),
        dof: Some(12.0),
        readings: 400,
        window_s: 4.0,
        tilt: Some(Deg(0.12)),
        level: Some(Deg(-0.03)),
        lean: None,
        temperature: Some(Celsius(21.5)),
        verdict: Some(Verdict::Within),
        head: Head {
            serial: "SG-0007".to_owned(),
            firmware: "0.1.0".to_owned(),
            calibration_date: Some("2026-11-20".to_owned()),
            calibration_sha256: Some(Hash::of(b"constants")),
        },
        flags: vec!["drifting".into()],
        supersedes: None,
        came: Some(Came::Seen),
        by: Some(Sayer::Button),
    }
}

/// A new job's identity, another for each number.
pub(crate) fn id(number: u8) -> JobId {
    JobId([number; 16])
}

/// A record in a folder that goes when it is dropped, with one open job.
pub(crate) fn record(job: &str) -> (tempfile::TempDir, Record) {
    let folder = tempfile::tempdir().unwrap();
    let mut record = Record::create(&folder.path().join("record.sqlite")).unwrap();
    record.open_job(id(1), job, READY, &stamp(0)).unwrap();
    (folder, record)
}

/// A record with two jobs and something of most kinds; the first closed and the file sealed if
/// asked.
pub(crate) fn filled(path: &Path, close: bool) -> Record {
    let mut record = Record::create(path).unwrap();
    record.open_job(id(1), "Hall 3", READY, &stamp(0)).unwrap();
    record.open_job(id(2), "Hall 4", "site = \"Hall 4\"\n", &stamp(0)).unwrap();
    let first = record.append("Hall 3", &stamp(1), take("top left", 3.25)).unwrap().hash;
    record
        .append("Hall 3", &stamp(2), Take { supersedes: Some(first), ..take("top left", 3.5) })
        .unwrap();
    record.note("Hall 3", &stamp(3), "left anchor torqued again").unwrap();
    let bytes: Vec<u8> = (0..9000_u32).map(|n| (n * n % 251) as u8).collect();
    let photo = Photo { name: "wall.jpg", media_type: "image/jpeg", bytes: &bytes, caption: None };
    record.attach("Hall 3", &stamp(4), photo).unwrap();
    for n in 0..20 {
        record.append("Hall 3", &stamp(5 + n), take("bottom", 2.0 + f64::from(n) / 64.0)).unwrap();
    }
    if close {
        record.close("Hall 3", &stamp(40), &[], None).unwrap();
        record.close("Hall 4", &stamp(41), &[], None).unwrap();
    }
    record
}

/// Copies a record and its journal as they stand in the middle of a write.
pub(crate) fn cut_short(path: &Path, to: &Path) {
    let connection = Connection::open(path).unwrap();
    connection
        .execute_batch("PRAGMA cache_size = 1; PRAGMA cache_spill = 1; BEGIN IMMEDIATE")
        .unwrap();
    for n in 0..200 {
        let sql = "INSERT INTO event VALUES (2, ?1, 'x', 'x', 'x', 'x', 1, hex(zeroblob(2000)), 2, x'', zeroblob(32))";
        connection.execute(sql, [n + 2]).unwrap();
    }
    connection.execute_batch("UPDATE job SET takes = 99").unwrap();
    let beside = |path: &Path| PathBuf::from(format!("{}-journal", path.display()));
    // The locks go with these reads, which only this connection would miss.
    fs::copy(path, to).unwrap();
    fs::copy(beside(path), beside(to)).unwrap();
    connection.execute_batch("ROLLBACK").unwrap();
}

/// Appends an event past every rule, but with its hash right.
pub(crate) fn forge(path: &Path, job_id: i64, body: &Body) -> Hash {
    forge_raw(path, job_id, body.kind(), body.version(), &body.payload().unwrap(), None)
}

/// A signer from an OpenSSH key file's text; the key comes from a fixed seed, and is of no use
/// elsewhere.
pub(crate) fn signer() -> Signer {
    let pair = KeypairData::Ed25519(Ed25519Keypair::from_seed(&[42; 32]));
    let text = PrivateKey::new(pair, "A. Fitter").unwrap().to_openssh(LineEnding::LF).unwrap();
    Signer::from_openssh(&text, None).unwrap()
}

fn read<T: serde::de::DeserializeOwned>(json: serde_json::Value) -> T {
    serde_json::from_value(json).unwrap()
}

/// One of each section, from the texts of their first versions.
pub(crate) fn sections() -> Vec<Section> {
    let first: serde_json::Map<String, serde_json::Value> =
        serde_json::from_str(include_str!("../data/sections_v1.json")).unwrap();
    let section = |(name, data)| read(json!({"section": name, "data_version": 1, "data": data}));
    let level = Levelled {
        of: "bracket".to_owned(),
        line: Line::Plumb,
        value: Deg(0.125),
        known: Known::Resolution(Deg(0.05)),
        target: Band { low: Deg(-0.25), high: Deg(0.25) },
        verdict: Verdict::Within,
        tool: Tool::Own("spirit level, 600 mm".to_owned()),
    };
    first.into_iter().map(section).chain([level.into()]).collect()
}

/// Appends one event of each kind that anyone may append, with every field filled, a second apart.
pub(crate) fn append_every_kind(record: &mut Record, job: &str, after_s: u32) -> Vec<Body> {
    let mut bodies: Vec<Body> = Vec::new();
    let mut put = |body: Body| -> Hash {
        let stamp = stamp(after_s + u32::try_from(bodies.len()).unwrap());
        bodies.push(body.clone());
        record.append(job, &stamp, body).unwrap().hash
    };
    let head = take("top", 3.0).head;
    let text = "site = \"Hall 3, north wall\"\n";
    let difference = |what: &str| Difference {
        what: what.to_owned(),
        was: None,
        is: Some("Larch Lane".to_owned()),
    };
    put(JobRevised {
        job_file: text.to_owned(),
        job_file_sha256: Hash::of(text.as_bytes()),
        said_same: vec![difference("client")],
    }
    .into());
    put(CalibrationUsed {
        head: head.clone(),
        zero: Mm(-0.1234),
        u_zero: Mm(0.0125),
        dof: Some(16.75),
        constants: json!({"slope": 1.0021, "eye": [0.31, 0.29]}),
    }
    .into());
    put(Calibrated {
        head: head.clone(),
        before: Some(json!({"zero_mm": -0.11})),
        after: Some(json!({"zero_mm": -0.1234})),
        reference: "gauge block 5 mm, certificate 123".to_owned(),
        seats: [0.012, -0.02, 0.008].map(Mm).to_vec(),
        budget: vec![BudgetLine {
            source: "block".to_owned(),
            value: 0.001,
            unit: "mm".to_owned(),
            distribution: "rectangular".to_owned(),
            divisor: 3_f64.sqrt(),
            sensitivity: 1.0,
            contribution: 0.001 / 3_f64.sqrt(),
            dof: None,
            share: 0.04,
        }],
    }
    .into());
    put(ZeroChecked {
        head: head.clone(),
        constants: json!({"zero_um": -123}),
        reference: "gauge with slits at 3.002, 9.004 mm".to_owned(),
        known: Mm(6.003),
        error: Mm(-0.0125),
        expanded_u: Mm(0.0625),
        verdict: Verdict::Within,
    }
    .into());
    let first = put(take("top left", 3.3).into());
    let came = Some(Came::Said { last_at: Some("bottom".to_owned()) });
    let redo = put(Take { supersedes: Some(first), came, ..take("top left", 3.1) }.into());
    let tilt = put(EmitterTilt {
        phase: Phase::AsFound,
        round: 1,
        level: Deg(-0.125),
        lean: Deg(0.0625),
        u: Deg(0.004),
        head: head.clone(),
        by: Some(Sayer::Page("phone at 192.168.1.20".to_owned())),
    }
    .into());
    let advice = put(TurnAdvised {
        adjuster: "upper".to_owned(),
        turns: Turns(-0.375),
        station: Some("bottom".to_owned()),
        target_gap: Some(Mm(3.1)),
        round: 1,
    }
    .into());
    put(TurnObserved {
        adjuster: "upper".to_owned(),
        advice: Some(advice),
        turns: Some(Turns(-0.4)),
        station: Some("bottom".to_owned()),
        gap_before: Some(Mm(2.2)),
        gap_after: Some(Mm(3.0)),
        gap_predicted: Some(Mm(3.1)),
        flags: vec!["slipped".into()],
        by: Some(Sayer::Terminal),
    }
    .into());
    put(EmitterOff { saw: Looked::Line, gap: Some(Mm(3.2)), head: head.clone() }.into());
    put(AsLeft { takes: vec![redo], tilt: Some(tilt) }.into());
    let by = Some(Sayer::Button);
    put(StruckOut { takes: vec![redo], why: Struck::LightLeaves, by }.into());
    let said = put(made::step("services", None).into());
    let why = "the wrong step".to_owned();
    put(StepUndone { step: "services".to_owned(), said: vec![said], why }.into());
    put(Touched { why: Unasked::SaidSo, by: Some(Sayer::Terminal) }.into());
    put(Judged {
        verdict: Verdict::Unsure,
        phase: Phase::AsLeft,
        worst: Some(Station {
            name: "bottom left".to_owned(),
            at: Point { x: Mm(-1012.5), y: Mm(-1265.0) },
        }),
        worst_gap: Some(Mm(2.05)),
        margin: Some(Mm(0.05)),
        expanded_u: Some(Mm(0.08)),
        decision_rule: "inside the band by more than the uncertainty".to_owned(),
        would_settle: Some(Said::of("two more takes at the bottom")),
        simulated: false,
        survey_sha256: None,
        judged_at: Some(JudgedAt::Places(vec!["top left".to_owned()])),
        detail: read(json!({"covariance": [[1e-4, 0.0], [0.0, 2e-9]]})),
    }
    .into());
    let square = json!({"section": "square", "data_version": 1, "data": {"worst_mm": 1.5}});
    put(read::<Section>(square).into());
    put(Note { text: "Überhang – \"left\"".to_owned(), about: Some(first) }.into());
    put(Salvaged {
        seq: 9,
        at: "2026-11-24T09:00:00+01:00".to_owned(),
        who: "B. Fitter".to_owned(),
        software: "skimgauge 0.1.0".to_owned(),
        kind: "note".to_owned(),
        version: 2,
        payload: r#"{"text":"x","about":null}"#.to_owned(),
        rule: 2,
        parents: vec![Hash::of(b"lost")],
        hash: Hash::of(b"saved"),
        broke_at: 8,
    }
    .into());
    for body in &bodies {
        // A new kind of event belongs into this list, or among those that have a way of their own
        // in.
        match body {
            Body::JobRevised(_)
            | Body::CalibrationUsed(_)
            | Body::Calibrated(_)
            | Body::ZeroChecked(_)
            | Body::Take(_)
            | Body::AsLeft(_)
            | Body::StruckOut(_)
            | Body::StepUndone(_)
            | Body::Touched(_) => {}
            Body::EmitterTilt(_)
            | Body::EmitterOff(_)
            | Body::TurnAdvised(_)
            | Body::TurnObserved(_)
            | Body::Judged(_) => {}
            Body::Section(_) | Body::Note(_) | Body::Salvaged(_) => {}
            Body::JobOpened(_)
            | Body::PhotoAttached(_)
            | Body::Closed(_)
            | Body::Signed(_)
            | Body::Joined(_)
            | Body::Unknown(_) => {
                unreachable!()
            }
        }
    }
    bodies
}

/// Changes a record as someone would who knows SQLite: the triggers that refuse go and come back.
pub(crate) fn tamper(path: &Path, sql: &str) {
    let connection = Connection::open(path).unwrap();
    let mut query = connection
        .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' ORDER BY rowid")
        .unwrap();
    let triggers: Vec<(String, String)> = query
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    drop(query);
    connection.pragma_update(None, "foreign_keys", false).unwrap();
    for (name, _) in &triggers {
        connection.execute(&format!("DROP TRIGGER {name}"), []).unwrap();
    }
    connection.execute_batch(sql).unwrap();
    for (_, text) in &triggers {
        connection.execute(text, []).unwrap();
    }
}

/// Appends an event of any kind past every rule, with these parents, or with the last event as its
/// parent; its hash right.
pub(crate) fn forge_raw(
    path: &Path,
    job_id: i64,
    kind: &str,
    version: u32,
    payload: &str,
    parents: Option<&[Hash]>,
) -> Hash {
    let connection = Connection::open(path).unwrap();
    let (seq, before): (u32, Hash) = connection
        .query_row("SELECT last_seq + 1, last_hash FROM job WHERE job_id = ?1", [job_id], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .unwrap();
    let parents = parents.map_or_else(|| vec![before], <[Hash]>::to_vec);
    let at = stamp(59).at.to_string();
    let row = Row { seq, at: &at, who: "x", software: "x", kind, version, payload };
    let hash = link(&parents, row);
    let bytes: Vec<u8> = parents.iter().flat_map(|parent| parent.0).collect();
    connection
        .execute(
            "INSERT INTO event VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, 2, ?9, ?10)",
            (
                job_id,
                seq,
                row.at,
                row.who,
                row.software,
                row.kind,
                row.version,
                row.payload,
                bytes,
                hash,
            ),
        )
        .unwrap();
    connection
        .execute(
            "UPDATE job SET last_seq = ?2, last_hash = ?3, last_at = ?4 WHERE job_id = ?1",
            (job_id, seq, hash, row.at),
        )
        .unwrap();
    connection.execute("UPDATE seal SET digest = zeroblob(32)", []).unwrap();
    hash
}

/// Every column of a job's events but the local number of the job, as the file has them.
pub(crate) fn every_byte(path: &Path, job_id: i64) -> Vec<Vec<rusqlite::types::Value>> {
    let connection = Connection::open(path).unwrap();
    let mut query =
        connection.prepare("SELECT * FROM event WHERE job_id = ?1 ORDER BY seq").unwrap();
    let columns = query.column_count();
    query
        .query_map([job_id], |row| (1..columns).map(|column| row.get(column)).collect())
        .unwrap()
        .map(Result::unwrap)
        .collect()
}
