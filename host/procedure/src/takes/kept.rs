//! What was taken and is kept.

use crate::input::EventId;
use serde::Serialize;
use skimgauge_metrology::measure::seats::Seats;
use skimgauge_metrology::measure::{Came, Take};
use skimgauge_model::Verdict;

/// What stands at a station, from one seat of the head or from several.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// The take, or the mean of all seats.
    pub take: Take,
    /// The take of each seat, as it is in the record.
    pub seats: Vec<Take>,
    /// How they agree.
    pub agree: Seats,
    /// The event that keeps the last of them, if there is a record.
    pub event: Option<EventId>,
    /// How the head had come there for the last of them.
    pub came: Came,
    /// Half width of its 95 % interval, mm.
    pub expanded_mm: f64,
    /// Its verdict against the gap's band.
    pub verdict: Verdict,
}

/// How the emitter itself stands, taken with the head on it: against gravity, as yet without the
/// board.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EmitterTilt {
    /// Turn in the board's plane, degrees.
    pub level_deg: f64,
    /// Toward the board, degrees.
    pub lean_deg: f64,
    /// Standard uncertainty of either, degrees.
    pub u_deg: f64,
    /// The same without that of the head's own offsets, which a tilt of the board has too.
    pub own_u_deg: f64,
}
