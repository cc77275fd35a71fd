//! The same rooms adjusted one screw at a time: whoever turns knows every true gap and what each
//! screw does, picks the one screw that helps most, and sets it exactly where it helps most. What
//! remains is that one screw moves everything.

use crate::tally::Tally;
use crate::trial::{band, best, room, spots, true_influence};
use skimgauge_metrology::trim::solve::solve;

/// After so many turns it is given up.
pub const MOST_TURNS: usize = 200;

/// One room.
pub fn run(seed: u64, width_mm: f64) -> Tally {
    let (mut room, band) = (room(seed), band(width_mm));
    let mut tally = Tally::default();
    if !best(&room, band).is_some_and(|best| best.is_feasible()) {
        return tally;
    }
    tally.feasible = 1;
    let Some(influence) = true_influence(&room) else { return tally };
    for turns in 0..=MOST_TURNS {
        if room.is_within(band.low.0, band.high.0) {
            tally.turns.push(turns);
            break;
        }
        let here = spots(&room);
        let alone = |adjuster: usize| {
            let mut travel = [(0.0, 0.0); 3];
            travel[adjuster] = (-8.0, 8.0);
            solve(&here, &influence, &travel, band, None)
                .ok()
                .map(|setting| (setting.margin_mm, adjuster, setting.turns[adjuster]))
        };
        let Some((_, adjuster, turn)) = (0..3).filter_map(alone).max_by(|a, b| a.0.total_cmp(&b.0))
        else {
            break;
        };
        // Through the play in the thread, as someone who watches the gap does.
        let before = room.emitter.adjusters[adjuster].nut_turns;
        for _ in 0..3 {
            let made = room.emitter.adjusters[adjuster].nut_turns - before;
            room.turn(adjuster, turn - made);
        }
    }
    tally
}
