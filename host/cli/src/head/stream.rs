//! A head as a stream of bytes, whatever carries them: a serial port, a line within this computer
//! that stands in for one, or a pipe within this program.

use super::{find, opening};
use skimgauge_session::Trouble;
use skimgauge_shared::message::SerialNumber;
use skimgauge_system::port;
use std::io::{Read, Write};
use std::time::Duration;

/// A read or a write waits no longer than this, so that requests and time are looked after.
pub(crate) const WAITS_FOR: Duration = Duration::from_millis(10);
/// Baud rates mean nothing on USB; a pseudo-terminal wants a number all the same.
const BAUD: u32 = 115_200;

/// Bytes to and from a head.
///
/// A read waits a moment, and is [`TimedOut`](std::io::ErrorKind::TimedOut) where nothing came; a
/// write likewise where nothing was taken. Nothing read, or any other error, is the end: the plug
/// was pulled.
pub trait Stream: Read + Write + Send {}

impl<T: Read + Write + Send> Stream for T {}

/// How a head is come by, as often as it must be.
pub trait Connector: Send {
    /// What people know it by.
    fn name(&self) -> &str;

    /// Connects.
    ///
    /// # Errors
    /// It cannot be, and what to do.
    fn connect(&mut self) -> Result<Box<dyn Stream>, Trouble>;

    /// Connects again after the plug was pulled, wherever this head is now.
    ///
    /// # Errors
    /// It is not there yet.
    fn reconnect(&mut self, _: Option<SerialNumber>) -> Result<Box<dyn Stream>, Trouble> {
        self.connect()
    }
}

/// A serial port.
#[derive(Debug, Clone)]
pub struct SerialLine(pub String);

impl Connector for SerialLine {
    fn name(&self) -> &str {
        &self.0
    }

    fn connect(&mut self) -> Result<Box<dyn Stream>, Trouble> {
        open(&self.0)
    }

    /// Plugged back in, a head may have come to another port.
    fn reconnect(&mut self, head: Option<SerialNumber>) -> Result<Box<dyn Stream>, Trouble> {
        match find::port_of(head) {
            Some(port) => open(&port),
            None => self.connect(),
        }
    }
}

fn open(port: &str) -> Result<Box<dyn Stream>, Trouble> {
    if let Some(called) = port::dial(port, WAITS_FOR) {
        return match called {
            Ok(line) => Ok(Box::new(line)),
            Err(error) => Err(opening::calling(port, &error)),
        };
    }
    let opened =
        serialport::new(port::native(port), BAUD).timeout(WAITS_FOR).dtr_on_open(true).open();
    match opened {
        Ok(opened) => Ok(Box::new(opened)),
        Err(error) => Err(opening::opening(port, &error)),
    }
}
