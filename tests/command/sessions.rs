//! Recorded sessions, heard again through the real command: what it prints is held against what it
//! printed before.
//!
//! After a change that is meant, `REWRITE=1 cargo test -p skimgauge-tests --test commands sessions`
//! writes the printed lines anew; look at the difference before it is committed. The recordings
//! themselves are made by `cargo test -p skimgauge-tests --test commands record -- --ignored`, and
//! seldom.

use crate::{WIDE, job, place};
use serde_json::Value;
use skimgauge_bench::Fault;
use skimgauge_tests::command::Ending;
use skimgauge_tests::plugged::{Plugged, STATIONS};
use std::path::{Path, PathBuf};

fn sessions() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sessions")
}

/// Equal, numbers to within what another processor's last digit may do.
fn same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => match (a.as_f64(), b.as_f64()) {
            (Some(a), Some(b)) => (a - b).abs() <= 1e-9 * a.abs().max(1.0),
            _ => a == b,
        },
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(key, a)| b.get(key).is_some_and(|b| same(a, b)))
        }
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b))
        }
        _ => a == b,
    }
}

/// All but the live lines, and of those each at which something that a person reads by words
/// changes.
fn told(text: &str) -> Vec<Value> {
    let mut before = Value::Null;
    text.lines()
        .map(|line| {
            skimgauge_tests::lines::check(line);
            serde_json::from_str::<Value>(line).unwrap()
        })
        .filter(|line| {
            let words = serde_json::json!([
                line["link"],
                line["station"],
                line["gap_mm"]["is"],
                line["verdict"],
                line["faults"],
                line["can_take"],
            ]);
            line["kind"] != "live" || std::mem::replace(&mut before, words.clone()) != words
        })
        .collect()
}

#[test]
fn sound_as_they_did() {
    let mut heard = 0;
    for entry in std::fs::read_dir(sessions()).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ending| ending != "rec") {
            continue;
        }
        heard += 1;
        let place = place();
        let job = sessions().join("job.toml");
        let output = place.run([
            "watch".as_ref(),
            "--json".as_ref(),
            "--job".as_ref(),
            job.as_os_str(),
            "--from".as_ref(),
            path.as_os_str(),
        ]);
        assert!(output.stderr.is_empty(), "{output:?}");
        let mut lines = told(&String::from_utf8(output.stdout).unwrap());
        lines.push(serde_json::json!({ "exit_status": output.status.code() }));
        let golden = path.with_extension("jsonl");
        if std::env::var_os("REWRITE").is_some() {
            let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
            std::fs::write(&golden, text).unwrap();
            continue;
        }
        let text = std::fs::read_to_string(&golden).unwrap();
        let known: Vec<Value> =
            text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        for (at, (line, known)) in lines.iter().zip(&known).enumerate() {
            assert!(
                same(line, known),
                "{} line {}:\nnow {line}\nwas {known}",
                golden.display(),
                at + 1
            );
        }
        assert_eq!(lines.len(), known.len(), "{}", golden.display());
    }
    assert!(heard >= 2, "the sessions are not there");
}

/// A recording as the heads with two photocells gave it: its readings have no meaning any more.
#[test]
fn a_recording_of_protocol_1_is_refused_in_words() {
    let old = sessions().join("old/protocol_1.rec");
    let job = sessions().join("job.toml");
    let output = place().run([
        "watch".as_ref(),
        "--json".as_ref(),
        "--job".as_ref(),
        job.as_os_str(),
        "--from".as_ref(),
        old.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        said.contains("a head that spoke protocol 1, and this program reads protocol 2"),
        "{said}"
    );
    assert!(said.contains("stays readable"), "{said}");
}

fn takes(ending: &Ending) -> Vec<Value> {
    let mut takes = ending.json("take");
    for take in &mut takes {
        // When on which clock, and where in which record, are the watch's own.
        take["t_s"] = Value::Null;
        take["event"] = Value::Null;
    }
    takes
}

#[test]
fn a_kept_session_gives_the_same_takes_again() {
    let (place, head) = (place(), Plugged::new(111));
    let mut watch = place.watch(head.port(), &["--json", "--keep", "kept.rec", "--until-taken"]);
    for (at, (station, ..)) in STATIONS.iter().enumerate() {
        head.to(at);
        watch.taken(station, |_| head.press());
    }
    let live = watch.ending();
    let mut command = place.command();
    command.args([
        "watch",
        "--job",
        "job.toml",
        "--json",
        "--from",
        "kept.rec",
        "--record",
        "again.sqlite",
        "--until-taken",
    ]);
    let again = skimgauge_tests::command::Watch::start(command).ending();
    assert_eq!((live.status, again.status), (Some(0), Some(0)), "{again:?}");
    assert_eq!(takes(&live), takes(&again));
    let kept = |record: &Path| {
        let takes = skimgauge_tests::command::takes(record);
        takes.into_iter().map(|(station, gap_mm, ..)| (station, gap_mm)).collect::<Vec<_>>()
    };
    assert_eq!(kept(&place.record()), kept(&place.path("again.sqlite")));
}

/// Makes the recordings anew.
#[test]
#[ignore = "writes tests/sessions"]
fn record() {
    std::fs::create_dir_all(sessions()).unwrap();
    for name in ["four_stations.rec", "trouble.rec"] {
        // Not there the first time.
        let _ = std::fs::remove_file(sessions().join(name));
    }
    let text = job(WIDE);
    std::fs::write(sessions().join("job.toml"), &text).unwrap();
    let keep = |name: &str| sessions().join(name).display().to_string();

    let (place, head) = (place(), Plugged::new(121));
    let mut watch = place
        .watch(head.port(), &["--json", "--keep", &keep("four_stations.rec"), "--until-taken"]);
    for (at, (station, ..)) in STATIONS.iter().enumerate() {
        head.to(at);
        watch.taken(station, |_| head.press());
    }
    watch.ending();

    let (place, head) = (crate::place(), Plugged::new(122));
    let mut watch = place.watch(head.port(), &["--json", "--keep", &keep("trouble.rec")]);
    watch.settled("top left");
    head.bench().set_fault(Fault::NoLight, true);
    watch.live("no light", |line| line["can_take"] == false);
    head.press();
    watch.message("NOT taken");
    head.bench().set_fault(Fault::NoLight, false);
    watch.settled("top left");
    let mut dice = skimgauge_bench::noise::Noise::new(122, 9);
    head.damage(move |bytes| {
        bytes.iter_mut().for_each(|byte| *byte ^= u8::from(dice.chance(0.02)) << (dice.bits() % 8));
    });
    std::thread::sleep(std::time::Duration::from_secs(1));
    head.mend();
    watch.settled("top left");
    head.unplug(true);
    std::thread::sleep(std::time::Duration::from_secs(3));
    head.plug();
    watch.message("is back.");
    watch.taken("top left", |_| head.press());
    watch.quit();
}
