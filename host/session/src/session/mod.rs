//! One conversation with a head. Pure: bytes and the time in, events and bytes to send out.

use skimgauge_shared::calibration::CalibrationState;
use skimgauge_shared::exchange::Tokens;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, SEPARATOR, Skip, encode};
use skimgauge_shared::light::Sheet;
use skimgauge_shared::message::{
    Answer, Ask, Codes, Hello, Press, Pulse, Report, Request, SerialNumber, Token,
};
use skimgauge_shared::pixels::{Scan, Together};
use skimgauge_shared::reading::Reading;
use skimgauge_shared::sequence::{Follower, Placed};
use skimgauge_shared::units::Microseconds;
use std::time::Duration;

/// A greeting is repeated this often until it is answered.
const GREET_EVERY: Duration = Duration::from_millis(250);
/// Without an answer for so long, this is no head.
pub const GREET_FOR: Duration = Duration::from_millis(2_500);
const PING_EVERY: Duration = Duration::from_secs(2);
/// A head is greeted again this often, and says who it is: it may have been changed for another
/// while the port stayed.
pub const GREET_AGAIN_EVERY: Duration = Duration::from_secs(4);
/// A reading whose time runs ahead of the host's clock by more is from another start of the head:
/// bytes do not wait so long on their way.
const LONGEST_WAY: Duration = Duration::from_secs(10);
/// A reading's time is its middle, so the first after a greeting may lie before it by so much, at
/// one reading a second.
const READING_BEFORE_GREETING_US: u64 = 1_000_000;

/// Who is at the other end.
#[derive(Debug, Clone, PartialEq)]
pub struct HeadIs {
    /// As it introduced itself.
    pub hello: Hello,
    /// The calibration in use.
    pub calibration: CalibrationState,
}

/// A reading placed in its stream.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrived {
    /// The reading.
    pub reading: Reading,
    /// Its number and time, and what was lost before it.
    pub placed: Placed,
    /// When it came, on the caller's clock.
    pub arrival: Duration,
}

/// What happened.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// The head is known; readings follow.
    Up(Box<HeadIs>),
    /// Greeted again, the head said that it is the same.
    Same,
    /// A reading.
    Reading(Arrived),
    /// What the profile shows besides its middle.
    Sheet(Sheet),
    /// A whole scan, as asked for.
    Profile {
        /// Of the reading that was made of it.
        sequence: u8,
        /// As the pixels' converter gave it.
        scan: Box<Scan>,
    },
    /// The head's health.
    Pulse(Pulse),
    /// Raw codes.
    Codes(Codes),
    /// The button, and when on the head's clock.
    Button(Press, Microseconds),
    /// The head answered a request; what was asked, and what it says.
    Answer(Ask, Answer),
    /// Log bytes.
    Log(Vec<u8>),
    /// Where the head panicked before this start.
    LastWords(String),
    /// Bytes that were no message.
    Skipped {
        /// How many.
        bytes: u32,
        /// Why.
        why: Skip,
    },
    /// There and back.
    RoundTrip {
        /// How long it took there and back.
        took: Duration,
        /// The head's clock when it answered.
        at: Microseconds,
    },
    /// The head's clock does not go on from where it was: it restarted while the port stayed, or
    /// this computer slept. It is greeted again; what it sends meanwhile is not told.
    ClockJumped,
    /// The conversation is over.
    Refused(Refused),
}

/// Why there is no conversation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refused {
    /// It speaks another protocol.
    Protocol {
        /// Its version.
        theirs: u16,
    },
    /// It speaks this protocol in other shapes: its firmware and this program were made at different
    /// times.
    Schema,
    /// It sends, but not what a head sends.
    NotAHead {
        /// Bytes that came.
        bytes: u32,
    },
    /// It says nothing.
    Silent,
    /// It is a head, but another than the one asked for.
    OtherHead {
        /// The one found.
        found: Option<SerialNumber>,
        /// The one asked for.
        wanted: SerialNumber,
    },
}

/// Readings counted, over all conversations with the same head.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize)]
pub struct Counts {
    /// Readings that came.
    pub received: u64,
    /// Readings that the head made and that did not come.
    pub lost: u64,
    /// Bytes that were no message.
    pub skipped_bytes: u64,
}

enum State {
    Greeting { since: Duration, next: Duration, heard: u32 },
    AskingCalibration { hello: Hello, next: Duration },
    Up,
    Over,
}

/// The conversation.
pub struct Session {
    state: State,
    wanted: Option<SerialNumber>,
    decoder: Decoder,
    follower: Option<Follower>,
    /// When the follower last moved.
    followed_at: Duration,
    /// The head before the link was lost: its serial, the last number and time.
    before: Option<(SerialNumber, u32, Microseconds)>,
    counts: Counts,
    tokens: Tokens,
    together: Together,
    ping: (Token, Duration),
    ping_at: Duration,
    greet_at: Duration,
    out: Vec<u8>,
}

