//! What was looked at, one by one, each with its verdict and what would settle it.

use super::Sums;
use super::counted::contacts;
use crate::limits::Tool;
use crate::marks::{CORNERS, MARKS, ROUNDS};
use crate::plan::Ask;
use crate::raw::Gap;
use serde::Serialize;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Mm, Name, Sentence, say};

/// What was looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Whether pixels are places.
    Window,
    /// How far touch stands off.
    Map,
    /// Whether everything stayed where it was.
    Still,
    /// Touches not seen.
    Misses,
    /// Contacts nobody made.
    Ghosts,
    /// Contacts held still.
    Jitter,
    /// Lines.
    Lines,
    /// Quick dashes.
    Dashes,
    /// The leaf beside the head.
    Leaf,
    /// What touches.
    Pointer,
    /// Whether all was done.
    Whole,
    /// How the gap stands.
    Gap,
}

/// One part of the verdict.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Part {
    /// What.
    pub what: What,
    /// Its verdict.
    pub verdict: Verdict,
    /// In words.
    pub says: Sentence,
    /// What would settle it, where it is too close to call.
    pub settle: Option<Sentence>,
}

pub(super) fn part(what: What, verdict: Verdict, says: Sentence, settle: Option<Sentence>) -> Part {
    Part { what, verdict, says, settle: settle.filter(|_| verdict == Verdict::Unsure) }
}

