//! A pipe within this program, for a simulated head: it works where the system gives no port.

use super::stream::{Connector, Stream, WAITS_FOR};
use skimgauge_session::Trouble;
use std::collections::VecDeque;
use std::io::{self, ErrorKind, Read, Write};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Bytes that wait in one direction, like in the buffers of a port.
const MOST: usize = 4_096;

/// One direction.
#[derive(Debug, Default)]
struct Lane {
    waiting: Mutex<Waiting>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct Waiting {
    bytes: VecDeque<u8>,
    /// Nobody writes or reads any more.
    over: bool,
}

impl Lane {
    fn lock(&self) -> MutexGuard<'_, Waiting> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Reads what is there, once something is or so much time is over; 0 at the end.
    fn read(&self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        let waiting = self.lock();
        let (mut waiting, _) = self
            .changed
            .wait_timeout_while(waiting, wait, |w| w.bytes.is_empty() && !w.over)
            .unwrap_or_else(PoisonError::into_inner);
        if waiting.bytes.is_empty() {
            return if waiting.over { Ok(0) } else { Err(nothing(wait)) };
        }
        let length = waiting.bytes.read(into)?;
        self.changed.notify_all();
        Ok(length)
    }

    /// Takes as much as there is room for, once there is some or so much time is over.
    fn write(&self, bytes: &[u8], wait: Duration) -> io::Result<usize> {
        let waiting = self.lock();
        let (mut waiting, _) = self
            .changed
            .wait_timeout_while(waiting, wait, |w| w.bytes.len() >= MOST && !w.over)
            .unwrap_or_else(PoisonError::into_inner);
        if waiting.over {
            return Err(ErrorKind::BrokenPipe.into());
        }
        let length = bytes.len().min(MOST.saturating_sub(waiting.bytes.len()));
        if length == 0 && !bytes.is_empty() {
            return Err(nothing(wait));
        }
        waiting.bytes.extend(&bytes[..length]);
        self.changed.notify_all();
        Ok(length)
    }

    fn end(&self) {
        self.lock().over = true;
        self.changed.notify_all();
    }
}

/// Nothing came or went: after a wait, or without one.
fn nothing(wait: Duration) -> io::Error {
    if wait.is_zero() { ErrorKind::WouldBlock.into() } else { ErrorKind::TimedOut.into() }
}

#[derive(Debug, Default)]
struct Lanes {
    to_host: Lane,
    to_head: Lane,
}

/// The host's end: what [`Connector`] it connects by.
#[derive(Debug)]
pub struct HostEnd {
    name: String,
    lanes: Arc<Lanes>,
}

/// The host's end, connected.
#[derive(Debug)]
struct Connected(Arc<Lanes>);

/// The head's end. Nothing is waited for: an empty pipe is read as [`ErrorKind::WouldBlock`], and
/// a full one takes part of what is written, or is that, too. The pipe ends with it.
#[derive(Debug)]
pub struct HeadEnd(Arc<Lanes>);

/// A pipe, known to people by this name.
pub fn pipe(name: &str) -> (HostEnd, HeadEnd) {
    let lanes = Arc::new(Lanes::default());
    (HostEnd { name: name.to_owned(), lanes: Arc::clone(&lanes) }, HeadEnd(lanes))
}

impl Connector for HostEnd {
    fn name(&self) -> &str {
        &self.name
    }

    fn connect(&mut self) -> Result<Box<dyn Stream>, Trouble> {
        Ok(Box::new(Connected(Arc::clone(&self.lanes))))
    }
}

impl Read for Connected {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.0.to_host.read(into, WAITS_FOR)
    }
}

impl Write for Connected {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.to_head.write(bytes, WAITS_FOR)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Read for HeadEnd {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.0.to_head.read(into, Duration::ZERO)
    }
}

impl Write for HeadEnd {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.to_host.write(bytes, Duration::ZERO)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Drop for HeadEnd {
    fn drop(&mut self) {
        self.0.to_host.end();
        self.0.to_head.end();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_go_both_ways_and_the_head_waits_for_nothing() {
        let (mut host, mut head) = pipe("simulated");
        let mut host = host.connect().unwrap();
        let mut got = [0; 8];
        assert_eq!(head.read(&mut got).unwrap_err().kind(), ErrorKind::WouldBlock);
        assert_eq!(host.read(&mut got).unwrap_err().kind(), ErrorKind::TimedOut);
        host.write_all(b"greet").unwrap();
        assert_eq!((head.read(&mut got).unwrap(), &got[..5]), (5, &b"greet"[..]));
        head.write_all(b"\x00\x03hello").unwrap();
        assert_eq!((host.read(&mut got).unwrap(), &got[..7]), (7, &b"\x00\x03hello"[..]));
        // What nobody reads fills it, and holds nobody up.
        let mut taken = 0;
        while let Ok(length) = head.write(&[7; 1_000]) {
            taken += length;
        }
        assert_eq!(taken, MOST);
        assert_eq!(head.write(&[7]).unwrap_err().kind(), ErrorKind::WouldBlock);
    }

    #[test]
    fn it_ends_with_the_head_after_what_was_sent() {
        let (mut host, mut head) = pipe("simulated");
        let mut host = host.connect().unwrap();
        head.write_all(b"last").unwrap();
        drop(head);
        let mut got = Vec::new();
        host.read_to_end(&mut got).unwrap();
        assert_eq!(got, b"last");
        assert_eq!(host.write(b"x").unwrap_err().kind(), ErrorKind::BrokenPipe);
    }
}
