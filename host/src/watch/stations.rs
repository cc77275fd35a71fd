//! The stations of a job, the takes at them, and the verdict over the whole board.

use serde::Serialize;
use skimgauge_job::Job;
use skimgauge_metrology::band::Band;
use skimgauge_metrology::coverage;
use skimgauge_metrology::measure::seats::{self, Seats};
use skimgauge_metrology::measure::{Came, Source, Take};
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::fit::{self, PlaneFit};
use skimgauge_metrology::plane::observation::{GapObservation, Observations, SharedError};
use skimgauge_metrology::plane::refusal::PlaneError;
use skimgauge_metrology::station::Station;
use skimgauge_metrology::verdict::{self, BoardVerdict, Verdict};
use skimgauge_record::chain::Hash;

/// What stands at a station, from one seat of the head or from several.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// The take, or the mean of all seats.
    pub take: Take,
    /// The take of each seat, as it is in the record.
    pub seats: Vec<Take>,
    /// How they agree.
    pub agree: Seats,
    /// Hash of the event that keeps the last of them, if there is a record.
    pub event: Option<Hash>,
    /// How the head had come there for the last of them.
    pub came: Came,
    /// Half width of its 95 % interval, mm.
    pub expanded_mm: f64,
    /// Its verdict against the gap's band.
    pub verdict: Verdict,
}

/// A tilt taken with the head on the emitter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EmitterTilt {
    /// Level, degrees.
    pub level_deg: f64,
    /// Lean, degrees.
    pub lean_deg: f64,
    /// Standard uncertainty of either, degrees.
    pub u_deg: f64,
}

/// Level and lean of the emitter against the board, judged.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TiltVerdict {
    /// The difference, degrees.
    pub value_deg: f64,
    /// Half width of its 95 % interval, degrees.
    pub expanded_deg: f64,
    /// Against its band.
    pub verdict: Verdict,
}

/// What the user is at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The head is clipped at this station.
    Station(usize),
    /// The head stands on the emitter.
    Emitter,
}

/// Stations and takes.
#[derive(Debug, Clone)]
pub struct Stations {
    stations: Vec<Station>,
    kept: Vec<Option<Kept>>,
    judges_tilt: bool,
    emitter: Option<EmitterTilt>,
    at: usize,
    /// The place taken last.
    last: Option<usize>,
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
    /// Those of the job, without takes.
    pub fn of(job: &Job) -> Self {
        Self {
            kept: vec![None; job.stations.len()],
            stations: job.stations.clone(),
            judges_tilt: job.bands.level_deg.is_some() || job.bands.lean_deg.is_some(),
            emitter: None,
            at: 0,
            last: None,
        }
    }

    /// All stations with their takes.
    pub fn rows(&self) -> impl ExactSizeIterator<Item = (&Station, Option<&Kept>)> {
        self.stations.iter().zip(self.kept.iter().map(Option::as_ref))
    }

    /// The emitter's tilt, and whether this job asks for it.
    pub fn emitter(&self) -> (bool, Option<EmitterTilt>) {
        (self.judges_tilt, self.emitter)
    }

    /// Where the user is.
    pub fn place(&self) -> Place {
        if self.at < self.stations.len() { Place::Station(self.at) } else { Place::Emitter }
    }

    /// The station the user is at; `None` at the emitter.
    pub fn station(&self) -> Option<&Station> {
        self.stations.get(self.at)
    }

    /// Name of the place the user is at.
    pub fn name(&self) -> &str {
        self.station().map_or("emitter", |station| &station.name)
    }

    /// What stands at the station the user is at.
    pub fn here(&self) -> Option<&Kept> {
        self.kept.get(self.at)?.as_ref()
    }

    /// Which place this name or number, counted from 1, means; `emitter` where the job asks for its tilt.
    pub fn named(&self, text: &str) -> Option<usize> {
        let text = text.trim();
        if text.eq_ignore_ascii_case("emitter") {
            return self.judges_tilt.then_some(self.stations.len());
        }
        let numbered = text.parse().ok().filter(|number| (1..=self.stations.len()).contains(number));
        let named = || self.stations.iter().position(|station| station.name.eq_ignore_ascii_case(text));
        numbered.map(|number: usize| number - 1).or_else(named)
    }

    /// Goes to a place by its index; the emitter, where it is asked for, comes after the last station and for every
    /// higher index.
    pub fn go(&mut self, to: usize) {
        self.at = to.min(self.places() - 1);
    }

    /// Where nothing is taken here yet: back to the place taken last, if there is one, and whether that was done. A take
    /// moves on by itself, so what is said of a take most often means the place before.
    pub fn back_to_last(&mut self) -> bool {
        let taken_here = if self.at < self.stations.len() { self.here().is_some() } else { self.emitter.is_some() };
        let last = self.last.filter(|_| !taken_here);
        self.at = last.unwrap_or(self.at);
        last.is_some()
    }

