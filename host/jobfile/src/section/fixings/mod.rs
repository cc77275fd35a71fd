//! `[fixings]`: what hangs on each plate, what people do to it, and what its anchors may carry by
//! their approval.

mod plate;

use skimgauge_site::fixings::practice::Wall;
use skimgauge_site::fixings::proof::ProofLoad;
use skimgauge_site::fixings::{FixedPlate, FixingsError, FixingsInput, Handling, Loads, Mass};
use skimgauge_site::setout::mount::MountSheet;

use super::{Spec, key, spare_key};
use crate::table::{Table, Within, refuse_repeated_names};
use plate::read_plate;
use skimgauge_model::Point;
use skimgauge_quantity::{Kind, Mm};

/// The `[fixings]` section.
pub static SPEC: Spec = Spec {
    name: "fixings",
    many: false,
    set: false,
    about: "Anchors and what they carry. Nothing worked out from this says that a wall holds: makers'\n\
            instructions, local codes and, where people pass below, a licensed engineer come first.",
    keys: &[
        key(
            "wall",
            "\"concrete\"",
            "\"concrete\", \"solid masonry\", \"hollow masonry\", \"stud\" or \"weak or unknown\"",
        ),
        key(
            "load_factor",
            "1.5",
            "by what all loads are multiplied; above 1 for values meant for factored loads",
        ),
    ],
    inside: &[&PLATE, &MASS, &HANDLING, &PROOF],
    samples: &[],
};

/// The `[[fixings.plate]]` sections.
pub static PLATE: Spec = Spec {
    name: "fixings.plate",
    many: true,
    set: false,
    about: "The plates. One that [mount] has too takes its size and holes from there. Where there are several,\n\
            each says its share of what hangs on all of them, together 1 (0.333 three times will do).",
    keys: &[
        key("name", "\"centre plate\"", "as you would call it"),
        spare_key(
            "role",
            "\"centre\"",
            "\"centre\" carries the arm, \"side\" steadies, or \"other\"",
        ),
        spare_key("width", "\"300 mm\"", "of the plate"),
        spare_key("height", "\"340 mm\"", "of the plate"),
        spare_key(
            "anchors",
            "[[\"-100 mm\", \"145 mm\"], [\"100 mm\", \"145 mm\"], [\"-100 mm\", \"-145 mm\"], [\"100 mm\", \"-145 mm\"]]",
            "from the plate's middle: right, up; A, B, C",
        ),
        spare_key(
            "share",
            "1.0",
            "of what hangs on all plates, this plate's part; all of it for a single plate",
        ),
        spare_key(
            "approval",
            "\"number and date\"",
            "the anchor's approval, in which the next lines were read",
        )
        .left_open(),
        spare_key(
            "tension",
            "\"1.5 kN\"",
            "allowed on one anchor, for this wall, depth and edge distance",
        )
        .left_open(),
        spare_key("shear", "\"1.8 kN\"", "allowed on one anchor, for the same").left_open(),
        spare_key("spacing", "\"90 mm\"", "smallest spacing for which that holds"),
        spare_key(
            "meant_for",
            "\"factored loads\"",
            "or \"loads as they are\": what the allowed values go with",
        ),
        spare_key(
            "steel_governs",
            "false",
            "true only if the approval says that steel fails first in both",
        ),
        spare_key(
            "straight_rule",
            "false",
            "true only if the approval names it: both parts together at most 1.2",
        ),
        spare_key(
            "proof_load",
            "\"1.5 kN\"",
            "load that a proof load has to reach; a pull beyond 1.25 times it does not count",
        ),
        spare_key("proof_time", "\"60 s\"", "how long it has to be held"),
        spare_key("proof_slip", "\"0.5 mm\"", "most that the anchor may move"),
    ],
    inside: &[],
    samples: &[],
};

/// The `[[fixings.mass]]` sections.
pub static MASS: Spec = Spec {
    name: "fixings.mass",
    many: true,
    set: false,
    about: "What hangs on the plates: everything, the mount's own weight and cables too.",
    keys: &[
        key("name", "\"unit and arm\"", "what it is").left_open(),
        key("weight", "\"18 kg\"", "with everything on it"),
        key("arm", "\"350 mm\"", "its centre of mass, out from the wall"),
        spare_key(
            "at",
            "[\"0 mm\", \"0 mm\"]",
            "its centre of mass from the plate's middle: right, up",
        ),
        spare_key(
            "plate",
            "\"centre plate\"",
            "the plate that carries all of it; all of them by share if left out",
        ),
    ],
    inside: &[],
    samples: &[],
};

