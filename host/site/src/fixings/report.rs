//! A whole bracket: its plates, load cases, most loaded anchor and what is said about them.

use serde::Serialize;
use thiserror::Error;

use super::enough::{Pattern, enough};
use super::group::{Anchor, Compression, Load, PlateEdges, centroid_mm, in_plane, out_of_plane, pressed_side};
use super::input::{FixedPlate, FixingsInput};
use super::interaction::{Allowable, MeantFor, Use, interaction};
use super::practice::{CAUTIONS, PlateRole, Wall, least_anchors, remarks};
use super::proof::{ProofFound, ProofResult, judge};
use crate::entry::{EntryError, length_mm, number, within};

/// Standard gravity, m/s2, exact (3rd CGPM, 1901).
const GRAVITY: f64 = 9.80665;

/// Why fixings cannot be worked out.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FixingsError {
    /// A number that cannot be right.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// A list that must have something in it.
    #[error("{0} is missing: enter at least one")]
    Missing(String),
    /// An anchor outside its plate.
    #[error(
        "anchor {anchor} of {plate} lies outside the plate ({width_mm} x {height_mm} mm): measure it again from the plate's middle, in mm"
    )]
    OffPlate {
        /// Which plate.
        plate: String,
        /// Which anchor.
        anchor: String,
        /// Plate's width, mm.
        width_mm: f64,
        /// Plate's height, mm.
        height_mm: f64,
    },
    /// Two anchors in one place, or two of one name.
    #[error("anchors {first} and {second} of {plate} have the same place or name: measure again")]
    Twice {
        /// Which plate.
        plate: String,
        /// One anchor.
        first: String,
        /// The other.
        second: String,
    },
    /// A single anchor that would have to stop the plate from turning.
    #[error(
        "{plate} has one anchor and a load beside it: one anchor cannot stop a plate from turning; use at least two"
    )]
    OneAnchorTurns {
        /// Which plate.
        plate: String,
    },
    /// A proof load on an anchor that the plate does not have.
    #[error("{plate}: proof load on anchor {anchor}, which is not among its anchors")]
    ProofElsewhere {
        /// Which plate.
        plate: String,
        /// The name entered.
        anchor: String,
    },
    /// Proof loads without anything to judge them by.
    #[error("{plate}: proof loads are entered, but not what they have to show; enter load, time and slip allowed")]
    ProofUnjudged {
        /// Which plate.
        plate: String,
    },
}

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
    pub tension_about_centroid_n: f64,
    /// Tension with the plate turning about its pressed edge, N.
    pub tension_about_edge_n: f64,
    /// The larger of both, and not below zero, N: what counts.
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
    /// Which edge the plate presses with.
    pub pressed: String,
    /// Every anchor.
    pub anchors: Vec<AnchorUse>,
}

/// How a plate's loads compare with the allowed values entered. Says nothing about the wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Judged {
    /// Every anchor within the allowed values entered, their spacing kept, no proof load failed.
    WithinAllowed,
    /// Some anchor beyond them, too close to another, or found slipping.
    BeyondAllowed,
    /// No approval data: loads only.
    NotJudged,
}

/// One plate, worked out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlateReport {
    /// Its name.
    pub plate: String,
    /// Which plate of the bracket.
    pub role: PlateRole,
    /// Every case.
    pub cases: Vec<CaseReport>,
    /// Most loaded anchor: by use where there is approval data, else by tension and shear together.
    pub most_loaded: String,
    /// The case in which it is.
    pub most_loaded_in: String,
    /// Its tension and shear, N.
    pub most_loaded_n: (f64, f64),
    /// Its use, if there is approval data; 1 is the limit.
    pub worst_use: Option<f64>,
    /// Compared with the allowed values.
    pub judged: Judged,
    /// The smallest even pattern that would be enough; absent without approval data or if none is.
    pub enough: Option<Pattern>,
    /// What to know and do, in sentences.
    pub remarks: Vec<String>,
    /// Proof loads, judged.
    pub proof: Vec<ProofResult>,
}

