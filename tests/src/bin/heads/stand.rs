//! A simulated head with somebody who listens: the head's own logic on the bench's parts, its bytes
//! decoded, its readings observed.

use skimgauge_bench::Bench;
use skimgauge_bench::virtual_head::VirtualHead;
use skimgauge_bench::zeroed::{self, Zeroed};
use skimgauge_metrology::measure::{Limits, Live, Observer};
use skimgauge_metrology::zero::Gathering;
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::exchange::{NotWritten, Tokens, WriteConstants};
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::message::{Answer, Ask, Hello, Report, Request};
use skimgauge_shared::pixels::{Pixels, Together};
use skimgauge_shared::sequence::Follower;

/// The day on which all this happens.
pub(crate) const TODAY: Date = Date { year: 2026, month: 6, day: 1 };

/// Once in a hundredth of a second.
const TICK_US: u64 = 10_000;

/// A head on its stand.
pub(crate) struct Stand {
    /// The bench.
    pub bench: Bench,
    head: VirtualHead,
    decoder: Decoder,
    follower: Option<Follower>,
    tokens: Tokens,
    /// Its greeting.
    pub hello: Option<Hello>,
    /// The observer.
    pub observer: Observer,
    /// What a zero gathers, while it does.
    pub gathering: Option<Gathering>,
    profile: Together,
    answer: Option<(Ask, Answer)>,
}

impl Stand {
    /// Its constants written, then switched on anew and greeted.
    pub(crate) fn new(bench: Bench, zeroed: &Zeroed, limits: Limits) -> Self {
        let mut head = VirtualHead::new(bench.clone());
        assert!(zeroed::write(&mut head, zeroed), "the head does not take its constants");
        let head = VirtualHead::new(bench.clone());
        let mut stand = Self {
            bench,
            head,
            decoder: Decoder::new(),
            follower: None,
            tokens: Tokens::new(),
            hello: None,
            observer: Observer::new(limits, TODAY),
            gathering: None,
            profile: Together::default(),
            answer: None,
        };
        stand.greet();
        stand
    }

    /// Switched off and on again.
    pub(crate) fn restart(&mut self) {
        self.head = VirtualHead::new(self.bench.clone());
        self.decoder = Decoder::new();
        self.follower = None;
        self.observer.link_broken();
        self.greet();
    }

    fn greet(&mut self) {
        self.ask(Request::Greet);
        self.ask(Request::ReadCalibration);
    }

    /// Time on the host, s.
    pub(crate) fn now_s(&self) -> f64 {
        self.bench.now_us() as f64 * 1e-6 + 50.0
    }

    /// Asks and waits a moment for the answer.
    pub(crate) fn ask(&mut self, request: Request) -> Option<(Ask, Answer)> {
        let mut buffer = [0; MAX_FRAME];
        let frame = encode(&self.tokens.call(request), &mut buffer).ok()?.to_vec();
        self.answer = None;
        self.tick(&frame);
        for _ in 0..20 {
            if self.answer.is_some() {
                break;
            }
            self.tick(&[]);
        }
        self.answer.take()
    }

    /// A hundredth of a second.
    pub(crate) fn tick(&mut self, received: &[u8]) {
        self.pass(TICK_US, received);
    }

    /// So many microseconds, at the end of which the host hears what was sent.
    pub(crate) fn pass(&mut self, us: u64, received: &[u8]) {
        let until_us = self.bench.now_us() + us;
        let mut sent = Vec::new();
        self.head.run_until(until_us, received, &mut |bytes| sent.extend_from_slice(bytes));
        for byte in sent {
            if let Fed::Message(report) = self.decoder.feed::<Report>(byte) {
                self.hear(report);
            }
        }
    }

    /// So many seconds.
    pub(crate) fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds * 100.0).round() as u64 {
            self.tick(&[]);
        }
    }

    fn hear(&mut self, report: Report) {
        let now_s = self.now_s();
        match report {
            Report::Hello(hello) => {
                self.follower = Some(Follower::new(hello.made, hello.at, hello.rate.per_second));
                self.observer.greeted(hello.serial);
                self.hello = Some(hello);
            }
            Report::Reading(reading) => {
                let follower = self.follower.as_mut();
                let placed = follower.and_then(|f| f.place(reading.sequence, reading.at_low_us));
                if let Some(placed) = placed {
                    self.observer.reading(&reading, placed, now_s);
                }
                if let Some(gathering) = &mut self.gathering {
                    gathering.tilt(reading.tilt);
                }
            }
            Report::Sheet(sheet) => self.observer.sheet(&sheet, now_s),
            Report::Pulse(pulse) => {
                if let (Some(gathering), Some(t)) = (&mut self.gathering, pulse.temperature.value())
                {
                    gathering.temperature(t.celsius());
                }
                self.observer.pulse(&pulse, now_s);
            }
            Report::Codes(codes) => {
                if let Some(gathering) = &mut self.gathering {
                    gathering.stand_off(codes.stand_off);
                }
            }
            Report::Profile(piece) => {
                if let (Some((_, scan)), Some(gathering)) =
                    (self.profile.add(&piece), &mut self.gathering)
                {
                    gathering.profile(scan);
                }
            }
            Report::Answer(token, answer) => {
                let Some(ask) = self.tokens.answered(token, &answer) else { return };
                if let Answer::Calibration(state) = &answer {
                    self.observer.calibrated(state.clone());
                }
                self.answer = Some((ask, answer));
            }
            Report::Button { .. } | Report::Log(_) | Report::LastWords(_) => {}
        }
    }

    /// Writes constants, and hears them back; nobody presses the button.
    pub(crate) fn write(
        &mut self,
        constants: &Calibration,
        table: Option<Pixels>,
    ) -> Result<CalibrationState, Option<NotWritten>> {
        let written = WriteConstants::carry_out(constants.clone(), table, |request| {
            let answer = match request {
                Some(request) => self.ask(request),
                None => self.wait(),
            };
            answer.ok_or(None)
        });
        written?.map_err(Some)
    }

    /// The next answer to what was asked.
    fn wait(&mut self) -> Option<(Ask, Answer)> {
        for _ in 0..100 {
            if self.answer.is_some() {
                break;
            }
            self.tick(&[]);
        }
        self.answer.take()
    }

    /// How the head is now.
    pub(crate) fn live(&self) -> Live {
        self.observer.live(self.now_s())
    }
}
