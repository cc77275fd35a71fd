//! What proof loads show, and what a wall of which only they tell leaves open.

use super::{input, plate};
use skimgauge_model::Verdict;
use skimgauge_quantity::Style;
use skimgauge_site::fixings::practice::Wall;
use skimgauge_site::fixings::proof::{ProofFound, ProofLoad, ProofWanted};
use skimgauge_site::fixings::{FixedPlate, FixingsInput, Judged, PlateReport, fixings, worthless};

fn pull(anchor: &str, load_n: f64, slip_mm: f64) -> ProofLoad {
    ProofLoad { anchor: anchor.to_owned(), load_n, held_s: 60.0, slip_mm }
}

/// The plate with this proof load asked for, and every anchor pulled so.
fn pulled(asked_n: f64, pulls: &[(f64, f64)]) -> FixedPlate {
    let mut plate = plate();
    plate.proof_wanted = Some(ProofWanted { load_n: asked_n, hold_s: 60.0, slip_mm: 0.5 });
    let every = ["A", "B", "C", "D"];
    let of = |name: &'static str| pulls.iter().map(move |(n, slip_mm)| pull(name, *n, *slip_mm));
    plate.proof = every.into_iter().flat_map(of).collect();
    plate
}

fn told(plate: &PlateReport) -> String {
    let of = |says: &skimgauge_quantity::Sentence| says.text(Style::default());
    plate.remarks.iter().map(of).collect::<Vec<_>>().join(" ")
}

#[test]
fn a_slipped_anchor_outweighs_every_figure() {
    let report = fixings(&input(pulled(1500.0, &[(1500.0, 1.2)]))).unwrap();
    let found = &report.plates[0];
    assert_eq!((found.judged, report.verdict), (Judged::BeyondAllowed, Verdict::Outside));
    assert!(found.proof[0].says.text(Style::default()).contains("slipped 1.2 mm"));
}

/// Figures that a pull has shown to be wrong promise no number of anchors.
#[test]
fn nothing_is_enough_once_an_anchor_slipped() {
    let held = &fixings(&input(pulled(1500.0, &[(1500.0, 0.1)]))).unwrap().plates[0];
    assert!(held.enough.is_some() && told(held).contains("would be enough by these figures"));
    let mut one = pulled(1500.0, &[(1500.0, 0.1)]);
    one.proof[2].slip_mm = 0.9;
    let slipped = &fixings(&input(one)).unwrap().plates[0];
    assert!(slipped.enough.is_none());
    assert!(!told(slipped).contains("would be enough by these"), "{}", told(slipped));
    assert!(told(slipped).contains("do not hold in this wall"), "{}", told(slipped));
}

/// The proof load asked for is compared with what the anchor carries, and what was pulled with what
/// was asked for and what it may carry.
#[test]
fn a_proof_load_below_what_an_anchor_carries_or_far_above_what_it_may_proves_nothing() {
    let pulled = |asked_n: f64, load_n: f64| {
        let plate = pulled(asked_n, &[(load_n, 0.1)]);
        let report = fixings(&input(plate.clone())).unwrap();
        let found = &report.plates[0];
        let small = found.proof_too_small;
        assert_eq!(small, !worthless(&input(plate)).is_empty());
        assert_eq!(small, told(found).contains("proves nothing below"));
        let too_much = found.proof_lacking.len() == 4;
        assert_eq!(report.verdict == Verdict::Within, !small && !too_much, "{report:?}");
        (small, too_much)
    };
    assert_eq!(pulled(1.0, 1.0), (true, false));
    assert_eq!(pulled(1.0, 1500.0), (true, true), "far more than was asked for");
    assert_eq!(pulled(1500.0, 1500.0), (false, false));
    assert_eq!(pulled(1500.0, 1875.0), (false, false));
    assert_eq!(pulled(1500.0, 1880.0), (false, true));
    assert_eq!(pulled(1500.0, 27.0 * 1500.0), (false, true));
    assert_eq!(pulled(2400.0, 2400.0), (false, false), "the job asks for as much");
}

/// An anchor that may be harmed is not made good by a pull that it then holds.
#[test]
fn a_later_pull_makes_a_harmed_anchor_no_better() {
    let report = fixings(&input(pulled(1500.0, &[(40_000.0, 0.1), (1500.0, 0.1)]))).unwrap();
    let found = &report.plates[0];
    assert_eq!(report.verdict, Verdict::Unsure);
    assert_eq!(found.proof[0].found, ProofFound::TooMuchLoad);
    let says = found.proof_lacking[0].says.text(Style::default());
    assert!(found.proof_lacking.len() == 4 && says.contains("it may be harmed"), "{says}");
    // One that was pulled too little is.
    let again = fixings(&input(pulled(1500.0, &[(900.0, 0.1), (1500.0, 0.1)]))).unwrap();
    assert_eq!(again.verdict, Verdict::Within);
}

#[test]
fn in_a_weak_wall_nothing_is_within_without_a_proof_load() {
    let by = |wall: Wall, plate: FixedPlate| {
        let report = fixings(&FixingsInput { wall, ..input(plate) }).unwrap();
        let found = &report.plates[0];
        assert_eq!(found.proof_not_asked, told(found).contains("none is asked for"));
        assert_eq!(found.judged, Judged::WithinAllowed);
        (report.verdict, found.proof_not_asked)
    };
    for weak in [Wall::Stud, Wall::HollowMasonry, Wall::WeakOrUnknown] {
        assert_eq!(by(weak, plate()), (Verdict::Unsure, true));
        assert_eq!(by(weak, pulled(1500.0, &[])), (Verdict::Unsure, false));
        assert_eq!(by(weak, pulled(1500.0, &[(1500.0, 0.1)])), (Verdict::Within, false));
    }
    for solid in [Wall::Concrete, Wall::SolidMasonry] {
        assert_eq!(by(solid, plate()), (Verdict::Within, false));
    }
}
