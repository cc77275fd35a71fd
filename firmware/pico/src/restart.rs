//! Why the board started, and what it says of its last end: a panic leaves its place in memory that a restart keeps.
//! Starts that come to nothing are counted; an image that is damaged is not run.

use core::fmt::Write;
use core::mem::MaybeUninit;
use core::panic::PanicInfo;
use cortex_m_rt::{ExceptionFrame, exception};
use heapless::String;
use rp2040_hal::pac;
use skimgauge_head::starts::{self, Start};
use skimgauge_shared::check::crc32;
use skimgauge_shared::mark::{self, Said};
use skimgauge_shared::message::ResetCause;

/// In the watchdog's first scratch register over a restart that a panic asked for.
const PANICKED: u32 = 0x534B_5057;

/// Longest last words.
const WORDS: usize = 96;

/// Length and checksum of the text, then the text: as words, because a word at a time is a loop of few instructions, and
/// a structure read whole is one for each of its bytes.
type LastWords = [u32; 2 + WORDS / 4];

/// Outside what the start-up code clears. Power-up leaves chance in it: the check tells.
#[expect(unsafe_code, reason = "placed by name in the part of memory that is not cleared")]
#[unsafe(link_section = ".uninit.last_words")]
static mut LAST_WORDS: MaybeUninit<LastWords> = MaybeUninit::uninit();

/// Why the board started; call once, first. A brown-out shows as a power-up.
pub(crate) fn cause(
    watchdog: &pac::WATCHDOG,
    chip: &pac::VREG_AND_CHIP_RESET,
) -> (ResetCause, Option<String<WORDS>>) {
    let reason = watchdog.reason().read();
    let asked = watchdog.scratch0().read().bits();
    watchdog.scratch0().write(|w| {
        #[expect(unsafe_code, reason = "a raw register value; the register takes any")]
        unsafe {
            w.bits(0)
        }
    });
    if reason.timer().bit_is_set() {
        return (ResetCause::Watchdog, None);
    }
    if reason.force().bit_is_set() {
        return if asked == PANICKED {
            (ResetCause::Panic, take_last_words())
        } else {
            (ResetCause::Unknown, None)
        };
    }
    let chip = chip.chip_reset().read();
    let cause = if chip.had_run().bit_is_set() {
        ResetCause::Line
    } else if chip.had_por().bit_is_set() {
        ResetCause::Power
    } else {
        ResetCause::Unknown
    };
    (cause, None)
}

/// Counts this start. After too many that came to nothing it goes into the boot loader instead of coming back.
pub(crate) fn count(watchdog: &pac::WATCHDOG, cause: ResetCause) {
    let ended_badly = matches!(cause, ResetCause::Panic | ResetCause::Watchdog);
    match starts::on_start(watchdog.scratch1().read().bits(), ended_badly) {
        Start::GoOn(register) => hold(register),
        Start::Loader(register) => {
            hold(register);
            enter_loader();
        }
    }
}

/// A host has found the head: this start came to something.
pub(crate) fn found() {
    hold(starts::FOUND);
}

/// In the watchdog's second scratch register: it outlives every restart but a loss of power.
fn hold(register: u32) {
    #[expect(
        unsafe_code,
        reason = "a raw register value, written whole; the register takes any and nothing else does"
    )]
    unsafe {
        (*pac::WATCHDOG::ptr()).scratch1().write(|w| w.bits(register));
    }
}

/// Into the boot loader.
pub(crate) fn enter_loader() -> ! {
    rp2040_hal::rom_data::reset_to_usb_boot(0, 0)
}

/// An image whose bytes are not those that were made goes into the boot loader: what it would do, and what it would
/// measure, nobody knows. An image that no flash file carried (a debugger put it there) is not sealed, and runs.
pub(crate) fn check_image(mark: &'static [u8; mark::LENGTH]) {
    /// Where the flash is mapped, and how much of it this board has (`memory.x`).
    const FLASH: usize = 0x1000_0000;
    const SIZE: usize = 2048 * 1024;
    #[expect(
        unsafe_code,
        reason = "the whole flash is mapped here, readable, and nobody writes it while the image runs"
    )]
    let flash =
        unsafe { core::slice::from_raw_parts(core::hint::black_box(FLASH) as *const u8, SIZE) };
    let at = core::hint::black_box(mark.as_ptr() as usize) - FLASH;
    if mark::said(flash, at) == Said::Damaged {
        enter_loader();
    }
}

#[expect(
    unsafe_code,
    reason = "memory that keeps what a former run wrote; no other code runs that could touch it"
)]
fn take_last_words() -> Option<String<WORDS>> {
    let held = (&raw const LAST_WORDS).cast::<u32>();
    let mut text = [0; WORDS];
    // SAFETY: any bit pattern is a word, and the compiler is told nothing of what memory holds.
    let word = |at: usize| unsafe { core::ptr::read_volatile(held.add(at)) };
    for (at, bytes) in text.chunks_exact_mut(4).enumerate() {
        bytes.copy_from_slice(&word(2 + at).to_le_bytes());
    }
    let text = text.get(..word(0) as usize)?;
    let whole = crc32(text) == word(1);
    whole
        .then(|| core::str::from_utf8(text).ok().and_then(|text| String::try_from(text).ok()))
        .flatten()
}

#[expect(unsafe_code, reason = "interrupts are off and the board restarts: nothing else runs")]
fn leave_last_words(text: &str) -> ! {
    let held = (&raw mut LAST_WORDS).cast::<u32>();
    let mut bytes = [0; WORDS];
    bytes[..text.len()].copy_from_slice(text.as_bytes());
    // SAFETY: the only code that runs now.
    unsafe {
        core::ptr::write_volatile(held, text.len() as u32);
        core::ptr::write_volatile(held.add(1), crc32(text.as_bytes()));
        for (at, word) in bytes.as_chunks::<4>().0.iter().enumerate() {
            core::ptr::write_volatile(held.add(2 + at), u32::from_le_bytes(*word));
        }
        let watchdog = &*pac::WATCHDOG::ptr();
        watchdog.scratch0().write(|w| w.bits(PANICKED));
        // Everything but the oscillators, as the HAL's watchdog has it; it may not have run yet.
        (*pac::PSM::ptr()).wdsel().write(|w| w.bits(0x0001_FFFC));
        watchdog.ctrl().write(|w| w.trigger().set_bit());
    }
    loop {
        cortex_m::asm::nop();
    }
}

/// Keeps the end of what does not fit: of a place, the file and the line are there.
struct Tail(String<WORDS>);

impl Write for Tail {
    fn write_str(&mut self, piece: &str) -> core::fmt::Result {
        for letter in piece.chars() {
            while self.0.len() + letter.len_utf8() > WORDS {
                self.0.remove(0);
            }
            self.0.push(letter).map_err(|_| core::fmt::Error)?;
        }
        Ok(())
    }
}

#[panic_handler]
fn panicked(info: &PanicInfo<'_>) -> ! {
    cortex_m::interrupt::disable();
    let mut words = Tail(String::new());
    match info.location() {
        Some(place) => {
            let _ = write!(words, "{}:{}", place.file(), place.line());
        }
        None => {
            let _ = words.write_str("a panic without a place");
        }
    }
    leave_last_words(&words.0)
}

#[allow(
    unsafe_code,
    reason = "the attribute asks for it; the handler never returns and trusts nothing"
)]
#[exception]
unsafe fn HardFault(frame: &ExceptionFrame) -> ! {
    let mut words = Tail(String::new());
    let _ = write!(words, "hard fault at {:#010x}", frame.pc());
    leave_last_words(&words.0)
}
