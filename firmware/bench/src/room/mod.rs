//! The room: a board, an emitter on its adjusters, the sheet of light, and what they come to.
//! Everything from a seed.

pub mod board;
pub mod emitter;
pub mod fault;
pub mod gauge;
mod plan;
pub mod profile;
pub mod relief;
pub mod sheet;

use crate::noise::Noise;
use board::{Board, Material, grid};
use emitter::{Adjuster, Emitter, Plane, Turned, WarmUp};
pub use plan::{Errors, Lights, Plan};
use profile::Shine;
use sheet::Sheet;

/// A place on the image's edge where the head can be clipped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Its name.
    pub name: &'static str,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
}

/// A room.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    /// The board.
    pub board: Board,
    /// The emitter.
    pub emitter: Emitter,
    /// Its sheet of light.
    pub sheet: Sheet,
    /// How wrong things may be here.
    pub errors: Errors,
    /// What all gaps of this room's head are wrong by, mm; used by [`Room::observe_gap`] only.
    pub shared_gap_mm: f64,
}

impl Room {
    /// The room of a seed, after the default [`Plan`].
    pub fn new(seed: u64) -> Self {
        Self::planned(seed, &Plan::default())
    }

    /// The room of a seed and a plan.
    pub fn planned(seed: u64, plan: &Plan) -> Self {
        let mut noise = Noise::new(seed, 1);
        let errors = plan.errors;
        let (low_mm, high_mm) = plan.peak_to_valley_mm;
        let mut board = Board::random(
            plan.width_mm,
            plan.height_mm,
            noise.uniform(low_mm, high_mm),
            &mut noise,
        );
        if let Some(relief) = &plan.relief {
            board.is_shaped(relief.clone());
        }
        let adjusters = plan.adjusters.map(|nominal| Adjuster {
            x_mm: nominal.x_mm + noise.normal(errors.position_mm),
            y_mm: nominal.y_mm + noise.normal(errors.position_mm),
            pitch_mm: nominal.pitch_mm * (1.0 + noise.normal(errors.pitch)),
            clockwise_out: nominal.clockwise_out != noise.chance(errors.reversed),
            backlash_turns: errors.backlash_turns,
            grip: if noise.chance(errors.slipping) { noise.uniform(0.3, 0.8) } else { 1.0 },
            screw_turns: 0.0,
            // The thread may rest on either flank, or between.
            nut_turns: noise.uniform(-0.5, 0.5) * errors.backlash_turns,
            nominal,
        });
        let mut room = Self {
            board,
            emitter: Emitter {
                adjusters,
                start: Plane::default(),
                x_mm: plan.emitter_x_mm,
                y_mm: plan.emitter_y_mm,
                level_deg: noise.normal(0.15),
                on: true,
                shine: Shine::STEADY,
                warm_up: WarmUp::default(),
            },
            sheet: plan.light.sheet(&mut Noise::new(seed, 5)),
            errors,
            shared_gap_mm: noise.normal(errors.shared_mm),
        };
        room.set_roughly(plan, &mut noise);
        room.light_up(&plan.light, &mut Noise::new(seed, 5));
        room
    }

    /// Gives the room its emitter's light and its board's material: from chance of their own, so
    /// that the same seed keeps board and setting whatever light there is.
    fn light_up(&mut self, lights: &Lights, noise: &mut Noise) {
        self.sheet = lights.sheet(noise);
        self.emitter.shine = lights.shine(noise);
        self.emitter.warm_up = WarmUp {
            brighter: noise.uniform(0.0, 0.3),
            out_mm: noise.normal(0.02),
            lean: noise.normal(5e-5),
            seconds: noise.uniform(120.0, 600.0),
        };
        self.board.material = Material {
            laser_mm: noise.uniform(-0.2, 0.2),
            texture_mm: noise.uniform(0.0, 0.006),
            gloss: noise.uniform(0.0, 0.9),
        };
    }

