//! The one who watches a head: keeps its last readings, finds its faults, knows when it has
//! settled.
//!
//! | machine | watches |
//! | --- | --- |
//! | [`dark`] | how long no light says nothing, since the emitter may pulse |
//! | [`delivery`] | whether readings come, in time, and all of them |
//! | [`hold`] | whether what comes and goes could be read |
//! | [`light`] | whether what the eye sees is a sheet to rely on |
//! | [`spot`] | the laser's spot: patches, a sensor that stands still |
//! | [`seat`] | how the head stands, and whether as the board does |
//! | [`knock`] | jumps: knocks, adjusters being turned, shaking |
//! | [`settling`] | whether the readings of one stretch have come to rest |
//! | [`steady`] | the number that stands on a screen: new, and still |
//! | [`taking`] | the take that could be made of them |
//! | [`condition`] | supply and temperature |
//!
//! Each takes values and the time, and has its own tests; the [`Observer`] says to each what it has
//! to know, and that is all it does. How the head came to a place is [`super::arrival`]'s.

mod condition;
mod dark;
mod delivery;
mod hold;
mod knock;
mod light;
mod live;
mod same;
mod seat;
mod settling;
mod spot;
mod steady;
mod taking;
mod wrong;

pub use light::EyeView;
pub use live::Live;

use super::limits::{Limits, Material};
use super::settle::State;
use super::trace::Point;
use condition::Condition;
use delivery::Delivery;
use knock::{Knock, Stand};
use light::{Light, Seen};
use seat::Seat;
use settling::Settling;
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::light::Sheet;
use skimgauge_shared::message::{Pulse, SerialNumber};
use skimgauge_shared::reading::{Absence, Reading, Sample, Tilt};
use skimgauge_shared::sequence::Placed;
use spot::Spot;
use taking::Taking;

/// Watches one head.
#[derive(Debug, Clone)]
pub struct Observer {
    limits: Limits,
    today: Date,
    head: Option<SerialNumber>,
    calibration: Option<CalibrationState>,
    last: Option<Reading>,
    delivery: Delivery,
    condition: Condition,
    light: Light,
    spot: Spot,
    seat: Seat,
    knock: Knock,
    settling: Settling,
    taking: Taking,
}

impl Observer {
    /// Nothing seen yet.
    pub fn new(limits: Limits, today: Date) -> Self {
        Self {
            limits,
            today,
            head: None,
            calibration: None,
            last: None,
            delivery: Delivery::default(),
            condition: Condition::default(),
            light: Light::default(),
            spot: Spot::default(),
            seat: Seat::default(),
            knock: Knock::default(),
            settling: Settling::default(),
            taking: Taking::default(),
        }
    }

    /// The limits in force.
    pub fn limits(&self) -> &Limits {
        &self.limits
    }

    /// How the gap scatters from seat to seat, standard deviation, mm, with its degrees of freedom.
    pub fn seats_scatter(&mut self, u_mm: f64, dof: Option<f64>) {
        (self.limits.seat_u_mm, self.limits.seat_dof) = (u_mm, dof);
    }

    /// What is known of the zero in force against the board that is measured.
    pub fn zeroed(&mut self, material: Material) {
        self.limits.material = material;
        self.taking.interrupt();
    }

    /// A head greeted: forget all readings, and the calibration if it is another head.
    pub fn greeted(&mut self, head: Option<SerialNumber>) {
        if head != self.head {
            let mut other = Self { head, ..Self::new(self.limits, self.today) };
            other.knock.hold(self.knock.holds());
            *self = other;
        }
        self.link_broken();
    }

    /// The link was interrupted, or the rate changed: what follows does not continue what was.
    pub fn link_broken(&mut self) {
        self.last = None;
        self.delivery.interrupt();
        self.condition.interrupt();
        self.light.interrupt();
        self.spot.forget();
        self.seat.interrupt();
        self.knock.forget();
        self.settling.forget(self.delivery.at_s());
        self.taking.interrupt();
    }

    /// From now on a knock that left the head turned is held against it: no gap is good until it
    /// stands as before, or was taken off the board and clipped anew. Whoever asks for this
    /// tells of moves that are meant, by [`Observer::expect_move`].
    pub fn hold_knocks(&mut self, hold: bool) {
        self.knock.hold(hold);
    }

    /// The head will now be taken to another place: its next move is no knock.
    pub fn expect_move(&mut self) {
        self.knock.expect_move();
    }

    /// The head told its calibration.
    pub fn calibrated(&mut self, state: CalibrationState) {
        if self.calibration.as_ref() != Some(&state) {
            self.calibration = Some(state);
            self.restart();
            self.seat.interrupt();
            self.taking.interrupt();
        }
    }

    /// The calibration in use.
    pub fn calibration(&self) -> Option<&CalibrationState> {
        self.calibration.as_ref()
    }

    /// Counts the times that the head was seen to move while it was on the board: knocks, and moves
    /// that were expected.
    pub fn moves(&self) -> u64 {
        self.knock.moves()
    }

