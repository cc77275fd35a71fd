//! A bracket's fixings: what is said, what is refused, and what is never said.

mod proved;
mod shares;

use proptest::prelude::*;
use skimgauge_quantity::{Sentence, Style};
use skimgauge_site::fixings::group::Anchor;
use skimgauge_site::fixings::interaction::{Allowable, MeantFor};
use skimgauge_site::fixings::practice::{PlateRole, Wall};
use skimgauge_site::fixings::proof::ProofLoad;
use skimgauge_site::fixings::{FixedPlate, FixingsInput, Handling, Judged, Loads, Mass, fixings};

/// 400 N at 350 mm.
fn unit() -> Mass {
    Mass { name: "unit".to_owned(), mass_kg: 400.0 / 9.80665, x_mm: 0.0, y_mm: 0.0, arm_mm: 350.0 }
}

fn plate() -> FixedPlate {
    let anchor =
        |name: &str, x_mm: f64, y_mm: f64| Anchor { name: name.to_owned(), x_mm, y_mm, area: 1.0 };
    FixedPlate {
        name: "centre plate".to_owned(),
        role: PlateRole::Centre,
        width_mm: 300.0,
        height_mm: 340.0,
        share: None,
        anchors: vec![
            anchor("A", -100.0, 150.0),
            anchor("B", 100.0, 150.0),
            anchor("C", -100.0, -150.0),
            anchor("D", 100.0, -150.0),
        ],
        own: Loads {
            masses: vec![unit()],
            handling: vec![Handling {
                name: "a hand on the arm".to_owned(),
                fx_n: 0.0,
                fy_n: -300.0,
                fz_n: 0.0,
                x_mm: 200.0,
                y_mm: 0.0,
                arm_mm: 900.0,
            }],
        },
        allowable: Some(Allowable {
            approval: "approval 00/0000, read from the sheet".to_owned(),
            tension_n: 1500.0,
            shear_n: 1800.0,
            meant_for: MeantFor::LoadsAsTheyAre,
            steel_governs: false,
            straight_rule: false,
            spacing_mm: 90.0,
        }),
        proof_wanted: None,
        proof: Vec::new(),
    }
}

fn input(plate: FixedPlate) -> FixingsInput {
    FixingsInput {
        wall: Wall::Concrete,
        load_factor: 1.0,
        shared: Loads::default(),
        plates: vec![plate],
    }
}

fn refused(change: impl Fn(&mut FixedPlate)) -> String {
    let mut plate = plate();
    change(&mut plate);
    fixings(&input(plate)).unwrap_err().to_string()
}

/// 400 N at 350 mm, rows at +-150 mm, lower edge 20 mm below the lower row: centroid and hard edge
/// computed with numpy; on a bedding so soft that only it yields the plate turns about its upper
/// row, lever 2/3 of 320 mm.
#[test]
fn masses_alone_give_the_tensions_of_every_bearing_and_the_worst_counts() {
    let report = fixings(&input(plate())).unwrap();
    let masses = &report.plates[0].cases[0];
    assert!((masses.anchors[0].tension_about_centroid_n - 233.333).abs() < 1e-2);
    assert!((masses.anchors[0].tension_about_edge_n - 217.90).abs() < 1e-2);
    let limit_n = 140_000.0 / (320.0 * 2.0 / 3.0) / 2.0;
    let soft_n = masses.anchors[0].tension_on_soft_bedding_n;
    assert!(soft_n <= limit_n && soft_n > 0.995 * limit_n, "{soft_n} {limit_n}");
    assert_eq!(masses.anchors[0].tension_n, soft_n);
    // The lower row pulls only on a hard wall.
    assert!((masses.anchors[2].tension_n - 13.62).abs() < 1e-2);
    assert!(masses.anchors.iter().all(|a| (a.shear_n - 100.0).abs() < 1e-9));
    assert_eq!(masses.pressed, "bottom edge");
}

