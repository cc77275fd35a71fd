//! What a board may be like before anybody has looked: how far it may stray from bow and twist, and
//! how soon.
//!
//! A board strays in two ways. Over its whole size it bows and twists; over a few hand widths it
//! follows what is behind it: a stud that stands proud, a bead of adhesive, a joint. The second is
//! [`Local`]: at any one place it has a standard deviation, and two places share it the more the
//! nearer they are. A sheet of steel or glass on a frame does not bend within a hand's width, so
//! heights 50 mm apart are nearly the same; what a stud does at one place says nothing 700 mm
//! further. Between straight edges its middle may bulge or sink, which no reading at an edge shows.
//! Besides, a board may stand proud or sunk at a few places by much more than it strays
//! elsewhere, at its edges above all, where it is held: [`Lifts`]. Sizes: common practice, no
//! source.

use super::unseen::LookedOver;
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
    /// What an edge of the image strays by besides, over a metre or so, standard deviation, mm.
    pub edge_mm: f64,
    /// What its middle stands out or back by where its edges are straight, as a sheet held in a frame
    /// does, standard deviation, mm.
    #[serde(default = "unknown_bulge_mm")]
    pub bulge_mm: f64,
    /// Single lifts.
    pub lifts: Lifts,
    /// Bow across, bow down and twist where a survey is to find them, standard deviations, mm:
    /// well beyond what is usual, so that the survey alone decides.
    pub form_mm: [f64; 3],
    /// Whether anybody looked for what single readings miss, and what was found.
    #[serde(default)]
    pub looked_over: LookedOver,
}

impl From<BoardPrior> for Expected {
    fn from(prior: BoardPrior) -> Self {
        Self {
            local: prior.local(),
            edge_mm: prior.edge_mm(),
            bulge_mm: prior.bulge_mm(),
            lifts: prior.lifts(),
            form_mm: prior.form_mm(),
            looked_over: LookedOver::NotYet,
        }
    }
}

impl Default for Expected {
    fn default() -> Self {
        BoardPrior::default().into()
    }
}

impl Expected {
    /// The same with a local form of this standard deviation at any one place, mm, and what the
    /// edges and the middle stray by in the same proportion.
    pub fn with_local(self, amplitude_mm: f64) -> Self {
        let times = amplitude_mm / self.local.amplitude_mm;
        let (edge_mm, bulge_mm) = (self.edge_mm * times, self.bulge_mm * times);
        Self { local: self.local.with_amplitude(amplitude_mm), edge_mm, bulge_mm, ..self }
    }

    /// The same once somebody went over the board and found this.
    pub fn looked_over(self, looked_over: LookedOver) -> Self {
        Self { looked_over, ..self }
    }

    /// The same with so many lifts expected, none higher or deeper than this, mm.
    pub fn with_lifts(self, expected: f64, most_mm: f64) -> Self {
        Self { lifts: Lifts { expected, most_mm, ..self.lifts }, ..self }
    }
}

