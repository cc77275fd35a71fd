//! Files that a command is told to write where it must not: nothing that is there is harmed,
//! nothing is left beside it.

use crate::{begun, place, said};
use skimgauge_tests::command::Place;
use skimgauge_tests::plugged::Plugged;
use std::collections::BTreeMap;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::{Command, Stdio};

/// A folder with a job, its record, and everything that could be in the way.
pub(crate) fn full_of_traps() -> Place {
    let place = place();
    begun(&place);
    std::fs::write(place.path("points.csv"), "x_mm,y_mm,z_mm\n1,-2,0.1\n").unwrap();
    std::fs::write(place.path("theirs.html"), "<!DOCTYPE html><title>somebody's page</title>")
        .unwrap();
    std::fs::write(place.path("theirs.svg"), "<svg xmlns='http://www.w3.org/2000/svg'/>").unwrap();
    std::fs::create_dir(place.path("folder")).unwrap();
    symlink(place.record(), place.path("link-to-record")).unwrap();
    std::fs::hard_link(place.record(), place.path("hard-record")).unwrap();
    symlink("points.csv", place.path("link")).unwrap();
    symlink("nowhere", place.path("dangling")).unwrap();
    let ours = "<!DOCTYPE html><html><head><meta charset=\"utf-8\"><meta name=\"generator\" content=\"skimgauge\">";
    std::fs::write(place.path("linked.html"), ours).unwrap();
    std::fs::hard_link(place.path("linked.html"), place.path("hard")).unwrap();
    assert!(Command::new("mkfifo").arg(place.path("pipe")).status().unwrap().success());
    place
}

/// Every name with what stands in it.
fn everything(place: &Place) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(place.path("")).unwrap().map(|entry| entry.unwrap());
    entries
        .map(|entry| {
            let kind = entry.file_type().unwrap();
            let content = if kind.is_file() {
                std::fs::read(entry.path()).unwrap()
            } else if kind.is_symlink() {
                std::fs::read_link(entry.path()).unwrap().into_os_string().into_encoded_bytes()
            } else {
                Vec::new()
            };
            (entry.file_name().to_string_lossy().into_owned(), content)
        })
        .collect()
}

const TRAPS: [(&str, &str); 19] = [
    ("record.sqlite", "is the record"),
    ("./record.sqlite", "is the record"),
    ("folder/../record.sqlite", "is the record"),
    ("link-to-record", "is the record"),
    ("hard-record", "is the record"),
    ("record.sqlite-journal", "is the record's own"),
    ("job.toml", "is the job file"),
    ("./job.toml", "is the job file"),
    ("points.csv", "is there already"),
    ("theirs.html", "is there already"),
    ("theirs.svg", "is there already"),
    ("hard", "was left as it is. Choose another name"),
    ("folder", "is a folder"),
    ("link", "is a link"),
    ("dangling", "is a link"),
    ("pipe", "is a pipe"),
    ("/dev/null", "is a device"),
    ("/dev/full", "is a device"),
    ("no/such/place", "There is no folder"),
];

#[test]
fn a_handover_is_written_over_nothing() {
    let place = full_of_traps();
    let before = everything(&place);
    for replace in [&[][..], &["--replace"]] {
        for (path, says) in TRAPS {
            let words = [
                &["handover", "--job", "job.toml", "--record", "record.sqlite", "--out", path],
                replace,
            ]
            .concat();
            let text = said(&place.run(&words));
            let names = Path::new(path).file_name().unwrap().to_str().unwrap();
            assert!(text.contains(says) && text.contains(names), "{words:?}: {text}");
            assert_eq!(everything(&place), before, "{words:?}");
        }
    }
    // Onto a file of its own, it is.
    let again = |more: &[&str]| {
        place.run(
            [
                &[
                    "handover",
                    "--job",
                    "test wall",
                    "--record",
                    "record.sqlite",
                    "--out",
                    "page.html",
                ],
                more,
            ]
            .concat(),
        )
    };
    assert_eq!(again(&[]).status.code(), Some(0));
    let text = said(&again(&[]));
    assert!(text.contains("page.html is there already") && text.contains("--replace"), "{text}");
    assert_eq!(again(&["--replace"]).status.code(), Some(0));
    let mut after = everything(&place);
    assert!(after.remove("page.html").is_some_and(|page| page.starts_with(b"<!DOCTYPE html>")));
    assert_eq!(after, before);
}

