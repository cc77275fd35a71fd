//! The steps, in the trade's order.

use crate::typed::Typed;
use serde::{Serialize, Serializer};

/// A step of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// Where everything goes on the wall.
    SetOut,
    /// Cables and pipes in the wall looked for.
    Services,
    /// What the anchors carry; pulled on trial where that is asked for.
    Fixings,
    /// The bracket level.
    Bracket,
    /// The projector lifted onto it.
    Hanging,
    /// Focus set, digital corrections off.
    Focus,
    /// The image square.
    Square,
    /// What was loosened tightened again.
    Retighten,
    /// The emitter on its adjusters.
    Emitter,
    /// The head's zero checked on its gauge.
    Zero,
    /// The board's own shape: the head reads it by the emitter's light.
    Survey,
    /// The touch plane trimmed into its band.
    Trim,
    /// Touch proved on the display.
    Proof,
    /// Cables led and covers on.
    Covers,
    /// What stands at the end referred to.
    AsLeft,
    /// The job closed.
    Handover,
    /// Signed.
    Signature,
}

/// What closes a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClosedBy {
    /// What the program finds, with this command behind `skimgauge `; `{job}` stands for the job
    /// file, `{name}` for the job's name.
    Command(&'static str),
    /// A person's name and time. Where a command helps before, it is this one.
    Person(Option<&'static str>),
}

struct Row {
    step: Step,
    word: &'static str,
    says: &'static str,
    closed_by: ClosedBy,
    leans_on: &'static [Step],
    first: &'static [&'static str],
}

/// The order is common practice, no source.
const TABLE: [Row; 17] = [
    Row {
        step: Step::SetOut,
        word: "set-out",
        says: "where everything goes on the wall",
        closed_by: ClosedBy::Command("setout --job {job}"),
        leans_on: &[],
        first: &[],
    },
    Row {
        step: Step::Services,
        word: "services",
        says: "cables and pipes in the wall looked for",
        closed_by: ClosedBy::Person(None),
        leans_on: &[],
        first: &[
            "every place to be drilled gone over with a detector that was tried on a known cable first",
            "straight above, below and beside sockets, switches and taps nothing is drilled",
            "circuits near the holes switched off and proved dead by someone who may",
        ],
    },
    Row {
        step: Step::Fixings,
        word: "fixings",
        says: "what the anchors carry, proof loads with it",
        closed_by: ClosedBy::Command("fixings --job {job}"),
        leans_on: &[Step::SetOut, Step::Services],
        first: &[],
    },
    Row {
        step: Step::Bracket,
        word: "bracket",
        says: "the bracket level",
        closed_by: ClosedBy::Command(
            "watch --level --job {job} --thing bracket --target DEG --head PORT",
        ),
        leans_on: &[Step::Fixings],
        first: &[],
    },
    Row {
        step: Step::Hanging,
        word: "hanging",
        says: "the projector lifted onto its bracket",
        closed_by: ClosedBy::Person(None),
        leans_on: &[Step::SetOut, Step::Services, Step::Fixings, Step::Bracket],
        first: &[
            "the maker's instructions at hand; the weight known",
            "two people, each on firm standing, the floor below kept clear",
            "a tether from the projector to the building before it leaves the hands",
            "the support screws in and caught before anyone lets go",
            "what the maker says must be locked is locked, before the next step",
        ],
    },
    Row {
        step: Step::Focus,
        word: "focus",
        says: "focus set, digital corrections off",
        closed_by: ClosedBy::Person(None),
        leans_on: &[Step::Hanging],
        first: &[],
    },
    Row {
        step: Step::Square,
        word: "square",
        says: "the image square",
        closed_by: ClosedBy::Command("square --job {job}"),
        leans_on: &[Step::Focus],
        first: &[],
    },
    Row {
        step: Step::Retighten,
        word: "retighten",
        says: "what was loosened for it tightened again",
        closed_by: ClosedBy::Person(None),
        leans_on: &[Step::Hanging, Step::Square],
        first: &[],
    },
    Row {
        step: Step::Emitter,
        word: "emitter",
        says: "the emitter on its adjusters",
        closed_by: ClosedBy::Person(None),
        leans_on: &[Step::SetOut, Step::Services],
        first: &[
            "the emitter's laser label read: invisible light, do not look into it, no glass or lens held before it",
            "off while it is mounted, and a second person or a tether while it is lifted",
        ],
    },
    Row {
        step: Step::Zero,
        word: "zero",
        says: "the head's zero checked on its gauge",
        closed_by: ClosedBy::Person(Some("zero --check --job {job} --head PORT --light LOW,HIGH")),
        leans_on: &[],
        first: &[],
    },
    Row {
        step: Step::Survey,
        word: "survey",
        says: "the board's own shape",
        closed_by: ClosedBy::Command("survey --job {job} --head PORT --points POINTS.csv"),
        leans_on: &[],
        first: &[],
    },
    Row {
        step: Step::Trim,
        word: "trim",
        says: "the touch plane in its band",
        closed_by: ClosedBy::Command("trim --job {job} --head PORT"),
        leans_on: &[Step::Emitter, Step::Zero],
        first: &[],
    },
    Row {
        step: Step::Proof,
        word: "proof",
        says: "touch proved on the display",
        closed_by: ClosedBy::Command("prove --job {job}"),
        leans_on: &[Step::Square, Step::Trim],
        first: &[],
    },
    Row {
        step: Step::Covers,
        word: "covers",
        says: "cables led, covers on",
        closed_by: ClosedBy::Person(None),
        leans_on: &[Step::Hanging, Step::Retighten],
        first: &[],
    },
    Row {
        step: Step::AsLeft,
        word: "as-left",
        says: "the readings that stand at the end",
        closed_by: ClosedBy::Command("watch --job {job} --head PORT"),
        leans_on: &[Step::Trim],
        first: &[],
    },
    Row {
        step: Step::Handover,
        word: "handover",
        says: "the job closed",
        closed_by: ClosedBy::Command("jobs close {name} --job {job}"),
        leans_on: &[Step::Proof, Step::Covers, Step::AsLeft],
        first: &[],
    },
    Row {
        step: Step::Signature,
        word: "signature",
        says: "signed",
        closed_by: ClosedBy::Command("jobs close {name} --sign KEY"),
        leans_on: &[Step::Handover],
        first: &[],
    },
];

