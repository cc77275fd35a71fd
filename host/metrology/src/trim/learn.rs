//! Keeps the plane, the board's unknown shape and the influence of each adjuster together, and
//! learns all of them from every reading: recursive least squares, starting from the geometry of
//! the emitter.
//!
//! How far a hand really turned an adjuster is poorly known, and pitch and position of the
//! adjusters are known to a few per cent. The live gap is known well. So a turn is predicted with
//! its uncertainty, and the reading after it decides what the turn, the adjuster and the plane each
//! were. A head that stays clipped has the same seating error before and after the turn; that too
//! is an unknown here, new with each seat. The board's own height at each station, as far as no
//! survey knows it, is one more, and stays the same from round to round.

use super::influence::{GeometryUncertainty, Influence};
use super::solve::Spot;
use crate::plane::Plane;
use crate::plane::board::{Board, ControlPoint};
use crate::plane::fit::{Bearings, PlaneFit, UNKNOWNS, dot, quadratic, times};
use crate::plane::observation::GapObservation;
use crate::plane::refusal::SAME_PLACE_MM;
use nalgebra::{DMatrix, DVector};
use skimgauge_model::Adjuster;

/// First of the nine entries of the influence.
const INFLUENCE: usize = UNKNOWNS;
/// The seating error of the head where it is clipped now.
const SEAT: usize = INFLUENCE + 9;
/// First of the board's own heights at the stations.
const HEIGHTS: usize = SEAT + 1;

/// How well a hand turns an adjuster, where its turn is counted and not yet read back. Common
/// practice, no source.
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

impl Hand {
    /// To within how much of the gap, mm, a hand that watches the live reading stops, where one turn
    /// changes it by so much, mm: about two degrees, no less than the reading shows, and no more
    /// than is worth another touch. Common practice, no source.
    pub fn stops_within_mm(per_turn_mm: f64) -> f64 {
        const STOPS_TURNS: f64 = 0.0055;
        const SHOWN_MM: f64 = 0.015;
        const MOST_MM: f64 = 0.06;
        (STOPS_TURNS * per_turn_mm.abs()).clamp(SHOWN_MM, MOST_MM)
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
    belief: Belief,
    /// Where the board's own height is among the unknowns.
    places: Vec<(f64, f64)>,
    board: Board,
    hand: Hand,
}

/// Unknowns with their covariance.
#[derive(Debug, Clone, PartialEq)]
struct Belief {
    state: DVector<f64>,
    covariance: DMatrix<f64>,
}

impl Tracker {
    /// From a fitted plane over its board, the adjusters and what is not known of them.
    pub fn new(
        fit: &PlaneFit,
        board: &Board,
        influence: &Influence,
        adjusters: &[Adjuster; 3],
        geometry: GeometryUncertainty,
        hand: Hand,
    ) -> Self {
        let size = HEIGHTS + fit.places.len();
        let (mut state, mut covariance) = (DVector::zeros(size), DMatrix::zeros(size, size));
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
        covariance.view_mut((INFLUENCE, INFLUENCE), (9, 9)).copy_from(&prior);
        // What a station's takes leave of the plane is, by its trust, the board's own height there.
        let bearings: Vec<_> = fit.places.iter().map(|p| fit.bearings.at(p.x_mm, p.y_mm)).collect();
        for (i, place) in fit.places.iter().enumerate() {
            let trust = place.trust();
            let at = HEIGHTS + i;
            state[at] = trust * (dot(&fit.unknowns, &bearings[i]) - place.height_mm);
            let with_plane = times(&fit.single, &bearings[i]);
            for row in 0..UNKNOWNS {
                covariance[(row, at)] = trust * with_plane[row] * widened;
                covariance[(at, row)] = covariance[(row, at)];
            }
            for (j, other) in fit.places.iter().enumerate().skip(i + 1) {
                let both = trust * other.trust() * dot(&with_plane, &bearings[j]) * widened;
                covariance[(at, HEIGHTS + j)] = both;
                covariance[(HEIGHTS + j, at)] = both;
            }
            covariance[(at, at)] = trust * trust * quadratic(&fit.single, &bearings[i]) * widened
                + trust * place.variance;
        }
        Self {
            belief: Belief { state, covariance },
            places: fit.places.iter().map(|p| (p.x_mm, p.y_mm)).collect(),
            board: board.clone(),
            hand,
        }
    }

