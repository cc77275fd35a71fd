//! Frames on their way out.

use heapless::Vec;
use skimgauge_shared::frame::{MAX_FRAME, SEPARATOR, encode};
use skimgauge_shared::message::Report;

/// Bytes that can wait: a fifth of a second of readings.
const ROOM: usize = 768;
/// Kept free of readings, for answers.
const FOR_ANSWERS: usize = 256;

/// Waiting frames, in order.
#[derive(Debug)]
pub(crate) struct Outbox {
    bytes: Vec<u8, ROOM>,
    /// Handed out at the last poll, gone at the next.
    handed: usize,
}

impl Outbox {
    /// Holding the separator that a start begins with.
    pub(crate) fn new() -> Self {
        let mut bytes = Vec::new();
        let _ = bytes.push(SEPARATOR);
        Self { bytes, handed: 0 }
    }

    /// Drops what the last poll handed out.
    pub(crate) fn forget_handed(&mut self) {
        let left = self.bytes.len() - self.handed;
        self.bytes.copy_within(self.handed.., 0);
        self.bytes.truncate(left);
        self.handed = 0;
    }

    /// Nobody listens: what waits would be old by the time somebody does.
    pub(crate) fn clear(&mut self) {
        self.bytes.clear();
        let _ = self.bytes.push(SEPARATOR);
        self.handed = 0;
    }

    /// A frame that may be dropped. Whether it found room.
    pub(crate) fn offer(&mut self, report: &Report) -> bool {
        self.put(report, FOR_ANSWERS)
    }

    /// A frame that somebody waits for. Whether it found room.
    pub(crate) fn answer(&mut self, report: &Report) -> bool {
        self.put(report, 0)
    }

    /// As many of the waiting bytes as there is room for on the link.
    pub(crate) fn hand(&mut self, room: usize) -> &[u8] {
        self.handed = room.min(self.bytes.len());
        &self.bytes[..self.handed]
    }

    fn put(&mut self, report: &Report, keep_free: usize) -> bool {
        let mut frame = [0; MAX_FRAME];
        let Ok(frame) = encode(report, &mut frame) else { return false };
        self.bytes.len() + frame.len() + keep_free <= ROOM
            && self.bytes.extend_from_slice(frame).is_ok()
    }
}
