//! Something at a port that is no head.

use super::plug;
use skimgauge_system::port::Plug;
use std::io::{Read, Write};
use std::time::Duration;

/// A port that is no head: what is done with its far end is up to the test.
pub struct Stranger {
    far: Plug,
}

impl Default for Stranger {
    fn default() -> Self {
        Self::new()
    }
}

impl Stranger {
    /// One that says nothing.
    pub fn new() -> Self {
        Self { far: plug() }
    }

    /// Its name.
    pub fn port(&self) -> String {
        self.far.name().to_owned()
    }

    /// Says nothing in a thread, and throws away what it is sent, until the test is over.
    pub fn silent() -> String {
        Self::new().says(Duration::from_millis(5), Vec::new)
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
                let _ = self.far.read(&mut heard);
                let _ = self.far.write(&what());
                std::thread::sleep(every);
            }
        });
        port
    }
}
