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
    let unread = said(&next(&place, &["--done", "services"]));
    assert!(unread.contains("--checked"), "{unread}");
    // A command that is named in an answer is one for this record.
    let refused = said(&next(&place, &["--done", "trim"]));
    assert!(refused.contains("closed by its own command"), "{refused}");
    assert!(refused.contains(&format!("--record {}", place.record().display())), "{refused}");
    assert!(said(&next(&place, &["--leave-out", "survey"])).contains("--why"));
    for no_reason in [".", "\u{1f937}", "  ", "12"] {
        let refused = said(&next(&place, &["--leave-out", "survey", "--why", no_reason]));
        assert!(refused.contains("say why, in words"), "{refused}");
    }
    for (step, first) in [
        ("hanging", "set-out (open); services (open); fixings (nobody worked out"),
        ("emitter", "set-out (open); services (open)"),
        ("focus", "hanging (open)"),
        ("retighten", "hanging (open); square (open)"),
        ("covers", "hanging (open); retighten (open)"),
    ] {
        let refused = next(&place, &["--done", step, "--checked"]);
        assert_eq!(refused.status.code(), Some(2), "{step}");
        let refused = said(&refused);
        assert!(refused.contains(first) && refused.contains("--leave-out STEP"), "{refused}");
        let next_command = format!("--record {}` says how", place.record().display());
        assert!(refused.contains(&next_command), "{refused}");
    }
    assert!(said(&next(&place, &["--done", "painting"])).contains("retighten"));
    assert_eq!(std::fs::read(place.record()).ok(), before, "something was kept");

    for step in ["set-out", "services", "fixings", "bracket"] {
        next(&place, &["--leave-out", step, "--why", "an engineer's own plate"]);
    }
    // What hangs over people's heads hangs on no anchors that were left out.
    let refused = said(&next(&place, &["--done", "hanging", "--checked", "--by", "Ana"]));
    assert!(refused.contains("fixings (left out (an engineer's own plate))"), "{refused}");
    assert!(refused.contains("--done fixings --why TEXT. Else hanging is left out"), "{refused}");
    next(&place, &["--leave-out", "hanging", "--why", "hung by others"]);
    let emitter = next(&place, &["--done", "emitter", "--checked", "--by", "Ana"]);
    assert_eq!(emitter.status.code(), Some(3));
    next(&place, &["--leave-out", "survey", "--why", "new board, flat by its maker"]);
    let (_, told) = steps(&place);
    assert_eq!(state(&told, "emitter")["state"], "done");
    assert_eq!(state(&told, "emitter")["by"]["who"], "Ana");
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

/// Lengths by tape of the 94 inch image of 16:10, longer or leaning by so much.
fn tape(longer_mm: f64, lean_mm: f64) -> String {
    // 94 in is 2387.6 mm; 16 and 10 to the root of 356.
    let (across, upright) = (2024.69 + longer_mm, 1265.43_f64);
    let side = upright.hypot(lean_mm);
    let (falling, rising) = ((across - lean_mm).hypot(upright), (across + lean_mm).hypot(upright));
    format!(
        "[tape]\ntop = \"{across:.1} mm\"\nbottom = \"{across:.1} mm\"\nleft = \"{side:.1} mm\"\n\
         right = \"{side:.1} mm\"\nfalling = \"{falling:.1} mm\"\nrising = \"{rising:.1} mm\"\n\
         uncertainty = \"1 mm\"\n"
    )
}

const CORNERS: &str = "[corners]\ntop_left = [\"0 mm\", \"0 mm\"]\ntop_right = [\"0 mm\", \"0 mm\"]\n\
                       bottom_right = [\"0 mm\", \"0 mm\"]\nbottom_left = [\"0 mm\", \"0 mm\"]\n\
                       uncertainty = \"0.5 mm\"\n";

fn square(place: &Place) -> (Option<i32>, String) {
    let (file, record) = (place.path("job.toml"), place.record());
    let (file, record) = (file.to_str().unwrap(), record.to_str().unwrap());
    let square = place.run(["square", "--job", file, "--record", record]);
    let text = String::from_utf8_lossy(&square.stdout);
    (square.status.code(), text.split_whitespace().collect::<Vec<_>>().join(" "))
}

/// What these measures leave of the step.
fn measured(measures: &str, status: i32) -> (Value, String) {
    squared(&(job(WIDE) + "\n" + measures), status)
}

fn squared(job: &str, status: i32) -> (Value, String) {
    let place = Place::new(EXE, job);
    let (ended, text) = square(&place);
    assert_eq!(ended, Some(status), "{text}");
    let (_, told) = steps(&place);
    (state(&told, "square").clone(), text)
}

