//! The terminal: taken as a whole for a screen and given back whatever happens; and what may be
//! printed on it.

mod shown;

pub use shown::Shown;
pub use skimgauge_quantity::{shown, shown_json, shown_lines, steers};

use crossterm::cursor::{MoveToColumn, Show};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use crossterm::{execute, queue};
use std::fmt;
use std::fs::File;
use std::io::{self, Write, stderr, stdout};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Somebody has the screen.
static UP: AtomicBool = AtomicBool::new(false);

/// A terminal that takes nothing any more is not waited for longer than this.
const TAKES_FOR: Duration = Duration::from_millis(300);

/// The whole terminal: raw, on its alternate screen. Given back when this goes, when the program
/// panics ([`crate::signals::guard_panics`]) and when a signal ends it.
#[derive(Debug)]
pub struct Screen(());

impl Screen {
    /// Takes it.
    ///
    /// # Errors
    /// It is no terminal, or cannot do this; it is then as it was.
    pub fn enter() -> io::Result<Self> {
        enable_raw_mode()?;
        UP.store(true, Ordering::SeqCst);
        let screen = Self(());
        execute!(stdout(), EnterAlternateScreen)?;
        Ok(screen)
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        restore();
    }
}

/// Gives the terminal back, if anybody has it.
pub fn restore() {
    if UP.swap(false, Ordering::SeqCst) {
        // Neither waits for the other to work: a terminal that hung up takes no text.
        let _ = disable_raw_mode();
        let _ = execute!(stdout(), LeaveAlternateScreen, Show);
    }
}

/// [`restore`] from a thread that must not wait: whoever draws may hold the output, and the
/// terminal may take no more.
pub(crate) fn restore_at_once() {
    if !UP.swap(false, Ordering::SeqCst) {
        return;
    }
    let _ = disable_raw_mode();
    let (Ok(mut past_the_lock), Ok(leave)) = (output_itself(), leave()) else { return };
    let (done, waited) = std::sync::mpsc::channel();
    let _ = std::thread::Builder::new().spawn(move || {
        let _ = past_the_lock.write_all(&leave);
        let _ = done.send(());
    });
    let _ = waited.recv_timeout(TAKES_FOR);
}

/// What leaves the alternate screen and shows the cursor.
fn leave() -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    execute!(bytes, LeaveAlternateScreen, Show)?;
    Ok(bytes)
}

/// Standard output without its lock and its buffer.
fn output_itself() -> io::Result<File> {
    #[cfg(unix)]
    let output = std::os::fd::AsFd::as_fd(&stdout()).try_clone_to_owned()?;
    #[cfg(windows)]
    let output = std::os::windows::io::AsHandle::as_handle(&stdout()).try_clone_to_owned()?;
    Ok(File::from(output))
}

/// What the program prints, as [`shown_lines`] lets it pass. The host's `println!` and `print!`
/// come here.
#[doc(hidden)]
pub fn say(what: fmt::Arguments<'_>) {
    // The standard macro, so that tests capture it, and a reader who is gone ends the program as
    // for every other.
    print!("{}", shown_lines(&what.to_string()));
}

/// What the program prints on its standard error; where nobody reads that, nothing is said.
pub fn complain(what: &str) {
    let _ = writeln!(stderr(), "{}", shown_lines(what.trim_end()));
}

/// Whether the standard input may be read: a program in the background of its terminal would be
/// stopped by that.
pub fn is_in_front() -> bool {
    use std::io::IsTerminal;
    !io::stdin().is_terminal() || owns_terminal()
}

#[cfg(unix)]
fn owns_terminal() -> bool {
    rustix::termios::tcgetpgrp(io::stdin()).is_ok_and(|group| group == rustix::process::getpgrp())
}

#[cfg(not(unix))]
fn owns_terminal() -> bool {
    true
}

/// A line that is written over again and again, on a terminal alone.
///
/// # Errors
/// The terminal is gone.
pub fn rewrite_line(line: &str) -> io::Result<()> {
    let mut out = stdout().lock();
    // By the library: an older console of Windows wants to be asked otherwise.
    queue!(out, MoveToColumn(0), Clear(ClearType::UntilNewLine))?;
    write!(out, "{}", shown(line))?;
    out.flush()
}
