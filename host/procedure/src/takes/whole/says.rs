//! What is judged, in words.

use super::{Settles, Settling, Undecided, Whole};
use crate::adopt;
use skimgauge_metrology::plane::between::Between;
use skimgauge_metrology::plane::consistency::{Explains, Odd, Suspect};
use skimgauge_metrology::plane::unseen::LookedOver;
use skimgauge_metrology::verdict::{JudgedAt, Remedy};
use skimgauge_model::Image;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Deg, Mm, Name, Sentence, count, in_ten, plain, say};

/// How a station is read again at the board.
pub(crate) const AGAIN: &str = "lift the head, clip it on there anew and take";

/// How a board is surveyed, for who has to.
pub(crate) const SURVEY_IT: &str = "survey it (skimgauge survey; `skimgauge next` has the whole command), then name its \
                                    table under [survey] in the job file";

/// What is left where neither a turn nor a reading helps.
const NO_FURTHER: &str =
    "what is left is a wider band, where the emitter's maker allows it, or a flatter board";

impl Whole {
    /// The verdict with what it speaks of.
    pub fn headline(&self) -> Sentence {
        let word = headline(self.verdict, &self.judged_at);
        match self.unseen_says().filter(|_| self.verdict == Verdict::Within) {
            Some(unseen) => say!("{word}; {unseen}"),
            None => word,
        }
    }

    /// What the places read could not have shown; `None` where none such would matter, or somebody
    /// looked.
    pub fn unseen_says(&self) -> Option<Sentence> {
        /// As wide as a straightedge tells.
        const TO_MM: f64 = 10.0;
        let unseen = self.unseen?;
        let width = Mm((unseen.width_mm / TO_MM).round().max(1.0) * TO_MM);
        let from = if unseen.from_mm > 0.0 {
            say!(" and higher or deeper than {}", Mm(unseen.from_mm).gap())
        } else {
            Sentence::new()
        };
        Some(say!(
            "a dent or bump narrower than {}{from} would not have been seen: nobody has run a straightedge over the board",
            width.limit()
        ))
    }

    /// Why the word is not `within`, in one sentence; empty if it is.
    pub fn because(&self, band: Band<Mm>, image: Image) -> Sentence {
        if let Some(because) = self.because_outside(band, image) {
            return because;
        }
        if self.line_stays {
            return say!(
                "with the emitter off a line of light stayed, which may be what was read: find the sun or the lamp, shade it, and look again with the emitter off"
            );
        }
        if let Some(odd) = self.contradiction() {
            return contradict(odd);
        }
        match &self.board {
            Err(Undecided::Missing(names)) => return say!("take {}", listed(names)),
            Err(Undecided::Plane(error)) => return say!("{}", error.to_string()),
            Ok((_, judged)) if judged.verdict == Verdict::Within && !self.missing.is_empty() => {
                return self.missing_says();
            }
            Ok((_, judged)) if judged.verdict == Verdict::Within && self.is_unsure_between() => {
                return self.between_says(image);
            }
            Ok((_, judged)) if judged.verdict == Verdict::Within && self.has_dents() => {
                return say!(
                    "there are dents or bumps that nobody has surveyed: survey each in its middle: skimgauge survey"
                );
            }
            Ok((_, judged)) => match (&judged.remedy, &self.one_more) {
                _ if self.settles.is_some() => {
                    return self.settles.as_ref().map_or_else(Sentence::new, Settles::says);
                }
                (Some(Remedy::OneMoreStation), Some(name)) => {
                    return say!("an error at one station would not show yet: take {}", Name(name));
                }
                (Some(Remedy::Trim), _) if self.turned_out => {
                    return say!("it lies on the limit: {NO_FURTHER}");
                }
                (Some(found @ Remedy::StationThere), _) => {
                    let place = judged.limiting.and_then(|at| judged.points.get(at));
                    let place = place.map(|far| image.whereabouts(adopt::of_control(&far.point)));
                    return say!("{}: {}", place.unwrap_or_default(), remedy(found));
                }
                (Some(found), _) => return remedy(found),
                (None, _) => (),
            },
        }
        for (name, tilt) in [("level", &self.level), ("lean", &self.lean)] {
            match tilt {
                Some(Err(Undecided::Missing(names))) => {
                    return say!("for {name}, take {}", listed(names));
                }
                Some(Ok(tilt)) if tilt.verdict == Verdict::Unsure => {
                    let off = Deg(tilt.value_deg).figure().signed();
                    return say!("{name} {off} is too close to call");
                }
                _ => (),
            }
        }
        if self.verdict == Verdict::Within { Sentence::new() } else { self.missing_says() }
    }

