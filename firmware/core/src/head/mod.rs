//! The head: everything in its turn.

mod readings;
mod requests;

use crate::button::Button;
use crate::constants::Constants;
use crate::eye::Eye;
use crate::frozen::Frozen;
use crate::hardware::{Buzzer, Hardware, LogSource, Parts};
use crate::outbox::Outbox;
use crate::part::converter::Converter;
use crate::part::inclinometer::Inclinometer;
use crate::sampling::{Sampling, Slot};
use crate::signal::{Lamp, cue_pitch, lamp_lit};
use embedded_hal::digital::{InputPin, OutputPin};
use heapless::{String, Vec};
use requests::Waiting;
use skimgauge_shared::frame::{Decoder, Fed};
use skimgauge_shared::light::LightState;
use skimgauge_shared::message::{
    Capabilities, Cue, Pulse, Report, ResetCause, SerialNumber, Token, Version,
};
use skimgauge_shared::pixels::Pixels;
use skimgauge_shared::reading::{Absence, Sample};
use skimgauge_shared::units::{CentiCelsius, Microseconds, Millivolts};

const PULSE_EVERY: Microseconds = Microseconds(200_000);
/// The button, lamp and buzzer are looked after this often.
const TEND_EVERY: Microseconds = Microseconds(5_000);
/// A supply or temperature older than this is not passed on.
const HEALTH_LASTS: Microseconds = Microseconds(500_000);

/// What the board knows at the start.
#[derive(Debug, Clone)]
pub struct Start {
    /// The image's version.
    pub firmware: Version,
    /// Why the board started.
    pub reset: ResetCause,
    /// What it can do.
    pub capabilities: Capabilities,
    /// Where it panicked, if that is why.
    pub last_words: Option<String<96>>,
}

/// What a poll asks of the board.
#[derive(Debug)]
pub struct Step<'a> {
    /// To be sent now; never longer than the room given.
    pub send: &'a [u8],
    /// Poll again then, or when bytes came, or when the ready line fell. A little later will do.
    pub next: Microseconds,
    /// Poll again then at the latest, on time: the eye's exposure begins or ends.
    pub on_time: Microseconds,
    /// Restart into the boot loader, once `send` is sent.
    pub enter_loader: bool,
}

/// The head, on a board of this kind.
pub struct Head<H: Hardware> {
    start: Start,
    constants: Constants<H::Bus>,
    converter: Converter<H::Bus, H::Ready, Slot>,
    converter_down: Option<Absence>,
    sampling: Sampling,
    inclinometer: Inclinometer<H::Inclinometer, H::Delay>,
    eye: Eye<H::Line>,
    /// The moment of the last scan or reading.
    moment: Microseconds,
    /// Of a scan whose reading waits for its last conversions.
    waits_for_stand_off: Option<Microseconds>,
    sheet_told: (Microseconds, LightState),
    profile_asked: Microseconds,
    profile_wanted: bool,
    button_pin: H::Button,
    button: Button,
    lamp_pin: H::Lamp,
    buzzer: H::Buzzer,
    log: H::Log,

    decoder: Decoder,
    outbox: Outbox,
    made: u32,
    unsent: u32,
    refused_frames: u32,
    stream_codes: bool,
    waiting: Option<Waiting>,
    /// Whom the write that is under way is answered.
    committing: Token,
    enter_loader: bool,

    temperature: (Microseconds, Sample<CentiCelsius>),
    supply: (Microseconds, Sample<Millivolts>),
    stand_off_frozen: Frozen,
    faulty: bool,

    cue: (Cue, Microseconds),
    identify_until: Microseconds,
    pulse_at: Microseconds,
    tend_at: Microseconds,
}

impl<H: Hardware> Head<H> {
    /// Reads serial number and calibration (a few milliseconds on the bus) and is ready to be
    /// polled.
    pub fn new(parts: Parts<H>, start: Start, now: Microseconds) -> Self {
        let constants = Constants::load(parts.memory);
        let table = constants.table().unwrap_or(Pixels::UNCOMPARED);
        Self {
            start,
            constants,
            converter: Converter::new(parts.converter, parts.ready),
            converter_down: Some(Absence::Starting),
            sampling: Sampling::new(),
            inclinometer: Inclinometer::new(parts.inclinometer, parts.delay),
            eye: Eye::new(parts.line, table),
            moment: now,
            waits_for_stand_off: None,
            sheet_told: (now, LightState::UNKNOWN),
            // The first one may be asked for at once.
            profile_asked: Microseconds(0),
            profile_wanted: false,
            button_pin: parts.button,
            button: Button::default(),
            lamp_pin: parts.lamp,
            buzzer: parts.buzzer,
            log: parts.log,
            decoder: Decoder::new(),
            outbox: Outbox::new(),
            made: 0,
            unsent: 0,
            refused_frames: 0,
            stream_codes: false,
            waiting: None,
            committing: Token::NONE,
            enter_loader: false,
            temperature: (now, Sample::Absent(Absence::Starting)),
            supply: (now, Sample::Absent(Absence::Starting)),
            stand_off_frozen: Frozen::default(),
            faulty: false,
            cue: (Cue::Silent, now),
            identify_until: now,
            pulse_at: now,
            tend_at: now,
        }
    }

