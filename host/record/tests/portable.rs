//! A job carried from record to record, written for other programs, saved out of a damaged file.

mod common;

use std::fs;

use common::{filled, id, record, stamp, take};
use skimgauge_record::seal::Seal;
use skimgauge_record::table::{TAKE_COLUMNS, write_events, write_json, write_takes};
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, JobHistory, Record, RecordError};

#[test]
fn a_job_arrives_as_it_left_and_a_second_import_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (from, file, to) = (
        folder.path().join("a.sqlite"),
        folder.path().join("hall 3.job"),
        folder.path().join("b.sqlite"),
    );
    let source = filled(&from, true);
    source.export_job("Hall 3", &file).unwrap();
    let report = verify(&file).unwrap();
    assert!(report.sound(), "{:?}", report.first_wrong());
    assert_eq!((report.seal, report.jobs.len()), (Seal::Holds, 1));

    let mut target = Record::create(&to).unwrap();
    target.open_job(id(9), "Hall 1", "", &stamp(0)).unwrap();
    let carried = target.import(&file).unwrap();
    assert_eq!((carried[0].job.as_str(), carried[0].new_events), ("Hall 3", 26));
    assert_eq!(target.job("Hall 3").unwrap(), source.job("Hall 3").unwrap());
    assert!(verify(&to).unwrap().sound());
    let photo = target.job("Hall 3").unwrap().events.iter().find_map(|event| match &event.body {
        Body::PhotoAttached(photo) => Some(photo.sha256),
        _ => None,
    });
    assert_eq!(target.photo(photo.unwrap()).unwrap().unwrap().len(), 9000);

    let before = fs::read(&to).unwrap();
    assert_eq!(target.import(&file).unwrap()[0].new_events, 0);
    assert_eq!(fs::read(&to).unwrap(), before);
    assert!(matches!(source.export_job("Hall 3", &file), Err(RecordError::Exists(_))));
    assert_eq!(
        fs::read_dir(folder.path()).unwrap().count(),
        3,
        "something was left beside the files"
    );
}

#[test]
fn a_job_that_grew_is_brought_up_to_date_and_one_that_forked_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let mut site = filled(&path("site.sqlite"), false);
    let mut office = Record::create(&path("office.sqlite")).unwrap();
    site.export_job("Hall 4", &path("one.job")).unwrap();
    office.import(&path("one.job")).unwrap();
    site.append("Hall 4", &stamp(60), take("top", 3.0)).unwrap();
    site.export_job("Hall 4", &path("two.job")).unwrap();
    assert_eq!(office.import(&path("two.job")).unwrap()[0].new_events, 1);
    assert_eq!(office.job("Hall 4").unwrap(), site.job("Hall 4").unwrap());
    // The older file has nothing new.
    assert_eq!(office.import(&path("one.job")).unwrap()[0].new_events, 0);

    office.note("Hall 4", &stamp(61), "in the office").unwrap();
    site.note("Hall 4", &stamp(61), "on site").unwrap();
    site.export_job("Hall 4", &path("three.job")).unwrap();
    let before = office.job("Hall 4").unwrap();
    let error = office.import(&path("three.job")).unwrap_err();
    assert!(matches!(error, RecordError::PartWays { seq: 3, .. }), "{error:?}");
    assert_eq!(office.job("Hall 4").unwrap(), before);
}

#[test]
fn a_damaged_file_is_not_imported() {
    let folder = tempfile::tempdir().unwrap();
    let (from, file) = (folder.path().join("a.sqlite"), folder.path().join("x.job"));
    filled(&from, true).export_job("Hall 3", &file).unwrap();
    let mut bytes = fs::read(&file).unwrap();
    // More than once, where SQLite moved the row and left the old bytes behind.
    let places: Vec<usize> =
        (0..bytes.len()).filter(|&at| bytes[at..].starts_with(b"left anchor ")).collect();
    assert!(!places.is_empty());
    for place in places {
        bytes[place] = b'L';
    }
    fs::write(&file, bytes).unwrap();
    let (_folder, mut target) = record("Hall 1");
    let error = target.import(&file).unwrap_err().to_string();
    assert!(error.contains("breaks at event 4"), "{error}");
    assert_eq!(target.jobs().unwrap().len(), 1);
}