/// What a record that is older than the bulge means.
fn unknown_bulge_mm() -> f64 {
    BoardPrior::Unknown.bulge_mm()
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

    fn edge_mm(self) -> f64 {
        match self {
            Self::Unknown | Self::StudWall => 0.45,
            Self::Solid => 0.05,
        }
    }

    fn bulge_mm(self) -> f64 {
        match self {
            Self::Unknown | Self::StudWall => 0.6,
            Self::Solid => 0.3,
        }
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

/// What the readings round a place tell of a lift of one width there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Lifted {
    /// How well: the sum of what each reading would see of it, squared, over its variance, 1/mm^2.
    pub(crate) told: f64,
    /// How high they have it, mm.
    pub(crate) height_mm: f64,
    /// How much of it the board as known does not show at its highest place already.
    pub(crate) hidden: f64,
}

impl Default for Lifted {
    fn default() -> Self {
        Self { told: 0.0, height_mm: 0.0, hidden: 1.0 }
    }
}

/// What the readings round a place tell of a lift there, for each width.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Told(pub(crate) [Lifted; 3]);

/// What a lift of this width shows at so many mm from where it is highest.
pub(crate) fn falls(apart_mm: f64, width_mm: f64) -> f64 {
    (-(apart_mm / width_mm).powi(2) / 2.0).exp()
}

impl Told {
    /// A reading of standard uncertainty `u_mm` so far away (mm) that shows nothing.
    pub(crate) fn read(&mut self, apart_mm: f64, u_mm: f64) {
        /// What else a reading shows of a smooth board, mm.
        const BESIDES_MM: f64 = 0.08;
        let variance = u_mm * u_mm + BESIDES_MM * BESIDES_MM;
        for (lifted, width_mm) in self.0.iter_mut().zip(LIFT_WIDTHS_MM) {
            let before = lifted.told;
            lifted.told += falls(apart_mm, width_mm).powi(2) / variance;
            if lifted.told > 0.0 {
                lifted.height_mm *= before / lifted.told;
            }
        }
    }

    /// Whether this tells more than `before`, by more than a share of it.
    pub(crate) fn is_more_than(&self, before: &Self, share: f64) -> bool {
        let mut pairs = self.0.iter().zip(&before.0);
        pairs.any(|(now, then)| now.told > (1.0 + share) * then.told)
    }
}

/// Odds are no larger than this: beyond it a lift is certain.
const MOST_ODDS: f64 = 1e9;
/// ... nor is the logarithm of what they come from.
const MOST_LOG: f64 = 600.0;

impl Lifted {
    /// The share of all lifts, each height as likely, that has this one higher than `from_mm` (lower,
    /// where `up` is false), times how much likelier the readings are with such a lift than without
    /// any.
    fn odds(&self, most_mm: f64, from_mm: f64, up: bool) -> f64 {
        /// So many standard deviations off is nowhere.
        const NOWHERE: f64 = 8.0;
        if from_mm >= most_mm {
            return 0.0;
        }
        let from_mm = from_mm.max(-most_mm);
        let sd = if self.told > 0.0 { self.told.sqrt().recip() } else { f64::INFINITY };
        if sd > 10.0 * most_mm {
            return (most_mm - from_mm) / (2.0 * most_mm);
        }
        // One higher than any is as high as they get.
        let height_mm = if up { self.height_mm } else { -self.height_mm };
        let height_mm = height_mm.clamp(-most_mm, most_mm);
        let beyond = (from_mm - height_mm) / sd;
        if beyond > NOWHERE {
            return 0.0;
        }
        let Ok(normal) = Normal::new(0.0, 1.0) else { return 1.0 };
        let share = normal.sf(beyond) - normal.sf((most_mm - height_mm) / sd);
        let likelier = (height_mm * height_mm * self.told / 2.0).min(MOST_LOG).exp();
        let width = sd * std::f64::consts::TAU.sqrt() / (2.0 * most_mm);
        (share.max(0.0) * width * likelier).min(MOST_ODDS)
    }
}

impl Lifts {
    /// How much likelier the readings are with a lift at a place than without any: one where they
    /// tell nothing.
    pub(crate) fn odds(&self, told: &Told) -> f64 {
        let all = told.0.iter().map(|lifted| lifted.odds(self.most_mm, -self.most_mm, true));
        all.sum::<f64>() / told.0.len() as f64
    }

    /// The same with a lift that takes the gap out of its band: `low_mm` is how far the gap is inside
    /// on the low side, `high_mm` on the high one, `u_mm` how well that is known. What nothing tells
    /// of is as likely as it is expected.
    pub(crate) fn chance(&self, told: &Told, low_mm: f64, high_mm: f64, u_mm: f64) -> f64 {
        let most = self.most_mm;
        if low_mm.min(high_mm) - u_mm >= most {
            return 0.0;
        }
        let sum: f64 = told
            .0
            .iter()
            .map(|lifted| {
                let hidden = lifted.hidden.max(0.05);
                // The gap's own uncertainty by its two points of equal weight.
                let sides = [-u_mm, u_mm].map(|u| {
                    lifted.odds(most, (low_mm + u) / hidden, true)
                        + lifted.odds(most, (high_mm - u) / hidden, false)
                });
                sides.iter().sum::<f64>() / 2.0
            })
            .sum();
        sum / told.0.len() as f64
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
        assert!(lifts.odds(&told) < 0.5, "what is not seen is less likely to be there");
    }

    /// Two readings beside a narrow lift show 0.4 of it each; by hand: falls at 110 mm of one 90 mm
    /// wide is 0.474, so that it is some 0.84 mm high, more than the 0.5 that are left.
    #[test]
    fn a_lift_that_shows_beside_its_middle_is_reckoned_with() {
        let lifts = BoardPrior::Unknown.lifts();
        let mut told = Told::default();
        told.read(110.0, 0.05);
        told.read(110.0, 0.05);
        let nothing = lifts.chance(&told, 0.5, 5.0, 0.05);
        for (lifted, width_mm) in told.0.iter_mut().zip(LIFT_WIDTHS_MM) {
            lifted.height_mm = 0.4 / falls(110.0, width_mm);
        }
        assert!((told.0[0].height_mm - 0.844).abs() < 1e-3);
        let shown = lifts.chance(&told, 0.5, 5.0, 0.05) / lifts.odds(&told);
        assert!(shown > 0.3 && shown > 100.0 * nothing, "{shown} {nothing}");
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