/// Everything worked out, with the cautions that belong to it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FixingsReport {
    /// By what the loads were multiplied.
    pub load_factor: f64,
    /// How the loads were shared among anchors.
    pub method: &'static str,
    /// Every plate.
    pub plates: Vec<PlateReport>,
    /// To be shown with every output.
    pub cautions: Vec<&'static str>,
}

const METHOD: &str = "stiff plate. Shear: elastic, about the anchors' area centroid. Tension: worked out twice, with the plate turning \
about the anchors' centroid and about its pressed edge; the larger counts. Tension and shear together: ETAG 001 Annex C.";

/// A force at a place, plate's frame.
#[derive(Debug, Clone, Copy)]
struct PointForce {
    at_mm: [f64; 3],
    force_n: [f64; 3],
}

/// Shares the loads of every plate among its anchors and compares them with the allowed values entered.
///
/// # Errors
/// [`FixingsError`] for numbers that cannot be right, anchors off their plate or twice in one place, and a plate that one
/// anchor would have to keep from turning. Missing approval data is no error: loads are given, and nothing is judged.
pub fn fixings(input: &FixingsInput) -> Result<FixingsReport, FixingsError> {
    within("load factor", input.load_factor, 1.0, 10.0, "times")?;
    if input.plates.is_empty() {
        return Err(FixingsError::Missing("a plate".to_owned()));
    }
    let plates = input
        .plates
        .iter()
        .map(|plate| plate_report(plate, input.wall, input.load_factor))
        .collect::<Result<_, _>>()?;
    Ok(FixingsReport { load_factor: input.load_factor, method: METHOD, plates, cautions: CAUTIONS.to_vec() })
}

fn plate_report(plate: &FixedPlate, wall: Wall, load_factor: f64) -> Result<PlateReport, FixingsError> {
    check_plate(plate)?;
    let cases = cases(plate, load_factor);
    let reports: Vec<CaseReport> =
        cases.iter().map(|(name, forces)| case_report(plate, &plate.anchors, name, forces)).collect();
    if plate.anchors.len() == 1 && reports.iter().any(|case| case.load.mz_n_mm.abs() > 1.0) {
        return Err(FixingsError::OneAnchorTurns { plate: plate.name.clone() });
    }
    let weight =
        |anchor: &AnchorUse| anchor.used.map_or_else(|| anchor.tension_n.hypot(anchor.shear_n), |used| used.together);
    let worst = reports
        .iter()
        .flat_map(|case| case.anchors.iter().map(move |anchor| (case, anchor)))
        .max_by(|(_, a), (_, b)| weight(a).total_cmp(&weight(b)))
        .ok_or_else(|| FixingsError::Missing(format!("an anchor of {}", plate.name)))?;
    let mut remarks = remarks(&plate.name, plate.role, wall, plate.anchors.len());
    let proof = proof_results(plate)?;
    let slipped = proof.iter().any(|result| result.found == ProofFound::Slipped);
    let worst_use = worst.1.used.map(|used| used.together);
    let mut crowded = false;
    let mut pattern = None;
    if let Some(allowable) = &plate.allowable {
        crowded = say_crowding(plate, allowable, &mut remarks);
        if allowable.meant_for == MeantFor::FactoredLoads && load_factor <= 1.0 {
            remarks.push(format!(
                "{}: the allowed values are meant for factored loads, and the load factor is 1: enter the factor your code asks for",
                plate.name
            ));
        }
        let worst_of = |anchors: &[Anchor]| {
            cases
                .iter()
                .flat_map(|(name, forces)| case_report(plate, anchors, name, forces).anchors)
                .filter_map(|anchor| anchor.used)
                .map(|used| used.together)
                .fold(0.0, f64::max)
        };
        let least = least_anchors(plate.role);
        pattern = enough(&plate.anchors, least, allowable.spacing_mm, worst_of);
        remarks.push(match pattern {
            Some(found) => format!(
                "{}: {} anchors ({} across, {} down, even over the same extent) would be enough by these figures, use {:.2}",
                plate.name, found.anchors, found.columns, found.rows, found.worst_use
            ),
            None => format!(
                "{}: no even pattern of up to 24 such anchors within this extent is enough; use a larger plate, a stronger anchor or a shorter arm",
                plate.name
            ),
        });
    } else {
        remarks.push(format!(
            "{}: no approval data entered, so the loads are shared out but nothing is judged; enter allowed tension, shear and spacing from the anchor's approval",
            plate.name
        ));
    }
    let judged = match worst_use {
        None => Judged::NotJudged,
        Some(used) if used <= 1.0 + 1e-9 && !crowded && !slipped => Judged::WithinAllowed,
        Some(_) => Judged::BeyondAllowed,
    };
    Ok(PlateReport {
        plate: plate.name.clone(),
        role: plate.role,
        most_loaded: worst.1.anchor.clone(),
        most_loaded_in: worst.0.case.clone(),
        most_loaded_n: (worst.1.tension_n, worst.1.shear_n),
        worst_use,
        judged,
        enough: pattern,
        remarks,
        proof,
        cases: reports,
    })
}

