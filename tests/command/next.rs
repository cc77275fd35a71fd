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
fn with_everything_left_out_nothing_comes_next_and_nothing_was_done() {
    let place = Place::new(EXE, &job(WIDE));
    let (_, told) = steps(&place);
    for step in told["steps"].as_array().unwrap() {
        next(&place, &["--leave-out", step["step"].as_str().unwrap(), "--why", "not on this job"]);
    }
    let (status, told) = steps(&place);
    assert_eq!((status, &told["next"]), (Some(3), &Value::Null));
    let text = String::from_utf8_lossy(&next(&place, &[]).stdout).into_owned();
    // A command is not broken: it would not be one any more.
    let is_command = |line: &&str| line.trim_start().starts_with("skimgauge ");
    let wide =
        text.lines().filter(|line| !is_command(line)).find(|line| line.chars().count() > 100);
    assert!(text.contains("Every step was left out") && wide.is_none(), "{text}");
    assert!(text.contains("skimgauge handover --job \"test wall\" --out page.html"), "{text}");
}

/// Lengths by tape of the 94 inch image of 16:10, and what they leave of the step.
fn taped(more_mm: f64) -> (&'static str, String) {
    // 94 in is 2387.6 mm; 16 and 10 to the root of 356.
    let (across, upright) = (2024.69 + more_mm, 1265.43);
    let slanted = across.hypot(upright);
    let tape = format!(
        "[tape]\ntop = \"{across:.1} mm\"\nbottom = \"{across:.1} mm\"\nleft = \"{upright:.1} mm\"\n\
         right = \"{upright:.1} mm\"\nfalling = \"{slanted:.1} mm\"\nrising = \"{slanted:.1} mm\"\n\
         uncertainty = \"1 mm\"\n"
    );
    let place = Place::new(EXE, &(job(WIDE) + "\n" + &tape));
    let (file, record) = (place.path("job.toml"), place.record());
    let (file, record) = (file.to_str().unwrap(), record.to_str().unwrap());
    let square = place.run(["square", "--job", file, "--record", record]);
    let is_off = more_mm > 0.0;
    assert_eq!(square.status.code(), Some(i32::from(is_off)), "{square:?}");
    let (_, told) = steps(&place);
    let state = state(&told, "square");
    let done = if state["state"] == "done" { "done" } else { "open" };
    (done, String::from_utf8_lossy(&square.stdout).into_owned())
}

#[test]
fn an_image_of_which_nothing_is_to_be_turned_is_square() {
    let (state, told) = taped(0.0);
    assert!(told.contains("leave it") && !told.contains(": bring the"), "{told}");
    assert_eq!(state, "done", "{told}");
    let (state, told) = taped(12.0);
    assert!(told.contains(": bring the"), "{told}");
    assert_eq!(state, "open", "{told}");
}

/// Measured again after what undid it, an image that comes out the same is square again.
#[test]
fn the_same_result_closes_a_stale_step() {
    let tape = "[corners]\ntop_left = [\"0 mm\", \"0 mm\"]\ntop_right = [\"0 mm\", \"0 mm\"]\n\
                bottom_right = [\"0 mm\", \"0 mm\"]\nbottom_left = [\"0 mm\", \"0 mm\"]\n\
                uncertainty = \"0.5 mm\"\n";
    let place = Place::new(EXE, &(job(WIDE) + "\n" + tape));
    let (file, record) = (place.path("job.toml"), place.record());
    let square = ["square", "--job", file.to_str().unwrap(), "--record", record.to_str().unwrap()];
    let stands = |place: &Place| state(&steps(place).1, "square")["state"].clone();
    let event = |place: &Place| state(&steps(place).1, "square")["by"]["event"].clone();
    place.run(square);
    assert_eq!(stands(&place), "done");
    next(&place, &["--done", "hanging", "--checked"]);
    assert_eq!(stands(&place), "stale");
    place.run(square);
    assert_eq!(stands(&place), "done");
    // Nothing came since: it is not kept twice.
    let before = event(&place);
    place.run(square);
    assert_eq!(event(&place), before);
}

#[test]
fn what_the_next_command_leaves_open_is_explained_beneath_it() {
    let place = Place::new(EXE, &job(WIDE));
    for step in ["set-out", "services", "fixings"] {
        next(&place, &["--leave-out", step, "--why", "not on this job"]);
    }
    let text = String::from_utf8_lossy(&next(&place, &[]).stdout).into_owned();
    assert!(text.contains("--thing bracket --target DEG --head PORT"), "{text}");
    assert!(text.contains("\n    PORT: ") && text.contains("\n    DEG: "), "{text}");
}
