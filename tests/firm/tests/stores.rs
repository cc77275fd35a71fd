//! One suite for every store: the record in a file and the firm's database agree on every byte and
//! every hash.

use skimgauge_firm::Base;
use skimgauge_firm_tests::fleet::{Spec, id, lot, moment, rows};
use skimgauge_firm_tests::server::{Server, Setup};
use skimgauge_record::carry::{Lot, Store, branches, carry, history};
use skimgauge_record::chain::{Hash, Parents, Rule, link};
use skimgauge_record::event::{Body, EmitterOff, Head, Looked, Note, PhotoAttached, Signed};
use skimgauge_record::sign::Signer;
use skimgauge_record::{Record, RecordError, Stamp, StoredRow};
use ssh_key::private::{Ed25519Keypair, KeypairData};
use ssh_key::{LineEnding, PrivateKey};
use std::path::Path;

/// Makes a store of each kind for a test of the suite, under a name of its own, and runs it.
fn each(server: &Server, name: &str, test: fn(&mut dyn Store)) {
    let folder = tempfile::tempdir().unwrap();
    let file = Record::create(&folder.path().join("record.sqlite")).unwrap();
    server.prepared(name);
    let base = Base::open(&server.address("postgres", name)).unwrap();
    for store in [Box::new(file) as Box<dyn Store>, Box::new(base)] {
        let mut store = store;
        test(store.as_mut());
    }
}

fn stamp(after_s: i64) -> Stamp {
    Stamp::new(moment(after_s), "R. Oakes", "skimgauge 0.1.0").unwrap()
}

/// One event more behind the last of these.
fn and_then(rows: &mut Vec<StoredRow>, after_s: i64, body: impl Into<Body>) -> Hash {
    let last = rows.last().unwrap();
    let seq = last.seq + 1;
    let row = StoredRow::made(seq, &stamp(after_s), &body.into(), vec![last.hash]).unwrap();
    rows.push(row);
    rows[rows.len() - 1].hash
}

/// One event more of a kind that is not known here.
fn and_unknown(rows: &mut Vec<StoredRow>, kind: &str, version: u32, payload: &str) {
    let last = rows.last().unwrap();
    let mut row = StoredRow {
        seq: last.seq + 1,
        kind: kind.to_owned(),
        version,
        payload: payload.to_owned(),
        parents: Parents(vec![last.hash]),
        ..last.clone()
    };
    row.hash = link(&row.parents.0, row.row());
    rows.push(row);
}

fn note(text: &str) -> Note {
    Note { text: text.to_owned(), about: None }
}

fn open_job(number: u64) -> Vec<StoredRow> {
    rows(&Spec { number, closes: false, ..Spec::default() })
}

fn checked(number: u64, rows: Vec<StoredRow>) -> Lot {
    Lot::checked(id(number), "a laptop", rows).unwrap()
}

#[test]
fn every_store_keeps_the_suite() {
    let server = Server::start(&Setup::default());
    each(&server, "arrives", a_job_arrives_as_it_left_and_once);
    each(&server, "grows", a_job_that_grew_is_brought_up_to_date);
    each(&server, "unknown", what_a_newer_program_wrote_is_carried_byte_for_byte);
    each(&server, "altered", what_does_not_follow_is_not_let_in);
    each(&server, "closed", what_is_closed_and_signed_stays_so);
    each(&server, "photos", photos_go_with_their_events);
    each(&server, "named", a_job_is_found_by_name_and_identity);
    each(&server, "kinds", every_kind_of_format_1_and_2_comes_back);
    // The same job as in the fixture before it, gone on with in another way.
    each(&server, "sections", |store| {
        come_back(store, &["record_v2_sections.sqlite"]);
    });
}

fn a_job_arrives_as_it_left_and_once(store: &mut dyn Store) {
    let lot = lot(&Spec::default());
    assert_eq!(store.put(&lot).unwrap() as usize, lot.rows.len());
    assert_eq!(store.put(&lot).unwrap(), 0, "a second time");
    let back = branches(store.rows(lot.id).unwrap());
    assert_eq!(back, std::slice::from_ref(&lot.rows));
    assert_eq!(store.hashes(lot.id).unwrap(), lot.rows.iter().map(|row| row.hash).collect());
    assert_eq!(history(&back[0]).unwrap(), lot.branches[0]);
    assert_eq!(store.ids().unwrap(), [lot.id]);
    assert!(store.rows(id(99)).unwrap().is_empty() && store.hashes(id(99)).unwrap().is_empty());
}

