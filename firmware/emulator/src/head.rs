//! The running image.

use crate::place::{self, Missing};
use crate::wire::{self, Ask, Command};
use serde::Deserialize;
use skimgauge_bench::Bench;
use std::io::{self, BufReader};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Stdio};

/// How a head is restarted from outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Restart {
    /// Power gone and back: the parts start anew with it.
    Power,
    /// The board's reset line: the parts go on.
    Line,
}

/// What the emulator measured since the start. Times in nanoseconds of the emulated clock.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Figures {
    /// The core at work, bus waits left out.
    pub busy: f64,
    /// Asleep or looping while a byte is on a bus.
    pub waits: f64,
    /// Asleep.
    pub asleep: f64,
    /// Conversions served: a transfer that followed a ready edge.
    pub services: u64,
    /// From the edge to the transfer's start, all together.
    #[serde(rename = "latencyNs")]
    pub latency_ns: f64,
    /// The longest.
    #[serde(rename = "worstLatencyNs")]
    pub worst_latency_ns: f64,
    /// System clock, hertz.
    pub clock_hz: f64,
    /// Deepest stack since power came, bytes.
    pub deepest_stack: u32,
    /// Times the chip started.
    pub resets: u32,
    /// Lamp.
    pub lamp: bool,
    /// The distance sensor's laser is enabled.
    pub laser: bool,
    /// Buzzer, hertz; 0: silent.
    pub buzzer_hz: u32,
    /// When the image went into the boot loader, if it did: microseconds.
    pub loader_us: Option<u64>,
    /// The head as the USB host sees it.
    pub usb: UsbIdentity,
}

/// The head as the USB host sees it.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct UsbIdentity {
    /// Vendor number.
    pub vendor: Option<u16>,
    /// Product number.
    pub product: Option<u16>,
    /// Manufacturer string.
    pub manufacturer: Option<String>,
    /// Product string.
    pub name: Option<String>,
    /// Serial string.
    pub serial: Option<String>,
    /// Found and configured.
    pub configured: bool,
    /// Bytes to the head that wait for it to take them.
    pub queued: u64,
    /// The image forced the bus into its idle state, as the first revisions of the chip need.
    pub forced_j: bool,
}

/// The image on its emulated chip, with a bench's parts on its pins. It starts at time 0 with power
/// just come and the serial port closed.
pub struct EmulatedHead {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
    bench: Bench,
    now_us: u64,
    received: Vec<u8>,
    notes: Vec<String>,
    starts: u8,
    scans: u64,
}

impl EmulatedHead {
    /// The image that `firmware/build` made, on a bench.
    ///
    /// # Errors
    /// What is missing, and what to do about it.
    pub fn start(bench: Bench) -> Result<Self, Missing> {
        Self::start_image(bench, &place::image()?)
    }

    /// Another image.
    ///
    /// # Errors
    /// What is missing, and what to do about it.
    pub fn start_image(bench: Bench, image: &Path) -> Result<Self, Missing> {
        let program = place::emulator()?;
        let no_node = |error: io::Error| Missing::Node(error.to_string());
        let mut child = std::process::Command::new("node")
            .arg(program)
            .arg(image)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .map_err(no_node)?;
        let (Some(to), Some(from)) = (child.stdin.take(), child.stdout.take()) else {
            return Err(Missing::Node("it has no pipes".into()));
        };
        let from = BufReader::new(from);
        let (received, notes) = (Vec::new(), Vec::new());
        Ok(Self {
            child,
            to,
            from,
            now_us: bench.now_us(),
            bench,
            received,
            notes,
            starts: 1,
            scans: 0,
        })
    }

    /// The parts, and the room that they measure.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// The world's time.
    pub fn now_us(&self) -> u64 {
        self.now_us
    }

    /// How often the chip has started, modulo 256: it changes with every restart.
    pub fn starts(&self) -> u8 {
        self.starts
    }

    /// Scans of the line of pixels since the start that the image converted.
    pub fn scans(&self) -> u64 {
        self.scans
    }

    /// Runs until a time; what the head sends meanwhile waits for [`Self::take_received`].
    ///
    /// # Errors
    /// The emulator ended.
    pub fn run_until(&mut self, until_us: u64) -> io::Result<()> {
        let flags =
            u8::from(self.bench.i2c_is_stuck()) | u8::from(self.bench.button_is_pressed()) << 1;
        self.carry_out(Command::Run, flags, until_us, &[])?;
        self.now_us = self.now_us.max(until_us);
        self.bench.advance_to(self.now_us);
        Ok(())
    }

