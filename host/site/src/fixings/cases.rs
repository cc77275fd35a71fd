//! The load cases of one plate: its masses alone, then with each thing that people do; and every
//! anchor in each.

use serde::Serialize;

use super::contact::{on_any_bedding, on_hard_bedding};
use super::group::{Anchor, Load, PlateEdges, about_centroid, centroid_mm, in_plane};
use super::input::{FixedPlate, FixingsInput, Handling, Mass};
use super::interaction::{Use, interaction};
use super::refusal::FixingsError;

/// Standard gravity, m/s2, exact (3rd CGPM, 1901).
const GRAVITY: f64 = 9.80665;

/// One anchor in one case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AnchorUse {
    /// Its name.
    pub anchor: String,
    /// Shear to the right, N.
    pub shear_x_n: f64,
    /// Shear upward, N.
    pub shear_y_n: f64,
    /// Size of the shear, N.
    pub shear_n: f64,
    /// Tension with the plate turning about the anchors' centroid, N; below zero is compression.
    /// Anchors in a line have no lever across it, so that part of a moment is not in here.
    pub tension_about_centroid_n: f64,
    /// Tension with the plate pressing on a wall that does not yield, with its edge or corner, N.
    pub tension_about_edge_n: f64,
    /// Largest tension with the plate pressing on a bedding that yields, however soft, N.
    pub tension_on_soft_bedding_n: f64,
    /// The largest of the three, and not below zero, N: what counts.
    pub tension_n: f64,
    /// Share of the allowed values used; absent without approval data.
    pub used: Option<Use>,
}

/// One load case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CaseReport {
    /// Masses alone, or with what handling.
    pub case: String,
    /// Load at the anchors' centroid, load factor included.
    pub load: Load,
    /// Which edge or corner the plate presses with.
    pub pressed: String,
    /// Every anchor.
    pub anchors: Vec<AnchorUse>,
}

/// A force at a place, plate's frame.
#[derive(Debug, Clone, Copy)]
struct PointForce {
    at_mm: [f64; 3],
    force_n: [f64; 3],
}

/// A case before it is worked out.
#[derive(Debug, Clone)]
pub(super) struct Case {
    name: String,
    forces: Vec<PointForce>,
}

/// The cases of a plate that takes this share of what all plates carry.
pub(super) fn cases(input: &FixingsInput, plate: &FixedPlate, share: f64) -> Vec<Case> {
    let (own, shared) = (input.load_factor, input.load_factor * share);
    let each = |masses: &[Mass], scale: f64| -> Vec<PointForce> {
        masses.iter().map(|m| weight(m, scale)).collect()
    };
    let masses = [each(&plate.own.masses, own), each(&input.shared.masses, shared)].concat();
    let mut cases = vec![Case { name: "masses alone".to_owned(), forces: masses.clone() }];
    let shared_pulls =
        input.shared.handling.iter().filter(|_| share > 0.0).map(|pull| (pull, shared));
    cases.extend(plate.own.handling.iter().map(|pull| (pull, own)).chain(shared_pulls).map(
        |(pull, scale)| Case {
            name: format!("masses and {}", pull.name),
            forces: masses.iter().copied().chain([hand(pull, scale)]).collect(),
        },
    ));
    cases
}

fn weight(mass: &Mass, scale: f64) -> PointForce {
    PointForce {
        at_mm: [mass.x_mm, mass.y_mm, mass.arm_mm],
        force_n: [0.0, -mass.mass_kg * GRAVITY * scale, 0.0],
    }
}

fn hand(pull: &Handling, scale: f64) -> PointForce {
    PointForce {
        at_mm: [pull.x_mm, pull.y_mm, pull.arm_mm],
        force_n: [pull.fx_n, pull.fy_n, pull.fz_n].map(|force_n| force_n * scale),
    }
}

fn load_at(anchors: &[Anchor], forces: &[PointForce]) -> Load {
    let (cx_mm, cy_mm) = centroid_mm(anchors);
    forces.iter().fold(Load::default(), |sum, force| {
        let [x_mm, y_mm, z_mm] = [force.at_mm[0] - cx_mm, force.at_mm[1] - cy_mm, force.at_mm[2]];
        let [fx_n, fy_n, fz_n] = force.force_n;
        Load {
            fx_n: sum.fx_n + fx_n,
            fy_n: sum.fy_n + fy_n,
            fz_n: sum.fz_n + fz_n,
            mx_n_mm: sum.mx_n_mm + y_mm * fz_n - z_mm * fy_n,
            my_n_mm: sum.my_n_mm + z_mm * fx_n - x_mm * fz_n,
            mz_n_mm: sum.mz_n_mm + x_mm * fy_n - y_mm * fx_n,
        }
    })
}

/// Shares a case out among `anchors` of the plate, which need not be those entered.
pub(super) fn work_out(
    plate: &FixedPlate,
    anchors: &[Anchor],
    case: &Case,
) -> Result<CaseReport, FixingsError> {
    let load = load_at(anchors, &case.forces);
    if anchors.len() == 1 && load.mz_n_mm.abs() > 1.0 {
        return Err(FixingsError::OneAnchorTurns { plate: plate.name.clone() });
    }
    let edges = PlateEdges { width_mm: plate.width_mm, height_mm: plate.height_mm };
    let tips_off = || FixingsError::TipsOff { plate: plate.name.clone(), case: case.name.clone() };
    let hard = on_hard_bedding(anchors, edges, load).ok_or_else(tips_off)?;
    let soft_n = on_any_bedding(anchors, edges, load).ok_or_else(tips_off)?;
    let centroid_n = about_centroid(anchors, load);
    let shear = in_plane(anchors, load);
    let anchors = anchors
        .iter()
        .enumerate()
        .map(|(index, anchor)| {
            let tension_n =
                centroid_n[index].max(hard.tension_n[index]).max(soft_n[index]).max(0.0);
            let shear_n = shear[index].resultant_n();
            AnchorUse {
                anchor: anchor.name.clone(),
                shear_x_n: shear[index].fx_n,
                shear_y_n: shear[index].fy_n,
                shear_n,
                tension_about_centroid_n: centroid_n[index],
                tension_about_edge_n: hard.tension_n[index],
                tension_on_soft_bedding_n: soft_n[index],
                tension_n,
                used: plate
                    .allowable
                    .as_ref()
                    .map(|a| interaction(tension_n / a.tension_n, shear_n / a.shear_n, a.rule())),
            }
        })
        .collect();
    Ok(CaseReport { case: case.name.clone(), load, pressed: hard.pressed.to_string(), anchors })
}
