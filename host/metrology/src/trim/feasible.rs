//! Whether a setting exists that brings the whole board into the band, with what is not known of
//! the board between the places read.

use super::TrimError;
use super::influence::Influence;
use super::promise::Promise;
use super::solve::{Setting, Spot, solve};
use crate::coverage::{LEVEL, t_factor};
use crate::plane::between::{Between, BetweenPlace, MOST_CHANCE};
use crate::plane::ground::Ground;
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
    /// How far inside the band the worst place then stands, each as far as the board is known there.
    pub room: Promise,
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
        let by_mm = influence.moved_mm(place.x_mm, place.y_mm, &setting.turns);
        BetweenPlace { gap_mm: place.gap_mm + by_mm, ..*place }
    });
    let after = ground.judged(moved.collect(), between.raised, true, band);
    let chance = after.chance;
    let room = room(&after, band);
    let feasible = match setting.margin_mm {
        m if m < -SURELY * margin_u_mm => Feasibility::No,
        m if m > 0.0 && chance <= MOST_CHANCE => Feasibility::Yes,
        _ => Feasibility::Unsure,
    };
    Ok(WholeSetting { setting, margin_u_mm, room, chance, feasible, after })
}

/// The best setting of a surveyed board before there is a touch plane: any can be set. Its turns
/// are a plane's height and slopes, millimetres and millimetres a metre.
///
/// # Errors
/// As [`whole_setting`].
pub fn any_setting(ground: &Ground, band: Band<Mm>) -> Result<WholeSetting, TrimError> {
    /// Farther and steeper than any touch plane.
    const ENDLESS: (f64, f64) = (-1.0e3, 1.0e3);
    let any = Influence { by_adjuster: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]] };
    let between = ground.under(band.middle().0, band);
    whole_setting(ground, &between, &any, &[ENDLESS; 3], band)
}

/// Of the worst place, whichever it is as known and at either end of the intervals.
fn room(after: &Between, band: Band<Mm>) -> Promise {
    let k = t_factor(LEVEL, f64::INFINITY).unwrap_or(f64::INFINITY);
    after
        .places
        .iter()
        .fold(Promise::NOTHING, |least, place| least.with(place.gap_mm, k * place.u_mm, band))
}

impl WholeSetting {
    /// Whether a survey comes before the turns: the adjusters can bring the board in as it is known,
    /// but nobody could say so afterwards, and after a survey the turns are better aimed.
    pub fn wants_survey(&self) -> bool {
        self.setting.is_feasible() && self.chance > MOST_CHANCE
    }
}