/// The job file of `jobs new` with every section in it, its survey in `surveyed.csv`.
fn with_every_section(place: &Place) {
    let known = skimgauge_jobfile::Known {
        name: Some("reading room"),
        client: Some("Larch Lane Library"),
        place: Some("ground floor, north wall"),
        by: Some("R. Oakes"),
    };
    let mut text = skimgauge_jobfile::filled_in(&known)
        .replace("#width = \"220 mm\"", "width = \"220 mm\"")
        .replace("#height = \"60 mm\"", "height = \"60 mm\"");
    if !text.contains("\n[survey]") {
        text += "\n[survey]\nfile = \"survey.csv\"\n";
    }
    std::fs::write(place.path("every.toml"), text).unwrap();
    let points = "x_mm,y_mm,z_mm\n-1000,0,1\n1000,0,0\n1000,-1200,1\n-1000,-1200,0\n0,-600,2\n0,0,0\n0,-1200,0\n";
    for name in ["survey.csv", "read.csv", "their-points.csv"] {
        std::fs::write(place.path(name), points).unwrap();
    }
}

#[test]
fn drawings_templates_and_points_are_written_over_nothing() {
    let place = full_of_traps();
    with_every_section(&place);
    let spared = [
        ("record.sqlite", "is the record"),
        ("hard-record", "is the record"),
        ("every.toml", "is the job file"),
        ("survey.csv", "is the job's survey"),
    ];
    let ours = [
        &["setout", "--svg"][..],
        &["survey", "--from", "read.csv", "--svg"],
        &["survey", "--from", "read.csv", "--points"],
    ];
    let common = ["--job", "every.toml", "--record", "record.sqlite"];
    let before = everything(&place);
    for words in ours {
        let traps = TRAPS
            .into_iter()
            .filter(|(path, _)| !path.starts_with("job.toml") && !path.starts_with("./job.toml"));
        for (path, says) in traps.chain(spared).chain([("read.csv", "was left as it is")]) {
            for replace in [&[][..], &["--replace"]] {
                // A table of points may be replaced by one, if it is none that is read.
                if words.last() == Some(&"--points") && path == "points.csv" && !replace.is_empty()
                {
                    continue;
                }
                let words = [words, &[path], &common, replace].concat();
                let text = said(&place.run(&words));
                assert!(text.contains(says), "{words:?}: {text}");
                assert_eq!(everything(&place), before, "{words:?}");
            }
        }
    }
    // Each onto its own, if asked.
    for words in [
        &["setout", "--svg", "wall.svg", "--template", "holes.svg"][..],
        &["survey", "--from", "read.csv", "--svg", "map.svg", "--points", "all.csv"],
    ] {
        let run = |more: &[&str]| place.run([words, &common, more].concat());
        assert_ne!(run(&[]).status.code(), Some(2), "{words:?}");
        let written = everything(&place);
        let text = said(&run(&[]));
        assert!(text.contains("--replace"), "{text}");
        assert_ne!(run(&["--replace"]).status.code(), Some(2), "{words:?}");
        assert_eq!(
            everything(&place).keys().collect::<Vec<_>>(),
            written.keys().collect::<Vec<_>>()
        );
    }
    // Of several sheets all are written, or none.
    std::fs::write(place.path("t-centre-plate-2-1.svg"), "<svg/>").unwrap();
    let written = everything(&place);
    for replace in [&[][..], &["--replace"]] {
        let text =
            said(&place.run([&["setout", "--template", "t.svg"], &common[..], replace].concat()));
        assert!(text.contains("t-centre-plate-2-1.svg is there already"), "{text}");
        assert_eq!(everything(&place), written);
    }
    // A drawing is no table, and a table no drawing, whatever they are called.
    for words in [
        &["setout", "--svg", "all.csv", "--replace"][..],
        &["survey", "--from", "read.csv", "--points", "map.svg", "--replace"],
        &["survey", "--from", "read.csv", "--svg", "their-points.csv", "--replace"],
    ] {
        let written = everything(&place);
        let text = said(&place.run([words, &common].concat()));
        assert!(text.contains("that skimgauge wrote"), "{text}");
        assert_eq!(everything(&place), written);
    }
    // Two of one command in one place: neither is written.
    let written = everything(&place);
    for words in [
        &["survey", "--from", "read.csv", "--svg", "one", "--points", "./one"][..],
        &["setout", "--svg", "two-centre-plate-1-1.svg", "--template", "two.svg"],
    ] {
        let text = said(&place.run([words, &common].concat()));
        assert!(text.contains("is what this command writes besides"), "{text}");
        assert_eq!(everything(&place), written);
    }
}

