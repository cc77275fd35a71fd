//! The same rooms adjusted one at a time: whoever turns knows every true gap and what each adjuster
//! does, picks the one that helps most, and sets it exactly where it helps most, in the same
//! seconds. What remains is that one adjuster moves everything.

use crate::board::Kind;
use crate::room::{Hands, Room, nominal, stations};
use crate::tally::Tally;
use crate::trial::band;
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::trim::solve::{solve, travel};

/// After so many turns it is given up.
const MOST_TURNS: usize = 60;
/// ... and where the best of them gains less than this, mm.
const GAINS_MM: f64 = 0.005;

/// One room.
pub(crate) fn run(kind: Kind, hands: Hands, seed: u64, width_mm: f64) -> Tally {
    let (mut room, band, person) =
        (Room::new(kind, hands, seed), band(width_mm), Person::default());
    let mut tally = Tally::default();
    if !room.best(band).is_some_and(|best| best.is_feasible()) {
        return tally;
    }
    tally.feasible = 1;
    let Some(influence) = room.influence() else { return Tally::failed() };
    let whole = travel(&nominal());
    // Every station once before the first turn and once after the last.
    let mut seconds = 2.0 * person.stations_s(stations().len());
    let mut turns = 0;
    while turns < MOST_TURNS && !room.is_within(band) {
        let here = room.spots();
        let alone = |adjuster: usize| {
            let mut travel = [(0.0, 0.0); 3];
            travel[adjuster] = whole[adjuster];
            let setting = solve(&here, &influence, &travel, band, None).ok()?;
            Some((setting.margin_mm, adjuster, setting.turns[adjuster]))
        };
        let best = (0..3).filter_map(alone).max_by(|a, b| a.0.total_cmp(&b.0));
        let gains = |margin_mm: f64| margin_mm - room.margin_mm(band) > GAINS_MM;
        let Some((_, adjuster, turn)) = best.filter(|best| gains(best.0)) else { break };
        seconds += person.instruction_s(turn, true);
        let at = &stations()[4];
        let before = room.gap_mm(at.at.x.0, at.at.y.0);
        let effect = influence.effect(at.at.x.0, at.at.y.0)[adjuster];
        // Through the play in the thread, as someone who watches the gap does.
        for _ in 0..6 {
            let made = (room.gap_mm(at.at.x.0, at.at.y.0) - before) / effect;
            room.turn(adjuster, turn - made);
        }
        turns += 1;
    }
    tally.instructions.push(turns as f64);
    let done = room.is_within(band);
    tally.minutes.push(if done { seconds / 60.0 } else { f64::INFINITY });
    tally
}
