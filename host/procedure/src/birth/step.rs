//! The steps of the walk, in the order of the first start (`hardware/assembly/6-first-start.md`).

use skimgauge_quantity::{Sentence, say};

/// A step of the walk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Step {
    /// Which parts answer.
    Parts,
    /// At rest as it hangs.
    Rest,
    /// Left side lifted.
    Left,
    /// Top leaned back.
    Back,
    /// Feet on paper.
    Paper,
    /// Something flat under the feet.
    Lift,
    /// Eye covered.
    Dark,
    /// A warm lamp before the eye.
    Light,
    /// A card's edge before it.
    Card,
    /// The button.
    Button,
    /// The lamp.
    Lamp,
    /// The buzzer.
    Buzzer,
}

impl Step {
    /// All of them, in their order.
    pub const ALL: [Self; 12] = [
        Self::Parts,
        Self::Rest,
        Self::Left,
        Self::Back,
        Self::Paper,
        Self::Lift,
        Self::Dark,
        Self::Light,
        Self::Card,
        Self::Button,
        Self::Lamp,
        Self::Buzzer,
    ];

    /// Its name in commands and for programs.
    pub fn key(self) -> &'static str {
        match self {
            Self::Parts => "parts",
            Self::Rest => "rest",
            Self::Left => "left",
            Self::Back => "back",
            Self::Paper => "paper",
            Self::Lift => "lift",
            Self::Dark => "dark",
            Self::Light => "light",
            Self::Card => "card",
            Self::Button => "button",
            Self::Lamp => "lamp",
            Self::Buzzer => "buzzer",
        }
    }

    /// By its name; the parts are always asked, and no such step can be left out.
    pub fn to_leave_out(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|step| step.key() == name && *step != Self::Parts)
    }

    /// The checks that it brings.
    pub fn checks(self) -> &'static [&'static str] {
        match self {
            Self::Parts => &["memory", "converter", "inclinometer", "eye", "supply"],
            Self::Rest => &["tilt at rest"],
            Self::Left => &["level's sign"],
            Self::Back => &["lean's sign"],
            Self::Paper => &["stand-off", "stand-off's noise"],
            Self::Lift => &["stand-off moves"],
            Self::Dark => &["dark"],
            Self::Light => &["light", "pixels"],
            Self::Card => &["which end is up"],
            Self::Button => &["button"],
            Self::Lamp => &["lamp"],
            Self::Buzzer => &["buzzer"],
        }
    }

    /// What it looks at, in a few words.
    pub fn name(self) -> Sentence {
        match self {
            Self::Parts => say!("parts answering"),
            Self::Rest => say!("at rest"),
            Self::Left => say!("left side lifted"),
            Self::Back => say!("top leaned back"),
            Self::Paper => say!("on white paper"),
            Self::Lift => say!("on something flat"),
            Self::Dark => say!("eye covered"),
            Self::Light => say!("before a lamp"),
            Self::Card => say!("a card's edge"),
            Self::Button => say!("button"),
            Self::Lamp => say!("lamp"),
            Self::Buzzer => say!("buzzer"),
        }
    }

    /// What is to be done, or asked.
    pub fn asks(self) -> Sentence {
        match self {
            Self::Parts => say!("Hands off: the parts are asked."),
            Self::Rest => say!(
                "Lean the head upright against a box on a table, as it hangs on a board: eye up, back flat against the box, away from you. Hands off, then go on."
            ),
            Self::Left => {
                say!("Lift its left side by a finger's breadth, and hold it there.")
            }
            Self::Back => {
                say!("Put it down, then lean its top back, away from you, and hold it there.")
            }
            Self::Paper => say!(
                "Lay it on a sheet of white paper, all three feet down. Do not look into its laser. Hands off, then go on."
            ),
            Self::Lift => say!(
                "Put something flat under all three feet: a card, a few sheets of paper. Hands off, then go on."
            ),
            Self::Dark => say!("Cover the eye's slit with something black, then go on."),
            Self::Light => say!(
                "Turn the eye to a warm lamp (halogen or an old bulb; an LED has no infrared), an arm's length or two away. Then go on."
            ),
            Self::Card => say!(
                "Move a card's edge up before the slit, from the side of the board, until half of the slit is covered. Hold it there, then go on."
            ),
            Self::Button => say!("Press the head's button, shortly."),
            Self::Lamp => say!("Does the head's lamp flash fast?"),
            Self::Buzzer => say!("Does the head's buzzer tick?"),
        }
    }

    /// Whether it needs the inclinometer.
    pub(super) fn tilts(self) -> bool {
        matches!(self, Self::Rest | Self::Left | Self::Back)
    }

    /// Whether it needs the converter.
    pub(super) fn stands_off(self) -> bool {
        matches!(self, Self::Paper | Self::Lift)
    }

    /// Whether it needs scans of the pixels.
    pub(super) fn scans(self) -> bool {
        matches!(self, Self::Parts | Self::Dark | Self::Light | Self::Card)
    }

    /// Whether it is a question.
    pub(super) fn is_question(self) -> bool {
        matches!(self, Self::Lamp | Self::Buzzer)
    }
}
