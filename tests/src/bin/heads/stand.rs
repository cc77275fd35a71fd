//! A simulated head with somebody who listens: the head's own logic on the bench's parts, its bytes
//! decoded, its readings observed.

use skimgauge_bench::Bench;
use skimgauge_bench::virtual_head::VirtualHead;
use skimgauge_bench::zeroed::{self, Zeroed};
use skimgauge_metrology::measure::{Limits, Live, Observer};
use skimgauge_shared::calibration::Date;
use skimgauge_shared::exchange::Tokens;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::message::{Answer, Report, Request};
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
    /// The observer.
    pub observer: Observer,
    answer: Option<Answer>,
    /// Readings that came.
    pub readings: u64,
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
            observer: Observer::new(limits, TODAY),
            answer: None,
            readings: 0,
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
    fn ask(&mut self, request: Request) -> Option<Answer> {
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
        let until_us = self.bench.now_us() + TICK_US;
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
            }
            Report::Reading(reading) => {
                if let Some(follower) = &mut self.follower {
                    let placed = follower.place(reading.sequence, reading.at_low_us);
                    self.observer.reading(&reading, placed, now_s);
                    self.readings += 1;
                }
            }
            Report::Sheet(sheet) => self.observer.sheet(&sheet, now_s),
            Report::Pulse(pulse) => self.observer.pulse(&pulse, now_s),
            Report::Answer(_, answer) => {
                if let Answer::Calibration(state) = &answer {
                    self.observer.calibrated(state.clone());
                }
                self.answer = Some(answer);
            }
            Report::Codes(_)
            | Report::Profile(_)
            | Report::Button { .. }
            | Report::Log(_)
            | Report::LastWords(_) => {}
        }
    }

    /// How the head is now.
    pub(crate) fn live(&self) -> Live {
        self.observer.live(self.now_s())
    }
}
