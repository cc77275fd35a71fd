//! The record under a watch at work: a bit that turns, another client's job file, a record of the
//! first format.

use crate::{EXE, WIDE, job, place, said};
use skimgauge_record::{Body, Record};
use skimgauge_tests::command::Place;
use skimgauge_tests::plugged::Plugged;
use std::fs;
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;

/// Turns letters of this text in the file, in place.
fn turn_a_letter(path: &Path, text: &[u8]) {
    let bytes = fs::read(path).unwrap();
    let mut file = fs::File::options().write(true).open(path).unwrap();
    let places: Vec<usize> = (0..bytes.len()).filter(|&at| bytes[at..].starts_with(text)).collect();
    assert!(!places.is_empty());
    for at in places {
        file.seek(SeekFrom::Start(at as u64))
            .and_then(|_| file.write_all(&[text[0] ^ 0x20]))
            .unwrap();
    }
}

#[test]
fn a_watch_adds_nothing_behind_a_break() {
    let (place, head) = (place(), Plugged::new(150));
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.settled("top left");
    watch.say("take");
    watch.take();
    // In the course of the work: the take is refused, in words.
    turn_a_letter(&place.record(), b"R. Oakes");
    watch.settled("top right");
    watch.refused("is it at top right?", |watch| watch.say("take"));
    watch.breathe();
    watch.say("yes");
    let refused = watch.message("NOT taken: ");
    let text = refused["text"].as_str().unwrap();
    assert!(text.contains("broken at event 1") && text.contains("--salvage"), "{text}");
    let end = watch.quit();
    assert_eq!(end.json("take").len(), 1);
    // Before it begins: nothing is measured at all, and no command signs or closes it.
    let before = fs::read(place.record()).unwrap();
    for words in [
        &crate::json_at("watch", head.port())[..],
        &[
            "trim",
            "--job",
            "job.toml",
            "--record",
            "record.sqlite",
            "--plain",
            "--head",
            head.port(),
        ],
        &["jobs", "close", "test wall", "--record", "record.sqlite", "--by", "R. Oakes"],
        &["jobs", "note", "test wall", "x", "--record", "record.sqlite", "--by", "R. Oakes"],
        &[
            "jobs",
            "attach",
            "test wall",
            "job.toml",
            "--record",
            "record.sqlite",
            "--by",
            "R. Oakes",
        ],
    ] {
        let text = said(&place.run(words));
        assert!(
            text.contains("broken at event 1") && text.contains("--record NEW-FILE"),
            "{words:?}: {text}"
        );
    }
    assert_eq!(fs::read(place.record()).unwrap(), before);
}

#[test]
fn a_job_file_of_another_client_is_not_watched_into_the_first_ones_job() {
    let (place, head) = (place(), Plugged::new(151));
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.settled("top left");
    watch.say("take");
    watch.take();
    watch.quit();
    let other =
        job(WIDE).replace("by = \"R. Oakes\"", "client = \"Mill Street\"\nby = \"R. Oakes\"");
    fs::write(place.path("other.toml"), &other).unwrap();
    let words = [
        "watch",
        "--job",
        "other.toml",
        "--record",
        "record.sqlite",
        "--json",
        "--head",
        head.port(),
    ];
    let text = said(&place.run(words));
    assert!(text.contains("\"Mill Street\" here") && text.contains("--same-job"), "{text}");
    assert_eq!(place.takes().len(), 1);

    // Said to be the same: the watch goes on in that job, and the record says who said so.
    let mut command = place.command();
    command.args(words).arg("--same-job");
    let mut watch = skimgauge_tests::command::Watch::start(command);
    watch.settled("top left");
    watch.say("take");
    let take = watch.take();
    watch.quit();
    let history = Record::open(&place.record()).unwrap().job("test wall").unwrap();
    let revised = history.events.iter().find_map(|event| match &event.body {
        Body::JobRevised(revised) => Some(revised),
        _ => None,
    });
    assert_eq!(revised.unwrap().said_same[0].is.as_deref(), Some("Mill Street"));
    // The number that is printed with a take is its place in the record.
    let kept = history.takes().last().unwrap();
    assert_eq!((take["event"].as_u64(), kept.take.round), (Some(u64::from(kept.event.seq)), 2));
}

/// A job file with a control character in a name cannot be: nothing of it reaches the screen.
#[test]
fn a_name_that_steers_the_screen_is_refused_with_its_line() {
    for (bad, shown) in [
        ("\\u001b[2J", "control character"),
        ("\\u202e", "mark of direction"),
        ("\\u009b31m", "control"),
    ] {
        let text =
            job(WIDE).replacen("name = \"top left\"", &format!("name = \"top{bad}left\""), 1);
        let place = Place::new(EXE, &text);
        let said =
            said(&place.run(["watch", "--job", "job.toml", "--json", "--head", "/dev/null"]));
        assert!(said.contains(shown) && said.contains("job.toml, line"), "{said}");
        assert!(!said.chars().any(|c| skimgauge_record::text::steers(c) && c != '\n'), "{said:?}");
    }
}
