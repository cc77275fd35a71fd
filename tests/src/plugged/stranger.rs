//! Something at a port that is no head.

use super::pair;
use serialport::{SerialPort, TTYPort};
use std::io::{Read, Write};
use std::time::Duration;

/// A pseudo-terminal that is no head: what is done with its far end is up to the test.
pub struct Stranger {
    /// The far end.
    pub far: TTYPort,
    near: TTYPort,
}

impl Default for Stranger {
    fn default() -> Self {
        Self::new()
    }
}

impl Stranger {
    /// One that says nothing.
    pub fn new() -> Self {
        let (mut far, near) = pair();
        far.set_timeout(Duration::from_millis(5)).expect("a timeout on the pseudo-terminal");
        Self { far, near }
    }

    /// Its name.
    pub fn port(&self) -> String {
        self.near.name().expect("the pseudo-terminal's name")
    }

    /// Sends this again and again in a thread, and throws away what it is sent, until the test is
    /// over.
    pub fn says(
        mut self,
        every: Duration,
        mut what: impl FnMut() -> Vec<u8> + Send + 'static,
    ) -> String {
        let port = self.port();
        std::thread::spawn(move || {
            let mut heard = [0; 512];
            loop {
                if self.far.bytes_to_read().unwrap_or(0) > 0 {
                    let _ = self.far.read(&mut heard);
                }
                let _ = self.far.write(&what());
                std::thread::sleep(every);
            }
        });
        port
    }
}
