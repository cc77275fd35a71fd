//! `[board]`: what a board is to be reckoned with before anybody has looked at it.

use serde::{Deserialize, Serialize};
use skimgauge_metrology::plane::prior::{BoardPrior, Expected};
use skimgauge_metrology::plane::unseen::LookedOver;
use skimgauge_quantity::Mm;

use super::{Spec, spare_key};
use crate::table::{Table, Within};

/// The `[board]` section.
pub static SPEC: Spec = Spec {
    name: "board",
    many: false,
    set: true,
    about: "What the board may do where nobody reads it. What is left out is as `kind` has it.",
    keys: &[
        spare_key("kind", "\"unknown\"", "or \"on a stud wall\", or \"solid\""),
        spare_key("local", "\"0.25 mm\"", "how far it strays over a few hand widths"),
        spare_key("lifts", "3", "how many places may stand proud or sunk"),
        spare_key("lift", "\"1.2 mm\"", "by how much at the most"),
        spare_key(
            "looked_over",
            "\"not yet\"",
            "with a straightedge: or \"nothing\", \"found\", or \"surveyed\"",
        ),
    ],
    inside: &[],
    samples: &[],
};

const KINDS: [(&str, BoardPrior); 5] = [
    ("unknown", BoardPrior::Unknown),
    ("on a stud wall", BoardPrior::StudWall),
    ("stud-wall", BoardPrior::StudWall),
    ("stud wall", BoardPrior::StudWall),
    ("solid", BoardPrior::Solid),
];

const LOOKED_OVER: [(&str, LookedOver); 5] = [
    ("not yet", LookedOver::NotYet),
    ("not-yet", LookedOver::NotYet),
    ("nothing", LookedOver::Nothing),
    ("found", LookedOver::Found),
    ("surveyed", LookedOver::Surveyed),
];

/// What is said of a board before any survey.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct BoardSaid {
    /// What it is.
    pub kind: BoardPrior,
    /// How far it strays over a few hand widths, standard deviation, if it is said.
    #[serde(rename = "local_mm")]
    pub local: Option<Mm>,
    /// How many places may stand proud or sunk, if it is said.
    pub lifts: Option<f64>,
    /// By how much at the most, if it is said.
    #[serde(rename = "lift_mm")]
    pub lift: Option<Mm>,
    /// What was found by whoever ran a straightedge over it.
    #[serde(default)]
    pub looked_over: LookedOver,
}

impl BoardSaid {
    /// What is to be reckoned with.
    pub fn expected(&self) -> Expected {
        let mut expected = Expected::from(self.kind);
        if let Some(local) = self.local {
            expected = expected.with_local(local.0);
        }
        let usual = expected.lifts;
        let most = self.lift.map_or(usual.most_mm, |lift| lift.0);
        let expected = expected.with_lifts(self.lifts.unwrap_or(usual.expected), most);
        expected.looked_over(self.looked_over)
    }
}

pub(crate) fn read(table: &Table<'_>) -> Option<BoardSaid> {
    let kind = table.choice_if("kind", &KINDS);
    let local = table.quantity_if("local", Within::mm(0.01, 3.0));
    let lifts = table.ratio_if("lifts", Within(0.0, 50.0));
    let lift = table.quantity_if("lift", Within::mm(0.05, 10.0));
    let looked_over = table.choice_if("looked_over", &LOOKED_OVER).unwrap_or_default();
    Some(BoardSaid { kind: kind.unwrap_or_default(), local, lifts, lift, looked_over })
}

#[cfg(test)]
mod tests {
    use crate::Job;
    use skimgauge_metrology::plane::prior::{BoardPrior, Expected};
    use skimgauge_metrology::plane::unseen::LookedOver;

    #[test]
    fn amplitudes_that_are_said_take_the_place_of_those_of_the_kind() {
        let said = |more: &str| {
            let text = format!("{}\n{more}", crate::demo_job());
            Job::parse("demo.toml", &text).unwrap().board.expected()
        };
        assert_eq!(said(""), Expected::from(BoardPrior::Unknown));
        assert_eq!(said("[board]\nkind = \"solid\""), Expected::from(BoardPrior::Solid));
        let wall = said("[board]\nkind = \"on a stud wall\"\nlocal = \"0.1 mm\"\nlifts = 0");
        assert_eq!((wall.local.amplitude_mm, wall.lifts.expected), (0.1, 0.0));
        assert_eq!(wall.lifts.most_mm, BoardPrior::StudWall.lifts().most_mm);
        let looked = said("[board]\nlooked_over = \"nothing\"");
        assert_eq!(looked.looked_over, LookedOver::Nothing);
        let text = format!("{}\n[board]\nkind = \"brick\"", crate::demo_job());
        let refused = Job::parse("demo.toml", &text).unwrap_err().to_string();
        assert!(refused.contains("on a stud wall"), "{refused}");
    }
}
