//! What proof loads are worth beside what their anchors carry.

use skimgauge_quantity::{Name, Sentence, force, say};

use super::cases::{CaseReport, cases, work_out};
use super::input::{FixedPlate, FixingsInput};
use super::proof::ProofLoad;

/// Of every plate what its proof loads do not prove, since they are less than what its anchors
/// carry. Figures that cannot be worked out are refused elsewhere.
pub fn worthless(input: &FixingsInput) -> Vec<Sentence> {
    let shares = input.shares().unwrap_or_default();
    let of = |(plate, share): (&FixedPlate, f64)| {
        let cases = cases(input, plate, share);
        let cases: Result<Vec<CaseReport>, _> =
            cases.iter().map(|case| work_out(plate, &plate.anchors, case)).collect();
        cases.ok().and_then(|cases| says_worthless(plate, &cases))
    };
    input.plates.iter().zip(shares).filter_map(of).collect()
}

/// The anchors that carry more than a proof load showed or, not pulled yet, is asked to show.
pub(super) fn says_worthless(plate: &FixedPlate, cases: &[CaseReport]) -> Option<Sentence> {
    let wanted = plate.proof_wanted?;
    let most_n = wanted.most_n(plate.allowable.as_ref());
    let mut names = Vec::new();
    let (mut carried_n, mut pulled_n) = (0.0_f64, f64::INFINITY);
    for anchor in &plate.anchors {
        let of = cases.iter().flat_map(|case| &case.anchors);
        let tensions = of.filter(|used| used.anchor == anchor.name).map(|used| used.tension_n);
        let tension_n = tensions.fold(0.0, f64::max);
        // One that does not count shows no more than what is asked for.
        let counts = |pull: &&ProofLoad| pull.anchor == anchor.name && pull.load_n <= most_n;
        let last = plate.proof.iter().rev().find(counts);
        let load_n = last.map_or(wanted.load_n, |pull| pull.load_n.max(wanted.load_n));
        if load_n < tension_n {
            names.push(anchor.name.as_str());
            carried_n = carried_n.max(tension_n);
            pulled_n = pulled_n.min(load_n);
        }
    }
    (!names.is_empty()).then(|| {
        say!(
            "{}: a proof load of {} on {} proves nothing below the {} that it carries: ask for more than that, and pull again",
            Name(&plate.name),
            force(pulled_n),
            Name(&names.join(", ")),
            force(carried_n.ceil())
        )
    })
}