    /// Whether every place has what the job asks for.
    pub fn all_taken(&self) -> bool {
        self.taken() == self.stations.len() && (!self.judges_tilt || self.emitter.is_some())
    }

    /// One place on or back, round and round.
    pub fn step(&mut self, on: bool) {
        let places = self.places();
        self.at = if on { (self.at + 1) % places } else { (self.at + places - 1) % places };
    }

    /// On to the next place without a take; stays where every place has one.
    pub fn on_to_missing(&mut self) {
        let places = self.places();
        let missing = |at: usize| match self.kept.get(at) {
            Some(kept) => kept.is_none(),
            None => self.emitter.is_none(),
        };
        if let Some(next) = (1..=places).map(|step| (self.at + step) % places).find(|at| missing(*at)) {
            self.at = next;
        }
    }

    /// What stands at a station with this take: beside what stood there, as one more seat, or in the place of the last.
    /// `None` if there is no such station.
    pub fn with(&self, at: usize, take: Take, beside: bool, band: Band) -> Option<Kept> {
        let mut seats = self.kept.get(at)?.as_ref().map_or_else(Vec::new, |kept| kept.seats.clone());
        if !beside {
            seats.pop();
        }
        seats.push(take);
        let (take, agree) = seats::mean(&seats)?;
        let expanded_mm = expanded(take.u_mm, take.dof);
        let verdict = Verdict::of(take.gap_mm, expanded_mm, band);
        Some(Kept { take, seats, agree, event: None, came: Came::default(), expanded_mm, verdict })
    }

    /// Keeps what stands at a station.
    pub fn keep(&mut self, at: usize, kept: Kept) {
        if let Some(place) = self.kept.get_mut(at) {
            *place = Some(kept);
            self.last = Some(at);
        }
    }

    /// Keeps the emitter's tilt.
    pub fn keep_emitter(&mut self, tilt: EmitterTilt) {
        self.emitter = Some(tilt);
        self.last = Some(self.stations.len());
    }

    /// Forgets all takes: something was turned.
    pub fn clear(&mut self) {
        self.kept.fill(None);
        self.emitter = None;
        self.at = 0;
        self.last = None;
    }

    /// How many stations have a take.
    pub fn taken(&self) -> usize {
        self.kept.iter().flatten().count()
    }

    /// Takes as the plane wants them.
    pub fn observations(&self) -> Observations {
        let kept: Vec<(&Station, &Kept)> = self.rows().filter_map(|(s, kept)| Some((s, kept?))).collect();
        let gaps = kept
            .iter()
            .map(|(station, kept)| GapObservation {
                dof: kept.take.own_dof().unwrap_or(f64::INFINITY),
                ..GapObservation::at(station, kept.take.gap_mm, kept.take.own_u_mm())
            })
            .collect();
        // One head, one calibration: what its takes share moves them together.
        let shared = [Source::Zero, Source::Slope, Source::EyeScale, Source::Temperature]
            .into_iter()
            .map(|source| {
                let largest = kept.iter().map(|(_, k)| k.take.effect_mm(source).abs()).fold(0.0, f64::max);
                SharedError { name: source.name().to_owned(), u_mm: largest, dof: f64::INFINITY }
            })
            .filter(|shared| shared.u_mm > 0.0)
            .collect();
        Observations { gaps, lean: None, shared }
    }

    /// The verdict over everything that the job judges.
    pub fn whole(&self, job: &Job, board: &Board) -> Whole {
        let band = job.bands.gap_mm;
        let points = board.control_points(job.image.width_mm, job.image.height_mm);
        let missing: Vec<String> =
            self.rows().filter(|(_, kept)| kept.is_none()).map(|(s, _)| s.name.clone()).collect();
        let observations = self.observations();
        let fitted = if self.taken() < 3 {
            Err(Undecided::Missing(missing.clone()))
        } else {
            fit::fit(&observations, board).map_err(Undecided::Plane)
        };
        let board = fitted.map(|fit| {
            let judged = verdict::judge(&fit, &points, band);
            (fit, judged)
        });
        let level = job.bands.level_deg.map(|band| self.tilt(band, true));
        let lean = job.bands.lean_deg.map(|band| self.tilt(band, false));
        // A station that is itself out is out, whatever the plane says of its neighbours.
        let beyond = |gap_mm: f64| (band.low - gap_mm).max(gap_mm - band.high);
        let out = self
            .rows()
            .filter_map(|(station, kept)| Some((station.name.clone(), kept?)))
            .filter(|(_, kept)| kept.verdict == Verdict::Outside)
            .map(|(name, kept)| (name, kept.take.gap_mm))
            .max_by(|(_, a), (_, b)| beyond(*a).total_cmp(&beyond(*b)));
        let word = |tilt: &Result<TiltVerdict, Undecided>| tilt.as_ref().map_or(Verdict::Unsure, |tilt| tilt.verdict);
        let parts = [
            Some(board.as_ref().map_or(Verdict::Unsure, |(_, judged)| judged.verdict)),
            level.as_ref().map(word),
            lean.as_ref().map(word),
            (!missing.is_empty()).then_some(Verdict::Unsure),
        ];
        let verdict = Verdict::of_all(parts.into_iter().flatten().chain(out.as_ref().map(|_| Verdict::Outside)));
        Whole { verdict, observations, out, board, level, lean }
    }

