//! The head's own condition: supply, temperature, and how fast that changes.

use super::super::limits::Limits;
use super::super::trend::Trend;
use skimgauge_shared::message::Pulse;
use skimgauge_shared::reading::Sample;

/// Without a pulse for so long, temperature and supply are not known, s.
const PULSE_STALE_S: f64 = 1.5;

/// What the head says of itself a few times a second.
#[derive(Debug, Clone, Default)]
pub(super) struct Condition {
    pulse: Option<(Pulse, f64)>,
    warmth: Trend,
}

impl Condition {
    pub(super) fn interrupt(&mut self) {
        *self = Self::default();
    }

    pub(super) fn pulse(&mut self, pulse: &Pulse, now_s: f64) {
        if let Sample::Value(t) = pulse.temperature {
            self.warmth.push(pulse.at.seconds(), t.celsius());
        }
        self.pulse = Some((*pulse, now_s));
    }

    fn fresh(&self, now_s: f64) -> Option<&Pulse> {
        self.pulse
            .as_ref()
            .filter(|(_, at_s)| now_s - at_s <= PULSE_STALE_S)
            .map(|(pulse, _)| pulse)
    }

    /// Degrees Celsius.
    pub(super) fn temperature_c(&self, now_s: f64) -> Option<f64> {
        self.fresh(now_s)?.temperature.value().map(|t| t.celsius())
    }

    /// V.
    pub(super) fn supply_v(&self, now_s: f64) -> Option<f64> {
        self.fresh(now_s)?.supply.value().map(|v| v.volts())
    }

    /// What the inclinometer's own status word says, if it says anything.
    pub(super) fn tilt_trouble(&self, now_s: f64) -> Option<&'static str> {
        self.fresh(now_s)?.tilt_trouble()
    }

    /// K a minute, where it is known.
    pub(super) fn warming_k_per_min(&self) -> Option<f64> {
        self.warmth.per_minute().filter(|(k, u)| k.abs() > 4.0 * u).map(|(k, _)| k)
    }

    pub(super) fn supply_is_low(&self, limits: &Limits, now_s: f64) -> bool {
        self.supply_v(now_s).is_some_and(|v| v < limits.supply_least_v)
    }

    pub(super) fn is_too_warm_or_cold(&self, limits: &Limits, now_s: f64) -> bool {
        let band = limits.temperature_c;
        self.temperature_c(now_s).is_some_and(|t| t < band.low.0 || t > band.high.0)
    }
}
