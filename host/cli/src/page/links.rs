//! Where the page is, said at the terminal: the code of the phone that acts stands here alone.

use crate::shell::Mode;
use ratatui::crossterm::style::{Color, Stylize};
use skimgauge_page::{Page, in_terminal};
use std::io::{IsTerminal, Write, stderr, stdin, stdout};

/// What helps where the network keeps its devices apart.
const NOT_REACHED: &str = "a phone does not open it? Guest networks keep devices apart: make a hotspot on a phone, join this \
                           computer to it, and start again";

/// Says where the proof's page is; to the standard error where the standard output is for JSON.
pub(super) fn say_proof(page: &Page, quiet: bool) -> std::io::Result<()> {
    let links = page.links();
    let lines = [
        format!("proof, on the computer that the display's touch is plugged into: {}", links.proof),
        format!("phone, acts: {}", links.phone),
    ];
    for line in lines {
        if quiet {
            eprintln!("{line}");
        } else {
            println!("{line}");
        }
    }
    Ok(())
}

/// Says it; waits for Enter where a screen is about to cover it and somebody is there. Beside lines
/// for programs it goes to the standard error.
pub(super) fn say(page: &Page, mode: Mode) -> std::io::Result<()> {
    if mode == Mode::Json {
        return tell(page, stderr().is_terminal(), &mut stderr().lock());
    }
    let mut out = stdout().lock();
    tell(page, stdout().is_terminal(), &mut out)?;
    if mode == Mode::Screen && stdin().is_terminal() {
        write!(out, "Enter: on ")?;
        out.flush()?;
        let mut line = String::new();
        stdin().read_line(&mut line)?;
    }
    out.flush()
}

fn tell(page: &Page, on_terminal: bool, out: &mut impl Write) -> std::io::Result<()> {
    let links = page.links();
    let far = page.served().iter().find(|address| !address.ip().is_loopback());
    // The code is drawn black on white whatever the terminal's colours: nothing in it is foreign.
    if on_terminal && far.is_some() {
        for line in in_terminal(&links.phone).unwrap_or_default() {
            writeln!(out, "{}", line.with(Color::Black).on(Color::White))?;
        }
    }
    writeln!(out, "board page, on this computer: {}", links.board)?;
    writeln!(out, "phone, acts: {}", links.phone)?;
    writeln!(out, "phone, only looks: {}", links.looks)?;
    match far {
        Some(address) => {
            writeln!(
                out,
                "served to the local network at {address}: others in it can read what is shown"
            )?;
            writeln!(out, "{NOT_REACHED}")?;
        }
        None => writeln!(out, "served on this computer alone; --lan lets phones open it")?,
    }
    out.flush()
}
