//! `watch` when the link breaks, stalls, or garbles. Within which time it shows is held on a clock
//! that is passed in, in `host/tests/deadlines.rs`.

use crate::place;
use serde_json::Value;
use skimgauge_tests::plugged::{Plugged, bench};
use std::time::Duration;

fn good(line: &Value) -> bool {
    line["gap_mm"]["is"] == "good"
}

#[test]
fn pulled_out_and_plugged_back_it_goes_on_and_another_head_is_refused() {
    let (place, head) = (place(), Plugged::new(61));
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.taken("top left", |watch| watch.say("take"));

    watch.forget();
    head.unplug(false);
    watch.live("a gap that is not good", |line| !good(line));
    let text = watch.message("is gone. Plug it back in")["text"].clone();
    assert!(text.as_str().unwrap().contains("every take so far is kept"), "{text}");
    // The same word again gets its answer again.
    for _ in 0..2 {
        watch.refused("NOT taken: the head is not connected", |watch| watch.say("take"));
    }

    // Somebody plugs in the wrong one.
    let other = bench(62);
    head.plug_another(&other);
    let refused = watch.message(&format!("not {}", head.serial()));
    assert_eq!(refused["bad"], true);
    assert!(!refused["text"].as_str().unwrap().starts_with(&head.serial()), "{refused}");
    watch.breathe();
    watch.say("take");
    watch.message("NOT taken");
    assert!(
        watch.seen.iter().rev().take(5).all(|line| !line.contains("\"is\":\"good\"")),
        "the wrong head's gap is shown"
    );

    head.unplug(false);
    head.plug();
    watch.message(&format!("{} is back.", head.serial()));
    watch.settled("top right");
    // Nobody saw what became of it meanwhile.
    let asked = "Nobody saw what became of the head since top left: is it at top right?";
    watch.refused(asked, |watch| watch.say("take"));
    head.to(1);
    let take = watch.taken("top right", |watch| watch.say("take"));
    assert_eq!(
        (&take["station"], &take["came"]["how"]),
        (&Value::from("top right"), &Value::from("seen")),
        "{take}"
    );
    watch.quit();
    assert_eq!(place.takes().len(), 2);
}

#[test]
fn what_a_head_measured_while_a_hub_hung_up_is_counted_as_lost() {
    let (place, head) = (place(), Plugged::new(63));
    let mut watch = place.watch(head.port(), &["--json", "--keep", "kept.rec"]);
    watch.settled("top left");
    assert_eq!(watch.live("a line", |_| true).1["lost"], 0);
    let from_us = head.bench().now_us();
    head.unplug(true);
    head.wait_us(4_000_000);
    head.plug();
    watch.message("is back.");
    let away_us = head.bench().now_us() - from_us;
    watch.settled("top left");
    let end = watch.quit();
    let [last] = &end.json("end")[..] else { panic!("{end:?}") };
    let lost = last["lost"].as_u64().unwrap();
    // A hundred a second, and some that waited at the port when it went.
    let (least, most) = (4 * 100 * 8 / 10, away_us / 10_000 + 60);
    assert!((least..most).contains(&lost), "{lost} lost in {away_us} us");

    // The recording of it is heard in the same way, though the link was down for longer than any
    // greeting takes.
    let replayed = place.run(["watch", "--job", "job.toml", "--from", "kept.rec", "--json"]);
    assert_eq!(replayed.status.code(), Some(3), "{replayed:?}");
    let text = String::from_utf8_lossy(&replayed.stdout).into_owned();
    let heard: Value = serde_json::from_str(text.lines().last().unwrap()).unwrap();
    assert_eq!((&heard["kind"], &heard["lost"]), (&Value::from("end"), &last["lost"]), "{heard}");
    assert!(text.lines().any(|line| line.contains("is back.")));
}

#[test]
fn a_link_that_falls_silent_is_shown_and_cannot_be_taken() {
    let (place, head) = (place(), Plugged::new(64));
    let mut watch = place.watch(head.port(), &["--json"]);
    for _ in 0..3 {
        watch.settled("top left");
        watch.forget();
        head.stall(true);
        let (_, line) = watch.live("a stale gap", |line| !good(line));
        assert_eq!(
            (&line["gap_mm"]["is"], &line["can_take"]),
            (&Value::from("absent"), &Value::from(false)),
            "{line}"
        );
        watch.refused("Check the cable", |watch| watch.say("take"));
        head.stall(false);
    }
    watch.quit();
    assert!(!place.record().exists() || place.takes().is_empty());
}

#[test]
fn plain_lines_do_not_let_a_stale_number_stand_until_the_next_is_due() {
    let (place, head) = (place(), Plugged::new(65));
    let mut watch = place.watch(head.port(), &["--plain"]);
    watch.until("a good line", |line| line.as_str().is_some_and(|line| line.contains("within")));
    head.stall(true);
    watch.until("a line without a value", |line| {
        line.as_str().is_some_and(|line| line.contains("no value: no readings"))
    });
}

/// Bits flipped, bytes dropped and doubled on the way: some readings go, none is made up.
#[test]
fn a_garbled_cable_costs_readings_and_never_makes_one_up() {
    let (place, head) = (place(), Plugged::new(66));
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.settled("top left");
    let truth_mm = head.bench().truth().gap_mm.unwrap();
    let mut dice = skimgauge_bench::noise::Noise::new(66, 9);
    head.damage(move |bytes| {
        let mut at = 0;
        while at < bytes.len() {
            if dice.chance(0.004) {
                match dice.bits() % 3 {
                    0 => bytes[at] ^= 1 << (dice.bits() % 8),
                    1 => drop(bytes.remove(at)),
                    _ => bytes.insert(at, dice.bits() as u8),
                }
            }
            at += 1;
        }
    });
    let until_us = head.bench().now_us() + 5_000_000;
    let mut good_lines = 0;
    while let Some((_, line)) = watch.line() {
        let line: Value = serde_json::from_str(&line).unwrap();
        if line["kind"] == "live" && good(&line) {
            let gap_mm = line["gap_mm"]["value"].as_f64().unwrap();
            assert!((gap_mm - truth_mm).abs() < 0.25, "{line}, true {truth_mm}");
            good_lines += 1;
        }
        if head.bench().now_us() > until_us {
            break;
        }
    }
    head.mend();
    watch.settled("top left");
    let end = watch.quit();
    let [last] = &end.json("end")[..] else { panic!("{end:?}") };
    let (received, lost) = (last["received"].as_u64().unwrap(), last["lost"].as_u64().unwrap());
    assert!(lost > 10 && last["skipped_bytes"].as_u64().unwrap() > 100, "{last}");
    assert!(received > 400 && lost < received, "{last}");
    println!("{good_lines} good lines, {last}");
}

#[test]
fn a_flood_beside_the_readings_leaves_the_command_answering() {
    let (place, head) = (place(), Plugged::new(67));
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.settled("top left");
    let mut dice = skimgauge_bench::noise::Noise::new(67, 9);
    // As much as a USB port of this class carries, in short frames that are none.
    head.damage(move |bytes| {
        bytes.push(0);
        bytes.extend((0..2_000).map(|_| if dice.chance(0.2) { 0 } else { dice.bits() as u8 }));
        bytes.push(0);
    });
    std::thread::sleep(Duration::from_secs(2));
    watch.forget();
    // An answer that had to wait until the flood is heard out would never come: it does not end.
    watch.say("tak");
    watch.message("\"tak\" is not known here");
    let end = watch.quit();
    assert!(
        end.json("end")[0]["skipped_bytes"].as_u64().unwrap() > 100_000,
        "{:?}",
        end.json("end")
    );
}
