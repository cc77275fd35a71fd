//! What the job file says of the board, in the words that everybody shares.

use skimgauge_jobfile::JobFile;
use skimgauge_model::{Image, Point};
use skimgauge_quantity::{Band, Deg, Mm};

/// The image.
pub(super) fn image(job: &JobFile) -> Image {
    Image { width: Mm(job.image.width.0), height: Mm(job.image.height.0) }
}

/// What a gap may be.
pub(super) fn gap_band(job: &JobFile) -> Option<Band<Mm>> {
    job.gap_band()
}

/// What level and lean may be.
pub(super) fn tilt_bands(job: &JobFile) -> [(&'static str, Option<Band<Deg>>); 2] {
    [
        ("Level may be", job.bands.and_then(|bands| bands.level)),
        ("Lean may be", job.bands.and_then(|bands| bands.lean)),
    ]
}

/// Where the emitter's adjusters are.
pub(super) fn adjusters(job: &JobFile) -> Vec<Point> {
    job.adjusters.iter().map(|adjuster| adjuster.at).collect()
}
