//! The flash image: the head's logic on an RP2040 board. What is here is wiring; what the head does is in
//! `skimgauge-head`.
//!
//! | module | subject |
//! | --- | --- |
//! | [`board`] | clocks started, pins and buses handed out |
//! | [`pins`] | which pin does what |
//! | [`sleep`] | waiting without burning |
//! | [`bus`] | I2C whose waits are slept through |
//! | [`line`](mod@line) | the eye's line of pixels: pulses, samples |
//! | [`divide`] | division by the chip's divider |
//! | [`ready`], [`buzzer`] | the converter's ready line; the buzzer's PWM |
//! | [`link`] | USB serial |
//! | [`log`] | `defmt` frames on their way to the link |
//! | [`restart`] | why the board started; last words of a panic; when it does not start but loads |
#![no_std]
#![no_main]

mod board;
mod bus;
mod buzzer;
mod divide;
mod line;
mod link;
mod log;
mod pins;
mod ready;
mod restart;
mod sleep;

use board::{Board, Shared, Wired, parts};
use cortex_m::peripheral::NVIC;
use cortex_m::singleton;
use embedded_hal::digital::OutputPin;
use heapless::String;
use rp2040_hal::pac;
use rp2040_hal::timer::{Alarm, Instant};
use rp2040_hal::usb::UsbBus;
use skimgauge_head::{Head, Parts, Start};
use skimgauge_shared::message::{Capabilities, Version};
use skimgauge_shared::units::Microseconds;
use skimgauge_shared::{mark, usb};
use sleep::Lines;
use usb_device::bus::UsbBusAllocator;

/// The second-stage loader: sets the flash up for running from it.
#[expect(unsafe_code, reason = "placed by name where the boot ROM looks")]
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_W25Q080;

/// Deadlines may be met so much late. What is urgent, a conversion or a packet, wakes by itself, and the head's guess of
/// when the next conversion ends is not worth a wake-up of its own.
const SLACK_US: u64 = 200;

const WAKE: Lines = Lines::of(&[
    pac::Interrupt::USBCTRL_IRQ,
    pac::Interrupt::TIMER_IRQ_0,
    pac::Interrupt::IO_IRQ_BANK0,
]);
const WAKE_WITHOUT_READY: Lines =
    Lines::of(&[pac::Interrupt::USBCTRL_IRQ, pac::Interrupt::TIMER_IRQ_0]);

/// What is left of the link's sending time before the boot loader takes over.
const FAREWELL_US: u64 = 100_000;

const VERSION: Version = Version {
    major: number(env!("CARGO_PKG_VERSION_MAJOR")),
    minor: number(env!("CARGO_PKG_VERSION_MINOR")),
    patch: number(env!("CARGO_PKG_VERSION_PATCH")),
};

const fn number(text: &str) -> u8 {
    match u8::from_str_radix(text, 10) {
        Ok(number) => number,
        Err(_) => panic!("a version part above 255"),
    }
}

/// By this a host knows a flash image as a head's, and its version, before it writes it.
#[expect(unsafe_code, reason = "placed by name where the linker keeps it")]
#[unsafe(link_section = ".mark")]
#[used]
static MARK: [u8; mark::LENGTH] = mark::of(VERSION);

/// The head, in memory of its own, and made in a frame of its own: where it is made it is there twice, and the loop's
/// stack must not carry that for ever.
#[inline(never)]
fn made(
    parts: Parts<Wired<'static>>,
    start: Start,
    now: Microseconds,
) -> &'static mut Head<Wired<'static>> {
    let head = singleton!(: Head<Wired<'static>> = Head::new(parts, start, now));
    let Some(head) = head else { panic!("started twice") };
    head
}

#[rp2040_hal::entry]
fn main() -> ! {
    let Some(pac) = pac::Peripherals::take() else { panic!("started twice") };
    let (reset, last_words) = restart::cause(&pac.WATCHDOG, &pac.VREG_AND_CHIP_RESET);
    restart::count(&pac.WATCHDOG, reset);
    let board = Board::start(pac);
    // At full speed: 10 ms for what would be 100 at the speed that the board starts with.
    restart::check_image(&MARK);
    let start = Start {
        firmware: VERSION,
        reset,
        capabilities: Capabilities::BUZZER.with(Capabilities::LOADER).with(Capabilities::LOG),
        last_words,
    };
    defmt::info!("started, version {}, {}", VERSION, reset);
    let timer = board.timer;
    let now = || Microseconds(timer.get_counter().ticks());
    let Some(shared) = singleton!(: Shared = board.shared) else { panic!("started twice") };
    let shared = &*shared;
    let head = made(parts(shared, board.own, timer), start, now());

    // None without a memory that answers.
    let number =
        singleton!(: String<32> = head.serial().as_ref().map(usb::serial).unwrap_or_default());
    let bus = singleton!(: UsbBusAllocator<UsbBus> = UsbBusAllocator::new(board.usb));
    let (Some(number), Some(bus)) = (number, bus) else { panic!("started twice") };
    let Some(mut link) = link::Link::new(bus, number) else { panic!("the descriptors do not fit") };

    let (watchdog, mut wake, mut laser) = (board.watchdog, board.wake, board.laser);
    let (mut found, mut was_configured) = (false, false);
    let mut loader_at: Option<Microseconds> = None;
    let mut packet = [0; link::PACKET];
    loop {
        watchdog.feed();
        // A line that is pending although it is masked has something to say.
        let received = if NVIC::is_pending(pac::Interrupt::USBCTRL_IRQ) {
            link.serve(&mut packet)
        } else {
            &[]
        };
        if !found && link.is_found() {
            found = true;
            restart::found();
        }
        // A port gives what the laser takes once it has configured the head; nobody looks at a head
        // whose computer sleeps; and a laser that nobody needs is off. The stack says that it is
        // configured before it has answered so, and only the answer counts (USB 2.0, 9.4.7): a pass later.
        let configured = link.is_configured();
        let _ = laser.set_state((configured && was_configured).into());
        was_configured = configured;
        let room = link.room();
        shared.listened.set(room.is_some());
        let step = head.poll(now(), received, room);
        link.send(step.send);
        let (mut next, on_time) = (step.next, step.on_time);
        if step.enter_loader {
            let at = *loader_at.get_or_insert_with(|| now().after(Microseconds(FAREWELL_US)));
            if now() >= at {
                restart::enter_loader();
            }
            next = next.min(at);
        }
        // It may have gone off while the head was at work.
        wake.clear_interrupt();
        // An alarm less than an hour away cannot be refused.
        let _ = wake.schedule_at(Instant::from_ticks((next.0 + SLACK_US).min(on_time.0)));
        sleep::until(if shared.ready.fell() { WAKE_WITHOUT_READY } else { WAKE });
    }
}
