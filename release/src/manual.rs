//! The manual: a page for the program and one for each of its commands.

use crate::Paper;
use clap::{Command, CommandFactory};
use clap_mangen::Man;
use clap_mangen::roff::{Roff, bold, roman};
use skimgauge::command::Cli;
use std::io;

/// What it says where work can hurt somebody is said once, in the README.
const README: &str = include_str!("../../README.md");
const CAUTIONS: &str = "Cautions";

/// A job, by its commands. A test holds each to the program's own parser.
const JOB: [(&str, &str); 12] = [
    ("skimgauge demo --plain", "See a whole job played, with a simulated head."),
    ("skimgauge ports", "Plug the head in, and see that it answers."),
    ("skimgauge jobs new board.toml", "Write a job file; fill in what it leaves open."),
    ("skimgauge next --job board.toml", "How the job stands, and the command for its next step."),
    ("skimgauge setout --job board.toml", "Where everything goes, before anything is drilled."),
    (
        "skimgauge zero --job board.toml --head /dev/ttyACM0 --light 3.002,9.004",
        "Zero the head on its gauge; the two heights are on the gauge's label.",
    ),
    (
        "skimgauge watch --job board.toml --head /dev/ttyACM0",
        "See the gap live, take the stations, have the board judged.",
    ),
    (
        "skimgauge trim --job board.toml --head /dev/ttyACM0",
        "Be told which adjuster to turn, which way and how far.",
    ),
    ("skimgauge prove --job board.toml", "Prove that touch works, on the display itself."),
    (
        "skimgauge handover --job board.toml --out page.html",
        "The page that the client keeps; --pdf writes it as PDF.",
    ),
    ("skimgauge jobs list", "What is in the record."),
    ("skimgauge jobs verify", "Whether the record is as it was written."),
];

const STATUS: [(&str, &str); 5] = [
    ("0", "Done, or within."),
    ("1", "Outside."),
    ("3", "Too close to call, or not everything is known yet."),
    ("2", "An error; the last line says what is wrong and what to do."),
    ("128 and more", "Ended by the signal of that number less 128. Every take is kept."),
];

const FILES: [(&str, &str); 3] = [
    (
        "$XDG_DATA_HOME/skimgauge/record.sqlite",
        "The record, unless --record names another; ~/.local/share stands for the variable where it is \
         not set. Only its owner reads it. A newer skimgauge reads an older one's record.",
    ),
    (
        "$XDG_CONFIG_HOME/skimgauge/settings.toml",
        "Where the firm's jobs are, as in firm = \"postgresql://office/jobs\"; ~/.config stands for the \
         variable where it is not set.",
    ),
    (
        "../share/skimgauge/skimgauge-head.uf2",
        "Beside the program's own folder: the head's firmware, which skimgauge ports --flash takes where \
         no file is named.",
    ),
];

const ENVIRONMENT: [(&str, &str); 1] =
    [("SKIMGAUGE_FIRM", "Where the firm's jobs are; it comes before the settings file.")];

/// Every page, with this day on it.
///
/// # Errors
/// The README has no cautions any more.
pub fn pages(day: &str) -> io::Result<Vec<Paper>> {
    let mut program = Cli::command().disable_help_subcommand(true);
    program.build();
    let mut pages = Vec::new();
    add(&program, &program, day, &mut pages)?;
    Ok(pages)
}

fn add(of: &Command, program: &Command, day: &str, pages: &mut Vec<Paper>) -> io::Result<()> {
    for command in of.get_subcommands().filter(|command| !command.is_hide_set()) {
        add(command, program, day, pages)?;
    }
    let name = program.get_name();
    let version = program.get_version().unwrap_or_default();
    let named = of.clone().subcommand_help_heading("COMMANDS").subcommand_value_name("command");
    let page = Man::new(named)
        .date(day)
        .source(format!("{name} {version}"))
        .manual(format!("{name} manual"));
    let mut bytes = Vec::new();
    page.render_title(&mut bytes)?;
    page.render_name_section(&mut bytes)?;
    page.render_synopsis_section(&mut bytes)?;
    page.render_description_section(&mut bytes)?;
    if of.get_arguments().any(|argument| !argument.is_hide_set()) {
        page.render_options_section(&mut bytes)?;
    }
    if of.has_subcommands() {
        page.render_subcommands_section(&mut bytes)?;
    }
    let is_program = of.get_name() == name;
    let mut rest = Roff::new();
    if is_program {
        list(&mut rest, "A JOB, COMMAND BY COMMAND", &JOB);
    }
    list(&mut rest, "EXIT STATUS", &STATUS);
    if is_program {
        list(&mut rest, "FILES", &FILES);
        list(&mut rest, "ENVIRONMENT", &ENVIRONMENT);
    }
    rest.control("SH", ["CAUTIONS"]);
    rest.text([roman(section(README, CAUTIONS)?)]);
    see_also(&mut rest, of, program);
    rest.to_writer(&mut bytes)?;
    pages.push(Paper { path: format!("man/{}", page.get_filename()), bytes });
    Ok(())
}

