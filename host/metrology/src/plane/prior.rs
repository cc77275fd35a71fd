//! What a board may be like before anybody has looked: how far it may stray from bow and twist, and
//! how soon.
//!
//! A board strays in two ways. Over its whole size it bows and twists; over a few hand widths it
//! follows what is behind it: a stud that stands proud, a bead of adhesive, a joint. The second is
//! [`Local`]: at any one place it has a standard deviation, and two places share it the more the
//! nearer they are. A sheet of steel or glass on a frame does not bend within a hand's width, so
//! heights 50 mm apart are nearly the same; what a stud does at one place says nothing 700 mm
//! further. Sizes: common practice, no source.

use serde::{Deserialize, Serialize};

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

    /// Bow across, bow down and twist to be reckoned with where a survey is to find them, standard
    /// deviations, mm: well beyond what is usual, so that the survey alone decides.
    pub(crate) fn form_mm(self) -> [f64; 3] {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_is_shared_at_the_reach_and_nothing_far_away() {
        let local = BoardPrior::Unknown.local();
        assert_eq!(local.share(0.0), 1.0);
        assert!((local.share(local.reach_mm) - 0.5).abs() < 1e-12);
        assert!(local.share(4.0 * local.reach_mm) < 0.01);
        assert!(local.share(50.0) > 0.95);
    }
}
