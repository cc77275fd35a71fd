//! A band that the head hardly sees into.

use super::Takes;
use skimgauge_metrology::assess::MEASURABLE;
use skimgauge_quantity::{Sentence, say};

impl Takes {
    /// Whether more than half of the band lies nearer than the head sees a usual sheet. Nothing is
    /// known of this emitter's sheet before the first take.
    fn is_hardly_seen(&self) -> bool {
        self.job.bands.gap.middle() < MEASURABLE.low
    }

    /// The same in short, as long as it is so.
    pub(crate) fn caution_of_near_band(&self) -> Option<Sentence> {
        let band = self.job.bands.gap;
        let band = band.low.limit().to(band.high.limit());
        let from = MEASURABLE.low.gap();
        self.is_hardly_seen().then(|| say!("Band {band}: seen from {from} on."))
    }

    /// The same with what to do, once.
    pub(super) fn says_of_near_band(&self) -> Option<Sentence> {
        let band = self.job.bands.gap;
        let band = band.low.limit().to(band.high.limit());
        self.is_hardly_seen().then(|| {
            say!(
                "More than half of the band ({band}) is nearer than the head sees: of a usual sheet it shows no number below \
                 {}. Keep the light above that, and look into the emitter's manual whether the band is right: gap under \
                 [band] in the job file.",
                MEASURABLE.low.gap()
            )
        })
    }
}
