//! The pipe to the emulator: messages of 16 bytes, some with a payload. `chip/wire.mjs` is the
//! other end.

use std::io::{self, Read, Write};

const HEADER: usize = 16;

/// The longest payload that the emulator sends.
const MAX_PAYLOAD: usize = 64 * 1024;

/// What is commanded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Command {
    /// Run until a time.
    Run = 1,
    /// Serial data to the head.
    UsbSend = 2,
    /// Open or close the serial port.
    UsbOpen = 3,
    /// Power gone and back, or the reset line.
    Restart = 4,
    /// Into an endless loop.
    Hang = 5,
    /// Send the core to an address.
    Jump = 6,
    /// Tell the figures.
    Figures = 8,
    /// End.
    Stop = 9,
    /// Let the USB rest, or wake it.
    UsbSuspend = 10,
}

/// What the emulator asks or tells while it carries a command out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Ask {
    /// Start with an address.
    I2cStart = 1,
    /// A byte to a part.
    I2cWrite = 2,
    /// A byte from a part.
    I2cRead = 3,
    /// Stop.
    I2cStop = 4,
    /// Inclinometer's select line.
    SpiSelect = 5,
    /// A byte both ways.
    SpiExchange = 6,
    /// How is the ready line?
    Look = 7,
    /// Serial data from the head.
    UsbReceived = 8,
    /// The command is carried out.
    Done = 9,
    /// Something the emulator wonders at.
    Note = 10,
    /// The line's codes after an exposure: its begin and end, microseconds, as two floating numbers.
    Scan = 11,
}

impl Ask {
    fn from_code(code: u8) -> Option<Self> {
        let all = [
            Self::I2cStart,
            Self::I2cWrite,
            Self::I2cRead,
            Self::I2cStop,
            Self::SpiSelect,
            Self::SpiExchange,
            Self::Look,
            Self::UsbReceived,
            Self::Done,
            Self::Note,
            Self::Scan,
        ];
        all.into_iter().find(|ask| *ask as u8 == code)
    }
}

/// A message from the emulator.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// What it is.
    pub ask: Ask,
    /// First field.
    pub a: u8,
    /// Second field.
    pub b: u8,
    /// The world's time, microseconds.
    pub at_us: u64,
    /// What follows.
    pub payload: Vec<u8>,
}

/// Sends a command.
///
/// # Errors
/// The emulator is gone.
pub fn command(
    to: &mut impl Write,
    command: Command,
    a: u8,
    at_us: u64,
    payload: &[u8],
) -> io::Result<()> {
    let mut bytes = Vec::with_capacity(HEADER + payload.len());
    bytes.extend([command as u8, a, 0, 0]);
    bytes.extend((payload.len() as u32).to_le_bytes());
    bytes.extend(at_us.to_le_bytes());
    bytes.extend(payload);
    to.write_all(&bytes)?;
    to.flush()
}

/// Answers a question: its value, the ready line's level, and when the running conversion ends.
///
/// # Errors
/// The emulator is gone.
pub fn answer(
    to: &mut impl Write,
    value: u8,
    ready_is_high: bool,
    conversion_ends_us: Option<u64>,
) -> io::Result<()> {
    let mut bytes = [0; HEADER];
    bytes[1] = value;
    bytes[2] = u8::from(ready_is_high);
    bytes[8..].copy_from_slice(&conversion_ends_us.unwrap_or(0).to_le_bytes());
    to.write_all(&bytes)?;
    to.flush()
}

/// Sends a line's codes after the answer.
///
/// # Errors
/// The emulator is gone.
pub fn codes(to: &mut impl Write, codes: &[u16]) -> io::Result<()> {
    let bytes: Vec<u8> = codes.iter().flat_map(|code| code.to_le_bytes()).collect();
    to.write_all(&bytes)?;
    to.flush()
}

/// The next message.
///
/// # Errors
/// The emulator is gone, or said something that is no message.
pub fn receive(from: &mut impl Read) -> io::Result<Message> {
    let mut header = [0; HEADER];
    from.read_exact(&mut header)?;
    let [kind, a, b, _, l0, l1, l2, l3, at @ ..] = header;
    let length = u32::from_le_bytes([l0, l1, l2, l3]) as usize;
    let ask = Ask::from_code(kind).filter(|_| length <= MAX_PAYLOAD);
    let ask = ask.ok_or_else(|| {
        io::Error::new(io::ErrorKind::InvalidData, "the emulator said something unknown")
    })?;
    let mut payload = vec![0; length];
    from.read_exact(&mut payload)?;
    Ok(Message { ask, a, b, at_us: u64::from_le_bytes(at), payload })
}
