//! What rooms are made from.

use super::emitter::Nominal;
use super::profile::Shine;
use super::relief::Relief;
use super::sheet::Sheet;
use crate::noise::Noise;

/// How wrong things may be; standard deviations unless said otherwise.
///
/// The defaults are the sizes for which the trim's figures are stated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Errors {
    /// A hand's error in one turn, degrees.
    pub turning_deg: f64,
    /// Gap error that a new clipping of the head brings, mm.
    pub seating_mm: f64,
    /// Gap error of a settled reading besides, mm.
    pub reading_mm: f64,
    /// Gap error that all readings of a room share (the head's zero), mm.
    pub shared_mm: f64,
    /// Relative error of an adjuster's pitch.
    pub pitch: f64,
    /// Error of an adjuster's place, along each axis, mm.
    pub position_mm: f64,
    /// Play of every adjuster, turns from flank to flank (a size, not a deviation).
    pub backlash_turns: f64,
    /// Probability that an adjuster's sense is not what its papers say.
    pub reversed: f64,
    /// Probability that an adjuster slips: 30 to 80 % of a turn reach its thread.
    pub slipping: f64,
}

impl Default for Errors {
    fn default() -> Self {
        Self {
            turning_deg: 5.0,
            seating_mm: 0.05,
            reading_mm: 0.005,
            shared_mm: 0.0,
            pitch: 0.02,
            position_mm: 1.5,
            backlash_turns: 0.05,
            reversed: 0.0,
            slipping: 0.0,
        }
    }
}

/// What a room is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Image width, mm.
    pub width_mm: f64,
    /// Image height, mm.
    pub height_mm: f64,
    /// The adjusters as in the papers: left, right, upper.
    pub adjusters: [Nominal; 3],
    /// Where the light comes from, right of the image's middle, mm.
    pub emitter_x_mm: f64,
    /// Where the light comes from above the image's top edge, mm.
    pub emitter_y_mm: f64,
    /// Places `(x, y)` where the head is clipped on beside the room's own eight stations, mm.
    pub places_mm: Vec<(f64, f64)>,
    /// The board's shape where it is known; one of chance otherwise.
    pub relief: Option<Relief>,
    /// Smallest and largest peak to valley of a board of chance, mm; uniform between.
    pub peak_to_valley_mm: (f64, f64),
    /// Gap at the origin that a rough setting by sight aims at, mm.
    pub start_gap_mm: f64,
    /// Standard deviation of the rough setting: gap at the origin, mm; slopes along x and y, mm
    /// per metre.
    pub start_sigma: (f64, f64, f64),
    /// A gap, mm, to which the adjusters must be able to bring the rough setting all over; without
    /// this nobody asks.
    pub comes_to_mm: Option<f64>,
    /// The rough setting is made again until every station's gap lies between these, mm.
    pub start_gaps_mm: (f64, f64),
    /// What emitters there are.
    pub light: Lights,
    /// How wrong things may be.
    pub errors: Errors,
}

/// What emitters there are, from the least to the greatest; uniform between.
#[derive(Debug, Clone, PartialEq)]
pub struct Lights {
    /// Thickness of the sheet at the emitter, mm (D4sigma).
    pub thickness_mm: (f64, f64),
    /// Its growth, mm per metre.
    pub spread_mm_per_m: (f64, f64),
    /// Shapes of its profile, each as likely.
    pub orders: Vec<f64>,
    /// Straight down at one metre, V per ms.
    pub volts_at_1_m: (f64, f64),
    /// Share of it that is left toward the board's upper corners.
    pub fan_at_edge: (f64, f64),
    /// Probability that it pulses, 0.1 kHz to 2 kHz, at any duty from a twentieth up.
    pub pulsing: f64,
    /// Probability that it dims when idle, to a tenth to nine tenths.
    pub dimming: f64,
}