/// The centroid rule is the worse one where the anchors stand close together and the plate is high.
#[test]
fn the_centroid_rule_counts_where_it_is_the_worse() {
    let mut close = plate();
    for anchor in &mut close.anchors {
        anchor.y_mm = 50.0_f64.copysign(anchor.y_mm);
    }
    let anchor = &fixings(&input(close)).unwrap().plates[0].cases[0].anchors[0];
    assert!((anchor.tension_n - 140_000.0 / 100.0 / 2.0).abs() < 1e-6);
    assert!(anchor.tension_on_soft_bedding_n < anchor.tension_n);
}

/// One row: the rule about the pressed edge gave 140 000 / 170 = 824 N for both anchors, and the
/// centroid rule nothing. A hole that is drilled a millimetre out does not make a lever of a
/// millimetre.
#[test]
fn one_row_of_anchors_is_held_by_contact_alone() {
    for out_mm in [0.0, 1.0] {
        let mut row = plate();
        row.anchors.truncate(2);
        row.anchors[0].y_mm = 0.0;
        row.anchors[1].y_mm = out_mm;
        let anchors = &fixings(&input(row)).unwrap().plates[0].cases[0].anchors;
        let sum = |of: fn(&skimgauge_site::fixings::AnchorUse) -> f64| {
            anchors.iter().map(of).sum::<f64>()
        };
        assert!((sum(|a| a.tension_about_edge_n) / (140_000.0 / 170.0) - 1.0).abs() < 0.01);
        assert!(
            (sum(|a| a.tension_n) / (140_000.0 / 170.0 * 1.5) - 1.0).abs() < 0.01,
            "{anchors:?}"
        );
        assert!(sum(|a| a.tension_about_centroid_n).abs() < 1e-9);
    }
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
    heavy.own.handling[0].fy_n = -800.0;
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
    assert!(
        found
            .remarks
            .iter()
            .any(|remark| remark.text(Style::default()).contains("no approval data"))
    );
    assert!(found.most_loaded_n.0 > 0.0);
}

#[test]
fn no_output_calls_a_wall_safe() {
    let text = serde_json::to_string(&fixings(&input(plate())).unwrap()).unwrap().to_lowercase();
    assert!(!text.contains("safe"));
    assert!(
        text.contains("do not say that any wall carries it") && text.contains("licensed engineer")
    );
}

#[test]
fn practice_is_named_as_practice() {
    let mut few = plate();
    few.anchors.truncate(2);
    let weak = FixingsInput { wall: Wall::HollowMasonry, ..input(few) };
    let remarks = Sentence::joined(fixings(&weak).unwrap().plates[0].remarks.clone(), " ");
    let remarks = remarks.text(Style::default());
    assert!(remarks.contains("common practice (no source) is at least 4"));
    assert!(remarks.contains("counts as weak"));
}

#[test]
fn anchors_closer_than_the_approval_allows_are_beyond_it() {
    let mut close = plate();
    close.anchors[1].x_mm = -40.0;
    let found = &fixings(&input(close)).unwrap().plates[0];
    assert_eq!(found.judged, Judged::BeyondAllowed);
    assert!(
        found
            .remarks
            .iter()
            .any(|remark| remark.text(Style::default()).contains("A and B are 60 mm apart"))
    );
}