#[test]
fn an_image_of_which_nothing_is_to_be_turned_is_square() {
    for longer_mm in [0.0, 5.0] {
        // 5 mm are told from nothing, and are 2.5 mm at a corner.
        let (step, told) = measured(&tape(longer_mm, 0.0), 0);
        assert!(told.contains("leave it") && !told.contains(": bring the"), "{told}");
        assert_eq!(step["state"], "done", "{told}");
    }
    let (step, told) = measured(&tape(18.0, 0.0), 1);
    assert!(told.contains(": bring the"), "{told}");
    assert_eq!(step["state"], "open", "{told}");
}

/// A lean that no adjuster takes out is no square image, unless the job says that so much may remain
/// or somebody goes on without and says why.
#[test]
fn a_lean_beyond_the_limit_is_not_square() {
    let lean = tape(0.0, 16.0);
    let (step, told) = measured(&lean, 1);
    assert!(told.contains("NOT SQUARE: its top leans 16 mm"), "{told}");
    assert!(!told.contains("remains: nothing"), "{told}");
    assert_eq!(step["state"], "open", "{told}");
    assert!(step["why"].as_str().unwrap().contains("8 mm at each end"), "{step}");
    let wide = job(WIDE).replace("[limits]\n", "[limits]\nsquare = 0.006\n");
    let (step, told) = squared(&(wide + "\n" + &lean), 0);
    assert_eq!(step["state"], "done", "{told}");

    let place = Place::new(EXE, &(job(WIDE) + "\n" + &lean));
    square(&place);
    next(&place, &["--leave-out", "square", "--why", "the client wants it so", "--by", "Ana"]);
    let told = steps(&place).1;
    let step = state(&told, "square");
    assert_eq!((&step["state"], &step["by"]["who"]), (&"left out".into(), &"Ana".into()), "{step}");
}

/// Which of the two is wrong the program does not know: it takes neither.
#[test]
fn corners_that_a_tape_contradicts_turn_nothing() {
    let (step, told) = measured(&format!("{CORNERS}{}", tape(18.0, 0.0)), 3);
    assert!(told.contains("corners and tape contradict one another: the"), "{told}");
    assert!(told.contains("Turn nothing") && !told.contains(": bring the"), "{told}");
    assert_eq!(step["state"], "open", "{told}");
    assert!(step["why"].as_str().unwrap().contains("corners and tape"), "{step}");
    let (step, told) = measured(&format!("{CORNERS}{}", tape(0.0, 0.0)), 0);
    assert!(told.contains("corners and tape agree"), "{told}");
    assert_eq!(step["state"], "done", "{told}");
}

/// Measured again after what undid it, an image that comes out the same is square again.
#[test]
fn the_same_result_closes_a_stale_step() {
    let place = Place::new(EXE, &(job(WIDE) + "\n" + CORNERS + PLATE));
    let (file, record) = (place.path("job.toml"), place.record());
    let square = ["square", "--job", file.to_str().unwrap(), "--record", record.to_str().unwrap()];
    let stands = |place: &Place| state(&steps(place).1, "square")["state"].clone();
    let event = |place: &Place| state(&steps(place).1, "square")["by"]["event"].clone();
    place.run(square);
    assert_eq!(stands(&place), "done");
    for step in ["set-out", "services", "bracket"] {
        next(&place, &["--leave-out", step, "--why", "an engineer's own plate"]);
    }
    // Nothing is hung before the anchors are worked out, or somebody answers for them.
    let refused = next(&place, &["--done", "hanging", "--checked"]);
    assert_eq!(refused.status.code(), Some(2), "{refused:?}");
    assert!(said(&refused).contains("nobody worked out what the anchors carry"));
    assert_eq!(stands(&place), "done");
    let fixings =
        ["fixings", "--job", file.to_str().unwrap(), "--record", record.to_str().unwrap()];
    assert_eq!(place.run(fixings).status.code(), Some(0));
    next(&place, &["--done", "hanging", "--checked"]);
    assert_eq!(stands(&place), "stale");
    place.run(square);
    assert_eq!(stands(&place), "done");
    // Nothing came since: it is not kept twice.
    let before = event(&place);
    place.run(square);
    assert_eq!(event(&place), before);
}

const STUD: &str = "[fixings]\nwall = \"stud\"\nload_factor = 1.5\n[[fixings.plate]]\nname = \"plate\"\n\
                    role = \"other\"\nwidth = \"300 mm\"\nheight = \"340 mm\"\n\
                    anchors = [[\"-100 mm\", \"145 mm\"], [\"100 mm\", \"145 mm\"], [\"0 mm\", \"-145 mm\"]]\n\
                    approval = \"A 1\"\ntension = \"5 kN\"\nshear = \"5 kN\"\nspacing = \"90 mm\"\n\
                    meant_for = \"factored loads\"\n\
                    [[fixings.mass]]\nname = \"arm\"\nweight = \"18 kg\"\narm = \"350 mm\"\n";

