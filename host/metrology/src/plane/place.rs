//! Takes gathered by place. Takes at one place see the same bit of board, so what is not known of
//! its height there is one error for all of them, and more takes there do not average it out.

use super::board::Board;
use super::observation::GapObservation;
use super::refusal::SAME_PLACE_MM;
use super::surface::Height;
use std::collections::HashMap;

/// All takes at one place, as one.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PlaceTaken {
    pub(crate) x_mm: f64,
    pub(crate) y_mm: f64,
    /// Weighted mean of gap plus surveyed board height: height of the touch plane, mm.
    pub(crate) height_mm: f64,
    /// What the survey has for the board here, mm.
    pub(crate) surveyed_mm: f64,
    /// Variance of the board's own height here, as far as no survey and no bow knows it, mm^2.
    pub(crate) rough: f64,
    /// Variance of `height_mm` from the takes alone, mm^2.
    pub(crate) variance: f64,
    /// Sum of the fourth powers of the takes' shares of it over their degrees of freedom, mm^4.
    pub(crate) fourth: f64,
}

/// The places of a round.
pub(crate) struct PlacesTaken {
    pub(crate) all: Vec<PlaceTaken>,
    /// For each take its place.
    pub(crate) of_take: Vec<usize>,
    /// What the takes at one place contradict one another by, over all places.
    pub(crate) chi_square_within: f64,
}

impl PlacesTaken {
    /// Gathers them; a board whose height is known for certain needs no gathering, and each take
    /// stands alone.
    pub(crate) fn of(gaps: &[GapObservation], board: &Board) -> Self {
        let mut first: HashMap<(u64, u64), usize> = HashMap::new();
        let mut names: HashMap<&str, usize> = HashMap::new();
        let gather = board.is_rough();
        let mut places = Self {
            all: Vec::with_capacity(gaps.len()),
            of_take: Vec::with_capacity(gaps.len()),
            chi_square_within: 0.0,
        };
        for gap in gaps {
            let next = places.all.len();
            let at = match &gap.station {
                _ if !gather => next,
                Some(name) => *names.entry(name).or_insert(next),
                None => *first.entry((gap.x_mm.to_bits(), gap.y_mm.to_bits())).or_insert(next),
            };
            if at == next {
                let Height { height_mm: surveyed_mm, u_mm } = board.at(gap.x_mm, gap.y_mm);
                let variance = gap.u_mm * gap.u_mm;
                places.all.push(PlaceTaken {
                    x_mm: gap.x_mm,
                    y_mm: gap.y_mm,
                    height_mm: gap.gap_mm + surveyed_mm,
                    surveyed_mm,
                    rough: u_mm * u_mm,
                    variance,
                    fourth: variance * variance / gap.dof,
                });
            } else {
                places.chi_square_within += places.all[at].add(gap);
            }
            places.of_take.push(at);
        }
        places
    }

    pub(crate) fn by_x(mut self) -> Vec<PlaceTaken> {
        self.all.sort_by(|a, b| a.x_mm.total_cmp(&b.x_mm));
        self.all
    }
}

impl PlaceTaken {
    /// The place of `by_x` (in order of rising x) that is the same as this one.
    pub(crate) fn near(by_x: &[Self], x_mm: f64, y_mm: f64) -> Option<&Self> {
        let from = by_x.partition_point(|p| p.x_mm < x_mm - SAME_PLACE_MM);
        by_x[from..]
            .iter()
            .take_while(|p| p.x_mm <= x_mm + SAME_PLACE_MM)
            .find(|p| (p.x_mm - x_mm).hypot(p.y_mm - y_mm) <= SAME_PLACE_MM)
    }

    /// How far its own takes tell its gap, rather than the plane: all the way where the board is
    /// rough and the takes are good. What they leave of the plane there is the board's own height.
    pub(crate) fn trust(&self) -> f64 {
        self.rough / (self.rough + self.variance)
    }

    /// Takes another take in, and gives the chi-square by which it contradicts those before.
    fn add(&mut self, gap: &GapObservation) -> f64 {
        let height_mm = gap.gap_mm + self.surveyed_mm;
        let (old, new) = (self.variance, gap.u_mm * gap.u_mm);
        let apart = height_mm - self.height_mm;
        // Shares of the weighted mean.
        let (kept, added) = (new / (old + new), old / (old + new));
        self.height_mm += added * apart;
        self.variance = old * kept;
        self.fourth = kept.powi(4) * self.fourth + added.powi(4) * new * new / gap.dof;
        apart * apart / (old + new)
    }
}