impl Default for Lights {
    /// Steady emitters with thin sheets, which can be read down to 1.5 mm over the board.
    fn default() -> Self {
        Self {
            thickness_mm: (0.8, 1.0),
            spread_mm_per_m: (0.0, 0.15),
            orders: vec![2.0],
            volts_at_1_m: (1.0, 1.3),
            fan_at_edge: (0.4, 0.9),
            pulsing: 0.0,
            dimming: 0.0,
        }
    }
}

impl Lights {
    /// Every emitter that a touch plane may come from: sheets of 0.8 mm to 3 mm at the far corner of
    /// a 94 inch board, weak and strong, steady, pulsing and dimming.
    pub fn any() -> Self {
        Self {
            thickness_mm: (0.8, 2.2),
            spread_mm_per_m: (0.0, 0.47),
            orders: vec![2.0, 2.0, 3.0, 4.0, 8.0],
            volts_at_1_m: (0.1, 5.0),
            fan_at_edge: (0.15, 1.0),
            pulsing: 0.5,
            dimming: 0.2,
        }
    }

    pub(super) fn sheet(&self, noise: &mut Noise) -> Sheet {
        let mut within = |(low, high): (f64, f64)| noise.uniform(low, high);
        Sheet {
            thickness_mm: within(self.thickness_mm),
            spread_mm_per_m: within(self.spread_mm_per_m),
            // As many weak ones as strong ones: even in the logarithm.
            volts_at_1_m: within((self.volts_at_1_m.0.ln(), self.volts_at_1_m.1.ln())).exp(),
            fan_at_edge: within(self.fan_at_edge),
            order: match self.orders.len() as u64 {
                0 => 2.0,
                n => self.orders[(noise.bits() % n) as usize],
            },
        }
    }

    pub(super) fn shine(&self, noise: &mut Noise) -> Shine {
        let mut shine = Shine::STEADY;
        if noise.chance(self.pulsing) {
            shine.hz = 100.0 * (noise.unit() * 20f64.ln()).exp();
            shine.duty = noise.uniform(0.05, 1.0);
            shine.phase = noise.unit();
        }
        if noise.chance(self.dimming) {
            shine.idle = noise.uniform(0.1, 0.9);
            shine.idle_every_s = noise.uniform(2.0, 20.0);
        }
        shine
    }
}

impl Default for Plan {
    /// A 94 inch board of 16:10, adjusters 200 mm by 60 mm apart with 0.5 mm pitch (M3 coarse, ISO
    /// 261), sense clockwise out, 8 turns either way.
    fn default() -> Self {
        let adjuster = |name, x_mm, y_mm| Nominal {
            name,
            x_mm,
            y_mm,
            pitch_mm: 0.5,
            clockwise_out: true,
            clockwise_turns: 8.0,
            anticlockwise_turns: 8.0,
        };
        let diagonal_mm = 94.0 * 25.4;
        Self {
            width_mm: diagonal_mm * 16.0 / 356f64.sqrt(),
            height_mm: diagonal_mm * 10.0 / 356f64.sqrt(),
            adjusters: [
                adjuster("left", -100.0, 90.0),
                adjuster("right", 100.0, 90.0),
                adjuster("upper", 0.0, 150.0),
            ],
            emitter_x_mm: 0.0,
            emitter_y_mm: 75.0,
            places_mm: Vec::new(),
            relief: None,
            peak_to_valley_mm: (0.2, 1.3),
            start_gap_mm: 3.0,
            start_sigma: (0.8, 1.5, 2.5),
            comes_to_mm: None,
            start_gaps_mm: (0.8, 11.0),
            light: Lights::default(),
            errors: Errors::default(),
        }
    }
}

impl Plan {
    /// The same, set so roughly only that a head's eye sees the whole sheet at every station: its
    /// window begins 1.5 mm or so below a sheet's middle.
    pub fn readable(self) -> Self {
        Self { start_gaps_mm: (1.8, 11.0), ..self }
    }
}