    /// Runs for so long.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn run_for(&mut self, us: u64) -> io::Result<()> {
        self.run_until(self.now_us + us)
    }

    /// Opens or closes the head's serial port.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn open_port(&mut self, open: bool) -> io::Result<()> {
        self.carry_out(Command::UsbOpen, u8::from(open), 0, &[]).map(drop)
    }

    /// Leaves the open port unread, as a host does whose program is busy.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn leave_unread(&mut self, unread: bool) -> io::Result<()> {
        self.carry_out(Command::UsbOpen, 1 | u8::from(unread) << 1, 0, &[]).map(drop)
    }

    /// Lets the USB rest, as a computer does that goes to sleep, or wakes it.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn suspend_usb(&mut self, on: bool) -> io::Result<()> {
        self.carry_out(Command::UsbSuspend, u8::from(on), 0, &[]).map(drop)
    }

    /// Sends bytes to the head, as fast as it takes them.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.carry_out(Command::UsbSend, 0, 0, bytes).map(drop)
    }

    /// What the head sent since the last call.
    pub fn take_received(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.received)
    }

    /// What the emulator wondered at: an access to something it does not have.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// Restarts the chip.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn restart(&mut self, how: Restart) -> io::Result<()> {
        if how == Restart::Power {
            self.bench.cut_power_at(self.now_us);
            self.bench.restore_power();
        }
        self.carry_out(Command::Restart, u8::from(how == Restart::Line), 0, &[]).map(drop)
    }

    /// Lets the program hang, interrupts still served: what a watchdog is for.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn hang(&mut self) -> io::Result<()> {
        self.carry_out(Command::Hang, 0, 0, &[]).map(drop)
    }

    /// Sends the core to an address.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn jump(&mut self, address: u32) -> io::Result<()> {
        self.carry_out(Command::Jump, 0, u64::from(address), &[]).map(drop)
    }

    /// What was measured so far.
    ///
    /// # Errors
    /// The emulator ended.
    pub fn figures(&mut self) -> io::Result<Figures> {
        let payload = self.carry_out(Command::Figures, 0, 0, &[])?;
        serde_json::from_slice(&payload).map_err(io::Error::other)
    }

    /// Gives a command and serves what is asked until it is done; the payload of its end.
    fn carry_out(
        &mut self,
        command: Command,
        a: u8,
        at_us: u64,
        payload: &[u8],
    ) -> io::Result<Vec<u8>> {
        wire::command(&mut self.to, command, a, at_us, payload)?;
        loop {
            let message = wire::receive(&mut self.from)?;
            let (now_us, bench) = (message.at_us, &self.bench);
            let value = match message.ask {
                Ask::Done => {
                    if command != Command::Figures {
                        self.starts = message.a;
                    }
                    return Ok(message.payload);
                }
                Ask::UsbReceived => {
                    self.received.extend(message.payload);
                    continue;
                }
                Ask::Note => {
                    self.notes.push(String::from_utf8_lossy(&message.payload).into_owned());
                    continue;
                }
                Ask::I2cStart => u8::from(bench.i2c_start(now_us, message.a, message.b == 0)),
                Ask::I2cWrite => u8::from(bench.i2c_write(now_us, message.a)),
                Ask::I2cRead => bench.i2c_read(now_us),
                Ask::I2cStop => {
                    bench.i2c_stop(now_us);
                    0
                }
                Ask::SpiSelect => {
                    bench.spi_select(now_us, message.a != 0);
                    0
                }
                Ask::SpiExchange => bench.spi_exchange(now_us, message.a),
                Ask::Look | Ask::Scan => 0,
            };
            let ready = bench.ready_level(now_us);
            wire::answer(&mut self.to, value, ready, bench.conversion_ends_us())?;
            if message.ask == Ask::Scan {
                self.scans += 1;
                let (from_us, to_us) = exposure(&message.payload)?;
                wire::codes(&mut self.to, &bench.pixel_scan(now_us, from_us, to_us))?;
            }
        }
    }
}

/// Begin and end of an exposure.
fn exposure(payload: &[u8]) -> io::Result<(f64, f64)> {
    match payload.as_chunks::<8>() {
        ([from, to], []) => Ok((f64::from_le_bytes(*from), f64::from_le_bytes(*to))),
        _ => Err(io::Error::new(io::ErrorKind::InvalidData, "the emulator asked for no exposure")),
    }
}

impl Drop for EmulatedHead {
    fn drop(&mut self) {
        // It may be gone already; either way it must not be left behind.
        let _ = wire::command(&mut self.to, Command::Stop, 0, 0, &[]);
        let _ = self.child.wait();
        let _ = self.child.wait();
    }
}
