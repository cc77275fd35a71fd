//! Between the places read: what the board may do where nobody looked.
//!
//! On a fine grid over the image the gap is worked out from plane and survey. To its uncertainty
//! comes the board's local form ([`Local`](super::prior::Local)), and what its edges and its middle
//! stray by besides (`strays`), as the prior states them, as far as no reading is near.
//! Readings at the edge cannot make it smaller, for a lift between two stations shows in neither;
//! where they stand off the plane by more than the prior explains, they make it larger. Besides it
//! come single lifts ([`Lifts`](super::prior::Lifts)), which only readings near by rule out. From all
//! of it comes the chance that the gap leaves the band somewhere: the sum over the board of what each
//! area adds, an area being as large as the local form reaches, and of what each place adds where a
//! lift may be (the global conformance probability of JCGM 106:2012, 7, bounded from above by Boole's
//! inequality). What all readings share moves all places one way, and is counted so (`chances`).

use super::board::ControlPoint;
use super::chances::{Chances, Common, Doubt};
use super::conditioned::{READING_U_MM, conditioned, of_reading_mm, unsure};
use super::fit::{PlaneFit, dot};
use super::ground::{GRID, Ground};
use super::refusal::SAME_PLACE_MM;
use nalgebra::DVector;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Mm};

/// `Within` is wrong in at most so many of the cases that look like this one.
pub const MOST_CHANCE: f64 = 0.025;

/// A place is surely out from this chance on: three standard uncertainties.
const SURELY: f64 = 0.998_65;

/// ... and so many standard uncertainties beyond one limit.
const ASIDE: f64 = 2.5;

/// The prior's amplitude weighs as much as so many readings that could show it wrong.
const PRIOR_READINGS: f64 = 3.0;

/// A place of the fine grid, judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BetweenPlace {
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// The gap, mm.
    pub gap_mm: f64,
    /// Standard uncertainty of it, all told, mm.
    pub u_mm: f64,
    /// Of that, what the board may do by itself, mm.
    pub u_local_mm: f64,
    /// What goes together over the whole board, as its zero does: what moves all gaps one way, and
    /// what moves large ones one way and small ones the other; signed, mm.
    pub together_mm: [f64; 2],
    /// The chance that the gap is out of the band there.
    pub chance: f64,
    /// How likely a lift there takes it out, beside how many are expected: with the odds that the
    /// readings give it.
    pub lifted: f64,
}

/// What is to be said of the board between the places read.
#[derive(Debug, Clone, PartialEq)]
pub struct Between {
    /// `Within` where the chance is small enough, `Outside` where some place is surely out.
    pub verdict: Verdict,
    /// Bound on the chance that the gap is out of the band somewhere, 0 to 1.
    pub chance: f64,
    /// Every place of the fine grid, row by row from the top left.
    pub places: Vec<BetweenPlace>,
    /// Index of the one that is likeliest out.
    pub worst: usize,
    /// By how much the readings made the local form larger than the prior's; one where not at all.
    pub raised: f64,
}

impl Ground {
    /// Judges the grid by a fit to readings at [`Self::read`].
    pub fn judge(&self, fit: &PlaneFit, band: Band<Mm>) -> Between {
        let left = self.left_of(fit);
        let raised = if self.surveyed { 1.0 } else { self.raised(fit, &left) };
        // A reading that is not sure tells as much less of the board.
        let own_u = unsure(fit, &self.read).filter(|_| self.answers.ncols() > 0);
        let anew =
            own_u.map(|u_mm| conditioned(&self.points, &self.read, &self.strays, |at| u_mm[at]));
        let (left_mm, answers) =
            anew.as_ref().map_or((&self.left_mm, &self.answers), |(left, answers)| (left, answers));
        let own = (answers.ncols() > 0).then(|| answers * &left);
        let mut places: Vec<BetweenPlace> = self
            .points
            .iter()
            .enumerate()
            .map(|(at, point)| {
                let plane = fit.gap_at(&ControlPoint { u_shape_mm: 0.0, ..*point });
                let u_local_mm = raised * left_mm[at];
                BetweenPlace {
                    x_mm: point.x_mm,
                    y_mm: point.y_mm,
                    gap_mm: plane.gap_mm + own.as_ref().map_or(0.0, |own| own[at]),
                    u_mm: plane.u_mm.hypot(u_local_mm),
                    u_local_mm,
                    together_mm: [0.0; 2],
                    chance: 0.0,
                    lifted: 0.0,
                }
            })
            .collect();
        let middle = places.iter().map(|p| p.gap_mm).sum::<f64>() / places.len() as f64;
        let common = Common::of(fit, middle);
        for place in &mut places {
            place.together_mm = common.at(place.gap_mm);
        }
        let promised = fit.contradiction().is_none_or(|odd| odd.came_back());
        self.judged(places, raised, promised, band)
    }