    fn set_roughly(&mut self, plan: &Plan, noise: &mut Noise) {
        const TRIES: u32 = 1000;
        let (sigma_c_mm, sigma_p, sigma_q) = plan.start_sigma;
        let (low_mm, high_mm) = plan.start_gaps_mm;
        for shrink in (0..TRIES).map(|k| 1.0 - f64::from(k) / f64::from(TRIES)) {
            self.emitter.start = Plane {
                c_mm: plan.start_gap_mm + noise.normal(sigma_c_mm) * shrink,
                p: noise.normal(sigma_p) * 1e-3 * shrink,
                q: noise.normal(sigma_q) * 1e-3 * shrink,
            };
            let own = self.stations().map(|station| (station.x_mm, station.y_mm));
            let mut places = own.iter().chain(&plan.places_mm);
            let fits = places.all(|&(x, y)| (low_mm..=high_mm).contains(&self.gap_mm(x, y)));
            if fits && plan.comes_to_mm.is_none_or(|gap_mm| self.can_come_to(gap_mm)) {
                return;
            }
        }
        // Adjusters that can hardly be turned: whoever mounted it has set it well.
        if let Some(gap_mm) = plan.comes_to_mm {
            self.emitter.start = Plane { c_mm: gap_mm, ..Plane::default() };
        }
    }

    /// Whether the adjusters, as their papers have them, bring the touch plane to this height all
    /// over, with something of their travel left.
    fn can_come_to(&self, gap_mm: f64) -> bool {
        const MOST: f64 = 0.8;
        self.emitter.adjusters.iter().all(|adjuster| {
            let of = adjuster.nominal;
            let out_mm = gap_mm - self.emitter.start.at(of.x_mm, of.y_mm);
            let out_turns = out_mm / of.pitch_mm;
            let turns = if adjuster.clockwise_out { out_turns } else { -out_turns };
            (-MOST * of.anticlockwise_turns..=MOST * of.clockwise_turns).contains(&turns)
        })
    }

    /// The eight places at the image's edge where the head is clipped, clockwise from the upper
    /// left corner.
    pub fn stations(&self) -> [Station; 8] {
        let (x, y) = (self.board.width_mm / 2.0, -self.board.height_mm);
        let at = |name, x_mm, y_mm| Station { name, x_mm, y_mm };
        [
            at("top left", -x, 0.0),
            at("top", 0.0, 0.0),
            at("top right", x, 0.0),
            at("right", x, y / 2.0),
            at("bottom right", x, y),
            at("bottom", 0.0, y),
            at("bottom left", -x, y),
            at("left", -x, y / 2.0),
        ]
    }

    /// Corners, edge middles and centre: where a gap has to be in its band, mm.
    pub fn control_points(&self) -> Vec<(f64, f64)> {
        grid(self.board.width_mm, self.board.height_mm, 3, 3)
    }

    /// True gap at a point: touch plane over board face, mm.
    pub fn gap_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        self.emitter.touch_plane().at(x_mm, y_mm) - self.board.shape_mm(x_mm, y_mm)
    }

    /// Smallest and largest true gap over the control points, mm.
    pub fn gap_range_mm(&self) -> (f64, f64) {
        let plane = self.emitter.touch_plane();
        self.control_points()
            .into_iter()
            .map(|(x_mm, y_mm)| plane.at(x_mm, y_mm) - self.board.shape_mm(x_mm, y_mm))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), gap| {
                (low.min(gap), high.max(gap))
            })
    }

    /// Whether the true gap lies in `low..=high` at every control point.
    pub fn is_within(&self, low_mm: f64, high_mm: f64) -> bool {
        let (least, most) = self.gap_range_mm();
        low_mm <= least && most <= high_mm
    }

    /// True lean of the emitter from the vertical, degrees.
    pub fn emitter_lean_deg(&self) -> f64 {
        self.board.lean_deg + self.emitter.touch_plane().q.atan().to_degrees()
    }

    /// A gap as a head newly clipped to a point would settle on it, mm: physics without registers.
    /// `noise` is the caller's, so that a room can be asked again and again.
    pub fn observe_gap(&self, x_mm: f64, y_mm: f64, noise: &mut Noise) -> f64 {
        self.gap_mm(x_mm, y_mm)
            + self.shared_gap_mm
            + noise.normal(self.errors.seating_mm)
            + noise.normal(self.errors.reading_mm)
    }

    /// What a head already clipped reads while a screw is turned, mm: `seat_mm` is the error of
    /// that clipping, which stays.
    pub fn live_gap(&self, x_mm: f64, y_mm: f64, seat_mm: f64, noise: &mut Noise) -> f64 {
        self.gap_mm(x_mm, y_mm)
            + self.shared_gap_mm
            + seat_mm
            + noise.normal(self.errors.reading_mm)
    }

    /// The board's shape at a point as a survey would find it, mm, with a standard deviation of
    /// `sigma_mm`. The head at the image's edge never sees the middle of a bow: only a survey
    /// does.
    pub fn observe_shape_mm(&self, x_mm: f64, y_mm: f64, sigma_mm: f64, noise: &mut Noise) -> f64 {
        self.board.shape_mm(x_mm, y_mm) + noise.normal(sigma_mm)
    }

    /// Turns an adjuster (0 left, 1 right, 2 upper; another number does nothing) exactly, clockwise
    /// positive.
    pub fn turn(&mut self, adjuster: usize, turns: f64) -> Turned {
        match self.emitter.adjusters.get_mut(adjuster) {
            Some(adjuster) => adjuster.turn(turns),
            None => Turned { made_turns: 0.0, at_stop: false },
        }
    }

    /// Turns an adjuster as a hand that counts would: with the room's turning error.
    pub fn turn_by_hand(&mut self, adjuster: usize, turns: f64, noise: &mut Noise) -> Turned {
        let error_turns = noise.normal(self.errors.turning_deg) / 360.0;
        self.turn(adjuster, turns + error_turns)
    }
}