fn check_plate(plate: &FixedPlate) -> Result<(), FixingsError> {
    let name = &plate.name;
    length_mm(&format!("width of {name}"), plate.width_mm, 20.0, 5000.0)?;
    length_mm(&format!("height of {name}"), plate.height_mm, 20.0, 5000.0)?;
    within(&format!("share of {name}"), plate.share, 0.01, 1.0, "of the load")?;
    if plate.anchors.is_empty() {
        return Err(FixingsError::Missing(format!("an anchor of {name}")));
    }
    if plate.masses.is_empty() {
        return Err(FixingsError::Missing(format!("a mass on {name}")));
    }
    for anchor in &plate.anchors {
        number(&format!("x of anchor {}", anchor.name), anchor.x_mm)?;
        number(&format!("y of anchor {}", anchor.name), anchor.y_mm)?;
        within(&format!("area of anchor {}", anchor.name), anchor.area, 1e-3, 1e4, "mm2")?;
        if anchor.x_mm.abs() > plate.width_mm / 2.0 || anchor.y_mm.abs() > plate.height_mm / 2.0 {
            return Err(FixingsError::OffPlate {
                plate: name.clone(),
                anchor: anchor.name.clone(),
                width_mm: plate.width_mm,
                height_mm: plate.height_mm,
            });
        }
    }
    for (first, second) in pairs(&plate.anchors) {
        if first.name == second.name || spacing_mm(first, second) < 1.0 {
            return Err(FixingsError::Twice {
                plate: name.clone(),
                first: first.name.clone(),
                second: second.name.clone(),
            });
        }
    }
    for mass in &plate.masses {
        let of = |what: &str| format!("{what} of {}", mass.name);
        within(&of("mass"), mass.mass_kg, 0.01, 1000.0, "kg")?;
        length_mm(&of("arm"), mass.arm_mm, 0.0, 5000.0)?;
        length_mm(&of("sideways place"), mass.x_mm, -5000.0, 5000.0)?;
        length_mm(&of("height"), mass.y_mm, -5000.0, 5000.0)?;
    }
    for pull in &plate.handling {
        let of = |what: &str| format!("{what} of {}", pull.name);
        for force_n in [pull.fx_n, pull.fy_n, pull.fz_n] {
            within(&of("force"), force_n, -1e4, 1e4, "N")?;
        }
        length_mm(&of("arm"), pull.arm_mm, 0.0, 5000.0)?;
        length_mm(&of("sideways place"), pull.x_mm, -5000.0, 5000.0)?;
        length_mm(&of("height"), pull.y_mm, -5000.0, 5000.0)?;
    }
    if let Some(allowable) = &plate.allowable {
        within(&format!("allowed tension of {name}"), allowable.tension_n, 1.0, 1e6, "N")?;
        within(&format!("allowed shear of {name}"), allowable.shear_n, 1.0, 1e6, "N")?;
        length_mm(&format!("spacing for {name}"), allowable.spacing_mm, 1.0, 2000.0)?;
        if allowable.approval.trim().is_empty() {
            return Err(EntryError::Name {
                what: format!("approval for {name}"),
                problem: "say in which approval the allowed values were read".to_owned(),
            }
            .into());
        }
    }
    Ok(())
}

