//! A newcomer's first job of their own: written by `jobs new`, filled in, practised on a simulated
//! head that stands on that very board, and brought to a signature by the commands that `next`
//! names. `host/cli/doc/first-hour.md` tells of the same hour.

mod newcomer;
mod turning;

use crate::{EXE, job, place, said};
use newcomer::Newcomer;
use serde_json::Value;
use skimgauge_tests::command::{Hand, Place};

/// The template with a made-up board's values put in, as a person puts them in: another image than
/// the template's, and its adjusters in another order, two above and one below.
fn filled_in(template: &str) -> String {
    let with = [
        ("diagonal = \"94 in\"", "width = \"1660 mm\""),
        ("aspect = \"16:10\"", "height = \"934 mm\""),
        ("name = \"right\"", "name = \"lower\""),
        ("name = \"upper\"", "name = \"far right\""),
        ("right = \"100 mm\"\nup = \"80 mm\"", "right = \"0 mm\"\nup = \"55 mm\""),
        ("right = \"0 mm\"\nup = \"140 mm\"", "right = \"120 mm\"\nup = \"115 mm\""),
        ("#kind = \"unknown\"", "kind = \"solid\""),
        // Wide enough to be within without a survey.
        ("gap = [\"1.0 mm\", \"4.0 mm\"]", "gap = [\"1.0 mm\", \"6.0 mm\"]"),
    ];
    let mut text = template.to_owned();
    for (from, to) in with {
        // Comments stand beside the values.
        let lines: Vec<&str> = from.lines().collect();
        let found = text.lines().collect::<Vec<_>>();
        let at = found.windows(lines.len()).position(|window| {
            window.iter().zip(&lines).all(|(line, from)| line.starts_with(from))
        });
        let at = at.unwrap_or_else(|| panic!("{from}: {text}"));
        let mut new: Vec<String> = found.iter().map(|line| (*line).to_owned()).collect();
        for (line, to) in new[at..].iter_mut().zip(to.lines()) {
            to.clone_into(line);
        }
        text = new.join("\n") + "\n";
    }
    text
}

/// Played by the demonstration's own installer, as fast as this computer can.
#[test]
fn a_job_of_ones_own_is_played_to_its_end() {
    let place = place();
    let file = place.path("own.toml");
    let made = place.run([
        "jobs",
        "new",
        "own.toml",
        "--name",
        "aula",
        "--by",
        "Ana Lind",
        "--client",
        "Mill School",
        "--place",
        "aula, south wall",
    ]);
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    let text = filled_in(&std::fs::read_to_string(&file).unwrap());
    std::fs::write(&file, &text).unwrap();
    let played = place.run([
        "demo",
        "--job",
        "own.toml",
        "--quick",
        "--plain",
        "--record",
        "practice.sqlite",
    ]);
    let out = String::from_utf8_lossy(&played.stdout).into_owned();
    assert!(matches!(played.status.code(), Some(0 | 3)), "{played:?}");
    assert!(out.contains("far right") && out.contains("bottom left"), "{out}");
    let truly = out.lines().find(|line| line.contains("the gap is truly")).unwrap();
    let numbers: Vec<f64> =
        truly.split([' ', '\u{a0}']).filter_map(|word| word.parse().ok()).collect();
    let [low, .., high] = numbers[..] else { panic!("{truly}") };
    assert!(low > 1.0 && high < 6.0, "{truly}");
    let shown = place.run(["jobs", "--record", "practice.sqlite", "show", "aula"]);
    let shown = String::from_utf8_lossy(&shown.stdout).into_owned();
    assert!(shown.contains("Ana Lind") || shown.contains("aula"), "{shown}");
}

#[test]
fn a_job_that_cannot_be_simulated_is_refused_with_its_line() {
    let place = Place::new(EXE, &job(["13 mm", "15 mm"]));
    for more in [&["--head-at", "head"][..], &["--quick", "--plain"]] {
        let refused = said(&place.run([&["demo", "--job", "job.toml"], more].concat()));
        assert!(
            refused.contains("job.toml, line ") && refused.contains("gap = [\"13 mm\""),
            "{refused}"
        );
    }
    let refused = said(&place.run(["demo", "--job", "job.toml", "--room", "cannot-be-met"]));
    assert!(refused.contains("line ") || refused.contains("leave --job out"), "{refused}");
    let refused = said(&place.run(["demo", "--job", "none.toml", "--head-at", "head"]));
    assert!(refused.contains("none.toml") && refused.contains("jobs new"), "{refused}");
    assert!(!place.path("head").exists(), "a link was made");
}

/// From the empty job file to the signature, each step by the command that `next` names for it.
#[test]
fn a_newcomer_follows_next_to_the_signature() {
    let place = place();
    let mut newcomer = Newcomer::begins(&place, filled_in);
    let hand = Hand::on(&place, 5, &["--job", "own.toml"]);
    newcomer.takes_in_hand(hand);
    for _ in 0..40 {
        let Some(step) = newcomer.next() else { break };
        newcomer.does(&step);
    }
    let told = newcomer.standings();
    let states: Vec<(&str, &str)> = told["steps"]
        .as_array()
        .unwrap()
        .iter()
        .map(|step| (step["step"].as_str().unwrap(), step["state"].as_str().unwrap()))
        .collect();
    assert_eq!(told["next"], Value::Null, "{states:?}");
    // A simulated head read it: it is called so to its end.
    for step in ["bracket", "zero", "trim", "as-left", "handover", "signature"] {
        assert!(states.contains(&(step, "simulated")), "{step}: {states:?}");
    }
    assert_eq!(told["simulated"], true);
    newcomer.page_is_as_it_was_left();
}