/// In a wall of which only a pull tells, a name that says why there is none closes the step; nothing is
/// hung before.
#[test]
fn anchors_in_studs_are_pulled_or_somebody_says_why_not() {
    let place = Place::new(EXE, &(job(WIDE) + "\n" + STUD));
    let (file, record) = (place.path("job.toml"), place.record());
    let fixings =
        ["fixings", "--job", file.to_str().unwrap(), "--record", record.to_str().unwrap()];
    let word = ["--done", "fixings", "--why", "the engineer's letter", "--by", "Ana"];
    let early = said(&next(&place, &word));
    assert!(early.contains("closed by its own command"), "{early}");
    let found = place.run(fixings);
    assert_eq!(found.status.code(), Some(3), "{found:?}");
    assert_eq!(state(&steps(&place).1, "fixings")["state"], "open");
    let hung = said(&next(&place, &["--done", "hanging", "--checked"]));
    assert!(hung.contains("the wall counts as weak, and no proof load"), "{hung}");
    let bare = said(&next(&place, &word[..2]));
    assert!(bare.contains("Say with --why who answers for it"), "{bare}");
    next(&place, &word);
    let told = steps(&place).1;
    let step = state(&told, "fixings");
    assert_eq!((&step["state"], &step["why"]), (&"said".into(), &"the engineer's letter".into()));
    for step in ["set-out", "services", "bracket"] {
        next(&place, &["--leave-out", step, "--why", "not on this job"]);
    }
    next(&place, &["--done", "hanging", "--checked"]);
    assert_eq!(state(&steps(&place).1, "hanging")["state"], "done");
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

const PLATE: &str = "[fixings]\nwall = \"concrete\"\nload_factor = 1.5\n[[fixings.plate]]\nname = \"one\"\nrole = \"other\"\n\
    width = \"300 mm\"\nheight = \"340 mm\"\n\
    anchors = [[\"-100 mm\", \"145 mm\"], [\"100 mm\", \"145 mm\"], [\"-100 mm\", \"-145 mm\"], [\"100 mm\", \"-145 mm\"]]\n\
    approval = \"sheet\"\ntension = \"1.5 kN\"\nshear = \"1.8 kN\"\nspacing = \"90 mm\"\nmeant_for = \"factored loads\"\n\
    [[fixings.mass]]\nname = \"arm\"\nweight = \"18 kg\"\narm = \"350 mm\"\n";

/// A load that hangs, and a heavier one in the job file: said first, before and after it is worked out.
#[test]
fn what_hangs_on_anchors_that_are_not_proved_is_said_first() {
    let place = Place::new(EXE, &format!("{}\n{PLATE}", job(WIDE)));
    let (file, record) = (place.path("job.toml"), place.record());
    let (path, record) = (file.to_str().unwrap(), record.to_str().unwrap());
    let fixings = || place.run(["fixings", "--job", path, "--record", record]).status.code();
    assert_eq!(fixings(), Some(0));
    for step in ["set-out", "services", "bracket"] {
        next(&place, &["--leave-out", step, "--why", "not on this job"]);
    }
    next(&place, &["--done", "hanging", "--checked"]);
    let shown = |place: &Place| String::from_utf8_lossy(&next(place, &[]).stdout).into_owned();
    assert!(!shown(&place).contains("DANGER"), "{}", shown(&place));
    let heavier = std::fs::read_to_string(&file).unwrap().replace("18 kg", "180 kg");
    std::fs::write(&file, heavier).unwrap();
    assert!(shown(&place).starts_with("DANGER: a load hangs on anchors that are not proved"));
    assert_eq!(fixings(), Some(1));
    let (status, told) = steps(&place);
    assert_eq!((status, &state(&told, "hanging")["state"]), (Some(3), &Value::from("stale")));
    assert!(told["danger"].as_str().unwrap().contains("Keep people from below"), "{told}");
    let text = shown(&place);
    assert!(text.starts_with("DANGER") && !text.contains("--leave-out fixings"), "{text}");
    let name = ["--done", "fixings", "--by", "Eng. Lind", "--why", "it held so far"];
    assert!(said(&next(&place, &name)).contains("closed by its own command"));
    let page = place.run(["handover", "--job", "test wall", "--out", "-", "--record", record]);
    let page = String::from_utf8_lossy(&page.stdout).into_owned();
    assert!(page.contains("DANGER: a load hangs on anchors that are not proved"));
    assert!(page.contains("left out, not on this job."), "an open point");
    assert!(page.contains("Done as described here; what was not measured is named above."));
}
