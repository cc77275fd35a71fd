//! The head's constants: those in use, those staged, those being written. The other side of the
//! exchange is [`skimgauge_shared::exchange`].

use crate::part::memory::Memory;
use crate::store::{Failure, Store, Writing};
use embedded_hal::i2c::I2c;
use skimgauge_shared::calibration::{Calibration, CalibrationState};
use skimgauge_shared::message::{Answer, CalibrationCheck, Refusal, SerialNumber};
use skimgauge_shared::pixels::Pixels;
use skimgauge_shared::units::Microseconds;

/// The constants, and the memory that keeps them.
pub(crate) struct Constants<I2C> {
    store: Store<I2C>,
    serial: Option<SerialNumber>,
    in_use: CalibrationState,
    /// Held, not written, with the check that commits it.
    staged: Option<(u32, Calibration)>,
}

impl<I2C: I2c> Constants<I2C> {
    /// Reads serial number and calibration: a few milliseconds on the bus.
    pub(crate) fn load(bus: I2C) -> Self {
        let mut store = Store::new(Memory::new(bus));
        let loaded = store.load();
        let in_use = CalibrationState { check: loaded.check, calibration: loaded.calibration };
        Self { store, serial: loaded.serial, in_use, staged: None }
    }

    /// The memory's factory number, if the memory answered.
    pub(crate) fn serial(&self) -> Option<SerialNumber> {
        self.serial
    }

    /// The constants in use, and what is known of them.
    pub(crate) fn in_use(&self) -> &CalibrationState {
        &self.in_use
    }

    /// The pixels' table in use; `None`: nobody has compared them.
    pub(crate) fn table(&self) -> Option<Pixels> {
        self.store.table()
    }

    /// When [`Self::step`] has something to do.
    pub(crate) fn next_deadline(&self) -> Option<Microseconds> {
        self.store.next_deadline()
    }

    /// First step of a write: holds the constants, changes nothing.
    pub(crate) fn stage(&mut self, calibration: Calibration) -> Answer {
        if self.next_deadline().is_some() {
            return Answer::Refused(Refusal::Busy);
        }
        let Some(serial) = self.serial else { return Answer::Refused(Refusal::NoMemory) };
        if calibration.head != serial {
            return Answer::Refused(Refusal::OtherHead);
        }
        if !calibration.plausible() {
            return Answer::Refused(Refusal::OutOfRange);
        }
        let check = calibration.check();
        self.staged = Some((check, calibration));
        Answer::Staged { check }
    }

    /// Holds a part of the pixels' table.
    pub(crate) fn stage_part(&mut self, part: u8, bytes: &[u8]) -> Answer {
        if self.next_deadline().is_some() {
            return Answer::Refused(Refusal::Busy);
        }
        match self.store.stage_part(part, bytes) {
            Some(check) => Answer::Staged { check },
            None => Answer::Refused(Refusal::OutOfRange),
        }
    }

    /// What a commit is answered at once; `None`: it may go on.
    pub(crate) fn refuse(&self, check: u32) -> Option<Answer> {
        match &self.staged {
            Some((staged, _)) if *staged == check => {
                self.next_deadline().map(|_| Answer::Refused(Refusal::Busy))
            }
            // Asked again after it was written.
            _ if self.in_use.check == CalibrationCheck::Good
                && self.in_use.calibration.check() == check =>
            {
                Some(Answer::Calibration(self.in_use.clone()))
            }
            _ => Some(Answer::Refused(Refusal::NotStaged)),
        }
    }

    /// Whether what is being written are the constants with this check.
    pub(crate) fn writes(&self, check: u32) -> bool {
        let staged = self.staged.as_ref().is_some_and(|(staged, _)| *staged == check);
        staged && self.next_deadline().is_some()
    }

    /// Second step: begins to write what was staged. `None`: [`Self::step`] answers when it is
    /// written and read back.
    pub(crate) fn commit(&mut self, check: u32, now: Microseconds) -> Option<Answer> {
        let refused = self.refuse(check);
        if refused.is_some() {
            return refused;
        }
        match &self.staged {
            Some((_, calibration)) if self.store.begin(calibration, now) => None,
            _ => Some(Answer::Refused(Refusal::NotStaged)),
        }
    }

    /// Carries a write further; the answer to the commit, once.
    pub(crate) fn step(&mut self, now: Microseconds) -> Option<Answer> {
        let outcome = match self.store.step(now) {
            Writing::Idle | Writing::Busy => return None,
            Writing::Verified => Ok(()),
            Writing::Failed(Failure::Silent) => Err(Refusal::NoMemory),
            Writing::Failed(Failure::Differs) => Err(Refusal::NotVerified),
        };
        Some(match (outcome, self.staged.take()) {
            (Ok(()), Some((_, calibration))) => {
                self.in_use = CalibrationState { check: CalibrationCheck::Good, calibration };
                Answer::Calibration(self.in_use.clone())
            }
            (Ok(()), None) => Answer::Refused(Refusal::NotStaged),
            (Err(why), _) => Answer::Refused(why),
        })
    }
}