/// The `[[fixings.handling]]` sections.
pub static HANDLING: Spec = Spec {
    name: "fixings.handling",
    many: true,
    set: false,
    about: "What people do to it: each is reckoned on top of the masses, one at a time.",
    keys: &[
        key("name", "\"a hand on the arm\"", "what happens").left_open(),
        key("arm", "\"900 mm\"", "where it pulls, out from the wall"),
        spare_key("down", "\"300 N\"", "force downward"),
        spare_key("right", "\"0 N\"", "force to the right"),
        spare_key("out", "\"0 N\"", "force out of the wall"),
        spare_key(
            "at",
            "[\"0 mm\", \"0 mm\"]",
            "where it pulls, from the plate's middle: right, up",
        ),
        spare_key(
            "plate",
            "\"centre plate\"",
            "the plate that takes all of it; all of them by share if left out",
        ),
    ],
    inside: &[],
    samples: &[],
};

/// The `[[fixings.proof]]` sections.
pub static PROOF: Spec = Spec {
    name: "fixings.proof",
    many: true,
    set: false,
    about: "Proof loads carried out.",
    keys: &[
        key("plate", "\"centre plate\"", "on which plate").left_open(),
        key("anchor", "\"A\"", "on which anchor: A, B, C in the order of the places").left_open(),
        key("load", "\"1.5 kN\"", "load reached").left_open(),
        key("held", "\"60 s\"", "how long").left_open(),
        key("slip", "\"0.1 mm\"", "how far it moved").left_open(),
    ],
    inside: &[],
    samples: &[],
};

const WALLS: [(&str, Wall); 5] = [
    ("concrete", Wall::Concrete),
    ("solid masonry", Wall::SolidMasonry),
    ("hollow masonry", Wall::HollowMasonry),
    ("stud", Wall::Stud),
    ("weak or unknown", Wall::WeakOrUnknown),
];

const REACH: Within<Mm> = Within::mm(-5000.0, 5000.0);
const FORCE: Within<f64> = Within(-10_000.0, 10_000.0);
/// More on one anchor is a slip of the unit.
const ALLOWED: Within<f64> = Within(1.0, 200_000.0);

/// A thing and the plate that it is for, if it says one.
type For<T> = (Option<String>, T);

pub(crate) fn read(table: &Table<'_>, mount: Option<&MountSheet>) -> Option<FixingsInput> {
    let wall = table.choice("wall", &WALLS);
    let load_factor = table.ratio("load_factor", Within(1.0, 10.0));
    let plate_tables = table.tables(&PLATE);
    let plates: Vec<_> = plate_tables.iter().map(|plate| read_plate(plate, mount)).collect();
    if plate_tables.is_empty() {
        table.missing_section(&PLATE);
    }
    let named = plate_tables.iter().zip(&plates);
    refuse_repeated_names(
        named.filter_map(|(table, plate)| plate.as_ref().map(|plate| (table, plate.name.as_str()))),
        "name",
        "plate",
    );
    // With a plate that could not be read, its name may be what the others mean.
    let names: Option<Vec<String>> =
        plates.iter().map(|plate| plate.as_ref().map(|plate| plate.name.clone())).collect();
    let names = names.as_deref();
    let mass_tables = table.tables(&MASS);
    if mass_tables.is_empty() {
        table.missing_section(&MASS);
    }
    let masses: Vec<_> = mass_tables.iter().map(|table| read_mass(table, names)).collect();
    let pulls: Vec<_> =
        table.tables(&HANDLING).iter().map(|table| read_handling(table, names)).collect();
    let proofs: Vec<_> =
        table.tables(&PROOF).iter().map(|table| read_proof(table, names)).collect();
    let masses: Vec<For<Mass>> = masses.into_iter().collect::<Option<_>>()?;
    let pulls: Vec<For<Handling>> = pulls.into_iter().collect::<Option<_>>()?;
    let proofs: Vec<For<ProofLoad>> = proofs.into_iter().collect::<Option<_>>()?;
    let mut plates: Vec<FixedPlate> = plates.into_iter().collect::<Option<_>>()?;
    for (plate, table) in plates.iter_mut().zip(&plate_tables) {
        plate.own = Loads {
            masses: those_for(&masses, &plate.name),
            handling: those_for(&pulls, &plate.name),
        };
        plate.proof = those_for(&proofs, &plate.name);
        if !plate.proof.is_empty() && plate.proof_wanted.is_none() {
            table.wrong_here(
                format!("{} has proof loads, and nothing says what they have to show", plate.name),
                "proof_load, proof_time and proof_slip",
            );
        }
    }
    let shared = Loads { masses: those_for_all(&masses), handling: those_for_all(&pulls) };
    let input = FixingsInput { wall: wall?, load_factor: load_factor?, shared, plates };
    if let Err(error) = input.check() {
        hold_back(table, &plate_tables, &mass_tables, &input, &error);
    }
    Some(input)
}

