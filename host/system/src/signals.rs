//! Signals as the end of the work: what is being kept is kept, the screen is given back, the exit
//! status says which.
//!
//! While a [`Heed`] is held, the first signal is noted and the work looks for it between two of its
//! steps. Another a second later, or the first that the work does not come to within its patience,
//! ends the process at once; the screen is given back even then. Without a `Heed` signals act as
//! everywhere.
//!
//! On unix: SIGINT, SIGTERM, SIGHUP, SIGQUIT, those left out that were ignored when the program
//! started (`nohup`, a shell's background job). On Windows: Ctrl-C and Ctrl-Break as an interrupt,
//! the closing of the console and the end of the session as a hang-up, the computer's shutting down
//! as a wish to end. Windows waits some five seconds for a program whose console closes, for as long
//! as it is not told that the event was dealt with: so it is not told.

use crate::terminal;
use std::sync::{Condvar, Mutex, MutexGuard, Once, PoisonError};
use std::thread::ThreadId;
use std::time::{Duration, Instant};

/// What ended the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// SIGINT, Ctrl-C.
    Interrupt,
    /// SIGTERM.
    Terminate,
    /// SIGHUP: the terminal is gone.
    HangUp,
    /// SIGQUIT.
    Quit,
    /// A thread of the program panicked.
    Fault,
}

impl Ending {
    /// The exit status: 128 and the signal's number, as shells have it; 2 for a fault of the
    /// program.
    pub fn status(self) -> u8 {
        match self {
            Self::Interrupt => 130,
            Self::Terminate => 143,
            Self::HangUp => 129,
            Self::Quit => 131,
            Self::Fault => 2,
        }
    }
}

#[derive(Debug)]
struct State {
    caught: Option<Ending>,
    /// When that was.
    since: Option<Instant>,
    /// The patience of each [`Heed`] held.
    heeding: Vec<Duration>,
    /// What a thread said that panicked while the screen was up.
    fault: Option<String>,
}

static STATE: Mutex<State> =
    Mutex::new(State { caught: None, since: None, heeding: Vec::new(), fault: None });
static CAUGHT: Condvar = Condvar::new();
/// Signals within so long are one wish: a terminal that is closed tells its shell, and both tell
/// the program.
const IN_ONE_GO: Duration = Duration::from_secs(1);
static LISTENING: Once = Once::new();

fn state() -> MutexGuard<'static, State> {
    // Nothing is done under this lock that could leave it halfway.
    STATE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What ended the work, if anything did so far.
pub fn caught() -> Option<Ending> {
    state().caught
}

/// While this is held, a signal is noted instead of ending the process.
#[derive(Debug)]
pub struct Heed {
    patience: Duration,
}

impl Heed {
    /// From now on. A signal that the work has not come to within `patience` ends the process.
    pub fn new(patience: Duration) -> Self {
        LISTENING.call_once(listen);
        state().heeding.push(patience);
        Self { patience }
    }

    /// What ended the work; to be asked between two of its steps.
    pub fn ended(&self) -> Option<Ending> {
        caught()
    }

    /// Waits for the end, at most so long; without a limit for as long as it takes.
    pub fn wait(&self, at_most: Option<Duration>) -> Option<Ending> {
        let started = Instant::now();
        let mut state = state();
        loop {
            if state.caught.is_some() {
                return state.caught;
            }
            state = match at_most {
                None => CAUGHT.wait(state).unwrap_or_else(PoisonError::into_inner),
                Some(at_most) => {
                    let left = at_most.saturating_sub(started.elapsed());
                    if left.is_zero() {
                        return None;
                    }
                    CAUGHT.wait_timeout(state, left).unwrap_or_else(PoisonError::into_inner).0
                }
            };
        }
    }
}

impl Drop for Heed {
    fn drop(&mut self) {
        let mut state = state();
        if let Some(at) = state.heeding.iter().position(|patience| *patience == self.patience) {
            state.heeding.swap_remove(at);
        }
        if let Some(fault) = state.fault.take() {
            drop(state);
            terminal::complain(&fault);
        }
    }
}

/// A signal has come: `false` where nobody heeds it and it is to act as everywhere.
fn came(ending: Ending) -> bool {
    let mut state = state();
    // Also after the work, while its result is printed.
    if state.since.is_some_and(|since| since.elapsed() < IN_ONE_GO) {
        return true;
    }
    let Some(patience) = state.heeding.iter().max().copied() else { return false };
    match state.caught {
        // A fault is no impatience.
        Some(_) if ending == Ending::Fault => return true,
        Some(first) => {
            drop(state);
            leave(first);
        }
        None => (),
    }
    (state.caught, state.since) = (Some(ending), Some(Instant::now()));
    drop(state);
    CAUGHT.notify_all();
    let _ = std::thread::Builder::new().name("patience".into()).spawn(move || {
        std::thread::sleep(patience);
        // What is past its heeding prints its result, and is let.
        if !self::state().heeding.is_empty() {
            leave(ending);
        }
    });
    true
}

