//! From readings to takes, from takes to the plane, its verdict and the turns that mend it.
//!
//! Pure: every function takes its values and the time as arguments. No clock, port, file or screen
//! is within reach of this crate, and its dependencies are arithmetic alone.
//!
//! What a guided trim asks, in its order:
//!
//! | question | answered by |
//! | --- | --- |
//! | How much do seats scatter? | [`plane::seating::Seating`], from `zero` and from stations taken twice |
//! | Which stations first? | [`plane::choice::stations_to_take`] |
//! | Where is the plane, do the readings agree? | [`plane::fit::fit`]; those that came back the same: [`plane::board::Board::believed`] |
//! | What is known so far? | [`trim::learn::Tracker`], kept from round to round |
//! | Who turns what, watched where? | [`trim::plan::Plan`]: `new` once a round, `next` before each instruction and again once the head is clipped on, `done` after it |
//! | Is the whole board within? | [`plane::ground::Ground`] once for a board and its stations, then [`verdict::whole::judge_whole`] |
//! | Where to survey, for how long? | [`plane::looking::places_to_survey`], then [`plane::surface::Surface`] as the board's shape |
//! | Can any setting do it? | [`trim::feasible::whole_setting`] |

pub mod assess;
pub mod budget;
pub mod coverage;
pub mod flatness;
pub mod fleet;
pub mod level;
pub mod linear;
pub mod measure;
pub mod minimax;
pub mod plane;
pub mod report;
pub mod trim;
pub mod verdict;
pub mod zero;