fn a_job_that_grew_is_brought_up_to_date(store: &mut dyn Store) {
    let all = open_job(1);
    for many in [1, 5, 5, 3, all.len()] {
        let before = store.hashes(id(1)).unwrap().len();
        let new = store.put(&checked(1, all[..many].to_vec())).unwrap() as usize;
        assert_eq!(new, many.saturating_sub(before), "{many}");
    }
    assert_eq!(branches(store.rows(id(1)).unwrap()), [all]);
}

fn what_a_newer_program_wrote_is_carried_byte_for_byte(store: &mut dyn Store) {
    let mut all = open_job(1);
    let odd = "{ \"b\":1,\"a\" : [ 2.50,  \"\\u00fc\\u0000ü\"] }";
    for (kind, version, payload) in [
        ("plumbed", 1, odd),
        ("take", 9, odd),
        ("plumbed", u32::MAX, "no JSON \u{1}\u{0}"),
        ("joined", 7, ""),
    ] {
        and_unknown(&mut all, kind, version, payload);
    }
    store.put(&checked(1, all.clone())).unwrap();
    assert_eq!(branches(store.rows(id(1)).unwrap()), [all]);
}

fn what_does_not_follow_is_not_let_in(store: &mut dyn Store) {
    let good = open_job(1);
    let with = |change: &dyn Fn(&mut Vec<StoredRow>)| {
        let mut rows = good.clone();
        change(&mut rows);
        // Not gone through by whoever carries it.
        Lot { rows, ..checked(1, good.clone()) }
    };
    let relink = |row: &mut StoredRow| row.hash = link(&row.parents.0, row.row());
    let wrong = [
        ("a changed byte", with(&|rows| rows[3].payload = rows[3].payload.replacen('2', "3", 1))),
        ("a changed name", with(&|rows| rows[3].who.push('x'))),
        ("another time", with(&|rows| rows[3].at = rows[4].at.clone())),
        ("one is missing", with(&|rows| drop(rows.remove(3)))),
        (
            "follows nothing",
            with(&|rows| {
                rows[3].parents = Parents(Vec::new());
                relink(&mut rows[3]);
            }),
        ),
        (
            "follows what is not there",
            with(&|rows| {
                rows[3].parents = Parents(vec![Hash::of(b"elsewhere")]);
                relink(&mut rows[3]);
            }),
        ),
        (
            "opened twice",
            with(&|rows| {
                let mut second = rows[0].clone();
                second.at = rows[1].at.clone();
                relink(&mut second);
                rows.push(second);
            }),
        ),
        ("under another's identity", Lot { id: id(2), ..checked(1, good.clone()) }),
        ("by a rule that is none", with(&|rows| rows[3].rule = 3)),
    ];
    for (what, lot) in wrong {
        assert!(store.put(&lot).is_err(), "{what}");
        assert!(store.rows(id(1)).unwrap().is_empty() && store.ids().unwrap().is_empty(), "{what}");
        assert!(Lot::checked(lot.id, "x", lot.rows).is_err(), "{what}: carried");
    }
    store.put(&checked(1, good)).unwrap();
}

/// A key from a fixed seed, of no use elsewhere.
fn signer() -> Signer {
    let pair = KeypairData::Ed25519(Ed25519Keypair::from_seed(&[42; 32]));
    let text = PrivateKey::new(pair, "R. Oakes").unwrap().to_openssh(LineEnding::LF).unwrap();
    Signer::from_openssh(&text, None).unwrap()
}

fn what_is_closed_and_signed_stays_so(store: &mut dyn Store) {
    let folder = tempfile::tempdir().unwrap();
    let mut laptop = Record::create(&folder.path().join("r.sqlite")).unwrap();
    laptop.put(&checked(1, open_job(1))).unwrap();
    laptop.close("reading room", &stamp(9_000), &[], Some(&signer())).unwrap();
    carry(&mut laptop, store, id(1), None).unwrap();
    laptop.sign("reading room", &stamp(9_100), &signer()).unwrap();
    assert_eq!(carry(&mut laptop, store, id(1), None).unwrap().new_events, 1);
    let kept = branches(store.rows(id(1)).unwrap()).remove(0);
    let found = skimgauge_record::verify::JobReport::of(&history(&kept).unwrap().events, None);
    assert!(found.closed && found.signatures.len() == 2);
    assert!(found.signatures.iter().all(|signature| signature.wrong.is_none()));
    // Something behind the close, its hash right.
    let mut more = kept.clone();
    and_then(&mut more, 9_200, note("one more thing"));
    let signature = history(&kept).unwrap().events.into_iter().find_map(|event| match event.body {
        Body::Signed(signed) => Some(signed),
        _ => None,
    });
    let lot = Lot { rows: more, ..checked(1, kept.clone()) };
    store.put(&lot).unwrap_err();
    // Of every kind that is known here it is known.
    let off = EmitterOff {
        saw: Looked::LeftOut,
        gap: None,
        head: Head {
            serial: "SG-0007".to_owned(),
            firmware: "0.1.0".to_owned(),
            calibration_date: None,
            calibration_sha256: None,
        },
    };
    let mut more = kept.clone();
    and_then(&mut more, 9_250, off);
    store.put(&Lot { rows: more, ..checked(1, kept.clone()) }).unwrap_err();
    let mut more = kept.clone();
    and_then(&mut more, 9_300, Signed { ..signature.unwrap() });
    assert_eq!(store.put(&checked(1, more.clone())).unwrap(), 1, "a signature more");
    // What a newer program may mean by a take of its own nobody knows here.
    and_unknown(&mut more, "take", 9, "{}");
    assert_eq!(store.put(&checked(1, more)).unwrap(), 1, "what is not known");
}

