//! What a shell completes after `skimgauge`, for each shell that people use.

use crate::Paper;
use clap::CommandFactory;
use clap_complete::{Generator, Shell, generate};
use skimgauge::command::Cli;

/// One script for each shell, named as the shell looks for it.
pub fn scripts() -> Vec<Paper> {
    [Shell::Bash, Shell::Zsh, Shell::Fish, Shell::PowerShell].map(script).into()
}

fn script(shell: Shell) -> Paper {
    let mut command = Cli::command();
    let name = command.get_name().to_owned();
    let mut bytes = Vec::new();
    generate(shell, &mut command, &name, &mut bytes);
    Paper { path: format!("completions/{}", shell.file_name(&name)), bytes }
}
