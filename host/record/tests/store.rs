//! Opening, appending, listing and showing, as the host does it.

mod common;

use common::{READY, id, stamp, take};
use skimgauge_quantity::Mm;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{
    Closed, Head, Judged, JudgedAt, Note, Phase, PhotoAttached, Signed, Take, TurnObserved, Verdict,
};
use skimgauge_record::photo::Photo;
use skimgauge_record::{Body, Record, RecordError};

fn judged(verdict: Verdict) -> Judged {
    Judged {
        verdict,
        phase: Phase::AsLeft,
        worst: None,
        worst_gap: Some(Mm(3.4)),
        margin: Some(Mm(0.2)),
        expanded_u: Some(Mm(0.1)),
        decision_rule: "inside the band by more than the uncertainty".to_owned(),
        would_settle: None,
        simulated: false,
        survey_sha256: None,
        judged_at: Some(JudgedAt::Board),
        detail: serde_json::from_value(serde_json::json!({"points": [1.0, 2.5]})).unwrap(),
    }
}

#[test]
fn what_was_appended_is_listed_and_shown_by_another_opening() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("new folder/record.sqlite");
    let mut record = Record::open_or_create(&path).unwrap();
    record.open_job(id(1), "Hall 3", "site = \"Hall 3\"\n", &stamp(0)).unwrap();
    let first = record.append("Hall 3", &stamp(1), take("top left", 3.25)).unwrap();
    assert_eq!((first.seq, first.clock_back_s), (2, None));
    record.append("Hall 3", &stamp(2), judged(Verdict::Within)).unwrap();
    record.open_job(id(2), "Hall 4", "", &stamp(3)).unwrap();

    let other = Record::open_read_only(&path).unwrap();
    let jobs = other.jobs().unwrap();
    assert_eq!(jobs.iter().map(|job| job.name.as_str()).collect::<Vec<_>>(), ["Hall 4", "Hall 3"]);
    assert_eq!(
        (jobs[1].events, jobs[1].takes, jobs[1].verdict, jobs[1].closed),
        (3, 1, Some(Verdict::Within), false)
    );
    let shown = other.job("Hall 3").unwrap();
    assert_eq!(shown.broken, None);
    assert_eq!(shown.events[1].body, Body::from(take("top left", 3.25)));
    assert_eq!(shown.events[1].hash, first.hash);
    assert_eq!(shown.events[1].at.to_string(), stamp(1).at.to_string());
    assert_eq!(shown.job_file(), Some("site = \"Hall 3\"\n"));
    assert_eq!(shown.verdict(Phase::AsLeft).map(|judged| judged.verdict), Some(Verdict::Within));
    assert_eq!(shown.verdict(Phase::AsFound), None);
}

#[test]
fn a_redo_replaces_and_keeps_the_earlier_take() {
    let (_folder, mut record) = common::record("Hall 3");
    let first = record.append("Hall 3", &stamp(1), take("top left", 3.25)).unwrap();
    let redo = Take { supersedes: Some(first.hash), ..take("top left", 3.10) };
    let second = record.append("Hall 3", &stamp(2), redo.clone()).unwrap();
    record.append("Hall 3", &stamp(3), take("bottom", 2.0)).unwrap();
    record.append("Hall 3", &stamp(4), take("bottom", 2.1)).unwrap();
    record.append("Hall 3", &stamp(5), Take { round: 2, ..take("bottom", 2.7) }).unwrap();
    record
        .append("Hall 3", &stamp(6), Take { phase: Phase::AsLeft, ..take("bottom", 2.9) })
        .unwrap();
    let job = record.job("Hall 3").unwrap();
    let current: Vec<_> = job.current_takes().iter().map(|c| (c.event.seq, c.take.gap.0)).collect();
    assert_eq!(current, [(second.seq, 3.10), (6, 2.7), (7, 2.9)]);
    assert_eq!(job.events.len(), 7);
    assert_eq!(job.summary.takes, 5);

    for (refused, why) in [
        (redo, "replaced already"),
        (Take { supersedes: Some(second.hash), ..take("bottom", 3.0) }, "top left"),
        (
            Take {
                supersedes: Some(record.job("Hall 3").unwrap().events[0].hash),
                ..take("top left", 3.0)
            },
            "no take",
        ),
        (Take { supersedes: Some(Hash::NONE), ..take("top left", 3.0) }, "no take"),
    ] {
        let error = record.append("Hall 3", &stamp(9), refused).unwrap_err();
        assert!(error.to_string().contains(why), "{error}");
    }
    assert_eq!(record.job("Hall 3").unwrap().events.len(), 7);
}

