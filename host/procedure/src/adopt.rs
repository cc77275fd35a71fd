//! The sums' bare numbers as the quantities and places that everybody shares.

use skimgauge_job::section::band;
use skimgauge_metrology::station::Station;
use skimgauge_metrology::verdict;
use skimgauge_metrology::{band as metrology_band, plane};
use skimgauge_model::{Bands, Image, Point, Verdict};
use skimgauge_quantity::{Band, Deg, Mm};
use skimgauge_site::image;

pub(crate) fn image(image: image::Image) -> Image {
    Image { width: Mm(image.width_mm), height: Mm(image.height_mm) }
}

pub(crate) fn verdict(verdict: verdict::Verdict) -> Verdict {
    match verdict {
        verdict::Verdict::Within => Verdict::Within,
        verdict::Verdict::Outside => Verdict::Outside,
        verdict::Verdict::Unsure => Verdict::Unsure,
    }
}

pub(crate) fn bands(bands: band::Bands) -> Bands {
    let tilt = |band: metrology_band::Band| Band { low: Deg(band.low), high: Deg(band.high) };
    Bands {
        gap: gap_band(bands.gap_mm),
        level: bands.level_deg.map(tilt),
        lean: bands.lean_deg.map(tilt),
    }
}

pub(crate) fn gap_band(band: metrology_band::Band) -> Band<Mm> {
    Band { low: Mm(band.low), high: Mm(band.high) }
}

pub(crate) fn at(station: &Station) -> Point {
    point(station.x_mm, station.y_mm)
}

pub(crate) fn point(x_mm: f64, y_mm: f64) -> Point {
    Point { x: Mm(x_mm), y: Mm(y_mm) }
}

pub(crate) fn of_control(point: &plane::board::ControlPoint) -> Point {
    self::point(point.x_mm, point.y_mm)
}

pub(crate) fn station(station: &Station) -> skimgauge_model::Station {
    skimgauge_model::Station { name: station.name.clone(), at: at(station) }
}
