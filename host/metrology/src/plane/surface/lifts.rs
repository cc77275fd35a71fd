//! What a survey tells of a single lift at a place: how high its readings have one of each width, and
//! how well, beside bow, twist and the local form (the estimate of one more column in the generalised
//! least squares that the surface was fitted by).

use super::{FormVector, Solved, Surface, TERMS, terms};
use crate::plane::prior::{LIFT_WIDTHS_MM, Lifted, Told, falls};
use nalgebra::DMatrix;

impl Surface {
    /// What the survey tells of a lift at a place, for each width; `None` where there are too many
    /// places for that: then they are near one another.
    pub(crate) fn told(&self, x_mm: f64, y_mm: f64) -> Option<Told> {
        let Solved::Together(all) = &self.solved else { return None };
        let variance = self.local.amplitude_mm.powi(2);
        let apart: Vec<f64> =
            self.places.iter().map(|p| (p[0] - x_mm).hypot(p[1] - y_mm)).collect();
        let widths = LIFT_WIDTHS_MM.len();
        // A column for what each width shows at the places, and one for what this place shares.
        let columns = DMatrix::from_fn(apart.len(), widths + 1, |row, column| match LIFT_WIDTHS_MM
            .get(column)
        {
            Some(width_mm) => falls(apart[row], *width_mm),
            None => variance * self.local.share(apart[row]),
        });
        let whitened = all.lower.solve_lower_triangular(&columns)?;
        let here = FormVector::from(terms(self.size_mm, x_mm, y_mm));
        let seen = whitened.column(widths);
        let mut told = Told::default();
        for (k, lifted) in told.0.iter_mut().enumerate() {
            let shown = whitened.column(k);
            let with_form = all.basis.tr_mul(&shown);
            let form = all.form * with_form.fixed_rows::<TERMS>(0);
            let left = shown - &all.basis * form;
            let known = left.dot(&shown).max(0.0);
            let height_mm = columns.column(k).dot(&all.weights) / known.max(1e-12);
            let hidden = 1.0 - seen.dot(&left) - here.dot(&form);
            *lifted = Lifted { told: known, height_mm, hidden };
        }
        Some(told)
    }
}
