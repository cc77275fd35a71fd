//! What the head's cue tells: how near the live gap is to where it should be.

use super::Takes;
use crate::output::Output;
use skimgauge_model::Verdict;
use skimgauge_quantity::Mm;
use skimgauge_shared::message::Cue;
use std::time::Duration;

pub(super) const CUE_EVERY: Duration = Duration::from_millis(200);
/// A gap this far from the band's middle, in band widths, is as far as the cue tells.
const CUE_FAR_WIDTHS: f64 = 2.0;

/// What the live gap should come to, where that is not the band's middle: the cue leads there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Dial {
    /// The gap, mm.
    pub to_mm: f64,
    /// To within this, mm.
    pub within_mm: f64,
    /// So far off is as far as the cue tells, mm.
    pub far_mm: f64,
}

impl Takes {
    /// Sends it, where it sounds and is due.
    pub(super) fn cues(&mut self, now: Duration) {
        if !self.sound || now < self.cue_at || !self.is_up() {
            return;
        }
        self.cue_at = now + CUE_EVERY;
        self.out.push(Output::Cue(self.cue(now)));
    }

    fn cue(&self, now: Duration) -> Cue {
        let live = self.live(now);
        let Some((gap_mm, _)) = live.gap_mm.good() else { return Cue::Doubtful };
        if let Some(dial) = self.dial {
            let off_mm = (gap_mm - dial.to_mm).abs();
            let nearness =
                ((1.0 - off_mm / dial.far_mm.max(dial.within_mm)).clamp(0.0, 1.0) * 255.0) as u8;
            return if off_mm <= dial.within_mm { Cue::There } else { Cue::Seek { nearness } };
        }
        if self.live_verdict(&live) == Some(Verdict::Within) {
            return Cue::There;
        }
        let band = self.job.bands.gap;
        let away = (Mm(gap_mm) - band.middle()).abs() / (band.width() * CUE_FAR_WIDTHS);
        Cue::Seek { nearness: ((1.0 - away).clamp(0.0, 1.0) * 255.0) as u8 }
    }
}
