//! The template and the reader know the same keys.

use skimgauge_jobfile::section::{Key, Spec, every_section};
use skimgauge_jobfile::{Job, Known, demo_job, filled_in, template, untouched};

/// A job file from the specs: for each section and key, the value that `choose` gives, or nothing.
fn written(choose: impl Fn(&Spec, &Key) -> Option<String>) -> String {
    let mut text = String::new();
    for spec in every_section() {
        let once: &[&[(&str, &str)]] = &[&[]];
        let samples = if spec.samples.is_empty() { once } else { spec.samples };
        for sample in samples {
            text.push_str(&spec.header());
            text.push('\n');
            for key in spec.keys {
                let Some(chosen) = choose(spec, key) else {
                    continue;
                };
                let own = sample.iter().find(|(name, _)| *name == key.name);
                let value = own
                    .filter(|_| chosen == key.sample)
                    .map_or(chosen.as_str(), |(_, value)| value);
                text.push_str(&format!("{} = {value}\n", key.name));
            }
        }
    }
    text
}

fn sample(key: &Key) -> Option<String> {
    Some(key.sample.to_owned())
}

#[test]
fn the_template_parses() {
    let known = Known {
        name: Some("room 2"),
        client: Some("A \\ \"B\" & Co."),
        place: Some("north wall"),
        by: Some("R. Oakes"),
    };
    let job = Job::parse("template", &template(&known)).unwrap_or_else(|errors| panic!("{errors}"));
    assert_eq!(
        (job.about.name.as_str(), job.about.client.as_deref()),
        ("room 2", Some("A \\ \"B\" & Co."))
    );
    assert_eq!(job.adjusters.len(), 3);
    assert_eq!(job.stations.len(), 9);
    assert_eq!(job.limits, Default::default());
}

