//! Gap scale and zero, on gauge blocks.
//!
//! `light - block - k_e r = a + slope d + curvature d^2 + temperature (T - T_ref)`, `d` the
//! stand-off's code from the pivot. A straight line, unless the residuals ask for more.

use super::eye::ratio;
use super::outcome::ZeroError;
use super::session::Session;
use crate::budget::{Budget, Distribution, Entry};
use crate::coverage::t_factor;
use crate::linear::{Fit, solve_shared};
use crate::measure::ZERO_GAP_MM;
use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};
use skimgauge_shared::calibration::PIVOT_CODE;

/// Ratios beyond this at a block leave too much to the eye's scale.
const CENTRED: f64 = 0.35;
/// Codes are carried in thousands, so that the columns are of one size.
const CODES: f64 = 1_000.0;
/// Temperatures this far apart make a coefficient, K.
const APART_K: f64 = 5.0;
/// Curvature that moves the ends of the range by less than this is not worth a term, mm.
const BEND_MM: f64 = 0.005;
/// Gaps for which the statement of uncertainty must hold, mm.
const GAPS_MM: core::ops::RangeInclusive<u32> = 0..=12;

/// What is left over at a block.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Residual {
    /// The block, mm.
    pub block_mm: f64,
    /// The gap that it made, mm (from the stand-off alone where the light's height is not known).
    pub gap_mm: f64,
    /// Known gap less what the new constants say, mm.
    pub residual_mm: f64,
    /// Standard uncertainty that it should have, mm.
    pub u_mm: f64,
}

/// What the blocks gave.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scaled {
    /// `origin + zero`, mm.
    pub sum_mm: f64,
    /// mm per code.
    pub slope: f64,
    /// mm per code squared; zero for a straight line.
    pub curvature: f64,
    /// mm per kelvin, if two temperatures were seen.
    pub temperature: Option<f64>,
    /// Mean temperature, degrees Celsius.
    pub reference_c: Option<f64>,
    /// Standard uncertainty of a gap of [`ZERO_GAP_MM`], mm, and relative one of the slope:
    /// together they cover the fit's own at every gap.
    pub zero_u_mm: f64,
    pub slope_u: f64,
    pub residuals: Vec<Residual>,
    pub budget: Budget,
    pub birge: Option<f64>,
    pub dof: usize,
}

/// The eye as it is known when the blocks are looked at.
#[derive(Debug, Clone, Copy)]
pub(super) struct Eye {
    pub dark: [f64; 2],
    pub inner_gain: f64,
    pub scale_mm: f64,
    pub scale_u_mm: f64,
}

struct Row {
    block_mm: f64,
    block_u_mm: f64,
    scatter_u_mm: f64,
    seat_u_mm: f64,
    codes: f64,
    ratio: f64,
    temperature_c: Option<f64>,
}

impl Row {
    fn u_mm(&self) -> f64 {
        // Even a perfect block on a perfect plate is read in steps.
        (self.block_u_mm.powi(2) + self.scatter_u_mm.powi(2) + self.seat_u_mm.powi(2))
            .sqrt()
            .max(0.0003)
    }
}