    /// The plane as now known.
    pub fn plane(&self) -> Plane {
        let state = &self.belief.state;
        Plane::from_array([state[0], state[1], state[2]])
    }

    /// The influence as now known.
    pub fn influence(&self) -> Influence {
        Influence { by_adjuster: self.nine(|at| self.belief.state[at]) }
    }

    /// Standard uncertainty of the nine entries, by adjuster then `c` (mm), `p`, `q` (mm per
    /// metre).
    pub fn influence_u(&self) -> [[f64; 3]; 3] {
        self.nine(|at| self.belief.covariance[(at, at)].max(0.0).sqrt())
    }

    /// Covariance of the plane's `c` (mm), `p` and `q` (mm per metre).
    pub(crate) fn plane_covariance(&self) -> nalgebra::Matrix3<f64> {
        self.belief.covariance.fixed_view::<3, 3>(0, 0).into_owned()
    }

    /// Covariance of one adjuster's `c` (mm), `p` and `q` (mm per metre) a turn.
    pub(crate) fn influence_covariance(&self, adjuster: usize) -> nalgebra::Matrix3<f64> {
        let first = INFLUENCE + 3 * adjuster.min(2);
        self.belief.covariance.fixed_view::<3, 3>(first, first).into_owned()
    }

    fn nine(&self, entry: impl Fn(usize) -> f64) -> [[f64; 3]; 3] {
        [0, 1, 2].map(|a| [0, 1, 2].map(|i| entry(INFLUENCE + 3 * a + i)))
    }

    /// The gaps at the control points as now known, to be brought into the band.
    pub fn spots(&self, points: &[ControlPoint]) -> Vec<Spot> {
        points
            .iter()
            .map(|p| Spot {
                x_mm: p.x_mm,
                y_mm: p.y_mm,
                gap_mm: self.row(p.x_mm, p.y_mm, false).dot(&self.belief.state) - p.shape_mm,
            })
            .collect()
    }

    /// Standard uncertainty of the gap at a control point, mm, without what all gaps share.
    pub fn u_gap_mm(&self, point: &ControlPoint) -> f64 {
        let unseen =
            if self.place(point.x_mm, point.y_mm).is_some() { 0.0 } else { point.u_shape_mm };
        self.belief.u(&self.row(point.x_mm, point.y_mm, false)).hypot(unseen)
    }

