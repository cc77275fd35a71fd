//! Lines drawn there and back: breaks, jumps, how often the display reports, fast jitter, and what
//! bends alike on both ways. Straightness by one way alone is the hand's; a straightedge would
//! break the plane.

use crate::plan::{Ask, DASHES, line};
use crate::raw::{Asked, Came, Contact, Proof, Report};
use crate::strays::median;
use crate::taps::{NEAR_MM, is_palm};
use serde::Serialize;
use skimgauge_model::Point;
use skimgauge_quantity::Mm;

/// Within so much of a line's ends a lift is the person's.
const END_MM: f64 = 80.0;
/// A report that stands off from between its neighbours by more is a jump, if it is far more than
/// what they do elsewhere: by this, or by so much of how far touch may stand off with the tool.
const JUMP_MM: f64 = 5.0;
const JUMP_OF_LIMIT: f64 = 0.6;
const JUMP_TIMES: f64 = 8.0;
/// Places along a line where both ways are compared.
const PLACES: usize = 9;

/// One line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stroke {
    /// Which.
    pub stroke: u8,
    /// Drawn length, m.
    pub length_m: f64,
    /// How often touch was lost on the way, and where: mm along the line.
    pub breaks_at_mm: Vec<f64>,
    /// How often it jumped.
    pub jumps: usize,
    /// Reports a second, the median; `None` where the browser does not tell every report.
    pub reports_per_s: Option<f64>,
    /// Fast jitter across the line, standard deviation.
    #[serde(rename = "jitter_mm")]
    pub jitter: Option<Mm>,
    /// What bends alike there and back, the greatest; `None` where one way is missing.
    pub bow: Option<Bow>,
}

/// A bow that repeats.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bow {
    /// Off the straight line, to the left of its way.
    #[serde(rename = "off_mm")]
    pub off: Mm,
    /// How far along the line, share.
    pub along: f64,
    /// It is more than what there and back differ by, all looks counted.
    pub repeats: bool,
}

/// Ten quick dashes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Dashes {
    /// At which mark.
    pub mark: u8,
    /// Drawn.
    pub drawn: usize,
    /// Seen apart.
    pub seen: usize,
}

impl Dashes {
    /// How many run into the one before.
    pub fn joined(&self) -> usize {
        self.drawn.saturating_sub(self.seen)
    }
}

/// How far a place lies beside the stretch of a line, mm, signed: left of its way positive; beyond
/// its ends the distance to them.
pub(crate) fn beside(from: Point, to: Point, at: Point) -> f64 {
    let (along, across, length) = along_across(from, to, at);
    let over = (-along).max(along - length).max(0.0);
    if over > 0.0 { over.hypot(across) } else { across }
}

fn along_across(from: Point, to: Point, at: Point) -> (f64, f64, f64) {
    let (dx, dy) = ((to.x - from.x).0, (to.y - from.y).0);
    let length = dx.hypot(dy).max(1e-9);
    let (x, y) = ((at.x - from.x).0, (at.y - from.y).0);
    ((x * dx + y * dy) / length, (dx * y - dy * x) / length, length)
}

/// Every line.
pub fn strokes(proof: &Proof) -> Vec<Stroke> {
    proof.standing().filter_map(|asked| stroke(proof, asked)).collect()
}

/// A report along and across its line.
#[derive(Debug, Clone, Copy)]
struct Drawn {
    at_ms: f64,
    along: f64,
    across: f64,
}

