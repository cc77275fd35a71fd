//! What the head says now.

use serde::Serialize;
use skimgauge_metrology::measure::{self, Bearing, EyeView, Fault, Shown, State};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Celsius, Deg, Mm, Name, Sentence, say};
use skimgauge_session::HeadIs;

/// A measured quantity as it may be shown. What is doubtful or absent cannot be had as a good one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum Reading<T> {
    /// Measured, and nothing speaks against it.
    Good {
        /// The quantity.
        value: T,
        /// Its standard uncertainty.
        u: T,
    },
    /// Measured, and not to be believed.
    Doubtful {
        /// The quantity; show it only together with why.
        value: T,
        /// What speaks against it.
        why: Fault,
    },
    /// Not measured.
    Absent {
        /// Why not.
        why: Fault,
    },
}

impl<T: Copy> Reading<T> {
    /// From a bare number as the sums know it.
    pub fn of(shown: Shown, unit: impl Fn(f64) -> T) -> Self {
        match shown {
            Shown::Good { value, u } => Self::Good { value: unit(value), u: unit(u) },
            Shown::Doubtful { value, why } => Self::Doubtful { value: unit(value), why },
            Shown::Absent { why } => Self::Absent { why },
        }
    }

    /// The quantity, if it is good.
    pub fn good(self) -> Option<T> {
        match self {
            Self::Good { value, .. } => Some(value),
            Self::Doubtful { .. } | Self::Absent { .. } => None,
        }
    }

    /// What speaks against it, if anything does.
    pub fn why(self) -> Option<Fault> {
        match self {
            Self::Good { .. } => None,
            Self::Doubtful { why, .. } | Self::Absent { why } => Some(why),
        }
    }
}

/// What the head says now.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Live {
    /// Gap.
    pub gap: Reading<Mm>,
    /// Against its band: only a good gap has a verdict.
    pub verdict: Option<Verdict>,
    /// Level.
    pub level: Reading<Deg>,
    /// Lean.
    pub lean: Reading<Deg>,
    /// What it does.
    pub state: State,
    /// The same in words.
    pub says: Sentence,
    /// Whether a take could be made now.
    pub can_take: bool,
    /// Whether level and lean have been at rest for half a second.
    pub rests: bool,
    /// What the eye sees; `None` while it says nothing.
    pub eye: Option<EyeView>,
    /// Stand-off of the last reading.
    pub stand_off: Option<Mm>,
    /// Temperature of the head.
    pub temperature: Option<Celsius>,
    /// Supply of the head, V.
    pub supply_v: Option<f64>,
}

/// The gap that the live one should come to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Aim {
    /// That gap.
    pub to: Mm,
    /// To within this.
    pub within: Mm,
    /// From the live gap to it, signed; `None` without a good gap.
    pub to_go: Option<Mm>,
    /// It is there.
    pub there: bool,
}

/// The link to the head.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
pub enum LinkView {
    /// Opened, nobody has answered yet.
    Greeting,
    /// The head is there.
    Up {
        /// Its serial number, if it knows it.
        head: Option<String>,
    },
    /// The link is lost and is being looked for.
    Lost {
        /// What is wrong, and what to do.
        trouble: Sentence,
    },
}

impl LinkView {
    pub(crate) fn up(head: &HeadIs) -> Self {
        Self::Up { head: head.hello.serial.map(|serial| serial.to_string()) }
    }
}

/// A fault with its words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FaultView {
    /// Which.
    pub fault: Fault,
    /// What it does to the numbers.
    pub bearing: Bearing,
    /// Its name.
    pub name: &'static str,
    /// What it means.
    pub says: Sentence,
    /// What to do.
    pub remedy: Sentence,
}

impl FaultView {
    /// A fault of a head that is so, with what else the head says of it.
    pub fn of(fault: Fault, live: &measure::Live) -> Self {
        let view = Self::from(fault);
        let says = match (fault, &live.tilt_trouble, live.bad_pixel) {
            (Fault::InclinometerSelfTest, Some(trouble), _) => {
                say!("{} It names: {}.", view.says, Name(trouble))
            }
            (Fault::DeadPixels, _, Some(pixel)) => {
                say!("{} It is number {} from the board.", view.says, u32::from(pixel) + 1)
            }
            _ => return view,
        };
        Self { says, ..view }
    }
}

impl From<Fault> for FaultView {
    fn from(fault: Fault) -> Self {
        Self {
            fault,
            bearing: fault.bearing(),
            name: fault.name(),
            says: fault.sentence().into(),
            remedy: fault.remedy().into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_metrology::measure::{Limits, Observer};
    use skimgauge_quantity::Style;
    use skimgauge_shared::calibration::Date;

    #[test]
    fn a_fault_says_what_the_head_says_of_it() {
        let observer = Observer::new(Limits::default(), Date { year: 2026, month: 6, day: 1 });
        let mut live = observer.live(0.0);
        live.tilt_trouble = Some("supply".to_owned());
        live.bad_pixel = Some(116);
        let says = |fault| FaultView::of(fault, &live).says.text(Style::default());
        assert!(says(Fault::InclinometerSelfTest).ends_with("It names: supply."));
        assert!(says(Fault::DeadPixels).ends_with("It is number 117 from the board."));
        assert_eq!(says(Fault::NoLight), Fault::NoLight.sentence());
    }
}
