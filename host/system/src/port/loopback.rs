//! A line within this computer, from one program to another, that stands in for a serial port where
//! the system gives none: whoever makes it listens at a number of this computer's own network, which
//! nobody else reaches, and says so in its name.
//!
//! A name is `line:` and the number, or a file that holds that and nothing else
//! ([`crate::link::Link`] makes one).

use std::io::{self, ErrorKind, Read, Write};
use std::net::{Ipv4Addr, Shutdown, SocketAddr, TcpListener, TcpStream};
use std::time::Duration;

const NAMED: &str = "line:";
/// A name's file is no longer.
const LONGEST: u64 = 32;
/// Who listens there says first which of these holds: a number may have come to another program.
const FREE: [u8; 16] = *b"skimgauge: free\n";
const TAKEN: [u8; 16] = *b"skimgauge: busy\n";
/// Whoever listens looks every few milliseconds whether somebody calls.
const GREETS_WITHIN: Duration = Duration::from_secs(5);

/// Where a name leads, if it is one of a line.
fn number_of(name: &str) -> Option<u16> {
    let text = match std::fs::metadata(name) {
        Ok(about) if about.is_file() && about.len() <= LONGEST => {
            std::fs::read_to_string(name).ok()?
        }
        Ok(_) => return None,
        Err(_) => name.to_owned(),
    };
    text.trim_end().strip_prefix(NAMED)?.parse().ok()
}

/// Opens the line of this name; `None` where the name is none of a line's. A read that waits longer
/// than this is [`ErrorKind::TimedOut`].
///
/// # Errors
/// [`ErrorKind::NotFound`] where nobody listens there any more, [`ErrorKind::ResourceBusy`] where
/// somebody else has it; the system's.
pub fn dial(name: &str, wait: Duration) -> Option<io::Result<Line>> {
    let number = number_of(name)?;
    Some(call(number, wait).map_err(|error| match error.kind() {
        ErrorKind::ConnectionRefused | ErrorKind::ConnectionReset | ErrorKind::UnexpectedEof => {
            ErrorKind::NotFound.into()
        }
        _ => in_time(error),
    }))
}

fn call(number: u16, wait: Duration) -> io::Result<Line> {
    let at = SocketAddr::from((Ipv4Addr::LOCALHOST, number));
    let mut stream = TcpStream::connect_timeout(&at, GREETS_WITHIN)?;
    stream.set_read_timeout(Some(GREETS_WITHIN))?;
    let mut said = [0; FREE.len()];
    stream.read_exact(&mut said)?;
    match said {
        FREE => (),
        TAKEN => return Err(ErrorKind::ResourceBusy.into()),
        _ => return Err(ErrorKind::NotFound.into()),
    }
    stream.set_nodelay(true)?;
    stream.set_read_timeout(Some(wait))?;
    stream.set_write_timeout(Some(wait))?;
    Ok(Line(stream))
}

/// A line that was opened.
#[derive(Debug)]
pub struct Line(TcpStream);

/// Nothing came, or went, in time: every system says it otherwise.
fn in_time(error: io::Error) -> io::Error {
    match error.kind() {
        ErrorKind::WouldBlock => ErrorKind::TimedOut.into(),
        _ => error,
    }
}

impl Read for Line {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.0.read(into).map_err(in_time)
    }
}

impl Write for Line {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes).map_err(in_time)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        let _ = self.0.shutdown(Shutdown::Both);
    }
}

/// The far end: who listens, and who has called.
#[cfg_attr(unix, allow(dead_code, reason = "there a port is a pseudo-terminal"))]
#[derive(Debug)]
pub(super) struct Far {
    listens: TcpListener,
    name: String,
    called: Option<TcpStream>,
}

#[cfg_attr(unix, allow(dead_code, reason = "there a port is a pseudo-terminal"))]
impl Far {
    pub(super) fn new() -> io::Result<Self> {
        let listens = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?;
        listens.set_nonblocking(true)?;
        let name = format!("{NAMED}{}", listens.local_addr()?.port());
        Ok(Self { listens, name, called: None })
    }

    pub(super) fn name(&self) -> &str {
        &self.name
    }

    /// Whoever has called, or calls now. Another one is told that it is taken.
    fn caller(&mut self) -> io::Result<&mut TcpStream> {
        // A caller that does not come through is none.
        while let Ok((mut stream, _)) = self.listens.accept() {
            let says = if self.called.is_some() { TAKEN } else { FREE };
            let greeted = stream.write_all(&says).is_ok() && stream.set_nonblocking(true).is_ok();
            if greeted && self.called.is_none() {
                let _ = stream.set_nodelay(true);
                self.called = Some(stream);
            }
        }
        self.called.as_mut().ok_or_else(|| ErrorKind::WouldBlock.into())
    }

