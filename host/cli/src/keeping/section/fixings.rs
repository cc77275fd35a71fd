//! Every plate with its most loaded anchor, and every anchor in the case that loads it most.

use super::said;
use skimgauge_quantity::Mm;
use skimgauge_record::section::{self, AnchorLoad, PlateLoad, ProofLoad, WithinAllowed};
use skimgauge_site::fixings::proof::ProofFound;
use skimgauge_site::fixings::{FixingsReport, Judged, PlateReport};

/// What the anchors carry.
pub fn fixings(report: &FixingsReport) -> section::Fixings {
    let of_plates =
        report.plates.iter().flat_map(|plate| plate.proof.iter().map(move |p| (plate, p)));
    let proof = of_plates.map(|(plate, proof)| ProofLoad {
        plate: Some(plate.plate.clone()),
        anchor: proof.pull.anchor.clone(),
        load_n: proof.pull.load_n,
        held_s: proof.pull.held_s,
        slip: Mm(proof.pull.slip_mm),
        found: found(proof.found),
    });
    section::Fixings {
        load_factor: report.load_factor,
        method: said([&report.method]),
        counted: said([&report.counted_says]),
        plates: report.plates.iter().map(plate).collect(),
        anchors: report.plates.iter().flat_map(anchors).collect(),
        proof_loads: proof.collect(),
        remarks: said(report.plates.iter().flat_map(|plate| &plate.remarks)),
        cautions: said(&report.cautions),
    }
}

fn percent(used: f64) -> f64 {
    (100.0 * used).round()
}

fn plate(plate: &PlateReport) -> PlateLoad {
    let (tension_n, shear_n) = plate.most_loaded_n;
    PlateLoad {
        plate: plate.plate.clone(),
        judged: match plate.judged {
            Judged::WithinAllowed => WithinAllowed::WithinAllowed,
            Judged::BeyondAllowed => WithinAllowed::BeyondAllowed,
            Judged::NotJudged => WithinAllowed::NotJudged,
        },
        used_percent: plate.worst_use.map(percent),
        most_loaded: plate.most_loaded.clone(),
        tension_n,
        shear_n,
        case: plate.most_loaded_in.clone(),
    }
}

fn anchors(plate: &PlateReport) -> Vec<AnchorLoad> {
    let worst = plate.cases.iter().find(|case| case.case == plate.most_loaded_in);
    let anchors = worst.into_iter().flat_map(|case| &case.anchors).map(|anchor| AnchorLoad {
        plate: plate.plate.clone(),
        anchor: anchor.anchor.clone(),
        tension_n: anchor.tension_n,
        shear_n: anchor.shear_n,
        used_percent: anchor.used.map(|used| percent(used.together)),
    });
    anchors.collect()
}

fn found(found: ProofFound) -> section::ProofFound {
    match found {
        ProofFound::Held => section::ProofFound::Held,
        ProofFound::Slipped => section::ProofFound::Slipped,
        ProofFound::TooMuchLoad => section::ProofFound::TooMuchLoad,
        ProofFound::TooLittleLoad => section::ProofFound::TooLittleLoad,
        ProofFound::TooShort => section::ProofFound::TooShort,
    }
}
