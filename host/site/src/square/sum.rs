//! All faults together: how far each corner is off by them, and what is turned so that none is
//! farther off than may remain.

use nalgebra::SVector;
use skimgauge_model::{Image, Verdict};

use super::correct::Adjust;
use super::may_remain::{Fault, MayRemain};
use super::measured::Corners;
use super::quadrilateral::Quadrilateral;
use super::split::{Found, Parts, jacobian};

/// The corners found, their rectangle, and how far a corner may be off.
pub(super) struct Sum<'a> {
    pub found: &'a Corners,
    pub image: Image,
    pub may_remain: MayRemain,
}

impl Sum<'_> {
    /// What is left of the parts that were measured once these are turned.
    fn left(&self, quad: &Quadrilateral, turned: &[Adjust]) -> Parts {
        let parts = self.found.known(Parts::of(quad, self.image));
        turned.iter().fold(parts, |parts, adjust| adjust.without(parts))
    }

    /// How far each corner is off once these are turned; its uncertainty is that of the direction in
    /// which it is known worst.
    pub(super) fn off(&self, turned: &[Adjust]) -> [Found; 4] {
        let wanted = Quadrilateral::rectangle(self.image.width.0, self.image.height.0);
        let offsets = |parts: Parts| {
            let quad = parts.corners(self.image);
            let of = |i: usize| wanted.0[i / 2].offset_to(quad.0[i / 2]);
            SVector::<f64, 8>::from_fn(|i, _| if i % 2 == 0 { of(i).0 } else { of(i).1 })
        };
        let parts = self.left(&self.found.quad, turned);
        let moves = jacobian(&self.found.quad, |quad| offsets(self.left(quad, turned)));
        let mut covariance = moves * self.found.covariance_mm2 * moves.transpose();
        // The level turns all of them together.
        if let Some(u_rad) =
            self.found.rotation_u_rad.filter(|_| !turned.contains(&Adjust::Rotation))
        {
            let turned = Parts { rotation_rad: parts.rotation_rad + u_rad, ..parts };
            let by_level = offsets(turned) - offsets(parts);
            covariance += by_level * by_level.transpose();
        }
        let off = offsets(parts);
        std::array::from_fn(|corner| {
            let at = 2 * corner;
            let (xx, yy, xy) =
                (covariance[(at, at)], covariance[(at + 1, at + 1)], covariance[(at, at + 1)]);
            let worst = (xx + yy) / 2.0 + ((xx - yy) / 2.0).hypot(xy);
            Found { value: off[at].hypot(off[at + 1]), u: worst.max(0.0).sqrt() }
        })
    }

    /// What is turned: every fault that by itself is more than may remain, and of the others that are
    /// told from nothing as many as it takes until no corner is too far off, if that can be had.
    pub(super) fn to_turn(&self, faults: &[Fault]) -> Vec<Adjust> {
        let any = |adjust: Adjust, is: &dyn Fn(Found) -> bool| {
            let those = faults.iter().filter(|fault| fault.adjust == adjust);
            those.filter_map(|fault| fault.at_corner).any(is)
        };
        let to_turn = |found: Found| self.may_remain.is_to_turn(found);
        let by_rule: Vec<Adjust> = Adjust::ALL.into_iter().filter(|a| any(*a, &to_turn)).collect();
        let is_clear = |adjust: &Adjust| any(*adjust, &Found::is_clear);
        let mut spare: Vec<Adjust> =
            Adjust::ALL.into_iter().filter(|a| !by_rule.contains(a) && is_clear(a)).collect();
        let with = |turned: &[Adjust], more: &[Adjust]| [turned, more].concat();
        if self.is_too_far(&with(&by_rule, &spare)) {
            return by_rule;
        }
        let mut turned = by_rule;
        while self.is_too_far(&turned) {
            let then = |adjust: &Adjust| self.worst_mm(&with(&turned, &[*adjust]));
            let best =
                (0..spare.len()).min_by(|a, b| then(&spare[*a]).total_cmp(&then(&spare[*b])));
            let Some(best) = best else { break };
            turned.push(spare.remove(best));
        }
        turned
    }

    fn is_too_far(&self, turned: &[Adjust]) -> bool {
        self.off(turned).iter().any(|off| self.may_remain.verdict(*off) == Verdict::Outside)
    }

    fn worst_mm(&self, turned: &[Adjust]) -> f64 {
        self.off(turned).iter().map(|off| off.value).fold(0.0, f64::max)
    }
}
