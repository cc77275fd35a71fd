//! The head: everything in its turn.

use crate::button::Button;
use crate::outbox::Outbox;
use crate::part::converter::{Converter, ReadyLatch, Served};
use crate::part::inclinometer::Inclinometer;
use crate::part::memory::Memory;
use crate::sampling::{Completed, Means, Sampling, Slot};
use crate::signal::{Buzzer, Lamp, cue_pitch, lamp_lit};
use crate::store::{Failure, Store, Writing};
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};
use embedded_hal::i2c::I2c;
use embedded_hal::spi::SpiDevice;
use heapless::{String, Vec};
use skimgauge_shared::calibration::{Calibration, CalibrationState, supply};
use skimgauge_shared::check::crc32;
use skimgauge_shared::frame::{Decoder, Fed};
use skimgauge_shared::message::*;
use skimgauge_shared::reading::{Absence, Reading, Sample};
use skimgauge_shared::units::{CentiCelsius, Microseconds, Millivolts};

const PULSE_EVERY: Microseconds = Microseconds(200_000);
/// The button, lamp and buzzer are looked after this often.
const TEND_EVERY: Microseconds = Microseconds(5_000);
/// The same stand-off code for so long is no live sensor: its noise is a dozen codes.
const FROZEN_AFTER: Microseconds = Microseconds(200_000);
const FROZEN_READINGS: u16 = 20;
/// A supply or temperature older than this is not passed on.
const HEALTH_LASTS: Microseconds = Microseconds(500_000);

/// Log bytes that wait to be sent.
pub trait LogSource {
    /// Moves waiting bytes into `into`; how many.
    fn take(&mut self, into: &mut [u8]) -> usize;
}

/// A head that does not log.
impl LogSource for () {
    fn take(&mut self, _: &mut [u8]) -> usize {
        0
    }
}

/// The head's parts as they are wired.
pub struct Parts<C, M, R, S, D, B, L, Z, G> {
    /// The bus, for the converter.
    pub converter: C,
    /// The same bus, for the memory.
    pub memory: M,
    /// The converter's ready line.
    pub ready: R,
    /// The inclinometer.
    pub inclinometer: S,
    /// Short waits between its frames.
    pub delay: D,
    /// Low while pressed.
    pub button: B,
    /// High: lit.
    pub lamp: L,
    /// Buzzer.
    pub buzzer: Z,
    /// Log.
    pub log: G,
}

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
    /// Poll again then, or when bytes came, or when the ready line fell.
    pub next: Microseconds,
    /// Restart into the boot loader, once `send` is sent.
    pub enter_loader: bool,
}

/// The head.
pub struct Head<C, M, R, S, D, B, L, Z, G> {
    start: Start,
    converter: Converter<C, R, Slot>,
    converter_down: Option<Absence>,
    sampling: Sampling,
    inclinometer: Inclinometer<S, D>,
    store: Store<M>,
    button_pin: B,
    button: Button,
    lamp_pin: L,
    buzzer: Z,
    log: G,

    serial: Option<SerialNumber>,
    calibration: CalibrationState,
    staged: Option<(u32, Calibration)>,

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
    same_code: (i32, Microseconds, u16),
    faulty: bool,

    cue: (Cue, Microseconds),
    identify_until: Microseconds,
    pulse_at: Microseconds,
    tend_at: Microseconds,
}