    /// Where the gap is to be brought into the band: these points, and on a surveyed board, whose
    /// survey need not have met its highest place, a grid over all of it as well.
    pub(crate) fn aimed_at(&self, points: &[ControlPoint]) -> Vec<ControlPoint> {
        const GRID: (usize, usize) = (13, 9);
        let mut aimed = points.to_vec();
        if !self.board.is_surveyed() {
            return aimed;
        }
        let span = |of: fn(&ControlPoint) -> f64| {
            let all = points.iter().map(of);
            all.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)))
        };
        let (across, up) = (span(|p| p.x_mm), span(|p| p.y_mm));
        let at = |(low, high): (f64, f64), k: usize, of: usize| {
            low + (high - low) * k as f64 / (of - 1) as f64
        };
        for k in 0..GRID.0 * GRID.1 {
            let (x_mm, y_mm) = (at(across, k % GRID.0, GRID.0), at(up, k / GRID.0, GRID.1));
            let known = |p: &ControlPoint| (p.x_mm - x_mm).hypot(p.y_mm - y_mm) <= SAME_PLACE_MM;
            if x_mm.is_finite() && y_mm.is_finite() && !points.iter().any(known) {
                aimed.push(self.board.point(x_mm, y_mm));
            }
        }
        aimed
    }

    /// Clips the head on at a new seat whose seating error has this standard uncertainty, mm. What
    /// the last seat's error was is forgotten.
    pub fn seat(&mut self, u_seat_mm: f64) {
        self.belief.forget(SEAT, u_seat_mm * u_seat_mm);
    }

    /// A turn as counted, clockwise; its effect is predicted, and waits for a reading.
    pub fn turn(&mut self, adjuster: usize, turns: f64) {
        self.turn_by(adjuster, turns, self.hand);
    }

    /// The same by a hand of which so much is known.
    pub(crate) fn turn_by(&mut self, adjuster: usize, turns: f64, hand: Hand) {
        self.belief.turn(adjuster, turns, hand);
    }

    /// The live reading that a turn should come to at this seat.
    pub fn after_turn(&self, adjuster: usize, turns: f64, x_mm: f64, y_mm: f64) -> Predicted {
        let mut ahead = self.belief.clone();
        ahead.turn(adjuster, turns, self.hand);
        self.predicted(&ahead, x_mm, y_mm)
    }

    /// The gap expected at a place, whatever seat the head has there.
    pub fn unseated(&self, x_mm: f64, y_mm: f64) -> Predicted {
        let row = self.row(x_mm, y_mm, false);
        Predicted {
            gap_mm: row.dot(&self.belief.state) - self.board.height_mm(x_mm, y_mm),
            u_mm: self.belief.u(&row),
        }
    }

    /// The live reading expected at this seat now.
    pub fn live(&self, x_mm: f64, y_mm: f64) -> Predicted {
        self.predicted(&self.belief, x_mm, y_mm)
    }

    fn predicted(&self, belief: &Belief, x_mm: f64, y_mm: f64) -> Predicted {
        let row = self.row(x_mm, y_mm, true);
        Predicted {
            gap_mm: row.dot(&belief.state) - self.board.height_mm(x_mm, y_mm),
            u_mm: belief.u(&row),
        }
    }

    /// A live reading at this seat. `u_mm`, above zero, is of the reading alone, without the seat's
    /// error. A reading that is not a number, or whose uncertainty is not above zero, changes
    /// nothing and gives `false`.
    pub fn read(&mut self, x_mm: f64, y_mm: f64, gap_mm: f64, u_mm: f64) -> bool {
        self.observe(x_mm, y_mm, gap_mm, u_mm, true)
    }

    /// A take from a round, seat and all: `u_mm` holds its seating error. Used as [`Self::read`].
    pub fn take(&mut self, take: &GapObservation) -> bool {
        self.observe(take.x_mm, take.y_mm, take.gap_mm, take.u_mm, false)
    }

    /// The adjuster turns out to work the other way round: its influence changes sign.
    pub fn reverse(&mut self, adjuster: usize) {
        let first = INFLUENCE + 3 * adjuster.min(2);
        for i in first..first + 3 {
            self.belief.state[i] *= -1.0;
            self.belief.covariance.row_mut(i).neg_mut();
            self.belief.covariance.column_mut(i).neg_mut();
        }
    }

    /// Where the plane is, is no longer known: the emitter was knocked, or a turn went wrong. Board
    /// and influence stay. Takes that decide the plane must follow.
    pub fn lose_plane(&mut self) {
        for i in 0..3 {
            // Far more than any plane is ever out, mm and mm per metre.
            self.belief.forget(i, 1.0e4);
        }
    }

    /// The gap at a place becomes known so: its mean, mm, and its variance. Everything that goes
    /// with it follows.
    pub(super) fn become_at(&mut self, x_mm: f64, y_mm: f64, gap_mm: f64, variance: f64) {
        let row = self.row(x_mm, y_mm, false);
        let value = gap_mm + self.board.height_mm(x_mm, y_mm);
        self.belief.become_so(&row, value, variance);
    }

    fn observe(&mut self, x_mm: f64, y_mm: f64, gap_mm: f64, u_mm: f64, seated: bool) -> bool {
        let value = gap_mm + self.board.height_mm(x_mm, y_mm);
        if !(value.is_finite() && u_mm.is_finite() && u_mm > 0.0) {
            return false;
        }
        if self.board.is_rough() && self.place(x_mm, y_mm).is_none() {
            self.places.push((x_mm, y_mm));
            self.belief.add(self.board.at(x_mm, y_mm).u_mm.powi(2));
        }
        let row = self.row(x_mm, y_mm, seated);
        self.belief.learn(&row, value, u_mm * u_mm);
        true
    }

    fn place(&self, x_mm: f64, y_mm: f64) -> Option<usize> {
        self.places.iter().position(|(x, y)| (x - x_mm).hypot(y - y_mm) <= SAME_PLACE_MM)
    }

    /// How the touch plane's height over the surveyed board at a place answers to the unknowns.
    fn row(&self, x_mm: f64, y_mm: f64, seated: bool) -> DVector<f64> {
        let mut row = DVector::zeros(self.belief.state.len());
        row.rows_mut(0, UNKNOWNS).copy_from_slice(&Bearings(self.board.unknown).at(x_mm, y_mm));
        if seated {
            row[SEAT] = 1.0;
        }
        if let Some(place) = self.place(x_mm, y_mm) {
            row[HEIGHTS + place] = -1.0;
        }
        row
    }
}

