//! The image's USB serial port as a pseudo-terminal, paced by the real clock: for programs that open a port, and people.
//!
//! As on a real head, nothing is sent while nobody has the port open, and what a slow reader leaves waits in the head.

use crate::head::EmulatedHead;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{OFlags, fcntl_setfl};
use rustix::io::{Errno, read, write};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use skimgauge_bench::Bench;
use std::io;
use std::os::fd::OwnedFd;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The image runs so far between two looks at the terminal.
const SLICE_US: u64 = 2_000;
/// Further behind the real clock, the time is let go: a slow computer slows the head down.
const FURTHEST_BEHIND: Duration = Duration::from_millis(100);
/// Bytes that wait for the terminal's reader before the port is left unread.
const WAITING: usize = 4_096;

type Order = Box<dyn FnOnce(&mut EmulatedHead) + Send>;

/// The image at a port of this computer.
pub struct Terminal {
    name: String,
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
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
        grantpt(&master)?;
        unlockpt(&master)?;
        let name = ptsname(&master, Vec::new())?.into_string().map_err(io::Error::other)?;
        let mut settings = tcgetattr(&master)?;
        settings.make_raw();
        tcsetattr(&master, OptionalActions::Now, &settings)?;
        fcntl_setfl(&master, OFlags::NONBLOCK)?;
        let bench = head.bench().clone();
        let (orders, ordered) = channel();
        let thread = std::thread::Builder::new().name("head".into()).spawn(move || live(head, &master, &ordered))?;
        Ok(Self { name, bench, orders: Some(orders), thread: Some(thread) })
    }

    /// The port's name.
    pub fn name(&self) -> &str {
        &self.name
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
    }
}

fn live(mut head: EmulatedHead, master: &OwnedFd, ordered: &Receiver<Order>) -> io::Result<()> {
    let mut epoch = Instant::now();
    let begun_us = head.now_us();
    let mut waiting = Vec::new();
    let mut unread = false;
    let mut open = false;
    let mut buffer = [0; 1024];
    loop {
        loop {
            match ordered.try_recv() {
                Ok(order) => order(&mut head),
                Err(std::sync::mpsc::TryRecvError::Empty) => break,
                Err(std::sync::mpsc::TryRecvError::Disconnected) => return Ok(()),
            }
        }
        if somebody_has(master)? != open {
            open = !open;
            head.open_port(open)?;
            waiting.clear();
            unread = false;
        }
        if open {
            let length = match read(master, &mut buffer) {
                Ok(length) => length,
                Err(Errno::AGAIN | Errno::IO) => 0,
                Err(error) => return Err(error.into()),
            };
            head.send(&buffer[..length])?;
        }
        head.run_for(SLICE_US)?;
        waiting.extend(head.take_received());
        if !waiting.is_empty() && open {
            match write(master, &waiting) {
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

/// Whether the terminal's other end is open somewhere.
fn somebody_has(master: &OwnedFd) -> io::Result<bool> {
    let mut polled = [PollFd::new(master, PollFlags::IN)];
    poll(&mut polled, Some(&Timespec { tv_sec: 0, tv_nsec: 0 }))?;
    Ok(!polled[0].revents().contains(PollFlags::HUP))
}
