//! The `skimgauge` command.

use clap::Parser;
use skimgauge::command::Cli;
use std::process::ExitCode;

fn main() -> ExitCode {
    match Cli::parse().run() {
        Ok(ended) => ended.into(),
        Err(error) => {
            eprintln!("{}", skimgauge::command::sentence(&error));
            ExitCode::from(2)
        }
    }
}