impl<C, M, R, S, D, B, L, Z, G> Head<C, M, R, S, D, B, L, Z, G>
where
    C: I2c,
    M: I2c,
    R: ReadyLatch,
    S: SpiDevice,
    D: DelayNs,
    B: InputPin,
    L: OutputPin,
    Z: Buzzer,
    G: LogSource,
{
    /// Reads serial number and calibration (a few milliseconds on the bus) and is ready to be polled.
    pub fn new(parts: Parts<C, M, R, S, D, B, L, Z, G>, start: Start, now: Microseconds) -> Self {
        let mut store = Store::new(Memory::new(parts.memory));
        let loaded = store.load();
        let starting = Sample::Absent(Absence::Starting);
        Self {
            start,
            converter: Converter::new(parts.converter, parts.ready),
            converter_down: Some(Absence::Starting),
            sampling: Sampling::new(now),
            inclinometer: Inclinometer::new(parts.inclinometer, parts.delay),
            store,
            button_pin: parts.button,
            button: Button::default(),
            lamp_pin: parts.lamp,
            buzzer: parts.buzzer,
            log: parts.log,
            serial: loaded.serial,
            calibration: CalibrationState { check: loaded.check, calibration: loaded.calibration },
            staged: None,
            decoder: Decoder::new(),
            outbox: Outbox::new(),
            made: 0,
            unsent: 0,
            refused_frames: 0,
            stream_codes: false,
            enter_loader: false,
            temperature: (now, starting),
            supply: (now, Sample::Absent(Absence::Starting)),
            light: Sample::Absent(Absence::Starting),
            same_code: (0, now, 0),
            faulty: false,
            cue: (Cue::Silent, now),
            identify_until: now,
            pulse_at: now,
            tend_at: now,
        }
    }

    /// Its memory's factory number, if the memory answered.
    pub fn serial(&self) -> Option<SerialNumber> {
        self.serial
    }

    /// Everything that is due. `received`: bytes that came since the last poll. `room`: bytes that the link takes now;
    /// `None`: nobody listens.
    pub fn poll(&mut self, now: Microseconds, received: &[u8], room: Option<usize>) -> Step<'_> {
        self.outbox.forget_handed();
        for byte in received {
            match self.decoder.feed(*byte) {
                Fed::More => (),
                Fed::Message(request) => self.carry_out(request, now),
                Fed::Skipped { why, .. } => self.refuse_frame(why),
            }
        }
        self.serve_converter(now);
        self.inclinometer.step(now);
        self.serve_store(now);
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
        for deadline in [self.inclinometer.next_deadline(), self.store.next_deadline()].into_iter().flatten() {
            next = next.min(deadline);
        }
        let send = self.outbox.hand(room.unwrap_or(0));
        Step { send, next: next.max(Microseconds(now.0 + 1)), enter_loader: self.enter_loader }
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
        let calibration = &self.calibration.calibration;
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
                    Sample::Value(_) if frozen(&mut self.same_code, s, now) => Sample::Absent(Absence::Frozen),
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
        let temperature =
            if fresh(self.temperature.0) { self.temperature.1 } else { Sample::Absent(Absence::NoAnswer) };
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
        // A pin that cannot be read or set is nothing the head could tell apart from one that is not wired.
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
        let (cue, given) = if now < self.identify_until { (Cue::Seek { nearness: 200 }, now) } else { self.cue };
        self.buzzer.sound(cue_pitch(cue, now.since(given), now));
    }

    fn serve_store(&mut self, now: Microseconds) {
        let ask = Ask::CommitCalibration;
        let outcome = match self.store.step(now) {
            Writing::Idle | Writing::Busy => return,
            Writing::Verified => Ok(()),
            Writing::Failed(Failure::Silent) => Err(Refusal::NoMemory),
            Writing::Failed(Failure::Differs) => Err(Refusal::NotVerified),
        };
        let staged = self.staged.take();
        let report = match (outcome, staged) {
            (Ok(()), Some((_, calibration))) => {
                self.calibration = CalibrationState { check: CalibrationCheck::Good, calibration };
                Report::Calibration(self.calibration.clone())
            }
            (Ok(()), None) => Report::Refused { ask, why: Refusal::NotStaged },
            (Err(why), _) => Report::Refused { ask, why },
        };
        self.outbox.answer(&report);
    }

    fn refuse_frame(&mut self, why: skimgauge_shared::frame::Skip) {
        self.refused_frames = self.refused_frames.saturating_add(1);
        if matches!(why, skimgauge_shared::frame::Skip::Protocol(_)) {
            // The host must hear which protocol this head speaks.
            self.outbox.answer(&Report::Refused { ask: Ask::Greet, why: Refusal::Protocol });
        }
    }

    fn hello(&self, now: Microseconds) -> Hello {
        Hello {
            protocol: PROTOCOL,
            firmware: self.start.firmware,
            serial: self.serial,
            reset: self.start.reset,
            capabilities: self.start.capabilities,
            at: now,
            made: self.made,
            rate: self.sampling.rate(self.converter.period_us()),
            calibration: self.calibration.check,
        }
    }

    fn carry_out(&mut self, request: Request, now: Microseconds) {
        let ask = request.ask();
        let refused = |why| Report::Refused { ask, why };
        let report = match request {
            Request::Greet { .. } => {
                let hello = Report::Hello(self.hello(now));
                if let Some(words) = &self.start.last_words {
                    self.outbox.answer(&hello);
                    Report::LastWords(words.clone())
                } else {
                    hello
                }
            }
            Request::Ping { token } => Report::Pong { token, at: now },
            Request::SetRate { per_second } => {
                self.sampling.set_rate(per_second, now);
                Report::Rate(self.sampling.rate(self.converter.period_us()))
            }
            Request::Identify { seconds } => {
                self.identify_until = now.after(Microseconds::from_millis(u64::from(seconds) * 1_000));
                Report::Done(ask)
            }
            Request::ReadCalibration => Report::Calibration(self.calibration.clone()),
            Request::StageCalibration(calibration) => match self.stage(calibration) {
                Ok(check) => Report::Staged { check },
                Err(why) => refused(why),
            },
            Request::CommitCalibration { check } => match &self.staged {
                Some((staged, calibration)) if *staged == check => {
                    if self.store.begin(calibration, now) {
                        return; // answered when it is written and read back
                    }
                    refused(Refusal::Busy)
                }
                _ => refused(Refusal::NotStaged),
            },
            Request::StreamCodes { on } => {
                self.stream_codes = on;
                Report::Done(ask)
            }
            Request::Cue(cue) if self.start.capabilities.has(Capabilities::BUZZER) => {
                self.cue = (cue, now);
                Report::Done(ask)
            }
            Request::Cue(_) => refused(Refusal::NotFitted),
            Request::EnterLoader { key } => {
                if key != LOADER_KEY {
                    refused(Refusal::OutOfRange)
                } else if !self.start.capabilities.has(Capabilities::LOADER) {
                    refused(Refusal::NotFitted)
                } else {
                    self.enter_loader = true;
                    Report::Done(ask)
                }
            }
        };
        self.outbox.answer(&report);
    }

    fn stage(&mut self, calibration: Calibration) -> Result<u32, Refusal> {
        if self.store.next_deadline().is_some() {
            return Err(Refusal::Busy);
        }
        let serial = self.serial.ok_or(Refusal::NoMemory)?;
        if calibration.head != serial {
            return Err(Refusal::OtherHead);
        }
        if !calibration.plausible() {
            return Err(Refusal::OutOfRange);
        }
        let mut bytes = [0; skimgauge_shared::frame::MAX_FRAME];
        let check = crc32(postcard::to_slice(&calibration, &mut bytes).map_err(|_| Refusal::OutOfRange)?);
        self.staged = Some((check, calibration));
        Ok(check)
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

/// Remembers how long the code has been the very same.
fn frozen((code, since, count): &mut (i32, Microseconds, u16), now_code: i32, now: Microseconds) -> bool {
    if *code != now_code || *count == 0 {
        (*code, *since, *count) = (now_code, now, 1);
        return false;
    }
    *count = count.saturating_add(1);
    *count >= FROZEN_READINGS && now.since(*since) >= FROZEN_AFTER
}
