//! What a round's turns come to as they are told: rounded as a hand is told them, made as well as a
//! hand makes them, from a plane and on a board that are known so well and no better.
//!
//! A turn that is counted comes out by more or less than told. One that is ended by a reading, after
//! counting or without, comes out as the reading says, whatever the plane was: it makes good what was wrong with the turns
//! before it, and it carries the error of the seat where it is read, times the leverage, to the far
//! edge. At the first turn's seat the head is read before anything is turned, and the readings told
//! there are changed by as much as it reads other than forecast: that seat's error falls out.

use super::learn::{Hand, Tracker};
use super::plan::{Instruction, Watch};
use crate::coverage::{LEVEL, t_factor};
use crate::plane::between::Between;
use crate::plane::board::ControlPoint;
use crate::plane::fit::PlaneFit;
use crate::verdict::BoardVerdict;
use serde::{Deserialize, Serialize};
use skimgauge_model::Station;
use skimgauge_quantity::{Band, Mm};

/// A turn that goes on until the reading is there may be of any size, standard uncertainty, turns.
const WHATEVER_TURNS: f64 = 1.0e3;

/// A turn as it is told: in whole steps of what a hand can make, where that was said, else to a
/// hundredth.
pub fn as_told(turns: f64, step: Option<f64>) -> f64 {
    // The figure that is written, not the sum of binary fractions next to it.
    let figure = |turns: f64, to: f64| (turns * to).round() / to;
    match step {
        Some(step) => figure((turns / step).round() * step, 1e9),
        None => figure(turns, 100.0),
    }
}

/// How far inside the band the worst place stands once turns are made as told.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Promise {
    /// If everything is as read: over the points, the places read and, where that is reckoned with,
    /// all that lies between them, mm; negative outside.
    pub margin_mm: f64,
    /// No less than this, at 95 %, mm.
    pub low_mm: f64,
    /// No more than this, mm.
    pub high_mm: f64,
}

impl Promise {
    /// Of no place.
    pub(crate) const NOTHING: Self =
        Self { margin_mm: f64::INFINITY, low_mm: f64::INFINITY, high_mm: f64::INFINITY };

    /// The worst of these and of one more place: the gap there, give or take so much. Nothing is
    /// farther inside a band than its middle.
    pub(crate) fn with(self, gap_mm: f64, expanded_mm: f64, band: Band<Mm>) -> Self {
        let inside_mm = band.inside(Mm(gap_mm)).0;
        Self {
            margin_mm: self.margin_mm.min(inside_mm),
            low_mm: self.low_mm.min(inside_mm - expanded_mm),
            high_mm: self.high_mm.min((inside_mm + expanded_mm).min(band.width().0 / 2.0)),
        }
    }
}

/// What a promise is worked out from.
#[derive(Clone, Copy)]
pub(crate) struct Before<'a> {
    pub(crate) fit: &'a PlaneFit,
    /// The points and the places read, as they stand.
    pub(crate) judged: &'a BoardVerdict,
    /// What lies between them, where that is judged.
    pub(crate) between: Option<&'a Between>,
    pub(crate) tracker: &'a Tracker,
    pub(crate) stations: &'a [Station],
    pub(crate) band: Band<Mm>,
    pub(crate) live_u_mm: f64,
    /// Nobody has read the seat at which a turn is ended when the turn is told.
    pub(crate) seat_u_mm: f64,
}

impl Before<'_> {
    /// What these turns come to; none: how it stands.
    pub(crate) fn promise(&self, turns: &[Instruction]) -> Promise {
        let mut made = [0.0; 3];
        turns.iter().for_each(|turn| made[turn.adjuster.min(2)] += turn.turns);
        let influence = self.tracker.influence();
        let after = self.made(turns);
        let moved = |x_mm: f64, y_mm: f64| influence.moved_mm(x_mm, y_mm, &made);
        let points = self.judged.points.iter().map(|judged| {
            let point = &judged.point;
            let gap_mm = judged.gap.gap_mm + moved(point.x_mm, point.y_mm);
            let k = judged.expanded_mm / judged.gap.u_mm;
            let u_mm = if turns.is_empty() {
                judged.gap.u_mm
            } else {
                after.u_gap_mm(point).hypot(self.fit.shared_at(gap_mm).0.sqrt())
            };
            (gap_mm, k * u_mm)
        });
        // A place read stands where its own readings say, as far as those are sure.
        let places = self.judged.places.iter().map(|place| {
            let gap_mm = place.gap_mm + moved(place.x_mm, place.y_mm);
            let k = place.expanded_mm / place.u_mm;
            let turned_mm = match turns {
                [] => 0.0,
                _ => after.unseated(place.x_mm, place.y_mm).u_mm,
            };
            (gap_mm, k * place.u_mm.max(turned_mm))
        });
        let k = t_factor(LEVEL, f64::INFINITY).unwrap_or(f64::INFINITY);
        let between = self.between.iter().flat_map(|between| &between.places).map(|place| {
            let gap_mm = place.gap_mm + moved(place.x_mm, place.y_mm);
            let u_mm = if turns.is_empty() {
                place.u_mm
            } else {
                let (x_mm, y_mm) = (place.x_mm, place.y_mm);
                let plane = ControlPoint { x_mm, y_mm, shape_mm: 0.0, u_shape_mm: 0.0 };
                let shared = self.fit.shared_at(gap_mm).0;
                (after.u_gap_mm(&plane).powi(2) + place.u_local_mm.powi(2) + shared).sqrt()
            };
            (gap_mm, k * u_mm)
        });
        points
            .chain(places)
            .chain(between)
            .fold(Promise::NOTHING, |least, (gap_mm, expanded_mm)| {
                least.with(gap_mm, expanded_mm, self.band)
            })
    }

    /// What is known once the turns are made, as far as how well it is known.
    fn made(&self, turns: &[Instruction]) -> Tracker {
        let (mut after, mut clipped) = (self.tracker.clone(), None);
        for (at, turn) in turns.iter().enumerate() {
            let ended = match turn.watch {
                Watch::Reading { station, .. } => Some(station),
                Watch::Count { .. } => turn.then.map(|(station, _)| station),
            };
            match ended {
                None => after.turn(turn.adjuster, turn.turns),
                Some(station) => {
                    let Some(place) = self.stations.get(station).map(|station| station.at) else {
                        continue;
                    };
                    let (x_mm, y_mm) = (place.x.0, place.y.0);
                    let whatever = Hand { u_turns: WHATEVER_TURNS, u_share: 0.0 };
                    after.turn_by(turn.adjuster, turn.turns, whatever);
                    // The head that is clipped on there stays there.
                    if clipped.replace(station) != Some(station) {
                        after.seat(self.seat_u_mm);
                        // What it reads before anything is turned changes what is told.
                        if at == 0 {
                            let now = after.live(x_mm, y_mm).gap_mm;
                            after.read(x_mm, y_mm, now, self.live_u_mm);
                        }
                    }
                    let there = after.live(x_mm, y_mm).gap_mm;
                    after.read(x_mm, y_mm, there, self.live_u_mm);
                }
            }
        }
        after
    }
}
