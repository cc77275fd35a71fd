//! What a walk found, check by check.

use super::limits::Limit;
use super::wiring::Wire;
use serde::Serialize;
use skimgauge_quantity::{Sentence, say};
use skimgauge_session::HeadIs;
use skimgauge_shared::message::CalibrationCheck;

/// What may be said of a check, or of all of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Found {
    /// As it should be.
    AsItShouldBe,
    /// Not looked at.
    NotSeen,
    /// Something is wrong.
    Fault,
}

impl Found {
    /// As people read it.
    pub fn shown(self) -> &'static str {
        match self {
            Self::AsItShouldBe => "as it should be",
            Self::NotSeen => "not seen",
            Self::Fault => "fault",
        }
    }

    /// Of several: a fault if there is one, else not seen if anything was not.
    pub fn of_all(all: impl IntoIterator<Item = Self>) -> Self {
        let rank = |found: &Self| match found {
            Self::AsItShouldBe => 0,
            Self::NotSeen => 1,
            Self::Fault => 2,
        };
        all.into_iter().max_by_key(rank).unwrap_or(Self::NotSeen)
    }
}

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Check {
    /// Its name.
    pub check: &'static str,
    /// The step of the walk that it belongs to.
    pub step: &'static str,
    /// What its value may be; `None`: there is no number.
    pub limit: Option<Limit>,
    /// The value; `None`: there is none.
    pub value: Option<f64>,
    /// What may be said of it.
    pub verdict: Found,
    /// In a sentence; where it was not seen, why.
    pub says: Sentence,
    /// Where to look, with a fault.
    pub wire: Option<&'static Wire>,
}

impl Check {
    pub(super) fn good(check: &'static str, says: Sentence) -> Self {
        let verdict = Found::AsItShouldBe;
        Self { check, step: "", limit: None, value: None, verdict, says, wire: None }
    }

    pub(super) fn fault(check: &'static str, wire: &'static Wire) -> Self {
        let verdict = Found::Fault;
        Self { verdict, wire: Some(wire), ..Self::good(check, say!("{}", wire.says)) }
    }

    pub(super) fn not_seen(check: &'static str, why: Sentence) -> Self {
        Self { verdict: Found::NotSeen, ..Self::good(check, why) }
    }

    /// A value held against its limit.
    pub(super) fn held(check: &'static str, value: f64, limit: Limit, wire: &'static Wire) -> Self {
        let says = say!("{} (may be {})", limit.unit.say(value), limit.say());
        let good = Self::good(check, says.clone());
        let held = if limit.holds(value) {
            good
        } else {
            let says = say!("{} {says}.", wire.says);
            Self { verdict: Found::Fault, wire: Some(wire), says, ..good }
        };
        Self { limit: Some(limit), value: value.is_finite().then_some(value), ..held }
    }

    pub(super) fn with_value(self, value: f64, limit: Limit) -> Self {
        Self { limit: Some(limit), value: value.is_finite().then_some(value), ..self }
    }
}

/// A head's birth certificate: who it is, and what was found. Day and person are for whoever writes
/// it down.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Certificate {
    /// What people call it; `None`: its memory does not answer.
    pub head: Option<String>,
    /// Its memory's factory number, as USB shows it.
    pub number: Option<String>,
    /// Its firmware's version.
    pub firmware: Option<String>,
    /// The protocol that it speaks.
    pub protocol: Option<u16>,
    /// All checks together.
    pub verdict: Found,
    /// Its zero; `None`: it has none.
    pub zero: Option<Zeroed>,
    /// Each check, in the walk's order.
    pub checks: Vec<Check>,
}

/// How a head was zeroed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Zeroed {
    /// When.
    pub date: String,
    /// By whom.
    pub by: String,
    /// The zero, mm.
    pub zero_mm: f64,
    /// Its standard uncertainty, mm.
    pub u_mm: f64,
}

impl Certificate {
    pub(super) fn of(head: Option<&HeadIs>, checks: Vec<Check>) -> Self {
        let zero = head.filter(|head| head.calibration.check == CalibrationCheck::Good);
        Self {
            head: head.and_then(|head| head.hello.serial).map(|serial| serial.to_string()),
            number: head
                .and_then(|head| head.hello.serial)
                .map(|serial| skimgauge_shared::usb::serial(&serial).as_str().to_owned()),
            firmware: head.map(|head| head.hello.firmware.to_string()),
            protocol: head.map(|head| head.hello.protocol),
            verdict: Found::of_all(checks.iter().map(|check| check.verdict)),
            zero: zero.map(|head| {
                let constants = &head.calibration.calibration;
                Zeroed {
                    date: constants.date.to_string(),
                    by: constants.by.as_str().to_owned(),
                    zero_mm: f64::from(constants.zero.0) * 1e-3,
                    u_mm: f64::from(constants.zero_u.0) * 1e-3,
                }
            }),
            checks,
        }
    }

    /// A check by its name.
    pub fn check(&self, name: &str) -> Option<&Check> {
        self.checks.iter().find(|check| check.check == name)
    }
}
