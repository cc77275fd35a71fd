//! What a zeroing has read so far: plain data, so that it can be put aside and taken up again.

use super::gauged;
use super::slits::NoSlit;
use super::still::{Mean, Still};
use serde::{Deserialize, Serialize};
use skimgauge_shared::calibration::Calibration;

/// What lights the gauge's slits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, Default)]
#[serde(rename_all = "snake_case")]
pub enum Lamp {
    /// Its own lamp: every slope of light alike.
    #[default]
    Own,
    /// The emitter's sheet, which may have a slope.
    Emitter,
}

/// The gauge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Gauge {
    /// Heights of its slits' middles over the board, from its label, mm, from the board outward.
    pub heights_mm: Vec<f64>,
    /// Standard uncertainty of each, mm.
    pub u_mm: f64,
    /// What lights it.
    pub lamp: Lamp,
}

/// The head standing before the gauge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stand {
    /// It was lifted by something flat under its feet.
    pub lifted: bool,
    /// What was read.
    pub still: Still,
}

/// The two positions of a reversal, inclinometer's steps of level and lean.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// As it is used.
    pub first: [f64; 2],
    /// Turned end for end, half a turn about the upright, at the same place. (Upside down on the same
    /// face would not do: what the part is turned by within the head turns with it.)
    pub second: [f64; 2],
}

/// A step of a zeroing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Before the gauge, on the board: zero.
    Board,
    /// Before the gauge, lifted: scale.
    Lifted,
    /// Turned end for end: level.
    Level,
    /// The eye in the dark.
    Dark,
    /// The eye in even light: the pixels compared.
    Even,
}

impl Step {
    /// Its name on screen.
    pub fn name(self) -> &'static str {
        match self {
            Self::Board => "on the board",
            Self::Lifted => "lifted",
            Self::Level => "level",
            Self::Dark => "dark",
            Self::Even => "even light",
        }
    }
}

/// What was read so far. Steps may be made in any order and again; what is missing keeps its former
/// constants.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Session {
    /// The head's serial number as it shows it.
    pub head: String,
    /// The gauge; without one neither zero nor scale is found.
    pub gauge: Option<Gauge>,
    /// How the head's seat moves the eye against the spot, standard uncertainty, mm.
    pub seat_u_mm: f64,
    /// Before the gauge.
    pub stands: Vec<Stand>,
    /// Reversal of level.
    pub level: Option<Pair>,
    /// The eye in the dark.
    pub dark: Option<Mean>,
    /// The eye in even light.
    pub even: Option<Mean>,
}

impl Session {
    /// How many stands of a kind there are.
    pub fn stood(&self, lifted: bool) -> usize {
        self.stands.iter().filter(|stand| stand.lifted == lifted).count()
    }

    /// Steps that have not been made yet, in the order in which they are best made.
    pub fn missing(&self) -> Vec<Step> {
        let mut missing = Vec::new();
        let mut add = |when: bool, step: Step| {
            if when {
                missing.push(step);
            }
        };
        add(self.stood(false) == 0, Step::Board);
        add(self.stood(true) == 0, Step::Lifted);
        add(self.level.is_none(), Step::Level);
        add(self.dark.is_none(), Step::Dark);
        add(self.even.is_none(), Step::Even);
        missing
    }

    /// Which slits the eye saw on this stand: height over the board and place in the eye, mm each.
    ///
    /// # Errors
    /// What it saw instead.
    pub fn sees(&self, stand: &Stand, constants: &Calibration) -> Result<Vec<(f64, f64)>, NoSlit> {
        let Some(gauge) = &self.gauge else { return Err(NoSlit::NoLight) };
        let seen = gauged::seen(stand, gauge, None, constants)?;
        Ok(seen.iter().map(|(slit, line)| (gauge.heights_mm[*slit], line.middle_mm)).collect())
    }

    /// How much higher the head stands there than on the board, as its stand-off has it, mm; `None`
    /// while it was not read on the board.
    pub fn lifted_mm(&self, stand: &Stand, constants: &Calibration) -> Option<f64> {
        let on_board: Vec<f64> =
            self.stands.iter().filter(|s| !s.lifted).map(|s| s.still.stand_off).collect();
        let home = on_board.iter().sum::<f64>() / on_board.len().max(1) as f64;
        let at = |code: f64| gauged::stand_off_mm(constants, code, None);
        (!on_board.is_empty()).then(|| at(stand.still.stand_off) - at(home))
    }
}
