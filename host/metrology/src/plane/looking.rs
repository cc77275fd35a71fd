//! Which places to survey so that a verdict becomes possible, and how long that takes.

use super::apart_mm;
use super::between::{Between, MOST_CHANCE};
use super::chances::{Chances, Doubt};
use super::ground::Ground;
use super::prior::Told;
use super::strays::Strays;
use crate::trim::person::Person;
use skimgauge_quantity::{Band, Mm};

/// More places than this are not asked of anybody at once.
pub const MOST_PLACES: usize = 80;

/// Of the chance that may be left, this share is aimed at: a survey finds something now and then,
/// and where its readings scatter, what looks like something.
const AIM_SHARE: f64 = 0.2;

/// Where that is out of reach, more than this share promises nothing: once its readings are fitted a
/// survey that finds nothing leaves up to four times what is forecast.
const PROMISED_SHARE: f64 = 0.25;

/// Places to survey.
#[derive(Debug, Clone, PartialEq)]
pub struct Looking {
    /// Where, in an order that a person walks: rows from the top, back and forth. Millimetres right
    /// of the image's middle and above its top edge.
    pub places: Vec<(f64, f64)>,
    /// How long that takes, seconds.
    pub seconds: f64,
    /// The chance that the gap is out somewhere, should the survey find nothing new.
    pub chance_after: f64,
    /// Whether a verdict of `within` is to be had from it.
    pub settles: bool,
}

/// Finds them: place after place where the chance of being out is largest, each reading (standard
/// uncertainty `u_mm`) taking the board's local form away round it. `known` are places surveyed or
/// read already; `looks` the verdicts on this setting with the one that follows the survey: whoever
/// looks until it passes is held to less chance each time.
pub fn places_to_survey(
    ground: &Ground,
    between: &Between,
    known: &[(f64, f64)],
    band: Band<Mm>,
    u_mm: f64,
    person: &Person,
    looks: u32,
) -> Looking {
    let allowed = MOST_CHANCE / f64::from(looks.max(1));
    let mut unknown = Unknown::new(ground, between, u_mm);
    known.iter().for_each(|&at| unknown.knows(at));
    let mut chances = unknown.chances(band);
    let mut chance = ground.anywhere(&chances);
    let mut places = Vec::new();
    while chance > AIM_SHARE * allowed && places.len() < MOST_PLACES {
        // What one reading there would take away: the chance all round it.
        let weight = |at: usize| {
            let (out, lifted) = chances.at(at);
            (ground.share() * out + ground.lifts_at(at) * lifted) * unknown.left[at]
        };
        let weights: Vec<f64> = (0..unknown.at.len()).map(weight).collect();
        let next = (0..weights.len()).max_by(|&a, &b| weights[a].total_cmp(&weights[b]));
        let Some(next) = next.filter(|&at| unknown.left[at] > 1.5 * u_mm * u_mm) else { break };
        let at = unknown.at[next];
        places.push(at);
        for changed in unknown.read(at) {
            chances.set(changed, &unknown.doubt(changed), &unknown.told[changed]);
        }
        chance = ground.anywhere(&chances);
    }
    let chance_after = ground.anywhere(&unknown.chances(band));
    walk(&mut places);
    Looking {
        seconds: person.survey_s(places.len()),
        places,
        chance_after,
        settles: chance_after <= PROMISED_SHARE * allowed,
    }
}

/// Rows from the top, back and forth.
fn walk(places: &mut [(f64, f64)]) {
    const ROW_MM: f64 = 200.0;
    let row = |y_mm: f64| (-y_mm / ROW_MM).round() as i64;
    places.sort_by(|a, b| {
        let (ra, rb) = (row(a.1), row(b.1));
        let across = if ra % 2 == 0 { a.0.total_cmp(&b.0) } else { b.0.total_cmp(&a.0) };
        ra.cmp(&rb).then(across)
    });
}

/// The local form not yet known on the fine grid.
struct Unknown<'a> {
    ground: &'a Ground,
    between: &'a Between,
    strays: Strays,
    u2: f64,
    at: Vec<(f64, f64)>,
    /// Variance left at each place, mm^2.
    left: Vec<f64>,
    /// What the readings tell of a lift at each place.
    told: Vec<Told>,
    /// For each reading so far what it shares with every place.
    seen: Vec<Vec<f64>>,
}

impl<'a> Unknown<'a> {
    fn new(ground: &'a Ground, between: &'a Between, u_mm: f64) -> Self {
        // On a surveyed board the survey tells how the edges stray, too.
        let strays = match ground.is_surveyed() {
            true => Strays { edge_mm: 0.0, ..ground.strays() },
            false => ground.strays().times(between.raised),
        };
        let at: Vec<(f64, f64)> = between.places.iter().map(|p| (p.x_mm, p.y_mm)).collect();
        let left = at.iter().map(|&at| strays.variance(at)).collect();
        let told = ground.told().to_vec();
        Self { ground, between, strays, u2: u_mm * u_mm, at, left, told, seen: Vec::new() }
    }

    fn nearest(&self, (x_mm, y_mm): (f64, f64)) -> Option<usize> {
        let apart: Vec<f64> = self.at.iter().map(|&at| apart_mm(at, (x_mm, y_mm))).collect();
        (0..apart.len()).min_by(|&a, &b| apart[a].total_cmp(&apart[b]))
    }

    /// A place known already: what it tells of lifts the ground has.
    fn knows(&mut self, at: (f64, f64)) {
        if let Some(here) = self.nearest(at) {
            self.form_read(here);
        }
    }

    /// A reading at the grid's place that is nearest; the places about which it says something.
    fn read(&mut self, (x_mm, y_mm): (f64, f64)) -> Vec<usize> {
        /// A change by less than this share of what was known is none.
        const CHANGES: f64 = 0.01;
        let Some(here) = self.nearest((x_mm, y_mm)) else { return Vec::new() };
        let before = (self.told.clone(), self.left.clone());
        for (told, &(x, y)) in self.told.iter_mut().zip(&self.at) {
            told.read(apart_mm((x, y), (x_mm, y_mm)), self.u2.sqrt());
        }
        self.form_read(here);
        let changed = |k: &usize| {
            self.left[*k] < (1.0 - CHANGES) * before.1[*k]
                || self.told[*k].is_more_than(&before.0[*k], CHANGES)
        };
        (0..self.at.len()).filter(changed).collect()
    }

    /// What a reading takes away of the local form.
    fn form_read(&mut self, here: usize) {
        let spread = (self.left[here] + self.u2).sqrt();
        let shared: Vec<f64> = (0..self.at.len())
            .map(|k| {
                let all = self.strays.covariance(self.at[k], self.at[here]);
                let told: f64 = self.seen.iter().map(|s| s[k] * s[here]).sum();
                (all - told) / spread
            })
            .collect();
        self.left.iter_mut().zip(&shared).for_each(|(left, s)| *left = (*left - s * s).max(0.0));
        self.seen.push(shared);
    }

    fn doubt(&self, place: usize) -> Doubt {
        Doubt { local: self.left[place], ..self.between.places[place].doubt() }
    }

    fn chances(&self, band: Band<Mm>) -> Chances {
        let doubts: Vec<Doubt> = (0..self.at.len()).map(|k| self.doubt(k)).collect();
        Chances::new(&doubts, &self.told, self.ground.lifts(), band)
    }
}