    /// Its memory's factory number, if the memory answered.
    pub fn serial(&self) -> Option<SerialNumber> {
        self.constants.serial()
    }

    /// Everything that is due. `received`: bytes that came since the last poll. `room`: bytes that
    /// the link takes now; `None`: nobody listens.
    pub fn poll(&mut self, now: Microseconds, received: &[u8], room: Option<usize>) -> Step<'_> {
        self.outbox.forget_handed();
        for byte in received {
            match self.decoder.feed(*byte) {
                Fed::More => (),
                Fed::Message(call) => self.carry_out(call, now),
                Fed::Skipped { why, .. } => self.refuse_frame(why, now),
            }
        }
        if self.eye.wants_to_be_alone(now) {
            // A start pulse comes with no scan.
            self.eye.poll(now);
            if self.eye.wants_to_be_alone(now) {
                let (next, send) = (self.eye.due(), self.outbox.hand(room.unwrap_or(0)));
                return Step { send, next, on_time: next, enter_loader: self.enter_loader };
            }
        }
        self.serve_converter(now);
        self.inclinometer.step(now);
        if let Some(written) = self.constants.step(now) {
            if let Some(table) = self.constants.table() {
                self.eye.set_table(table);
            }
            self.answer(self.committing, written);
        }
        if let Some(middle) = self.eye.poll(now) {
            self.scanned(middle);
        }
        self.readings(now);
        self.end_wait(now);
        if now >= self.tend_at {
            self.tend_at = now.after(TEND_EVERY);
            self.tend(now, room.is_some());
        }
        if now >= self.pulse_at {
            self.pulse_at = now.after(PULSE_EVERY);
            self.pulse(now);
        }
        self.send_log();
        if room.is_none() {
            self.outbox.clear();
        }
        let mut next = self.pulse_at.min(self.tend_at).min(self.converter.next_deadline(now));
        for deadline in [self.inclinometer.next_deadline(), self.constants.next_deadline()]
            .into_iter()
            .flatten()
        {
            next = next.min(deadline);
        }
        let send = self.outbox.hand(room.unwrap_or(0));
        let next = next.max(Microseconds(now.0 + 1));
        Step { send, next, on_time: self.eye.due(), enter_loader: self.enter_loader }
    }

    fn pulse(&mut self, now: Microseconds) {
        let fresh = |since: Microseconds| now.since(since) <= HEALTH_LASTS;
        let gone = self.converter_down.unwrap_or(Absence::NoAnswer);
        let supply = if fresh(self.supply.0) { self.supply.1 } else { Sample::Absent(gone) };
        let temperature = if fresh(self.temperature.0) {
            self.temperature.1
        } else {
            Sample::Absent(Absence::NoAnswer)
        };
        let pulse = Pulse {
            at: now,
            made: self.made,
            unsent: self.unsent,
            refused_frames: self.refused_frames,
            temperature,
            supply,
            tilt_status: self.inclinometer.take_status(),
            latest_start_us: self.eye.take_latest_us(),
        };
        self.outbox.offer(&Report::Pulse(pulse));
    }

    fn tend(&mut self, now: Microseconds, linked: bool) {
        // A pin that cannot be read or set is nothing the head could tell apart from one that is
        // not wired.
        let pressed = self.button_pin.is_low().unwrap_or(false);
        if let Some(press) = self.button.look(pressed, now)
            // A press that lets something go on says nothing else.
            && !self.go_on(now)
        {
            self.outbox.answer(&Report::Button { press, at: now });
        }
        let lamp = if now < self.identify_until || self.waiting.is_some() {
            Lamp::Identify
        } else if self.faulty {
            Lamp::Fault
        } else if linked {
            Lamp::Linked
        } else {
            Lamp::Alone
        };
        let _ = self.lamp_pin.set_state(lamp_lit(lamp, now).into());
        let (cue, given) =
            if now < self.identify_until { (Cue::Seek { nearness: 200 }, now) } else { self.cue };
        self.buzzer.sound(cue_pitch(cue, now.since(given), now));
    }

    fn send_log(&mut self) {
        let mut piece = [0; 48];
        let length = self.log.take(&mut piece);
        if length > 0
            && let Ok(bytes) = Vec::from_slice(&piece[..length])
        {
            self.outbox.offer(&Report::Log(bytes));
        }
    }
}
