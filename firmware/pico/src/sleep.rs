//! Sleep until one of some interrupts. A handler does nothing but mask its own line: whoever slept looks at what woke it,
//! clears that at its source and unmasks when it sleeps again. So no handler shares data with anything.

use cortex_m::peripheral::NVIC;
use rp2040_hal::pac::{self, interrupt};

/// Interrupt lines to wake from.
#[derive(Clone, Copy)]
pub(crate) struct Lines(u32);

impl Lines {
    /// These.
    pub(crate) const fn of(lines: &[pac::Interrupt]) -> Self {
        let mut bits = 0;
        let mut at = 0;
        while at < lines.len() {
            bits |= 1 << lines[at] as u16;
            at += 1;
        }
        Self(bits)
    }
}

/// Sleeps until one of `lines` has interrupted. Call it in a loop that looks: what interrupted may be of no use.
///
/// No wake-up is lost between the caller's look and the sleep: taking an interrupt sets the core's event register, and
/// `wfe` returns at once when that is set (ARMv6-M Architecture Reference Manual, B1.5.18). A line that was masked by its
/// handler tells a wake-up from what an earlier interrupt left in that register.
pub(crate) fn until(Lines(lines): Lines) {
    #[expect(
        unsafe_code,
        reason = "set and clear registers, written whole: nothing else is touched, and nothing here \
                                    builds a critical section on masks"
    )]
    let nvic = unsafe {
        let nvic = &*NVIC::PTR;
        nvic.iser[0].write(lines);
        nvic
    };
    while nvic.iser[0].read() & lines == lines {
        cortex_m::asm::wfe();
    }
    #[expect(unsafe_code, reason = "as above")]
    unsafe {
        nvic.icer[0].write(lines);
    }
}

macro_rules! wake_only {
    ($($line:ident),*) => {$(
        #[interrupt]
        fn $line() {
            NVIC::mask(pac::Interrupt::$line);
        }
    )*};
}
wake_only!(I2C0_IRQ, TIMER_IRQ_0, TIMER_IRQ_1, TIMER_IRQ_2, USBCTRL_IRQ, IO_IRQ_BANK0);
