//! The wall, what is on it, and what is in the way.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Name, say};

use crate::entry::{EntryError, length_mm};

/// An upright rectangle in the wall's frame (x from the wall's left end, y from the finished
/// floor), mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Area {
    /// Left edge.
    pub left_mm: f64,
    /// Right edge.
    pub right_mm: f64,
    /// Lower edge.
    pub bottom_mm: f64,
    /// Upper edge.
    pub top_mm: f64,
}

/// Something on the wall: socket, tray, rail, duct, light switch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Obstacle {
    /// What it is.
    pub name: String,
    /// Left edge from the wall's left end, mm.
    pub left_mm: f64,
    /// Right edge from the wall's left end, mm.
    pub right_mm: f64,
    /// Lower edge above the finished floor, mm.
    pub bottom_mm: f64,
    /// Upper edge above the finished floor, mm.
    pub top_mm: f64,
    /// How far it stands out of the wall, mm; zero for flush.
    #[serde(default)]
    pub off_wall_mm: f64,
}

/// The wall.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Room {
    /// Width of the wall, mm.
    pub wall_width_mm: f64,
    /// Ceiling above the finished floor, mm.
    pub ceiling_mm: f64,
    /// What is on the wall.
    #[serde(default)]
    pub obstacles: Vec<Obstacle>,
}

impl Area {
    /// An area from its middle and size.
    pub(crate) fn about(x_mm: f64, y_mm: f64, width_mm: f64, height_mm: f64) -> Self {
        Self {
            left_mm: x_mm - width_mm / 2.0,
            right_mm: x_mm + width_mm / 2.0,
            bottom_mm: y_mm - height_mm / 2.0,
            top_mm: y_mm + height_mm / 2.0,
        }
    }

    /// How far the two overlap sideways and upright, mm; `None` if they do not. Touching is no
    /// overlap.
    pub fn overlap_mm(&self, other: &Area) -> Option<(f64, f64)> {
        let across = self.right_mm.min(other.right_mm) - self.left_mm.max(other.left_mm);
        let upright = self.top_mm.min(other.top_mm) - self.bottom_mm.max(other.bottom_mm);
        (across > 0.0 && upright > 0.0).then_some((across, upright))
    }

    /// Free distance between the two, mm; zero if they touch or overlap.
    pub fn clear_mm(&self, other: &Area) -> f64 {
        let across = (other.left_mm - self.right_mm).max(self.left_mm - other.right_mm).max(0.0);
        let upright = (other.bottom_mm - self.top_mm).max(self.bottom_mm - other.top_mm).max(0.0);
        across.hypot(upright)
    }
}

impl Obstacle {
    /// The wall that it covers.
    pub fn area(&self) -> Area {
        Area {
            left_mm: self.left_mm,
            right_mm: self.right_mm,
            bottom_mm: self.bottom_mm,
            top_mm: self.top_mm,
        }
    }
}

impl Room {
    /// The whole wall.
    pub fn wall(&self) -> Area {
        Area { left_mm: 0.0, right_mm: self.wall_width_mm, bottom_mm: 0.0, top_mm: self.ceiling_mm }
    }

    pub(crate) fn check(&self) -> Result<(), EntryError> {
        length_mm("width of the wall", self.wall_width_mm, 500.0, 100_000.0)?;
        length_mm("ceiling above the floor", self.ceiling_mm, 1500.0, 20_000.0)?;
        for obstacle in &self.obstacles {
            let of = |what: &str| say!("{what} of {}", Name(&obstacle.name));
            let (wide, high) = (self.wall_width_mm, self.ceiling_mm);
            length_mm(of("left edge"), obstacle.left_mm, -wide, wide)?;
            length_mm(of("right edge"), obstacle.right_mm, obstacle.left_mm, 2.0 * wide)?;
            length_mm(of("lower edge"), obstacle.bottom_mm, -1000.0, high)?;
            length_mm(of("upper edge"), obstacle.top_mm, obstacle.bottom_mm, 2.0 * high)?;
            length_mm(of("distance off the wall"), obstacle.off_wall_mm, 0.0, 5000.0)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn area() -> impl Strategy<Value = Area> {
        (0.0..3000.0_f64, 0.0..2500.0_f64, 1.0..900.0_f64, 1.0..900.0_f64)
            .prop_map(|(x, y, w, h)| Area::about(x, y, w, h))
    }

    proptest! {
        #[test]
        fn overlap_or_distance_never_both(a in area(), b in area()) {
            prop_assert_eq!(a.overlap_mm(&b), b.overlap_mm(&a));
            prop_assert_eq!(a.clear_mm(&b), b.clear_mm(&a));
            prop_assert!(a.overlap_mm(&b).is_none() || a.clear_mm(&b) == 0.0);
        }
    }

    #[test]
    fn distance_round_a_corner_is_straight() {
        let a = Area { left_mm: 0.0, right_mm: 10.0, bottom_mm: 0.0, top_mm: 10.0 };
        let b = Area { left_mm: 40.0, right_mm: 50.0, bottom_mm: 50.0, top_mm: 60.0 };
        assert_eq!(a.clear_mm(&b), 50.0);
    }
}
