//! The image's USB serial port as a pseudo-terminal, paced by the real clock: for programs that
//! open a port, and people.
//!
//! As on a real head, nothing is sent while nobody has the port open, what a slow reader leaves
//! waits in the head, and a head that restarts drops off the bus: the terminal hangs up, and the
//! same name leads to a new one.

use crate::head::EmulatedHead;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{OFlags, fcntl_setfl};
use rustix::io::{Errno, FdFlags, fcntl_setfd, read, write};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use skimgauge_bench::Bench;
use std::io;
use std::os::fd::OwnedFd;
use std::os::unix::fs::OpenOptionsExt;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The image runs so far between two looks at the terminal.
const SLICE_US: u64 = 2_000;
/// Further behind the real clock, the time is let go: a computer this slow slows the head down.
/// Less is caught up with.
const FURTHEST_BEHIND: Duration = Duration::from_secs(2);
/// Bytes that wait for the terminal's reader before the port is left unread.
const WAITING: usize = 4_096;

/// A terminal that nobody has is looked at every so many slices.
const LOOK_EVERY: u32 = 25;

type Order = Box<dyn FnOnce(&mut EmulatedHead) + Send>;

/// The image at a port of this computer.
pub struct Terminal {
    name: Name,
    bench: Bench,
    orders: Option<Sender<Order>>,
    thread: Option<JoinHandle<io::Result<()>>>,
}

impl Terminal {
    /// Runs the head in a thread of its own.
    ///
    /// # Errors
    /// This computer gives no pseudo-terminal.
    pub fn new(head: EmulatedHead) -> io::Result<Self> {
        let name = Name::new();
        let master = plug(&name)?;
        let bench = head.bench().clone();
        let (orders, ordered) = channel();
        let plugged = name.clone();
        let builder = std::thread::Builder::new().name("head".into());
        let thread = builder.spawn(move || live(head, master, &plugged, &ordered))?;
        Ok(Self { name, bench, orders: Some(orders), thread: Some(thread) })
    }

    /// The port's name.
    pub fn name(&self) -> &str {
        &self.name.0
    }

    /// The parts, and the room that they measure.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// Does something with the head between two of its steps.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn with_head<T: Send + 'static>(
        &self,
        act: impl FnOnce(&mut EmulatedHead) -> T + Send + 'static,
    ) -> io::Result<T> {
        let (tell, told) = channel();
        let order: Order = Box::new(move |head| {
            // Nobody waits for the answer only when the waiting thread has ended.
            let _ = tell.send(act(head));
        });
        let gone = || io::Error::other("the emulator ended");
        self.orders.as_ref().and_then(|orders| orders.send(order).ok()).ok_or_else(gone)?;
        told.recv().map_err(|_| gone())
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        self.orders = None;
        if let Some(thread) = self.thread.take() {
            // Its error was told to whoever asked last.
            let _ = thread.join();
        }
        // In the folder for temporary files.
        let _ = std::fs::remove_file(&self.name.0);
    }
}

/// A link in the file system, which stays while terminals come and go.
#[derive(Debug, Clone)]
struct Name(String);

impl Name {
    fn new() -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("skimgauge-head-{}-{number}", std::process::id());
        Self(std::env::temp_dir().join(name).to_string_lossy().into_owned())
    }
}

/// A new terminal under this name.
fn plug(Name(name): &Name) -> io::Result<OwnedFd> {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
    // A program started meanwhile must not hold the terminal open.
    fcntl_setfd(&master, FdFlags::CLOEXEC)?;
    grantpt(&master)?;
    unlockpt(&master)?;
    let mut settings = tcgetattr(&master)?;
    settings.make_raw();
    tcsetattr(&master, OptionalActions::Now, &settings)?;
    fcntl_setfl(&master, OFlags::NONBLOCK)?;
    let terminal = ptsname(&master, Vec::new())?.into_string().map_err(io::Error::other)?;
    // A terminal that was never open does not say that nobody has it; one that was closed does.
    let without_control = OFlags::NOCTTY.bits() as i32;
    drop(
        std::fs::OpenOptions::new()
            .read(true)
            .write(true)
            .custom_flags(without_control)
            .open(&terminal)?,
    );
    match std::fs::remove_file(name) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => std::os::unix::fs::symlink(terminal, name)?,
    }
    Ok(master)
}

fn live(
    mut head: EmulatedHead,
    mut master: OwnedFd,
    name: &Name,
    ordered: &Receiver<Order>,
) -> io::Result<()> {
    let mut epoch = Instant::now();
    let begun_us = head.now_us();
    let mut waiting = Vec::new();
    let mut unread = false;
    let mut open = false;
    let mut starts = head.starts();
    let mut round = 0_u32;
    let mut buffer = [0; 1024];
    loop {
        if !obey(&mut head, ordered) {
            return Ok(());
        }
        if head.starts() != starts {
            starts = head.starts();
            master = plug(name)?;
        }
        round = round.wrapping_add(1);
        if !open && round.is_multiple_of(LOOK_EVERY) && left_exclusive(name) {
            master = plug(name)?;
        }
        if somebody_has(&master)? != open {
            open = !open;
            head.open_port(open)?;
            waiting.clear();
            unread = false;
        }
        if open {
            let length = match read(&master, &mut buffer) {
                Ok(length) => length,
                Err(Errno::AGAIN | Errno::IO) => 0,
                Err(error) => return Err(error.into()),
            };
            head.send(&buffer[..length])?;
        }
        head.run_for(SLICE_US)?;
        waiting.extend(head.take_received());
        if !waiting.is_empty() && open {
            match write(&master, &waiting) {
                Ok(length) => drop(waiting.drain(..length)),
                Err(Errno::AGAIN | Errno::IO) => (),
                Err(error) => return Err(error.into()),
            }
        }
        if open && (waiting.len() > WAITING) != unread {
            unread = !unread;
            head.leave_unread(unread)?;
        }
        let wanted = epoch + Duration::from_micros(head.now_us() - begun_us);
        let now = Instant::now();
        if wanted > now {
            std::thread::sleep(wanted - now);
        } else if now - wanted > FURTHEST_BEHIND {
            epoch += now - wanted - FURTHEST_BEHIND;
        }
    }
}

/// Does what was ordered meanwhile; `false` when nobody can order anything any more.
fn obey(head: &mut EmulatedHead, ordered: &Receiver<Order>) -> bool {
    loop {
        match ordered.try_recv() {
            Ok(order) => order(head),
            Err(TryRecvError::Empty) => return true,
            Err(TryRecvError::Disconnected) => return false,
        }
    }
}

/// Whether a program that had the terminal for itself ended without giving it back; then nobody
/// could open it again. A real port forgets that when it is closed, a terminal whose other end
/// stays open does not.
fn left_exclusive(Name(name): &Name) -> bool {
    let opened = std::fs::OpenOptions::new()
        .read(true)
        .write(true)
        .custom_flags(OFlags::NOCTTY.bits() as i32)
        .open(name);
    opened.is_err_and(|error| error.kind() == io::ErrorKind::ResourceBusy)
}

/// Whether the terminal's other end is open somewhere.
fn somebody_has(master: &OwnedFd) -> io::Result<bool> {
    let mut polled = [PollFd::new(master, PollFlags::IN)];
    poll(&mut polled, Some(&Timespec { tv_sec: 0, tv_nsec: 0 }))?;
    Ok(!polled[0].revents().contains(PollFlags::HUP))
}