/// Fits; `per_k_mm` is the temperature coefficient in force.
pub(super) fn fit(
    session: &Session,
    eye: Eye,
    slope: f64,
    per_k_mm: f64,
) -> Result<Scaled, ZeroError> {
    let rows = rows(session, eye, slope)?;
    let temperatures: Option<Vec<f64>> = rows.iter().map(|r| r.temperature_c).collect();
    let reference_c = temperatures.as_ref().map(|t| t.iter().sum::<f64>() / t.len() as f64);
    let apart_k = temperatures.as_ref().map_or(0.0, |t| {
        t.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - t.iter().copied().fold(f64::INFINITY, f64::min)
    });
    let warm = apart_k >= APART_K;
    // Without a light the gaps are known but for a constant: as if it stood a millimetre over the
    // highest block.
    let highest = rows.iter().map(|r| r.block_mm).fold(f64::NEG_INFINITY, f64::max);
    let light_mm = session.light.map_or(highest + 1.0, |l| l.height_mm);
    let away_k =
        |row: &Row| row.temperature_c.zip(reference_c).map_or(0.0, |(t, reference)| t - reference);

    let values = DVector::from_iterator(
        rows.len(),
        rows.iter().map(|r| {
            let known = if warm { 0.0 } else { per_k_mm * away_k(r) };
            light_mm - r.block_mm - eye.scale_mm * r.ratio - known
        }),
    );
    let u: Vec<f64> = rows.iter().map(Row::u_mm).collect();
    // Errors that all rows share: the light's height, the eye's scale.
    let light_u_mm = session.light.map_or(0.0, |l| l.u_mm);
    let effects = [light_u_mm, eye.scale_u_mm];
    let shared: Vec<usize> = (0..2)
        .filter(|&k| effects[k] > 0.0 && (k == 0 || rows.iter().any(|r| r.ratio != 0.0)))
        .collect();
    let shared = DMatrix::from_fn(rows.len(), shared.len(), |row, column| match shared[column] {
        0 => light_u_mm,
        _ => -eye.scale_u_mm * rows[row].ratio,
    });
    let columns = |bent: bool| 2 + usize::from(bent) + usize::from(warm);
    let design_row = |d: f64, away_k: f64, bent: bool| {
        let mut row = vec![1.0, d];
        if bent {
            row.push(d * d);
        }
        if warm {
            row.push(away_k);
        }
        row
    };
    let solved = |bent: bool| {
        let design = DMatrix::from_row_iterator(
            rows.len(),
            columns(bent),
            rows.iter().flat_map(|r| design_row(r.codes / CODES, away_k(r), bent)),
        );
        solve_shared(&design, &shared, &values, &u)
    };
    let straight = solved(false).map_err(|_| ZeroError::BlocksAlike)?;
    // A bend is taken where it is more than chance (95 %) and more than a trifle, and leaves a
    // degree of freedom.
    let reach = rows.iter().map(|r| r.codes.abs() / CODES).fold(0.0, f64::max);
    let bent = if rows.len() > columns(true) { solved(true).ok() } else { None }.filter(|fit| {
        let (bend, bend_u) = (fit.estimate[2], fit.covariance[(2, 2)].sqrt() * inflation(fit));
        let k = t_factor(0.95, fit.dof as f64).unwrap_or(f64::INFINITY);
        bend.abs() > k * bend_u && bend.abs() * reach * reach > BEND_MM
    });
    let is_bent = bent.is_some();
    let fit = bent.unwrap_or(straight);

    // Straight where the fit is steepest known: a code's worth of gap, for carrying a gap back to a
    // code.
    let d_of = |gap_mm: f64| (gap_mm - fit.estimate[0]) / fit.estimate[1];
    let extended = |gap_mm: f64| {
        let mut row = design_row(d_of(gap_mm), 0.0, is_bent);
        row.resize(fit.estimate.len(), 0.0);
        DVector::from_vec(row)
    };
    let variance = |gap_mm: f64| {
        let row = extended(gap_mm);
        (row.transpose() * &fit.covariance * &row)[0] * inflation(&fit).powi(2)
    };
    let (zero_u_mm, slope_u) = cover(&variance);
    let residuals = rows
        .iter()
        .zip(fit.residuals.iter())
        .map(|(r, &residual_mm)| Residual {
            block_mm: r.block_mm,
            gap_mm: light_mm - r.block_mm,
            residual_mm,
            u_mm: r.u_mm(),
        })
        .collect();
    // What a millimetre of error at each row moves a gap of the zero's own size by.
    let at = extended(ZERO_GAP_MM);
    let gains: Vec<f64> = rows
        .iter()
        .enumerate()
        .map(|(k, r)| {
            let mut row = design_row(r.codes / CODES, away_k(r), is_bent);
            row.extend(shared.row(k).iter());
            fit.gain(&DVector::from_vec(row), u[k]).dot(&at)
        })
        .collect();
    let budget = budget(&rows, &gains, effects, (inflation(&fit), fit.dof), zero_u_mm);
    Ok(Scaled {
        sum_mm: fit.estimate[0],
        slope: fit.estimate[1] / CODES,
        curvature: if is_bent { fit.estimate[2] / (CODES * CODES) } else { 0.0 },
        temperature: warm.then(|| fit.estimate[columns(is_bent) - 1]),
        reference_c,
        zero_u_mm,
        slope_u,
        residuals,
        budget,
        birge: fit.birge_ratio(),
        dof: fit.dof,
    })
}

/// Residuals wider than they should be widen the result; narrower ones do not narrow it.
fn inflation(fit: &Fit) -> f64 {
    fit.birge_ratio().map_or(1.0, |b| b.max(1.0))
}

