//! A bracket's fixings: what is said, what is refused, and what is never said.

use proptest::prelude::*;
use skimgauge_site::fixings::group::Anchor;
use skimgauge_site::fixings::interaction::{Allowable, MeantFor};
use skimgauge_site::fixings::practice::{PlateRole, Wall};
use skimgauge_site::fixings::proof::{ProofLoad, ProofWanted};
use skimgauge_site::fixings::{FixedPlate, FixingsInput, Handling, Judged, Mass, fixings};

fn plate() -> FixedPlate {
    let anchor = |name: &str, x_mm: f64, y_mm: f64| Anchor { name: name.to_owned(), x_mm, y_mm, area: 1.0 };
    FixedPlate {
        name: "centre plate".to_owned(),
        role: PlateRole::Centre,
        width_mm: 300.0,
        height_mm: 340.0,
        share: 1.0,
        anchors: vec![
            anchor("A", -100.0, 150.0),
            anchor("B", 100.0, 150.0),
            anchor("C", -100.0, -150.0),
            anchor("D", 100.0, -150.0),
        ],
        masses: vec![Mass { name: "unit".to_owned(), mass_kg: 400.0 / 9.80665, x_mm: 0.0, y_mm: 0.0, arm_mm: 350.0 }],
        handling: vec![Handling {
            name: "a hand on the arm".to_owned(),
            fx_n: 0.0,
            fy_n: -300.0,
            fz_n: 0.0,
            x_mm: 200.0,
            y_mm: 0.0,
            arm_mm: 900.0,
        }],
        allowable: Some(Allowable {
            approval: "approval 00/0000, read from the sheet".to_owned(),
            tension_n: 1500.0,
            shear_n: 1800.0,
            meant_for: MeantFor::LoadsAsTheyAre,
            steel_governs: false,
            spacing_mm: 90.0,
        }),
        proof_wanted: None,
        proof: Vec::new(),
    }
}

fn input(plate: FixedPlate) -> FixingsInput {
    FixingsInput { wall: Wall::Concrete, load_factor: 1.0, plates: vec![plate] }
}

fn refused(change: impl Fn(&mut FixedPlate)) -> String {
    let mut plate = plate();
    change(&mut plate);
    fixings(&input(plate)).unwrap_err().to_string()
}

#[test]
fn masses_alone_give_the_tensions_of_both_conventions() {
    // 400 N at 350 mm, rows at +-150 mm, lower edge 20 mm below the lower row: computed with numpy.
    let report = fixings(&input(plate())).unwrap();
    let masses = &report.plates[0].cases[0];
    assert!((masses.anchors[0].tension_about_centroid_n - 233.333).abs() < 1e-2);
    assert!((masses.anchors[0].tension_about_edge_n - 217.90).abs() < 1e-2);
    assert!((masses.anchors[0].tension_n - 233.333).abs() < 1e-2);
    assert_eq!(masses.anchors[2].tension_n.round(), 14.0);
    assert!(masses.anchors.iter().all(|a| (a.shear_n - 100.0).abs() < 1e-9));
    assert_eq!(masses.pressed, "bottom edge");
}

#[test]
fn the_hand_on_the_arm_governs() {
    let found = &fixings(&input(plate())).unwrap().plates[0];
    assert_eq!(found.most_loaded_in, "masses and a hand on the arm");
    assert_eq!(found.judged, Judged::WithinAllowed);
    assert!(found.enough.unwrap().anchors >= 4);
}

#[test]
fn too_much_load_asks_for_more_anchors_that_are_then_enough() {
    let mut heavy = plate();
    heavy.handling[0].fy_n = -1100.0;
    let found = &fixings(&input(heavy.clone())).unwrap().plates[0];
    assert_eq!(found.judged, Judged::BeyondAllowed);
    let pattern = found.enough.unwrap();
    assert!(pattern.anchors > 4);
    heavy.anchors = (0..pattern.rows)
        .flat_map(|row| (0..pattern.columns).map(move |column| (row, column)))
        .map(|(row, column)| Anchor {
            name: format!("{row}-{column}"),
            x_mm: -100.0 + 200.0 * column as f64 / (pattern.columns - 1) as f64,
            y_mm: 150.0 - 300.0 * row as f64 / (pattern.rows - 1) as f64,
            area: 1.0,
        })
        .collect();
    let again = &fixings(&input(heavy)).unwrap().plates[0];
    assert_eq!(again.judged, Judged::WithinAllowed);
    assert!((again.worst_use.unwrap() - pattern.worst_use).abs() < 1e-9);
}