fn photos_go_with_their_events(store: &mut dyn Store) {
    let bytes: Vec<u8> = (0..9000_u32).map(|n| (n * n % 251) as u8).collect();
    let sha256 = Hash::of(&bytes);
    let photo = PhotoAttached {
        name: "wall.jpg".to_owned(),
        media_type: "image/jpeg".to_owned(),
        bytes: bytes.len() as u64,
        sha256,
        caption: None,
    };
    let mut all = open_job(1);
    and_then(&mut all, 9_000, photo);
    let lot = Lot { photos: vec![(sha256, bytes.clone())], ..checked(1, all) };
    store.put(&lot).unwrap();
    assert_eq!(store.photo_of(id(1), sha256).unwrap(), Some(bytes.clone()));
    assert_eq!(store.photo_of(id(1), Hash::of(b"x")).unwrap(), None);
    // From there into another record.
    let folder = tempfile::tempdir().unwrap();
    let mut other = Record::create(&folder.path().join("r.sqlite")).unwrap();
    carry(store, &mut other, id(1), None).unwrap();
    assert_eq!(other.photo(sha256).unwrap(), Some(bytes));
    drop(other);
    let report = skimgauge_record::verify::verify(&folder.path().join("r.sqlite")).unwrap();
    assert!(report.sound(), "{:?}", report.first_wrong());
}

fn a_job_is_found_by_name_and_identity(store: &mut dyn Store) {
    for (number, name) in [(1, "reading room"), (2, "foyer"), (3, "foyer")] {
        store.put(&lot(&Spec { number, name: name.to_owned(), ..Spec::default() })).unwrap();
    }
    let whole = id(3).to_string();
    for (asked, number) in
        [("reading room", 1), (&*whole, 3), (&whole[..8], 3), (&whole.to_uppercase(), 3)]
    {
        assert_eq!(store.meant(asked).unwrap(), id(number), "{asked}");
    }
    let Err(RecordError::NameShared { ids, .. }) = store.meant("foyer") else { panic!("one") };
    assert!([2, 3].iter().all(|n| ids.iter().any(|said| said.starts_with(&id(*n).to_string()))));
    for (asked, near) in [("reading", "reading room"), ("", ""), (&whole[..7], "")] {
        let Err(RecordError::NoSuchJob { close_by, .. }) = store.meant(asked) else {
            panic!("{asked}")
        };
        assert_eq!(close_by.first().map_or("", String::as_str), near, "{asked}");
    }
}

/// Fixtures of the record, one written in format 1, one in format 2.
fn every_kind_of_format_1_and_2_comes_back(store: &mut dyn Store) {
    let rules = come_back(store, &["record_v1.sqlite", "record_v2.sqlite"]);
    assert!(rules.contains(&Rule::First.number()) && rules.contains(&Rule::Second.number()));
}

/// Every job of these fixtures goes to a store and comes back as it was. The rules that its events
/// were hashed by.
fn come_back(store: &mut dyn Store, names: &[&str]) -> Vec<u32> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../host/record/tests/data");
    let folder = tempfile::tempdir().unwrap();
    let mut rules = Vec::new();
    for name in names {
        let mut from = Record::open_read_only(&data.join(name)).unwrap();
        let to = folder.path().join(name);
        let mut back = Record::create(&to).unwrap();
        for job in from.ids().unwrap() {
            let there = carry(&mut from, store, job, None).unwrap().new_events;
            let here = carry(store, &mut back, job, None).unwrap().new_events;
            let rows = from.rows(job).unwrap();
            rules.extend(rows.iter().map(|row| row.rule));
            assert!(there <= here && here as usize == rows.len(), "{name}: {there} {here}");
            assert_eq!(back.rows(job).unwrap(), rows, "{name}");
            assert_eq!(
                back.job(&job.to_string()).unwrap().events,
                from.job(&job.to_string()).unwrap().events
            );
        }
        drop(back);
        let report = skimgauge_record::verify::verify(&to).unwrap();
        assert!(report.sound(), "{name}: {:?}", report.first_wrong());
    }
    rules
}

