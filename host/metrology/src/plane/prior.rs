//! What a board may be like before anybody has looked: how far it may stray from bow and twist, and
//! how soon.
//!
//! A board strays in two ways. Over its whole size it bows and twists; over a few hand widths it
//! follows what is behind it: a stud that stands proud, a bead of adhesive, a joint. The second is
//! [`Local`]: at any one place it has a standard deviation, and two places share it the more the
//! nearer they are. A sheet of steel or glass on a frame does not bend within a hand's width, so
//! heights 50 mm apart are nearly the same; what a stud does at one place says nothing 700 mm
//! further. Besides, a board may stand proud or sunk at a few places by much more than it strays
//! elsewhere, at its edges above all, where it is held: [`Lifts`]. Sizes: common practice, no
//! source.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// What is stated of a board and its wall before any survey.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BoardPrior {
    /// Nobody knows.
    #[default]
    Unknown,
    /// A thin board screwed or glued to a stud wall: studs and joints press through.
    StudWall,
    /// A solid board on a sound wall, or a screen with its own frame: hardly any local form.
    Solid,
}

/// Form over a few hand widths: a smooth random surface.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Local {
    /// Standard deviation at any one place, mm.
    pub amplitude_mm: f64,
    /// How far it reaches, mm: places so far apart share half of it.
    pub reach_mm: f64,
}

/// Single places where a board stands proud or sunk: over a stud, a bracket, a bead of adhesive.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Lifts {
    /// How many a board is expected to have.
    pub expected: f64,
    /// None is higher or deeper than this, mm; every height up to it is as likely.
    pub most_mm: f64,
    /// Share of them that is highest at an edge of the image.
    pub at_edge: f64,
}

/// What is to be reckoned with on a board: as its kind has it ([`From`] a [`BoardPrior`]), or as
/// somebody states it who knows better.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Expected {
    /// Form over a few hand widths.
    pub local: Local,
    /// Single lifts.
    pub lifts: Lifts,
    /// Bow across, bow down and twist where a survey is to find them, standard deviations, mm:
    /// well beyond what is usual, so that the survey alone decides.
    pub form_mm: [f64; 3],
}

impl From<BoardPrior> for Expected {
    fn from(prior: BoardPrior) -> Self {
        Self { local: prior.local(), lifts: prior.lifts(), form_mm: prior.form_mm() }
    }
}

impl Default for Expected {
    fn default() -> Self {
        BoardPrior::default().into()
    }
}

impl Expected {
    /// The same with a local form of this standard deviation at any one place, mm.
    pub fn with_local(self, amplitude_mm: f64) -> Self {
        Self { local: self.local.with_amplitude(amplitude_mm), ..self }
    }

    /// The same with so many lifts expected, none higher or deeper than this, mm.
    pub fn with_lifts(self, expected: f64, most_mm: f64) -> Self {
        Self { lifts: Lifts { expected, most_mm, ..self.lifts }, ..self }
    }
}

/// How wide lifts are: distances at which they have fallen to six tenths, mm; each as likely.
pub(crate) const LIFT_WIDTHS_MM: [f64; 3] = [90.0, 150.0, 210.0];

impl BoardPrior {
    /// The words of the job file and the screen.
    pub fn words(self) -> &'static str {
        match self {
            Self::Unknown => "unknown",
            Self::StudWall => "on a stud wall",
            Self::Solid => "solid",
        }
    }

    /// The local form to be reckoned with.
    pub fn local(self) -> Local {
        let amplitude_mm = match self {
            Self::Unknown => 0.25,
            Self::StudWall => 0.35,
            Self::Solid => 0.05,
        };
        Local { amplitude_mm, reach_mm: 250.0 }
    }

    /// The lifts to be reckoned with.
    pub fn lifts(self) -> Lifts {
        let expected = match self {
            Self::Unknown => 3.0,
            Self::StudWall => 6.0,
            Self::Solid => 0.05,
        };
        Lifts { expected, most_mm: 1.2, at_edge: 0.7 }
    }

    fn form_mm(self) -> [f64; 3] {
        match self {
            Self::Unknown | Self::StudWall => [1.0, 1.0, 0.6],
            Self::Solid => [0.5, 0.5, 0.3],
        }
    }
}