    fn places(&self) -> usize {
        self.stations.len() + usize::from(self.judges_tilt)
    }

    /// The emitter's tilt against the board's: its top edge for level, all stations for lean.
    fn tilt(&self, band: Band, level: bool) -> Result<TiltVerdict, Undecided> {
        let emitter = self.emitter.ok_or_else(|| Undecided::Missing(vec!["emitter".to_owned()]))?;
        let of_board: Vec<(f64, f64)> = self
            .rows()
            .filter(|(station, _)| !level || station.y_mm >= -1.0)
            .filter_map(|(_, kept)| {
                kept.map(|k| (if level { k.take.level_deg } else { k.take.lean_deg }, k.take.tilt_u_deg))
            })
            .collect();
        if of_board.is_empty() {
            return Err(Undecided::Missing(vec![
                if level { "a station on the top edge" } else { "a station" }.to_owned(),
            ]));
        }
        let count = of_board.len() as f64;
        let mean = of_board.iter().map(|(tilt, _)| tilt).sum::<f64>() / count;
        // The head's own offset is in both and falls out; counting it twice all the same is on the safe side.
        let u =
            (of_board.iter().map(|(_, u)| u * u).sum::<f64>() / count / count + emitter.u_deg * emitter.u_deg).sqrt();
        let value_deg = if level { emitter.level_deg } else { emitter.lean_deg } - mean;
        let expanded_deg = expanded(u, None);
        Ok(TiltVerdict { value_deg, expanded_deg, verdict: Verdict::of(value_deg, expanded_deg, band) })
    }
}

impl Whole {
    /// Why the word is not `within`, in one sentence for the screen; empty if it is.
    pub fn because(&self, band: Band) -> String {
        let tilt = [("level", &self.level), ("lean", &self.lean)];
        let lies = |gap_mm: f64, place: &str| {
            let side = if gap_mm < band.low { "below" } else { "above" };
            format!("{gap_mm:.2} mm {place} lies {side} the band")
        };
        if let Ok((_, judged)) = &self.board
            && judged.verdict == Verdict::Outside
            && let Some(worst) = judged.limiting.and_then(|at| judged.points.get(at))
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
        match &self.board {
            Err(Undecided::Missing(names)) => return format!("take {}", names.join(", ")),
            Err(Undecided::Plane(error)) => return error.to_string(),
            Ok((_, judged)) => {
                if let Some(remedy) = &judged.remedy {
                    return remedy_words(remedy);
                }
            }
        }
        for (name, tilt) in tilt {
            match tilt {
                Some(Err(Undecided::Missing(names))) => return format!("for {name}, take {}", names.join(", ")),
                Some(Ok(tilt)) if tilt.verdict == Verdict::Unsure => {
                    return format!("{name} {:+.2} degrees is too close to call", tilt.value_deg);
                }
                _ => (),
            }
        }
        if self.verdict == Verdict::Within { String::new() } else { "take the stations that are missing".to_owned() }
    }
}

/// What would settle a verdict, in words.
pub fn remedy_words(remedy: &verdict::Remedy) -> String {
    use verdict::Remedy;
    match remedy {
        Remedy::MoreTakes { times } => format!(
            "{:.0} times as many seats would settle it: lift the head, clip it on again and take one more",
            times.ceil().max(2.0)
        ),
        Remedy::BetterZero => "only a better zero of the head would settle it".to_owned(),
        Remedy::SurveyBoard => "survey the board, or take more stations: its shape is not known well enough".to_owned(),
        Remedy::Retake => "the takes contradict one another: take the worst one again".to_owned(),
        Remedy::Trim => "it lies on the limit: turn it further into the band".to_owned(),
    }
}

/// A place on the image as a person on a ladder finds it.
pub fn place_name(x_mm: f64, y_mm: f64) -> String {
    let across = if x_mm.abs() < 1.0 {
        "in the middle".to_owned()
    } else {
        format!("{:.0} mm {} of the middle", x_mm.abs(), if x_mm < 0.0 { "left" } else { "right" })
    };
    if y_mm > -1.0 { format!("{across}, at the top edge") } else { format!("{across}, {:.0} mm down", -y_mm) }
}

/// Half width of the 95 % interval.
pub fn expanded(u: f64, dof: Option<f64>) -> f64 {
    let dof = dof.unwrap_or(f64::INFINITY);
    coverage::expand(u, dof, coverage::LEVEL, coverage::DofRule::AsIs).map_or(f64::INFINITY, |e| e.expanded)
}
