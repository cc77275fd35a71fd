//! Whether the eye may be what keeps the light away. Nobody sees how its pointer is turned; but it
//! faced the emitter where light was seen last, and where the emitter stands elsewhere it has to be
//! turned before there can be any.

use super::Takes;
use crate::view::FaultView;
use crate::word::Stop;
use skimgauge_metrology::measure::{Fault, Live, NotTaken, Shown};
use skimgauge_quantity::{Sentence, plain, say};
use std::time::Duration;

/// Light from beyond this does not come through the eye's slit, degrees: it shuts at 20, and a hand
/// is off by some.
const SHUTS_DEG: f64 = 15.0;
/// Whoever was told to turn the eye has turned it within so long.
const TURNED_WITHIN: Duration = Duration::from_secs(12);
/// Nearer to it than this the emitter stands straight up, degrees.
const STRAIGHT_DEG: f64 = 5.0;

/// What is known of the eye's pointer.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Pointer {
    /// Where the emitter stood from the place at which light was seen last: degrees from up, to the
    /// right positive.
    lit_deg: Option<f64>,
    /// Where the head stands without light, and since when.
    dark: Option<(Stop, Duration)>,
}

impl Pointer {
    /// A reading of a head on the board at this place, from which the emitter stands there; `None`:
    /// nobody knows that it is at the place that is due.
    fn reading(&mut self, now: Duration, here: Option<(Stop, f64)>, lit: bool) {
        let Some((stop, emitter_deg)) = here else {
            self.dark = None;
            return;
        };
        if lit {
            (self.lit_deg, self.dark) = (Some(emitter_deg), None);
        } else if self.dark.is_none_or(|(at, _)| at != stop) {
            self.dark = Some((stop, now));
        }
    }

    /// Whether the eye still has to be turned here, or was told to be and nothing came of it.
    fn is_turned_away(&self, now: Duration, stop: Stop, emitter_deg: f64) -> Option<Turn> {
        let away = (emitter_deg - self.lit_deg?).abs() > SHUTS_DEG;
        let (_, since) = self.dark.filter(|(at, _)| *at == stop && away)?;
        Some(if now.saturating_sub(since) < TURNED_WITHIN { Turn::Due } else { Turn::Made })
    }
}

/// The eye's turn toward the emitter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Turn {
    /// It is still to be made.
    Due,
    /// There was time for it, and there is still no light.
    Made,
}

/// Where the emitter stands, in words.
fn toward(emitter_deg: f64) -> Sentence {
    let by = plain(emitter_deg.abs(), 0);
    if emitter_deg.abs() < STRAIGHT_DEG {
        say!("straight up")
    } else if emitter_deg > 0.0 {
        say!("{by} degrees to the right of straight up")
    } else {
        say!("{by} degrees to the left of straight up")
    }
}

impl Takes {
    /// A reading with a spot on the board, with or without light.
    pub(super) fn follow_pointer(&mut self, now: Duration, lit: bool) {
        let here = self.emitter_deg().filter(|_| self.still_at().is_none());
        self.pointer.reading(now, here.map(|deg| (self.stations.stop(), deg)), lit);
    }

    /// Where the emitter stands from the station that is due, degrees from up, to the right
    /// positive, where the job says so.
    fn emitter_deg(&self) -> Option<f64> {
        let (at, emitter) = (self.stations.station()?.at, &self.job.emitter);
        let up_mm = emitter.above_top_mm? - at.y.0;
        Some((emitter.right_mm - at.x.0).atan2(up_mm).to_degrees())
    }

    fn turn(&self, now: Duration) -> Option<Turn> {
        self.pointer.is_turned_away(now, self.stations.stop(), self.emitter_deg()?)
    }

    /// What the head says, no light being called what it is where the eye was not turned.
    pub(super) fn with_pointer(&self, now: Duration, live: Live) -> Live {
        let named = |fault| if fault == Fault::NoLight { Fault::EyeTurnedAway } else { fault };
        if self.turn(now) != Some(Turn::Due) || !live.faults.contains(&Fault::NoLight) {
            return live;
        }
        let mut faults: Vec<Fault> = live.faults.iter().copied().map(named).collect();
        faults.dedup();
        Live {
            faults,
            gap_mm: match live.gap_mm {
                Shown::Absent { why } => Shown::Absent { why: named(why) },
                shown => shown,
            },
            can_take: live.can_take.map_err(|why| match why {
                NotTaken::Fault { fault } => NotTaken::Fault { fault: named(fault) },
                why => why,
            }),
            ..live
        }
    }