impl Step {
    /// Every step, in the trade's order.
    pub fn all() -> impl Iterator<Item = Self> {
        TABLE.iter().map(|row| row.step)
    }

    fn row(self) -> &'static Row {
        &TABLE[self as usize]
    }

    /// Its word: in commands, in the record, on screens.
    pub fn word(self) -> &'static str {
        self.row().word
    }

    /// The step with this word.
    pub fn from_word(word: &str) -> Option<Self> {
        TABLE.iter().find(|row| row.word == word).map(|row| row.step)
    }

    /// What it is, in a few words.
    pub fn says(self) -> &'static str {
        self.row().says
    }

    /// What closes it.
    pub fn closed_by(self) -> ClosedBy {
        self.row().closed_by
    }

    /// What should stand before it is begun.
    pub fn leans_on(self) -> &'static [Self] {
        self.row().leans_on
    }

    /// Whether another step leans on it.
    pub fn is_leant_on(self) -> bool {
        TABLE.iter().any(|row| row.leans_on.contains(&self))
    }

    /// What is gone through before it, point by point. Common practice, no source; the maker's
    /// instructions and local rules come first.
    pub fn first(self) -> &'static [&'static str] {
        self.row().first
    }

    /// The one command for it, as typed.
    pub fn command(self, job: &Typed<'_>) -> String {
        match self.closed_by() {
            ClosedBy::Command(command) | ClosedBy::Person(Some(command)) => job.filled(command),
            ClosedBy::Person(None) => {
                // Its points stand above the command wherever it is shown.
                let checked = if self.first().is_empty() { "" } else { " --checked" };
                job.filled(&format!("next --job {{job}} --done {}{checked}", self.word()))
            }
        }
    }

    /// What its command leaves to be filled in, each with what it is.
    pub fn blanks(self) -> impl Iterator<Item = (&'static str, &'static str)> {
        let command = match self.closed_by() {
            ClosedBy::Command(command) | ClosedBy::Person(Some(command)) => command,
            ClosedBy::Person(None) => "",
        };
        BLANKS.into_iter().filter(move |(blank, _)| command.split(' ').any(|word| word == *blank))
    }

    /// What belongs to it and closes nothing: a command, as typed.
    pub fn besides(self, job: &Typed<'_>) -> Option<String> {
        (self == Self::Handover).then(|| job.filled("handover --job {name} --out page.html"))
    }
}

