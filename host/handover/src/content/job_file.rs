//! What the job file says of the board, in the words that everybody shares.

use skimgauge_job::JobFile;
use skimgauge_model::{Image, Point, Station};
use skimgauge_quantity::{Band, Deg, Mm};

/// The image.
pub(super) fn image(job: &JobFile) -> Image {
    Image { width: Mm(job.image.width_mm), height: Mm(job.image.height_mm) }
}

/// What a gap may be.
pub(super) fn gap_band(job: &JobFile) -> Option<Band<Mm>> {
    job.gap_band().and_then(|band| Band::new(Mm(band.low), Mm(band.high)))
}

/// What level and lean may be.
pub(super) fn tilt_bands(job: &JobFile) -> [(&'static str, Option<Band<Deg>>); 2] {
    let band = |band: Option<skimgauge_metrology::band::Band>| {
        band.and_then(|band| Band::new(Deg(band.low), Deg(band.high)))
    };
    [
        ("Level may be", band(job.bands.and_then(|bands| bands.level_deg))),
        ("Lean may be", band(job.bands.and_then(|bands| bands.lean_deg))),
    ]
}

/// Its stations.
pub(super) fn stations(job: &JobFile) -> Vec<Station> {
    let at = |x_mm: f64, y_mm: f64| Point { x: Mm(x_mm), y: Mm(y_mm) };
    job.stations
        .iter()
        .map(|station| Station { name: station.name.clone(), at: at(station.x_mm, station.y_mm) })
        .collect()
}

/// Where the emitter's adjusters are.
pub(super) fn adjusters(job: &JobFile) -> Vec<Point> {
    job.adjusters
        .iter()
        .map(|adjuster| Point { x: Mm(adjuster.x_mm), y: Mm(adjuster.y_mm) })
        .collect()
}
