//! One `[[fixings.plate]]`: its anchors, and what their approval allows.

use skimgauge_model::Point;
use skimgauge_quantity::Kind;
use skimgauge_site::fixings::group::Anchor;
use skimgauge_site::fixings::interaction::{Allowable, MeantFor};
use skimgauge_site::fixings::proof::ProofWanted;
use skimgauge_site::fixings::{FixedPlate, Loads};
use skimgauge_site::setout::mount::MountSheet;

use super::super::mount::{ROLES, letter};
use super::ALLOWED;
use crate::table::{Table, Within};

/// An anchor so near to a listed hole is in it, mm.
const SAME_HOLE_MM: f64 = 1.0;

pub(super) fn read_plate(table: &Table<'_>, mount: Option<&MountSheet>) -> Option<FixedPlate> {
    let name = table.name("name");
    let role = table.choice_if("role", &ROLES);
    let width_mm = table.mm_if("width", 20.0, 5000.0);
    let height_mm = table.mm_if("height", 20.0, 5000.0);
    let places = table.points_if("anchors", Within::mm(-2500.0, 2500.0));
    let share = table.ratio_if("share", Within(0.0, 1.0));
    let allowable = read_allowable(table);
    let proof_wanted = read_proof_wanted(table);
    let name = name?;
    let known = mount.and_then(|sheet| sheet.plates.iter().find(|plate| plate.name == name));
    if let Some((places, known)) = places.as_ref().zip(known) {
        // One plate is drilled once: set-out marks the holes that [mount] lists.
        let is_hole = |at: &Point| {
            let mut holes = known.holes.iter();
            holes.any(|hole| (hole.x_mm - at.x.0).hypot(hole.y_mm - at.y.0) <= SAME_HOLE_MM)
        };
        // What is not on the plate at all is told as that.
        let is_on = |at: &Point| {
            at.x.0.abs() <= known.width_mm / 2.0 && at.y.0.abs() <= known.height_mm / 2.0
        };
        if places.iter().all(is_on) && !places.iter().all(is_hole) {
            table.wrong_for_its_use(
                "anchors",
                format!("{name} has other holes in [[mount.plate]], by which it is drilled"),
                "no line `anchors` here, so that it takes its holes from there, or places of holes listed there",
            );
        }
    }
    let anchor = |(name, x_mm, y_mm)| Anchor { name, x_mm, y_mm, area: 1.0 };
    let anchors: Option<Vec<Anchor>> = match (places, known) {
        (Some(places), _) => Some(
            places
                .iter()
                .enumerate()
                .map(|(index, at)| anchor((letter(index), at.x.0, at.y.0)))
                .collect(),
        ),
        (None, Some(plate)) if !table.has("anchors") => Some(
            plate
                .holes
                .iter()
                .map(|hole| anchor((hole.name.clone(), hole.x_mm, hole.y_mm)))
                .collect(),
        ),
        (None, _) => None,
    };
    let or_known = |value: Option<f64>, key: &str, known: Option<f64>| {
        if value.is_none() && known.is_none() && !table.has(key) {
            table.missing(key);
        }
        value.or(known)
    };
    let width_mm = or_known(width_mm, "width", known.map(|plate| plate.width_mm));
    let height_mm = or_known(height_mm, "height", known.map(|plate| plate.height_mm));
    let role = role.or(known.map(|plate| plate.role));
    for (there, key) in [(role.is_some(), "role"), (anchors.is_some(), "anchors")] {
        if !there && !table.has(key) {
            table.missing(key);
        }
    }
    Some(FixedPlate {
        name,
        role: role?,
        width_mm: width_mm?,
        height_mm: height_mm?,
        share,
        anchors: anchors?,
        own: Loads::default(),
        allowable,
        proof_wanted,
        proof: Vec::new(),
    })
}

/// What the approval allows: all of it or nothing.
fn read_allowable(table: &Table<'_>) -> Option<Allowable> {
    let approval = table.text_if("approval");
    let tension_n = table.number_if("tension", Kind::Force, ALLOWED);
    let shear_n = table.number_if("shear", Kind::Force, ALLOWED);
    let spacing_mm = table.mm_if("spacing", 1.0, 2000.0);
    let words = [
        ("factored loads", MeantFor::FactoredLoads),
        ("loads as they are", MeantFor::LoadsAsTheyAre),
    ];
    let meant_for = table.choice_if("meant_for", &words);
    let steel_governs = table.flag_if("steel_governs").unwrap_or(false);
    let straight_rule = table.flag_if("straight_rule").unwrap_or(false);
    let keys = ["approval", "tension", "shear", "spacing", "meant_for"];
    if keys.iter().any(|key| table.has(key)) {
        for key in keys.into_iter().filter(|key| !table.has(key)) {
            table.missing(key);
        }
    }
    Some(Allowable {
        approval: approval?,
        tension_n: tension_n?,
        shear_n: shear_n?,
        meant_for: meant_for?,
        steel_governs,
        straight_rule,
        spacing_mm: spacing_mm?,
    })
}

fn read_proof_wanted(table: &Table<'_>) -> Option<ProofWanted> {
    let load_n = table.number_if("proof_load", Kind::Force, ALLOWED);
    let hold_s = table.number_if("proof_time", Kind::Time, Within(1.0, 1e6));
    let slip_mm = table.mm_if("proof_slip", 0.0, 100.0);
    let keys = ["proof_load", "proof_time", "proof_slip"];
    if keys.iter().any(|key| table.has(key)) {
        for key in keys.into_iter().filter(|key| !table.has(key)) {
            table.missing(key);
        }
    }
    Some(ProofWanted { load_n: load_n?, hold_s: hold_s?, slip_mm: slip_mm? })
}
