//! The command: a board found again, and what the jobs teach.

use skimgauge_firm::Base;
use skimgauge_firm_tests::fleet::{Spec, id, lot};
use skimgauge_firm_tests::laptop::Laptop;
use skimgauge_firm_tests::server::{Server, Setup};
use skimgauge_record::Record;
use skimgauge_record::carry::Store;

/// A board that was installed two years ago is found again, and how it was left stands beside how it
/// is found today.
#[test]
fn a_board_is_found_again_beside_todays_work() {
    let server = Server::start(&Setup::default());
    server.prepared("jobs");
    let laptop = Laptop::new(env!("CARGO_BIN_EXE_skimgauge-at-the-firm"), &server);
    let mut base = Base::open(&server.address("postgres", "jobs")).unwrap();
    let then =
        Spec { name: "hall 2024".to_owned(), begins_s: -2 * 365 * 86_400, ..Spec::default() };
    base.put(&lot(&then)).unwrap();
    for number in 2..6 {
        let other = format!("client {number}");
        base.put(&lot(&Spec {
            number,
            name: other.clone(),
            client: other,
            head: format!("SG-{number}"),
            ..Spec::default()
        }))
        .unwrap();
    }
    laptop.keep(&Spec {
        number: 9,
        name: "hall today".to_owned(),
        closes: false,
        ..Spec::default()
    });
    for (args, names) in [
        (&["--client", "larch LANE"][..], &["hall 2024"][..]),
        (&["--head", "SG-4"], &["client 4"]),
        (&["--until", "2025-01-01"], &["hall 2024"]),
        (&["--since", "2026-01-01", "--client", "client 2"], &["client 2"]),
        (&["--verdict", "within", "--place", "north", "--name", "hall"], &["hall 2024"]),
        (&["--emitter", "practice", "--client", "client 5"], &["client 5"]),
        (&["--verdict", "outside"], &[]),
    ] {
        let mut all = vec!["jobs", "find", "--json"];
        all.extend(args);
        let found = laptop.good(&all);
        let found: Vec<String> = found
            .lines()
            .map(|line| {
                serde_json::from_str::<serde_json::Value>(line).unwrap()["name"]
                    .as_str()
                    .unwrap()
                    .to_owned()
            })
            .collect();
        assert_eq!(found, names, "{args:?}");
    }
    let beside = laptop.good(&["jobs", "find", "--beside", "hall today"]);
    assert!(
        beside.contains("\"hall 2024\" of 2024-01-")
            && beside.contains("left mm")
            && beside.contains("top left"),
        "{beside}"
    );
    let json = laptop.good(&["jobs", "find", "--beside", "hall today", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let then = base.branches(id(1)).unwrap().remove(0).history;
    let now = Record::open_read_only(&laptop.record()).unwrap().job("hall today").unwrap();
    let mean = |job: &skimgauge_record::JobHistory, phase, station: &str| {
        let gaps: Vec<f64> = job
            .standing(phase)
            .iter()
            .filter(|c| c.take.station == station)
            .map(|c| c.take.gap.0)
            .collect();
        gaps.iter().sum::<f64>() / gaps.len() as f64
    };
    let stations = json["stations"].as_array().unwrap();
    assert_eq!(stations.len(), 9);
    for row in stations {
        let station = row["station"].as_str().unwrap();
        let left = mean(&then, skimgauge_model::Phase::AsLeft, station);
        let found = mean(&now, skimgauge_model::Phase::AsFound, station);
        let near = |key: &str, value: f64| (row[key].as_f64().unwrap() - value).abs() < 1e-9;
        assert!(
            near("as_left_mm", left)
                && near("as_found_mm", found)
                && near("change_mm", found - left),
            "{row}"
        );
    }
    let told = laptop.bad(&["jobs", "find", "--client", "x", "--since", "tomorrow"]);
    assert!(told.contains("2026-11-26"), "{told}");
}

#[test]
fn what_the_jobs_teach_is_told_in_every_form() {
    let server = Server::start(&Setup::default());
    server.prepared("jobs");
    let laptop = Laptop::new(env!("CARGO_BIN_EXE_skimgauge-at-the-firm"), &server);
    let mut base = Base::open(&server.address("postgres", "jobs")).unwrap();
    for number in 1..5 {
        base.put(&lot(&Spec { number, name: format!("job {number}"), ..Spec::default() })).unwrap();
    }
    let told = laptop.good(&["jobs", "learn"]);
    assert!(
        told.contains("Emitter practice emitter: 4 jobs")
            && told.contains("mm a turn, clockwise out"),
        "{told}"
    );
    let inch = laptop.good(&["--units", "inch", "jobs", "learn"]);
    assert!(inch.contains(" in a turn") && !inch.contains(" mm"), "{inch}");
    let json = laptop.good(&["jobs", "learn", "--as", "json", "--page", "lessons.html"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((&json["kind"], &json["jobs"]["count"]), (&"lessons".into(), &4.into()));
    assert_eq!(json["crews"].as_array().unwrap().len(), 0);
    let page = std::fs::read_to_string(laptop.path().join("lessons.html")).unwrap();
    assert!(page.contains("What the jobs teach") && page.contains("practice emitter"));
    assert!(laptop.bad(&["jobs", "learn", "--page", "lessons.html"]).contains("is there already"));
    laptop.good(&["jobs", "learn", "--page", "lessons.html", "--replace"]);
    assert!(
        laptop
            .good(&["jobs", "learn", "--as", "csv"])
            .starts_with("kind,of,which,figure,count,value,unit")
    );
    let lines = laptop.good(&["jobs", "learn", "--emitter", "practice emitter"]);
    assert_eq!(lines.matches("[[adjuster]]").count(), 3, "{lines}");
    assert!(
        laptop.bad(&["jobs", "learn", "--emitter", "another"]).contains("fewer than three units")
    );
    assert!(laptop.good(&["jobs", "learn", "--by-crew"]).contains("Crew postgres: 4 jobs"));
}
