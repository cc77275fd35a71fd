//! The log: `defmt` frames in a ring, which the head sends as messages of its own link. A frame that finds no room is left
//! out whole.

use core::cell::{Cell, RefCell};
use critical_section::Mutex;
use heapless::Deque;
use skimgauge_head::LogSource;

const ROOM: usize = 256;

struct Ring {
    bytes: Deque<u8, ROOM>,
    encoder: defmt::Encoder,
    /// Bytes of the frame being written; `None` between frames.
    frame: Option<usize>,
    full: bool,
}

static RING: Mutex<RefCell<Ring>> = Mutex::new(RefCell::new(Ring {
    bytes: Deque::new(),
    encoder: defmt::Encoder::new(),
    frame: None,
    full: false,
}));

impl Ring {
    fn write(&mut self, change: impl FnOnce(&mut defmt::Encoder, &mut dyn FnMut(&[u8]))) {
        let Self { bytes, encoder, frame, full } = self;
        change(encoder, &mut |piece| {
            for byte in piece {
                match bytes.push_back(*byte) {
                    Ok(()) => *frame = frame.map(|length| length + 1),
                    Err(_) => *full = true,
                }
            }
        });
    }

    fn finish(&mut self) {
        let length = self.frame.take().unwrap_or(0);
        if core::mem::take(&mut self.full) {
            for _ in 0..length {
                self.bytes.pop_back();
            }
        }
    }
}

fn with_ring<T>(act: impl FnOnce(&mut Ring) -> T) -> T {
    critical_section::with(|section| act(&mut RING.borrow_ref_mut(section)))
}

#[defmt::global_logger]
struct Logger;

#[expect(
    unsafe_code,
    reason = "the trait's contract: the ring is behind a critical section, and no handler logs"
)]
unsafe impl defmt::Logger for Logger {
    fn acquire() {
        with_ring(|ring| {
            ring.frame = Some(0);
            ring.write(|encoder, sink| encoder.start_frame(|bytes| sink(bytes)));
        });
    }

    unsafe fn flush() {}

    unsafe fn release() {
        with_ring(|ring| {
            ring.write(|encoder, sink| encoder.end_frame(|bytes| sink(bytes)));
            ring.finish();
        });
    }

    unsafe fn write(bytes: &[u8]) {
        with_ring(|ring| ring.write(|encoder, sink| encoder.write(bytes, |bytes| sink(bytes))));
    }
}

/// The waiting log bytes; they wait until somebody listens, so that a start is told to whoever comes after it.
pub(crate) struct Log<'a> {
    /// Somebody does.
    pub(crate) listened: &'a Cell<bool>,
}

impl LogSource for Log<'_> {
    fn take(&mut self, into: &mut [u8]) -> usize {
        if !self.listened.get() {
            return 0;
        }
        with_ring(|ring| {
            let mut taken = 0;
            while let Some(place) = into.get_mut(taken)
                && let Some(byte) = ring.bytes.pop_front()
            {
                *place = byte;
                taken += 1;
            }
            taken
        })
    }
}