    /// Whether something that was done with the caller's stream says that it hung up.
    fn heard(&mut self, done: io::Result<usize>) -> io::Result<usize> {
        match done {
            Ok(0) => (),
            Err(error) if error.kind() == ErrorKind::WouldBlock => return Err(error),
            Err(_) => (),
            Ok(length) => return Ok(length),
        }
        self.called = None;
        Err(ErrorKind::WouldBlock.into())
    }
}

impl Read for Far {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let done = self.caller()?.read(into);
        self.heard(done)
    }
}

impl Write for Far {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if bytes.is_empty() {
            return Ok(0);
        }
        let done = self.caller()?.write(bytes);
        self.heard(done)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering};

    const WAIT: Duration = Duration::from_millis(10);

    /// A far end that gives back what it is sent, in a thread of its own, until this is dropped.
    struct Echo(Arc<AtomicBool>, Option<std::thread::JoinHandle<()>>);

    impl Echo {
        fn of(mut far: Far) -> Self {
            let over = Arc::new(AtomicBool::new(false));
            let stop = Arc::clone(&over);
            let thread = std::thread::spawn(move || {
                let mut bytes = [0; 64];
                while !stop.load(Ordering::Relaxed) {
                    if let Ok(length) = far.read(&mut bytes) {
                        far.write_all(&bytes[..length]).unwrap();
                    }
                    std::thread::sleep(Duration::from_millis(1));
                }
            });
            Self(over, Some(thread))
        }
    }

    impl Drop for Echo {
        fn drop(&mut self) {
            self.0.store(true, Ordering::Relaxed);
            self.1.take().unwrap().join().unwrap();
        }
    }

    fn back(line: &mut Line, bytes: &[u8]) {
        line.write_all(bytes).unwrap();
        let mut got: Vec<u8> = Vec::new();
        while got.len() < bytes.len() {
            let mut some = [0; 64];
            match line.read(&mut some) {
                Ok(0) => panic!("it hung up"),
                Ok(length) => got.extend(&some[..length]),
                Err(error) => assert_eq!(error.kind(), ErrorKind::TimedOut),
            }
        }
        assert_eq!(got, bytes);
    }

    #[test]
    fn bytes_go_both_ways_to_one_at_a_time_and_the_next_may_come() {
        let far = Far::new().unwrap();
        let name = far.name().to_owned();
        let echo = Echo::of(far);
        let mut first = dial(&name, WAIT).unwrap().unwrap();
        back(&mut first, b"\r\n\x03\x04\x11\x13\x7f\x00");
        assert_eq!(first.read(&mut [0; 8]).unwrap_err().kind(), ErrorKind::TimedOut);
        let second = dial(&name, WAIT).unwrap().unwrap_err();
        assert_eq!(second.kind(), ErrorKind::ResourceBusy);
        back(&mut first, b"still there");
        drop(first);
        // The far end finds out with its next round.
        let mut again = loop {
            match dial(&name, WAIT).unwrap() {
                Ok(line) => break line,
                Err(error) => assert_eq!(error.kind(), ErrorKind::ResourceBusy),
            }
        };
        back(&mut again, b"again");
        drop(echo);
        loop {
            match again.read(&mut [0; 8]) {
                Err(error) if error.kind() == ErrorKind::TimedOut => (),
                Ok(length) => break assert_eq!(length, 0),
                Err(_) => break,
            }
        }
        assert_eq!(dial(&name, WAIT).unwrap().unwrap_err().kind(), ErrorKind::NotFound);
    }

    #[test]
    fn nobody_is_waited_for_at_the_far_end() {
        let mut far = Far::new().unwrap();
        assert_eq!(far.read(&mut [0; 8]).unwrap_err().kind(), ErrorKind::WouldBlock);
        assert_eq!(far.write(b"x").unwrap_err().kind(), ErrorKind::WouldBlock);
    }

    #[test]
    fn a_number_that_came_to_another_program_is_no_line() {
        let other = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
        let name = format!("{NAMED}{}", other.local_addr().unwrap().port());
        let greets = std::thread::spawn(move || {
            let (mut stream, _) = other.accept().unwrap();
            stream.write_all(b"220 mail.example ESMTP ready\r\n").unwrap();
        });
        assert_eq!(dial(&name, WAIT).unwrap().unwrap_err().kind(), ErrorKind::NotFound);
        greets.join().unwrap();
    }

    #[test]
    fn names_of_other_things_are_none_of_a_line() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("job.toml");
        std::fs::write(&file, "[job]\nname = \"line:80\"\n").unwrap();
        for name in ["COM3", "/dev/ttyACM0", "line:", "line:99999", "line: 80", "line:80.example"] {
            assert!(dial(name, WAIT).is_none(), "{name}");
        }
        assert!(dial(file.to_str().unwrap(), WAIT).is_none());
        assert!(dial(folder.path().to_str().unwrap(), WAIT).is_none());
    }
}
