//! The stations of a job and the takes at them.

use super::kept::{EmitterTilt, Kept};
use crate::word::Stop;
use skimgauge_jobfile::Job;
use skimgauge_metrology::coverage;
use skimgauge_metrology::measure::seats::{self, Seats};
use skimgauge_metrology::measure::{Came, Source, Take};
use skimgauge_metrology::plane::observation::{GapObservation, Observations, SharedError};
use skimgauge_metrology::plane::seating::{Seating, StatedSeat};
use skimgauge_metrology::verdict::decide;
use skimgauge_model::Station;
use skimgauge_quantity::{Band, Mm};

/// What is stated of the scatter from seat to seat weighs as much as so many seats more. Common
/// practice, no source.
pub(super) const STATED_DOF: f64 = 10.0;

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
    /// Takes kept after everything had one: each is another look at the same setting.
    again: u32,
    /// Looks at this setting in earlier runs.
    looked: u32,
    /// With the emitter off a line of light stayed, and nobody has seen it gone since.
    line_stays: bool,
}

impl Stations {
    /// Those of the job, without takes.
    pub fn of(job: &Job) -> Self {
        Self {
            kept: vec![None; job.stations.len()],
            replaced: vec![Vec::new(); job.stations.len()],
            stations: job.stations.clone(),
            judges_tilt: job.bands.judge_tilt(),
            emitter: None,
            at: 0,
            last: None,
            again: 0,
            looked: 0,
            line_stays: false,
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
    pub fn stop(&self) -> Stop {
        if self.at < self.stations.len() { Stop::Station(self.at) } else { Stop::Emitter }
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

    /// Where this name or number, counted from 1, leads; `emitter` where the job asks for its tilt.
    pub fn named(&self, text: &str) -> Option<Stop> {
        let text = text.trim();
        if text.eq_ignore_ascii_case("emitter") {
            return self.judges_tilt.then_some(Stop::Emitter);
        }
        let numbered =
            text.parse().ok().filter(|number| (1..=self.stations.len()).contains(number));
        let named =
            || self.stations.iter().position(|station| station.name.eq_ignore_ascii_case(text));
        numbered.map(|number: usize| number - 1).or_else(named).map(Stop::Station)
    }

    /// Goes there, if there is such a station, or the emitter's tilt is asked for; whether it is.
    pub fn go(&mut self, to: Stop) -> bool {
        let at = match to {
            Stop::Station(at) if at < self.stations.len() => at,
            Stop::Emitter if self.judges_tilt => self.stations.len(),
            _ => return false,
        };
        self.at = at;
        true
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

    /// Stations whose last take came back the same as most of those before it there, each from
    /// another seat: one that was taken elsewhere by mistake is no second look, and does not stand
    /// against several.
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
                let before = || earlier.iter().chain(*replaced);
                let agreeing = before().filter(|take| same(take, last)).count();
                2 * agreeing > before().count()
            })
            .map(|((station, _), _)| station.name.clone())
            .collect()
    }

    /// Keeps what stands at a station.
    pub fn keep(&mut self, at: usize, kept: Kept) {
        self.again += u32::from(self.kept.iter().all(Option::is_some));
        if let Some(place) = self.kept.get_mut(at) {
            *place = Some(kept);
            self.last = Some(at);
        }
    }

    /// Forgets what stands at a station.
    pub fn forget(&mut self, at: usize) {
        if let (Some(kept), Some(replaced)) = (self.kept.get_mut(at), self.replaced.get_mut(at)) {
            (*kept, *replaced) = (None, Vec::new());
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
        (self.again, self.looked) = (0, 0);
    }

    /// What the last look with the emitter off saw: a line of light that stays may be what the head
    /// reads, or nothing.
    pub fn line_stays(&mut self, stays: bool) {
        self.line_stays = stays;
    }

    /// Whether a line of light stayed with the emitter off, and nobody has seen it gone since.
    pub fn has_line(&self) -> bool {
        self.line_stays
    }

    /// This same setting was judged so often before, in earlier runs.
    pub fn was_looked_at(&mut self, looked: u32) {
        (self.again, self.looked) = (0, looked);
    }

    /// How many times this setting has been judged with every station taken, this time included:
    /// whoever looks until it passes is right less often than whoever looks once.
    pub fn looks(&self) -> u32 {
        1 + self.again + self.looked
    }

    /// How the seats of all stations scatter, against what is stated of them; `None` where no
    /// station was taken from a second seat.
    pub fn seating(&self) -> Option<Seating> {
        let of_kept = || self.kept.iter().flatten();
        let groups: Vec<Vec<f64>> =
            of_kept().map(|kept| kept.seats.iter().map(|seat| seat.gap_mm).collect()).collect();
        let groups: Vec<&[f64]> = groups.iter().map(Vec::as_slice).collect();
        let stated = of_kept().flat_map(|kept| kept.seats.iter().map(of_a_seat_mm));
        let u_mm = stated.fold(0.0, f64::max);
        // What the zero's seats showed of it is in there.
        let dof = of_kept().flat_map(|kept| &kept.seats).filter_map(dof_of_a_seat);
        let dof = dof.fold(STATED_DOF, f64::max);
        let seating = (u_mm > 0.0).then(|| Seating::of(StatedSeat { u_mm, dof }, &groups));
        seating.filter(|seating| seating.shown_mm.is_some())
    }

    /// How many stations have a take.
    pub fn taken(&self) -> usize {
        self.kept.iter().flatten().count()
    }

    /// Takes as the plane wants them.
    pub fn observations(&self) -> Observations {
        let kept: Vec<(&Station, &Kept)> =
            self.rows().filter_map(|(s, kept)| Some((s, kept?))).collect();
        let worse = self.seating().filter(|seating| seating.is_worse);
        let gaps = kept
            .iter()
            .map(|(station, kept)| {
                let (mut u_mm, mut dof) =
                    (kept.take.own_u_mm(), kept.take.own_dof().unwrap_or(f64::INFINITY));
                if let Some(seating) = worse {
                    let seat_mm = seating.u_mm / (kept.seats.len().max(1) as f64).sqrt();
                    if seat_mm > of_a_seat_mm(&kept.take) {
                        u_mm = (u_mm.powi(2) - of_a_seat_mm(&kept.take).powi(2)).max(0.0).sqrt();
                        u_mm = u_mm.hypot(seat_mm);
                        dof = dof.min(seating.dof);
                    }
                }
                GapObservation { dof, ..GapObservation::at(station, kept.take.gap_mm, u_mm) }
            })
            .collect();
        // One head, one calibration: what its takes share moves them together. The feet stand on the
        // board, so that the stand-off hardly changes: what its scale is wrong by is an offset, too.
        let largest = |source: Source| {
            kept.iter().map(|(_, k)| k.take.effect_mm(source).abs()).fold(0.0, f64::max)
        };
        let shared = [Source::Zero, Source::Slope, Source::Material, Source::Temperature]
            .map(|source| SharedError::even(source.name(), largest(source), f64::INFINITY))
            .into_iter()
            .filter(|shared| shared.u_mm > 0.0)
            .collect();
        Observations { gaps, lean: None, shared }
    }

    fn places(&self) -> usize {
        self.stations.len() + usize::from(self.judges_tilt)
    }
}

/// How well it is known how a seat scatters, where it is not taken as known.
fn dof_of_a_seat(take: &Take) -> Option<f64> {
    take.parts.iter().find(|part| part.source == Source::Seating)?.dof
}

/// What a take has to itself, seat by seat, mm.
fn of_a_seat_mm(take: &Take) -> f64 {
    take.effect_mm(Source::Seating).hypot(take.effect_mm(Source::Scatter))
}

/// Half width of the 95 % interval.
pub fn expanded(u: f64, dof: Option<f64>) -> f64 {
    let dof = dof.unwrap_or(f64::INFINITY);
    coverage::expand(u, dof, coverage::LEVEL, coverage::DofRule::AsIs)
        .map_or(f64::INFINITY, |e| e.expanded)
}