impl Session {
    /// Begins at `now`. With a wanted serial number any other head is refused.
    pub fn new(wanted: Option<SerialNumber>, now: Duration) -> Self {
        let mut session = Self {
            state: State::Over,
            wanted,
            decoder: Decoder::new(),
            follower: None,
            followed_at: now,
            before: None,
            counts: Counts::default(),
            tokens: Tokens::new(),
            together: Together::default(),
            ping: (Token::NONE, now),
            ping_at: now,
            greet_at: now,
            out: Vec::new(),
        };
        session.begin(now);
        session
    }

    /// Begins again after the link was lost: only the same head will do.
    pub fn begin_again(&mut self, now: Duration) {
        self.begin(now);
    }

    /// Readings counted so far.
    pub fn counts(&self) -> Counts {
        self.counts
    }

    /// The head in conversation, or the one asked for.
    pub fn wanted(&self) -> Option<SerialNumber> {
        self.wanted
    }

    /// Queues a request; the token that its answer will carry.
    pub fn ask(&mut self, request: &Request) -> Token {
        let call = self.tokens.call(request.clone());
        let mut buffer = [0; MAX_FRAME];
        // Every request fits: `MAX_FRAME` is held by a test over the longest of each.
        if let Ok(frame) = encode(&call, &mut buffer) {
            self.out.extend_from_slice(frame);
        }
        call.token
    }

