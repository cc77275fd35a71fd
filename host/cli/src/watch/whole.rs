//! The verdict over the whole: gaps by the plane and by each reading, level and lean.

use super::stations::{Kept, Stations, expanded, place_name};
use crate::console::screen::words;
use serde::Serialize;
use skimgauge_jobfile::Job;
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::consistency::{Odd, best_check};
use skimgauge_metrology::plane::fit::{self, PlaneFit};
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::plane::refusal::PlaneError;
use skimgauge_metrology::verdict::{self, BoardVerdict, JudgedAt, Remedy, WholeBoard};
use skimgauge_model::{Station, Verdict};
use skimgauge_quantity::{Band, Deg, Mm};

/// What is supposed of a take not yet made, mm.
const TAKE_U_MM: f64 = 0.06;
/// How a station is read again at the board.
const AGAIN: &str = "go there, lift the head, clip it on anew and take";

/// Level or lean: how the emitter stands against the board, judged. Each is computed here and
/// nowhere else.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TiltVerdict {
    /// How the emitter itself stands, against gravity, degrees.
    pub emitter_deg: f64,
    /// How the board stands, against gravity, degrees: its top edge for level, all stations for
    /// lean.
    pub board_deg: f64,
    /// The level or lean: the first less the second, degrees.
    pub value_deg: f64,
    /// Half width of its 95 % interval, degrees.
    pub expanded_deg: f64,
    /// Against its band.
    pub verdict: Verdict,
}

/// The verdict over everything.
#[derive(Debug, Clone)]
pub struct Whole {
    /// The word.
    pub verdict: Verdict,
    /// What was taken, as the plane saw it.
    pub observations: Observations,
    /// The station that is furthest out of the band, with its gap, mm, where one is out for sure.
    pub out: Option<(String, f64)>,
    /// The station that would check the others, where an error in one of them would not show.
    pub one_more: Option<String>,
    /// What a verdict of `within` speaks of.
    pub judged_at: JudgedAt,
    /// The plane and every control point, once the takes decide it.
    pub board: Result<(PlaneFit, BoardVerdict), Undecided>,
    /// Level, if it is judged.
    pub level: Option<Result<TiltVerdict, Undecided>>,
    /// Lean, if it is judged.
    pub lean: Option<Result<TiltVerdict, Undecided>>,
}

/// Why something is not judged yet.
#[derive(Debug, Clone, PartialEq)]
pub enum Undecided {
    /// These stations have no take.
    Missing(Vec<String>),
    /// The takes do not decide a plane.
    Plane(PlaneError),
}

impl Stations {
    /// The verdict over everything that the job judges.
    pub fn whole(&self, job: &Job, board: &Board) -> Whole {
        let band = job.bands.gap;
        let points = board.control_points(job.image.width.0, job.image.height.0);
        let missing: Vec<String> =
            self.rows().filter(|(_, kept)| kept.is_none()).map(|(s, _)| s.name.clone()).collect();
        let observations = self.observations();
        let fitted = if self.taken() < 3 {
            Err(Undecided::Missing(missing.clone()))
        } else {
            fit::fit(&observations, board).map_err(Undecided::Plane)
        };
        let surveyed = board.is_surveyed();
        let board = fitted.map(|mut fit| {
            fit.consistency.came_back(&self.came_back());
            let judged = verdict::judge(&fit, &points, band);
            (fit, judged)
        });
        let level = job.bands.level.map(|band| self.tilt(band, true));
        let lean = job.bands.lean.map(|band| self.tilt(band, false));
        // Before there is a plane, a station that is itself out is out.
        let out = match &board {
            Ok((_, judged)) => worst_out(
                judged.places.iter().map(|place| (&place.name, place.gap_mm, place.verdict)),
                band,
            ),
            Err(_) => {
                let kept = self.rows().filter_map(|(station, kept)| Some((&station.name, kept?)));
                worst_out(kept.map(|(name, kept)| (name, kept.take.gap_mm, kept.verdict)), band)
            }
        };
        let one_more = board.as_ref().ok().and_then(|(fit, _)| self.one_more(fit));
        let judged_at = match surveyed {
            true => JudgedAt::Board(WholeBoard::Board),
            false => JudgedAt::Places(
                self.rows()
                    .filter(|(_, kept)| kept.is_some())
                    .map(|(station, _)| station.name.clone())
                    .collect(),
            ),
        };
        let word = |tilt: &Result<TiltVerdict, Undecided>| {
            tilt.as_ref().map_or(Verdict::Unsure, |tilt| tilt.verdict)
        };
        let parts = [
            Some(board.as_ref().map_or(Verdict::Unsure, |(_, judged)| judged.verdict)),
            level.as_ref().map(word),
            lean.as_ref().map(word),
            (!missing.is_empty()).then_some(Verdict::Unsure),
        ];
        let verdict = Verdict::of_all(
            parts.into_iter().flatten().chain(out.as_ref().map(|_| Verdict::Outside)),
        );
        Whole { verdict, observations, out, one_more, judged_at, board, level, lean }
    }

