//! The stations of a job and the takes at them.

use serde::Serialize;
use skimgauge_jobfile::Job;
use skimgauge_metrology::coverage;
use skimgauge_metrology::measure::seats::{self, Seats};
use skimgauge_metrology::measure::{Came, Source, Take};
use skimgauge_metrology::plane::observation::{GapObservation, Observations, SharedError};
use skimgauge_metrology::verdict::decide;
use skimgauge_model::{Station, Verdict};
use skimgauge_quantity::{Band, Mm};
use skimgauge_record::chain::Hash;

pub use super::whole::{TiltVerdict, Undecided, Whole, remedy_words};

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

/// How the emitter itself stands, taken with the head on it: against gravity, as yet without the
/// board.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EmitterTilt {
    /// Turn in the board's plane, degrees.
    pub level_deg: f64,
    /// Toward the board, degrees.
    pub lean_deg: f64,
    /// Standard uncertainty of either, degrees.
    pub u_deg: f64,
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
    /// By station, the takes that were replaced by one from another seat.
    replaced: Vec<Vec<Take>>,
    judges_tilt: bool,
    emitter: Option<EmitterTilt>,
    at: usize,
    /// The place taken last.
    last: Option<usize>,
}

impl Stations {
    /// Those of the job, without takes.
    pub fn of(job: &Job) -> Self {
        Self {
            kept: vec![None; job.stations.len()],
            replaced: vec![Vec::new(); job.stations.len()],
            stations: job.stations.clone(),
            judges_tilt: job.bands.level.is_some() || job.bands.lean.is_some(),
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

    /// Which place this name or number, counted from 1, means; `emitter` where the job asks for its
    /// tilt.
    pub fn named(&self, text: &str) -> Option<usize> {
        let text = text.trim();
        if text.eq_ignore_ascii_case("emitter") {
            return self.judges_tilt.then_some(self.stations.len());
        }
        let numbered =
            text.parse().ok().filter(|number| (1..=self.stations.len()).contains(number));
        let named =
            || self.stations.iter().position(|station| station.name.eq_ignore_ascii_case(text));
        numbered.map(|number: usize| number - 1).or_else(named)
    }

    /// Goes to a place by its index; the emitter, where it is asked for, comes after the last
    /// station and for every higher index.
    pub fn go(&mut self, to: usize) {
        self.at = to.min(self.places() - 1);
    }

    /// Where nothing is taken here yet: back to the place taken last, if there is one, and whether
    /// that was done. A take moves on by itself, so what is said of a take most often means the
    /// place before.
    pub fn back_to_last(&mut self) -> bool {
        let taken_here = if self.at < self.stations.len() {
            self.here().is_some()
        } else {
            self.emitter.is_some()
        };
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
        if let Some(next) =
            (1..=places).map(|step| (self.at + step) % places).find(|at| missing(*at))
        {
            self.at = next;
        }
    }

    /// What stands at a station with this take: beside what stood there, as one more seat, or in
    /// the place of the last. `None` if there is no such station.
    pub fn with(&self, at: usize, take: Take, beside: bool, band: Band<Mm>) -> Option<Kept> {
        let mut seats =
            self.kept.get(at)?.as_ref().map_or_else(Vec::new, |kept| kept.seats.clone());
        if !beside {
            seats.pop();
        }
        seats.push(take);
        let (take, agree) = seats::mean(&seats)?;
        let expanded_mm = expanded(take.u_mm, take.dof);
        let verdict = decide(Mm(take.gap_mm), Mm(expanded_mm), band);
        Some(Kept { take, seats, agree, event: None, came: Came::default(), expanded_mm, verdict })
    }

    /// Keeps what stands at a station, from a seat that is another than that of what stood there.
    pub fn keep_anew(&mut self, at: usize, kept: Kept) {
        if let Some(Some(before)) = self.kept.get(at)
            && let Some(last) = before.seats.last()
            && kept.seats.len() <= before.seats.len()
        {
            self.replaced[at].push(last.clone());
        }
        self.keep(at, kept);
    }

    /// Stations whose last take came back the same as an earlier one there, from another seat.
    pub fn came_back(&self) -> Vec<String> {
        let same = |a: &Take, b: &Take| {
            seats::mean(&[a.clone(), b.clone()]).is_some_and(|(_, agree)| agree == Seats::Agreeing)
        };
        self.rows()
            .zip(&self.replaced)
            .filter(|((_, kept), replaced)| {
                let Some((last, earlier)) = kept.and_then(|kept| kept.seats.split_last()) else {
                    return false;
                };
                earlier.iter().chain(*replaced).any(|take| same(take, last))
            })
            .map(|((station, _), _)| station.name.clone())
            .collect()
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
        self.replaced.fill(Vec::new());
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
        let kept: Vec<(&Station, &Kept)> =
            self.rows().filter_map(|(s, kept)| Some((s, kept?))).collect();
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
                let largest =
                    kept.iter().map(|(_, k)| k.take.effect_mm(source).abs()).fold(0.0, f64::max);
                SharedError { name: source.name().to_owned(), u_mm: largest, dof: f64::INFINITY }
            })
            .filter(|shared| shared.u_mm > 0.0)
            .collect();
        Observations { gaps, lean: None, shared }
    }

    fn places(&self) -> usize {
        self.stations.len() + usize::from(self.judges_tilt)
    }
}

/// A place on the image as a person on a ladder finds it.
pub fn place_name(x_mm: f64, y_mm: f64) -> String {
    let across = if x_mm.abs() < 1.0 {
        "in the middle".to_owned()
    } else {
        format!("{:.0} mm {} of the middle", x_mm.abs(), if x_mm < 0.0 { "left" } else { "right" })
    };
    if y_mm > -1.0 {
        format!("{across}, at the top edge")
    } else {
        format!("{across}, {:.0} mm down", -y_mm)
    }
}

/// Half width of the 95 % interval.
pub fn expanded(u: f64, dof: Option<f64>) -> f64 {
    let dof = dof.unwrap_or(f64::INFINITY);
    coverage::expand(u, dof, coverage::LEVEL, coverage::DofRule::AsIs)
        .map_or(f64::INFINITY, |e| e.expanded)
}
