//! A band that the head hardly sees into.

use super::Takes;
use skimgauge_metrology::assess::MEASURABLE;
use skimgauge_quantity::{Sentence, say};

impl Takes {
    /// Where more than half of the band lies nearer than the head sees a usual sheet: in short, and
    /// with what to do. Nothing is known of this emitter's sheet before the first take.
    pub(super) fn unseen(&self) -> Option<(Sentence, Sentence)> {
        let (band, from) = (self.job.bands.gap, MEASURABLE.low);
        if band.middle() >= from {
            return None;
        }
        let band = band.low.limit().to(band.high.limit());
        let short = say!("Band {band}: seen from {} on.", from.gap());
        let long = say!(
            "More than half of the band ({band}) is nearer than the head sees: of a usual sheet it shows no number below \
             {}. Keep the light above that, and look into the emitter's manual whether the band is right: gap under \
             [band] in the job file.",
            from.gap()
        );
        Some((short, long))
    }
}