impl Belief {
    fn u(&self, row: &DVector<f64>) -> f64 {
        row.dot(&(&self.covariance * row)).max(0.0).sqrt()
    }

    /// A further unknown, zero with this variance.
    fn add(&mut self, variance: f64) {
        let size = self.state.len();
        self.state = self.state.clone().push(0.0);
        self.covariance = self.covariance.clone().resize(size + 1, size + 1, 0.0);
        self.covariance[(size, size)] = variance;
    }

    /// Makes an unknown as uncertain as this, and free of all others. A seat's error starts again
    /// from zero.
    fn forget(&mut self, index: usize, variance: f64) {
        if index == SEAT {
            self.state[index] = 0.0;
        }
        self.covariance.row_mut(index).fill(0.0);
        self.covariance.column_mut(index).fill(0.0);
        self.covariance[(index, index)] = variance;
    }

    fn turn(&mut self, adjuster: usize, turns: f64, hand: Hand) {
        let first = INFLUENCE + 3 * adjuster.min(2);
        let size = self.state.len();
        let mut step = DMatrix::identity(size, size);
        let mut along = DVector::zeros(size);
        for i in 0..3 {
            along[i] = self.state[first + i];
            self.state[i] += turns * along[i];
            step[(i, first + i)] = turns;
        }
        let u = hand.u_turns.hypot(hand.u_share * turns);
        self.covariance =
            &step * &self.covariance * step.transpose() + &along * along.transpose() * (u * u);
    }

    fn become_so(&mut self, row: &DVector<f64>, value: f64, variance: f64) {
        let spread = &self.covariance * row;
        let before = row.dot(&spread);
        if before <= 0.0 {
            return;
        }
        let gain = &spread / before;
        self.state += &gain * (value - row.dot(&self.state));
        self.covariance += &gain * gain.transpose() * (variance - before);
    }

    fn learn(&mut self, row: &DVector<f64>, value: f64, variance: f64) {
        let spread = &self.covariance * row;
        let gain = &spread / (row.dot(&spread) + variance);
        self.state += &gain * (value - row.dot(&self.state));
        // Joseph's form stays symmetric and positive where the short one drifts.
        let size = self.state.len();
        let keep = DMatrix::identity(size, size) - &gain * row.transpose();
        self.covariance =
            &keep * &self.covariance * keep.transpose() + &gain * gain.transpose() * variance;
    }
}