    fn missing_says(&self) -> Sentence {
        if self.missing.is_empty() {
            return say!("take the stations that are missing");
        }
        let names = listed(&self.missing);
        say!(
            "take {names}; where the head sees no light there, the board stands off: survey round it"
        )
    }

    /// Whether dents or bumps were found that would matter and are not surveyed.
    fn has_dents(&self) -> bool {
        self.looked_over == LookedOver::Found && self.unseen.is_some()
    }

    /// Whether nothing but what may lie between the places read is in the way.
    fn is_unsure_between(&self) -> bool {
        self.between.as_ref().is_some_and(|between| between.verdict == Verdict::Unsure)
    }

    fn between_says(&self, image: Image) -> Sentence {
        let where_to = self.between.as_ref().and_then(Between::worst_place).map(|place| {
            let at = image.whereabouts(adopt::point(place.x_mm, place.y_mm));
            say!(" (most of all: {at})")
        });
        let between = say!(
            "between the places read a board may stray too far{}",
            where_to.unwrap_or_default()
        );
        match &self.settles {
            Some(settles) => say!("{between}: {}", settles.says()),
            None if self.turned_out => {
                say!("{between}, and no survey alone would settle it: {NO_FURTHER}")
            }
            None => say!(
                "{between}, and no survey alone would settle it: bring it further into the band"
            ),
        }
    }

    fn because_outside(&self, band: Band<Mm>, image: Image) -> Option<Sentence> {
        let lies = |gap_mm: f64, place: Sentence| {
            let side = if Mm(gap_mm) < band.low { "below" } else { "above" };
            say!("{} {place} lies {side} the band", Mm(gap_mm).gap())
        };
        if let (Some(between), Ok((_, judged))) = (&self.between, &self.board)
            && between.verdict == Verdict::Outside
            && judged.verdict != Verdict::Outside
            && let Some(worst) = between.worst_place()
        {
            let place = image.at(adopt::point(worst.x_mm, worst.y_mm));
            return Some(lies(worst.gap_mm, place));
        }
        if let Ok((_, judged)) = &self.board
            && let Some(worst) = judged.limiting.and_then(|at| judged.points.get(at))
            && worst.verdict == Verdict::Outside
        {
            let place = image.at(adopt::of_control(&worst.point));
            return Some(lies(worst.gap.gap_mm, place));
        }
        if let Some((name, gap_mm)) = &self.out {
            return Some(lies(*gap_mm, say!("at {}", Name(name))));
        }
        [("level", &self.level), ("lean", &self.lean)].into_iter().find_map(|(name, tilt)| {
            let tilt = tilt.as_ref()?.as_ref().ok()?;
            let off = Deg(tilt.value_deg).figure().signed();
            (tilt.verdict == Verdict::Outside).then(|| say!("{name} is off by {off}"))
        })
    }
}

impl Settles {
    /// What to do, how long it takes, and how often it helps. The last two stand before how it is
    /// done: a small screen may cut that.
    pub fn says(&self) -> Sentence {
        let worth = say!("({}, helps {})", about(self.seconds), in_ten(self.chance));
        match &self.by {
            Settling::Seats { count: 1, at } => say!(
                "one more seat at {} may settle it {worth}: lift the head, clip it on again",
                Name(at)
            ),
            Settling::Seats { count, at } => say!(
                "{count} more seats at {} may settle it {worth}: lift the head, clip it on again each time",
                Name(at)
            ),
            Settling::Station(name) => {
                say!("an error at one station would not show yet: take {} {worth}", Name(name))
            }
            Settling::Survey(places) => say!(
                "survey {} {worth}: skimgauge survey (`skimgauge next` has the whole command), then name that table under \
                 [survey] in the job file",
                count(*places, "place")
            ),
        }
    }
}

/// A time as a person says it: `about 4 minutes`.
pub fn about(seconds: f64) -> Sentence {
    match (seconds / 60.0).round() {
        _ if !seconds.is_finite() => Sentence::new(),
        _ if seconds < 50.0 => say!("about {} seconds", plain((seconds / 10.0).ceil() * 10.0, 0)),
        minutes if minutes <= 1.0 => say!("about 1 minute"),
        minutes => say!("about {} minutes", plain(minutes, 0)),
    }
}

