//! Killed at any moment, a watch has kept every take that it announced.

use crate::place;
use serde_json::Value;
use skimgauge_bench::noise::Noise;
use skimgauge_tests::plugged::Plugged;
use std::time::Duration;

#[test]
fn every_announced_take_is_in_the_record_whenever_it_is_killed() {
    let (place, head) = (place(), Plugged::new(91));
    let mut dice = Noise::new(91, 9);
    let mut announced: Vec<(u64, f64)> = Vec::new();
    for _ in 0..8 {
        let mut watch = place.watch(head.port(), &["--json"]);
        watch.settled("top left");
        // Takes as fast as they are accepted, and the end anywhere in the last of them.
        for _ in 0..dice.bits() % 3 {
            watch.taken("top left", |watch| watch.say("take"));
            watch.say("station 1");
            watch.settled("top left");
        }
        watch.say("take");
        std::thread::sleep(Duration::from_micros((dice.unit() * 60_000.0) as u64));
        let lines = watch.kill();
        announced.extend(
            lines.iter().filter_map(|line| serde_json::from_str::<Value>(line).ok()).filter_map(
                |line| {
                    (line["kind"] == "take").then(|| {
                        (line["event"].as_u64().unwrap(), line["gap_mm"].as_f64().unwrap())
                    })
                },
            ),
        );
        let kept = place.takes();
        for (event, gap_mm) in &announced {
            assert!(
                kept.iter()
                    .any(|(_, kept_mm, _, seq)| u64::from(*seq) == *event && kept_mm == gap_mm),
                "take {event} of {gap_mm} mm was announced and is not kept: {kept:?}"
            );
        }
    }
    assert!(announced.len() >= 3, "{announced:?}");
    let verified = place.run(["jobs", "verify", "--record", "record.sqlite"]);
    assert_eq!(verified.status.code(), Some(0), "{verified:?}");
    println!("{} takes announced over 8 kills, {} kept", announced.len(), place.takes().len());
}