    /// What may be said of a station with this take, which is not kept yet: nothing where it
    /// contradicts the others.
    pub fn told_with(&self, at: usize, kept: &Kept, job: &Job, board: &Board) -> Verdict {
        let mut with = self.clone();
        with.keep(at, kept.clone());
        with.whole(job, board).told(kept.verdict)
    }

    /// The station without a take that would best check the others, where an error in one of them
    /// would not show.
    fn one_more(&self, fit: &PlaneFit) -> Option<String> {
        let left: Vec<&Station> =
            self.rows().filter(|(_, kept)| kept.is_none()).map(|(s, _)| s).collect();
        let places: Vec<(f64, f64)> = left.iter().map(|s| (s.at.x.0, s.at.y.0)).collect();
        let best = (!fit.consistency.is_checked())
            .then(|| best_check(&fit.consistency, &places, TAKE_U_MM))
            .flatten()?;
        Some(left[best].name.clone())
    }

    /// The emitter's tilt against the board's: its top edge for level, all stations for lean.
    fn tilt(&self, band: Band<Deg>, level: bool) -> Result<TiltVerdict, Undecided> {
        let emitter =
            self.emitter().1.ok_or_else(|| Undecided::Missing(vec!["emitter".to_owned()]))?;
        let of_board: Vec<(f64, f64)> = self
            .rows()
            .filter(|(station, _)| !level || station.at.y.0 >= -1.0)
            .filter_map(|(_, kept)| {
                kept.map(|k| {
                    (if level { k.take.level_deg } else { k.take.lean_deg }, k.take.tilt_u_deg)
                })
            })
            .collect();
        if of_board.is_empty() {
            return Err(Undecided::Missing(vec![
                if level { "a station on the top edge" } else { "a station" }.to_owned(),
            ]));
        }
        let count = of_board.len() as f64;
        let mean = of_board.iter().map(|(tilt, _)| tilt).sum::<f64>() / count;
        // The head's own offset is in both and falls out; counting it twice all the same is on the
        // safe side.
        let u = (of_board.iter().map(|(_, u)| u * u).sum::<f64>() / count / count
            + emitter.u_deg * emitter.u_deg)
            .sqrt();
        let emitter_deg = if level { emitter.level_deg } else { emitter.lean_deg };
        let (value_deg, expanded_deg) = (emitter_deg - mean, expanded(u, None));
        let verdict = verdict::decide(Deg(value_deg), Deg(expanded_deg), band);
        Ok(TiltVerdict { emitter_deg, board_deg: mean, value_deg, expanded_deg, verdict })
    }
}

