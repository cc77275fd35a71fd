//! What only `host/system` does, nobody else in the command does past it.

use std::path::{Path, PathBuf};

/// In no source of the command: its part of `host/system` is named beside it.
const PAST_IT: [(&str, &str); 14] = [
    ("fs::write", "output::Outputs::write"),
    ("File::create", "output::Outputs::write, or stream"),
    ("OpenOptions", "output, input"),
    ("fs::rename", "output::Outputs::write"),
    ("fs::remove_file", "output::remove"),
    ("symlink(", "link::Link"),
    ("fs::read(", "input::read"),
    ("fs::read_to_string", "input::read_text"),
    ("File::open", "input::read, or stream"),
    (".lines().map_while", "input::lines"),
    ("std::println!", "println! as say.rs has it"),
    ("ratatui::init", "terminal::Screen"),
    ("ratatui::try_init", "terminal::Screen"),
    ("cfg(unix)", "one face for unix and Windows"),
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs")
            && path.file_stem().unwrap() != "tests"
        {
            found.push(path);
        }
    }
}

#[test]
fn files_signals_and_terminal_are_reached_through_one_crate() {
    let mut found = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut found);
    assert!(found.len() > 50, "the sources are here");
    let mut wrong = Vec::new();
    for path in found {
        let text = std::fs::read_to_string(&path).unwrap();
        // A file's tests stand at its end.
        let own = ["#[cfg(test)]\nmod tests {", "#[cfg(all(test, unix))]\nmod tests {"]
            .iter()
            .fold(text.as_str(), |own, tests| own.split(tests).next().unwrap_or_default());
        let code = own.lines().filter(|line| !line.trim_start().starts_with("//"));
        for (number, line) in code.enumerate() {
            for (past, instead) in PAST_IT.iter().filter(|(past, _)| line.contains(past)) {
                // The macros' own definition.
                if !path.ends_with("console/say.rs") {
                    wrong.push(format!(
                        "{}: line of code {}: {past}; use {instead}",
                        path.display(),
                        number + 1
                    ));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