impl Local {
    /// Share of the local form that two places so far apart (mm) have in common, 1 to 0: Matérn's
    /// covariance of order 3/2, of a surface that has a slope everywhere and may kink (M. L. Stein,
    /// "Interpolation of spatial data", 1999; from memory).
    pub fn share(&self, apart_mm: f64) -> f64 {
        // At this many times its own length the covariance is one half.
        const HALF: f64 = 1.678_346_990_016_661;
        let r = HALF * apart_mm / self.reach_mm;
        (1.0 + r) * (-r).exp()
    }

    /// The same form with another amplitude, mm.
    pub(crate) fn with_amplitude(self, amplitude_mm: f64) -> Self {
        Self { amplitude_mm, ..self }
    }
}

/// How well the readings round a place tell of a lift there: for each width, the sum of what each
/// reading would see of it, squared, over its variance, 1/mm^2. Every further reading adds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Told([f64; 3]);

impl Told {
    /// A reading of standard uncertainty `u_mm` so far away (mm).
    pub(crate) fn read(&mut self, apart_mm: f64, u_mm: f64) {
        /// What else a reading shows of a smooth board, mm.
        const BESIDES_MM: f64 = 0.08;
        let variance = u_mm * u_mm + BESIDES_MM * BESIDES_MM;
        for (told, width_mm) in self.0.iter_mut().zip(LIFT_WIDTHS_MM) {
            let falls = (-(apart_mm / width_mm).powi(2) / 2.0).exp();
            *told += falls * falls / variance;
        }
    }

    /// Whether this tells more than `before`, by more than a share of it.
    pub(crate) fn is_more_than(&self, before: &Self, share: f64) -> bool {
        self.0.iter().zip(&before.0).any(|(now, then)| *now > (1.0 + share) * then)
    }
}

impl Lifts {
    /// The chance that a lift at a place, of which the readings show nothing, takes the gap out of
    /// its band: `low_mm` is how far the gap is inside on the low side, `high_mm` on the high one,
    /// `u_mm` how well that is known.
    pub(crate) fn chance(&self, told: &Told, low_mm: f64, high_mm: f64, u_mm: f64) -> f64 {
        /// So many standard deviations off is nowhere.
        const NOWHERE: f64 = 8.0;
        let most = self.most_mm;
        let least_room = low_mm.min(high_mm) - u_mm;
        if least_room >= most {
            return 0.0;
        }
        let Ok(normal) = Normal::new(0.0, 1.0) else { return 1.0 };
        let beyond = |sd: f64, room_mm: f64| {
            let room = room_mm.clamp(-most, most);
            if sd > 10.0 * most {
                return (most - room) / (2.0 * most);
            }
            if room >= most || room > NOWHERE * sd {
                return 0.0;
            }
            let (end, at) = (normal.cdf(most / sd), normal.cdf(room / sd));
            (end - at) / (2.0 * end - 1.0)
        };
        let sum: f64 = told
            .0
            .iter()
            .map(|told| {
                let sd = if *told > 0.0 { told.powf(-0.5) } else { f64::INFINITY };
                // The gap's own uncertainty by its two points of equal weight.
                [-u_mm, u_mm]
                    .iter()
                    .map(|u| beyond(sd, low_mm + u) + beyond(sd, high_mm - u))
                    .sum::<f64>()
                    / 2.0
            })
            .sum();
        (sum / told.0.len() as f64).min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lift_that_nothing_tells_of_may_have_any_height_and_readings_make_it_small() {
        let lifts = BoardPrior::Unknown.lifts();
        let mut told = Told::default();
        assert!((lifts.chance(&told, 0.6, 5.0, 0.0) - 0.25).abs() < 1e-12);
        assert!((lifts.chance(&told, 0.6, 0.6, 0.0) - 0.5).abs() < 1e-12);
        assert_eq!(lifts.chance(&told, 1.2, 1.3, 0.0), 0.0);
        let mut last = 1.0;
        for _ in 0..4 {
            told.read(150.0, 0.05);
            let chance = lifts.chance(&told, 0.4, 0.9, 0.05);
            assert!(chance < last);
            last = chance;
        }
        told.read(0.0, 0.05);
        assert!(lifts.chance(&told, 0.4, 0.9, 0.05) < 1e-3);
    }

    #[test]
    fn half_is_shared_at_the_reach_and_nothing_far_away() {
        let local = BoardPrior::Unknown.local();
        assert_eq!(local.share(0.0), 1.0);
        assert!((local.share(local.reach_mm) - 0.5).abs() < 1e-12);
        assert!(local.share(4.0 * local.reach_mm) < 0.01);
        assert!(local.share(50.0) > 0.95);
    }
}