#[test]
fn a_record_whose_file_is_gone_is_saved_elsewhere() {
    let folder = tempfile::tempdir().unwrap();
    let (path, to) = (folder.path().join("a.sqlite"), folder.path().join("b.sqlite"));
    let mut record = filled(&path, false);
    if cfg!(not(unix)) {
        return; // Elsewhere an open file can't be removed.
    }
    fs::remove_file(&path).unwrap();
    let error = record.note("Hall 3", &stamp(70), "lost?").unwrap_err();
    assert!(matches!(error, RecordError::Removed(_)), "{error:?}");
    record.save_copy(&to).unwrap();
    assert!(verify(&to).unwrap().sound());
    assert_eq!(Record::open(&to).unwrap().job("Hall 3").unwrap().current_takes().len(), 21);
    assert!(matches!(record.save_copy(&to), Err(RecordError::Exists(_))));
}

#[test]
fn tables_say_what_the_record_says() {
    let folder = tempfile::tempdir().unwrap();
    let record = filled(&folder.path().join("a.sqlite"), true);
    let job = record.job("Hall 3").unwrap();

    let mut text = Vec::new();
    write_takes(&job, &mut text).unwrap();
    let mut table = csv::Reader::from_reader(text.as_slice());
    assert_eq!(table.headers().unwrap(), &TAKE_COLUMNS[..]);
    let lines: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let takes: Vec<_> = job
        .events
        .iter()
        .filter_map(|event| match &event.body {
            Body::Take(take) => Some((event.seq, take.gap.0)),
            _ => None,
        })
        .collect();
    let column = |name: &str| TAKE_COLUMNS.iter().position(|column| *column == name).unwrap();
    let read: Vec<(u32, f64)> = lines
        .iter()
        .map(|line| (line[column("seq")].parse().unwrap(), line[column("gap_mm")].parse().unwrap()))
        .collect();
    assert_eq!(read, takes);
    assert_eq!(&lines[0][column("stands")], "no");
    assert_eq!(
        lines.iter().filter(|line| &line[column("stands")] == "yes").count(),
        job.current_takes().len()
    );

    let mut text = Vec::new();
    write_events(&job, &mut text).unwrap();
    assert_eq!(
        csv::Reader::from_reader(text.as_slice()).records().map(Result::unwrap).count(),
        job.events.len()
    );

    let mut text = Vec::new();
    write_json(&job, &mut text).unwrap();
    let json: serde_json::Value = serde_json::from_slice(&text).unwrap();
    assert_eq!(json["format_version"], 2);
    assert_eq!(json["summary"]["name"], "Hall 3");
    assert_eq!(json["events"][1]["kind"], "take");
    assert_eq!(json["events"][1]["payload"]["gap_mm"], 3.25);
    assert_eq!(json["events"][1]["at"], "2026-11-25T08:00:01+01:00");
}

/// No row, and no object, of what a simulated head read passes for a board's when it is alone.
#[test]
fn what_was_practised_says_so_in_every_row() {
    let folder = tempfile::tempdir().unwrap();
    let mut job = filled(&folder.path().join("a.sqlite"), true).job("Hall 3").unwrap();
    let written = |write: &dyn Fn(&mut Vec<u8>)| {
        let mut text = Vec::new();
        write(&mut text);
        String::from_utf8(text).unwrap()
    };
    let json = |job: &JobHistory| -> serde_json::Value {
        serde_json::from_str(&written(&|to| write_json(job, to).unwrap())).unwrap()
    };
    let marks = |job: &JobHistory| {
        let takes = written(&|to| write_takes(job, to).unwrap());
        let takes = takes.lines().skip(1).filter(|row| row.ends_with(",SIMULATED")).count();
        let events = written(&|to| write_events(job, to).unwrap());
        let events = csv::Reader::from_reader(events.as_bytes())
            .records()
            .filter(|row| row.as_ref().is_ok_and(|row| &row[5] == "take" && &row[8] == "SIMULATED"))
            .count();
        (takes, events)
    };
    assert_eq!(marks(&job), (0, 0));
    assert_eq!(json(&job)["practice"], serde_json::Value::Null);
    let all = job.takes().count();
    for event in &mut job.events {
        if let Body::Take(take) = &mut event.body {
            take.head.serial = "SIM-0007".to_owned();
        }
    }
    assert_eq!(marks(&job), (all, all));
    let said = json(&job)["practice"].as_str().unwrap().to_owned();
    assert!(said.contains("nothing was measured") || said.starts_with("some: "), "{said}");
}