    /// A fault in words, with the way to turn the eye where it may be the cause.
    pub(super) fn fault_view(&self, now: Duration, fault: Fault, live: &Live) -> FaultView {
        let view = FaultView::of(fault, live);
        let missing = matches!(fault, Fault::EyeTurnedAway | Fault::NoLight);
        let Some(emitter_deg) = self.emitter_deg().filter(|_| missing) else { return view };
        let there = toward(emitter_deg);
        match (fault, self.turn(now)) {
            (Fault::EyeTurnedAway, Some(Turn::Due)) => FaultView {
                says: say!(
                    "No light comes in: from here the emitter stands elsewhere than where the eye saw it last."
                ),
                remedy: say!("Turn the eye's pointer to the emitter: {there}."),
                ..view
            },
            (Fault::NoLight, Some(Turn::Made)) => FaultView {
                says: say!("The eye sees no sheet of light, though there was time to turn it."),
                remedy: say!(
                    "If its pointer points to the emitter, {there}, the emitter is off or something stands in its light: look there."
                ),
                ..view
            },
            (Fault::EyeTurnedAway, _) => FaultView {
                remedy: say!("{} The emitter stands {there}.", view.remedy.clone()),
                ..view
            },
            _ => FaultView {
                remedy: say!("{} From here it stands {there}.", view.remedy.clone()),
                ..view
            },
        }
    }

    /// Why nothing is taken, in words.
    pub(super) fn why_not(&self, now: Duration, why: NotTaken, live: &Live) -> Sentence {
        match why {
            NotTaken::Fault { fault: fault @ (Fault::NoLight | Fault::EyeTurnedAway) } => {
                let due = self.turn(now) == Some(Turn::Due);
                let fault = if due { Fault::EyeTurnedAway } else { fault };
                let view = self.fault_view(now, fault, live);
                say!("{}: {} {}", view.name, view.says, view.remedy)
            }
            why => super::says::not_taken(why),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::trial::{OFF, SEATED, Trial};
    use crate::word::{Stop, Word};
    use skimgauge_metrology::measure::Fault;
    use skimgauge_quantity::Style;
    use skimgauge_shared::light::Fault as Scan;

    /// Taken at a station of the practice job, then carried to another where there is no light.
    fn carried(from: &str, to: &str) -> Trial {
        let mut trial = Trial::new();
        let stop = |trial: &Trial, name: &str| trial.takes.stations().named(name).unwrap();
        trial.say(Word::Go(stop(&trial, from)));
        trial.read(SEATED, 3_000);
        assert_eq!(trial.say(Word::Take).len(), 1, "{}", trial.heard());
        let to = stop(&trial, to);
        trial.say(Word::Go(to));
        trial.read(OFF, 800);
        trial.scan = Some(Scan::NoLight);
        trial.read(SEATED, 1_500);
        assert_eq!(trial.takes.stations().stop(), to);
        trial
    }

    /// The fault that stands in the way, with what is said of it.
    fn said(trial: &Trial) -> (Fault, String) {
        let view = trial.view();
        let fault = view.in_the_way.expect("a fault");
        let why = view.live.gap.why();
        assert_eq!(why, Some(fault.fault));
        let style = Style::default();
        (fault.fault, format!("{} {}", fault.says.text(style), fault.remedy.text(style)))
    }

    #[test]
    fn where_the_emitter_stands_elsewhere_the_eye_is_to_be_turned_first() {
        let mut trial = carried("top left", "top");
        let (fault, words) = said(&trial);
        assert_eq!(fault, Fault::EyeTurnedAway);
        // To whoever would learn from it where the light is, it is no lack of light.
        assert_eq!(trial.takes.why_no_gap(trial.now()), Some(Fault::EyeTurnedAway));
        assert!(words.ends_with("Turn the eye's pointer to the emitter: straight up."), "{words}");
        trial.heard();
        assert!(trial.say(Word::Take).is_empty());
        let heard = trial.heard();
        assert!(heard.contains("NOT taken: eye not turned to the emitter: "), "{heard}");
        assert!(heard.contains("pointer to the emitter: straight up."), "{heard}");
        // There was time for it, and there is still none.
        trial.read(SEATED, 12_000);
        let (fault, words) = said(&trial);
        assert_eq!(fault, Fault::NoLight);
        assert_eq!(trial.takes.why_no_gap(trial.now()), Some(Fault::NoLight));
        assert!(
            words.contains("time to turn it") && words.contains("is off or something"),
            "{words}"
        );
        // Turned, and seen: then it is the emitter again that goes off.
        trial.scan = None;
        trial.read(SEATED, 3_000);
        assert!(trial.view().live.gap.good().is_some());
        trial.scan = Some(Scan::NoLight);
        trial.read(SEATED, 1_500);
        assert_eq!(said(&trial).0, Fault::NoLight);
    }

    #[test]
    fn a_corner_says_to_which_side_and_how_far() {
        for (from, to, words) in [
            ("top", "top left", "85 degrees to the right"),
            ("top", "top right", "85 degrees to the left"),
        ] {
            let (fault, said) = said(&carried(from, to));
            assert!(fault == Fault::EyeTurnedAway && said.contains(words), "{to}: {said}");
        }
    }

    #[test]
    fn where_it_stands_as_before_or_nothing_was_seen_yet_it_is_no_light() {
        let (fault, words) = said(&carried("top", "bottom"));
        assert!(fault == Fault::NoLight && words.contains("straight up"), "{words}");
        let mut trial = Trial::new();
        trial.scan = Some(Scan::NoLight);
        trial.read(SEATED, 1_500);
        let (fault, words) = said(&trial);
        assert!(matches!(trial.takes.stations().stop(), Stop::Station(_)));
        assert!(fault == Fault::NoLight && words.contains("Turn the eye's pointer"), "{words}");
    }
}