/// Of places with their gaps (mm) the one furthest out of the band, of those that are out.
fn worst_out<'a>(
    places: impl Iterator<Item = (&'a String, f64, Verdict)>,
    band: Band<Mm>,
) -> Option<(String, f64)> {
    let beyond = |gap_mm: f64| band.beyond(Mm(gap_mm));
    places
        .filter(|(_, _, verdict)| *verdict == Verdict::Outside)
        .map(|(name, gap_mm, _)| (name.clone(), gap_mm))
        .max_by(|(_, a), (_, b)| beyond(*a).total_cmp(&beyond(*b)))
}

impl Whole {
    /// The verdict for people, with what it speaks of.
    pub fn headline(&self) -> String {
        words::verdict_at(self.verdict, &self.judged_at)
    }

    /// Which take is odd, where they contradict one another.
    pub fn contradiction(&self) -> Option<&Odd> {
        self.board.as_ref().ok()?.0.contradiction()
    }

    /// Of a station's own verdict, what may be said: nothing while the takes contradict one
    /// another, and only that it is outside once the odd one came back the same.
    pub fn told(&self, verdict: Verdict) -> Verdict {
        match self.contradiction().map(Odd::came_back) {
            None => verdict,
            Some(true) if verdict == Verdict::Outside => verdict,
            Some(_) => Verdict::Unsure,
        }
    }

    /// Why the word is not `within`, in one sentence for the screen; empty if it is.
    pub fn because(&self, band: Band<Mm>) -> String {
        let tilt = [("level", &self.level), ("lean", &self.lean)];
        let lies = |gap_mm: f64, place: &str| {
            let side = if Mm(gap_mm) < band.low { "below" } else { "above" };
            format!("{gap_mm:.2} mm {place} lies {side} the band")
        };
        if let Ok((_, judged)) = &self.board
            && let Some(worst) = judged.limiting.and_then(|at| judged.points.get(at))
            && worst.verdict == Verdict::Outside
        {
            let gap = worst.gap.gap_mm;
            return lies(gap, &place_name(worst.point.x_mm, worst.point.y_mm));
        }
        if let Some((name, gap_mm)) = &self.out {
            return lies(*gap_mm, &format!("at {name}"));
        }
        for (name, tilt) in tilt {
            if let Some(Ok(tilt)) = tilt
                && tilt.verdict == Verdict::Outside
            {
                return format!("{name} is off by {:+.2} degrees", tilt.value_deg);
            }
        }
        if let Some(odd) = self.contradiction() {
            return format!(
                "the takes contradict one another: {}",
                words::contradiction(odd, AGAIN)
            );
        }
        match &self.board {
            Err(Undecided::Missing(names)) => return format!("take {}", names.join(", ")),
            Err(Undecided::Plane(error)) => return error.to_string(),
            Ok((_, judged)) => match (&judged.remedy, &self.one_more) {
                (Some(Remedy::OneMoreStation), Some(name)) => {
                    return format!("an error at one station would not show yet: take {name}");
                }
                (Some(remedy), _) => return remedy_words(remedy),
                (None, _) => (),
            },
        }
        for (name, tilt) in tilt {
            match tilt {
                Some(Err(Undecided::Missing(names))) => {
                    return format!("for {name}, take {}", names.join(", "));
                }
                Some(Ok(tilt)) if tilt.verdict == Verdict::Unsure => {
                    return format!("{name} {:+.2} degrees is too close to call", tilt.value_deg);
                }
                _ => (),
            }
        }
        if self.verdict == Verdict::Within {
            String::new()
        } else {
            "take the stations that are missing".to_owned()
        }
    }
}

