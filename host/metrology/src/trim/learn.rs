//! Keeps the plane, the board's unknown shape and the influence of each adjuster together, and learns all of them from
//! every reading: recursive least squares, starting from the geometry of the emitter.
//!
//! How far a hand really turned a screw is poorly known, and pitch and position of the screws are known to a few per cent.
//! The live gap is known well. So a turn is predicted with its uncertainty, and the reading after it decides what the
//! turn, the screw and the plane each were. A head that stays clipped has the same seating error before and after the
//! turn; that too is an unknown here, new with each seat.

use super::influence::{GeometryUncertainty, Influence};
use super::solve::Spot;
use crate::adjuster::Adjuster;
use crate::plane::Plane;
use crate::plane::board::{Board, ControlPoint};
use crate::plane::fit::{Bearings, PlaneFit, UNKNOWNS};
use crate::plane::observation::GapObservation;
use nalgebra::{SMatrix, SVector};

/// First of the nine entries of the influence.
const INFLUENCE: usize = UNKNOWNS;
/// The seating error of the head where it is clipped now.
const SEAT: usize = INFLUENCE + 9;
const SIZE: usize = SEAT + 1;

type State = SVector<f64, SIZE>;
type Covariance = SMatrix<f64, SIZE, SIZE>;

/// How well a hand turns a screw, where its turn is counted and not yet read back. Common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hand {
    /// Standard uncertainty of any turn, turns: where the slot points, and play in the thread.
    pub u_turns: f64,
    /// Further standard uncertainty as a share of the turn.
    pub u_share: f64,
}

impl Default for Hand {
    fn default() -> Self {
        Self { u_turns: 0.05, u_share: 0.05 }
    }
}

/// What the gap at a seat should come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Predicted {
    /// The live reading, mm, this seat's own error included.
    pub gap_mm: f64,
    /// Standard uncertainty of it, mm.
    pub u_mm: f64,
}

/// Everything known between two turns.
#[derive(Debug, Clone, PartialEq)]
pub struct Tracker {
    state: State,
    covariance: Covariance,
    board: Board,
    hand: Hand,
}

impl Tracker {
    /// From a fitted plane, the adjusters and what is not known of them.
    pub fn new(
        fit: &PlaneFit,
        influence: &Influence,
        adjusters: &[Adjuster; 3],
        geometry: GeometryUncertainty,
        hand: Hand,
    ) -> Self {
        let mut state = State::zeros();
        let mut covariance = Covariance::zeros();
        let widened = fit.widening * fit.widening;
        for row in 0..UNKNOWNS {
            state[row] = fit.unknowns[row];
            for column in 0..UNKNOWNS {
                covariance[(row, column)] = fit.single[row][column] * widened;
            }
        }
        for (i, entry) in influence.by_adjuster.iter().flatten().enumerate() {
            state[INFLUENCE + i] = *entry;
        }
        let prior = Influence::prior_covariance(adjusters, geometry);
        covariance.fixed_view_mut::<9, 9>(INFLUENCE, INFLUENCE).copy_from(&prior);
        Self { state, covariance, board: fit.board.clone(), hand }
    }

    /// The plane as now known.
    pub fn plane(&self) -> Plane {
        Plane::from_array([self.state[0], self.state[1], self.state[2]])
    }

    /// The influence as now known.
    pub fn influence(&self) -> Influence {
        let at = |i: usize| self.state[INFLUENCE + i];
        Influence { by_adjuster: [0, 1, 2].map(|a| [at(3 * a), at(3 * a + 1), at(3 * a + 2)]) }
    }

    /// Standard uncertainty of the nine entries, by adjuster then `c` (mm), `p`, `q` (mm per metre).
    pub fn influence_u(&self) -> [[f64; 3]; 3] {
        let at = |i: usize| self.covariance[(INFLUENCE + i, INFLUENCE + i)].max(0.0).sqrt();
        [0, 1, 2].map(|a| [at(3 * a), at(3 * a + 1), at(3 * a + 2)])
    }

    /// The gaps at the control points as now known, to be brought into the band.
    pub fn spots(&self, points: &[ControlPoint]) -> Vec<Spot> {
        points
            .iter()
            .map(|p| Spot {
                x_mm: p.x_mm,
                y_mm: p.y_mm,
                gap_mm: self.bearing(p.x_mm, p.y_mm).dot(&self.state) - p.shape_mm,
            })
            .collect()
    }

