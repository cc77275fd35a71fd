//! The host's side of asking: tokens handed out and known again, and writing constants to a head:
//! they are staged, committed, and what the head read back from its memory is held against them.
//! Pure: requests out, answers in. Whoever carries them watches the clock.

use crate::calibration::{Calibration, CalibrationCheck, CalibrationState};
use crate::check::crc32;
use crate::message::{Answer, Ask, Call, Refusal, Request, Token};
use crate::pixels::{Pixels, TABLE_PART, TABLE_PARTS};
use heapless::Deque;
use heapless::Vec;

/// So many requests may wait for their answers; an older one's answer is nobody's.
const WAITING: usize = 32;

/// Hands out tokens, and knows what an answer answers.
#[derive(Debug, Clone, Default)]
pub struct Tokens {
    last: u16,
    waiting: Deque<(Token, Ask), WAITING>,
}

impl Tokens {
    /// None handed out.
    pub const fn new() -> Self {
        Self { last: 0, waiting: Deque::new() }
    }

    /// The request with a token of its own.
    pub fn call(&mut self, request: Request) -> Call {
        self.last = self.last.checked_add(1).unwrap_or(1);
        let ask = request.ask();
        let token = if ask == Ask::EnterLoader { Token::NONE } else { Token(self.last) };
        if self.waiting.is_full() {
            self.waiting.pop_front();
        }
        let _ = self.waiting.push_back((token, ask));
        Call { token, request }
    }

    /// What this answers; `None`: nothing that was asked here, or it was answered before.
    pub fn answered(&mut self, token: Token, answer: &Answer) -> Option<Ask> {
        let (_, ask) = *self.waiting.iter().find(|(waiting, _)| *waiting == token)?;
        if !answer.is_preliminary() {
            self.waiting.retain(|(waiting, _)| *waiting != token);
        }
        Some(ask)
    }

    /// Nothing will be answered any more: the link was lost.
    pub fn forget(&mut self) {
        self.waiting.clear();
    }
}

/// A write under way.
#[derive(Debug, Clone)]
pub struct WriteConstants {
    constants: Calibration,
    table: Option<Pixels>,
    step: Step,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    Table(u8),
    Staging,
    Committing,
    Over,
}

/// What follows from an answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// It has nothing to do with the write: wait on.
    Wait,
    /// Ask this.
    Ask(Request),
    /// The head waits so many seconds for a press of its button; tell the person. Where nobody is at
    /// the head, ask [`Request::Unattended`].
    Press(u8),
    /// Written and read back the same.
    Written(CalibrationState),
    /// It did not come to that.
    NotWritten(NotWritten),
}

/// Why constants were not written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotWritten {
    /// The head refused; its former constants are in force.
    Refused(Refusal),
    /// The head does not know what it was asked: it was flashed with other firmware meanwhile.
    Unknown,
    /// The head holds something else than was sent to it, and was not told to write it; its former
    /// constants are in force.
    Garbled,
    /// What the head now uses is not what was sent. It must not measure before it is zeroed again.
    Differs(CalibrationState),
}

impl WriteConstants {
    /// Begins; the first request. With a table the constants name it, whatever they named before;
    /// without one the head must hold the table that they name.
    pub fn begin(constants: Calibration, table: Option<Pixels>) -> (Self, Request) {
        let pixels = table.as_ref().map_or(constants.pixels, Pixels::digest);
        let constants = Calibration { pixels, ..constants };
        let step = if table.is_some() { Step::Table(0) } else { Step::Staging };
        let write = Self { constants, table, step };
        let request = write.request();
        (write, request)
    }

    /// Whether a head that falls silent now may have written: then only asking it for its constants
    /// tells.
    pub fn may_have_written(&self) -> bool {
        matches!(self.step, Step::Committing | Step::Over)
    }

    /// Asks the last request once more: nothing is written twice.
    pub fn again(&self) -> Request {
        self.request()
    }

    /// Takes the answer to a request in.
    pub fn hear(&mut self, ask: Ask, answer: &Answer) -> Next {
        let expected = match self.step {
            Step::Table(_) => Ask::StagePixels,
            Step::Staging => Ask::StageCalibration,
            Step::Committing => Ask::CommitCalibration,
            Step::Over => return Next::Wait,
        };
        if ask != expected {
            return Next::Wait;
        }
        let next = match answer {
            Answer::Staged { check } if self.step != Step::Committing => {
                if *check == self.check() {
                    self.step = match self.step {
                        Step::Table(part) if part + 1 < TABLE_PARTS => Step::Table(part + 1),
                        Step::Table(_) => Step::Staging,
                        _ => Step::Committing,
                    };
                    return Next::Ask(self.request());
                }
                Next::NotWritten(NotWritten::Garbled)
            }
            Answer::PressWanted { seconds } => return Next::Press(*seconds),
            Answer::Refused(why) => Next::NotWritten(NotWritten::Refused(*why)),
            Answer::Unknown => Next::NotWritten(NotWritten::Unknown),
            Answer::Calibration(state) if self.step == Step::Committing => {
                let good = state.check == CalibrationCheck::Good;
                if good && state.calibration == self.constants {
                    Next::Written(state.clone())
                } else {
                    Next::NotWritten(NotWritten::Differs(state.clone()))
                }
            }
            _ => return Next::Wait,
        };
        self.step = Step::Over;
        next
    }