/// What would settle a verdict, in words.
pub fn remedy_words(remedy: &Remedy) -> String {
    match remedy {
        Remedy::MoreTakes { times } => format!(
            "{:.0} times as many seats would settle it: lift the head, clip it on again and take one more",
            times.ceil().max(2.0)
        ),
        Remedy::BetterZero => "only a better zero of the head would settle it".to_owned(),
        Remedy::SurveyBoard => {
            "survey the board, or take more stations: its shape is not known well enough".to_owned()
        }
        Remedy::Retake => "the takes contradict one another: take the odd one again".to_owned(),
        Remedy::OneMoreStation => {
            "an error at one station would not show: take one more, away from the others".to_owned()
        }
        Remedy::Trim => "it lies on the limit: turn it further into the band".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::stations::EmitterTilt;
    use skimgauge_metrology::measure::{Part, Source, Take};

    fn job() -> Job {
        Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap()
    }

    fn seat(gap_mm: f64) -> Take {
        let part = |source, effect_mm| Part { source, effect_mm, dof: None };
        Take {
            gap_mm,
            u_mm: 0.06,
            dof: None,
            parts: vec![part(Source::Seating, 0.05), part(Source::Zero, 0.03)],
            readings: 41,
            window_s: 0.4,
            head_at_s: 1.0,
            stand_off_mm: 27.0,
            eye_ratio: Some(0.0),
            level_deg: 0.05,
            lean_deg: -0.02,
            tilt_u_deg: 0.01,
            temperature_c: Some(20.0),
            notices: Vec::new(),
        }
    }

    fn take(stations: &mut Stations, job: &Job, name: &str, gap_mm: f64, anew: bool) {
        let at = stations.named(name).unwrap();
        let kept = stations.with(at, seat(gap_mm), false, job.bands.gap).unwrap();
        if anew { stations.keep_anew(at, kept) } else { stations.keep(at, kept) }
    }

    /// Takes at these stations of the practice job, over a plane in the middle of the band.
    fn taken(job: &Job, names: &[&str]) -> Stations {
        let mut stations = Stations::of(job);
        for station in job.stations.iter().filter(|station| names.contains(&station.name.as_str()))
        {
            take(&mut stations, job, &station.name, 2.5 + 0.0001 * station.at.x.0, false);
        }
        stations.keep_emitter(EmitterTilt { level_deg: 0.05, lean_deg: 0.06, u_deg: 0.01 });
        stations
    }

    fn all(job: &Job) -> Vec<&str> {
        job.stations.iter().map(|station| station.name.as_str()).collect()
    }

    fn whole(stations: &Stations, job: &Job) -> Whole {
        stations.whole(job, &crate::jobs::unsurveyed(job))
    }

    #[test]
    fn within_speaks_of_the_places_read() {
        let job = job();
        let found = whole(&taken(&job, &all(&job)), &job);
        assert_eq!(found.verdict, Verdict::Within, "{}", found.because(job.bands.gap));
        assert_eq!(found.headline(), "within at the 8 places read; between them nobody looked");
        assert_eq!(found.because(job.bands.gap), "");
    }

    #[test]
    fn contradicting_takes_are_neither_within_nor_outside_and_the_odd_one_is_named() {
        let job = job();
        let band = job.bands.gap;
        // In the band, and far out of it.
        for misread_mm in [3.5, 9.0] {
            let mut stations = taken(&job, &all(&job));
            take(&mut stations, &job, "top left", misread_mm, true);
            let found = whole(&stations, &job);
            assert_eq!((found.verdict, &found.out), (Verdict::Unsure, &None));
            assert_eq!(
                (found.told(Verdict::Within), found.told(Verdict::Outside)),
                (Verdict::Unsure, Verdict::Unsure)
            );
            let because = found.because(band);
            assert!(
                because.contains("contradict one another")
                    && because.contains("read top left again"),
                "{because}"
            );
            assert!(!found.headline().contains("within"));
            // Right the second time: nothing is left of it.
            let mut mended = stations.clone();
            take(&mut mended, &job, "top left", 2.41, true);
            assert_eq!(whole(&mended, &job).verdict, Verdict::Within);
            // The same again from the same seat says nothing; from another it is the board.
            take(&mut stations, &job, "top left", misread_mm + 0.02, false);
            assert!(stations.came_back().is_empty());
            take(&mut stations, &job, "top left", misread_mm + 0.03, true);
            assert_eq!(stations.came_back(), ["top left"]);
            let found = whole(&stations, &job);
            let out = misread_mm > band.high.0;
            assert_eq!(found.verdict, if out { Verdict::Outside } else { Verdict::Unsure });
            let because = found.because(band);
            let asked = if out { "at top left lies above the band" } else { "skimgauge survey" };
            assert!(because.contains(asked), "{because}");
            assert_eq!(found.told(Verdict::Within), Verdict::Unsure);
        }
    }

    /// A take that contradicts the others goes into the record without a verdict.
    #[test]
    fn a_take_that_contradicts_the_others_is_told_as_neither() {
        let job = job();
        let board = crate::jobs::unsurveyed(&job);
        let stations = taken(&job, &all(&job));
        let at = stations.named("top left").unwrap();
        for (gap_mm, own, told) in [
            (2.41, Verdict::Within, Verdict::Within),
            (3.5, Verdict::Within, Verdict::Unsure),
            (9.0, Verdict::Outside, Verdict::Unsure),
        ] {
            let kept = stations.with(at, seat(gap_mm), false, job.bands.gap).unwrap();
            assert_eq!(
                (kept.verdict, stations.told_with(at, &kept, &job, &board)),
                (own, told),
                "{gap_mm}"
            );
        }
    }

    #[test]
    fn a_new_round_forgets_what_came_back() {
        let job = job();
        let mut stations = taken(&job, &all(&job));
        take(&mut stations, &job, "top", 3.5, true);
        take(&mut stations, &job, "top", 3.5, true);
        assert_eq!(stations.came_back(), ["top"]);
        stations.clear();
        take(&mut stations, &job, "top", 3.5, true);
        assert!(stations.came_back().is_empty());
    }

    #[test]
    fn three_stations_are_never_within_however_many_seats() {
        let text = skimgauge_jobfile::demo_job()
            .replace("level = [\"-0.2 deg\", \"0.2 deg\"]", "")
            .replace("lean = [\"-0.2 deg\", \"0.2 deg\"]", "");
        let mut job = Job::parse("demo.toml", &text).unwrap();
        job.bands.gap = Band { low: Mm(-20.0), high: Mm(20.0) };
        job.stations
            .retain(|station| ["top left", "top right", "bottom"].contains(&station.name.as_str()));
        let mut stations = taken(&job, &all(&job));
        for name in ["top left", "top right", "bottom"] {
            let at = stations.named(name).unwrap();
            for _ in 0..3 {
                let gap_mm = 2.5 + 0.0001 * job.stations[at].at.x.0;
                let kept = stations.with(at, seat(gap_mm), true, job.bands.gap).unwrap();
                stations.keep(at, kept);
            }
        }
        let found = whole(&stations, &job);
        assert_eq!((found.verdict, &found.one_more), (Verdict::Unsure, &None));
        assert!(
            found.because(job.bands.gap).contains("take one more"),
            "{}",
            found.because(job.bands.gap)
        );
        // With stations left in the job, the one that would settle it.
        let job = Job { bands: job.bands, ..self::job() };
        let stations = taken(&job, &["top left", "top right", "bottom"]);
        let found = whole(&stations, &job);
        let fourth = found.one_more.clone().unwrap();
        assert!(fourth.starts_with("bottom "), "{fourth}");
        assert!(found.because(job.bands.gap).ends_with(&format!("take {fourth}")));
    }

    /// Level and lean are a difference: what the emitter shows less what the board shows, once.
    #[test]
    fn level_and_lean_are_the_emitters_less_the_boards() {
        let job = job();
        let found = whole(&taken(&job, &all(&job)), &job);
        let level = found.level.unwrap().unwrap();
        assert!((level.emitter_deg - 0.05).abs() < 1e-12 && (level.board_deg - 0.05).abs() < 1e-12);
        assert!(level.value_deg.abs() < 1e-12);
        let lean = found.lean.unwrap().unwrap();
        assert!(
            (lean.value_deg - (lean.emitter_deg - lean.board_deg)).abs() < 1e-15
                && lean.value_deg > 0.07
        );
    }
}
