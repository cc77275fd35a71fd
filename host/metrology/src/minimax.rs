//! The largest margin that three unknowns can give many values at once.
//!
//! Maximise `t` subject to `low + t <= value_k + effect_k . x <= high - t` for every `k`, and
//! bounds on `x`. The dual simplex method in four unknowns: four active limits with non-negative
//! weights make a vertex; the limit that the vertex breaks most comes in, the one whose weight
//! falls to zero first goes out. Each step costs one look at every value, so many values cost
//! little more than few, and the weights at the end are the proof: no other `x` does better.
//!
//! A general solver of linear programmes takes longer for the twelve stations of a round than the
//! whole of the rest (the benchmark `trim` prints both), and gives no weights.

use nalgebra::{Matrix4, RowVector4, Vector4};

/// Steps after which something is wrong with the numbers; a survey of ten thousand places takes
/// about twenty.
const MOST_STEPS: usize = 500;

/// What is added to the aim in each unknown, so that no two limits' weights fall to zero together.
const TIE_BREAK: [f64; 3] = [1.0e-10, 1.7e-10, 2.9e-10];

/// One value and how it answers to the unknowns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Value {
    /// The value with all unknowns zero.
    pub value: f64,
    /// Change of the value for one unit of each unknown.
    pub effect: [f64; 3],
}

impl Value {
    /// The value at `x`.
    pub fn at(&self, x: &[f64; 3]) -> f64 {
        self.value + self.effect[0] * x[0] + self.effect[1] * x[1] + self.effect[2] * x[2]
    }
}

/// What holds the margin down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    /// The value of this index, against `low`.
    Low(usize),
    /// The value of this index, against `high`.
    High(usize),
    /// The unknown of this index, at its lower bound.
    AtLeast(usize),
    /// The unknown of this index, at its upper bound.
    AtMost(usize),
    /// Half the width of the band: no margin is larger.
    HalfWidth,
}

/// The best that can be had.
#[derive(Debug, Clone, PartialEq)]
pub struct Optimum {
    /// The unknowns.
    pub x: [f64; 3],
    /// The margin; negative where no `x` brings all values inside.
    pub margin: f64,
    /// The active limits with their weights: by how much the margin grows when the limit gives way
    /// by one. Zero or more; the weights of values and half width add up to one.
    pub active: Vec<(Limit, f64)>,
    /// Indices of values that were ever active, for a cheap look at other settings.
    pub seen: Vec<usize>,
}

/// Finds it. `bounds` are low and high for each unknown, finite and in order. `None` without
/// values, where a number is not finite, or where the numbers are so uneven that the steps do not
/// end.
pub fn largest_margin(
    values: &[Value],
    low: f64,
    high: f64,
    bounds: [(f64, f64); 3],
) -> Option<Optimum> {
    let usable = bounds.iter().all(|(a, b)| a.is_finite() && b.is_finite() && a <= b)
        && low.is_finite()
        && high.is_finite()
        && !values.is_empty()
        && values.iter().all(|v| v.value.is_finite() && v.effect.iter().all(|e| e.is_finite()));
    if !usable {
        return None;
    }
    let problem = Problem { values, low, high, bounds };
    let aim = RowVector4::new(TIE_BREAK[0], TIE_BREAK[1], TIE_BREAK[2], 1.0);
    let mut basis = [Limit::AtMost(0), Limit::AtMost(1), Limit::AtMost(2), Limit::HalfWidth];
    let mut seen = Vec::with_capacity(16);
    for _ in 0..MOST_STEPS {
        let inverse = problem.matrix(&basis).lu().try_inverse()?;
        let vertex = inverse * Vector4::from_fn(|r, _| problem.row(basis[r]).1);
        let Some(entering) = problem.most_broken(&vertex) else {
            return Some(problem.optimum(&basis, &inverse, &vertex, seen));
        };
        if let Limit::Low(k) | Limit::High(k) = entering
            && !seen.contains(&k)
        {
            seen.push(k);
        }
        let weights = aim * inverse;
        let exchange = problem.row(entering).0 * inverse;
        let leaving = (0..4)
            .filter(|&r| exchange[r] > 1e-13)
            .min_by(|&a, &b| (weights[a] / exchange[a]).total_cmp(&(weights[b] / exchange[b])));
        // A small enough margin is always to be had, so a limit that nothing can give way to is
        // broken by rounding only.
        let Some(leaving) = leaving else {
            return Some(problem.optimum(&basis, &inverse, &vertex, seen));
        };
        basis[leaving] = entering;
    }
    None
}

