//! A strip of known thickness laid flat on the board registers or does not: bounds on the gap that
//! know nothing of the head.
//!
//! A leaf of thickness `t` registers where `t > gap - d`; `d` is how deep something must stand in
//! the sheet before the display sees it, the same everywhere and not known. So each station gives
//! bounds of `gap - d`, and the head's gap there bounds of `d`. One `d` must serve all stations:
//! where none does, leaf and head contradict one another. What all stations have in common (a zero
//! that is wrong) is taken up by `d` and is not seen.

use crate::plan::Ask;
use crate::raw::{Asked, Came, HeadGap, Proof};
use crate::taps::at_asked_place;
use serde::Serialize;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Mm};

/// Bounds of `d`, mm: nothing is seen before it touches the sheet, and a sheet is no thicker.
const DEEP: Band<f64> = Band { low: 0.0, high: 3.0 };
/// Scatter of what a leaf registers at, standard deviation, mm: assumed.
const LEAF_MM: f64 = 0.12;
/// In the last part of the look, ms, the leaf must be seen.
const SEEN_MS: f64 = 1000.0;

/// What leaves say at one station.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeafAt {
    /// The station.
    pub station: String,
    /// The thickest that did not register.
    #[serde(rename = "not_mm")]
    pub not: Option<Mm>,
    /// The thinnest that did.
    #[serde(rename = "registers_mm")]
    pub registers: Option<Mm>,
    /// A thinner one registered and a thicker one did not.
    pub contradicts_itself: bool,
    /// The head's gap there.
    #[serde(rename = "head_mm")]
    pub head: Option<Mm>,
}

/// The leaf beside the head.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Leaf {
    /// Station by station.
    pub stations: Vec<LeafAt>,
    /// Depths `d` that all stations allow; `None` where there is none.
    #[serde(rename = "depth_mm")]
    pub depth: Option<[f64; 2]>,
    /// `within`: it agrees with the head; `outside`: it contradicts it; `unsure`: too few stations.
    pub agrees: Verdict,
    /// The stations of which one must be wrong.
    pub contradicted: Vec<String>,
}

/// Whether a laid leaf is seen: something is down near it at the end of the look.
fn registers(proof: &Proof, asked: &Asked) -> bool {
    asked.contacts.iter().any(|contact| {
        contact.up_ms() >= asked.to_ms - SEEN_MS && at_asked_place(proof, asked, contact)
            || !contact.lifted && at_asked_place(proof, asked, contact)
    })
}

/// What the leaves say; `None` where none was laid.
pub fn leaf(proof: &Proof) -> Option<Leaf> {
    let mut stations: Vec<LeafAt> = Vec::new();
    for asked in proof.standing() {
        let Ask::Leaf { station, thickness, .. } = &asked.ask else { continue };
        if asked.came == Came::Undone {
            continue;
        }
        let seen = asked.came == Came::Done && registers(proof, asked);
        let at = match stations.iter().position(|known| known.station == *station) {
            Some(at) => at,
            None => {
                let head = proof.gaps.iter().find(|gap| gap.station == *station);
                stations.push(LeafAt {
                    station: station.clone(),
                    not: None,
                    registers: None,
                    contradicts_itself: false,
                    head: head.map(|head| head.gap),
                });
                stations.len() - 1
            }
        };
        let known = &mut stations[at];
        if seen {
            known.registers = Some(known.registers.map_or(*thickness, |t| t.min(*thickness)));
        } else {
            known.not = Some(known.not.map_or(*thickness, |t| t.max(*thickness)));
        }
        known.contradicts_itself =
            known.not.zip(known.registers).is_some_and(|(not, registers)| not >= registers);
    }
    (!stations.is_empty()).then(|| beside_the_head(stations, &proof.gaps))
}