    /// The request of the step.
    fn request(&self) -> Request {
        match self.step {
            Step::Table(part) => Request::StagePixels { part, bytes: self.part(part) },
            Step::Staging => Request::StageCalibration(self.constants.clone()),
            Step::Committing | Step::Over => {
                Request::CommitCalibration { check: self.constants.check() }
            }
        }
    }

    /// What the head must say of what it holds.
    fn check(&self) -> u32 {
        match self.step {
            Step::Table(part) => crc32(&self.part(part)),
            _ => self.constants.check(),
        }
    }

    fn part(&self, part: u8) -> Vec<u8, TABLE_PART> {
        let bytes = self.table.as_ref().map(Pixels::to_bytes);
        let chunk = bytes.as_ref().and_then(|b| b.chunks(TABLE_PART).nth(usize::from(part)));
        // A chunk is no longer than there is room for.
        Vec::from_slice(chunk.unwrap_or_default()).unwrap_or_default()
    }

    /// The whole write, with somebody who sends a request, if there is one, and gives the head's
    /// next answer. Nobody is at the head.
    ///
    /// # Errors
    /// What `ask` came back with; or, within, why the constants were not written.
    pub fn carry_out<E>(
        constants: Calibration,
        table: Option<Pixels>,
        mut ask: impl FnMut(Option<Request>) -> Result<(Ask, Answer), E>,
    ) -> Result<Result<CalibrationState, NotWritten>, E> {
        let (mut write, request) = Self::begin(constants, table);
        let mut request = Some(request);
        loop {
            let (asked, answer) = ask(request.take())?;
            match write.hear(asked, &answer) {
                Next::Wait => (),
                Next::Ask(next) => request = Some(next),
                Next::Press(_) => request = Some(Request::Unattended),
                Next::Written(state) => return Ok(Ok(state)),
                Next::NotWritten(why) => return Ok(Err(why)),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identity::SerialNumber;
    use crate::pixels::PIXELS;
    use crate::units::Micrometres;

    fn constants() -> Calibration {
        Calibration { zero: Micrometres(-24_321), ..Calibration::nominal(SerialNumber([7; 16])) }
    }

    fn state(calibration: Calibration, check: CalibrationCheck) -> Answer {
        Answer::Calibration(CalibrationState { check, calibration })
    }

    type Outcome = Result<CalibrationState, NotWritten>;

    /// What a write ends with when the head answers these in turn; the requests that it was asked
    /// meanwhile.
    fn told(answers: &[(Ask, Answer)]) -> (Outcome, std::vec::Vec<Request>) {
        let mut asked = std::vec::Vec::new();
        let mut answers = answers.iter();
        let outcome = WriteConstants::carry_out(constants(), None, |request| {
            asked.extend(request);
            answers.next().cloned().ok_or("the head fell silent")
        });
        (outcome.unwrap(), asked)
    }

    fn staged() -> (Ask, Answer) {
        (Ask::StageCalibration, Answer::Staged { check: constants().check() })
    }

    fn good() -> CalibrationState {
        CalibrationState { check: CalibrationCheck::Good, calibration: constants() }
    }

    fn committed(answer: Answer) -> (Ask, Answer) {
        (Ask::CommitCalibration, answer)
    }

    #[test]
    fn constants_are_staged_committed_and_held_against_what_was_read_back() {
        let written = committed(Answer::Calibration(good()));
        let (outcome, asked) = told(&[staged(), written]);
        assert_eq!(outcome, Ok(good()));
        let commit = Request::CommitCalibration { check: constants().check() };
        assert_eq!(asked, [Request::StageCalibration(constants()), commit]);
    }

    #[test]
    fn where_nobody_is_at_the_head_its_press_is_waived() {
        let press = committed(Answer::PressWanted { seconds: 10 });
        let waived = (Ask::Unattended, Answer::Done);
        let written = committed(Answer::Calibration(good()));
        let (outcome, asked) = told(&[staged(), press, waived, written]);
        assert_eq!((outcome, asked.len(), &asked[2]), (Ok(good()), 3, &Request::Unattended));
    }

    #[test]
    fn a_table_goes_first_and_the_constants_name_it() {
        let table = Pixels { gain: [-3; PIXELS], ..Pixels::UNCOMPARED };
        let (mut write, mut request) = WriteConstants::begin(constants(), Some(table.clone()));
        let mut sent = std::vec::Vec::new();
        while let Request::StagePixels { part, bytes } = request {
            assert_eq!(usize::from(part) * TABLE_PART, sent.len());
            sent.extend_from_slice(&bytes);
            let other = Answer::Staged { check: !crc32(&bytes) };
            assert_eq!(
                write.clone().hear(Ask::StagePixels, &other),
                Next::NotWritten(NotWritten::Garbled)
            );
            let answer = Answer::Staged { check: crc32(&bytes) };
            let Next::Ask(next) = write.hear(Ask::StagePixels, &answer) else { panic!() };
            request = next;
        }
        assert_eq!(sent, table.to_bytes());
        let named = Calibration { pixels: table.digest(), ..constants() };
        assert_eq!(request, Request::StageCalibration(named));
    }

    #[test]
    fn what_belongs_to_another_question_is_passed_over() {
        let other = (Ask::Cue, Answer::Refused(Refusal::NotFitted));
        let nominal = Calibration::nominal(SerialNumber([7; 16]));
        let former = (Ask::ReadCalibration, state(nominal, CalibrationCheck::Good));
        let written = committed(Answer::Calibration(good()));
        let (outcome, asked) = told(&[other.clone(), former, staged(), other, written]);
        assert_eq!((outcome, asked.len()), (Ok(good()), 2));
    }

    #[test]
    fn a_head_that_holds_something_else_is_not_told_to_write_it() {
        let other = Answer::Staged { check: !constants().check() };
        let (outcome, asked) = told(&[(Ask::StageCalibration, other)]);
        assert_eq!((outcome, asked.len()), (Err(NotWritten::Garbled), 1));
    }

    #[test]
    fn a_refusal_ends_it_at_either_step() {
        let refused = (Ask::StageCalibration, Answer::Refused(Refusal::OtherHead));
        assert_eq!(told(&[refused]).0, Err(NotWritten::Refused(Refusal::OtherHead)));
        let refused = committed(Answer::Refused(Refusal::NotPressed));
        assert_eq!(told(&[staged(), refused]).0, Err(NotWritten::Refused(Refusal::NotPressed)));
        assert_eq!(told(&[staged(), committed(Answer::Unknown)]).0, Err(NotWritten::Unknown));
    }

    #[test]
    fn constants_read_back_otherwise_are_not_written() {
        let nominal = Calibration::nominal(SerialNumber([7; 16]));
        for (calibration, check) in
            [(nominal, CalibrationCheck::Good), (constants(), CalibrationCheck::Damaged)]
        {
            let other = CalibrationState { check, calibration };
            let (outcome, _) = told(&[staged(), committed(Answer::Calibration(other.clone()))]);
            assert_eq!(outcome, Err(NotWritten::Differs(other)));
        }
    }

    #[test]
    fn silence_after_the_commit_leaves_it_open_and_it_is_asked_again() {
        let (mut write, _) = WriteConstants::begin(constants(), None);
        assert!(!write.may_have_written());
        let (ask, answer) = staged();
        let commit = write.hear(ask, &answer);
        assert!(matches!(commit, Next::Ask(Request::CommitCalibration { .. })));
        assert_eq!(commit, Next::Ask(write.again()));
        assert!(write.may_have_written());
        let written = Answer::Calibration(good());
        assert_eq!(write.hear(Ask::CommitCalibration, &written), Next::Written(good()));
        // Over is over: a late answer changes nothing.
        assert_eq!(write.hear(Ask::CommitCalibration, &Answer::Unknown), Next::Wait);
    }

    #[test]
    fn an_answer_is_known_by_its_token_once() {
        let mut tokens = Tokens::new();
        let ping = tokens.call(Request::Ping).token;
        let commit = tokens.call(Request::CommitCalibration { check: 1 }).token;
        let loader = tokens.call(Request::EnterLoader { key: 1 }).token;
        assert!(ping != commit && ping != Token::NONE && loader == Token::NONE);
        let press = Answer::PressWanted { seconds: 10 };
        assert_eq!(tokens.answered(commit, &press), Some(Ask::CommitCalibration));
        assert_eq!(tokens.answered(commit, &Answer::Done), Some(Ask::CommitCalibration));
        assert_eq!(tokens.answered(commit, &Answer::Done), None);
        assert_eq!(tokens.answered(ping, &Answer::Done), Some(Ask::Ping));
        assert_eq!(tokens.answered(Token(999), &Answer::Done), None);
        for _ in 0..100_000 {
            assert!(tokens.call(Request::Ping).token != Token::NONE);
        }
    }
}