fn stroke(proof: &Proof, asked: &Asked) -> Option<Stroke> {
    let Ask::Stroke { stroke } = asked.ask else { return None };
    if asked.came != Came::Done {
        return None;
    }
    let (from, to) = line(proof.image, proof.limits.inset, stroke)?;
    let length = from.apart(to).0;
    let own: Vec<&Contact> = asked
        .contacts
        .iter()
        .filter(|contact| !is_palm(proof, contact))
        .filter(|contact| {
            let first = contact.reports().first().map(|report| proof.place(*report));
            first.is_some_and(|at| beside(from, to, at).abs() <= NEAR_MM)
        })
        .collect();
    let pieces: Vec<Vec<Drawn>> = own
        .iter()
        .map(|contact| {
            let drawn = |report: &Report| {
                let (along, across, _) = along_across(from, to, proof.place(*report));
                Drawn { at_ms: report.at_ms, along, across }
            };
            let mut drawn: Vec<Drawn> = contact.reports().iter().map(drawn).collect();
            // Its end is told at the place told last, however fast it went: no report of its own.
            if let [.., before, last] = drawn[..]
                && (before.along, before.across) == (last.along, last.across)
            {
                drawn.pop();
            }
            drawn
        })
        .collect();
    let length_m = pieces.iter().map(|piece| drawn_length(piece)).sum::<f64>() / 1000.0;
    let jump = JUMP_MM.min(JUMP_OF_LIMIT * proof.limits.of(proof.tool).limit.0);
    let secure = own.iter().all(|contact| proof.window_at(contact.down_ms()).secure);
    Some(Stroke {
        stroke,
        length_m,
        breaks_at_mm: breaks(&pieces, length),
        jumps: pieces.iter().map(|piece| jumps(piece, length, jump)).sum(),
        reports_per_s: secure.then(|| rate(&pieces)).flatten(),
        jitter: jitter(&pieces).map(Mm),
        bow: bow(&pieces, length),
    })
}

fn drawn_length(piece: &[Drawn]) -> f64 {
    piece
        .windows(2)
        .map(|two| (two[1].along - two[0].along).hypot(two[1].across - two[0].across))
        .sum()
}

/// Where touch was lost and found again, away from the ends.
fn breaks(pieces: &[Vec<Drawn>], length: f64) -> Vec<f64> {
    let ends = pieces.windows(2).filter_map(|two| {
        let (last, next) = (two[0].last()?, two[1].first()?);
        let at_end = |along: f64| along < END_MM || along > length - END_MM;
        (!(at_end(last.along) && at_end(next.along))).then_some(last.along)
    });
    ends.collect()
}

/// A report off from between its neighbours.
struct Bend {
    /// Where along the line.
    at: f64,
    across: f64,
    along: f64,
    /// By how much a single report's scatter is grown in it.
    grown: f64,
}

/// Each report off from between its two neighbours, by time.
fn bends(piece: &[Drawn]) -> Vec<Bend> {
    piece
        .windows(3)
        .filter_map(|three| {
            let [before, this, after] = [three[0], three[1], three[2]];
            let span = after.at_ms - before.at_ms;
            if span <= 0.0 {
                return None;
            }
            let w = (this.at_ms - before.at_ms) / span;
            let across = this.across - ((1.0 - w) * before.across + w * after.across);
            let along = this.along - ((1.0 - w) * before.along + w * after.along);
            let grown = (1.0 + (1.0 - w).powi(2) + w * w).sqrt();
            Some(Bend { at: this.along, across, along, grown })
        })
        .collect()
}

fn jumps(piece: &[Drawn], length: f64, jump_mm: f64) -> usize {
    let bends = bends(piece);
    if bends.is_empty() {
        return 0;
    }
    let sizes: Vec<f64> = bends.iter().map(|bend| bend.across.hypot(bend.along)).collect();
    let limit = jump_mm.max(JUMP_TIMES * median(sizes.clone()));
    // One jump bends at two or three reports in a row.
    let mut count = 0;
    let mut quiet = 3;
    for (size, here) in sizes.into_iter().zip(bends.iter().map(|bend| bend.at)) {
        // Where the hand turns round everything bends.
        let turns_round = here < END_MM || here > length - END_MM;
        if size > limit && !turns_round {
            if quiet >= 2 {
                count += 1;
            }
            quiet = 0;
        } else {
            quiet += 1;
        }
    }
    count
}