    /// Standard uncertainty of the gap at a place, mm, without what all gaps share.
    pub fn u_gap_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        let bearing = self.bearing(x_mm, y_mm);
        bearing.dot(&(self.covariance * bearing)).max(0.0).sqrt()
    }

    /// Clips the head on at a new seat whose seating error has this standard uncertainty, mm. What the last seat's error
    /// was is forgotten.
    pub fn seat(&mut self, u_seat_mm: f64) {
        self.state[SEAT] = 0.0;
        for i in 0..SIZE {
            self.covariance[(SEAT, i)] = 0.0;
            self.covariance[(i, SEAT)] = 0.0;
        }
        self.covariance[(SEAT, SEAT)] = u_seat_mm * u_seat_mm + self.board.u_shape_mm * self.board.u_shape_mm;
    }

    /// A turn as counted, clockwise; its effect is predicted, and waits for a reading.
    pub fn turn(&mut self, adjuster: usize, turns: f64) {
        let first = INFLUENCE + 3 * adjuster.min(2);
        let mut step = Covariance::identity();
        let mut along = State::zeros();
        for i in 0..3 {
            along[i] = self.state[first + i];
            self.state[i] += turns * along[i];
            step[(i, first + i)] = turns;
        }
        let u = self.hand.u_turns.hypot(self.hand.u_share * turns);
        self.covariance = step * self.covariance * step.transpose() + along * along.transpose() * (u * u);
    }

    /// The live reading that a turn should come to at this seat.
    pub fn after_turn(&self, adjuster: usize, turns: f64, x_mm: f64, y_mm: f64) -> Predicted {
        let mut ahead = self.clone();
        ahead.turn(adjuster, turns);
        ahead.live(x_mm, y_mm)
    }

    /// The live reading expected at this seat now.
    pub fn live(&self, x_mm: f64, y_mm: f64) -> Predicted {
        let row = self.live_row(x_mm, y_mm);
        Predicted {
            gap_mm: row.dot(&self.state) - self.board.height_mm(x_mm, y_mm),
            u_mm: row.dot(&(self.covariance * row)).max(0.0).sqrt(),
        }
    }

    /// A live reading at this seat. `u_mm`, above zero, is of the reading alone, without the seat's error. A reading that
    /// is not a number, or whose uncertainty is not above zero, changes nothing and gives `false`.
    pub fn read(&mut self, x_mm: f64, y_mm: f64, gap_mm: f64, u_mm: f64) -> bool {
        let value = gap_mm + self.board.height_mm(x_mm, y_mm);
        self.learn(&self.live_row(x_mm, y_mm), value, u_mm * u_mm)
    }

    /// A take from a round, seat and all: `u_mm` holds its seating error. Used as [`Self::read`].
    pub fn take(&mut self, take: &GapObservation) -> bool {
        let u2 = take.u_mm * take.u_mm + self.board.u_shape_mm * self.board.u_shape_mm;
        let value = take.gap_mm + self.board.height_mm(take.x_mm, take.y_mm);
        self.learn(&self.bearing(take.x_mm, take.y_mm), value, u2)
    }

    /// The adjuster turns out to work the other way round: its influence changes sign.
    pub fn reverse(&mut self, adjuster: usize) {
        let first = INFLUENCE + 3 * adjuster.min(2);
        for i in first..first + 3 {
            self.state[i] = -self.state[i];
            for j in 0..SIZE {
                self.covariance[(i, j)] = -self.covariance[(i, j)];
            }
            for j in 0..SIZE {
                self.covariance[(j, i)] = -self.covariance[(j, i)];
            }
        }
    }

    /// Where the plane is, is no longer known: the emitter was knocked, or a turn went wrong. Board and influence stay.
    /// Takes that decide the plane must follow.
    pub fn lose_plane(&mut self) {
        for i in 0..3 {
            for j in 0..SIZE {
                self.covariance[(i, j)] = 0.0;
                self.covariance[(j, i)] = 0.0;
            }
            // Far more than any plane is ever out, mm and mm per metre.
            self.covariance[(i, i)] = 1.0e4;
        }
    }

    fn learn(&mut self, row: &State, value: f64, u2: f64) -> bool {
        if !value.is_finite() || !u2.is_finite() || u2 <= 0.0 {
            return false;
        }
        let spread = self.covariance * row;
        let gain = spread / (row.dot(&spread) + u2);
        self.state += gain * (value - row.dot(&self.state));
        // Joseph's form stays symmetric and positive where the short one drifts.
        let keep = Covariance::identity() - gain * row.transpose();
        self.covariance = keep * self.covariance * keep.transpose() + gain * gain.transpose() * u2;
        true
    }

    fn bearing(&self, x_mm: f64, y_mm: f64) -> State {
        let bearing = Bearings::new(&self.board).at(x_mm, y_mm);
        let mut row = State::zeros();
        row.fixed_rows_mut::<UNKNOWNS>(0).copy_from_slice(&bearing);
        row
    }

    fn live_row(&self, x_mm: f64, y_mm: f64) -> State {
        let mut row = self.bearing(x_mm, y_mm);
        row[SEAT] = 1.0;
        row
    }
}
