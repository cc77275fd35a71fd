//! The emitter on its three adjusters, the touch plane that they make, and what its warming up does
//! to it.

use super::profile::Shine;

/// What stands in the papers about an adjuster: all that a user can know before turning it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nominal {
    /// Where it sits: `left`, `right` or `upper`.
    pub name: &'static str,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// Advance of one turn, mm.
    pub pitch_mm: f64,
    /// Whether a clockwise turn moves the emitter away from the wall there.
    pub clockwise_out: bool,
    /// Turns that the screw can make from where it starts, clockwise.
    pub clockwise_turns: f64,
    /// ... and anticlockwise.
    pub anticlockwise_turns: f64,
}

/// One adjuster as it really is.
#[derive(Debug, Clone, PartialEq)]
pub struct Adjuster {
    /// What stands in the papers.
    pub nominal: Nominal,
    /// True place, mm.
    pub x_mm: f64,
    /// True place, mm.
    pub y_mm: f64,
    /// True advance of one turn, mm.
    pub pitch_mm: f64,
    /// True sense: whether clockwise moves the emitter out.
    pub clockwise_out: bool,
    /// Play between screw and emitter, turns from one flank to the other.
    pub backlash_turns: f64,
    /// Share of a turn that reaches the thread: 1 is a sound screw, 0 one that only slips.
    pub grip: f64,
    /// Where the screw stands, turns clockwise from the start.
    pub screw_turns: f64,
    /// Where the emitter stands on the screw, turns clockwise from the start.
    pub nut_turns: f64,
}

/// What came of a turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turned {
    /// Turns that the hand made, clockwise positive.
    pub made_turns: f64,
    /// The screw came to the end of its travel and stopped the hand.
    pub at_stop: bool,
}

impl Adjuster {
    /// An adjuster that is exactly what its papers say, without play.
    pub fn exact(nominal: Nominal) -> Self {
        Self {
            nominal,
            x_mm: nominal.x_mm,
            y_mm: nominal.y_mm,
            pitch_mm: nominal.pitch_mm,
            clockwise_out: nominal.clockwise_out,
            backlash_turns: 0.0,
            grip: 1.0,
            screw_turns: 0.0,
            nut_turns: 0.0,
        }
    }

    /// Turns the screw clockwise (negative: anticlockwise) until done or at the end of its travel.
    pub fn turn(&mut self, turns: f64) -> Turned {
        if !turns.is_finite() {
            return Turned { made_turns: 0.0, at_stop: false };
        }
        let (clockwise, back) = (self.nominal.clockwise_turns, self.nominal.anticlockwise_turns);
        let wanted_turns = self.screw_turns + turns * self.grip;
        let reached_turns = wanted_turns.max(-back).min(clockwise);
        let at_stop = reached_turns != wanted_turns;
        let made_turns = if at_stop && self.grip > 0.0 {
            (reached_turns - self.screw_turns) / self.grip
        } else {
            turns
        };
        self.screw_turns = reached_turns;
        let play_turns = self.backlash_turns / 2.0;
        self.nut_turns =
            self.nut_turns.clamp(self.screw_turns - play_turns, self.screw_turns + play_turns);
        Turned { made_turns, at_stop }
    }

    /// How far out the emitter stands here against the start, mm.
    pub fn height_mm(&self) -> f64 {
        let sign = if self.clockwise_out { 1.0 } else { -1.0 };
        sign * self.pitch_mm * self.nut_turns
    }
}

/// A plane `c + p x + q y`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Plane {
    /// Height at the origin, mm.
    pub c_mm: f64,
    /// Slope along x, mm per mm.
    pub p: f64,
    /// Slope along y, mm per mm.
    pub q: f64,
}

impl Plane {
    /// Height at a point, mm.
    pub fn at(&self, x_mm: f64, y_mm: f64) -> f64 {
        self.c_mm + self.p * x_mm + self.q * y_mm
    }

    /// The plane through three points `(x, y, z)`, mm; `None` if they stand in a line.
    pub fn through(points: [(f64, f64, f64); 3]) -> Option<Self> {
        let [(x0, y0, z0), (x1, y1, z1), (x2, y2, z2)] = points;
        let (ax, ay, az) = (x1 - x0, y1 - y0, z1 - z0);
        let (bx, by, bz) = (x2 - x0, y2 - y0, z2 - z0);
        let area = ax * by - bx * ay;
        // Half a square millimetre: no three screws of an emitter stand so close.
        if area.abs() < 1.0 {
            return None;
        }
        let p = (az * by - bz * ay) / area;
        let q = (ax * bz - bx * az) / area;
        Some(Self { c_mm: z0 - p * x0 - q * y0, p, q })
    }
}

/// The emitter.
#[derive(Debug, Clone, PartialEq)]
pub struct Emitter {
    /// Its adjusters: left, right, upper.
    pub adjusters: [Adjuster; 3],
    /// The touch plane before any turn, over the frame's z = 0.
    pub start: Plane,
    /// Where the light comes from, mm.
    pub x_mm: f64,
    /// Where the light comes from, mm above the image's top edge.
    pub y_mm: f64,
    /// Roll in its own plane from the horizontal, degrees; positive when its right side is higher.
    pub level_deg: f64,
    /// Whether it shines.
    pub on: bool,
    /// How: steadily, in pulses, dimmed when idle.
    pub shine: Shine,
    /// What it does while it warms up.
    pub warm_up: WarmUp,
}

