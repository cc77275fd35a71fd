//! Where the page is, said at the terminal: the code of the phone that acts stands here alone.

use ratatui::crossterm::style::{Color, Stylize};
use skimgauge_page::{Page, in_terminal};
use std::io::{IsTerminal, Write, stdin, stdout};

/// Says it; waits for Enter where a screen is about to cover it and somebody is there.
pub(super) fn say(page: &Page, waits: bool) -> std::io::Result<()> {
    let links = page.links();
    let far = page.served().iter().find(|address| !address.ip().is_loopback());
    let mut out = stdout().lock();
    // The code is drawn black on white whatever the terminal's colours: nothing in it is foreign.
    if stdout().is_terminal() && far.is_some() {
        for line in in_terminal(&links.phone).unwrap_or_default() {
            writeln!(out, "{}", line.with(Color::Black).on(Color::White))?;
        }
    }
    writeln!(out, "board page, on this computer: {}", links.board)?;
    writeln!(out, "phone, acts: {}", links.phone)?;
    writeln!(out, "phone, only looks: {}", links.looks)?;
    match far {
        Some(address) => writeln!(
            out,
            "served to the local network at {address}: others in it can read what is shown"
        )?,
        None => writeln!(out, "served on this computer alone; --lan lets phones open it")?,
    }
    if waits && stdin().is_terminal() {
        write!(out, "Enter: on ")?;
        out.flush()?;
        let mut line = String::new();
        stdin().read_line(&mut line)?;
    }
    out.flush()
}
