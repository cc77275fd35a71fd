//! What a procedure that owns the takes tells them.

use super::{Dial, Takes};
use crate::word::Stop;
use skimgauge_metrology::measure::Fault;
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::unseen::LookedOver;
use std::time::Duration;

impl Takes {
    /// Why the head shows no gap. No light in an eye that is still to be turned to the emitter is
    /// called that: it says nothing of where the light is.
    pub(crate) fn why_no_gap(&self, now: Duration) -> Option<Fault> {
        self.live(now).gap_mm.why()
    }

    /// A procedure that owns the takes says where the cue leads, where the user should go now, and
    /// in which stage of its own it is.
    pub(crate) fn steer(&mut self, dial: Option<Dial>, lead: Option<Stop>, stage: u64) {
        self.dial = dial;
        self.stage = stage;
        if let Some(to) = lead {
            self.stations.go(to);
        }
    }

    /// The adjusters bring it no further.
    pub(crate) fn is_turned_out(&mut self) {
        self.turned_out = true;
        self.judge();
    }

    /// What was taken at a station counts no more.
    pub(crate) fn forget(&mut self, station: usize) {
        self.stations.forget(station);
        self.judge();
    }

    /// Somebody went over the board for dents and bumps, and found this.
    pub(crate) fn is_looked_over(&mut self, found: LookedOver) {
        self.job.board.looked_over = found;
        self.judge();
    }

    /// All takes begin anew: an adjuster was turned.
    pub(crate) fn start_round(&mut self) {
        self.stations.clear();
        (self.seats_said, self.turned_out) = (false, false);
        self.judge();
    }

    /// The board is another than was assumed.
    pub(crate) fn believe(&mut self, board: Board) {
        self.board = board;
        self.judge();
    }
}
