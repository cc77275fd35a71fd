//! What the host asks of the head, and what it is answered.

use super::Head;
use crate::hardware::Hardware;
use skimgauge_shared::frame::Skip;
use skimgauge_shared::message::{
    Ask, Capabilities, Hello, LOADER_KEY, PROTOCOL, Refusal, Report, Request,
};
use skimgauge_shared::units::Microseconds;

impl<H: Hardware> Head<H> {
    pub(super) fn refuse_frame(&mut self, why: Skip) {
        self.refused_frames = self.refused_frames.saturating_add(1);
        if matches!(why, Skip::Protocol(_)) {
            // The host must hear which protocol this head speaks.
            self.outbox.answer(&Report::Refused { ask: Ask::Greet, why: Refusal::Protocol });
        }
    }

    pub(super) fn carry_out(&mut self, request: Request, now: Microseconds) {
        let ask = request.ask();
        let done = Report::Done(ask);
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
                self.identify_until =
                    now.after(Microseconds::from_millis(u64::from(seconds) * 1_000));
                done
            }
            Request::ReadCalibration => Report::Calibration(self.constants.in_use().clone()),
            Request::StageCalibration(calibration) => self.constants.stage(calibration),
            Request::CommitCalibration { check } => match self.constants.commit(check, now) {
                Some(refused) => refused,
                None => return, // answered when it is written and read back
            },
            Request::StreamCodes { on } => {
                self.stream_codes = on;
                done
            }
            Request::Cue(cue) if self.start.capabilities.has(Capabilities::BUZZER) => {
                self.cue = (cue, now);
                done
            }
            Request::Cue(_) => refused(Refusal::NotFitted),
            Request::EnterLoader { key } if key != LOADER_KEY => refused(Refusal::OutOfRange),
            Request::EnterLoader { .. } if !self.start.capabilities.has(Capabilities::LOADER) => {
                refused(Refusal::NotFitted)
            }
            Request::EnterLoader { .. } => {
                self.enter_loader = true;
                done
            }
        };
        self.outbox.answer(&report);
    }

    fn hello(&self, now: Microseconds) -> Hello {
        Hello {
            protocol: PROTOCOL,
            firmware: self.start.firmware,
            serial: self.constants.serial(),
            reset: self.start.reset,
            capabilities: self.start.capabilities,
            at: now,
            made: self.made,
            rate: self.sampling.rate(self.converter.period_us()),
            calibration: self.constants.in_use().check,
        }
    }
}
