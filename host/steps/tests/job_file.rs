//! What is changed in the job file undoes the steps that stand by it, and no others.

mod common;

use common::{JOB, Wall, clear};
use serde_json::json;
use skimgauge_jobfile::JobFile;
use skimgauge_model::Verdict;
use skimgauge_record::section::SaidHow;
use skimgauge_steps::{State, Step};

fn whole() -> String {
    let adjusters = [("left", "-100", "80"), ("right", "100", "80"), ("upper", "0", "140")];
    let adjusters = adjusters.map(|(name, right, up)| {
        format!(
            "[[adjuster]]\nname = \"{name}\"\nright = \"{right} mm\"\nup = \"{up} mm\"\npitch = \"0.5 mm\"\nclockwise = \"out\"\n\
             travel_clockwise = \"8 turns\"\ntravel_anticlockwise = \"8 turns\"\n"
        )
    });
    let text = format!("{JOB}[band]\ngap = [\"1.0 mm\", \"4.0 mm\"]\n{}", adjusters.concat());
    JobFile::read("job file", &text).unwrap();
    text
}

/// Every step done by the job file as it is in [`whole`].
fn done() -> Wall {
    let mut wall = Wall::new();
    wall.revises(&whole());
    wall.section("set-out", clear);
    wall.anchors("within-allowed", &[]);
    wall.section("square", |data| data["turn_in_this_order"] = json!([]));
    wall.judged(Verdict::Within);
    wall.left();
    for step in [Step::SetOut, Step::Fixings, Step::Square, Step::Trim, Step::AsLeft] {
        assert_eq!(wall.word(step), "done", "{step:?}");
    }
    wall
}

/// What is undone by this change, on disk alone and once the record has it, and the steps that stand.
fn undone(from: &str, to: &str) -> Vec<(&'static str, String)> {
    let mut wall = done();
    let text = whole().replace(from, to);
    JobFile::read("job file", &text).unwrap();
    assert_ne!(text, whole(), "{from}");
    let stale = |state: State| match state {
        State::Stale { why, by, .. } => Some((why, by.map(|by| by.event))),
        _ => None,
    };
    let mut found = Vec::new();
    for step in Step::all() {
        let on_disk = stale(wall.state_by(step, &text));
        found.extend(on_disk.map(|(why, by)| {
            assert_eq!(by, None, "no event tells of it");
            (step.word(), why)
        }));
    }
    wall.says(Step::Covers, SaidHow::Done);
    wall.revises(&text);
    let kept: Vec<_> = Step::all()
        .filter_map(|step| stale(wall.state(step)).map(|(why, by)| (step.word(), why, by.unwrap())))
        .collect();
    assert!(kept.iter().all(|(.., by)| *by == 10), "{kept:?}");
    let kept: Vec<_> = kept.into_iter().map(|(word, why, _)| (word, why)).collect();
    assert_eq!(kept, found);
    wall.revises(&whole());
    assert!(Step::all().all(|step| stale(wall.state(step)).is_none()), "put back as it was");
    found
}

