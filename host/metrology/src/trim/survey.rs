//! Whether a survey comes now: before the next turns, or for the verdict.

use super::feasible::WholeSetting;
use crate::plane::ground::Ground;
use crate::plane::looking::{Looking, places_to_survey};
use crate::plane::refusal::SAME_PLACE_MM;
use crate::trim::person::Person;
use crate::verdict::whole::WholeVerdict;
use skimgauge_quantity::{Band, Mm};

/// What is known once every station is read.
#[derive(Debug, Clone, Copy)]
pub struct Standing<'a> {
    /// The board between the places.
    pub ground: &'a Ground,
    /// The verdict.
    pub whole: &'a WholeVerdict,
    /// The best setting for the whole board.
    pub best: &'a WholeSetting,
    /// Places surveyed so far.
    pub surveyed: &'a [(f64, f64)],
    /// What the gap may be, mm.
    pub band: Band<Mm>,
    /// Standard uncertainty of one surveyed height, mm.
    pub u_mm: f64,
    /// Seconds that things take.
    pub person: Person,
    /// Seconds of one more round.
    pub round_s: f64,
}

/// The places to survey now, if a survey is to be done now: where nothing but the board between the
/// places is in the way of `within`, or where even the best setting would be too close to call
/// without it. A second survey only where a verdict is to be had from it.
pub fn survey_now(standing: &Standing<'_>) -> Option<Looking> {
    let Standing { ground, whole, best, surveyed, band, u_mm, person, round_s } = *standing;
    let mut known = surveyed.to_vec();
    let near = |a: &(f64, f64), b: &(f64, f64)| (a.0 - b.0).hypot(a.1 - b.1) <= SAME_PLACE_MM;
    known.extend(ground.read().iter().filter(|at| !surveyed.iter().any(|s| near(s, at))));
    let look =
        |between, looks| places_to_survey(ground, between, &known, band, u_mm, &person, looks);
    let here = whole.only_between().then(|| look(&whole.between, whole.looks + 1));
    let looking = match here {
        Some(here) if here.settles && (best.wants_survey() || here.seconds <= round_s) => here,
        // Turned to it, it is another setting.
        _ if best.wants_survey() => look(&best.after, 1),
        _ => return None,
    };
    let again = !surveyed.is_empty();
    (!looking.places.is_empty() && (looking.settles || !again)).then_some(looking)
}