fn rows(session: &Session, eye: Eye, slope: f64) -> Result<Vec<Row>, ZeroError> {
    let mut rows = Vec::new();
    for (at, block) in session.blocks.iter().enumerate() {
        let still = &block.still;
        let ratio = if session.eye {
            let ratio = ratio(still.outer, still.inner, eye.dark, eye.inner_gain)
                .ok_or(ZeroError::NoLight { block_mm: block.block_mm })?;
            if ratio.abs() > CENTRED {
                return Err(ZeroError::NotCentred { block_mm: block.block_mm, ratio });
            }
            ratio
        } else {
            0.0
        };
        let usable = [block.block_mm, block.block_u_mm, still.stand_off, still.stand_off_u]
            .iter()
            .all(|v| v.is_finite());
        if !usable || block.block_u_mm < 0.0 {
            return Err(ZeroError::NotANumber { at });
        }
        rows.push(Row {
            block_mm: block.block_mm,
            block_u_mm: block.block_u_mm,
            scatter_u_mm: still.stand_off_u * slope,
            seat_u_mm: if session.eye {
                session.seat_u_mm
            } else {
                session.seat_u_mm.hypot(session.sight_u_mm)
            },
            codes: still.stand_off - f64::from(PIVOT_CODE),
            ratio,
            temperature_c: still.temperature_c,
        });
    }
    let mut heights: Vec<f64> = rows.iter().map(|r| r.block_mm).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup_by(|a, b| (*a - *b).abs() < 0.05);
    if heights.len() < 3 {
        return Err(ZeroError::TooFewBlocks { have: heights.len() });
    }
    Ok(rows)
}

/// A zero's and a slope's uncertainty that together cover `variance` at every gap, as small as can
/// be two millimetres from the zero's own gap.
fn cover(variance: &impl Fn(f64) -> f64) -> (f64, f64) {
    let gaps: Vec<f64> = GAPS_MM.map(f64::from).chain([ZERO_GAP_MM]).collect();
    let steepest = gaps.iter().map(|&g| variance(g).sqrt()).fold(0.0, f64::max);
    (0..=200)
        .map(|k| {
            let slope_u = steepest * f64::from(k) / 200.0 / 2.0;
            let left = |g: f64| variance(g) - (slope_u * (g - ZERO_GAP_MM)).powi(2);
            let zero_u = gaps.iter().map(|&g| left(g)).fold(0.0, f64::max).sqrt();
            (zero_u, slope_u)
        })
        .min_by(|a, b| a.0.hypot(2.0 * a.1).total_cmp(&b.0.hypot(2.0 * b.1)))
        .unwrap_or((steepest, 0.0))
}

/// What the zero's uncertainty is made of, at its own gap: `gains` is what an error at each row
/// moves it by, `effects` the light's and the eye scale's standard uncertainties, `wider` how many
/// times wider than stated the residuals are, with degrees of freedom.
fn budget(
    rows: &[Row],
    gains: &[f64],
    effects: [f64; 2],
    wider: (f64, usize),
    zero_u_mm: f64,
) -> Budget {
    let root = |u: &dyn Fn(&Row) -> f64| {
        rows.iter().zip(gains).map(|(r, g)| (g * u(r)).powi(2)).sum::<f64>().sqrt()
    };
    let ratio: f64 = rows.iter().zip(gains).map(|(r, g)| g * r.ratio).sum();
    let all: f64 = gains.iter().sum();
    let certificates = format!("blocks' certificates, {} settings", rows.len());
    let mut budget = Budget::new(format!("zero, at a gap of {ZERO_GAP_MM} mm"), "mm", ZERO_GAP_MM);
    budget.entries = vec![
        Entry::new(certificates, 0.0, root(&|r| r.block_u_mm), Distribution::Normal),
        Entry::new("height of the light", 0.0, effects[0], Distribution::Normal).times(all),
        Entry::new("seating of the feet", 0.0, root(&|r| r.seat_u_mm), Distribution::Normal),
        Entry::new(
            "scatter of the readings",
            0.0,
            root(&|r| r.scatter_u_mm),
            Distribution::Readings,
        ),
        Entry::new("eye's scale", 0.0, effects[1], Distribution::Normal).times(-ratio),
    ];
    let own = budget.u();
    if wider.0 > 1.0 {
        let more = own * (wider.0.powi(2) - 1.0).sqrt();
        let entry = Entry::new("residuals wider than stated", 0.0, more, Distribution::Readings);
        budget.entries.push(entry.with_dof(wider.1 as f64));
    }
    let more = (zero_u_mm.powi(2) - budget.u().powi(2)).max(0.0).sqrt();
    if more > 0.0 {
        budget.entries.push(Entry::new(
            "allowance for other gaps",
            0.0,
            more,
            Distribution::Normal,
        ));
    }
    budget
}