/// A verdict with what it speaks of.
pub fn headline(verdict: Verdict, at: &JudgedAt) -> Sentence {
    match (verdict, at) {
        (Verdict::Within, JudgedAt::Board(_)) => say!("within over the whole board as surveyed"),
        (Verdict::Within, JudgedAt::Places(names)) => {
            say!(
                "within at the {} read; between them it is reckoned, nothing was read",
                count(names.len(), "place")
            )
        }
        (other, _) => other.shown().into(),
    }
}

fn listed(names: &[String]) -> Sentence {
    Sentence::joined(names.iter().map(|name| say!("{}", Name(name))), ", ")
}

/// What would settle a verdict.
pub fn remedy(remedy: &Remedy) -> Sentence {
    match remedy {
        Remedy::MoreTakes { times } => say!(
            "{} times as many seats would settle it: lift the head, clip it on again and take one more",
            plain(times.ceil().max(2.0), 0)
        ),
        Remedy::BetterZero => say!("only a better zero of the head would settle it"),
        Remedy::SurveyBoard => {
            say!("survey the board, or take more stations: its shape is not known well enough")
        }
        Remedy::Retake => say!("the takes contradict one another: take the odd one again"),
        Remedy::OneMoreStation => {
            say!("an error at one station would not show: take one more, away from the others")
        }
        Remedy::StationThere => say!(
            "more seats at the same stations would not settle it: it lies far from them; take a station at or near that \
             place"
        ),
        Remedy::SurerReading => {
            say!("what was read is not sure enough to tell: read it again, as sure as a take is")
        }
        Remedy::Trim => say!("it lies on the limit: turn it further into the band"),
    }
}

/// That takes contradict one another, and what to do at the board.
pub(crate) fn contradict(odd: &Odd) -> Sentence {
    say!("the takes contradict one another: {}", contradiction(odd, AGAIN))
}

/// Which reading is odd, and what to do. `again` says how a place is read again.
pub fn contradiction(odd: &Odd, again: &'static str) -> Sentence {
    let all: Vec<&Suspect> = odd.suspects.iter().collect();
    if odd.came_back() {
        return say!(
            "{} came back the same: the board is not what was assumed there; {SURVEY_IT}",
            names(&all)
        );
    }
    let left: Vec<&Suspect> = odd.to_read_again().collect();
    let first = || all.first().map_or_else(Sentence::new, |suspect| off(suspect));
    let (what, end) = match odd.explains {
        Explains::One => (first(), "; "),
        Explains::Any if all.len() > 2 => (say!("the odd one may be any of {}", names(&all)), "; "),
        Explains::Any => {
            let each = Sentence::joined(all.iter().map(|suspect| off(suspect)), ", or ");
            (say!("either {each}"), "; ")
        }
        Explains::None => {
            let worst = match all.len() {
                1 => say!("no single reading explains it; the worst: {}", first()),
                _ => say!(
                    "no single reading explains it, and nothing tells which of {} is odd",
                    names(&all)
                ),
            };
            (say!("{worst}. Did something move since the first was read?"), " ")
        }
    };
    let came_back: Vec<&Suspect> =
        all.iter().copied().filter(|suspect| suspect.came_back).collect();
    let (known, end) = if came_back.is_empty() {
        (Sentence::new(), end)
    } else {
        (say!("; {} came back the same", names(&came_back)), "; ")
    };
    say!("{what}{known}{end}read {} again: {again}", names(&left))
}

fn names(suspects: &[&Suspect]) -> Sentence {
    Sentence::list(suspects.iter().map(|suspect| Name(&suspect.name)), "and")
}

/// One reading against what the others say.
fn off(suspect: &Suspect) -> Sentence {
    let off = suspect.off_mm().map_or_else(Sentence::new, |off_mm| {
        let way = if off_mm > 0.0 { "more" } else { "less" };
        say!(", {} {way} than the others say", Mm(off_mm.abs()).gap())
    });
    let differ = suspect
        .differ_mm
        .map_or_else(Sentence::new, |mm| say!(", its own readings differ by {}", Mm(mm).gap()));
    say!("{} reads {}{off}{differ}", Name(&suspect.name), Mm(suspect.gap_mm).gap())
}