impl Sums<'_> {
    pub(super) fn parts(&self) -> Vec<Part> {
        let mut parts = vec![self.window_part()];
        parts.extend(self.still_part());
        parts.push(self.map_part());
        parts.extend([
            self.misses_part(),
            self.ghosts_part(),
            self.jitter_part(),
            self.lines_part(),
        ]);
        parts.extend(self.dashes_part());
        parts.extend(self.leaf_part());
        parts.extend([self.pointer_part(), self.whole_part(), self.gap_part()]);
        parts
    }

    fn window_part(&self) -> Part {
        let settle = say!("mend that, then prove again");
        match &self.doubt {
            None => part(What::Window, Verdict::Within, say!("the page fills the screen"), None),
            Some(why) => part(
                What::Window,
                Verdict::Unsure,
                say!("places on the screen are not places on the board: {why}"),
                Some(settle),
            ),
        }
    }

    pub(super) fn map_part(&self) -> Part {
        let Some(worst) = self.worst_place() else {
            let says = say!("too few marks were tapped to say how far touch stands off");
            return part(What::Map, Verdict::Unsure, says, Some(say!("tap the marks")));
        };
        let said = say!(
            "touch stands {} off at {}, {} are allowed by {}",
            worst.off.gap().give_or_take(worst.expanded.uncertainty()),
            worst.name,
            self.limit.limit(),
            self.proof.tool.word()
        );
        let verdict = Verdict::of_all(self.places.iter().map(|place| place.verdict));
        // What moved meanwhile is judged where it does no longer.
        let moved = self.map.as_ref().is_some_and(|map| map.moved.is_some());
        let verdict = if self.doubt.is_some() || moved { Verdict::Unsure } else { verdict };
        part(What::Map, verdict, said, Some(self.map_settles()))
    }

    /// The place that decides: of those with the gravest verdict the one nearest beyond.
    pub(super) fn worst_place(&self) -> Option<&super::Place> {
        let grave = |verdict: Verdict| match verdict {
            Verdict::Outside => 2,
            Verdict::Unsure => 1,
            Verdict::Within => 0,
        };
        self.places.iter().max_by(|a, b| {
            grave(a.verdict)
                .cmp(&grave(b.verdict))
                .then((a.off + a.expanded).total_cmp(&(b.off + b.expanded)))
        })
    }

    fn map_settles(&self) -> Sentence {
        let aim = self.proof.limits.of(self.proof.tool).aim;
        let taps = self.worst_place().map_or(Mm::ZERO, |place| place.u_taps);
        match self.proof.tool {
            Tool::Finger if aim > taps => say!(
                "prove with the rod (--tool rod): by finger the aim alone leaves {} uncertain",
                (aim * 1.96).uncertainty()
            ),
            _ => say!("tap another three rounds"),
        }
    }

    fn still_part(&self) -> Option<Part> {
        let moved = self.map.as_ref()?.moved?;
        let [from, to] = moved.between.map(|round| u32::from(round) + 1);
        let says = say!(
            "between rounds {from} and {to} touch moved by {}: something is loose, or was moved",
            moved.right.hypot(moved.up).gap()
        );
        Some(part(What::Still, Verdict::Unsure, says, Some(say!("fasten it, then prove again"))))
    }

    fn leaf_part(&self) -> Option<Part> {
        let leaf = self.leaf.as_ref()?;
        let names = || {
            let mut names = Sentence::new();
            for (at, station) in leaf.contradicted.iter().enumerate() {
                names.push(&say!("{}{}", if at == 0 { "" } else { ", " }, Name(station)));
            }
            names
        };
        Some(match leaf.agrees {
            Verdict::Within => part(
                What::Leaf,
                Verdict::Within,
                say!(
                    "the leaf agrees with the head; an error that all stations share it cannot see"
                ),
                None,
            ),
            Verdict::Outside => part(
                What::Leaf,
                Verdict::Unsure,
                say!("the leaf contradicts the head at {}", names()),
                Some(say!("lay the leaf there again, and take the gap there again")),
            ),
            Verdict::Unsure => part(
                What::Leaf,
                Verdict::Unsure,
                say!("the leaf lay at too few stations to check the head"),
                Some(say!("lay it at two stations at least where the head took a gap")),
            ),
        })
    }

    fn pointer_part(&self) -> Part {
        let (mouse, pen) = (self.all.mouse, self.all.pen);
        if mouse + pen == 0 {
            return part(What::Pointer, Verdict::Within, say!("every contact came as touch"), None);
        }
        let (kind, count) = if mouse >= pen { ("mouse", mouse) } else { ("pen", pen) };
        let says = say!(
            "{} {} came as a {kind}: not told apart from one at the computer, and one contact at a time",
            count,
            contacts(count)
        );
        let settle =
            say!("put a mouse aside; else install what the display's maker gives for touch");
        part(What::Pointer, Verdict::Unsure, says, Some(settle))
    }

    /// Every mark that is reached in every round, all lines and holds.
    fn whole_part(&self) -> Part {
        let reached = MARKS - self.left_out();
        let mut lacks = Vec::new();
        let tapped = (0..ROUNDS as u8).map(|round| {
            let in_round = |mark: &u8| {
                self.taps.iter().any(|tap| tap.mark == *mark && tap.round == round)
                    || self.strays.contains(mark)
            };
            (0..MARKS as u8).filter(in_round).count()
        });
        if tapped.into_iter().any(|tapped| tapped < reached) {
            lacks.push("taps");
        }
        let wanted = crate::plan::core(&self.proof.left_out);
        let lines = |of: &[Ask]| of.iter().filter(|ask| matches!(ask, Ask::Stroke { .. })).count();
        if self.strokes.len() < lines(&wanted) {
            lacks.push("lines");
        }
        let holds = wanted.iter().filter(|ask| matches!(ask, Ask::Hold { .. })).count();
        if self.holds.len() < holds {
            lacks.push("holds");
        }
        if self.quiet.hands_off_s < 59.9 {
            lacks.push("the minute hands off");
        }
        if self.left_out() > CORNERS.len() {
            lacks.push("marks that were left out");
        }
        if lacks.is_empty() {
            return part(What::Whole, Verdict::Within, say!("everything asked was done"), None);
        }
        let mut says = say!("not everything was done: it lacks ");
        for (at, lack) in lacks.iter().enumerate() {
            says.push(&say!("{}{}", if at == 0 { "" } else { ", " }, *lack));
        }
        part(What::Whole, Verdict::Unsure, says, Some(say!("do the rest")))
    }

    pub(super) fn left_out(&self) -> usize {
        let mut out = self.proof.left_out.clone();
        out.sort_unstable();
        out.dedup();
        out.len()
    }

    fn gap_part(&self) -> Part {
        let (verdict, says) = match self.proof.gap {
            Gap::Within if self.proof.simulated => (
                Verdict::Within,
                say!("for this practice the gap is taken to be within: nothing is known of it"),
            ),
            Gap::Within => (Verdict::Within, say!("the gap was within when the proof began")),
            Gap::NotWithin => (Verdict::Unsure, say!("the gap is not within yet")),
            Gap::OlderThanTurn => {
                (Verdict::Unsure, say!("an adjuster was turned after the gap was judged"))
            }
            Gap::Simulated => {
                (Verdict::Unsure, say!("the gap was only judged by what a simulated head read"))
            }
            Gap::NotJudged => (Verdict::Unsure, say!("the gap was not judged")),
        };
        let settle = say!("bring the gap within first (trim, watch), then prove again");
        part(What::Gap, verdict, says, Some(settle))
    }
}
