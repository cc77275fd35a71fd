//! A terminal of the tests' own: what a command did to it, and how it left it.

use rustix::fs::{Mode, OFlags};
use rustix::process::{Pid, Signal, kill_process};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Termios, Winsize, tcgetattr, tcsetwinsize};
use std::ffi::CString;
use std::fs::File;
use std::io::{Read, Write};
use std::os::fd::{AsFd, OwnedFd};
use std::process::{Child, Command};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Nothing in these tests takes longer, on a machine that is busy with others.
const PATIENCE: Duration = Duration::from_secs(30);

/// A terminal of 80 by 24.
pub struct Terminal {
    master: Option<File>,
    name: CString,
    /// Held, so that the settings can be asked for when the command is gone.
    slave: OwnedFd,
    before: String,
    seen: Arc<Mutex<Vec<u8>>>,
}

/// A command on a terminal.
pub struct Running(Child);

impl Terminal {
    /// As a shell has it. `reads`: what is written on it is taken off and kept; else it fills up.
    ///
    /// # Panics
    /// This computer gives none.
    pub fn new(reads: bool) -> Self {
        let _alone = crate::command::STARTING.lock();
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)
            .expect("a pseudo-terminal");
        grantpt(&master).and_then(|()| unlockpt(&master)).expect("a pseudo-terminal");
        let name = ptsname(&master, Vec::new()).expect("its name");
        let slave = open(&name);
        tcsetwinsize(&slave, Winsize { ws_row: 24, ws_col: 80, ws_xpixel: 0, ws_ypixel: 0 })
            .expect("its size");
        let before = settings(&slave);
        let master = File::from(master);
        let seen = Arc::new(Mutex::new(Vec::new()));
        if reads {
            let (mut from, to) =
                (master.try_clone().expect("a second hand on it"), Arc::clone(&seen));
            std::thread::spawn(move || {
                let mut piece = [0; 4_096];
                while let Ok(length @ 1..) = from.read(&mut piece) {
                    to.lock().expect("nobody panicked").extend_from_slice(&piece[..length]);
                }
            });
        }
        Self { master: Some(master), name, slave, before, seen }
    }

    /// Starts a command on it. `owns`: it hears of it when the terminal hangs up.
    ///
    /// # Panics
    /// It cannot be started.
    pub fn start(&self, mut command: Command, owns: bool) -> Running {
        if owns {
            let mut with_session = Command::new("setsid");
            with_session.arg("--ctty").arg(command.get_program()).args(command.get_args());
            command.get_envs().filter_map(|(name, value)| Some((name, value?))).for_each(
                |(name, value)| {
                    with_session.env(name, value);
                },
            );
            command.get_current_dir().into_iter().for_each(|folder| {
                with_session.current_dir(folder);
            });
            command = with_session;
        }
        let end = || open(&self.name);
        let child = crate::command::started(command.stdin(end()).stdout(end()).stderr(end()));
        Running(child)
    }

    /// Types this.
    ///
    /// # Panics
    /// The terminal is gone.
    pub fn type_in(&self, text: &str) {
        self.master
            .as_ref()
            .expect("the terminal is there")
            .write_all(text.as_bytes())
            .expect("the terminal takes it");
    }

    /// Everything written on it so far.
    ///
    /// # Panics
    /// The thread that reads it did.
    pub fn seen(&self) -> String {
        String::from_utf8_lossy(&self.seen.lock().expect("nobody panicked")).into_owned()
    }

    /// Waits until this has been written on it.
    ///
    /// # Panics
    /// It does not come.
    pub fn await_text(&self, what: &str) {
        let started = Instant::now();
        while !self.seen().contains(what) {
            assert!(started.elapsed() < PATIENCE, "no {what:?} on the terminal: {:?}", self.seen());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Waits until the command has made it its own.
    ///
    /// # Panics
    /// It does not.
    pub fn await_raw(&self) {
        let started = Instant::now();
        while settings(&self.slave) == self.before {
            assert!(started.elapsed() < PATIENCE, "the terminal is never taken");
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Hangs up.
    pub fn hang_up(&mut self) {
        self.master = None;
    }

    /// Holds it to what it was before anything ran on it: settings, screen, cursor.
    ///
    /// # Panics
    /// It is not as it was.
    pub fn is_as_before(&self) {
        self.has_its_settings();
        // What the last ones left, and what came before them, may come in that order.
        let started = Instant::now();
        let left = |seen: &str| {
            let last = |what: &str| seen.rfind(what);
            last(LEAVE) > last(ENTER) && last(SHOW) >= last(HIDE)
        };
        while !left(&self.seen()) {
            assert!(
                started.elapsed() < PATIENCE,
                "the screen was not given back: {:?}",
                self.seen()
            );
            std::thread::sleep(Duration::from_millis(10));
        }
        assert!(self.seen().contains(ENTER), "there was no screen: {:?}", self.seen());
    }

    /// Holds its settings alone to what they were.
    ///
    /// # Panics
    /// They are not.
    pub fn has_its_settings(&self) {
        assert_eq!(
            settings(&self.slave),
            self.before,
            "the terminal's settings are not what they were"
        );
    }

    /// What was written after the screen was left.
    pub fn after_the_screen(&self) -> String {
        let seen = self.seen();
        seen.rfind(LEAVE).map_or_else(String::new, |at| seen[at + LEAVE.len()..].to_owned())
    }
}

/// Alternate screen on and off, cursor hidden and shown (xterm's control sequences, DEC private
/// modes 1049 and 25).
const ENTER: &str = "\x1b[?1049h";
const LEAVE: &str = "\x1b[?1049l";
const HIDE: &str = "\x1b[?25l";
const SHOW: &str = "\x1b[?25h";

impl Running {
    /// Sends a signal.
    ///
    /// # Panics
    /// There is no such process any more.
    pub fn signal(&self, signal: Signal) {
        let process = Pid::from_child(&self.0);
        kill_process(process, signal).expect("it is there");
    }

    /// Waits for its end: the exit status, `None` if a signal killed it.
    ///
    /// # Panics
    /// It does not end.
    pub fn ended(mut self) -> Option<i32> {
        let started = Instant::now();
        loop {
            if let Some(status) = self.0.try_wait().expect("it can be waited for") {
                return status.code();
            }
            assert!(started.elapsed() < PATIENCE, "it does not end");
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn open(name: &CString) -> OwnedFd {
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    rustix::fs::open(name.as_c_str(), flags, Mode::empty()).expect("the terminal opens")
}

/// Everything that `stty` shows, as text.
fn settings(terminal: impl AsFd) -> String {
    let Termios { input_modes, output_modes, control_modes, local_modes, special_codes, .. } =
        tcgetattr(terminal).expect("the terminal's settings");
    format!("{input_modes:?} {output_modes:?} {control_modes:?} {local_modes:?} {special_codes:?}")
}