#[test]
fn what_cannot_be_right_is_refused_in_words() {
    assert!(refused(|p| p.anchors[0].x_mm = 900.0).contains("outside the plate"));
    assert!(refused(|p| p.anchors[1] = p.anchors[0].clone()).contains("same place or name"));
    assert!(refused(|p| p.anchors.clear()).contains("no anchors"));
    assert!(refused(|p| p.own.masses[0].mass_kg = f64::NAN).contains("not a number"));
    assert!(refused(|p| p.own.masses[0].mass_kg = -3.0).contains("expected"));
    assert!(refused(|p| p.anchors.truncate(1)).contains("one anchor"));
    assert!(refused(|p| p.allowable.as_mut().unwrap().approval.clear()).contains("approval"));
    assert!(refused(|p| p.allowable.as_mut().unwrap().shear_n = 0.0).contains("allowed shear"));
    assert!(
        refused(|p| {
            p.proof.push(ProofLoad {
                anchor: "A".to_owned(),
                load_n: 1.0,
                held_s: 1.0,
                slip_mm: 0.0,
            });
        })
        .contains("what they have to show")
    );
    assert!(refused(|p| p.own.masses.clear()).contains("nothing hangs on centre plate"));
    assert!(refused(|p| p.share = Some(-0.2)).contains("share of centre plate"));
    assert!(refused(|p| p.share = Some(f64::NAN)).contains("not a number"));
    let on_edge = refused(|p| {
        p.anchors.truncate(2);
        p.anchors.iter_mut().for_each(|anchor| anchor.y_mm = -170.0);
    });
    assert!(on_edge.contains("lies on the edge about which the load turns the plate"), "{on_edge}");
    let factor =
        fixings(&FixingsInput { load_factor: 0.5, ..input(plate()) }).unwrap_err().to_string();
    assert!(factor.contains("load factor"));
}

#[test]
fn factored_values_without_a_factor_pass_nothing_and_say_what_to_enter() {
    let mut factored = plate();
    factored.allowable.as_mut().unwrap().meant_for = MeantFor::FactoredLoads;
    let said = fixings(&input(factored.clone())).unwrap_err().to_string();
    assert!(said.contains("the load factor is 1") && said.contains("such as 1.5"), "{said}");
    let with_factor = FixingsInput { load_factor: 1.35, ..input(factored) };
    assert_eq!(fixings(&with_factor).unwrap().plates[0].judged, Judged::WithinAllowed);
}

/// EN 1992-4, 7.2.3: the same load, judged by the rule that the approval names. A pair that only
/// the straight rule, or only the squares, would pass fails unless the approval says so.
#[test]
fn tension_and_shear_together_go_by_the_rule_of_the_approval_and_never_by_the_kinder() {
    let anchor = fixings(&input(plate())).unwrap().plates[0].cases[1].anchors[1].clone();
    let judged = |tension: f64, shear: f64, steel_governs: bool, straight_rule: bool| {
        let mut plate = plate();
        // The most loaded anchor uses these parts of what is allowed.
        let allowed = plate.allowable.as_mut().unwrap();
        (allowed.tension_n, allowed.shear_n) = (anchor.tension_n / tension, anchor.shear_n / shear);
        (allowed.steel_governs, allowed.straight_rule) = (steel_governs, straight_rule);
        fixings(&input(plate)).map(|report| report.plates[0].judged)
    };
    assert_eq!(judged(0.89, 0.29, false, false).unwrap(), Judged::WithinAllowed);
    assert_eq!(judged(0.9, 0.3, false, false).unwrap(), Judged::BeyondAllowed);
    assert_eq!(judged(0.9, 0.299, false, true).unwrap(), Judged::WithinAllowed);
    assert_eq!(judged(0.6, 0.799, true, false).unwrap(), Judged::WithinAllowed);
    assert_eq!(judged(0.6, 0.799, false, false).unwrap(), Judged::BeyondAllowed);
    assert!(judged(0.6, 0.6, true, true).unwrap_err().to_string().contains("only one of them"));
}

proptest! {
    /// More arm, mass or handling never lowers the use of the most loaded anchor.
    #[test]
    fn more_load_is_never_less_use(arm_mm in 50.0..1500.0_f64, mass_kg in 1.0..80.0_f64, more in 1.0..2.0_f64) {
        let used = |arm_mm: f64, mass_kg: f64| {
            let mut plate = plate();
            plate.own.masses[0].arm_mm = arm_mm;
            plate.own.masses[0].mass_kg = mass_kg;
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
        plate.own.masses[0].arm_mm = v[2];
        plate.own.masses[0].mass_kg = v[3];
        plate.own.handling[0].fx_n = v[4];
        plate.own.handling[0].fz_n = v[5];
        let _ = fixings(&input(plate));
    }
}
