//! Whether a setting exists that brings the whole board into the band, with what is not known of
//! the board between the places read.

use super::TrimError;
use super::influence::Influence;
use super::solve::{Setting, Spot, solve};
use crate::plane::between::{Between, BetweenPlace, Ground, MOST_CHANCE};
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
    /// The board with it, as best known.
    pub after: Between,
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
    // What goes together holds the margin down at one end as far as it lets go at the other.
    let (mut held, mut together_mm) = (0.0, [0.0; 2]);
    for (spot, weight) in setting.margin_answers_to() {
        let doubt = between.places[spot].doubt();
        held += weight * weight * (doubt.own + doubt.local);
        together_mm = [0, 1].map(|part| together_mm[part] + weight * doubt.together_mm[part]);
    }
    let [one, other] = together_mm;
    let margin_u_mm = (held + one * one + other * other).sqrt();
    let moved = between.places.iter().map(|place| {
        let effect = influence.effect(place.x_mm, place.y_mm);
        let by_mm: f64 = effect.iter().zip(&setting.turns).map(|(j, n)| j * n).sum();
        BetweenPlace { gap_mm: place.gap_mm + by_mm, ..*place }
    });
    let after = ground.judged(moved.collect(), between.raised, true, band);
    let chance = after.chance;
    let feasible = match setting.margin_mm {
        m if m < -SURELY * margin_u_mm => Feasibility::No,
        m if m > 0.0 && chance <= MOST_CHANCE => Feasibility::Yes,
        _ => Feasibility::Unsure,
    };
    Ok(WholeSetting { setting, margin_u_mm, chance, feasible, after })
}

impl WholeSetting {
    /// Whether a survey comes before the turns: the adjusters can bring the board in as it is known,
    /// but nobody could say so afterwards, and after a survey the turns are better aimed.
    pub fn wants_survey(&self) -> bool {
        self.setting.is_feasible() && self.chance > MOST_CHANCE
    }
}
