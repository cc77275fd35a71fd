//! The commands, one file each. To add one: a file with `Args` (clap) and `run(Args) -> Outcome`, a
//! line in `Command`, a line in `Cli::run`.

pub mod demo;
pub mod fixings;
pub mod handover;
pub mod jobs;
pub mod next;
pub mod page;
pub mod ports;
pub mod prove;
pub mod setout;
pub mod square;
pub mod survey;
pub mod trim;
pub mod watch;
pub mod zero;

use crate::lengths::Lengths;
use crate::outcome::Outcome;
use clap::{Parser, Subcommand};
use skimgauge_handover::Units;
use skimgauge_system::terminal::shown_lines;

/// Where somebody who sees the commands for the first time begins.
const BEGIN: &str = "Begin with `skimgauge demo`, which plays a whole job. For one of your own write a job file \
                     (`skimgauge jobs new FILE`); from then on `skimgauge next --job FILE` says what comes next.";

/// Gap and tilt of a touch plane, live, judged against the job and kept in its record.
///
/// Exit status: 0 done or within, 1 outside, 3 too close to call or not done, 2 an error.
#[derive(Debug, Parser)]
#[command(name = "skimgauge", version, max_term_width = 100, after_help = BEGIN)]
pub struct Cli {
    /// What lengths are shown in: `mm`, or `inch` (fractions to 1/64, small gaps in decimals).
    /// JSON and CSV stay in mm.
    #[arg(long, value_name = "UNIT", default_value_t = Units::Mm, global = true)]
    units: Units,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Play a whole job with a simulated head, board and installer.
    Demo(demo::Args),
    /// The job file to begin with, and everything about the record.
    Jobs(jobs::Args),
    /// Say how the job stands, step by step, and what comes next.
    Next(next::Args),
    /// Find heads on this computer's ports, walk the first start of one, put firmware onto one.
    Ports(ports::Args),
    /// Watch gap and tilt live, take the stations, judge.
    Watch(watch::Args),
    /// Say which adjuster to turn, which way and how far.
    Trim(trim::Args),
    /// Show the work in a browser: on the board itself, and on a phone.
    Page(page::Args),
    /// Find a head's constants, or check that they still hold.
    Zero(zero::Args),
    /// Say where everything goes on the wall, before anything is drilled.
    Setout(setout::Args),
    /// Share loads among a bracket's anchors and compare them with their approval.
    Fixings(fixings::Args),
    /// Say how far the image is from its rectangle, and what to turn first.
    Square(square::Args),
    /// Propose points on the board, and work its shape out from them.
    Survey(survey::Args),
    /// Prove that touch works, by taps and strokes on the display itself.
    Prove(prove::Args),
    /// Make the page that the client keeps.
    Handover(handover::Args),
}

/// An error for people: what is wrong, then what lies behind it, without the system's error
/// numbers.
pub fn sentence(error: &anyhow::Error) -> String {
    let mut causes = error.chain().map(|cause| {
        let cause = cause.to_string();
        cause.split(" (os error ").next().unwrap_or_default().to_owned()
    });
    let first = causes.next().unwrap_or_default();
    let behind: Vec<String> = causes.collect();
    // One bracket, however much lies behind.
    let behind =
        behind.iter().map(|cause| cause.trim_end_matches('.')).collect::<Vec<_>>().join(": ");
    let text = match behind.as_str() {
        "" => first,
        behind if first.ends_with(['.', '!', '?']) => format!("{first} ({behind}.)"),
        behind => format!("{first}: {behind}"),
    };
    // Names from a file or a record stand in it: nothing of them may steer the screen.
    shown_lines(&text).into_owned()
}

impl Cli {
    /// Runs the command.
    ///
    /// # Errors
    /// One sentence for the user.
    pub fn run(self) -> Outcome {
        let units = Lengths(self.units);
        match self.command {
            Command::Demo(args) => demo::run(args, units),
            Command::Jobs(args) => jobs::run(args, units),
            Command::Next(args) => next::run(args),
            Command::Ports(args) => ports::run(args, units),
            Command::Watch(args) => watch::run(args, units),
            Command::Trim(args) => trim::run(args, units),
            Command::Page(args) => page::run(args, units),
            Command::Zero(args) => zero::run(args, units),
            Command::Setout(args) => setout::run(args, units),
            Command::Fixings(args) => fixings::run(args, units),
            Command::Square(args) => square::run(args, units),
            Command::Survey(args) => survey::run(args, units),
            Command::Prove(args) => prove::run(args, units),
            Command::Handover(args) => handover::run(args, units.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn what_lies_behind_an_error_stands_behind_it() {
        let io = || anyhow::Error::new(std::io::Error::from_raw_os_error(2));
        let told = |context: &'static str| sentence(&io().context(context));
        // In the system's own words and language.
        let words = io().to_string();
        let why = words.split(" (os error").next().unwrap().trim_end_matches('.');
        assert_eq!(
            told("survey.csv cannot be read."),
            format!("survey.csv cannot be read. ({why}.)")
        );
        assert_eq!(told("survey.csv"), format!("survey.csv: {why}"));
        let deep = io().context("survey.csv cannot be read.").context("Nothing could be kept.");
        assert_eq!(
            sentence(&deep),
            format!("Nothing could be kept. (survey.csv cannot be read: {why}.)")
        );
    }

    #[test]
    fn every_flag_is_sound_and_explained() {
        Cli::command().debug_assert();
        fn explained(command: &clap::Command) {
            for argument in command.get_arguments() {
                assert!(
                    argument.get_help().is_some(),
                    "{} of {}",
                    argument.get_id(),
                    command.get_name()
                );
            }
            command.get_subcommands().for_each(explained);
        }
        explained(&Cli::command());
    }
}
