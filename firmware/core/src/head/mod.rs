//! The head: everything in its turn.

mod requests;

use crate::button::Button;
use crate::constants::Constants;
use crate::eye::Eye;
use crate::frozen::Frozen;
use crate::hardware::{Buzzer, Hardware, LogSource, Parts};
use crate::outbox::Outbox;
use crate::part::converter::{Converter, Served};
use crate::part::inclinometer::Inclinometer;
use crate::sampling::{Completed, Means, Sampling, Slot};
use crate::signal::{Lamp, cue_pitch, lamp_lit};
use embedded_hal::digital::{InputPin, OutputPin};
use heapless::{String, Vec};
use skimgauge_shared::calibration::supply;
use skimgauge_shared::frame::{Decoder, Fed};
use skimgauge_shared::message::{
    Capabilities, Codes, Cue, Pulse, Report, ResetCause, SerialNumber, Version,
};
use skimgauge_shared::reading::{Absence, Reading, Sample};
use skimgauge_shared::units::{CentiCelsius, Microseconds, Millivolts};

const PULSE_EVERY: Microseconds = Microseconds(200_000);
/// The button, lamp and buzzer are looked after this often.
const TEND_EVERY: Microseconds = Microseconds(5_000);
/// What the eye sees is told in the log this often.
const TELL_EYE_EVERY: Microseconds = Microseconds(1_000_000);
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
    eye_told: Microseconds,
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
    enter_loader: bool,

    temperature: (Microseconds, Sample<CentiCelsius>),
    supply: (Microseconds, Sample<Millivolts>),
    light: Sample<u16>,
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
        Self {
            start,
            constants: Constants::load(parts.memory),
            converter: Converter::new(parts.converter, parts.ready),
            converter_down: Some(Absence::Starting),
            sampling: Sampling::new(now),
            inclinometer: Inclinometer::new(parts.inclinometer, parts.delay),
            eye: Eye::new(parts.line),
            eye_told: now,
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
            enter_loader: false,
            temperature: (now, Sample::Absent(Absence::Starting)),
            supply: (now, Sample::Absent(Absence::Starting)),
            light: Sample::Absent(Absence::Starting),
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
                Fed::Message(request) => self.carry_out(request, now),
                Fed::Skipped { why, .. } => self.refuse_frame(why),
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
            self.outbox.answer(&written);
        }
        if self.eye.poll(now) && now.since(self.eye_told) >= TELL_EYE_EVERY {
            self.eye_told = now;
            #[cfg(feature = "defmt")]
            self.eye.tell();
        }
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
        if self.converter_down.is_some() {
            next = next.min(self.sampling.next_due());
        }
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

    fn serve_converter(&mut self, now: Microseconds) {
        let sampling = &mut self.sampling;
        match self.converter.service(now, |at| sampling.choose(at)) {
            Served::Nothing => (),
            Served::Unlabelled => {
                self.converter_down = None;
                self.sampling.abandon();
            }
            Served::Done(conversion) => {
                self.converter_down = None;
                match self.sampling.take(conversion) {
                    Completed::Nothing => (),
                    Completed::Supply(code) => self.supply = (now, Sample::Value(supply(code))),
                    Completed::Burst(means) => self.reading(now, means.at, Sample::Value(means)),
                }
            }
            Served::Down(absence) => {
                if self.converter_down != Some(absence) {
                    self.sampling.abandon();
                    self.converter_down = Some(absence);
                }
            }
        }
        if let Some(absence) = self.converter_down
            && self.sampling.due_without_converter(now)
        {
            self.reading(now, now, Sample::Absent(absence));
        }
    }

    fn reading(&mut self, now: Microseconds, at: Microseconds, means: Sample<Means>) {
        let angles = self.inclinometer.measure(now);
        self.temperature = (now, angles.map(|angles| angles.temperature));
        let calibration = &self.constants.in_use().calibration;
        let (stand_off, eye) = match means {
            Sample::Absent(absence) => {
                self.light = Sample::Absent(absence);
                (Sample::Absent(absence), Sample::Absent(absence))
            }
            Sample::Value(Means { codes_16: [s, a, b], .. }) => {
                self.light = Sample::Value(calibration.light(a, b));
                let warmth = self.temperature.1.value();
                let eye = if self.start.capabilities.has(Capabilities::EYE) {
                    calibration.eye_ratio(a, b)
                } else {
                    Sample::Absent(Absence::NotFitted)
                };
                let stand_off = match calibration.stand_off(s, warmth) {
                    Sample::Value(_) if self.stand_off_frozen.look(s, now) => {
                        Sample::Absent(Absence::Frozen)
                    }
                    other => other,
                };
                (stand_off, eye)
            }
        };
        let tilt = match angles {
            Sample::Value(angles) => calibration.tilt(angles.x, angles.y),
            Sample::Absent(absence) => Sample::Absent(absence),
        };
        self.faulty = stand_off.absence().is_some() || tilt.absence().is_some();
        self.made = self.made.wrapping_add(1);
        let sequence = self.made as u8;
        let reading = Reading { sequence, at_low_us: at.0 as u32, stand_off, eye, tilt };
        if !self.outbox.offer(&Report::Reading(reading)) {
            self.unsent = self.unsent.wrapping_add(1);
        }
        if self.stream_codes {
            let converter = means.map(|means| means.codes_16);
            let angles = angles.map(|angles| [angles.x, angles.y]);
            self.outbox.offer(&Report::Codes(Codes { sequence, converter, angles }));
        }
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
            light: self.light,
            latest_start_us: self.sampling.take_latest_start_us(),
        };
        self.outbox.offer(&Report::Pulse(pulse));
    }

    fn tend(&mut self, now: Microseconds, linked: bool) {
        // A pin that cannot be read or set is nothing the head could tell apart from one that is
        // not wired.
        let pressed = self.button_pin.is_low().unwrap_or(false);
        if let Some(press) = self.button.look(pressed, now) {
            self.outbox.answer(&Report::Button { press, at: now });
        }
        let lamp = if now < self.identify_until {
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
