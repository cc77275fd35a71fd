//! What is counted: touches not seen, contacts nobody made, scatter, breaks, dashes. Each with the
//! bound that decides: fewer than, where it is within; more than, where it is outside.

use super::Sums;
use super::parts::{Part, What, part};
use crate::marks::name;
use crate::rates::{LEVEL, rate_above, rate_below, share_above};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Sentence, counted, plain, say, short};

/// Allowed share of dashes that run together.
const JOINED: f64 = 0.05;

/// Within where the upper bound is allowed, outside where the lower one is beyond.
fn between(above: Option<f64>, below: Option<f64>, limit: f64) -> Verdict {
    match (above, below) {
        (_, Some(below)) if below <= limit => Verdict::Within,
        (Some(above), _) if above > limit => Verdict::Outside,
        _ => Verdict::Unsure,
    }
}

/// The word for so many.
pub(super) fn contacts(count: usize) -> &'static str {
    if count == 1 { "contact" } else { "contacts" }
}

/// The bound that decides, in words.
fn bound(verdict: Verdict, above: f64, below: f64, decimals: u8) -> Sentence {
    match verdict {
        Verdict::Outside => say!("more than {}", plain(above, decimals)),
        Verdict::Within | Verdict::Unsure => say!("fewer than {}", plain(below, decimals)),
    }
}

impl Sums<'_> {
    pub(super) fn misses_part(&self) -> Part {
        let seen = self.seen;
        let limit = self.proof.limits.misses;
        let verdict = between(seen.above, seen.below, limit);
        let bound =
            bound(verdict, seen.above.unwrap_or(0.0) * 100.0, seen.below.unwrap_or(1.0) * 100.0, 1);
        let says = say!(
            "{} of {} touches were not seen: {bound} %, {} % are allowed",
            seen.missed,
            seen.asked,
            short(limit * 100.0)
        );
        part(What::Misses, verdict, says, Some(say!("tap another round")))
    }

    pub(super) fn ghosts_part(&self) -> Part {
        let quiet = self.quiet;
        let Some(below) = quiet.below_per_min else {
            let says = say!("no hands were off: nothing is known of contacts nobody makes");
            let settle = say!("keep hands off for a minute");
            return part(What::Ghosts, Verdict::Unsure, says, Some(settle));
        };
        let limit = self.proof.limits.ghosts_per_min;
        let verdict = between(quiet.above_per_min, quiet.below_per_min, limit);
        let bound = bound(verdict, quiet.above_per_min.unwrap_or(0.0), below, 1);
        let says = say!(
            "hands off for {} s: {} {}, {bound} a minute",
            plain(quiet.hands_off_s, 0),
            quiet.ghosts,
            contacts(quiet.ghosts)
        );
        part(What::Ghosts, verdict, says, Some(say!("keep hands off for another minute")))
    }

    pub(super) fn jitter_part(&self) -> Part {
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
            Some((below, hold)) => {
                let is_out = verdict == Verdict::Outside;
                let (than, bound) =
                    if is_out { ("above", hold.above) } else { ("below", Some(below)) };
                say!(
                    "held still at {}: scatter {than} {}, {} is allowed",
                    name(hold.mark),
                    bound.unwrap_or(below).gap(),
                    limit.limit()
                )
            }
            None if self.holds.is_empty() => say!("nothing was held still"),
            None => say!("held still, the display tells too few places to know their scatter"),
        };
        part(What::Jitter, verdict, says, again)
    }

    pub(super) fn lines_part(&self) -> Part {
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
            Some(below) => {
                let bound =
                    bound(verdict, rate_above(count, length_m, LEVEL).unwrap_or(0.0), below, 2);
                say!(
                    "{} in {} m of lines: {bound} a metre",
                    counted(count, "break or jump", "breaks and jumps"),
                    plain(length_m, 1)
                )
            }
        };
        part(What::Lines, verdict, says, Some(say!("draw the diagonals as well")))
    }

    pub(super) fn dashes_part(&self) -> Option<Part> {
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
}
