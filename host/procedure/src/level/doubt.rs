//! Whether two marks show that the head was turned between them. Turned, it shows the same tilt the
//! other way round: only its own offset is the same in both.

use super::{Level, Link, Mark};
use crate::view::level::Line;
use skimgauge_quantity::{Deg, Sentence, say};
use skimgauge_shared::message::CalibrationCheck;

/// Two marks this near one another are the same: what a head that was lifted and set down again
/// scatters by, degrees. Common practice, no source.
const SAME_DEG: f64 = 0.02;
/// The offset of a head whose tilt was zeroed is no greater, degrees: what is left of it at another
/// temperature, on other feet. Common practice, no source.
const OFFSET_DEG: f64 = 0.1;

impl Level {
    /// The angle of a mark that counts for what is levelled, degrees.
    pub(super) fn counts_of(&self, mark: Mark) -> f64 {
        match self.things[self.at.min(self.things.len() - 1)].line {
            Line::Level => mark.level_deg,
            Line::Plumb => mark.lean_deg,
        }
    }

    /// Why the second mark does not show a turn, and what is asked then; `None`: it shows one.
    pub(super) fn doubts(&self, first: Mark, second: Mark) -> Option<Sentence> {
        let (was_deg, is_deg) = (self.counts_of(first), self.counts_of(second));
        let (was, is) = (Deg(was_deg).fine().signed(), Deg(is_deg).fine().signed());
        let ways = "turn it and mark again; if it was turned, say yes";
        if (was_deg - is_deg).abs() <= SAME_DEG {
            // Nothing in the readings tells a head that was not turned from a line that is true.
            return Some(say!(
                "both marks read the same ({was}, {is}): either the head was not turned end for end, or there is no tilt. Not turned: {ways}."
            ));
        }
        let zeroed = matches!(&self.link, Link::Up(head)
            if head.calibration.check == CalibrationCheck::Good);
        let offset_deg = (was_deg + is_deg) / 2.0;
        (zeroed && offset_deg.abs() > OFFSET_DEG).then(|| {
            say!(
                "turned end for end, a zeroed head reads as much the other way; this one read {was}, then {is}. Not turned: {ways}, and zero the head anew."
            )
        })
    }
}
