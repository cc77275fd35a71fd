//! One conversation with a head. Pure: bytes and the time in, events and bytes to send out.

use skimgauge_shared::calibration::CalibrationState;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, SEPARATOR, Skip, encode};
use skimgauge_shared::message::{
    Codes, Hello, PROTOCOL, Press, Pulse, Report, Request, SerialNumber,
};
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
    /// The head's health.
    Pulse(Pulse),
    /// Raw codes.
    Codes(Codes),
    /// The button, and when on the head's clock.
    Button(Press, Microseconds),
    /// The head answered a request otherwise.
    Answer(Report),
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
    ping: (u32, Duration),
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
            ping: (0, now),
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

    /// Queues a request.
    pub fn ask(&mut self, request: &Request) {
        let mut buffer = [0; MAX_FRAME];
        // Every request fits: `MAX_FRAME` is held by a test over the longest of each.
        if let Ok(frame) = encode(request, &mut buffer) {
            self.out.extend_from_slice(frame);
        }
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
                    self.ask(&Request::Greet { protocol: PROTOCOL });
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
            self.ping = (self.ping.0.wrapping_add(1), now);
            let token = self.ping.0;
            self.ask(&Request::Ping { token });
        }
        if now >= self.greet_at {
            self.greet_at = now + GREET_AGAIN_EVERY;
            self.ask(&Request::Greet { protocol: PROTOCOL });
        }
    }

    fn begin(&mut self, now: Duration) {
        self.state = State::Greeting { since: now, next: now, heard: 0 };
        self.decoder.reset();
        self.follower = None;
        self.out.clear();
        // Ends whatever the head has half received.
        self.out.push(SEPARATOR);
    }

    fn skip(&mut self, bytes: u32, why: Skip, tell: &mut impl FnMut(Event)) {
        self.counts.skipped_bytes += u64::from(bytes);
        if let Skip::Protocol(theirs) = why {
            self.state = State::Over;
            tell(Event::Refused(Refused::Protocol { theirs }));
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
            Report::Calibration(calibration) => {
                if let State::AskingCalibration { hello, .. } = self.state {
                    self.state = State::Up;
                    self.ping_at = now;
                    self.greet_at = now + GREET_AGAIN_EVERY;
                    tell(Event::Up(Box::new(HeadIs { hello, calibration })));
                } else {
                    tell(Event::Answer(Report::Calibration(calibration)));
                }
            }
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
            Report::Pulse(pulse) => tell(Event::Pulse(pulse)),
            Report::Rate(rate) => {
                if let Some(follower) = &mut self.follower {
                    follower.set_rate(rate.per_second);
                }
                tell(Event::Answer(Report::Rate(rate)));
            }
            Report::Pong { token, at } => {
                if token == self.ping.0 {
                    tell(Event::RoundTrip { took: now.saturating_sub(self.ping.1), at });
                }
            }
            Report::Codes(codes) => tell(Event::Codes(codes)),
            Report::Button { press, at } => tell(Event::Button(press, at)),
            Report::LastWords(_) => (),
            answer @ (Report::Staged { .. } | Report::Done(_) | Report::Refused { .. }) => {
                tell(Event::Answer(answer));
            }
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

    /// Counts a reading, and what was lost before it.
    fn place(&mut self, reading: &Reading, now: Duration) -> Option<Placed> {
        let placed = self.follower.as_mut()?.place(reading.sequence, reading.at_low_us);
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
mod tests {
    use super::*;
    use skimgauge_shared::calibration::Calibration;
    use skimgauge_shared::message::{CalibrationCheck, Capabilities, Rate, ResetCause, Version};
    use skimgauge_shared::reading::{Absence, Sample};

    const SERIAL: SerialNumber = SerialNumber([0x5A; 16]);

    fn hello(made: u32) -> Report {
        Report::Hello(Hello {
            protocol: PROTOCOL,
            firmware: Version { major: 0, minor: 1, patch: 0 },
            serial: Some(SERIAL),
            reset: ResetCause::Watchdog,
            capabilities: Capabilities::EYE,
            at: Microseconds(u64::from(made) * 10_000),
            made,
            rate: Rate { per_second: 100, conversions: 2 },
            calibration: CalibrationCheck::Good,
        })
    }

    fn constants() -> Report {
        let calibration = Calibration::nominal(SERIAL);
        Report::Calibration(CalibrationState { check: CalibrationCheck::Good, calibration })
    }

    fn reading(number: u32) -> Report {
        let absent = Absence::NoAnswer;
        Report::Reading(Reading {
            sequence: number as u8,
            at_low_us: number.wrapping_mul(10_000),
            stand_off: Sample::Absent(absent),
            eye: Sample::Absent(absent),
            tilt: Sample::Absent(absent),
        })
    }

    fn pulse(made: u32) -> Report {
        Report::Pulse(Pulse {
            at: Microseconds(u64::from(made) * 10_000),
            made,
            unsent: 0,
            refused_frames: 0,
            temperature: Sample::Absent(Absence::NoAnswer),
            supply: Sample::Absent(Absence::NoAnswer),
            light: Sample::Absent(Absence::NoAnswer),
            latest_start_us: 0,
        })
    }

    fn hear(session: &mut Session, at_ms: u64, reports: &[Report]) -> Vec<Event> {
        let mut told = Vec::new();
        for report in reports {
            let mut buffer = [0; MAX_FRAME];
            let frame = encode(report, &mut buffer).unwrap().to_vec();
            session.poll(Duration::from_millis(at_ms), &frame, &mut |event| told.push(event));
        }
        told
    }

    fn asks_to_greet(session: &mut Session) -> bool {
        let mut decoder = Decoder::new();
        let out = session.take_out();
        out.iter().any(|byte| {
            matches!(decoder.feed::<Request>(*byte), Fed::Message(Request::Greet { .. }))
        })
    }

    /// Up since 20 s, 2 000 readings made, the last of them heard.
    fn long_up() -> Session {
        let mut session = Session::new(None, Duration::ZERO);
        hear(&mut session, 20_000, &[hello(1_999), constants(), reading(2_000)]);
        session.take_out();
        session
    }

    #[test]
    fn a_head_that_restarts_unseen_is_greeted_again_and_nothing_is_counted_that_was_not_made() {
        for first in [reading(3), pulse(3)] {
            let mut session = long_up();
            assert_eq!(hear(&mut session, 20_500, &[first]), [Event::ClockJumped]);
            assert!(asks_to_greet(&mut session));
            // What it sends before it is known again is nobody's.
            assert_eq!(hear(&mut session, 20_510, &[reading(4)]), []);
            let told = hear(&mut session, 20_520, &[hello(5), constants(), reading(6)]);
            assert!(matches!(told[..], [Event::Up(_), Event::Reading(_)]), "{told:?}");
            assert_eq!((session.counts().received, session.counts().lost), (2, 0));
        }
    }

    #[test]
    fn the_greeting_of_a_head_that_restarted_is_as_good_as_any() {
        let mut session = long_up();
        let told = hear(&mut session, 20_500, &[hello(0), constants(), reading(1)]);
        assert!(
            matches!(told[..], [Event::ClockJumped, Event::Up(_), Event::Reading(_)]),
            "{told:?}"
        );
        assert_eq!((session.counts().received, session.counts().lost), (2, 0));
    }

    /// Whoever is at the port is asked again at least every five seconds, and says who it is.
    #[test]
    fn a_head_changed_for_another_while_the_port_stays_is_found_within_5_s() {
        let mut session = long_up();
        let mut greeted = 0;
        for ms in (20_000..40_000).step_by(10) {
            session.poll(Duration::from_millis(ms), &[], &mut |event| panic!("{event:?}"));
            greeted += u32::from(asks_to_greet(&mut session));
        }
        assert!(greeted >= 4, "{greeted} greetings in 20 s");
        assert_eq!(hear(&mut session, 40_000, &[hello(2_001), reading(2_002)])[0], Event::Same);
        // Another one with the very same clock and count.
        let other = SerialNumber([0x77; 16]);
        let Report::Hello(mine) = hello(2_003) else { unreachable!() };
        let told = hear(
            &mut session,
            40_010,
            &[Report::Hello(Hello { serial: Some(other), ..mine }), reading(2_004)],
        );
        assert_eq!(
            told,
            [Event::Refused(Refused::OtherHead { found: Some(other), wanted: SERIAL })]
        );
    }

    #[test]
    fn last_words_are_told_once_however_often_it_is_greeted() {
        let mut session = long_up();
        let words = || Report::LastWords("src/main.rs:7".try_into().unwrap());
        assert_eq!(hear(&mut session, 24_000, &[hello(2_400), words()]), [Event::Same]);
    }

    #[test]
    fn a_long_silence_is_no_restart() {
        let mut session = long_up();
        // The 32 low bits of its time come round meanwhile.
        let later = 2_000 + 65 * 60 * 100;
        let told = hear(&mut session, 20_000 + 65 * 60 * 1_000, &[reading(later), pulse(later)]);
        assert!(matches!(told[..], [Event::Reading(_), Event::Pulse(_)]), "{told:?}");
        assert_eq!(session.counts().lost, 65 * 60 * 100 - 1);
    }

    #[test]
    fn a_greeting_repeated_while_readings_come_counts_nothing_twice() {
        let mut session = Session::new(None, Duration::ZERO);
        hear(
            &mut session,
            0,
            &[hello(7), reading(8), hello(8), reading(9), hello(9), constants(), reading(10)],
        );
        assert_eq!((session.counts().received, session.counts().lost), (3, 0));
    }

    #[test]
    fn last_words_come_with_the_greeting_and_the_log_before_it() {
        let words = "src/main.rs:7";
        let mut session = Session::new(None, Duration::ZERO);
        let told = hear(
            &mut session,
            0,
            &[
                Report::Log([1, 2, 0].into_iter().collect()),
                hello(0),
                Report::LastWords(words.try_into().unwrap()),
                constants(),
            ],
        );
        let [Event::Log(_), Event::LastWords(told), Event::Up(_)] = &told[..] else {
            panic!("{told:?}")
        };
        assert_eq!(told, words);
    }

    #[test]
    fn a_head_that_made_fewer_since_its_restart_has_lost_none() {
        let mut session = long_up();
        session.begin_again(Duration::from_secs(50));
        let Report::Hello(mut slow) = hello(300) else { unreachable!() };
        slow.at = Microseconds(30_000_000);
        hear(&mut session, 50_000, &[Report::Hello(slow), constants()]);
        assert_eq!(session.counts().lost, 0);
    }
}
