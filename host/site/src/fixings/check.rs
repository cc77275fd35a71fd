//! What cannot be right about a bracket, before anything is worked out.

use super::group::Anchor;
use super::input::{FixedPlate, FixingsInput, Loads};
use super::interaction::{Allowable, MeantFor};
use super::refusal::FixingsError;
use skimgauge_quantity::{Name, say};

use crate::entry::{EntryError, length_mm, number, within};

/// Most that one anchor is allowed, N: more is a slip of the unit.
const MOST_ALLOWED_N: f64 = 200_000.0;

/// Lighter than this, kg, hangs nothing that a bracket is for: a slip of the unit.
const LEAST_HUNG_KG: f64 = 0.2;

impl FixingsInput {
    /// Whether everything is there and can be right, and no part of a load is lost between the
    /// plates.
    ///
    /// # Errors
    /// [`FixingsError`] for the first thing that is wrong.
    pub fn check(&self) -> Result<(), FixingsError> {
        within("load factor", self.load_factor, 1.0, 10.0, "times")?;
        if self.plates.is_empty() {
            return Err(FixingsError::Missing("a plate".to_owned()));
        }
        for plate in &self.plates {
            if let Some(share) = plate.share {
                within(&format!("share of {}", plate.name), share, 0.0, 1.0, "of the load")?;
            }
        }
        let shares = self.shares()?;
        loads(&self.shared)?;
        let every =
            self.plates.iter().flat_map(|plate| &plate.own.masses).chain(&self.shared.masses);
        let sum_kg: f64 = every.map(|mass| mass.mass_kg).sum();
        if sum_kg > 0.0 && sum_kg < LEAST_HUNG_KG {
            return Err(FixingsError::TooLight { sum_kg });
        }
        for (plate, share) in self.plates.iter().zip(shares) {
            check_plate(plate)?;
            if plate.own.masses.is_empty() && (share == 0.0 || self.shared.masses.is_empty()) {
                return Err(FixingsError::NothingHangs { plate: plate.name.clone() });
            }
            if let Some(allowable) = &plate.allowable {
                check_allowable(&plate.name, allowable, self.load_factor)?;
            }
        }
        Ok(())
    }
}

fn check_plate(plate: &FixedPlate) -> Result<(), FixingsError> {
    let name = &plate.name;
    length_mm(say!("width of {}", Name(name)), plate.width_mm, 20.0, 5000.0)?;
    length_mm(say!("height of {}", Name(name)), plate.height_mm, 20.0, 5000.0)?;
    if plate.anchors.is_empty() {
        return Err(FixingsError::NoAnchors { plate: name.clone() });
    }
    for anchor in &plate.anchors {
        number(say!("x of anchor {}", Name(&anchor.name)), anchor.x_mm)?;
        number(say!("y of anchor {}", Name(&anchor.name)), anchor.y_mm)?;
        within(say!("area of anchor {}", Name(&anchor.name)), anchor.area, 1e-3, 1e4, "mm2")?;
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
    loads(&plate.own)
}

fn loads(loads: &Loads) -> Result<(), FixingsError> {
    for mass in &loads.masses {
        let of = |what: &str| say!("{what} of {}", Name(&mass.name));
        within(of("mass"), mass.mass_kg, 0.01, 1000.0, "kg")?;
        length_mm(of("arm"), mass.arm_mm, 0.0, 5000.0)?;
        length_mm(of("sideways place"), mass.x_mm, -5000.0, 5000.0)?;
        length_mm(of("height"), mass.y_mm, -5000.0, 5000.0)?;
    }
    for pull in &loads.handling {
        let of = |what: &str| say!("{what} of {}", Name(&pull.name));
        for force_n in [pull.fx_n, pull.fy_n, pull.fz_n] {
            within(of("force"), force_n, -1e4, 1e4, "N")?;
        }
        length_mm(of("arm"), pull.arm_mm, 0.0, 5000.0)?;
        length_mm(of("sideways place"), pull.x_mm, -5000.0, 5000.0)?;
        length_mm(of("height"), pull.y_mm, -5000.0, 5000.0)?;
    }
    Ok(())
}

fn check_allowable(
    plate: &str,
    allowable: &Allowable,
    load_factor: f64,
) -> Result<(), FixingsError> {
    within(
        say!("allowed tension of {}", Name(plate)),
        allowable.tension_n,
        1.0,
        MOST_ALLOWED_N,
        "N",
    )?;
    within(say!("allowed shear of {}", Name(plate)), allowable.shear_n, 1.0, MOST_ALLOWED_N, "N")?;
    length_mm(say!("spacing for {}", Name(plate)), allowable.spacing_mm, 1.0, 2000.0)?;
    if allowable.approval.trim().is_empty() {
        return Err(EntryError::Name {
            what: say!("approval for {}", Name(plate)),
            problem: "say in which approval the allowed values were read".to_owned(),
        }
        .into());
    }
    if allowable.meant_for == MeantFor::FactoredLoads && load_factor <= 1.0 {
        return Err(FixingsError::NotFactored { plate: plate.to_owned(), load_factor });
    }
    if allowable.straight_rule && allowable.steel_governs {
        return Err(FixingsError::TwoRules { plate: plate.to_owned() });
    }
    Ok(())
}

pub(super) fn pairs(anchors: &[Anchor]) -> impl Iterator<Item = (&Anchor, &Anchor)> {
    anchors
        .iter()
        .enumerate()
        .flat_map(|(index, first)| anchors[index + 1..].iter().map(move |second| (first, second)))
}

pub(super) fn spacing_mm(first: &Anchor, second: &Anchor) -> f64 {
    (first.x_mm - second.x_mm).hypot(first.y_mm - second.y_mm)
}
