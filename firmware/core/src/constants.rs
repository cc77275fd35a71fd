//! The head's constants: those in use, those staged, those being written. The other side of the
//! exchange is [`skimgauge_shared::exchange`].

use crate::part::memory::Memory;
use crate::store::{Failure, Store, Writing};
use embedded_hal::i2c::I2c;
use skimgauge_shared::calibration::{Calibration, CalibrationState};
use skimgauge_shared::message::{Ask, CalibrationCheck, Refusal, Report, SerialNumber};
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

    /// When [`Self::step`] has something to do.
    pub(crate) fn next_deadline(&self) -> Option<Microseconds> {
        self.store.next_deadline()
    }

    /// First step of a write: holds the constants, changes nothing.
    pub(crate) fn stage(&mut self, calibration: Calibration) -> Report {
        let refused = |why| Report::Refused { ask: Ask::StageCalibration, why };
        if self.next_deadline().is_some() {
            return refused(Refusal::Busy);
        }
        let Some(serial) = self.serial else { return refused(Refusal::NoMemory) };
        if calibration.head != serial {
            return refused(Refusal::OtherHead);
        }
        if !calibration.plausible() {
            return refused(Refusal::OutOfRange);
        }
        let check = calibration.check();
        self.staged = Some((check, calibration));
        Report::Staged { check }
    }

    /// Second step: begins to write what was staged. `None`: [`Self::step`] answers when it is
    /// written and read back.
    pub(crate) fn commit(&mut self, check: u32, now: Microseconds) -> Option<Report> {
        let why = match &self.staged {
            Some((staged, calibration)) if *staged == check => {
                if self.store.begin(calibration, now) {
                    return None;
                }
                Refusal::Busy
            }
            _ => Refusal::NotStaged,
        };
        Some(Report::Refused { ask: Ask::CommitCalibration, why })
    }

    /// Carries a write further; the answer to the commit, once.
    pub(crate) fn step(&mut self, now: Microseconds) -> Option<Report> {
        let outcome = match self.store.step(now) {
            Writing::Idle | Writing::Busy => return None,
            Writing::Verified => Ok(()),
            Writing::Failed(Failure::Silent) => Err(Refusal::NoMemory),
            Writing::Failed(Failure::Differs) => Err(Refusal::NotVerified),
        };
        let refused = |why| Report::Refused { ask: Ask::CommitCalibration, why };
        Some(match (outcome, self.staged.take()) {
            (Ok(()), Some((_, calibration))) => {
                self.in_use = CalibrationState { check: CalibrationCheck::Good, calibration };
                Report::Calibration(self.in_use.clone())
            }
            (Ok(()), None) => refused(Refusal::NotStaged),
            (Err(why), _) => refused(why),
        })
    }
}