fn rate(pieces: &[Vec<Drawn>]) -> Option<f64> {
    let steps: Vec<f64> = pieces
        .iter()
        .flat_map(|piece| piece.windows(2).map(|two| two[1].at_ms - two[0].at_ms))
        .filter(|step| *step > 0.0)
        .collect();
    (steps.len() >= 10).then(|| 1000.0 / median(steps))
}

/// By the median, so that a jump does not count.
fn jitter(pieces: &[Vec<Drawn>]) -> Option<f64> {
    let sizes: Vec<f64> = pieces
        .iter()
        .flat_map(|piece| bends(piece))
        .map(|bend| (bend.across / bend.grown).abs())
        .collect();
    // The median of a normal error's size is 0.6745 standard deviations.
    (sizes.len() >= 20).then(|| median(sizes) / 0.674_489_75)
}

/// What both ways have in common, less a straight line: the hand wanders anew on each.
fn bow(pieces: &[Vec<Drawn>], length: f64) -> Option<Bow> {
    let all: Vec<Drawn> = pieces.concat();
    let turn = (0..all.len()).max_by(|a, b| all[*a].along.total_cmp(&all[*b].along))?;
    let there = at_places(&all[..=turn], length)?;
    let back = at_places(&all[turn..], length)?;
    let common = straightened(std::array::from_fn(|at| (there[at] + back[at]) / 2.0));
    let differ = straightened(std::array::from_fn(|at| (there[at] - back[at]) / 2.0));
    let dof = PLACES as f64 - 2.0;
    let scatter = (differ.iter().map(|off| off * off).sum::<f64>() / dof).sqrt().max(0.05);
    let (at, off) =
        common.into_iter().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    // Nine looks in each of eight lines, two-sided.
    let level = 1.0 - 0.05 / (PLACES as f64 * 8.0);
    let factor = skimgauge_metrology::coverage::t_factor(level, dof)?;
    let along = place_along(at);
    Some(Bow { off: Mm(off), along, repeats: off.abs() > factor * scatter })
}

fn place_along(at: usize) -> f64 {
    (at as f64 + 1.0) / (PLACES as f64 + 1.0)
}

/// The mean place across, about each of the places along; `None` where one of them has no report.
fn at_places(way: &[Drawn], length: f64) -> Option<[f64; PLACES]> {
    let half = length / (PLACES as f64 + 1.0) / 2.0;
    let mut found = [0.0; PLACES];
    for (at, found) in found.iter_mut().enumerate() {
        let here = place_along(at) * length;
        let near = way.iter().filter(|drawn| (drawn.along - here).abs() <= half);
        let (sum, count) = near.fold((0.0, 0), |(sum, n), drawn| (sum + drawn.across, n + 1));
        if count == 0 {
            return None;
        }
        *found = sum / f64::from(count);
    }
    Some(found)
}

fn straightened(off: [f64; PLACES]) -> [f64; PLACES] {
    let n = PLACES as f64;
    let middle = (n - 1.0) / 2.0;
    let mean = off.iter().sum::<f64>() / n;
    let spread: f64 = (0..PLACES).map(|at| (at as f64 - middle).powi(2)).sum();
    let slope: f64 =
        off.iter().enumerate().map(|(at, off)| (at as f64 - middle) * off).sum::<f64>() / spread;
    std::array::from_fn(|at| off[at] - mean - slope * (at as f64 - middle))
}

/// Every set of dashes.
pub fn dashes(proof: &Proof) -> Vec<Dashes> {
    let own = proof.standing().filter_map(|asked| {
        let Ask::Dashes { mark } = asked.ask else { return None };
        let near = |contact: &&Contact| {
            crate::taps::at_asked_place(proof, asked, contact) && !is_palm(proof, contact)
        };
        let seen = asked.contacts.iter().filter(near).count();
        (asked.came != Came::Undone).then_some(Dashes { mark, drawn: DASHES, seen })
    });
    own.collect()
}