#[test]
fn without_approval_data_nothing_is_judged() {
    let mut bare = plate();
    bare.allowable = None;
    let found = &fixings(&input(bare)).unwrap().plates[0];
    assert_eq!(found.judged, Judged::NotJudged);
    assert!(found.worst_use.is_none() && found.enough.is_none());
    assert!(found.remarks.iter().any(|remark| remark.contains("no approval data")));
    assert!(found.most_loaded_n.0 > 0.0);
}

#[test]
fn no_output_calls_a_wall_safe() {
    let text = serde_json::to_string(&fixings(&input(plate())).unwrap()).unwrap().to_lowercase();
    assert!(!text.contains("safe"));
    assert!(text.contains("do not say that any wall carries it") && text.contains("licensed engineer"));
}

#[test]
fn practice_is_named_as_practice() {
    let mut few = plate();
    few.anchors.truncate(2);
    let remarks =
        fixings(&FixingsInput { wall: Wall::HollowMasonry, ..input(few) }).unwrap().plates[0].remarks.join("\n");
    assert!(remarks.contains("common practice (no source) is at least 4"));
    assert!(remarks.contains("counts as weak"));
}

#[test]
fn a_slipped_anchor_outweighs_every_figure() {
    let mut pulled = plate();
    pulled.proof_wanted = Some(ProofWanted { load_n: 1500.0, hold_s: 60.0, slip_mm: 0.5 });
    pulled.proof.push(ProofLoad { anchor: "B".to_owned(), load_n: 1500.0, held_s: 60.0, slip_mm: 1.2 });
    let found = &fixings(&input(pulled)).unwrap().plates[0];
    assert_eq!(found.judged, Judged::BeyondAllowed);
    assert!(found.proof[0].says.contains("slipped 1.2 mm"));
}

#[test]
fn anchors_closer_than_the_approval_allows_are_beyond_it() {
    let mut close = plate();
    close.anchors[1].x_mm = -40.0;
    let found = &fixings(&input(close)).unwrap().plates[0];
    assert_eq!(found.judged, Judged::BeyondAllowed);
    assert!(found.remarks.iter().any(|remark| remark.contains("A and B are 60 mm apart")));
}

#[test]
fn what_cannot_be_right_is_refused_in_words() {
    assert!(refused(|p| p.anchors[0].x_mm = 900.0).contains("outside the plate"));
    assert!(refused(|p| p.anchors[1] = p.anchors[0].clone()).contains("same place or name"));
    assert!(refused(|p| p.anchors.clear()).contains("at least one"));
    assert!(refused(|p| p.masses[0].mass_kg = f64::NAN).contains("not a number"));
    assert!(refused(|p| p.masses[0].mass_kg = -3.0).contains("expected"));
    assert!(refused(|p| p.anchors.truncate(1)).contains("one anchor"));
    assert!(refused(|p| p.allowable.as_mut().unwrap().approval.clear()).contains("approval"));
    assert!(refused(|p| p.allowable.as_mut().unwrap().shear_n = 0.0).contains("allowed shear"));
    assert!(
        refused(|p| {
            p.proof.push(ProofLoad { anchor: "A".to_owned(), load_n: 1.0, held_s: 1.0, slip_mm: 0.0 });
        })
        .contains("what they have to show")
    );
    let factor = fixings(&FixingsInput { load_factor: 0.5, ..input(plate()) }).unwrap_err().to_string();
    assert!(factor.contains("load factor"));
}

proptest! {
    /// More arm, mass or handling never lowers the use of the most loaded anchor.
    #[test]
    fn more_load_is_never_less_use(arm_mm in 50.0..1500.0_f64, mass_kg in 1.0..80.0_f64, more in 1.0..2.0_f64) {
        let used = |arm_mm: f64, mass_kg: f64| {
            let mut plate = plate();
            plate.masses[0].arm_mm = arm_mm;
            plate.masses[0].mass_kg = mass_kg;
            fixings(&input(plate)).unwrap().plates[0].worst_use.unwrap()
        };
        let base = used(arm_mm, mass_kg);
        prop_assert!(used(arm_mm * more, mass_kg) >= base - 1e-9);
        prop_assert!(used(arm_mm, mass_kg * more) >= base - 1e-9);
    }

    #[test]
    fn nothing_panics(v in prop::array::uniform6(prop_oneof![any::<f64>(), -400.0..400.0_f64])) {
        let mut plate = plate();
        plate.anchors[0].x_mm = v[0];
        plate.anchors[0].y_mm = v[1];
        plate.masses[0].arm_mm = v[2];
        plate.masses[0].mass_kg = v[3];
        plate.handling[0].fx_n = v[4];
        plate.handling[0].fz_n = v[5];
        let _ = fixings(&input(plate));
    }
}
