//! What the host asks of the head, and what it is answered.

use super::Head;
use crate::hardware::Hardware;
use skimgauge_shared::frame::Skip;
use skimgauge_shared::message::{
    Answer, Ask, Call, Capabilities, Hello, LOADER_KEY, PRESS_WITHIN, PROTOCOL, Refusal, Report,
    Request, SCHEMA, Token,
};
use skimgauge_shared::units::Microseconds;

/// A scan is sent whole at most this often.
const PROFILE_EVERY: Microseconds = Microseconds(200_000);

/// What a press of the button lets go on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Waits {
    /// The boot loader.
    Loader,
    /// Writing the constants with this check.
    Commit(u32),
}

/// What waits for a press, whom to answer, and until when.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Waiting {
    waits: Waits,
    token: Token,
    until: Microseconds,
}

impl<H: Hardware> Head<H> {
    pub(super) fn refuse_frame(&mut self, why: Skip, now: Microseconds) {
        self.refused_frames = self.refused_frames.saturating_add(1);
        match why {
            // The host must hear which protocol this head speaks.
            Skip::Protocol(_) | Skip::Schema(_) => {
                let hello = Report::Hello(self.hello(Token::NONE, now));
                self.outbox.answer(&hello);
            }
            Skip::Contents { tag, token } if tag >= Ask::Ping as u8 => {
                self.answer(Token(token), Answer::Unknown);
            }
            _ => (),
        }
    }

    pub(super) fn answer(&mut self, token: Token, answer: Answer) {
        self.outbox.answer(&Report::Answer(token, answer));
    }

    pub(super) fn carry_out(&mut self, call: Call, now: Microseconds) {
        let token = call.token;
        let answer = match call.request {
            Request::Greet => return self.greet(token, now),
            Request::Ping => Answer::Pong { at: now },
            Request::SetRate { per_second } => {
                self.sampling.set_rate(per_second);
                Answer::Rate(self.sampling.rate())
            }
            Request::Identify { seconds } => {
                self.identify_until =
                    now.after(Microseconds::from_millis(u64::from(seconds) * 1_000));
                Answer::Done
            }
            Request::ReadCalibration => Answer::Calibration(self.constants.in_use().clone()),
            Request::StageCalibration(calibration) => self.constants.stage(calibration),
            Request::StagePixels { part, bytes } => self.constants.stage_part(part, &bytes),
            Request::CommitCalibration { check } if self.constants.writes(check) => {
                // Asked again: the answer that comes is this one's.
                self.committing = token;
                return;
            }
            Request::CommitCalibration { check } => match self.constants.refuse(check) {
                Some(answer) => answer,
                None => self.wait_for_press(Waits::Commit(check), token, now),
            },
            Request::StreamCodes { on } => {
                self.stream_codes = on;
                Answer::Done
            }
            Request::Cue(cue) if self.start.capabilities.has(Capabilities::BUZZER) => {
                self.cue = (cue, now);
                Answer::Done
            }
            Request::ProfileWanted if now.since(self.profile_asked) < PROFILE_EVERY => {
                Answer::Refused(Refusal::Busy)
            }
            Request::ProfileWanted => {
                (self.profile_asked, self.profile_wanted) = (now, true);
                Answer::Done
            }
            Request::Unattended if self.waiting.is_some() => {
                self.answer(token, Answer::Done);
                self.go_on(now);
                return;
            }
            Request::Unattended => Answer::Refused(Refusal::NothingWaits),
            Request::EnterLoader { key } if key != LOADER_KEY => {
                Answer::Refused(Refusal::OutOfRange)
            }
            Request::EnterLoader { .. } if self.start.capabilities.has(Capabilities::LOADER) => {
                self.wait_for_press(Waits::Loader, token, now)
            }
            Request::Cue(_) | Request::EnterLoader { .. } => Answer::Refused(Refusal::NotFitted),
        };
        self.answer(token, answer);
    }

    fn greet(&mut self, token: Token, now: Microseconds) {
        let hello = Report::Hello(self.hello(token, now));
        self.outbox.answer(&hello);
        if let Some(words) = &self.start.last_words {
            self.outbox.answer(&Report::LastWords(words.clone()));
        }
    }

    fn wait_for_press(&mut self, waits: Waits, token: Token, now: Microseconds) -> Answer {
        match &mut self.waiting {
            // Asked again: the same wait goes on, its answer is this one's.
            Some(waiting) if waiting.waits == waits => waiting.token = token,
            Some(_) => return Answer::Refused(Refusal::Busy),
            None => {
                self.waiting = Some(Waiting { waits, token, until: now.after(PRESS_WITHIN) });
            }
        }
        let left = self.waiting.map_or(Microseconds(0), |waiting| waiting.until.since(now));
        Answer::PressWanted { seconds: (left.0 as u32).div_ceil(1_000_000) as u8 }
    }

    /// Lets go what waited for too long.
    pub(super) fn end_wait(&mut self, now: Microseconds) {
        if let Some(waiting) = self.waiting.take_if(|waiting| now >= waiting.until) {
            self.answer(waiting.token, Answer::Refused(Refusal::NotPressed));
        }
    }

    /// The button was pressed, or nobody is there who could. Whether something waited for that.
    pub(super) fn go_on(&mut self, now: Microseconds) -> bool {
        let Some(Waiting { waits, token, .. }) = self.waiting.take() else { return false };
        match waits {
            Waits::Loader => {
                self.enter_loader = true;
                self.answer(token, Answer::Done);
            }
            Waits::Commit(check) => {
                self.committing = token;
                // Answered when it is written and read back, but for a refusal.
                if let Some(refused) = self.constants.commit(check, now) {
                    self.answer(token, refused);
                }
            }
        }
        true
    }

    fn hello(&self, token: Token, now: Microseconds) -> Hello {
        Hello {
            protocol: PROTOCOL,
            schema: SCHEMA,
            firmware: self.start.firmware,
            serial: self.constants.serial(),
            reset: self.start.reset,
            capabilities: self.start.capabilities,
            at: now,
            made: self.made,
            rate: self.sampling.rate(),
            calibration: self.constants.in_use().check,
            token,
        }
    }
}
