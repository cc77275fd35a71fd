//! The look with the emitter switched off.

use serde::Serialize;

/// How far the look with the emitter switched off is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
pub enum EmitterOffView {
    /// It is to be switched off, or the look left out.
    Offered,
    /// It is off, and is to stay so.
    Off {
        /// For so long, s.
        to_go_s: f64,
    },
    /// It is to be switched on again.
    On,
}