fn list(page: &mut Roff, heading: &str, rows: &[(&str, &str)]) {
    page.control("SH", [heading]);
    for (term, meaning) in rows {
        page.control("TP", []);
        page.text([bold(*term)]);
        page.text([roman(*meaning)]);
    }
}

/// The pages that lie beside this one.
fn see_also(page: &mut Roff, of: &Command, program: &Command) {
    let full = |command: &Command| {
        command.get_display_name().unwrap_or_else(|| command.get_name()).to_owned()
    };
    let this = full(of);
    let above = this.rsplit_once('-').map_or(program.get_name(), |(above, _)| above);
    let mut others: Vec<String> = of
        .get_subcommands()
        .chain(program.get_subcommands())
        .filter(|command| !command.is_hide_set())
        .map(full)
        .chain([program.get_name().to_owned(), above.to_owned()])
        .filter(|other| *other != this)
        .collect();
    others.sort();
    others.dedup();
    page.control("SH", ["SEE ALSO"]);
    let mut line = Vec::new();
    for other in others {
        if !line.is_empty() {
            line.push(roman(", "));
        }
        line.extend([bold(other), roman("(1)")]);
    }
    page.text(line);
}

/// A section of the README, its lines as one.
fn section(readme: &str, heading: &str) -> io::Result<String> {
    let begin = format!("\n## {heading}\n");
    let after = readme.split_once(&begin).map(|(_, after)| after);
    let lines = after.and_then(|after| after.split("\n## ").next()).unwrap_or_default().trim();
    if lines.is_empty() {
        return Err(io::Error::other(format!("the README has no section {heading}")));
    }
    Ok(lines.replace('\n', " "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    fn all() -> Vec<(String, String)> {
        let pages = pages("2026-11-27").unwrap();
        pages.into_iter().map(|page| (page.path, String::from_utf8(page.bytes).unwrap())).collect()
    }

    #[test]
    fn every_command_of_a_job_is_one_that_the_program_takes() {
        for (line, _) in JOB {
            Cli::try_parse_from(line.split(' ')).unwrap_or_else(|why| panic!("{line}: {why}"));
        }
    }

    #[test]
    fn every_command_has_a_page_and_every_flag_a_place_on_it() {
        let pages = all();
        let mut flags = 0;
        let mut program = Cli::command().disable_help_subcommand(true);
        program.build();
        let mut waiting = vec![&program];
        while let Some(command) = waiting.pop() {
            waiting.extend(command.get_subcommands());
            let name = command.get_display_name().unwrap_or_else(|| command.get_name());
            let path = format!("man/{name}.1");
            let page = &pages.iter().find(|(found, _)| *found == path).unwrap().1;
            for argument in command.get_arguments() {
                let Some(long) = argument.get_long() else { continue };
                let shown = format!("\\-\\-{}\\fR", long.replace('-', "\\-"));
                assert_eq!(page.contains(&shown), !argument.is_hide_set(), "{name} --{long}");
                flags += 1;
            }
        }
        assert!(flags > 100, "{flags}");
    }

    /// The names by which the program itself finds them are the record's and the firm's own.
    #[test]
    fn the_files_are_where_the_program_looks() {
        let record = FILES[0].0;
        assert!(record.ends_with(&format!("/skimgauge/{}", skimgauge_record::place::FILE_NAME)));
        assert!(FILES[2].0.ends_with(skimgauge::head::flash::beside::NAME));
        assert_eq!(ENVIRONMENT[0].0, skimgauge_firm::address::VARIABLE);
    }

    #[test]
    fn cautions_are_the_readmes_on_every_page() {
        let cautions = section(README, CAUTIONS).unwrap();
        assert!(cautions.contains("licensed electricians") && !cautions.contains("##"));
        for (path, page) in all() {
            assert!(page.contains("licensed electricians"), "{path}");
        }
        assert!(section(README, "No such section").is_err());
    }
}
