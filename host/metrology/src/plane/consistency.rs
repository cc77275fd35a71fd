//! Whether the readings of one round go together: what checks each of them, and which is the odd
//! one where they contradict one another.
//!
//! A reading is checked by the others as far as the plane need not go through it: that share of an
//! error in it shows as a residual, the rest bends the plane unseen. It is the local redundancy of
//! a network adjustment, one less the leverage (W. Baarda, "A testing procedure for use in geodetic
//! networks", 1968; from memory). The odd one is found by leaving out one place after the other:
//! chi-square then falls by the square of that place's normalized residual.

use super::Plane;
use super::board::{Board, ControlPoint};
use super::fit::{Agreement, PlaneFit, bare};
use super::gathered::{gathered, near};
use super::observation::{GapObservation, Observations};
use super::refusal::SAME_PLACE_MM;
use nalgebra::{Matrix3, Vector3};
use serde::{Deserialize, Serialize};

/// A place whose error shows by less than this share is not checked. At 0.06 mm a reading that is
/// wrong by 1.1 mm is then found in four of five cases (at one alarm in a thousand), and at a
/// smaller share only a larger one.
pub const LEAST_REDUNDANCY: f64 = 0.05;

/// Of two places, either of which explains the contradiction, the one is named alone where the
/// readings are so many times as likely with it as with the other, as a difference of chi-square:
/// twice the logarithm of 20.
const EQUALLY: f64 = 5.99;

/// Places that are left out in turn: those that fit worst.
const MOST_LEFT_OUT: usize = 16;

/// The readings at one place, as one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaceRead {
    /// The station's name, or the position in words.
    pub name: String,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// Weighted mean of the gaps read there, mm.
    pub gap_mm: f64,
    /// Its standard uncertainty, without what all readings share, mm. Where the readings there do
    /// not agree, their own scatter, if that is more.
    pub u_mm: f64,
    /// Degrees of freedom of it; `None` where it is taken as known.
    pub dof: Option<f64>,
    /// How many readings.
    pub readings: usize,
    /// Largest less smallest, mm, where the readings there differ by more than their uncertainties
    /// explain.
    pub differ_mm: Option<f64>,
    /// Share of an error here that would show, 0 to 1.
    pub redundancy: f64,
}

/// How the odd reading is told from the others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Explains {
    /// Without the one suspect the others agree, and without none of the others do they as well.
    One,
    /// Without any one of the suspects the others agree about as well.
    Any,
    /// Whichever one is left out, the others contradict one another still; the suspects fit worst,
    /// and alike.
    None,
}

/// A place that may be the odd one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Suspect {
    /// The station's name, or the position in words.
    pub name: String,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// The gap read there, mm.
    pub gap_mm: f64,
    /// What the other readings say it should be, mm; `None` where they decide no plane without it.
    pub expected_mm: Option<f64>,
    /// Standard uncertainty of the difference, mm.
    pub u_off_mm: Option<f64>,
    /// How many readings there are.
    pub readings: usize,
    /// Largest less smallest, mm, where the readings there do not agree.
    pub differ_mm: Option<f64>,
    /// Read again from a new seat it came back the same: it is not misread.
    pub came_back: bool,
}

/// What the contradiction comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Odd {
    /// How it is told.
    pub explains: Explains,
    /// The places to read again; one or more.
    pub suspects: Vec<Suspect>,
}

/// What the readings say of one another.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Consistency {
    /// Each place read, once, in the order of the readings.
    pub places: Vec<PlaceRead>,
    /// Which is odd, where they contradict one another.
    pub odd: Option<Odd>,
}

impl Suspect {
    /// Read less expected gap, mm.
    pub fn off_mm(&self) -> Option<f64> {
        Some(self.gap_mm - self.expected_mm?)
    }

    /// The place, with what the others say of it and its standard uncertainty, mm.
    fn of(place: &PlaceRead, others_say: Option<(f64, f64)>) -> Self {
        Self {
            name: place.name.clone(),
            x_mm: place.x_mm,
            y_mm: place.y_mm,
            gap_mm: place.gap_mm,
            expected_mm: others_say.map(|(expected_mm, _)| expected_mm),
            u_off_mm: others_say.map(|(_, u_mm)| u_mm.hypot(place.u_mm)),
            readings: place.readings,
            differ_mm: place.differ_mm,
            came_back: place.readings > 1 && place.differ_mm.is_none(),
        }
    }
}