/// What stands in capitals in a command, to be filled in by whoever types it.
const BLANKS: [(&str, &str); 5] = [
    ("PORT", "the head's port: `skimgauge ports` names it"),
    ("DEG", "how far off it may be either way, by its maker's sheet, in degrees"),
    ("LOW,HIGH", "the heights on the gauge's label, lower slit first, such as 3.002,9.004"),
    ("POINTS.csv", "a file to write; then name it in the job file, under [survey]"),
    ("KEY", "an OpenSSH key of your own; `ssh-keygen -t ed25519 -f KEY` makes one"),
];

impl Serialize for Step {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.word())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_has_every_step_at_its_place_and_each_word_once() {
        for (place, step) in Step::all().enumerate() {
            assert_eq!(step as usize, place, "{step:?}");
            assert_eq!(Step::from_word(step.word()), Some(step));
        }
        assert_eq!(Step::from_word("plumbing"), None);
    }

    #[test]
    fn a_step_leans_on_earlier_ones_only() {
        for step in Step::all() {
            assert!(step.leans_on().iter().all(|earlier| *earlier < step), "{step:?}");
        }
        assert!(!Step::Survey.is_leant_on() && !Step::Signature.is_leant_on());
        assert!(Step::Bracket.is_leant_on());
    }

    #[test]
    fn a_command_can_be_typed_as_it_stands() {
        let job = Typed { file: "room 4/board.toml", name: "Room 4", record: None };
        assert_eq!(Step::SetOut.command(&job), "skimgauge setout --job \"room 4/board.toml\"");
        let close = "skimgauge jobs close \"Room 4\" --job \"room 4/board.toml\"";
        assert_eq!(Step::Handover.command(&job), close);
        let odd = Typed { file: "{name}.toml", name: "{job}", record: None };
        let close = "skimgauge jobs close \"{job}\" --job \"{name}.toml\"";
        assert_eq!(Step::Handover.command(&odd), close);
        let job = Typed { file: "b.toml", name: "b", record: Some("r.sqlite") };
        assert_eq!(
            Step::Zero.command(&job),
            "skimgauge zero --check --job b.toml --head PORT --light LOW,HIGH --record r.sqlite"
        );
    }

    /// Typed as it is shown it keeps what it says.
    #[test]
    fn a_step_with_points_before_it_is_said_with_them_gone_through() {
        let job = Typed { file: "b.toml", name: "b", record: None };
        for step in Step::all().filter(|step| step.closed_by() == ClosedBy::Person(None)) {
            let command = step.command(&job);
            assert_eq!(command.contains("--checked"), !step.first().is_empty(), "{command}");
        }
        assert!(Step::Services.command(&job).ends_with("--done services --checked"));
    }

    #[test]
    fn what_a_command_leaves_open_is_explained() {
        let job = Typed { file: "b.toml", name: "b", record: None };
        for step in Step::all() {
            let command = step.command(&job);
            let open = command.split(' ').filter(|word| word.starts_with(char::is_uppercase));
            let open: Vec<_> = open.collect();
            let told: Vec<_> = step.blanks().map(|(blank, _)| blank).collect();
            assert!(open.iter().all(|blank| told.contains(blank)), "{command}: {told:?}");
            assert_eq!(open.len(), told.len(), "{command}");
        }
        let page = Step::Handover.besides(&job);
        assert_eq!(page.as_deref(), Some("skimgauge handover --job b --out page.html"));
    }

    /// The head's constants and its light come before it reads the board's shape.
    #[test]
    fn a_survey_comes_once_the_head_and_the_emitter_are_ready() {
        assert!(Step::Emitter < Step::Survey && Step::Zero < Step::Survey);
        assert!(Step::Survey < Step::Trim);
    }
}
