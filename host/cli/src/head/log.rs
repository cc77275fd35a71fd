//! The head's log, decoded with its image's own table of texts, as lines.

use skimgauge_session::Event;
use std::path::Path;
use std::time::Duration;

/// Where the table comes from.
pub const WHERE: &str = "The head's log can be read only with the ELF of its own firmware: --elf FILE. `firmware/build` \
                         makes it beside the UF2 (firmware/pico/target/skimgauge-head.elf).";

#[cfg(not(feature = "log"))]
pub use without::Log;

#[cfg(not(feature = "log"))]
mod without {
    use super::{Duration, Event, Path};

    /// Cannot be had in this build.
    pub enum Log {}

    impl Log {
        /// Says how to have it.
        ///
        /// # Errors
        /// Always.
        pub fn open(_: &Path) -> anyhow::Result<Self> {
            anyhow::bail!(
                "This skimgauge was built without the log's decoder. From its source: cargo install --path host/cli --features log"
            )
        }

        /// None.
        pub fn hear(&mut self, _: Duration, _: &Event) -> Vec<String> {
            match *self {}
        }
    }
}

#[cfg(feature = "log")]
pub use decoded::Log;

#[cfg(feature = "log")]
mod decoded {
    use super::{Duration, Event, Path};
    use anyhow::{Context, anyhow};
    use defmt_decoder::{DecodeError, Table};
    use skimgauge_image::{elf, mark};
    use skimgauge_shared::message::Version;
    use skimgauge_system::input;
    use std::fmt::Display;

    /// A frame that has not ended after so many bytes never will.
    const LONGEST: usize = 1_024;

    /// Decodes log frames.
    pub struct Log {
        table: Table,
        version: Option<Version>,
        /// Of the frame that has not ended yet.
        held: Vec<u8>,
    }

    impl Log {
        /// With the table in this ELF.
        ///
        /// # Errors
        /// It cannot be read, or holds no table.
        pub fn open(path: &Path) -> anyhow::Result<Self> {
            let shown = path.display();
            let file = input::read(path, input::FIRMWARE)
                .with_context(|| format!("{shown} cannot be read."))?;
            let table = Table::parse(&file)
                .map_err(|error| {
                    anyhow!("{shown} holds no table of log texts ({error}). {}", super::WHERE)
                })?
                .with_context(|| {
                    format!("{shown} holds no table of log texts. {}", super::WHERE)
                })?;
            let version = elf::pieces(&file).ok().and_then(|pieces| mark::version(&pieces));
            Ok(Self { table, version, held: Vec::new() })
        }

        /// What an event says in the log.
        pub fn hear(&mut self, now: Duration, event: &Event) -> Vec<String> {
            match event {
                Event::Log(bytes) => {
                    self.frames(bytes).map(|(level, text)| line(now, level, text)).collect()
                }
                Event::LastWords(words) => {
                    vec![line(now, "PANIC", format!("before this start, at {words}"))]
                }
                Event::Up(head) => {
                    let runs = head.hello.firmware;
                    let mut lines = vec![line(
                        now,
                        "LINK",
                        format!("head up, firmware {runs}, {:?}", head.hello.reset),
                    )];
                    if let Some(of) = self.version.filter(|of| *of != runs) {
                        let text =
                            format!("this ELF is of firmware {of}: what follows may be wrong");
                        lines.push(line(now, "LINK", text));
                    }
                    lines
                }
                Event::ClockJumped => {
                    self.held.clear();
                    vec![line(now, "LINK", "the head's clock jumped; it is greeted again")]
                }
                _ => Vec::new(),
            }
        }

        /// The frames that end in these bytes.
        fn frames(&mut self, bytes: &[u8]) -> impl Iterator<Item = (String, String)> {
            let mut lines = Vec::new();
            for byte in bytes {
                self.held.push(*byte);
                if *byte == 0 {
                    lines.extend(self.decode());
                    self.held.clear();
                } else if self.held.len() > LONGEST {
                    self.held.clear();
                    lines.push(undecoded());
                }
            }
            lines.into_iter()
        }

        fn decode(&self) -> Option<(String, String)> {
            if self.held.len() <= 1 {
                return None;
            }
            let mut decoder = self.table.new_stream_decoder();
            decoder.received(&self.held);
            match decoder.decode() {
                Ok(frame) => {
                    let level = frame
                        .level()
                        .map_or_else(String::new, |level| level.as_str().to_uppercase());
                    Some((level, frame.display_message().to_string()))
                }
                Err(DecodeError::UnexpectedEof | DecodeError::Malformed) => Some(undecoded()),
            }
        }
    }

    /// A line: when on the link's clock, how grave, what.
    fn line(now: Duration, level: impl Display, text: impl Display) -> String {
        format!("{:>9.3} s  {level:<5}  {text}", now.as_secs_f64())
    }

    fn undecoded() -> (String, String) {
        (
            "?".to_owned(),
            "a piece that does not decode: lost bytes, or the ELF of another image".to_owned(),
        )
    }
}
