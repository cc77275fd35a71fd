//! Whether any setting passes, in words.

use super::promised;
use crate::adopt;
use crate::takes::expanded;
use skimgauge_metrology::assess::Assessment;
use skimgauge_metrology::plane::board::ControlPoint;
use skimgauge_metrology::report::Feasibility;
use skimgauge_metrology::trim::solve::{Hold, Setting};
use skimgauge_model::Image;
use skimgauge_quantity::{Mm, Name, Sentence, at_most, say};

/// Whether any setting passes, by how much, and what is in the way. `None` where one surely does,
/// with nothing to say.
pub fn feasibility(
    answer: &Assessment,
    points: &[ControlPoint],
    names: &dyn Fn(usize) -> String,
    image: Image,
) -> Option<Sentence> {
    let spot = |at: usize| {
        let whereabouts = |p: &ControlPoint| image.whereabouts(adopt::of_control(p));
        points.get(at).map(whereabouts).unwrap_or_default()
    };
    // The margin by which it is said: of the whole board, where the points alone would pass.
    let over_all = answer.whole.as_ref().zip(answer.decided_by_whole());
    let (margin_mm, u_mm, held) = match over_all {
        Some((whole, best)) => {
            let places = &whole.between.places;
            let spot = |at: usize| {
                let at = places.get(at).map(|place| adopt::point(place.x_mm, place.y_mm));
                at.map(|at| image.whereabouts(at)).unwrap_or_default()
            };
            (best.setting.margin_mm, best.margin_u_mm, held(&best.setting, &spot, names))
        }
        None => (answer.setting.margin_mm, answer.margin_u_mm, held(&answer.setting, &spot, names)),
    };
    let by = Mm(margin_mm.abs()).gap().give_or_take(Mm(expanded(u_mm, None)).uncertainty());
    match answer.feasibility() {
        _ if !answer.promises() => Some(say!(
            "Whether a setting passes cannot be said while what was read is contradictory."
        )),
        Feasibility::Yes => None,
        Feasibility::No => Some(say!(
            "NO setting of the adjusters passes: the best still leaves {by} too much. {held} Mend that \
             first, or agree on a wider band; the best setting follows."
        )),
        Feasibility::Unsure if margin_mm < 0.0 => Some(say!(
            "As best known NO setting passes: {by} too much. {held} The board's shape is not known well \
             enough to be sure: survey it, or take more stations, before turning."
        )),
        Feasibility::Unsure => {
            let leaves = match over_all {
                Some((_, best)) => say!(
                    "it leaves the worst place {} (95 %); with the chance of a bump or dent that nobody has met, {} \
                     that some place is out",
                    promised(&best.room),
                    at_most(best.chance)
                ),
                None => say!("{by} are left"),
            };
            Some(say!(
                "As best known a setting passes: {leaves}. Too close to be sure before the board is surveyed or more \
                 stations are taken. {held}"
            ))
        }
    }
}

/// What holds the margin down, in one sentence; empty where nothing does.
fn held(
    setting: &Setting,
    spot: &dyn Fn(usize) -> Sentence,
    names: &dyn Fn(usize) -> String,
) -> Sentence {
    let (mut near, mut far, mut ends) = (Vec::new(), Vec::new(), Vec::new());
    for (hold, _) in &setting.holds {
        match hold {
            Hold::Low { spot: at } => near.push(spot(*at)),
            Hold::High { spot: at } => far.push(spot(*at)),
            Hold::TravelClockwise { adjuster } => {
                ends.push(say!("{} clockwise", Name(&names(*adjuster))));
            }
            Hold::TravelAnticlockwise { adjuster } => {
                ends.push(say!("{} anticlockwise", Name(&names(*adjuster))));
            }
        }
    }
    let part = |what: &'static str, places: Vec<Sentence>| {
        let places = Sentence::joined(places, "; ");
        if places.is_empty() { places } else { say!(" {what}: {places}.") }
    };
    let parts = [
        part("Nearest to the board", near),
        part("Farthest from it", far),
        part("At the end of its travel", ends),
    ];
    let parts = Sentence::joined(parts, "");
    if parts.is_empty() { parts } else { say!("What holds it.{parts}") }
}