    /// Bytes to send.
    pub fn take_out(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.out)
    }

    /// What was last taken to be sent went out in part: what comes next begins a frame of its own.
    pub fn cut_short(&mut self) {
        self.out.push(SEPARATOR);
    }

    /// Bytes received, or none; what happened goes to `tell`. Call it at least every 50 ms.
    pub fn poll(&mut self, now: Duration, received: &[u8], tell: &mut impl FnMut(Event)) {
        for byte in received {
            match self.decoder.feed::<Report>(*byte) {
                Fed::More => (),
                Fed::Message(report) => self.hear(report, now, tell),
                Fed::Skipped { bytes, why } => self.skip(bytes, why, tell),
            }
        }
        match &mut self.state {
            State::Greeting { since, next, heard } => {
                *heard = heard.saturating_add(received.len() as u32);
                if now.saturating_sub(*since) > GREET_FOR {
                    let refused = if *heard > 0 {
                        Refused::NotAHead { bytes: *heard }
                    } else {
                        Refused::Silent
                    };
                    self.state = State::Over;
                    tell(Event::Refused(refused));
                } else if now >= *next {
                    *next = now + GREET_EVERY;
                    self.ask(&Request::Greet);
                }
            }
            State::AskingCalibration { next, .. } if now >= *next => {
                *next = now + GREET_EVERY;
                self.ask(&Request::ReadCalibration);
            }
            State::Up => self.keep_up(now),
            _ => (),
        }
    }

    fn keep_up(&mut self, now: Duration) {
        if now >= self.ping_at {
            self.ping_at = now + PING_EVERY;
            self.ping = (self.ask(&Request::Ping), now);
        }
        if now >= self.greet_at {
            self.greet_at = now + GREET_AGAIN_EVERY;
            self.ask(&Request::Greet);
        }
    }

    fn begin(&mut self, now: Duration) {
        self.state = State::Greeting { since: now, next: now, heard: 0 };
        self.decoder.reset();
        self.follower = None;
        self.tokens.forget();
        self.out.clear();
        // Ends whatever the head has half received.
        self.out.push(SEPARATOR);
    }

    fn skip(&mut self, bytes: u32, why: Skip, tell: &mut impl FnMut(Event)) {
        self.counts.skipped_bytes += u64::from(bytes);
        let greeting = matches!(self.state, State::Greeting { .. });
        let refused = match why {
            Skip::Protocol(theirs) => Some(Refused::Protocol { theirs }),
            Skip::Schema(_) => Some(Refused::Schema),
            // A whole message of protocol 1, whose heads do not say their version to a host of
            // another: no later protocol has tags between the greeting and 16.
            Skip::Contents { tag: 1..16, .. } if greeting => Some(Refused::Protocol { theirs: 1 }),
            _ => None,
        };
        if let Some(refused) = refused {
            self.state = State::Over;
            tell(Event::Refused(refused));
        } else if !matches!(self.state, State::Greeting { .. } | State::Over) {
            tell(Event::Skipped { bytes, why });
        }
    }

    fn hear(&mut self, report: Report, now: Duration, tell: &mut impl FnMut(Event)) {
        if matches!(self.state, State::Over) {
            return;
        }
        if self.jumped(&report, now) {
            self.follower = None;
            tell(Event::ClockJumped);
            if !matches!(report, Report::Hello(_)) {
                self.state = State::Greeting { since: now, next: now, heard: 0 };
                return;
            }
        }
        match report {
            Report::Hello(hello) => self.greeted(hello, now, tell),
            Report::Answer(token, answer) => self.answered(token, answer, now, tell),
            // Until the head is known its readings are nobody's; they came all the same.
            Report::Reading(reading) if matches!(self.state, State::AskingCalibration { .. }) => {
                self.place(&reading, now);
            }
            // The log of a start comes before anything else; last words come with each greeting,
            // and are told with the first.
            Report::Log(bytes) => tell(Event::Log(bytes.to_vec())),
            Report::LastWords(words) if matches!(self.state, State::AskingCalibration { .. }) => {
                tell(Event::LastWords(words.as_str().to_owned()));
            }
            _ if !matches!(self.state, State::Up) => (),
            Report::Reading(reading) => self.reading(reading, now, tell),
            Report::Sheet(sheet) => tell(Event::Sheet(sheet)),
            Report::Profile(piece) => {
                if let Some((sequence, scan)) = self.together.add(&piece) {
                    tell(Event::Profile { sequence, scan: Box::new(*scan) });
                }
            }
            Report::Pulse(pulse) => tell(Event::Pulse(pulse)),
            Report::Codes(codes) => tell(Event::Codes(codes)),
            Report::Button { press, at } => tell(Event::Button(press, at)),
            Report::LastWords(_) => (),
        }
    }

    fn answered(
        &mut self,
        token: Token,
        answer: Answer,
        now: Duration,
        tell: &mut impl FnMut(Event),
    ) {
        let ask = self.tokens.answered(token, &answer);
        if let (Answer::Rate(rate), Some(follower)) = (&answer, &mut self.follower) {
            follower.set_rate(rate.per_second);
        }
        match (&self.state, ask, answer) {
            // Whoever asked for them, now or when a recording was made: they are those in use.
            (State::AskingCalibration { hello, .. }, _, Answer::Calibration(calibration)) => {
                let hello = *hello;
                self.state = State::Up;
                self.ping_at = now;
                self.greet_at = now + GREET_AGAIN_EVERY;
                tell(Event::Up(Box::new(HeadIs { hello, calibration })));
            }
            (State::Up, Some(Ask::Ping), Answer::Pong { at }) if token == self.ping.0 => {
                tell(Event::RoundTrip { took: now.saturating_sub(self.ping.1), at });
            }
            (State::Up, Some(ask), answer) => tell(Event::Answer(ask, answer)),
            _ => (),
        }
    }

    /// Whether the report's time cannot be the time that goes on from the last.
    fn jumped(&self, report: &Report, now: Duration) -> bool {
        let Some(position) = self.follower.map(|follower| follower.position()) else {
            return false;
        };
        let last_us = position.at.0;
        match report {
            Report::Hello(hello) => hello.serial == self.wanted && hello.at < position.at,
            Report::Pulse(pulse) => pulse.at.0 + READING_BEFORE_GREETING_US < last_us,
            Report::Reading(reading) => {
                let ahead_us = reading.at_low_us.wrapping_sub(last_us as u32);
                let before_it = u64::from(u32::MAX - ahead_us) < READING_BEFORE_GREETING_US;
                let way = now.saturating_sub(self.followed_at) + LONGEST_WAY;
                !before_it && Duration::from_micros(u64::from(ahead_us)) > way
            }
            _ => false,
        }
    }

    fn greeted(&mut self, hello: Hello, now: Duration, tell: &mut impl FnMut(Event)) {
        if self.follower.is_some() && hello.serial == self.wanted {
            // The answer to a repeated greeting.
            if matches!(self.state, State::Up) {
                tell(Event::Same);
            }
            return;
        }
        if let Some(wanted) = self.wanted
            && hello.serial != Some(wanted)
        {
            self.state = State::Over;
            tell(Event::Refused(Refused::OtherHead { found: hello.serial, wanted }));
            return;
        }
        // From here on only this head will do.
        self.wanted = hello.serial;
        if let (Some(serial), Some((before, number, at))) = (hello.serial, self.before)
            && serial == before
            && hello.at >= at
            && let made = hello.made.wrapping_sub(number)
            // A head that restarted at a slower rate has made fewer.
            && made <= u32::MAX / 2
        {
            // The head went on measuring while the link was down.
            self.counts.lost += u64::from(made);
            self.before = Some((serial, hello.made, hello.at));
        }
        self.follower = Some(Follower::new(hello.made, hello.at, hello.rate.per_second));
        self.followed_at = now;
        self.state = State::AskingCalibration { hello, next: now };
    }

    fn reading(&mut self, reading: Reading, now: Duration, tell: &mut impl FnMut(Event)) {
        if let Some(placed) = self.place(&reading, now) {
            tell(Event::Reading(Arrived { reading, placed, arrival: now }));
        }
    }

    /// Counts a reading, and what was lost before it; one that comes again is let go.
    fn place(&mut self, reading: &Reading, now: Duration) -> Option<Placed> {
        let placed = self.follower.as_mut()?.place(reading.sequence, reading.at_low_us)?;
        self.followed_at = now;
        self.counts.received += 1;
        self.counts.lost += u64::from(placed.lost);
        if let Some(serial) = self.wanted {
            self.before = Some((serial, placed.position.number, placed.position.at));
        }
        Some(placed)
    }
}

#[cfg(test)]
mod tests;
