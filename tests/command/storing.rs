//! What is kept, and of which head: a record that another program holds, two watches on a job,
//! heads that are changed.

use crate::{EXE, WIDE, job, place};
use skimgauge_shared::message::SerialNumber;
use skimgauge_tests::command::{Place, Watch};
use skimgauge_tests::plugged::{Plugged, bench};

/// The record as another program holds it, with a take on its way there.
fn being_saved(place: &Place, watch: &mut Watch) -> rusqlite::Connection {
    watch.settled("top left");
    // The look with the emitter off is a thing of its own in the record: out of the way first.
    watch.say("skip");
    watch.live("the look left out and kept", |line| {
        line["emitter_off"].is_null() && line["storing"].is_null()
    });
    let other = rusqlite::Connection::open(place.record()).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    loop {
        watch.breathe();
        watch.say("take");
        let (_, line) = watch.until("a take on its way, or refused", |line| {
            line["storing"] == "top left"
                || line["text"].as_str().is_some_and(|text| text.starts_with("NOT taken"))
        });
        if line["kind"] == "live" {
            return other;
        }
    }
}

#[test]
fn while_another_program_holds_the_record_the_number_lives_and_presses_are_let_go() {
    let (place, head) = (place(), Plugged::new(141));
    let mut watch = place.watch(head.port(), &["--json"]);
    let other = being_saved(&place, &mut watch);
    for _ in 0..3 {
        watch.refused("Let go: top left is still being saved.", |_| head.press());
        let received =
            watch.live("a live number", |line| line["gap_mm"]["is"] == "good").1["received"]
                .as_u64();
        watch.live("a number that goes on", |line| {
            line["received"].as_u64() > received && line["storing"] == "top left"
        });
    }
    assert!(
        watch.seen.iter().any(|line| line.contains("saving top left: the record takes its time"))
    );
    assert!(
        watch.seen.iter().all(|line| !line.contains("\"kind\":\"take\"")),
        "told before it was kept"
    );
    other.execute_batch("COMMIT").unwrap();
    let take = watch.take();
    assert_eq!(take["station"], "top left");
    watch.live("saved", |line| line["storing"].is_null());
    let end = watch.quit();
    assert_eq!(end.json("take").len(), 1, "a press made while it was saved was a take: {end:?}");
    assert_eq!(place.takes().len(), 1);
}

#[test]
fn an_end_waits_for_what_is_being_saved() {
    let (place, head) = (place(), Plugged::new(142));
    let mut watch = place.watch(head.port(), &["--json"]);
    let other = being_saved(&place, &mut watch);
    watch.say("quit");
    watch.message("Ends as soon as top left is saved.");
    other.execute_batch("COMMIT").unwrap();
    let end = watch.ending();
    assert_eq!(
        (end.status, end.json("take").len(), place.takes().len()),
        (Some(3), 1, 1),
        "{end:?}"
    );
}

#[test]
fn a_record_that_stays_held_takes_nothing_and_says_so() {
    let (place, head) = (place(), Plugged::new(143));
    let mut watch = place.watch(head.port(), &["--json"]);
    let other = being_saved(&place, &mut watch);
    let refused = watch.message("NOT taken: ");
    assert_eq!(refused["bad"], true);
    other.execute_batch("COMMIT").unwrap();
    watch.taken("top left", |watch| watch.say("take"));
    watch.quit();
    assert_eq!(place.takes().len(), 1);
}

#[test]
fn a_second_watch_on_a_job_is_told_of_the_first_and_may_look() {
    let (place, first, second) = (place(), Plugged::new(144), Plugged::new(145));
    let mut watch = place.watch(first.port(), &["--json"]);
    watch.settled("top left");
    for command in ["watch", "trim"] {
        let args = crate::json_at(command, second.port());
        let text = crate::said(&place.run(args));
        for part in [
            "Another skimgauge is at work on the job \"test wall\"",
            "process ",
            "End it first",
            "--no-record",
        ] {
            assert!(text.contains(part), "{text}");
        }
    }
    let mut looking = place.command();
    looking.args(["watch", "--job", "job.toml", "--no-record", "--head", second.port(), "--json"]);
    let mut looking = Watch::start(looking);
    assert!(looking.taken("top left", |watch| watch.say("take"))["event"].is_null());
    looking.quit();
    watch.taken("top left", |watch| watch.say("take"));
    // Killed, it stands in nobody's way.
    watch.kill();
    let mut watch = place.watch(first.port(), &["--json"]);
    watch.settled("top left");
    watch.quit();
    assert_eq!(place.takes().len(), 1);
}

#[test]
fn a_head_changed_for_another_while_the_port_stays_is_found_and_not_taken() {
    let (place, head) = (place(), Plugged::new(146));
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.taken("top left", |watch| watch.say("take"));
    let other = bench(147);
    // As long on as the first, so that its clock tells nothing.
    other.advance_to(head.bench().now_us() + 1_000_000);
    head.swap(&other);
    let serial = SerialNumber(other.scene(|scene| scene.head.serial)).to_string();
    let told = watch.message(&serial);
    assert!(told["text"].as_str().unwrap().contains(&head.serial()), "{told}");
    watch.refused("NOT taken: ", |watch| watch.say("take"));
    watch.quit();
    assert_eq!(place.takes().len(), 1);
}

#[test]
fn the_job_says_which_head() {
    let head = Plugged::new(148);
    let with = |serial: &str| format!("{}\n[head]\nserial = \"{serial}\"\n", job(WIDE));
    let right = Place::new(EXE, &with(&head.serial()));
    let mut watch = right.watch(head.port(), &["--json"]);
    watch.settled("top left");
    watch.quit();
    let wrong = Place::new(EXE, &with("SG-0007"));
    for command in ["watch", "trim"] {
        let args = crate::json_at(command, head.port());
        let text = crate::said(&wrong.run(args));
        assert!(
            text.contains("SG-0007")
                && text.contains(&head.serial())
                && text.contains("Nothing is taken"),
            "{text}"
        );
    }
}

#[test]
fn a_zeroing_dated_after_today_is_doubted() {
    let place = place();
    let head = Plugged::absent(149);
    let year = skimgauge::jobs::today().year + 1;
    skimgauge_tests::plugged::zero(
        head.bench(),
        skimgauge_shared::calibration::Date { year, month: 12, day: 31 },
    );
    head.plug();
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.live("a doubtful gap", |line| {
        line["gap_mm"]["is"] == "doubtful" && line["gap_mm"]["why"] == "zeroed_after_today"
    });
    let refused = watch.refused("NOT taken: zeroing dated after today", |watch| watch.say("take"));
    assert!(refused["text"].as_str().unwrap().contains("Set this computer's date"), "{refused}");
    watch.quit();
    assert!(place.takes().is_empty());
}
