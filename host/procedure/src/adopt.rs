//! The sums' bare numbers as the quantities and places that everybody shares.

use skimgauge_metrology::plane::board::ControlPoint;
use skimgauge_model::{Image, Point};
use skimgauge_quantity::Mm;
use skimgauge_site::image;

pub(crate) fn image(image: image::Image) -> Image {
    Image { width: Mm(image.width_mm), height: Mm(image.height_mm) }
}

pub(crate) fn point(x_mm: f64, y_mm: f64) -> Point {
    Point { x: Mm(x_mm), y: Mm(y_mm) }
}

pub(crate) fn of_control(point: &ControlPoint) -> Point {
    self::point(point.x_mm, point.y_mm)
}