#[test]
fn a_job_is_exported_over_nothing() {
    let place = full_of_traps();
    for name in ["taken.csv", "taken.json", "taken.job"] {
        std::fs::write(place.path(name), "mine").unwrap();
        symlink("nowhere", place.path(&format!("link-{name}"))).unwrap();
    }
    let before = everything(&place);
    for name in ["taken.csv", "taken.json", "taken.job", "link-taken.csv", "link-taken.json"] {
        said(&place.run(["jobs", "--record", "record.sqlite", "export", "test wall", name]));
        assert_eq!(everything(&place), before, "{name}");
    }
    for name in ["new.csv", "new.json"] {
        let output = place.run(["jobs", "--record", "record.sqlite", "export", "test wall", name]);
        assert_eq!(output.status.code(), Some(0), "{output:?}");
    }
}

#[test]
fn a_job_file_is_begun_over_nothing() {
    let place = full_of_traps();
    let before = everything(&place);
    for (path, _) in TRAPS.into_iter().filter(|(path, _)| !path.ends_with("-journal")) {
        let text = said(&place.run(["jobs", "new", path]));
        assert!(!text.contains("--replace"), "{text}");
        assert_eq!(everything(&place), before, "{path}");
    }
    assert_eq!(place.run(["jobs", "new", "new.toml"]).status.code(), Some(0));
}

#[test]
fn a_recording_is_kept_over_nothing_and_only_of_something() {
    let (place, head) = (full_of_traps(), Plugged::new(140));
    let before = everything(&place);
    for command in ["watch", "trim"] {
        for (path, _) in TRAPS {
            let words = [
                command,
                "--job",
                "job.toml",
                "--record",
                "record.sqlite",
                "--head",
                head.port(),
                "--keep",
                path,
            ];
            let text = said(&place.run(words));
            assert!(!text.contains("--replace"), "{text}");
            let mut after = everything(&place);
            // The job's name is in the record now; nothing else is different.
            for name in ["record.sqlite", "hard-record"] {
                after.insert(name.to_owned(), before[name].clone());
            }
            assert_eq!(after, before, "{words:?}");
        }
        // A port that is not there leaves no recording, which would stand in the way of the next
        // try.
        let words = [
            command,
            "--job",
            "job.toml",
            "--record",
            "record.sqlite",
            "--head",
            "nosuch",
            "--keep",
            "new.rec",
        ];
        let text = said(&place.run(words));
        assert!(text.contains("nosuch") && !place.path("new.rec").exists(), "{text}");
    }
    // The record is spared also where there is none yet.
    let words = [
        "watch",
        "--job",
        "job.toml",
        "--record",
        "x.sqlite",
        "--head",
        head.port(),
        "--keep",
        "x.sqlite-journal",
    ];
    assert!(said(&place.run(words)).contains("is the record's own"));
}

#[test]
fn only_a_zeroing_is_forgotten_and_only_a_zeroing_is_gone_on_with() {
    let (place, head) = (full_of_traps(), Plugged::new(141));
    let before = everything(&place);
    for name in [
        "job.toml",
        "points.csv",
        "record.sqlite",
        "link",
        "dangling",
        "hard",
        "folder",
        "/dev/null",
    ] {
        for more in [&["--anew"][..], &[]] {
            let words =
                ["zero", "--head", head.port(), "--record", "record.sqlite", "--session", name];
            let output = place.run([&words[..], more].concat());
            // Nothing can be read where nothing is typed: what cannot be kept is found out at the
            // first step, or before.
            assert!(matches!(output.status.code(), Some(2 | 3)), "{name}: {output:?}");
            assert_eq!(everything(&place), before, "{name} {more:?}: {output:?}");
        }
    }
}

#[test]
fn of_two_at_once_one_writes() {
    let place = full_of_traps();
    for round in 0..5 {
        let name = format!("page-{round}.html");
        let start = || {
            let mut command = place.command();
            command.args([
                "handover",
                "--job",
                "test wall",
                "--record",
                "record.sqlite",
                "--out",
                &name,
            ]);
            skimgauge_tests::command::started(
                command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()),
            )
        };
        let both = [start(), start()].map(|child| child.wait_with_output().unwrap());
        let mut statuses = both.each_ref().map(|output| output.status.code());
        statuses.sort_unstable();
        assert_eq!(statuses, [Some(0), Some(2)], "{both:?}");
        let page = std::fs::read_to_string(place.path(&name)).unwrap();
        assert!(page.trim_end().ends_with("</html>"), "not whole");
    }
    assert!(!everything(&place).keys().any(|name| name.contains("part")));
}
