//! Ports: what a name that a person typed leads to, and a port of this program's own making, at
//! which something simulated is plugged in.

mod loopback;
mod named;
#[cfg(unix)]
mod terminal;

pub use loopback::{Line, dial};
pub use named::{Refusal, native, refusal, tells_what_devices_say};

use std::io::{self, Read, Write};

#[cfg(not(unix))]
use loopback::Far;
#[cfg(unix)]
use terminal::Far;

/// The far end of a port: what is written here is read by whoever opens [`Plug::name`], and the
/// other way round. Nothing is waited for: an empty port is read as [`io::ErrorKind::WouldBlock`],
/// and a full one takes part of what is written, or nothing.
///
/// A pseudo-terminal on unix. Windows gives a program none, for its serial ports come from drivers:
/// there it is a line within this computer, which [`dial`] opens.
#[derive(Debug)]
pub struct Plug(Far);

impl Plug {
    /// Plugs in.
    ///
    /// # Errors
    /// The system's.
    pub fn new() -> io::Result<Self> {
        Far::new().map(Self)
    }

    /// The name under which the port is opened.
    pub fn name(&self) -> &str {
        self.0.name()
    }
}

impl Read for Plug {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.0.read(into)
    }
}

impl Write for Plug {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn bytes_go_both_ways_as_they_are_and_nothing_is_waited_for() {
        let mut plug = Plug::new().unwrap();
        let mut host =
            std::fs::OpenOptions::new().read(true).write(true).open(plug.name()).unwrap();
        assert_eq!(plug.read(&mut [0; 8]).unwrap_err().kind(), io::ErrorKind::WouldBlock);
        // What a terminal that is not raw would change: line ends, the end of input, an interrupt,
        // a pause.
        let bytes = b"\r\n\x03\x04\x11\x13\x7f\x00";
        host.write_all(bytes).unwrap();
        let mut got = [0; 8];
        while plug.read(&mut got).is_err() {}
        assert_eq!(&got, bytes);
        plug.write_all(bytes).unwrap();
        host.read_exact(&mut got).unwrap();
        assert_eq!(&got, bytes);
        // Closed and opened again, it is still there.
        let name = plug.name().to_owned();
        drop(host);
        let mut host = std::fs::OpenOptions::new().read(true).write(true).open(name).unwrap();
        plug.write_all(b"again").unwrap();
        host.read_exact(&mut got[..5]).unwrap();
        assert_eq!(&got[..5], b"again");
        // A port that nobody reads takes no more, and holds nobody up.
        while plug.write(&[7; 4_096]).is_ok() {}
        assert_eq!(plug.write(&[7; 4_096]).unwrap_err().kind(), io::ErrorKind::WouldBlock);
    }
}