    /// Whether the tilt has been at rest for the last half second, wherever the head stands: enough
    /// for a level.
    pub fn level_rests(&self) -> bool {
        self.seat.rests()
    }

    /// The head told how it is.
    pub fn pulse(&mut self, pulse: &Pulse, now_s: f64) {
        self.condition.pulse(pulse, now_s);
    }

    /// The head told how the sheet looks.
    pub fn sheet(&mut self, sheet: &Sheet, now_s: f64) {
        self.light.sheet(sheet, now_s);
    }

    /// The head answered a question at `at_s` on its own clock, `took_s` after it was asked. A
    /// quick answer shows how the clocks stand now: a head whose clock stood still for a while,
    /// or a computer that slept, is not late for good.
    pub fn answered(&mut self, at_s: f64, took_s: f64, now_s: f64) {
        self.delivery.answered(at_s, took_s, now_s);
    }

    /// A reading, placed in its stream, that arrived at `now_s`.
    pub fn reading(&mut self, reading: &Reading, placed: Placed, now_s: f64) {
        let at_s = placed.position.at.seconds();
        if !self.delivery.reading(placed, now_s) {
            self.restart();
            self.seat.interrupt();
        }
        self.last = Some(*reading);
        let tilt_udeg = self.tilt(reading).value().map(|tilt| [tilt.level.0, tilt.lean.0]);
        self.seat.reading(tilt_udeg, at_s);
        self.spot.reading(reading.stand_off.value().map(|s| s.0), at_s);
        let seen = self.light.reading(reading, at_s);
        match (reading.stand_off, seen, &self.calibration) {
            (Sample::Value(stand_off), Seen::Sheet { middle, sure }, Some(state)) => {
                let point = Point {
                    at_s,
                    gap_um: state.calibration.gap(stand_off, middle).0,
                    stand_off_um: stand_off.0,
                    middle_um: middle.0,
                    sure,
                    tilt_udeg,
                };
                self.follow(point);
            }
            (Sample::Value(_), Seen::Nothing, _) if !self.light.is_unlit(at_s) => {}
            (Sample::Value(_), _, _) => self.restart(),
            (Sample::Absent(why), _, _) => self.without_spot(why, at_s),
        }
    }

    /// The laser gives no distance, for this reason.
    fn without_spot(&mut self, why: Absence, at_s: f64) {
        // A patch loses the spot again and again; a head that is not on a board has none at all.
        if why == Absence::NoSpot && self.settling.trace.len() > 0 {
            self.spot.lost(at_s);
        }
        self.restart();
        // Whatever comes after need not be the same seat.
        self.light.lifted();
        self.knock.lifted();
        self.taking.interrupt();
    }

    fn follow(&mut self, point: Point) {
        let settled = self.settling.state() == State::Settled;
        let rate_hz = self.settling.rate_hz();
        self.spot.follow([point.stand_off_um, point.middle_um], point.at_s, rate_hz, settled);
        let quiet_mm = self.settling.noise_of_one_mm();
        if self.knock.follow(point, quiet_mm, rate_hz) {
            self.settling.restart(point.at_s);
            self.seat.moved(knock::NEW);
        }
        let knock = &self.knock;
        if self.settling.push(point, |settling| knock.at_first(settling)) {
            self.judge(point.at_s);
        }
    }

    fn judge(&mut self, at_s: f64) {
        let warming = self.condition.warming_k_per_min().map_or(0.0, f64::abs);
        let state = self.settling.judge(at_s, self.knock.shakes(), warming);
        let now_deg = self.seat.stands().map(|stands| stands.deg);
        let rests_deg = match state {
            // Shaken, it stands where it stood if a long mean says so.
            State::Vibrating { .. } => self.seat.swings_about_deg(),
            _ => now_deg.filter(|_| self.seat.rests()),
        };
        let state = self.knock.judged(state, at_s, Stand { now_deg, rests_deg });
        self.settling.is(state);
        if let Ok(take) = self.make_take(self.delivery.came_s()) {
            self.taking.could(take);
        }
    }

    /// Forget the readings of this stretch.
    fn restart(&mut self) {
        self.settling.restart(self.delivery.at_s());
        self.spot.interrupt();
        self.knock.interrupt();
    }

    /// The tilt of a reading, the head's own offsets taken off.
    fn tilt(&self, reading: &Reading) -> Sample<Tilt> {
        match (reading.tilt, &self.calibration) {
            (Sample::Value(steps), Some(state)) => state.calibration.tilt(steps),
            (Sample::Value(_), None) => Sample::Absent(Absence::Starting),
            (Sample::Absent(why), _) => Sample::Absent(why),
        }
    }
}

/// Standard uncertainty of the head's own offsets of level and lean, degrees: after reversal, and
/// where there was none.
fn offset_u_deg(calibration: &Calibration) -> [f64; 2] {
    const FOUND: f64 = 0.01;
    const NOMINAL: f64 = 0.5;
    let offset = calibration.tilt_offset;
    [offset.level.0, offset.lean.0].map(|udeg| if udeg == 0 { NOMINAL } else { FOUND })
}
