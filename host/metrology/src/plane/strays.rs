//! How a board strays from bow and twist where nobody reads it, from place to place.
//!
//! Over a few hand widths it strays everywhere ([`Local`]). Along its edges it strays besides, and over
//! longer ways: an edge is held from one side only, and gives the more. (On an even bed a plate's edge
//! gives some three and a half times what its middle gives under the same load: H. M. Westergaard,
//! "Stresses in concrete pavements computed by theoretical analysis", 1926; from memory.) A wave of a
//! metre along an edge does not show in stations a metre apart, so what the edge may do stays unknown
//! half way between them. In its middle a board may bulge or sink between edges that stay straight, as a
//! sheet in a frame does: no reading at an edge says anything of that, and one in the middle nearly all.

use super::prior::Local;

/// What an edge strays by keeps for so long along it, mm: places so far apart share half of it.
const ALONG_MM: f64 = 400.0;

/// How far from the edge it has fallen to six tenths, mm.
const INWARD_MM: f64 = 150.0;

/// A board's straying: its covariance from place to place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Strays {
    pub(crate) local: Local,
    /// Standard deviation of what the edges stray by besides, mm.
    pub(crate) edge_mm: f64,
    /// Standard deviation of what the middle stands out or back by, between straight edges, mm.
    pub(crate) bulge_mm: f64,
    /// The image's width and height, mm.
    pub(crate) size_mm: [f64; 2],
}

impl Strays {
    /// How much two places share, mm^2.
    pub(crate) fn covariance(&self, a: (f64, f64), b: (f64, f64)) -> f64 {
        let apart_mm = (a.0 - b.0).hypot(a.1 - b.1);
        let everywhere = self.local.amplitude_mm.powi(2) * self.local.share(apart_mm);
        let along = Local { amplitude_mm: self.edge_mm, reach_mm: ALONG_MM };
        let edges = self.at_edge(a) * self.at_edge(b) * along.share(apart_mm);
        let bulge = self.bulge_mm.powi(2) * self.bulges(a) * self.bulges(b);
        everywhere + self.edge_mm.powi(2) * edges + bulge
    }

    /// How far a place may stray, mm^2.
    pub(crate) fn variance(&self, at: (f64, f64)) -> f64 {
        let at_edge = (self.edge_mm * self.at_edge(at)).powi(2);
        self.local.amplitude_mm.powi(2) + at_edge + (self.bulge_mm * self.bulges(at)).powi(2)
    }

    /// All of it so many times as large.
    pub(crate) fn times(self, factor: f64) -> Self {
        let local = self.local.with_amplitude(factor * self.local.amplitude_mm);
        let (edge_mm, bulge_mm) = (factor * self.edge_mm, factor * self.bulge_mm);
        Self { local, edge_mm, bulge_mm, ..self }
    }

    /// One in the middle of the image, nothing at its edges.
    fn bulges(&self, (x_mm, y_mm): (f64, f64)) -> f64 {
        bulges(self.size_mm, x_mm, y_mm).max(0.0)
    }

    /// One at an edge of the image, nothing far inside.
    fn at_edge(&self, (x_mm, y_mm): (f64, f64)) -> f64 {
        let [wide, high] = self.size_mm;
        let inside = (wide / 2.0 - x_mm.abs()).min((-y_mm).min(high + y_mm)).max(0.0);
        (-(inside / INWARD_MM).powi(2) / 2.0).exp()
    }
}

/// A bulge between straight edges, one high in the middle of an image of this width and height: of
/// second order both ways. Negative beyond an edge.
pub(super) fn bulges([width_mm, height_mm]: [f64; 2], x_mm: f64, y_mm: f64) -> f64 {
    let (across, down) = (2.0 * x_mm / width_mm, 2.0 * y_mm / height_mm + 1.0);
    (1.0 - across * across) * (1.0 - down * down)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plane::prior::BoardPrior;

    fn strays() -> Strays {
        let local = BoardPrior::Unknown.local();
        Strays { local, edge_mm: 0.4, bulge_mm: 0.0, size_mm: [2000.0, 1200.0] }
    }

    #[test]
    fn an_edge_strays_more_than_the_middle_and_keeps_it_for_longer() {
        let strays = strays();
        let middle = strays.variance((0.0, -600.0));
        assert!((middle - 0.25f64.powi(2)).abs() < 1e-6, "{middle}");
        for edge in [(0.0, 0.0), (300.0, -1200.0), (-1000.0, -500.0), (1000.0, 0.0)] {
            assert!((strays.variance(edge) - (0.25f64.powi(2) + 0.16)).abs() < 1e-12, "{edge:?}");
            assert!((strays.covariance(edge, edge) - strays.variance(edge)).abs() < 1e-12);
        }
        // By hand: Matern's share at 300 mm is 0.402 of a reach of 250 mm, 0.642 of one of 400 mm.
        let along = strays.covariance((0.0, 0.0), (300.0, 0.0));
        assert!((along - (0.0625 * 0.4022 + 0.16 * 0.6416)).abs() < 2e-4, "{along}");
        let twice = strays.times(2.0).covariance((0.0, 0.0), (300.0, 0.0));
        assert!((twice - 4.0 * along).abs() < 1e-12);
    }
}
