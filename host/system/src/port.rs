//! A port of this program's own making, at which something simulated is plugged in: a
//! pseudo-terminal on unix. (Windows gives a program none: its serial ports come from drivers.)

use std::io::{self, Read, Write};

/// The far end of a port: what is written here is read by whoever opens [`Plug::name`], and the
/// other way round. Nothing is waited for: an empty port is read as [`io::ErrorKind::WouldBlock`],
/// and a full one takes part of what is written, or nothing.
#[derive(Debug)]
pub struct Plug {
    far: std::fs::File,
    name: String,
    // Held open, so that whoever opens the port may close it and come back.
    _near: std::fs::File,
}

impl Plug {
    /// The name under which the port is opened.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Plugs in.
    ///
    /// # Errors
    /// The system's; [`io::ErrorKind::Unsupported`] on Windows.
    #[cfg(unix)]
    pub fn new() -> io::Result<Self> {
        use rustix::fs::{Mode, OFlags, fcntl_getfl, fcntl_setfl, open};
        use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
        use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
        let far = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
        // No program started from here may keep the port alive.
        rustix::io::fcntl_setfd(&far, rustix::io::FdFlags::CLOEXEC)?;
        grantpt(&far)?;
        unlockpt(&far)?;
        let name = ptsname(&far, Vec::new())?;
        let near =
            open(name.as_c_str(), OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC, Mode::empty())?;
        // Bytes, not lines, and no echo of what the head says to itself.
        let mut settings = tcgetattr(&near)?;
        settings.make_raw();
        tcsetattr(&near, OptionalActions::Now, &settings)?;
        fcntl_setfl(&far, fcntl_getfl(&far)? | OFlags::NONBLOCK)?;
        let name = name.into_string().map_err(|_| io::Error::from(io::ErrorKind::InvalidData))?;
        Ok(Self { far: far.into(), name, _near: near.into() })
    }

    /// Plugs in.
    ///
    /// # Errors
    /// Always.
    #[cfg(not(unix))]
    pub fn new() -> io::Result<Self> {
        Err(io::Error::new(
            io::ErrorKind::Unsupported,
            "This system gives a program no port of its own",
        ))
    }
}

impl Read for Plug {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.far.read(into)
    }
}

impl Write for Plug {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.far.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.far.flush()
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
