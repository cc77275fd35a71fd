//! What was looked at, one by one, each with its verdict and what would settle it.

use super::Sums;
use crate::limits::Tool;
use crate::marks::{CORNERS, MARKS, ROUNDS, name};
use crate::plan::Ask;
use crate::rates::{LEVEL, rate_above, rate_below, share_above};
use crate::raw::Gap;
use serde::Serialize;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Mm, Name, Sentence, percent, plain, say};

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

/// Allowed share of dashes that run together.
const JOINED: f64 = 0.05;

fn part(what: What, verdict: Verdict, says: Sentence, settle: Option<Sentence>) -> Part {
    Part { what, verdict, says, settle: settle.filter(|_| verdict == Verdict::Unsure) }
}

/// Within where the upper bound is allowed, outside where the lower one is beyond.
fn between(above: Option<f64>, below: Option<f64>, limit: f64) -> Verdict {
    match (above, below) {
        (_, Some(below)) if below <= limit => Verdict::Within,
        (Some(above), _) if above > limit => Verdict::Outside,
        _ => Verdict::Unsure,
    }
}

impl Sums<'_> {
    pub(super) fn parts(&self) -> Vec<Part> {
        let mut parts = vec![self.window_part(), self.map_part()];
        parts.extend(self.still_part());
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

    fn map_part(&self) -> Part {
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

    fn misses_part(&self) -> Part {
        let seen = self.seen;
        let limit = self.proof.limits.misses;
        let verdict = between(seen.above, seen.below, limit);
        let below = seen.below.map_or(1.0, |below| below);
        let says = say!(
            "{} of {} touches were not seen: fewer than {} %",
            seen.missed,
            seen.asked,
            plain(below * 100.0, 1)
        );
        part(What::Misses, verdict, says, Some(say!("tap another round")))
    }

    fn ghosts_part(&self) -> Part {
        let quiet = self.quiet;
        let Some(below) = quiet.below_per_min else {
            let says = say!("no hands were off: nothing is known of contacts nobody makes");
            let settle = say!("keep hands off for a minute");
            return part(What::Ghosts, Verdict::Unsure, says, Some(settle));
        };
        let limit = self.proof.limits.ghosts_per_min;
        let verdict = between(quiet.above_per_min, quiet.below_per_min, limit);
        let says = say!(
            "hands off for {} s: {} contacts, fewer than {} a minute",
            plain(quiet.hands_off_s, 0),
            quiet.ghosts,
            plain(below, 1)
        );
        part(What::Ghosts, verdict, says, Some(say!("keep hands off for another minute")))
    }

    fn jitter_part(&self) -> Part {
        let limit = self.proof.limits.jitter;
        let again = Some(say!("hold again, hand and wrist on the board's frame"));
        let verdicts = self.holds.iter().map(|hold| match (hold.above, hold.below) {
            (Some(above), Some(below)) => between(Some(above.0), Some(below.0), limit.0),
            // A display that tells next to nothing while nothing changes: by its farthest report.
            _ if hold.held_s >= 1.0 && hold.farthest <= limit * 2.0 => Verdict::Within,
            _ => Verdict::Unsure,
        });
        let verdict = Verdict::of_all(verdicts);
        let worst = self.holds.iter().filter_map(|hold| Some((hold.below?, hold)));
        let worst = worst.max_by(|a, b| a.0.total_cmp(&b.0));
        let says = match worst {
            Some((below, hold)) => say!(
                "held still at {}: scatter below {}, {} allowed",
                name(hold.mark),
                below.gap(),
                limit.limit()
            ),
            None if self.holds.is_empty() => say!("nothing was held still"),
            None => say!("held still, the display tells too few places to know their scatter"),
        };
        part(What::Jitter, verdict, says, again)
    }

    fn lines_part(&self) -> Part {
        let breaks: usize =
            self.strokes.iter().map(|stroke| stroke.breaks_at_mm.len() + stroke.jumps).sum();
        let lost: usize = self.holds.iter().map(|hold| hold.lost).sum();
        let length_m: f64 = self.strokes.iter().map(|stroke| stroke.length_m).sum();
        let count = breaks + lost;
        let below = rate_below(count, length_m, LEVEL);
        let verdict =
            between(rate_above(count, length_m, LEVEL), below, self.proof.limits.breaks_per_m);
        let says = match below {
            None => say!("no line was drawn"),
            Some(below) => say!(
                "{} breaks and jumps in {} m of lines: fewer than {} a metre",
                count,
                plain(length_m, 1),
                plain(below, 2)
            ),
        };
        part(What::Lines, verdict, says, Some(say!("draw the diagonals as well")))
    }

    fn dashes_part(&self) -> Option<Part> {
        let most = self.dashes.iter().max_by_key(|dashes| dashes.joined())?;
        let joined = most.joined();
        let above = share_above(joined, most.drawn, 0.975);
        let verdict = match joined {
            0 | 1 => Verdict::Within,
            _ if above.is_some_and(|above| above > JOINED) => Verdict::Outside,
            _ => Verdict::Unsure,
        };
        let says = say!(
            "of {} quick dashes at {} {} ran into the one before",
            most.drawn,
            name(most.mark),
            joined
        );
        Some(part(What::Dashes, verdict, says, Some(say!("draw the dashes there again"))))
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
            "{} contacts came as a {kind}: not told apart from one at the computer, and one contact at a time",
            count
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
            Gap::Within => (Verdict::Within, say!("the gap was within when the proof began")),
            Gap::NotWithin => (Verdict::Unsure, say!("the gap is not within yet")),
            Gap::OlderThanTurn => {
                (Verdict::Unsure, say!("an adjuster was turned after the gap was judged"))
            }
            Gap::NotJudged => (Verdict::Unsure, say!("the gap was not judged")),
        };
        let settle = say!("bring the gap within first (trim, watch), then prove again");
        part(What::Gap, verdict, says, Some(settle))
    }

    pub(super) fn within(&self) -> Sentence {
        let map = self.map_part().says;
        let left_out = match self.left_out() {
            0 => Sentence::new(),
            count => say!("; {} marks were out of reach and left out", count),
        };
        say!(
            "{map}; {} touches of {} were seen{left_out}",
            self.seen.asked - self.seen.missed,
            self.seen.asked
        )
    }

    /// What to know beside the verdict.
    pub(super) fn told(&self) -> Vec<Sentence> {
        let mut told = Vec::new();
        let secure = self.proof.windows.iter().all(|window| window.secure);
        let rates: Vec<f64> =
            self.strokes.iter().filter_map(|stroke| stroke.reports_per_s).collect();
        if !rates.is_empty() {
            let rate = crate::strays::median(rates);
            told.push(say!("the display reports {} times a second", plain(rate, 0)));
        } else if !secure {
            told.push(say!(
                "how often the display reports could not be measured: over this address the browser does not tell; open the page on the computer itself"
            ));
        }
        told.push(say!("latency cannot be measured from a page"));
        told.push(match self.all.at_once {
            0 => say!("no touch was seen"),
            1 => say!("one touch at a time was seen: several at once were not proved"),
            count => say!("up to {} touches at once were seen", count),
        });
        if self.seen.strays > 0 {
            told.push(say!(
                "{} taps belonged to nothing and were left out of the map",
                self.seen.strays
            ));
        }
        if self.seen.palms > 0 {
            told.push(say!(
                "{} contacts beside the asked ones (sides of hands) were counted",
                self.seen.palms
            ));
        }
        if self.quiet.away > self.quiet.ghosts {
            told.push(say!(
                "{} contacts came away from every asked place",
                self.quiet.away - self.quiet.ghosts
            ));
        }
        for name in self.proof.left_out.iter().map(|mark| name(*mark)) {
            told.push(say!("{name} was left out as out of reach"));
        }
        for stroke in self.strokes.iter().filter_map(|stroke| stroke.bow.filter(|bow| bow.repeats))
        {
            told.push(say!(
                "a line bows by {} at {} of its way, there and back alike",
                stroke.off.abs().gap(),
                percent(stroke.along)
            ));
        }
        if let Some(map) = &self.map {
            // Found nine times in ten where a mark is tapped thrice.
            let seen = map.scatter * 3.5;
            told.push(say!(
                "a bend of less than about {} at a single mark may not have shown",
                seen.gap()
            ));
        }
        if !self.proof.paused.is_empty() {
            told.push(say!("{} contacts came in pauses", self.proof.paused.len()));
        }
        told
    }
}
