//! What is assumed of a board that nobody has surveyed.

use skimgauge_jobfile::Job;
use skimgauge_metrology::plane::board::{Board, Unsurveyed};

/// How far such a board may bow, standard uncertainty, mm. Common practice, no source: a
/// porcelain-on-steel board of 2 m bows by up to about a millimetre.
const BOW_MM: f64 = 0.36;

/// How far its corners may be twisted out of the plane of its middle, standard uncertainty, mm.
/// Common practice, no source.
const TWIST_MM: f64 = 0.2;

/// How rough it may be at any one place besides, standard uncertainty, mm. Common practice, no
/// source.
const ROUGH_MM: f64 = 0.03;

/// The job's board before anyone has surveyed it.
pub fn unsurveyed(job: &Job) -> Board {
    let unknown = Unsurveyed {
        width_mm: job.image.width.0,
        height_mm: job.image.height.0,
        bow_across_mm: BOW_MM,
        bow_down_mm: BOW_MM,
        twist_mm: TWIST_MM,
    };
    Board { u_shape_mm: ROUGH_MM, ..Board::unsurveyed(unknown) }
}
