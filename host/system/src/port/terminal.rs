//! A pseudo-terminal.

use std::fs::File;
use std::io::{self, Read, Write};

/// The far end, and the port itself.
#[derive(Debug)]
pub(super) struct Far {
    far: File,
    name: String,
    // Held open, so that whoever opens the port may close it and come back.
    _near: File,
}

impl Far {
    pub(super) fn name(&self) -> &str {
        &self.name
    }

    pub(super) fn new() -> io::Result<Self> {
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
}

impl Read for Far {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.far.read(into)
    }
}

impl Write for Far {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.far.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.far.flush()
    }
}