#[cfg(test)]
mod tests {
    use super::{Errors, Plan, Room};
    use crate::noise::Noise;

    #[test]
    fn same_seed_same_room_and_another_seed_another() {
        assert_eq!(Room::new(5), Room::new(5));
        assert_ne!(Room::new(5), Room::new(6));
    }

    /// 94 inch 16:10 by the aspect's arithmetic: W = 0.847998304 D, H = 0.529998940 D.
    #[test]
    fn default_image_has_the_size_of_its_diagonal() {
        let plan = Plan::default();
        assert!((plan.width_mm - 0.847998304005 * 94.0 * 25.4).abs() < 1e-6);
        assert!((plan.height_mm - 0.529998940003 * 94.0 * 25.4).abs() < 1e-6);
    }

    #[test]
    fn rooms_start_roughly_set_and_differ_in_shape_as_planned() {
        for seed in 0..300 {
            let room = Room::new(seed);
            for station in room.stations() {
                let gap_mm = room.gap_mm(station.x_mm, station.y_mm);
                assert!((0.8..=11.0).contains(&gap_mm), "{seed} {} {gap_mm}", station.name);
            }
            let span_mm = room.board.peak_to_valley_mm();
            assert!((0.2..=1.3).contains(&span_mm));
        }
    }

    /// One turn of the upper screw moves the origin by P (0 - 90)/60 and the bottom edge by P (-H -
    /// 90)/60: the leverage that makes one-at-a-time adjusting wander, from the three-point
    /// geometry alone.
    #[test]
    fn upper_screw_moves_the_bottom_edge_many_times_the_top() {
        let plan = Plan {
            errors: Errors {
                pitch: 0.0,
                position_mm: 0.0,
                backlash_turns: 0.0,
                ..Errors::default()
            },
            ..Plan::default()
        };
        let mut room = Room::planned(1, &plan);
        let bottom_mm = -plan.height_mm;
        let before = (room.gap_mm(0.0, 0.0), room.gap_mm(0.0, bottom_mm));
        room.turn(2, 0.1);
        let moved = (room.gap_mm(0.0, 0.0) - before.0, room.gap_mm(0.0, bottom_mm) - before.1);
        assert!((moved.0 - 0.05 * -90.0 / 60.0).abs() < 1e-9);
        assert!((moved.1 - 0.05 * (bottom_mm - 90.0) / 60.0).abs() < 1e-9);
    }

    #[test]
    fn observed_gaps_scatter_by_the_stated_errors() {
        let room = Room::new(3);
        let mut noise = Noise::new(9, 9);
        let n = 20_000;
        let errors: Vec<f64> = (0..n)
            .map(|_| room.observe_gap(100.0, -200.0, &mut noise) - room.gap_mm(100.0, -200.0))
            .collect();
        let mean = errors.iter().sum::<f64>() / f64::from(n);
        let sigma = (errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / f64::from(n)).sqrt();
        assert!(mean.abs() < 0.002 && (sigma - 0.05025).abs() < 0.001, "{mean} {sigma}");
    }

    #[test]
    fn hand_turns_scatter_by_five_degrees() {
        let mut noise = Noise::new(4, 4);
        let mut room = Room::new(4);
        let n = 5000;
        let square: f64 = (0..n)
            .map(|k| {
                let turns = if k % 2 == 0 { 0.5 } else { -0.5 };
                (room.turn_by_hand(0, turns, &mut noise).made_turns - turns).powi(2)
            })
            .sum();
        assert!(((square / f64::from(n)).sqrt() * 360.0 - 5.0).abs() < 0.2);
        assert_eq!(room.turn_by_hand(7, 1.0, &mut noise).made_turns, 0.0);
    }
}
