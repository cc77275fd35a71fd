//! `jobs new`: the job file to begin with. What nobody says is left open in it, and refused until
//! it is filled in.

use crate::report::untouched;
use crate::written;
use anyhow::Result;
use skimgauge_jobfile::{Job, Known, Problem, template};
use skimgauge_steps::typed;
use skimgauge_system::output::{Outputs, Replace};
use std::io::{self, BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Where to, and what is known already.
#[derive(Debug, Clone, clap::Args)]
pub(super) struct New {
    /// Where to; nothing that is there is overwritten.
    pub file: PathBuf,
    /// The job's name in the record. Without this and the next three: asked for on a terminal,
    /// else left open to be filled in.
    #[arg(long, value_name = "TEXT")]
    pub name: Option<String>,
    /// For whom.
    #[arg(long, value_name = "TEXT")]
    pub client: Option<String>,
    /// Where the board hangs.
    #[arg(long, value_name = "TEXT")]
    pub place: Option<String>,
    /// Who installs it.
    #[arg(long, value_name = "TEXT")]
    pub by: Option<String>,
}

/// Writes the file; asks for what is not said where somebody sits at a terminal.
///
/// # Errors
/// Something said cannot stand in a job file, or the file cannot be written: then there is none.
pub(super) fn run(mut new: New, out: &mut dyn Write) -> Result<()> {
    if io::stdin().is_terminal() && io::stdout().is_terminal() {
        ask(&mut new, &mut io::stdin().lock(), out)?;
    }
    let text = text_of(&new)?;
    Outputs::new(Replace::Never).write(&new.file, written::JOB_FILE, text.as_bytes())?;
    let file = new.file.display();
    let typed = typed::path(&file.to_string());
    let open = open_lines(&new.file, &text);
    let sample = untouched::sections(&text).unwrap_or_default();
    let samples = format!("What stands in {sample} is a sample, and of no board");
    if open.is_empty() {
        writeln!(
            out,
            "{file} is a job to begin with. {samples}: put your board's values in, then `skimgauge next --job {typed}` says what comes next."
        )?;
    } else {
        writeln!(
            out,
            "{file} is a job to begin with. Still to be filled in: {}. Until then no command takes it. {samples}: put your board's \
             values in as well, then `skimgauge next --job {typed}` says what comes next.",
            open.join(", ")
        )?;
    }
    Ok(())
}

/// Asks for each that is not said; an empty answer leaves it open.
fn ask(new: &mut New, input: &mut dyn BufRead, out: &mut dyn Write) -> Result<()> {
    let questions = [
        ("Name of the job", &mut new.name),
        ("For whom (client)", &mut new.client),
        ("Where the board hangs", &mut new.place),
        ("Who installs it", &mut new.by),
    ];
    for (question, answer) in questions {
        if answer.is_some() {
            continue;
        }
        write!(out, "{question} (Enter leaves it open): ")?;
        out.flush()?;
        let mut line = String::new();
        input.read_line(&mut line)?;
        *answer = Some(line.trim().to_owned()).filter(|line| !line.is_empty());
    }
    Ok(())
}

fn known(new: &New) -> Known<'_> {
    Known {
        name: said(&new.name),
        client: said(&new.client),
        place: said(&new.place),
        by: said(&new.by),
    }
}

fn said(text: &Option<String>) -> Option<&str> {
    text.as_deref().map(str::trim).filter(|text| !text.is_empty())
}

/// The file's text, if what was said can stand in it: but for what is open it parses.
fn text_of(new: &New) -> Result<String> {
    let known = known(new);
    let filled = Known {
        name: known.name.or(Some("x")),
        client: known.client.or(Some("x")),
        place: known.place.or(Some("x")),
        by: known.by.or(Some("x")),
    };
    // There is no such file yet that could be blamed: what was said is.
    let said = [known.name, known.client, known.place, known.by];
    for (what, text) in SAID.iter().zip(said) {
        anyhow::ensure!(
            text.is_none_or(|text| !text.contains(['\n', '\r'])),
            "Nothing was written. The {what} has a line break in it; write it in one line."
        );
    }
    let text = template(&filled);
    Job::parse("", &text).map_err(|errors| {
        let problems = errors.problems.iter();
        let wrong: Vec<String> = problems
            .map(|problem| {
                let Problem { wrong, expected, line, .. } = problem;
                format!("The {}: {wrong}; expected {expected}", key(&text, *line))
            })
            .collect();
        anyhow::anyhow!("Nothing was written. {}.", wrong.join(". "))
    })?;
    Ok(template(&known))
}

/// What is said of a job, as its file calls it.
const SAID: [&str; 4] = ["name", "client", "place", "by"];

/// The key on a line.
fn key(text: &str, line: usize) -> &str {
    let line = text.lines().nth(line.saturating_sub(1));
    line.and_then(|line| line.split(' ').next()).unwrap_or("")
}

/// What is still open, each with its line.
fn open_lines(file: &Path, text: &str) -> Vec<String> {
    let problems = Job::parse(&file.display().to_string(), text)
        .map_or_else(|errors| errors.problems, |_| Vec::new());
    problems
        .iter()
        .map(|problem| format!("{} (line {})", key(text, problem.line), problem.line))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn new(name: Option<&str>) -> New {
        New {
            file: "board.toml".into(),
            name: name.map(str::to_owned),
            client: None,
            place: None,
            by: None,
        }
    }

    #[test]
    fn what_is_not_said_is_asked_once_and_may_stay_open() {
        let (mut asked, mut out) = (new(Some("room 2")), Vec::new());
        ask(&mut asked, &mut "Larch Lane\n\n R. Oakes \n".as_bytes(), &mut out).unwrap();
        assert_eq!(
            (asked.client.as_deref(), asked.place.as_deref(), asked.by.as_deref()),
            (Some("Larch Lane"), None, Some("R. Oakes"))
        );
        let out = String::from_utf8(out).unwrap();
        assert!(
            !out.contains("Name of the job") && out.contains("client") && out.contains("hangs"),
            "{out}"
        );
        let text = text_of(&asked).unwrap();
        assert_eq!(open_lines(Path::new("board.toml"), &text).len(), 1);
        assert!(
            text.contains("client = \"Larch Lane\"") && text.contains("place = \"\""),
            "{text}"
        );
        // Whoever closes the terminal has answered nothing.
        ask(&mut new(None), &mut "".as_bytes(), &mut Vec::new()).unwrap();
    }

    #[test]
    fn what_cannot_stand_in_a_job_file_is_refused_before_it_is_written() {
        for bad in ["a/b", "nul", "x\u{1b}[2J", "x\u{202e}y", &"x".repeat(61)] {
            let said = text_of(&new(Some(bad))).unwrap_err().to_string();
            assert!(said.starts_with("Nothing was written."), "{bad:?}: {said}");
            assert!(!said.contains("board.toml") && !said.contains(", line "), "{said}");
            assert!(said.contains("The name: "), "what is wrong is named: {said}");
        }
        let two = text_of(&new(Some("reading\nroom"))).unwrap_err().to_string();
        assert_eq!(
            two,
            "Nothing was written. The name has a line break in it; write it in one line."
        );
    }
}