/// Ends the process here and now. What was committed is on disk; what was not is undone when the
/// record is next opened.
fn leave(ending: Ending) -> ! {
    terminal::restore_at_once();
    std::process::exit(i32::from(ending.status()))
}

/// To be called once, by the thread that does the work. From now on a panic gives the screen back
/// before it is told; one on another thread ends the work as a signal does, and is told after that.
pub fn guard_panics() {
    let owner: ThreadId = std::thread::current().id();
    let others = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        if std::thread::current().id() != owner {
            let mut state = state();
            if !state.heeding.is_empty() {
                state.fault.get_or_insert_with(|| panic.to_string());
                drop(state);
                came(Ending::Fault);
                return;
            }
        } else {
            terminal::restore();
        }
        others(panic);
    }));
}

#[cfg(unix)]
fn listen() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGQUIT, SIGTERM};
    use signal_hook::iterator::Signals;
    let wanted =
        [SIGINT, SIGTERM, SIGHUP, SIGQUIT].into_iter().filter(|signal| !is_ignored(*signal));
    // Where the system gives no handler or no thread, signals act as everywhere.
    let Ok(mut signals) = Signals::new(wanted) else { return };
    let _ = std::thread::Builder::new().name("signals".into()).spawn(move || {
        for signal in signals.forever() {
            let ending = match signal {
                SIGTERM => Ending::Terminate,
                SIGHUP => Ending::HangUp,
                SIGQUIT => Ending::Quit,
                _ => Ending::Interrupt,
            };
            if !came(ending) {
                let _ = signal_hook::low_level::emulate_default_handler(signal);
            }
        }
    });
}

/// Whether the program was started with this signal ignored: then it stays so.
#[cfg(unix)]
#[allow(
    unsafe_code,
    reason = "asking for a disposition without setting one: no library gives it safely"
)]
fn is_ignored(signal: i32) -> bool {
    // SAFETY: a null new action changes nothing; the old one is written whole where the call
    // returns 0.
    unsafe {
        let mut now = std::mem::MaybeUninit::<libc::sigaction>::zeroed();
        libc::sigaction(signal, std::ptr::null(), now.as_mut_ptr()) == 0
            && now.assume_init().sa_sigaction == libc::SIG_IGN
    }
}

#[cfg(windows)]
fn listen() {
    use windows_sys::Win32::System::Console::SetConsoleCtrlHandler;
    // SAFETY: what is handed over is a function that is there for as long as the program, takes a
    // number and gives one; the system calls it on a thread of its own, and it unwinds nowhere.
    #[allow(
        unsafe_code,
        reason = "the libraries for this return from a closed console at once, and are ended for it"
    )]
    unsafe {
        // Where the system gives no handler, these act as everywhere.
        SetConsoleCtrlHandler(Some(console_says), 1);
    }
}

/// What the console told, which it does on a thread of the system's own.
#[cfg(windows)]
extern "system" fn console_says(event: u32) -> windows_sys::core::BOOL {
    let ending = ending_of(event);
    if !came(ending) {
        leave(ending);
    }
    if ending == Ending::Interrupt {
        return 1;
    }
    // Whoever returns from here is ended at once: the work, which ends the process, comes first.
    loop {
        std::thread::sleep(IN_ONE_GO);
    }
}

/// The console's events as their like on unix.
#[cfg(windows)]
fn ending_of(event: u32) -> Ending {
    use windows_sys::Win32::System::Console::{
        CTRL_BREAK_EVENT, CTRL_C_EVENT, CTRL_SHUTDOWN_EVENT,
    };
    match event {
        CTRL_C_EVENT | CTRL_BREAK_EVENT => Ending::Interrupt,
        CTRL_SHUTDOWN_EVENT => Ending::Terminate,
        // CTRL_CLOSE_EVENT, CTRL_LOGOFF_EVENT.
        _ => Ending::HangUp,
    }
}

#[cfg(all(test, windows))]
mod tests {
    use super::*;

    #[test]
    fn what_the_console_tells_ends_the_work_and_not_the_process() {
        let heed = Heed::new(Duration::from_secs(3_600));
        // Ctrl-C, and Ctrl-Break in one breath with it.
        assert_eq!((console_says(0), console_says(1)), (1, 1));
        assert_eq!(heed.ended(), Some(Ending::Interrupt));
        assert_eq!([2, 5, 6].map(ending_of), [Ending::HangUp, Ending::HangUp, Ending::Terminate]);
    }
}
