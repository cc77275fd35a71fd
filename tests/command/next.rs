//! The thread of a job: which step stands how, and who closed it.

use crate::{EXE, WIDE, job, said};
use serde_json::Value;
use skimgauge_tests::command::Place;
use std::process::Output;

fn next(place: &Place, more: &[&str]) -> Output {
    let (file, record) = (place.path("job.toml"), place.record());
    let mut args =
        vec!["next", "--job", file.to_str().unwrap(), "--record", record.to_str().unwrap()];
    args.extend(more);
    place.run(args)
}

fn steps(place: &Place) -> (Option<i32>, Value) {
    let output = next(place, &["--json"]);
    (output.status.code(), serde_json::from_slice(&output.stdout).unwrap())
}

fn state<'a>(told: &'a Value, step: &str) -> &'a Value {
    let steps = told["steps"].as_array().unwrap();
    steps.iter().find(|told| told["step"] == step).unwrap()
}

#[test]
fn steps_are_closed_by_a_name_left_out_with_a_reason_and_each_has_its_command() {
    let place = Place::new(EXE, &job(WIDE));
    let (status, told) = steps(&place);
    assert_eq!((status, &told["next"]), (Some(3), &Value::from("set-out")));
    assert!(
        state(&told, "fixings")["command"]
            .as_str()
            .unwrap()
            .starts_with("skimgauge fixings --job ")
    );

    let before = std::fs::read(place.record()).ok();
    let unread = said(&next(&place, &["--done", "hanging"]));
    assert!(unread.contains("--checked"), "{unread}");
    assert!(said(&next(&place, &["--done", "trim"])).contains("closed by what is measured"));
    assert!(said(&next(&place, &["--leave-out", "survey"])).contains("--why"));
    assert!(said(&next(&place, &["--done", "painting"])).contains("retighten"));
    assert_eq!(std::fs::read(place.record()).ok(), before, "something was kept");

    assert_eq!(
        next(&place, &["--done", "hanging", "--checked", "--by", "Ana"]).status.code(),
        Some(3)
    );
    next(&place, &["--leave-out", "survey", "--why", "new board, flat by its maker"]);
    let (_, told) = steps(&place);
    assert_eq!(state(&told, "hanging")["state"], "done");
    assert_eq!(state(&told, "hanging")["by"]["who"], "Ana");
    assert_eq!(state(&told, "survey")["state"], "left out");
    assert_eq!(state(&told, "survey")["why"], "new board, flat by its maker");

    let page = place.run([
        "handover",
        "--job",
        "test wall",
        "--out",
        "-",
        "--record",
        place.record().to_str().unwrap(),
    ]);
    let page = String::from_utf8_lossy(&page.stdout).into_owned();
    assert!(page.contains("New board, flat by its maker.") && page.contains("Ana"));
}

#[test]
fn with_everything_left_out_nothing_holds_the_job_up() {
    let place = Place::new(EXE, &job(WIDE));
    let (_, told) = steps(&place);
    for step in told["steps"].as_array().unwrap() {
        next(&place, &["--leave-out", step["step"].as_str().unwrap(), "--why", "not on this job"]);
    }
    let (status, told) = steps(&place);
    assert_eq!((status, &told["next"]), (Some(0), &Value::Null));
    let text = String::from_utf8_lossy(&next(&place, &[]).stdout).into_owned();
    assert!(
        text.contains("Nothing is left to do.")
            && text.lines().all(|line| line.chars().count() <= 100),
        "{text}"
    );
}