/// Nothing is invented: what nobody said is open, and each open line is refused until it is filled
/// in, and nothing else is.
#[test]
fn what_is_left_open_is_refused_line_by_line_until_it_is_filled_in() {
    let text = template(&Known { place: Some("north wall"), ..Known::default() });
    let errors = Job::parse("board.toml", &text).unwrap_err();
    let told: Vec<(&str, &str)> = errors
        .problems
        .iter()
        .map(|problem| {
            (
                problem.wrong.as_str(),
                text.lines().nth(problem.line - 1).unwrap().split(' ').next().unwrap(),
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            ("`name` is not filled in yet", "name"),
            ("`client` is not filled in yet", "client"),
            ("`by` is not filled in yet", "by")
        ]
    );
    for blank in ["", " ", "\\t"] {
        let text = text.replacen("client = \"\"", &format!("client = \"{blank}\""), 1);
        assert_eq!(Job::parse("board.toml", &text).unwrap_err().problems.len(), 3, "{blank:?}");
    }
    let filled = text.replace("= \"\"", "= \"x\"");
    assert_eq!(Job::parse("board.toml", &filled).unwrap().about.client.as_deref(), Some("x"));
}

/// Of every section taken into use: each name, and what only whoever was there can know, is refused
/// by its own line. What else is written in words is a choice of a few, or what a thing is called
/// by in the file itself.
#[test]
fn no_invented_name_or_proof_load_of_the_template_becomes_a_fact_of_a_job() {
    let known = Known { name: Some("x"), client: Some("x"), place: Some("x"), by: Some("x") };
    let used = |line: &str| {
        line.strip_prefix('#').filter(|rest| !rest.starts_with(' ')).unwrap_or(line).to_owned()
    };
    let text: Vec<String> = template(&known).lines().map(used).collect();
    let open = text.iter().filter(|line| line.contains("= \"\"")).count();
    let errors = Job::parse("board.toml", &text.join("\n")).unwrap_err();
    let refused =
        errors.problems.iter().filter(|problem| problem.wrong.ends_with(" is not filled in yet"));
    let refused: Vec<String> = refused.map(|problem| text[problem.line - 1].clone()).collect();
    assert_eq!(refused.len(), open, "{errors}");
    for key in [
        "model", "serial", "source", "approval", "tension", "shear", "plate", "anchor", "load",
        "held", "slip",
    ] {
        let begins = format!("{key} = \"\"");
        assert!(refused.iter().any(|line| line.starts_with(&begins)), "{key}: {refused:#?}");
    }
    let mut words: Vec<&str> = text
        .iter()
        .filter_map(|line| line.split(" = ").nth(1)?.strip_prefix('"')?.split('"').next())
        .filter(|value| !value.contains(|c: char| c.is_ascii_digit()) && !["", "x"].contains(value))
        .collect();
    words.sort_unstable();
    words.dedup();
    assert_eq!(
        words,
        [
            "bottom",
            "centre",
            "centre plate",
            "concrete",
            "factored loads",
            "left",
            "not yet",
            "out",
            "right",
            "survey.csv",
            "top",
            "top left",
            "top right",
            "unknown",
            "upper"
        ]
    );
    // Used, they are names of their own.
    let filled = filled_in(&known);
    let job = Job::parse("board.toml", &filled).unwrap_or_else(|errors| panic!("{errors}"));
    assert_eq!(job.emitter.model, None);
    assert_eq!(job.room.unwrap().room.obstacles[0].name, "socket");
}

#[test]
fn what_is_still_as_the_template_has_it_is_named_with_its_lines() {
    let known = Known { name: Some("x"), client: Some("x"), place: Some("x"), by: Some("x") };
    let text = template(&known);
    let names = |text: &str| untouched(text).into_iter().map(|(name, _)| name).collect::<Vec<_>>();
    assert_eq!(names(&text), ["image", "emitter", "adjuster", "band"]);
    let lines = &untouched(&text)[2].1;
    assert_eq!(lines.len(), 3);
    for line in lines {
        assert_eq!(text.lines().nth(line - 1), Some("[[adjuster]]"));
    }
    // One measure of a section is the board's own: its others may well be.
    let text = text
        .replace("diagonal = \"94 in\"", "diagonal = \"88 in\"")
        .replace("right = \"100 mm\"", "right = \"97 mm\"");
    assert_eq!(names(&text), ["emitter", "adjuster", "band"]);
    assert_eq!(untouched(&text)[1].1.len(), 2);
    let all = names(&filled_in(&known));
    assert!(
        all.contains(&"tape") && all.contains(&"mount.plate") && all.contains(&"room"),
        "{all:?}"
    );
    assert_eq!(names("no = toml ["), Vec::<&str>::new());
}

#[test]
fn the_template_shows_every_section_and_key() {
    let text = template(&Known::default());
    let lines: Vec<&str> = text.lines().map(|line| line.trim_start_matches('#')).collect();
    for spec in every_section() {
        let from = lines.iter().position(|line| *line == spec.header());
        let from = from.unwrap_or_else(|| panic!("{} is not in the template", spec.header()));
        let section = lines[from + 1..].iter().take_while(|line| !line.starts_with('['));
        let section: Vec<_> = section.collect();
        for key in spec.keys {
            let begins = format!("{} = ", key.name);
            assert!(
                section.iter().any(|line| line.starts_with(&begins)),
                "{} of {} is not in the template",
                key.name,
                spec.header()
            );
            assert!(!key.about.is_empty(), "{} is not explained", key.name);
        }
    }
}

#[test]
fn what_the_template_comments_out_parses_when_used() {
    // What width and height, and thread, stand in place of.
    let replaced = [("image", "diagonal"), ("image", "aspect"), ("adjuster", "pitch")];
    let text = written(|spec, key| {
        (!replaced.contains(&(spec.name, key.name))).then(|| key.sample.to_owned())
    });
    let job = Job::parse("all", &text).unwrap_or_else(|errors| panic!("{errors}"));
    assert_eq!(job.image.width.0, 2025.0);
    assert_eq!(job.adjusters[0].pitch.0, 0.5);
    assert_eq!(job.stations.len(), 3);
    assert_eq!(job.survey.unwrap().file, "survey.csv");
    assert_eq!(job.head.unwrap().serial, "SG-0007");
    // The samples of the limits are said to be the defaults.
    assert_eq!(job.limits, Default::default());
    assert_eq!(job.emitter.weight_kg, Some(1.2));
}

/// A date fits no key, so a key that takes one without a word is a key that nobody reads.
#[test]
fn every_key_is_read() {
    for spec in every_section() {
        for key in spec.keys {
            let text = written(|other_spec, other| {
                if std::ptr::eq(other_spec, spec) && other.name == key.name {
                    Some("1979-05-27".to_owned())
                } else {
                    other.set.then(|| sample(other)).flatten()
                }
            });
            let errors = Job::parse("dated", &text).unwrap_err();
            assert!(
                errors.problems.iter().any(|problem| problem.wrong.contains("1979-05-27")),
                "{} of {} is not read:\n{errors}",
                key.name,
                spec.header()
            );
        }
    }
}

#[test]
fn the_demonstration_parses_and_says_that_it_is_invented() {
    let job = Job::parse("demo", demo_job()).unwrap_or_else(|errors| panic!("{errors}"));
    assert!(demo_job().contains("invented"));
    assert_eq!(job.about.name, "practice wall");
}
