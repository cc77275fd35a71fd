//! Whether a setting exists that brings the whole board into the band, with what is not known of
//! the board between the places read.

use super::TrimError;
use super::influence::Influence;
use super::solve::{Setting, Spot, solve};
use crate::coverage::conformance_probability;
use crate::plane::between::{Between, Ground, MOST_CHANCE};
use crate::report::Feasibility;
use skimgauge_quantity::{Band, Mm};

/// None exists, surely, from so many standard uncertainties of the margin on.
const SURELY: f64 = 2.5;

/// The best setting for the whole board.
#[derive(Debug, Clone, PartialEq)]
pub struct WholeSetting {
    /// Turns and margin over the fine grid, as best known.
    pub setting: Setting,
    /// Standard uncertainty of the margin where it is held, mm.
    pub margin_u_mm: f64,
    /// Chance that the gap is out of the band somewhere with it.
    pub chance: f64,
    /// Whether such a setting exists.
    pub feasible: Feasibility,
}

/// Finds the best setting for the fine grid of `between`. `travel`: turns left, low and high.
///
/// # Errors
/// [`TrimError`] where the gaps are not numbers that can be worked with.
pub fn whole_setting(
    ground: &Ground,
    between: &Between,
    influence: &Influence,
    travel: &[(f64, f64); 3],
    band: Band<Mm>,
) -> Result<WholeSetting, TrimError> {
    let spots: Vec<Spot> = between
        .places
        .iter()
        .map(|p| Spot { x_mm: p.x_mm, y_mm: p.y_mm, gap_mm: p.gap_mm })
        .collect();
    let setting = solve(&spots, influence, travel, band, None)?;
    let held: f64 = setting
        .margin_answers_to()
        .map(|(spot, weight)| (weight * between.places[spot].u_mm).powi(2))
        .sum();
    let (mut sum, mut lifts, mut most) = (0.0, 0.0, 0.0f64);
    for (at, (spot, place)) in spots.iter().zip(&between.places).enumerate() {
        let effect = influence.effect(spot.x_mm, spot.y_mm);
        let moved: f64 = effect.iter().zip(&setting.turns).map(|(j, n)| j * n).sum();
        let u_mm = place.u_mm.max(1e-9);
        let gap_mm = spot.gap_mm + moved;
        let out = 1.0 - conformance_probability(gap_mm, u_mm, band.low.0, band.high.0);
        let rest_mm = (u_mm * u_mm - place.u_local_mm * place.u_local_mm).max(0.0).sqrt();
        let (low, high) = (gap_mm - band.low.0, band.high.0 - gap_mm);
        lifts +=
            ground.lifts_at(at) * ground.lifts().chance(&ground.told()[at], low, high, rest_mm);
        sum += ground.share() * out;
        most = most.max(out);
    }
    let (margin_u_mm, chance) = (held.sqrt(), (sum.max(most) + lifts).min(1.0));
    let feasible = match setting.margin_mm {
        m if m < -SURELY * margin_u_mm => Feasibility::No,
        m if m > 0.0 && chance <= MOST_CHANCE => Feasibility::Yes,
        _ => Feasibility::Unsure,
    };
    Ok(WholeSetting { setting, margin_u_mm, chance, feasible })
}
