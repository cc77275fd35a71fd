//! What only many scans can tell. In weak light one scan cannot show that the room's light leaves
//! the middle alone; the mean of many can. Until it does, the middle is doubtful.

use super::{Profile, Pull, SubPixels, root};
pub use skimgauge_shared::light::Trust;

/// A mean over the last 64 scans or so, each newer one counting a thirty-second more.
const SHIFT: u32 = 5;
const FULL: u16 = 1 << SHIFT;

/// Beyond this the middle is doubtful: 14 um. It may then be wrong by 20 um, because what the
/// flanks say of light that is neither a slope nor an edge is an estimate.
pub const MOST: SubPixels = SubPixels::from_micrometres(14);

/// A running mean of one pull.
#[derive(Debug, Clone, Copy, Default)]
struct Mean {
    /// 1/256 of a step.
    by_q8: i32,
    /// Of one scan.
    scatter: i32,
}

impl Mean {
    fn add(&mut self, pull: Pull, scans: u16) {
        // At first the plain mean, later a fading one.
        let weight = i32::from(scans.clamp(1, FULL));
        let by_q8 = pull.by.0.clamp(-(1 << 20), 1 << 20) * 256;
        self.by_q8 += (by_q8 - self.by_q8) / weight;
        self.scatter += (pull.scatter.0.clamp(0, 1 << 20) - self.scatter) / weight;
    }

    /// Pull and its standard deviation, in steps.
    fn now(&self, scans: u16) -> (i32, i32) {
        // A fading mean of weight 1/32 scatters as a plain one of 63 scans.
        let root_q4 = root(i32::from(scans.clamp(1, 2 * FULL - 1)) << 8);
        ((self.by_q8 >> 8).abs(), self.scatter * 16 / root_q4.max(16))
    }
}

/// Gathers profiles of one seat.
#[derive(Debug, Clone, Copy, Default)]
pub struct Doubt {
    room: Mean,
    lopsided: Mean,
    scans: u16,
}

impl Doubt {
    /// Nothing seen.
    pub fn new() -> Self {
        Self::default()
    }

    /// One more profile of the same seat. For another seat start anew.
    pub fn add(&mut self, profile: &Profile) {
        self.scans = self.scans.saturating_add(1);
        self.room.add(profile.room_pull, self.scans);
        self.lopsided.add(profile.lopsided, self.scans);
    }

    /// Whether the middle can be relied upon now.
    pub fn trust(&self) -> Trust {
        if self.scans == 0 {
            return Trust::NotYet;
        }
        let (room, room_u) = self.room.now(self.scans);
        let (lopsided, lopsided_u) = self.lopsided.now(self.scans);
        if room > MOST.0.max(2 * room_u) {
            Trust::RoomLight
        } else if lopsided > MOST.0.max(2 * lopsided_u) {
            Trust::Lopsided
        } else if room + 2 * room_u > MOST.0 || lopsided + 2 * lopsided_u > MOST.0 {
            Trust::NotYet
        } else {
            Trust::Sure
        }
    }
}
