//! What the head does, and what was taken, in words.

use super::Kept;
use skimgauge_metrology::measure::seats::Seats;
use skimgauge_metrology::measure::{NotTaken, State};
use skimgauge_quantity::{Mm, Name, Sentence, plain, say};

/// A take as the user is told of it, and whether that is bad news.
pub(super) fn taken(name: &str, kept: &Kept) -> (Sentence, bool) {
    let gap = Mm(kept.seats.last().map_or(kept.take.gap_mm, |seat| seat.gap_mm));
    let says = say!("{}: {} taken", Name(name), gap.gap());
    if kept.seats.len() < 2 {
        return (says, false);
    }
    let mean = say!("{} seats, mean {}", kept.seats.len(), Mm(kept.take.gap_mm).gap());
    match kept.agree {
        Seats::Agreeing => (say!("{says}; {mean}"), false),
        Seats::Differing { range_mm } => (
            say!(
                "{says}; {mean}, but they differ by {}: wipe the board and the feet there, and take it anew",
                Mm(range_mm).gap()
            ),
            true,
        ),
    }
}

/// What the head does.
pub(crate) fn state(state: State) -> Sentence {
    let a_minute = |mm_per_min: f64| Mm(mm_per_min).gap().signed();
    match state {
        State::Waiting => say!("waiting for readings"),
        State::Settling { to_go_s } => say!("settling, {} s to go", plain(to_go_s, 1)),
        State::PlaneMoving => say!("touch plane moving"),
        State::Settled => say!("settled"),
        State::Drifting { mm_per_min } => say!("drifting {} a minute", a_minute(mm_per_min)),
        State::Vibrating { mm } => {
            say!("vibrating by {}: something shakes board or emitter", Mm(mm).gap())
        }
        State::Leaning => say!("board moving: is someone leaning on it?"),
        State::Knocked => say!("knocked: let go and wait"),
        State::WarmingUp { mm_per_min: 0.0 } => say!("warming up"),
        State::WarmingUp { mm_per_min } => say!("warming up, {} a minute", a_minute(mm_per_min)),
    }
}

/// Why nothing is taken.
pub(super) fn not_taken(why: NotTaken) -> Sentence {
    match why {
        NotTaken::Fault { fault } => {
            say!("{}: {} {}", fault.name(), fault.sentence(), fault.remedy())
        }
        NotTaken::Unsettled { state } => self::state(state),
        NotTaken::Noisy { u_mm } => say!(
            "The mean still scatters by {}. Keep hands off the board and wait, or move to a steadier place.",
            Mm(u_mm).fine()
        ),
    }
}