#[test]
fn a_clock_set_back_is_flagged_and_the_order_kept() {
    let (_folder, mut record) = common::record("Hall 3");
    record.append("Hall 3", &stamp(100), take("top", 3.0)).unwrap();
    let back = record.append("Hall 3", &stamp(40), take("bottom", 3.0)).unwrap();
    assert_eq!(back.clock_back_s, Some(60.0));
    record.append("Hall 3", &stamp(41), take("left", 3.0)).unwrap();
    let flags: Vec<_> = record
        .job("Hall 3")
        .unwrap()
        .events
        .iter()
        .map(|event| (event.seq, event.clock_back_s))
        .collect();
    assert_eq!(flags, [(1, None), (2, None), (3, Some(60.0)), (4, None)]);
}

#[test]
fn a_closed_job_takes_no_more() {
    let (_folder, mut record) = common::record("Hall 3");
    record.close("Hall 3", &stamp(5), &["cover plate missing".to_owned()], None).unwrap();
    assert!(record.jobs().unwrap()[0].closed);
    for body in [Body::from(take("top", 3.0)), Note { text: "late".into(), about: None }.into()] {
        assert!(matches!(record.append("Hall 3", &stamp(6), body), Err(RecordError::Closed(_))));
    }
    assert!(matches!(record.close("Hall 3", &stamp(6), &[], None), Err(RecordError::Closed(_))));
}

#[test]
fn what_cannot_stand_is_refused_and_leaves_nothing() {
    let (_folder, mut record) = common::record("Hall 3");
    let nan = Take { gap: Mm(f64::NAN), ..take("top", 3.0) };
    assert!(matches!(record.append("Hall 3", &stamp(1), nan), Err(RecordError::BadEvent(_))));
    let error = record.append("hall", &stamp(1), take("top", 3.0)).unwrap_err();
    assert!(error.to_string().contains("Did you mean \"Hall 3\"?"), "{error}");
    for name in ["", "  ", "a\nb", &"x".repeat(121)] {
        assert!(
            matches!(record.open_job(id(3), name, "", &stamp(1)), Err(RecordError::BadEvent(_))),
            "{name:?}"
        );
    }
    assert!(matches!(
        record.open_job(id(3), " Hall 3 ", "", &stamp(1)),
        Err(RecordError::JobExists(_))
    ));
    let opened = record.job("Hall 3").unwrap().events[0].body.clone();
    assert!(record.append("Hall 3", &stamp(1), opened).is_err());
    let photo = PhotoAttached {
        name: "x.jpg".into(),
        media_type: "image/jpeg".into(),
        bytes: 3,
        sha256: Hash::of(b"abc"),
        caption: None,
    };
    assert!(record.append("Hall 3", &stamp(1), photo).unwrap_err().to_string().contains("x.jpg"));
    let signed = Signed { hash: Hash::NONE, public_key: String::new(), signature: String::new() };
    assert!(matches!(record.append("Hall 3", &stamp(1), signed), Err(RecordError::NotClosed(_))));
    assert!(
        record
            .append("Hall 3", &stamp(1), Note { text: "?".into(), about: Some(Hash::of(b"7")) })
            .is_err()
    );
    let observed = TurnObserved {
        adjuster: "left".into(),
        advice: Some(Hash::of(b"9")),
        turns: None,
        station: Some("top left".into()),
        gap_before: Some(Mm(3.0)),
        gap_after: Some(Mm(3.1)),
        gap_predicted: None,
        flags: vec![],
        by: None,
    };
    assert!(record.append("Hall 3", &stamp(1), observed).is_err());
    assert_eq!(record.job("Hall 3").unwrap().events.len(), 1);
}

#[test]
fn photos_are_kept_once_and_come_back() {
    let (_folder, mut record) = common::record("Hall 3");
    record.open_job(id(2), "Hall 4", "", &stamp(0)).unwrap();
    let photo = Photo {
        name: "wall.jpg",
        media_type: "image/jpeg",
        bytes: &[0xff, 0xd8, 1, 2, 3],
        caption: Some("anchor"),
    };
    record.attach("Hall 3", &stamp(1), photo).unwrap();
    record.attach("Hall 4", &stamp(1), photo).unwrap();
    let Body::PhotoAttached(kept) = record.job("Hall 3").unwrap().events[1].body.clone() else {
        panic!("no photo")
    };
    assert_eq!(record.photo(kept.sha256).unwrap().as_deref(), Some(photo.bytes));
    assert_eq!(record.photo(Hash::NONE).unwrap(), None);
    assert!(record.attach("Hall 3", &stamp(1), Photo { bytes: &[], ..photo }).is_err());
    // An attachment to a job that is closed leaves neither event nor bytes.
    record.close("Hall 4", &stamp(2), &[], None).unwrap();
    record.attach("Hall 4", &stamp(3), Photo { bytes: b"other", ..photo }).unwrap_err();
    assert_eq!(record.photo(Hash::of(b"other")).unwrap(), None);
}

