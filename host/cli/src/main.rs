//! The `skimgauge` command.

use clap::Parser;
use skimgauge::command::{Cli, sentence};
use skimgauge::report::complaint;
use skimgauge_system::{signals, terminal};
use std::process::ExitCode;

fn main() -> ExitCode {
    mind_the_reader();
    signals::guard_panics();
    let cli = Cli::try_parse().unwrap_or_else(|error| not_understood(&error));
    let ended = cli.run();
    if let Err(error) = &ended {
        terminal::complain(&complaint(&sentence(error)));
    }
    match (signals::caught(), ended) {
        (Some(signal), _) => ExitCode::from(signal.status()),
        (None, Ok(ended)) => ended.into(),
        (None, Err(_)) => ExitCode::from(2),
    }
}

/// Shows help, or says what is wrong with the arguments, which may be names of files that somebody
/// else made up.
fn not_understood(error: &clap::Error) -> ! {
    let text = error.render().to_string();
    if text.chars().any(|c| c != '\n' && terminal::steers(c)) {
        terminal::complain(&text);
        std::process::exit(error.exit_code());
    }
    error.exit()
}

/// `println!` panics when the output cannot be written (`skimgauge jobs list | head -1`): an end
/// like any other, and said like one. What was to be kept is kept before it is printed.
fn mind_the_reader() {
    let others = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let text = panic.payload_as_str().unwrap_or_default();
        if let Some(why) = text.strip_prefix("failed printing to stdout: ") {
            let (why, number) = why.split_once(" (os error ").unwrap_or((why, ""));
            let number: Option<i32> = number.trim_end_matches(')').parse().ok();
            let kind = number.map(|number| std::io::Error::from_raw_os_error(number).kind());
            match kind {
                Some(std::io::ErrorKind::BrokenPipe) => {
                    terminal::complain("Nobody reads the output any more.");
                }
                _ => terminal::complain(&format!("The output cannot be written: {why}.")),
            }
            std::process::exit(signals::caught().map_or(2, |signal| i32::from(signal.status())));
        }
        others(panic);
    }));
}