impl Odd {
    /// Whether every suspect came back the same: then nothing was misread, and the board is not
    /// what was assumed.
    pub fn came_back(&self) -> bool {
        !self.suspects.is_empty() && self.suspects.iter().all(|suspect| suspect.came_back)
    }

    /// The suspects that are to be read again.
    pub fn to_read_again(&self) -> impl Iterator<Item = &Suspect> {
        self.suspects.iter().filter(|suspect| !suspect.came_back)
    }
}

impl Consistency {
    pub(super) fn of(observations: &Observations, board: &Board, fitted: &PlaneFit) -> Self {
        let (mut places, place_of) = gathered(&observations.gaps);
        let lean_weight = observations.lean.map_or(0.0, |lean| lean.u_mm_per_m.powi(-2));
        redundancies(&mut places, |x_mm, y_mm| board.at(x_mm, y_mm).u_mm.powi(2), lean_weight);
        let odd = (fitted.agreement == Agreement::Contradicts)
            .then(|| Odd::among(&places, &place_of, observations, board, fitted));
        Self { places, odd }
    }

    /// Places where an error would hardly show in the residuals: with three places, and no lean,
    /// all of them.
    pub fn unchecked(&self) -> impl Iterator<Item = &PlaceRead> {
        self.places.iter().filter(|place| place.redundancy < LEAST_REDUNDANCY)
    }

    /// Whether an error at any one place would show.
    pub fn is_checked(&self) -> bool {
        self.unchecked().next().is_none()
    }

    /// Readings that differ by more than a seat scatters did not come back the same, however
    /// little sure they are stated to be.
    pub(crate) fn held_to_seats(&mut self, gaps: &[GapObservation], seat_u_mm: f64) {
        let as_seats =
            |gap: &GapObservation| GapObservation { u_mm: gap.u_mm.min(seat_u_mm), ..gap.clone() };
        let places = gathered(&gaps.iter().map(as_seats).collect::<Vec<_>>()).0;
        for suspect in self.odd.iter_mut().flat_map(|odd| &mut odd.suspects) {
            let is_it = |place: &&PlaceRead| {
                place.name == suspect.name
                    && (place.x_mm, place.y_mm) == (suspect.x_mm, suspect.y_mm)
            };
            if suspect.came_back
                && let Some(differ_mm) = places.iter().find(is_it).and_then(|place| place.differ_mm)
            {
                (suspect.came_back, suspect.differ_mm) = (false, Some(differ_mm));
            }
        }
    }

    /// These places were read again from a new seat, and it came back the same.
    pub fn came_back(&mut self, names: &[String]) {
        for suspect in self.odd.iter_mut().flat_map(|odd| &mut odd.suspects) {
            suspect.came_back |= names.contains(&suspect.name);
        }
    }
}

/// Which of the `candidates` (x and y, mm), read once with standard uncertainty `u_mm`, would best
/// check the plane with the places read: the one after which the worst checked place is checked
/// best. `None` without candidates.
pub fn best_check(
    consistency: &Consistency,
    candidates: &[(f64, f64)],
    u_mm: f64,
) -> Option<usize> {
    let worst_after = |&(x_mm, y_mm): &(f64, f64)| {
        let mut places = consistency.places.clone();
        let further = GapObservation::bare(x_mm, y_mm, 0.0, u_mm);
        match places.iter_mut().find(|place| near(place, &further)) {
            Some(known) => known.u_mm = (known.u_mm.powi(-2) + u_mm.powi(-2)).powf(-0.5),
            None => places.push(PlaceRead::of(&further)),
        }
        redundancies(&mut places, |_, _| 0.0, 0.0);
        places.iter().map(|place| place.redundancy).fold(1.0, f64::min)
    };
    let rated: Vec<f64> = candidates.iter().map(worst_after).collect();
    (0..rated.len()).max_by(|&a, &b| rated[a].total_cmp(&rated[b]).then(b.cmp(&a)))
}

impl PlaceRead {
    /// Whether a control point is at this place.
    pub(crate) fn is_at(&self, point: &ControlPoint) -> bool {
        (self.x_mm - point.x_mm).hypot(self.y_mm - point.y_mm) <= SAME_PLACE_MM
    }
}