fn words(undone: &[(&'static str, String)]) -> Vec<&'static str> {
    undone.iter().map(|(word, _)| *word).collect()
}

#[test]
fn another_rectangle_undoes_what_was_measured_of_the_first() {
    let undone = undone("94 in", "96 in");
    assert_eq!(words(&undone), ["set-out", "square", "trim", "as-left"]);
    assert!(undone.iter().all(|(_, why)| why.contains("[image]")), "{undone:?}");
}

#[test]
fn another_band_undoes_the_verdict_alone() {
    let undone = undone("4.0 mm", "3.0 mm");
    assert_eq!(words(&undone), ["trim"]);
    assert!(undone[0].1.ends_with(": [band]"), "{undone:?}");
}

/// What was square by one limit is not yet by another.
#[test]
fn another_limit_undoes_square_alone() {
    let band = "[band]";
    let undone = undone(band, &format!("[limits]\nsquare = 0.001\n{band}"));
    assert_eq!(words(&undone), ["square"]);
    assert!(undone[0].1.ends_with(": square in [limits]"), "{undone:?}");
}

#[test]
fn another_adjuster_undoes_the_verdict_alone() {
    let undone = undone("\"140 mm\"", "\"150 mm\"");
    assert_eq!(words(&undone), ["trim"]);
    assert!(undone[0].1.contains("[[adjuster]]"), "{undone:?}");
}

#[test]
fn other_anchors_undo_the_fixings_alone() {
    let plate = "[fixings]\nwall = \"concrete\"\nload_factor = 1.5\n[[fixings.plate]]\nname = \"one\"\nrole = \"centre\"\nwidth = \"300 mm\"\n\
        height = \"340 mm\"\nanchors = [[\"-100 mm\", \"145 mm\"], [\"100 mm\", \"-145 mm\"]]\n\
        [[fixings.mass]]\nname = \"arm\"\nweight = \"18 kg\"\narm = \"350 mm\"\n";
    let undone =
        undone("[[adjuster]]\nname = \"left\"", &format!("{plate}[[adjuster]]\nname = \"left\""));
    assert_eq!(words(&undone), ["fixings"]);
}

#[test]
fn a_remark_or_another_name_undoes_nothing() {
    assert_eq!(undone("[image]", "# measured again\n[image]"), []);
    assert_eq!(undone("R. Oakes", "R. Elm"), []);
}

/// Done again by the file as it is now: it stands.
#[test]
fn what_is_done_again_by_the_new_file_stands() {
    let mut wall = done();
    wall.revises(&whole().replace("4.0 mm", "3.0 mm"));
    assert_eq!(wall.word(Step::Trim), "stale");
    wall.judged(Verdict::Within);
    assert_eq!(wall.word(Step::Trim), "done");
}

/// By a person's word, and then the job file is another.
fn said_and_then(from: &str, to: &str) -> Vec<&'static str> {
    let by_word = [Step::Hanging, Step::Focus, Step::Emitter];
    let mut wall = Wall::new();
    let emitter = "[emitter]\nmodel = \"one\"\nabove_top = \"80 mm\"\nweight = \"1.2 kg\"\n";
    let text = format!("{}{emitter}", whole());
    wall.revises(&text);
    wall.anchors("within-allowed", &[]);
    for step in by_word {
        wall.says(step, SaidHow::Done);
        assert_eq!(wall.word(step), "done", "{step:?}");
    }
    let other = text.replacen(from, to, 1);
    JobFile::read("job file", &other).unwrap();
    assert_ne!(other, text, "{from}");
    let stale = |step: &Step| matches!(wall.state_by(*step, &other), State::Stale { .. });
    by_word.into_iter().filter(stale).map(Step::word).collect()
}

#[test]
fn another_emitter_or_another_screw_is_to_be_mounted() {
    assert_eq!(said_and_then("model = \"one\"", "model = \"two\""), ["emitter"]);
    assert_eq!(said_and_then("above_top = \"80 mm\"", "above_top = \"95 mm\""), ["emitter"]);
    assert_eq!(said_and_then("pitch = \"0.5 mm\"", "pitch = \"0.7 mm\""), ["emitter"]);
}

/// What is measured of the emitter once it hangs does not take it down again.
#[test]
fn what_is_first_said_of_a_mounted_emitter_leaves_it_mounted() {
    assert!(said_and_then("weight =", "lower_edge = \"55 mm\"\nweight =").is_empty());
    assert!(said_and_then("1.2 kg", "1.3 kg").is_empty());
    assert!(said_and_then("travel_clockwise = \"8", "travel_clockwise = \"7").is_empty());
}

#[test]
fn for_another_image_the_projector_is_hung_and_focused_again() {
    assert_eq!(said_and_then("94 in", "96 in"), ["hanging", "focus", "emitter"]);
}
