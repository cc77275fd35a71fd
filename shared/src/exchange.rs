//! Writing constants to a head, from the host's side: they are staged, committed, and what the head
//! read back from its memory is held against them. Pure: requests out, reports in. Whoever carries
//! them watches the clock.

use crate::calibration::{Calibration, CalibrationCheck, CalibrationState};
use crate::message::{Ask, Refusal, Report, Request};

/// A write under way.
#[derive(Debug, Clone)]
pub struct WriteConstants {
    constants: Calibration,
    step: Step,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    Staging,
    Committing,
    Over,
}

/// What follows from a report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// It has nothing to do with the write: wait on.
    Wait,
    /// Ask this.
    Ask(Request),
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
    /// The head holds something else than was sent to it, and was not told to write it; its former
    /// constants are in force.
    Garbled,
    /// What the head now uses is not what was sent. It must not measure before it is zeroed again.
    Differs(CalibrationState),
}

impl WriteConstants {
    /// Begins; the first request.
    pub fn begin(constants: Calibration) -> (Self, Request) {
        let request = Request::StageCalibration(constants.clone());
        (Self { constants, step: Step::Staging }, request)
    }

    /// Whether a head that falls silent now may have written: then only asking it for its constants
    /// tells.
    pub fn may_have_written(&self) -> bool {
        self.step != Step::Staging
    }

    /// Takes a report in.
    pub fn hear(&mut self, report: &Report) -> Next {
        let next = match (self.step, report) {
            (Step::Staging, Report::Staged { check }) if *check == self.constants.check() => {
                self.step = Step::Committing;
                return Next::Ask(Request::CommitCalibration { check: *check });
            }
            (Step::Staging, Report::Staged { .. }) => Next::NotWritten(NotWritten::Garbled),
            (Step::Staging, Report::Refused { ask: Ask::StageCalibration, why })
            | (Step::Committing, Report::Refused { ask: Ask::CommitCalibration, why }) => {
                Next::NotWritten(NotWritten::Refused(*why))
            }
            (Step::Committing, Report::Calibration(state)) => {
                let same =
                    state.check == CalibrationCheck::Good && state.calibration == self.constants;
                if same {
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

    /// The whole write, with somebody who sends a request, if there is one, and gives the head's
    /// next answer.
    ///
    /// # Errors
    /// What `ask` came back with; or, within, why the constants were not written.
    pub fn carry_out<E>(
        constants: Calibration,
        mut ask: impl FnMut(Option<Request>) -> Result<Report, E>,
    ) -> Result<Result<CalibrationState, NotWritten>, E> {
        let (mut write, request) = Self::begin(constants);
        let mut request = Some(request);
        loop {
            match write.hear(&ask(request.take())?) {
                Next::Wait => (),
                Next::Ask(next) => request = Some(next),
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
    use crate::units::Micrometres;

    fn constants() -> Calibration {
        Calibration { zero: Micrometres(-24_321), ..Calibration::nominal(SerialNumber([7; 16])) }
    }

    fn state(calibration: Calibration, check: CalibrationCheck) -> CalibrationState {
        CalibrationState { check, calibration }
    }

    /// What a write ends with when the head answers these in turn; the requests that it was asked
    /// meanwhile.
    fn told(answers: &[Report]) -> (Result<CalibrationState, NotWritten>, Vec<Request>) {
        let mut asked = Vec::new();
        let mut answers = answers.iter();
        let outcome = WriteConstants::carry_out(constants(), |request| {
            asked.extend(request);
            answers.next().cloned().ok_or("the head fell silent")
        });
        (outcome.unwrap(), asked)
    }

    fn staged() -> Report {
        Report::Staged { check: constants().check() }
    }

    #[test]
    fn constants_are_staged_committed_and_held_against_what_was_read_back() {
        let good = state(constants(), CalibrationCheck::Good);
        let (outcome, asked) = told(&[staged(), Report::Calibration(good.clone())]);
        assert_eq!(outcome, Ok(good));
        let commit = Request::CommitCalibration { check: constants().check() };
        assert_eq!(asked, [Request::StageCalibration(constants()), commit]);
    }

    #[test]
    fn what_belongs_to_another_question_is_passed_over() {
        let good = state(constants(), CalibrationCheck::Good);
        let other = Report::Refused { ask: Ask::Cue, why: Refusal::NotFitted };
        let former = Report::Calibration(state(
            Calibration::nominal(SerialNumber([7; 16])),
            CalibrationCheck::Good,
        ));
        let answers = [other.clone(), former, staged(), other, Report::Calibration(good.clone())];
        let (outcome, asked) = told(&answers);
        assert_eq!((outcome, asked.len()), (Ok(good), 2));
    }

    #[test]
    fn a_head_that_holds_something_else_is_not_told_to_write_it() {
        let (outcome, asked) = told(&[Report::Staged { check: !constants().check() }]);
        assert_eq!((outcome, asked.len()), (Err(NotWritten::Garbled), 1));
    }

    #[test]
    fn a_refusal_ends_it_at_either_step() {
        let refused = |ask, why| Report::Refused { ask, why };
        let (outcome, _) = told(&[refused(Ask::StageCalibration, Refusal::OtherHead)]);
        assert_eq!(outcome, Err(NotWritten::Refused(Refusal::OtherHead)));
        let (outcome, _) = told(&[staged(), refused(Ask::CommitCalibration, Refusal::NotVerified)]);
        assert_eq!(outcome, Err(NotWritten::Refused(Refusal::NotVerified)));
    }

    #[test]
    fn constants_read_back_otherwise_are_not_written() {
        let nominal = Calibration::nominal(SerialNumber([7; 16]));
        for other in
            [state(nominal, CalibrationCheck::Good), state(constants(), CalibrationCheck::Damaged)]
        {
            let (outcome, _) = told(&[staged(), Report::Calibration(other.clone())]);
            assert_eq!(outcome, Err(NotWritten::Differs(other)));
        }
    }

    #[test]
    fn silence_after_the_commit_leaves_it_open() {
        let (mut write, _) = WriteConstants::begin(constants());
        assert!(!write.may_have_written());
        assert!(matches!(write.hear(&staged()), Next::Ask(Request::CommitCalibration { .. })));
        assert!(write.may_have_written());
        // Over is over: a late answer changes nothing.
        let differs = Report::Calibration(state(
            Calibration::nominal(SerialNumber([7; 16])),
            CalibrationCheck::Good,
        ));
        assert!(matches!(write.hear(&differs), Next::NotWritten(_)));
        assert_eq!(
            write.hear(&Report::Calibration(state(constants(), CalibrationCheck::Good))),
            Next::Wait
        );
    }
}