/// Fills in which share of an error at each place would show, for a plane without any further
/// unknown.
fn redundancies(places: &mut [PlaceRead], rough: impl Fn(f64, f64) -> f64, lean_weight: f64) {
    let bearing = |place: &PlaceRead| Vector3::from(Plane::bearing(place.x_mm, place.y_mm));
    let weights: Vec<f64> =
        places.iter().map(|p| 1.0 / (p.u_mm * p.u_mm + rough(p.x_mm, p.y_mm))).collect();
    let mut normal = Matrix3::zeros();
    normal[(2, 2)] = lean_weight;
    for (place, weight) in places.iter().zip(&weights) {
        let b = bearing(place);
        normal += b * b.transpose() * *weight;
    }
    let Some(factor) = normal.cholesky() else { return };
    for (place, weight) in places.iter_mut().zip(weights) {
        let b = bearing(place);
        let shows = 1.0 - weight * b.dot(&factor.solve(&b));
        place.redundancy = if shows.is_finite() { shows.clamp(0.0, 1.0) } else { 0.0 };
    }
}

/// What one place's absence does.
struct LeftOut {
    suspect: Suspect,
    /// By so much chi-square falls.
    falls: f64,
    /// The others do not contradict one another.
    agree: bool,
}

impl Odd {
    fn among(
        places: &[PlaceRead],
        place_of: &[usize],
        observations: &Observations,
        board: &Board,
        fitted: &PlaneFit,
    ) -> Self {
        let mut off = vec![0.0f64; places.len()];
        for left in &fitted.residuals {
            let at = place_of[left.index];
            off[at] = off[at].max(left.normalized.map_or(0.0, f64::abs));
        }
        let mut order: Vec<usize> = (0..places.len()).collect();
        order.sort_by(|&a, &b| off[b].total_cmp(&off[a]));
        order.truncate(MOST_LEFT_OUT);
        let left_out: Vec<LeftOut> = order
            .iter()
            .filter_map(|&at| without(at, places, place_of, observations, board, fitted))
            .collect();
        // Where none explains it, those that fit worst.
        let any = left_out.iter().any(|left| left.agree);
        let likely = || left_out.iter().filter(|left| left.agree || !any);
        let best = likely().map(|left| left.falls).fold(f64::NEG_INFINITY, f64::max);
        let alike = likely().filter(|left| left.falls >= best - EQUALLY);
        let mut suspects: Vec<Suspect> = alike.map(|left| left.suspect.clone()).collect();
        let explains = match suspects.len() {
            _ if !any => Explains::None,
            1 => Explains::One,
            _ => Explains::Any,
        };
        if suspects.is_empty() {
            suspects = not_alone(places).map(|place| Suspect::of(place, None)).collect();
        }
        Self { explains, suspects }
    }
}

/// Where no place can be left out, one contradicts itself: those whose readings do not agree, and
/// where that is none by itself, those read more than once.
fn not_alone(places: &[PlaceRead]) -> impl Iterator<Item = &PlaceRead> {
    let any = places.iter().any(|place| place.differ_mm.is_some());
    places
        .iter()
        .filter(move |place| if any { place.differ_mm.is_some() } else { place.readings > 1 })
}

/// The fit without one place; `None` where the others decide no plane, or hardly: then that place
/// cannot be told odd.
fn without(
    at: usize,
    places: &[PlaceRead],
    place_of: &[usize],
    observations: &Observations,
    board: &Board,
    fitted: &PlaneFit,
) -> Option<LeftOut> {
    let place = &places[at];
    if place.redundancy < 1e-6 {
        return None;
    }
    let others = observations
        .gaps
        .iter()
        .zip(place_of)
        .filter(|(_, of)| **of != at)
        .map(|(gap, _)| gap.clone());
    let others = Observations { gaps: others.collect(), ..observations.clone() };
    let rest = bare(&others, board).ok()?;
    let expected = rest.gap_at(&board.point(place.x_mm, place.y_mm));
    let own2 = expected.u_mm.powi(2) - expected.u_shared_mm.powi(2);
    Some(LeftOut {
        falls: fitted.chi_square - rest.chi_square,
        agree: rest.agreement != Agreement::Contradicts,
        suspect: Suspect::of(place, Some((expected.gap_mm, own2.max(0.0).sqrt()))),
    })
}