    /// Judges places whose gaps and uncertainties are known; `promised`: the readings do not
    /// contradict one another.
    pub(crate) fn judged(
        &self,
        mut places: Vec<BetweenPlace>,
        raised: f64,
        promised: bool,
        band: Band<Mm>,
    ) -> Between {
        let doubts: Vec<Doubt> = places.iter().map(BetweenPlace::doubt).collect();
        let chances = Chances::new(&doubts, &self.told, self.lifts, band);
        for (at, place) in places.iter_mut().enumerate() {
            (place.chance, place.lifted) = chances.at(at);
        }
        let worst = (0..places.len())
            .max_by(|&a, &b| self.weighed(&places, a).total_cmp(&self.weighed(&places, b)))
            .unwrap_or(0);
        let chance = self.anywhere(&chances);
        // Out to one side: what is known so badly that it is out to either is not known to be out.
        let is_out = |place: &BetweenPlace| {
            place.chance >= SURELY && -band.inside(Mm(place.gap_mm)).0 > ASIDE * place.u_mm
        };
        let verdict = match chance {
            _ if !promised => Verdict::Unsure,
            c if c <= MOST_CHANCE => Verdict::Within,
            _ if places.iter().any(is_out) => Verdict::Outside,
            _ => Verdict::Unsure,
        };
        Between { verdict, chance, places, worst, raised }
    }

    /// Bound on the chance that the gap is out anywhere.
    pub(crate) fn anywhere(&self, chances: &Chances) -> f64 {
        chances.anywhere(self.share(), |place| self.lifts_at(place))
    }

    /// The board with a touch plane that is known and square to it, so far from it: what a setting
    /// is looked for on before there is any.
    pub(crate) fn under(&self, plane_mm: f64, band: Band<Mm>) -> Between {
        let each = self.points.iter().zip(&self.left_mm);
        let places = each.map(|(point, left_mm)| BetweenPlace {
            x_mm: point.x_mm,
            y_mm: point.y_mm,
            gap_mm: plane_mm - point.shape_mm,
            u_mm: *left_mm,
            u_local_mm: *left_mm,
            together_mm: [0.0; 2],
            chance: 0.0,
            lifted: 0.0,
        });
        self.judged(places.collect(), 1.0, true, band)
    }

    /// How likely the gap is out nowhere, so that a survey finds nothing in the way: at least what the
    /// bound on being out leaves. That counts what a bulge does once for every patch that it moves; so
    /// the board's nine parts, by the worst place of each, are held against it.
    pub fn chance_of_none_out(&self, between: &Between) -> f64 {
        const PARTS: usize = 3;
        let mut worst = [0.0f64; PARTS * PARTS];
        for (at, place) in between.places.iter().enumerate() {
            let (column, row) = (at % GRID.0 * PARTS / GRID.0, at / GRID.0 * PARTS / GRID.1);
            if let Some(worst) = worst.get_mut(row * PARTS + column) {
                *worst = worst.max(place.chance);
            }
        }
        let lifted: f64 = between
            .places
            .iter()
            .enumerate()
            .map(|(at, place)| self.lifts_at(at) * place.lifted)
            .sum();
        let none: f64 = worst.iter().map(|out| 1.0 - out).product();
        (none * (-lifted).exp()).max(1.0 - between.chance)
    }

    /// What a place adds to the chance.
    pub(crate) fn weighed(&self, places: &[BetweenPlace], at: usize) -> f64 {
        self.share() * places[at].chance + self.lifts_at(at) * places[at].lifted
    }

    /// What the readings leave of plane, bow and twist at each place read, mm; zero where there is
    /// none.
    fn left_of(&self, fit: &PlaneFit) -> DVector<f64> {
        DVector::from_iterator(
            self.read.len(),
            self.read.iter().map(|&(x_mm, y_mm)| {
                let place =
                    fit.consistency.places.iter().find(|place| {
                        (place.x_mm - x_mm).hypot(place.y_mm - y_mm) <= SAME_PLACE_MM
                    });
                place.map_or(0.0, |place| {
                    place.gap_mm - dot(&fit.unknowns, &fit.bearings.at(x_mm, y_mm))
                })
            }),
        )
    }

    fn raised(&self, fit: &PlaneFit, left: &DVector<f64>) -> f64 {
        let read_there = |&(x_mm, y_mm): &(f64, f64)| {
            let mut places = fit.consistency.places.iter();
            places.find(|place| (place.x_mm - x_mm).hypot(place.y_mm - y_mm) <= SAME_PLACE_MM)
        };
        let shown: f64 = self
            .read
            .iter()
            .zip(left.iter())
            .filter_map(|(at, left)| Some((read_there(at)?, left)))
            .map(|(place, left)| {
                let unsure_mm = of_reading_mm(place.u_mm) - READING_U_MM;
                let prior = self.strays.variance((place.x_mm, place.y_mm)) + unsure_mm.powi(2);
                left * left / place.redundancy.max(0.2) / prior
            })
            .sum();
        let free = self.read.len().saturating_sub(3) as f64;
        let ratio = (PRIOR_READINGS + shown) / (PRIOR_READINGS + free);
        ratio.max(1.0).sqrt()
    }
}

impl BetweenPlace {
    /// The place with what is uncertain of it.
    pub(crate) fn doubt(&self) -> Doubt {
        let local = self.u_local_mm * self.u_local_mm;
        let together: f64 = self.together_mm.iter().map(|mm| mm * mm).sum();
        let rest = self.u_mm * self.u_mm - local - together;
        Doubt { gap_mm: self.gap_mm, own: rest.max(0.0), together_mm: self.together_mm, local }
    }
}

impl Between {
    /// The place that is likeliest out; `None` without places.
    pub fn worst_place(&self) -> Option<&BetweenPlace> {
        self.places.get(self.worst)
    }
}