/// How a cold emitter differs from a warm one. All of it dies away as it warms.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct WarmUp {
    /// Light more (or less, if negative) than when warm, as a share.
    pub brighter: f64,
    /// The touch plane stands so much farther out at the emitter, mm.
    pub out_mm: f64,
    /// And leans so much more outward down the board, mm per mm.
    pub lean: f64,
    /// Time constant, s.
    pub seconds: f64,
}

impl WarmUp {
    /// How much of it is left after so many seconds, 0 to 1.
    pub fn left(&self, seconds: f64) -> f64 {
        if self.seconds > 0.0 { (-seconds.max(0.0) / self.seconds).exp() } else { 0.0 }
    }
}

impl Emitter {
    /// The touch plane over the frame's z = 0, as the adjusters stand now.
    pub fn touch_plane(&self) -> Plane {
        let points = [0, 1, 2].map(|k| {
            let adjuster: &Adjuster = &self.adjusters[k];
            (adjuster.x_mm, adjuster.y_mm, adjuster.height_mm())
        });
        // Adjusters in a line leave the emitter where it stood.
        let moved = Plane::through(points).unwrap_or_default();
        Plane {
            c_mm: self.start.c_mm + moved.c_mm,
            p: self.start.p + moved.p,
            q: self.start.q + moved.q,
        }
    }

    /// Distance from the light's origin to a point of the board, mm.
    pub fn distance_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        (x_mm - self.x_mm).hypot(y_mm - self.y_mm)
    }

    /// Azimuth of the emitter as seen from a point of the board: degrees from "up", positive toward
    /// the right. It is the angle from straight down under which the light left, too.
    pub fn azimuth_deg(&self, x_mm: f64, y_mm: f64) -> f64 {
        (self.x_mm - x_mm).atan2(self.y_mm - y_mm).to_degrees()
    }

    /// How far out of its warm place the touch plane stands at a height of the board, mm, with so
    /// much of the warming up still to come.
    pub fn cold_mm(&self, y_mm: f64, left: f64) -> f64 {
        left * (self.warm_up.out_mm + self.warm_up.lean * (self.y_mm - y_mm))
    }
}

#[cfg(test)]
mod tests {
    use super::{Adjuster, Nominal, Plane, WarmUp};
    use proptest::prelude::*;

    const NOMINAL: Nominal = Nominal {
        name: "left",
        x_mm: -100.0,
        y_mm: 90.0,
        pitch_mm: 0.5,
        clockwise_out: true,
        clockwise_turns: 8.0,
        anticlockwise_turns: 6.0,
    };

    #[test]
    fn backlash_is_lost_once_when_the_sense_changes() {
        let mut adjuster = Adjuster { backlash_turns: 0.05, ..Adjuster::exact(NOMINAL) };
        adjuster.turn(1.0);
        assert!((adjuster.nut_turns - 0.975).abs() < 1e-12);
        adjuster.turn(1.0);
        assert!((adjuster.nut_turns - 1.975).abs() < 1e-12);
        adjuster.turn(-0.04);
        assert!((adjuster.nut_turns - 1.975).abs() < 1e-12);
        adjuster.turn(-1.0);
        assert!((adjuster.nut_turns - 0.985).abs() < 1e-12);
    }

    #[test]
    fn travel_ends_the_turn_and_says_so() {
        let mut adjuster = Adjuster::exact(NOMINAL);
        assert!(!adjuster.turn(7.0).at_stop);
        let turned = adjuster.turn(7.0);
        assert!(turned.at_stop);
        assert!((turned.made_turns - 1.0).abs() < 1e-12);
        assert!((adjuster.height_mm() - 4.0).abs() < 1e-12);
        // The other way there may be less of it.
        let turned = adjuster.turn(-20.0);
        assert!(turned.at_stop && (turned.made_turns + 14.0).abs() < 1e-12);
    }

    #[test]
    fn reversed_and_slipping_screws_do_what_they_are_called() {
        let mut reversed = Adjuster { clockwise_out: false, ..Adjuster::exact(NOMINAL) };
        reversed.turn(1.0);
        assert!((reversed.height_mm() + 0.5).abs() < 1e-12);
        let mut slipping = Adjuster { grip: 0.0, ..Adjuster::exact(NOMINAL) };
        assert!(!slipping.turn(3.0).at_stop);
        assert_eq!(slipping.height_mm(), 0.0);
        assert_eq!(slipping.turn(f64::NAN).made_turns, 0.0);
    }

    #[test]
    fn warming_up_dies_away() {
        let warm_up = WarmUp { brighter: 0.1, out_mm: 0.02, lean: 5e-5, seconds: 300.0 };
        assert_eq!(warm_up.left(0.0), 1.0);
        assert!((warm_up.left(300.0) - 0.367_879).abs() < 1e-6);
        assert_eq!(WarmUp::default().left(0.0), 0.0);
    }

    #[test]
    fn points_in_a_line_make_no_plane() {
        assert_eq!(Plane::through([(0.0, 0.0, 1.0), (50.0, 50.0, 2.0), (100.0, 100.0, 3.0)]), None);
    }

    proptest! {
        #[test]
        fn plane_goes_through_its_points(z in prop::array::uniform3(-5.0..5.0f64)) {
            let points = [(-100.0, 90.0, z[0]), (100.0, 90.0, z[1]), (0.0, 150.0, z[2])];
            let plane = Plane::through(points).unwrap();
            for (x, y, z) in points {
                prop_assert!((plane.at(x, y) - z).abs() < 1e-9);
            }
        }
    }
}