fn beside_the_head(stations: Vec<LeafAt>, gaps: &[HeadGap]) -> Leaf {
    let bounds: Vec<(usize, Band<f64>)> = stations
        .iter()
        .enumerate()
        .filter_map(|(at, station)| {
            let head = gaps.iter().find(|gap| gap.station == station.station)?;
            (!station.contradicts_itself).then(|| (at, depth_by(station, head)))
        })
        .collect();
    let common = common(&bounds, None);
    let mut contradicted = Vec::new();
    if common.is_none() {
        // Whose going leaves the others in agreement may be wrong; where no single one does, all.
        contradicted = bounds
            .iter()
            .filter(|(at, _)| self::common(&bounds, Some(*at)).is_some())
            .map(|(at, _)| stations[*at].station.clone())
            .collect();
        if contradicted.is_empty() {
            contradicted = bounds.iter().map(|(at, _)| stations[*at].station.clone()).collect();
        }
    }
    let agrees = match common {
        None => Verdict::Outside,
        Some(_) if bounds.len() < 2 => Verdict::Unsure,
        Some(_) => Verdict::Within,
    };
    Leaf { stations, depth: common.map(|d| [d.low, d.high]), agrees, contradicted }
}

/// Depths that a station allows: head's gap less the leaf's bounds, each end widened by what both
/// may be off (95 %).
fn depth_by(station: &LeafAt, head: &HeadGap) -> Band<f64> {
    let off = 1.96 * head.u.0.hypot(LEAF_MM);
    Band {
        low: station.registers.map_or(DEEP.low, |t| head.gap.0 - t.0 - off),
        high: station.not.map_or(DEEP.high, |t| head.gap.0 - t.0 + off),
    }
}

fn common(bounds: &[(usize, Band<f64>)], without: Option<usize>) -> Option<Band<f64>> {
    let kept = bounds.iter().filter(|(at, _)| Some(*at) != without);
    let all = kept.fold(DEEP, |all, (_, band)| Band {
        low: all.low.max(band.low),
        high: all.high.min(band.high),
    });
    (all.low <= all.high).then_some(all)
}

impl Leaf {
    /// Stations where the gap is surely above this: a leaf so thick does not register however deep
    /// the display looks.
    pub fn too_high(&self, high: Mm) -> Vec<&str> {
        let is = |at: &&LeafAt| at.not.is_some_and(|not| not >= high) && !at.contradicts_itself;
        self.stations.iter().filter(is).map(|at| at.station.as_str()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(station: &str, not: f64, registers: f64, head: f64) -> (LeafAt, HeadGap) {
        let leaf = LeafAt {
            station: station.to_owned(),
            not: Some(Mm(not)),
            registers: Some(Mm(registers)),
            contradicts_itself: false,
            head: Some(Mm(head)),
        };
        (leaf, HeadGap { station: station.to_owned(), gap: Mm(head), u: Mm(0.1) })
    }

    #[test]
    fn one_wrong_station_is_named_and_a_common_shift_is_not_seen() {
        let made = |heads: [f64; 4]| {
            let names = ["top left", "top right", "bottom left", "bottom right"];
            let gaps = [2.0, 2.5, 3.0, 2.2];
            // d = 0.5: each leaf is bounded within half a millimetre.
            let both = names.iter().zip(gaps).zip(heads).map(|((name, gap), head)| {
                let h: f64 = gap - 0.5;
                at(name, (h / 0.5).floor() * 0.5, (h / 0.5).floor() * 0.5 + 0.5, head)
            });
            let (stations, gaps): (Vec<_>, Vec<_>) = both.unzip();
            beside_the_head(stations, &gaps)
        };
        let good = made([2.0, 2.5, 3.0, 2.2]);
        assert_eq!(good.agrees, Verdict::Within);
        let shifted = made([2.6, 3.1, 3.6, 2.8]);
        assert_eq!(shifted.agrees, Verdict::Within, "a common shift is taken up by the depth");
        let wrong = made([2.0, 2.5, 4.6, 2.2]);
        assert_eq!(wrong.agrees, Verdict::Outside);
        assert_eq!(wrong.contradicted, ["bottom left"]);
    }
}
