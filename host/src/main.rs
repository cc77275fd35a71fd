//! The `skimgauge` command.

use clap::Parser;
use skimgauge::command::Cli;
use std::process::ExitCode;

fn main() -> ExitCode {
    mind_the_reader();
    match Cli::parse().run() {
        Ok(ended) => ended.into(),
        Err(error) => {
            eprintln!("{}", skimgauge::command::sentence(&error));
            ExitCode::from(2)
        }
    }
}

/// `println!` panics when whoever read the output has gone (`skimgauge jobs list | head -1`): an end like any other, and
/// said like one. What was to be kept is kept before it is printed.
fn mind_the_reader() {
    let others = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let text = panic.payload_as_str().unwrap_or_default();
        if text.starts_with("failed printing to stdout") {
            eprintln!("Nobody reads the output any more.");
            std::process::exit(2);
        }
        others(panic);
    }));
}