/// Two laptops go on with a job apart: a file has one branch, the database both; a person joins
/// them, and every store says the same of the whole.
#[test]
fn a_fork_is_kept_shown_and_joined() {
    let server = Server::start(&Setup::default());
    server.prepared("forks");
    let mut base = Base::open(&server.address("postgres", "forks")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let record = |name: &str| Record::create(&folder.path().join(name)).unwrap();
    let (mut one, mut two) = (record("one.sqlite"), record("two.sqlite"));
    carry_from_lot(&mut one, open_job(1));
    carry(&mut one, &mut two, id(1), None).unwrap();
    // One goes on and closes and signs; the other, unknowing, notes.
    one.close("reading room", &stamp(9_000), &[], Some(&signer())).unwrap();
    two.note("reading room", &stamp(8_000), "the cable cover is missing").unwrap();
    two.note("reading room", &stamp(10_000), "put on").unwrap();
    let parts = carry(&mut one, &mut two, id(1), None);
    assert!(matches!(parts, Err(RecordError::PartWays { .. })), "{parts:?}");
    let mut base_two =
        Base::open(&server.address("postgres", "forks")).unwrap().as_laptop("LAPTOP-2");
    base = base.as_laptop("LAPTOP-1");
    carry(&mut one, &mut base, id(1), None).unwrap();
    carry(&mut two, &mut base_two, id(1), None).unwrap();
    let both = base.branches(id(1)).unwrap();
    assert_eq!(both.len(), 2);
    assert!(both.iter().all(|branch| branch.history.broken.is_none()));
    let named: Vec<String> = both.iter().map(skimgauge_firm::found::Branch::name).collect();
    assert!(named[0].contains("LAPTOP-1") && named[1].contains("LAPTOP-2"), "{named:?}");
    assert!(both[0].history.summary.closed && !both[1].history.summary.closed);
    let found = skimgauge_firm::check::verify(&mut base).unwrap();
    assert!(found.sound() && found.jobs.len() == 2, "{found:?}");
    // A person at the second laptop joins them.
    let here = two.hashes(id(1)).unwrap();
    let lot = skimgauge_record::carry::lot(&mut base, id(1), None, &here).unwrap();
    let joined = two.join(&lot, &stamp(11_000), &|_| Some("LAPTOP".to_owned())).unwrap();
    carry(&mut two, &mut base_two, id(1), None).unwrap();
    carry(&mut base, &mut one, id(1), None).unwrap();
    let whole = base.branches(id(1)).unwrap();
    let [whole] = whole.as_slice() else { panic!("{} branches", whole.len()) };
    assert_eq!(whole.history.summary.head_hash, joined.hash);
    for record in [&one, &two] {
        assert_eq!(record.job("reading room").unwrap().events, whole.history.events);
        let summary = record.job("reading room").unwrap().summary;
        assert_eq!(summary, whole.history.summary);
        assert!(summary.closed, "a closed branch stays closed");
    }
    for name in ["one.sqlite", "two.sqlite"] {
        let report = skimgauge_record::verify::verify(&folder.path().join(name)).unwrap();
        assert!(report.sound(), "{name}: {:?}", report.first_wrong());
        assert_eq!(report.jobs[0].signatures.len(), 1, "its signature holds");
    }
    assert!(matches!(two.note("reading room", &stamp(12_000), "x"), Err(RecordError::Closed(_))));
    let nothing = two.join(&lot, &stamp(12_000), &|_| None).unwrap_err().to_string();
    assert!(nothing.contains("nothing to join"), "{nothing}");
    // A signature under the whole is still to be had.
    one.sign("reading room", &stamp(13_000), &signer()).unwrap();
    assert_eq!(carry(&mut one, &mut base, id(1), None).unwrap().new_events, 1);
    assert!(skimgauge_firm::check::verify(&mut base).unwrap().sound());
}

fn carry_from_lot(record: &mut Record, rows: Vec<StoredRow>) {
    record.put(&checked(1, rows)).unwrap();
}
