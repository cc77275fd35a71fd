//! The converter's ready line: its 8 us pulse is caught by the pin's edge latch, which also wakes the core.

use crate::pins::Ready;
use core::cell::RefCell;
use rp2040_hal::gpio::Interrupt;
use skimgauge_head::ReadyLatch;

/// The line, seen by the head and by the loop that sleeps.
pub(crate) struct ReadyLine(RefCell<Ready>);

impl ReadyLine {
    /// Watching for falls from now on.
    pub(crate) fn new(mut pin: Ready) -> Self {
        pin.clear_interrupt(Interrupt::EdgeLow);
        pin.set_interrupt_enabled(Interrupt::EdgeLow, true);
        Self(RefCell::new(pin))
    }

    /// A fall that nobody has taken yet: waiting for it would not be sleep.
    pub(crate) fn fell(&self) -> bool {
        self.0.borrow().interrupt_status(Interrupt::EdgeLow)
    }
}

impl ReadyLatch for &ReadyLine {
    fn take(&mut self) -> bool {
        let mut pin = self.0.borrow_mut();
        let fell = pin.interrupt_status(Interrupt::EdgeLow);
        if fell {
            pin.clear_interrupt(Interrupt::EdgeLow);
        }
        fell
    }
}
