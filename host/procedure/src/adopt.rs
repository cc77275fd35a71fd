//! The sums' bare numbers as the quantities and places that everybody shares.

use skimgauge_metrology::plane::board::ControlPoint;
use skimgauge_model::Point;
use skimgauge_quantity::Mm;

pub(crate) fn point(x_mm: f64, y_mm: f64) -> Point {
    Point { x: Mm(x_mm), y: Mm(y_mm) }
}

pub(crate) fn of_control(point: &ControlPoint) -> Point {
    self::point(point.x_mm, point.y_mm)
}