/// Tells what keeps the anchors from being worked out where it is written.
fn hold_back(
    table: &Table<'_>,
    plates: &[Table<'_>],
    masses: &[Table<'_>],
    input: &FixingsInput,
    error: &FixingsError,
) {
    let plate = |name: &str| {
        let named = input.plates.iter().zip(plates).find(|(plate, _)| plate.name == name);
        named.map_or(table, |(_, table)| table)
    };
    let said = error.to_string();
    match error {
        FixingsError::SharesOff { .. } => {
            let last = plates.iter().rev().find(|plate| plate.has("share"));
            last.unwrap_or(table).wrong_for_its_use("share", said, "shares of all plates that add up to 1");
        }
        FixingsError::TooLight { .. } => {
            masses.first().unwrap_or(table).wrong_for_its_use("weight", said, "such as \"18 kg\"");
        }
        FixingsError::ShareUnsaid { plate: name } => {
            plate(name).wrong_for_its_use("share", said, "a line like share = 0.5 in every [[fixings.plate]]");
        }
        FixingsError::NothingHangs { plate: name } => {
            plate(name).wrong_for_its_use("name", said, "a [[fixings.mass]] for it, or one for all plates and a share");
        }
        FixingsError::NoAnchors { plate: name } => {
            plate(name).wrong_for_its_use(
                "anchors",
                said,
                "places of anchors, such as [[\"0 mm\", \"100 mm\"], [\"0 mm\", \"-100 mm\"]]",
            );
        }
        FixingsError::NotFactored { plate: name, .. } => plate(name).wrong_for_its_use(
            "meant_for",
            said,
            "load_factor = 1.5 or what your local code asks for in [fixings], or meant_for = \"loads as they are\"",
        ),
        FixingsError::TwoRules { plate: name } => {
            plate(name).wrong_for_its_use("straight_rule", said, "the one that stands in the approval");
        }
        FixingsError::OffPlate { plate: name, .. } | FixingsError::Twice { plate: name, .. } => {
            plate(name).wrong_for_its_use(
                "anchors",
                said,
                "each anchor's place on the plate, from its middle: right, up",
            );
        }
        _ => table.wrong_for_its_use("load_factor", said, "figures from the plate, the load and the approval"),
    }
}

fn those_for<T: Clone>(all: &[For<T>], plate: &str) -> Vec<T> {
    all.iter().filter(|(of, _)| of.as_deref() == Some(plate)).map(|(_, one)| one.clone()).collect()
}

fn those_for_all<T: Clone>(all: &[For<T>]) -> Vec<T> {
    all.iter().filter(|(of, _)| of.is_none()).map(|(_, one)| one.clone()).collect()
}

/// Notes a plate that is not there.
fn check_plate(table: &Table<'_>, plate: Option<&str>, names: Option<&[String]>) {
    if let (Some(plate), Some(names)) = (plate, names)
        && !names.is_empty()
        && names.iter().all(|name| name != plate)
    {
        table.wrong(
            "plate",
            format!("there is no plate \"{plate}\" in [fixings]"),
            format!("one of: {}", names.join(", ")),
        );
    }
}

fn read_mass(table: &Table<'_>, names: Option<&[String]>) -> Option<For<Mass>> {
    let name = table.name("name");
    let mass_kg = table.number("weight", Kind::Mass, Within(0.01, 1000.0));
    let arm_mm = table.mm("arm", 0.0, 5000.0);
    let Point { x: Mm(x_mm), y: Mm(y_mm) } =
        table.point_if("at", REACH).unwrap_or(Point::mm(0.0, 0.0));
    let plate = table.text_if("plate");
    check_plate(table, plate.as_deref(), names);
    Some((plate, Mass { name: name?, mass_kg: mass_kg?, x_mm, y_mm, arm_mm: arm_mm? }))
}

fn read_handling(table: &Table<'_>, names: Option<&[String]>) -> Option<For<Handling>> {
    let name = table.name("name");
    let arm_mm = table.mm("arm", 0.0, 5000.0);
    let force = |key: &str| table.number_if(key, Kind::Force, FORCE).unwrap_or(0.0);
    let (down_n, fx_n, fz_n) = (force("down"), force("right"), force("out"));
    let Point { x: Mm(x_mm), y: Mm(y_mm) } =
        table.point_if("at", REACH).unwrap_or(Point::mm(0.0, 0.0));
    let plate = table.text_if("plate");
    check_plate(table, plate.as_deref(), names);
    if !["down", "right", "out"].iter().any(|key| table.has(key)) {
        table.wrong_here(
            "this handling has no force",
            "down, right or out, such as down = \"300 N\"",
        );
    }
    Some((plate, Handling { name: name?, fx_n, fy_n: -down_n, fz_n, x_mm, y_mm, arm_mm: arm_mm? }))
}

fn read_proof(table: &Table<'_>, names: Option<&[String]>) -> Option<For<ProofLoad>> {
    let plate = table.text("plate");
    check_plate(table, plate.as_deref(), names);
    let anchor = table.text("anchor");
    let load_n = table.number("load", Kind::Force, Within(0.0, 1e6));
    let held_s = table.number("held", Kind::Time, Within(0.0, 1e6));
    let slip_mm = table.mm("slip", 0.0, 1000.0);
    Some((
        Some(plate?),
        ProofLoad { anchor: anchor?, load_n: load_n?, held_s: held_s?, slip_mm: slip_mm? },
    ))
}
