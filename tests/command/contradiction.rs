//! A station read with the head at another: the takes contradict one another, and nothing is
//! promised on them. The head is another process's (`demo --head-at`); words on its standard input
//! carry it.

use crate::EXE;
use serde_json::Value;
use skimgauge_record::Body;
use skimgauge_record::event::{JudgedAt, Verdict};
use skimgauge_tests::command::{Hand, Place, Watch};

const STATIONS: [&str; 9] = [
    "top left",
    "top",
    "top right",
    "right",
    "bottom right",
    "bottom",
    "bottom left",
    "left",
    "middle",
];

/// The practice job with a band that every gap of its room is in, and no tilt asked for.
fn place() -> Place {
    let job: Vec<String> = skimgauge_jobfile::demo_job()
        .lines()
        .filter(|line| !line.starts_with("level =") && !line.starts_with("lean ="))
        .map(|line| line.replace("[\"1.0 mm\", \"4.0 mm\"]", "[\"0.4 mm\", \"16.6 mm\"]"))
        .collect();
    Place::new(EXE, &job.join("\n"))
}

/// Takes at `station` with the head carried to `at`.
fn take(watch: &mut Watch, hand: &mut Hand, station: &str, at: &str) -> Value {
    assert_eq!(hand.say(&format!("to {at}")), format!("at {at}"));
    watch.taken(station, |_| assert_eq!(hand.say("press"), "pressed"))
}

/// All stations taken, `wrong` of them with the head at `at`.
fn taken(watch: &mut Watch, hand: &mut Hand, wrong: &str, at: &str) -> Vec<Value> {
    STATIONS
        .iter()
        .map(|station| take(watch, hand, station, if *station == wrong { at } else { station }))
        .collect()
}

fn odd(line: &Value) -> Vec<&str> {
    line["odd"].as_array().unwrap().iter().filter_map(Value::as_str).collect()
}

#[test]
fn a_station_read_elsewhere_promises_nothing_until_it_is_taken_again() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let mut watch = place.watch("head", &["--json"]);
    // Bottom left stands at 7.8 mm in this room, bottom right at 3.4 mm.
    let takes = taken(&mut watch, &mut hand, "bottom left", "bottom right");
    let last = &takes[8];
    assert!(odd(last).contains(&"bottom left"), "{last}");
    // Within by itself, and yet not called so.
    assert_eq!(
        (&last["verdict"], &last["whole"]),
        (&Value::from("unsure"), &Value::from("unsure")),
        "{last}"
    );
    let end = watch.quit();
    assert_eq!(end.status, Some(3), "{end:?}");
    let [line] = &end.json("end")[..] else { panic!("one end in {end:?}") };
    let because = line["because"].as_str().unwrap();
    assert!(
        because.contains("contradict one another") && because.contains("bottom left"),
        "{because}"
    );
    assert!(odd(line).contains(&"bottom left"), "{line}");

    let record = skimgauge_record::Record::open(&place.record()).unwrap();
    let events = record.job("practice wall").unwrap().events;
    let judged = events.iter().rev().find_map(|event| match &event.body {
        Body::Judged(judged) => Some(judged.clone()),
        _ => None,
    });
    let judged = judged.unwrap();
    assert_eq!((judged.verdict, judged.worst), (Verdict::Unsure, None));
    assert!(matches!(judged.judged_at, Some(JudgedAt::Places(names)) if names == STATIONS));
    let last_take = events.iter().rev().find_map(|event| match &event.body {
        Body::Take(take) => Some(take.clone()),
        _ => None,
    });
    assert_eq!(last_take.unwrap().verdict, Some(Verdict::Unsure));
    let written = place.run([
        "handover",
        "--job",
        "practice wall",
        "--record",
        "record.sqlite",
        "--out",
        "page.html",
    ]);
    assert_eq!(written.status.code(), Some(0), "{written:?}");
    let page = std::fs::read_to_string(place.path("page.html")).unwrap();
    assert!(page.contains("contradict one another"), "the page says so");
    for claim in ["within the band", "over the whole board", "The gap is outside"] {
        assert!(!page.contains(claim), "{claim}");
    }
}

#[test]
fn taken_again_where_it_is_all_is_well_and_the_verdict_names_its_places() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let mut watch = place.watch("head", &["--json"]);
    taken(&mut watch, &mut hand, "bottom left", "bottom right");
    watch.say("station bottom left");
    let again = take(&mut watch, &mut hand, "bottom left", "bottom left");
    assert_eq!(
        (&again["whole"], &again["verdict"]),
        (&Value::from("within"), &Value::from("within")),
        "{again}"
    );
    assert!(odd(&again).is_empty(), "{again}");
    let end = watch.quit();
    assert_eq!(end.status, Some(0), "{end:?}");
    let [line] = &end.json("end")[..] else { panic!("one end in {end:?}") };
    let places: Vec<&str> =
        line["judged_at"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert_eq!(places, STATIONS, "{line}");
    let shown = place.run(["jobs", "show", "practice wall", "--record", "record.sqlite"]);
    let shown = String::from_utf8(shown.stdout).unwrap();
    assert!(
        shown.contains("● within at the 9 places read; between them nothing was read"),
        "{shown}"
    );
}

/// The head stands at the wrong place again: it comes back the same, and the program cannot but
/// believe it. It asks for a survey then, which would show it.
#[test]
fn what_comes_back_the_same_asks_for_a_survey() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let mut watch = place.watch("head", &["--json"]);
    let takes = taken(&mut watch, &mut hand, "bottom left", "bottom right");
    let asked: Vec<String> = odd(&takes[8]).into_iter().map(str::to_owned).collect();
    for station in &asked {
        watch.say(&format!("station {station}"));
        take(
            &mut watch,
            &mut hand,
            station,
            if station == "bottom left" { "bottom right" } else { station },
        );
    }
    let end = watch.quit();
    assert_eq!(end.status, Some(3), "{end:?}");
    let [line] = &end.json("end")[..] else { panic!("one end in {end:?}") };
    let because = line["because"].as_str().unwrap();
    assert!(
        because.contains("came back the same") && because.contains("skimgauge survey"),
        "{because}"
    );
}