struct Problem<'a> {
    values: &'a [Value],
    low: f64,
    high: f64,
    bounds: [(f64, f64); 3],
}

impl Problem<'_> {
    /// A limit as `row . (x, t) <= right`.
    fn row(&self, limit: Limit) -> (RowVector4<f64>, f64) {
        let unit = |i: usize, v: f64| RowVector4::from_fn(|_, c| if c == i { v } else { 0.0 });
        match limit {
            Limit::Low(k) => {
                let Value { value, effect: [a, b, c] } = self.values[k];
                (RowVector4::new(-a, -b, -c, 1.0), value - self.low)
            }
            Limit::High(k) => {
                let Value { value, effect: [a, b, c] } = self.values[k];
                (RowVector4::new(a, b, c, 1.0), self.high - value)
            }
            Limit::AtLeast(i) => (unit(i, -1.0), -self.bounds[i].0),
            Limit::AtMost(i) => (unit(i, 1.0), self.bounds[i].1),
            Limit::HalfWidth => (unit(3, 1.0), (self.high - self.low) / 2.0),
        }
    }

    fn matrix(&self, basis: &[Limit; 4]) -> Matrix4<f64> {
        Matrix4::from_rows(&basis.map(|limit| self.row(limit).0))
    }

    /// The limit that `vertex` breaks most; `None` where it breaks none by more than rounding.
    fn most_broken(&self, vertex: &Vector4<f64>) -> Option<Limit> {
        let (x, t) = ([vertex[0], vertex[1], vertex[2]], vertex[3]);
        let mut worst = (0.0, None);
        for (i, &(least, most)) in self.bounds.iter().enumerate() {
            let tolerance = 1e-10 * (1.0 + least.abs().max(most.abs()));
            for (broken, limit) in
                [(least - x[i], Limit::AtLeast(i)), (x[i] - most, Limit::AtMost(i))]
            {
                if broken > tolerance && broken > worst.0 {
                    worst = (broken, Some(limit));
                }
            }
        }
        let (floor, roof) = (self.low + t, self.high - t);
        let (mut least, mut most) = ((f64::INFINITY, 0), (f64::NEG_INFINITY, 0));
        for (k, value) in self.values.iter().enumerate() {
            let at = value.at(&x);
            if at < least.0 {
                least = (at, k);
            }
            if at > most.0 {
                most = (at, k);
            }
        }
        for (broken, limit) in
            [(floor - least.0, Limit::Low(least.1)), (most.0 - roof, Limit::High(most.1))]
        {
            let k = if let Limit::Low(k) | Limit::High(k) = limit { k } else { 0 };
            let v = &self.values[k];
            let size: f64 =
                v.value.abs() + v.effect.iter().zip(&x).map(|(e, x)| (e * x).abs()).sum::<f64>();
            if broken > 1e-12 * (1.0 + size + t.abs()) && broken > worst.0 {
                worst = (broken, Some(limit));
            }
        }
        if t - (self.high - self.low) / 2.0 > 1e-12 && worst.1.is_none() {
            worst.1 = Some(Limit::HalfWidth);
        }
        worst.1
    }

    fn optimum(
        &self,
        basis: &[Limit; 4],
        inverse: &Matrix4<f64>,
        vertex: &Vector4<f64>,
        seen: Vec<usize>,
    ) -> Optimum {
        let weights = inverse.row(3);
        Optimum {
            x: [vertex[0], vertex[1], vertex[2]],
            margin: vertex[3],
            active: basis
                .iter()
                .zip(weights.iter())
                .map(|(&limit, &weight)| (limit, weight.max(0.0)))
                .collect(),
            seen,
        }
    }
}
