//! Sums of fourth powers of sensitivities: the lower half of Welch and Satterthwaite's formula, at
//! any point.

use super::fit::UNKNOWNS;

/// Products of two of the active unknowns, each once.
fn pairs<'a>(v: &'a [f64; UNKNOWNS], active: &'a [usize]) -> impl Iterator<Item = f64> + 'a {
    active
        .iter()
        .enumerate()
        .flat_map(move |(at, &i)| active[at..].iter().map(move |&j| v[i] * v[j]))
}

/// A sum of fourth powers as a form: `(gain . h)^2` is linear in the pair products of `h`, so its
/// square is a quadratic form in them, and any number of observations fold into one.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FourthPowers {
    active: Vec<usize>,
    form: Vec<f64>,
}

impl FourthPowers {
    pub(super) fn new(active: &[usize]) -> Self {
        let products = active.len() * (active.len() + 1) / 2;
        Self { active: active.to_vec(), form: vec![0.0; products * products] }
    }

    /// Adds `weight (gain . h)^4`.
    pub(super) fn add(&mut self, gain: &[f64; UNKNOWNS], weight: f64) {
        let twice = self.active.iter().enumerate().flat_map(|(at, &i)| {
            self.active[at..].iter().map(move |&j| if i == j { 1.0 } else { 2.0 })
        });
        let square: Vec<f64> = pairs(gain, &self.active).zip(twice).map(|(p, t)| p * t).collect();
        for (row, a) in self.form.chunks_exact_mut(square.len()).zip(&square) {
            row.iter_mut().zip(&square).for_each(|(f, b)| *f += weight * a * b);
        }
    }

    pub(super) fn at(&self, bearing: &[f64; UNKNOWNS]) -> f64 {
        let mut products = [0.0; UNKNOWNS * (UNKNOWNS + 1) / 2];
        let count = self.active.len() * (self.active.len() + 1) / 2;
        products.iter_mut().zip(pairs(bearing, &self.active)).for_each(|(to, p)| *to = p);
        self.form
            .chunks_exact(count)
            .zip(&products)
            .map(|(row, a)| a * row.iter().zip(&products).map(|(f, b)| f * b).sum::<f64>())
            .sum()
    }
}