#[test]
fn two_that_write_at_once_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    Record::open_or_create(&path).unwrap().open_job(id(1), "Hall 3", "", &stamp(0)).unwrap();
    std::thread::scope(|scope| {
        for who in ["one", "two", "three"] {
            let path = &path;
            scope.spawn(move || {
                let mut record = Record::open(path).unwrap();
                for n in 0..20 {
                    record.note("Hall 3", &stamp(n), &format!("{who} {n}")).unwrap();
                }
            });
        }
    });
    let job = Record::open_read_only(&path).unwrap().job("Hall 3").unwrap();
    assert_eq!(job.broken, None);
    let mut texts: Vec<_> = job
        .events
        .iter()
        .filter_map(|event| match &event.body {
            Body::Note(note) => Some(note.text.clone()),
            _ => None,
        })
        .collect();
    texts.sort();
    texts.dedup();
    assert_eq!(texts.len(), 60);
}

#[test]
fn two_that_make_the_record_at_once_agree() {
    for _ in 0..10 {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.sqlite");
        std::thread::scope(|scope| {
            for name in ["a", "b", "c"] {
                let path = &path;
                scope.spawn(move || {
                    let mut record = Record::open_or_create(path).unwrap();
                    record.open_job(id(name.as_bytes()[0]), name, READY, &stamp(0)).unwrap();
                });
            }
        });
        assert_eq!(Record::open(&path).unwrap().jobs().unwrap().len(), 3);
    }
}

#[test]
fn the_job_file_as_last_recorded_is_shown() {
    let (_folder, mut record) = common::record("Hall 3");
    let text = "site = \"moved\"\n";
    assert_eq!(record.revise_job("Hall 3", READY, vec![], &stamp(1)).unwrap(), None);
    assert_eq!(
        record.revise_job("Hall 3", text, vec![], &stamp(1)).unwrap().map(|revised| revised.seq),
        Some(2)
    );
    assert_eq!(record.revise_job("Hall 3", text, vec![], &stamp(2)).unwrap(), None);
    assert_eq!(record.job("Hall 3").unwrap().job_file(), Some(text));
}

#[test]
fn closing_keeps_the_last_verdict() {
    let (_folder, mut record) = common::record("Hall 3");
    record.append("Hall 3", &stamp(1), judged(Verdict::Outside)).unwrap();
    record.append("Hall 3", &stamp(2), judged(Verdict::Unsure)).unwrap();
    record.close("Hall 3", &stamp(3), &[], None).unwrap();
    let closed = Body::from(Closed { verdict: Some(Verdict::Unsure), open_points: vec![] });
    assert_eq!(record.job("Hall 3").unwrap().events[3].body, closed);
}

#[test]
fn heads_are_told_apart() {
    let (_folder, mut record) = common::record("Hall 3");
    let other = Head { serial: "SG-0008".into(), ..take("top", 3.0).head };
    record.append("Hall 3", &stamp(1), Take { head: other.clone(), ..take("top", 3.0) }).unwrap();
    let job = record.job("Hall 3").unwrap();
    assert_eq!(job.current_takes()[0].take.head, other);
}

/// Root may write anywhere, so that this says something for other accounts only.
#[cfg(unix)]
#[test]
fn a_place_that_cannot_be_written_is_said() {
    use std::fs::{Permissions, set_permissions};
    use std::os::unix::fs::PermissionsExt;
    let (folder, record) = common::record("Hall 3");
    drop(record);
    let path = folder.path().join("record.sqlite");
    let unreadable = folder.path().join("unreadable.sqlite");
    std::fs::copy(&path, &unreadable).unwrap();
    let set =
        |path: &std::path::Path, mode| set_permissions(path, Permissions::from_mode(mode)).unwrap();
    set(&unreadable, 0o000);
    set(&path, 0o444);
    set(folder.path(), 0o555);
    let may_anyway = std::fs::File::options().write(true).open(&path).is_ok();
    let append = |path: &std::path::Path| Record::open(path)?.note("Hall 3", &stamp(1), "x");
    let found = (
        append(&path),
        Record::create(&folder.path().join("new.sqlite")),
        Record::open_or_create(&folder.path().join("new/new.sqlite")),
        Record::open_read_only(&path).and_then(|record| record.jobs()),
        Record::open_read_only(&unreadable),
    );
    set(&path, 0o644);
    let no_journal = append(&path);
    set(folder.path(), 0o755);
    if may_anyway {
        eprintln!("left out: this account may write anywhere");
        return;
    }
    assert!(matches!(found.0, Err(RecordError::ReadOnly(_))), "{:?}", found.0);
    assert!(matches!(found.1, Err(RecordError::NoPermission(_))), "{:?}", found.1);
    assert!(matches!(found.2, Err(RecordError::NoPermission(_))), "{:?}", found.2);
    assert_eq!(found.3.unwrap().len(), 1);
    assert!(matches!(found.4, Err(RecordError::NoPermission(_))), "{:?}", found.4);
    assert!(
        matches!(no_journal, Err(RecordError::NoPermission(_) | RecordError::ReadOnly(_))),
        "{no_journal:?}"
    );
}