fn pairs(anchors: &[Anchor]) -> impl Iterator<Item = (&Anchor, &Anchor)> {
    anchors.iter().enumerate().flat_map(|(index, first)| anchors[index + 1..].iter().map(move |second| (first, second)))
}

fn spacing_mm(first: &Anchor, second: &Anchor) -> f64 {
    (first.x_mm - second.x_mm).hypot(first.y_mm - second.y_mm)
}

fn say_crowding(plate: &FixedPlate, allowable: &Allowable, remarks: &mut Vec<String>) -> bool {
    let closest = pairs(&plate.anchors).min_by(|a, b| spacing_mm(a.0, a.1).total_cmp(&spacing_mm(b.0, b.1)));
    let Some((first, second)) = closest else { return false };
    let apart_mm = spacing_mm(first, second);
    let crowded = apart_mm < allowable.spacing_mm;
    if crowded {
        remarks.push(format!(
            "{}: anchors {} and {} are {apart_mm:.0} mm apart; the allowed values entered hold from {:.0} mm",
            plate.name, first.name, second.name, allowable.spacing_mm
        ));
    }
    crowded
}

fn proof_results(plate: &FixedPlate) -> Result<Vec<ProofResult>, FixingsError> {
    if plate.proof.is_empty() {
        return Ok(Vec::new());
    }
    let wanted = plate.proof_wanted.ok_or_else(|| FixingsError::ProofUnjudged { plate: plate.name.clone() })?;
    plate
        .proof
        .iter()
        .map(|pull| {
            if plate.anchors.iter().all(|anchor| anchor.name != pull.anchor) {
                return Err(FixingsError::ProofElsewhere { plate: plate.name.clone(), anchor: pull.anchor.clone() });
            }
            Ok(judge(pull, wanted)?)
        })
        .collect()
}

fn cases(plate: &FixedPlate, load_factor: f64) -> Vec<(String, Vec<PointForce>)> {
    let scale = load_factor * plate.share;
    let masses: Vec<PointForce> = plate
        .masses
        .iter()
        .map(|mass| PointForce {
            at_mm: [mass.x_mm, mass.y_mm, mass.arm_mm],
            force_n: [0.0, -mass.mass_kg * GRAVITY * scale, 0.0],
        })
        .collect();
    let mut cases = vec![("masses alone".to_owned(), masses.clone())];
    cases.extend(plate.handling.iter().map(|pull| {
        let force = PointForce {
            at_mm: [pull.x_mm, pull.y_mm, pull.arm_mm],
            force_n: [pull.fx_n, pull.fy_n, pull.fz_n].map(|force_n| force_n * scale),
        };
        (format!("masses and {}", pull.name), masses.iter().copied().chain([force]).collect())
    }));
    cases
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

fn case_report(plate: &FixedPlate, anchors: &[Anchor], name: &str, forces: &[PointForce]) -> CaseReport {
    let load = load_at(anchors, forces);
    let edges = PlateEdges { width_mm: plate.width_mm, height_mm: plate.height_mm };
    let shear = in_plane(anchors, load);
    let centroid_n = out_of_plane(anchors, edges, load, Compression::Centroid);
    let edge_n = out_of_plane(anchors, edges, load, Compression::PlateEdge);
    let anchors = anchors
        .iter()
        .enumerate()
        .map(|(index, anchor)| {
            let tension_n = centroid_n[index].max(edge_n[index]).max(0.0);
            let shear_n = shear[index].resultant_n();
            AnchorUse {
                anchor: anchor.name.clone(),
                shear_x_n: shear[index].fx_n,
                shear_y_n: shear[index].fy_n,
                shear_n,
                tension_about_centroid_n: centroid_n[index],
                tension_about_edge_n: edge_n[index],
                tension_n,
                used: plate
                    .allowable
                    .as_ref()
                    .map(|a| interaction(tension_n / a.tension_n, shear_n / a.shear_n, a.steel_governs)),
            }
        })
        .collect();
    CaseReport { case: name.to_owned(), load, pressed: pressed_side(load), anchors }
}
