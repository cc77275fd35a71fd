//! A station is a place: tried from outside with a simulated head that stays where it is, and with
//! one that is carried. The head is another process's (`demo --head-at`); words on its standard
//! input move it.

use crate::EXE;
use serde_json::Value;
use skimgauge_tests::command::{Hand, Place, Watch};

const STATIONS: [&str; 8] =
    ["top left", "top", "top right", "right", "bottom right", "bottom", "bottom left", "left"];

fn place() -> Place {
    Place::new(EXE, skimgauge_jobfile::demo_job())
}

/// Stations in the record, in order.
fn stations(place: &Place) -> Vec<String> {
    place.takes().into_iter().map(|(station, ..)| station).collect()
}

#[test]
fn eight_words_from_one_seat_are_one_station() {
    let place = place();
    let _hand = Hand::new(&place, 11);
    let mut watch = place.watch("head", &["--json"]);
    watch.taken("top left", |watch| (0..8).for_each(|_| watch.say("take")));
    watch.refused("has not moved since top left: is it at top?", |watch| watch.say("take"));
    watch.breathe();
    watch.say("next");
    watch.message("Nothing is taken: put the head at top first.");
    let end = watch.quit();
    assert_eq!(end.json("take").len(), 1);
    assert_eq!(stations(&place), ["top left"]);
}

#[test]
fn presses_in_one_breath_are_one_station() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let mut watch = place.watch("head", &["--json"]);
    watch.taken("top left", |_| {
        hand.says("press\npress\npress");
        (0..3).for_each(|_| assert_eq!(hand.answer(), "pressed"));
    });
    watch.breathe();
    assert!(watch.seen.iter().filter(|line| line.contains("Let go: ")).count() >= 2);
    assert!(
        !watch.seen.iter().any(|line| line.contains("has not moved")),
        "a press in the same breath asks"
    );
    assert_eq!(stations(&place), ["top left"]);
    // Pressed again it asks, however often; held, that is the answer, which is kept.
    for _ in 0..3 {
        watch.refused("has not moved since top left: is it at top?", |_| drop(hand.say("press")));
    }
    watch.breathe();
    hand.say("hold");
    let take = watch.take();
    assert_eq!(take["came"], serde_json::json!({ "how": "said", "from": "top left" }), "{take}");
    watch.quit();
    assert_eq!(stations(&place), ["top left", "top"]);
}

#[test]
fn a_trim_takes_no_second_station_from_one_seat_and_no_tilt_off_the_emitter() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let mut command = place.command();
    command.args([
        "trim",
        "--job",
        "job.toml",
        "--record",
        "record.sqlite",
        "--head",
        "head",
        "--plain",
    ]);
    let mut trim = Watch::start(command);
    let says = |line: &Value, part: &str| line.as_str().is_some_and(|line| line.contains(part));
    trim.until("where to begin", |line| says(line, "> take "));
    trim.until("a settled line", |line| says(line, "settled"));
    loop {
        trim.breathe();
        trim.say("take\ntake\nready\ntake");
        let (_, line) =
            trim.until("the take", |line| says(line, "mm taken") || says(line, "NOT taken"));
        if says(&line, "mm taken") {
            break;
        }
    }
    loop {
        trim.breathe();
        trim.say("take");
        let (_, line) = trim.until("a question", |line| {
            says(line, "has not moved since") || says(line, "NOT taken")
        });
        if says(&line, "has not moved since") {
            break;
        }
    }
    trim.breathe();
    trim.say("emitter");
    trim.until("a no", |line| says(line, "Nothing is taken"));
    for word in ["take", "ready", "take"] {
        trim.breathe();
        trim.say(word);
        trim.until("a refusal", |line| {
            says(line, "NOT taken") || says(line, "Nothing waits for that now")
        });
    }
    assert_eq!(hand.say("to emitter"), "on the emitter");
    trim.until("at rest", |line| says(line, "emitter "));
    // The inclinometer's filter takes its time: until it rests it is told so.
    loop {
        trim.breathe();
        trim.say("take");
        let (_, line) = trim.until("an answer", |line| {
            says(line, "Hold it still") || says(line, "tilt taken") || says(line, "not known")
        });
        if says(&line, "tilt taken") {
            break;
        }
    }
    trim.quit();
    assert_eq!(stations(&place).len(), 1);
    let record = skimgauge_record::Record::open(&place.record()).unwrap();
    let events = record.job("practice wall").unwrap().events;
    let tilts = events
        .iter()
        .filter(|event| matches!(event.body, skimgauge_record::Body::EmitterTilt(_)))
        .count();
    assert_eq!(tilts, 1);
}

#[test]
fn carried_from_station_to_station_all_are_taken_without_a_question() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let mut watch = place.watch("head", &["--json"]);
    for (at, station) in STATIONS.iter().enumerate() {
        assert_eq!(hand.say(&format!("to {station}")), format!("at {station}"));
        let take = watch.taken(station, |_| assert_eq!(hand.say("press"), "pressed"));
        let how = if at == 0 { "first" } else { "seen" };
        assert_eq!(
            (&take["station"], &take["came"]["how"]),
            (&Value::from(*station), &Value::from(how)),
            "{take}"
        );
    }
    watch.quit();
    assert_eq!(stations(&place), STATIONS);
}

#[test]
fn a_knock_is_no_arrival() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let mut watch = place.watch("head", &["--json"]);
    watch.taken("top left", |watch| watch.say("take"));
    hand.say("knock");
    watch.say("station top");
    watch.live("another station", |line| line["station"] == "top");
    // A take is refused or asked about, and never made.
    for _ in 0..4 {
        watch.breathe();
        watch.say("take\nnext\nback");
        watch.until("an answer", |line| {
            line["kind"] == "message"
                && line["text"].as_str().is_some_and(|text| {
                    text.contains("NOT taken") || text.contains("is it at top?")
                })
        });
    }
    watch.quit();
    assert_eq!(stations(&place), ["top left"]);
}

#[test]
fn another_watch_on_the_job_asks_where_the_head_is_by_now() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let mut watch = place.watch("head", &["--json"]);
    hand.say("to bottom");
    watch.say("station bottom");
    watch.taken("bottom", |watch| watch.say("take"));
    watch.quit();
    let mut watch = place.watch("head", &["--json"]);
    watch.settled("top left");
    watch.refused("Nobody saw what became of the head since bottom: is it at top left?", |watch| {
        watch.say("take");
    });
    hand.say("to top left");
    assert_eq!(watch.taken("top left", |watch| watch.say("take"))["came"]["how"], "seen");
    watch.quit();
}

#[test]
fn the_hand_answers_what_it_does_not_know_and_stays_when_nobody_speaks_any_more() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let answer = hand.say("dance");
    for known in [
        "lift",
        "to STATION",
        "press",
        "hold",
        "knock",
        "light off",
        "light on",
        "turn ADJUSTER TURNS",
    ] {
        assert!(answer.contains(known), "{answer}");
    }
    assert_eq!(hand.say("light off"), "the emitter is off");
    let mut watch = place.watch("head", &["--json"]);
    watch.live("no light", |line| {
        line["faults"]
            .as_array()
            .is_some_and(|all| all.iter().any(|one| one == "no light in the eye"))
    });
    assert_eq!(hand.say("light on"), "the emitter is on");
    hand.hang_up();
    watch.settled("top left");
    watch.quit();
}
