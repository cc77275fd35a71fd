//! The head that measures: its constants are kept before anything that it reads, and a simulated one
//! is known as one.

use super::Keeping;
use crate::jobs::KnownFrom;
use skimgauge_quantity::Mm;
use skimgauge_record::RecordError;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{self, Head};
use skimgauge_record::practice::Heads;
use skimgauge_session::HeadIs;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::message::{CalibrationCheck, Hello, SerialNumber};

impl Keeping {
    /// The survey that the board is known from: what is judged names it, and over one that a
    /// simulated head read a real one judges nothing.
    pub fn set_survey(&mut self, survey: Option<KnownFrom>) {
        self.survey = survey;
    }

    /// Takes from here on are this head's.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn head_is(&mut self, head: &HeadIs) -> Result<(), RecordError> {
        let constants = serde_json::to_value(&head.calibration.calibration)
            .map_err(|error| RecordError::BadEvent(error.to_string()))?;
        let good = head.hello.calibration == CalibrationCheck::Good;
        let calibration = &head.calibration.calibration;
        let kept = Head {
            serial: called(&head.hello),
            firmware: head.hello.firmware.to_string(),
            calibration_date: good.then(|| calibration.date.to_string()),
            calibration_sha256: Some(hash_of(&head.calibration.calibration)?),
        };
        if self.head.as_ref() == Some(&kept) {
            return Ok(());
        }
        if self.was_practice {
            return Err(RecordError::OnlyPractised(self.job.clone()));
        }
        if self.survey.is_some_and(|survey| survey.practised) && !kept.is_simulated() {
            return Err(RecordError::PractisedSurvey);
        }
        let before = self.record.job(&self.id)?.heads();
        if kept.is_simulated() && before == Heads::Real {
            return Err(RecordError::NoPractice(self.job.clone()));
        }
        self.was_practice |= !kept.is_simulated() && before == Heads::Simulated;
        self.append(event::CalibrationUsed {
            head: kept.clone(),
            zero: Mm(calibration.zero.mm()),
            u_zero: Mm(calibration.zero_u.mm()),
            dof: None,
            constants,
        })?;
        // What the work began with was read of a simulated head.
        if self.was_practice {
            return Err(RecordError::OnlyPractised(self.job.clone()));
        }
        self.head = Some(kept);
        Ok(())
    }
}

/// What the record calls a head; one whose memory does not answer has no number.
fn called(hello: &Hello) -> String {
    match hello.serial {
        Some(serial) => serial.to_string(),
        None if hello.is_simulated() => format!("{}unknown", SerialNumber::SHOWN_SIMULATED),
        None => "unknown".to_owned(),
    }
}

/// By this the record tells one set of constants from another.
///
/// # Errors
/// They cannot be written out; then nothing is to be kept that was measured with them.
pub fn hash_of(calibration: &Calibration) -> Result<Hash, RecordError> {
    serde_json::to_string(calibration)
        .map(|text| Hash::of(text.as_bytes()))
        .map_err(|error| RecordError::BadEvent(format!("the head's constants ({error})")))
}
