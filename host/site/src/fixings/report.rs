//! A whole bracket: its plates, load cases, most loaded anchor and what is said about them.

use serde::Serialize;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Mm, Name, Sentence, mass, plain, say, short};

use super::cases::{AnchorUse, Case, CaseReport, cases, work_out};
use super::check::{pairs, spacing_mm};
use super::enough::{Pattern, enough};
use super::group::Anchor;
use super::input::{FixedPlate, FixingsInput};
use super::interaction::Allowable;
use super::practice::{CAUTIONS, PlateRole, least_anchors, remarks};
use super::proof::{Lacking, ProofFound, ProofResult, is_unasked, judge, lacking};
use super::refusal::FixingsError;
use super::worth::says_worthless;

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
    /// Which part it takes of what hangs on all plates.
    pub share: f64,
    /// Every case.
    pub cases: Vec<CaseReport>,
    /// Most loaded anchor: by use where there is approval data, else by tension and shear
    /// together.
    pub most_loaded: String,
    /// The case in which it is.
    pub most_loaded_in: String,
    /// Its tension and shear, N.
    pub most_loaded_n: (f64, f64),
    /// Its use, if there is approval data; 1 is the limit.
    pub worst_use: Option<f64>,
    /// Compared with the allowed values.
    pub judged: Judged,
    /// The smallest even pattern that would be enough; absent without approval data, if none is, and
    /// where an anchor slipped: then the approval data do not hold.
    pub enough: Option<Pattern>,
    /// What to know and do, in sentences.
    pub remarks: Vec<Sentence>,
    /// Proof loads, judged.
    pub proof: Vec<ProofResult>,
    /// Anchors for which a proof load is asked, and none has held yet.
    pub proof_lacking: Vec<Lacking>,
    /// Whether a proof load is less than what its anchor carries, and so proves nothing.
    pub proof_too_small: bool,
    /// Whether only a proof load tells what anchors in this wall hold, and none is asked for.
    pub proof_not_asked: bool,
}

impl PlateReport {
    fn verdict(&self) -> Verdict {
        let unproved =
            !self.proof_lacking.is_empty() || self.proof_too_small || self.proof_not_asked;
        match self.judged {
            Judged::BeyondAllowed => Verdict::Outside,
            Judged::WithinAllowed if !unproved => Verdict::Within,
            Judged::WithinAllowed | Judged::NotJudged => Verdict::Unsure,
        }
    }
}

/// A mass that was counted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Counted {
    /// What it is.
    pub name: String,
    /// Its mass, kg, before the load factor.
    pub mass_kg: f64,
    /// The plate that takes all of it; absent if all plates take it by their shares.
    pub plate: Option<String>,
}

/// Everything worked out, with the cautions that belong to it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FixingsReport {
    /// `outside` where a plate is beyond the values entered, `unsure` where one is not judged or a
    /// proof load is missing that has to be made; never of the wall.
    pub verdict: Verdict,
    /// By what the loads were multiplied.
    pub load_factor: f64,
    /// How the loads were shared among anchors, and what is assumed for it.
    pub method: &'static str,
    /// Every mass that was counted, once.
    pub counted: Vec<Counted>,
    /// The same in a sentence, with what was not.
    pub counted_says: Sentence,
    /// Every plate.
    pub plates: Vec<PlateReport>,
    /// To be shown with every output.
    pub cautions: Vec<&'static str>,
}

const METHOD: &str = "stiff plate that stays plane; anchors that yield alike and only pull; a wall that only pushes; no friction. Shear: \
elastic, about the anchors' area centroid. Tension: worked out with the plate pressing with its edge or corner on a wall that does not \
yield, on every softer bedding (pressure rises in a straight line from the line about which the plate turns), and with the plate turning \
about the anchors' centroid; the largest counts. Tension and shear together: EN 1992-4, 7.2.3, power rule with exponent 1.5; with 2 only \
where the approval says that steel governs both; the straight rule only where the approval names it.";

/// Shares the loads of every plate among its anchors and compares them with the allowed values
/// entered.
///
/// # Errors
/// [`FixingsError`] for numbers that cannot be right, shares that lose a part of the load, anchors
/// off their plate or twice in one place, and a plate that its anchors cannot keep from turning or
/// tipping. Missing approval data is no error: loads are given, and nothing is judged.
pub fn fixings(input: &FixingsInput) -> Result<FixingsReport, FixingsError> {
    input.check()?;
    let plates = input.plates.iter().zip(input.shares()?);
    let plates = plates
        .map(|(plate, share)| plate_report(input, plate, share))
        .collect::<Result<Vec<_>, _>>()?;
    let counted = counted(input);
    Ok(FixingsReport {
        verdict: Verdict::of_all(plates.iter().map(PlateReport::verdict)),
        load_factor: input.load_factor,
        method: METHOD,
        counted_says: counted_says(&counted, input.load_factor),
        counted,
        plates,
        cautions: CAUTIONS.to_vec(),
    })
}

fn counted(input: &FixingsInput) -> Vec<Counted> {
    let shared = input.shared.masses.iter().map(|mass| (mass, None));
    let own = input
        .plates
        .iter()
        .flat_map(|plate| plate.own.masses.iter().map(|mass| (mass, Some(plate.name.clone()))));
    shared
        .chain(own)
        .map(|(mass, plate)| Counted { name: mass.name.clone(), mass_kg: mass.mass_kg, plate })
        .collect()
}

fn counted_says(counted: &[Counted], load_factor: f64) -> Sentence {
    let each = counted.iter().map(|one| {
        let on = one.plate.as_ref().map_or_else(Sentence::new, |on| say!(" on {}", Name(on)));
        say!("{} {}{on}", Name(&one.name), mass(one.mass_kg))
    });
    let sum_kg: f64 = counted.iter().map(|one| one.mass_kg).sum();
    say!(
        "Counted: {}; {} in all, times {}. What is not listed here is not counted: mount, cables, whatever else hangs on the plates.",
        Sentence::joined(each, ", "),
        mass(sum_kg),
        short(load_factor)
    )
}

fn plate_report(
    input: &FixingsInput,
    plate: &FixedPlate,
    share: f64,
) -> Result<PlateReport, FixingsError> {
    let cases = cases(input, plate, share);
    let reports: Vec<CaseReport> =
        cases.iter().map(|case| work_out(plate, &plate.anchors, case)).collect::<Result<_, _>>()?;
    let worst = most_loaded(&reports)
        .ok_or_else(|| FixingsError::NoAnchors { plate: plate.name.clone() })?;
    let mut remarks = remarks(&plate.name, plate.role, input.wall, plate.anchors.len());
    let proof = proof_results(plate)?;
    let proof_lacking = lacking(plate)?;
    remarks.extend(say_lacking(&plate.name, &proof_lacking));
    let worthless = says_worthless(plate, &reports);
    let proof_too_small = worthless.is_some();
    remarks.extend(worthless);
    let proof_not_asked = is_unasked(plate, input.wall);
    remarks.extend(proof_not_asked.then(|| say_unasked(&plate.name)));
    let slipped = proof.iter().any(|result| result.found == ProofFound::Slipped);
    let worst_use = worst.1.used.map(|used| used.together);
    let mut crowded = false;
    let mut pattern = None;
    if let Some(allowable) = &plate.allowable {
        let crowding = crowding(plate);
        crowded = crowding.is_some();
        remarks.extend(crowding);
        if slipped {
            remarks.push(say_refuted(&plate.name));
        } else {
            pattern = enough_for(plate, allowable, &cases);
            remarks.push(say_enough(&plate.name, pattern));
        }
    } else {
        remarks.push(say!(
            "{}: no approval data entered, so the loads are shared out but nothing is judged; enter allowed tension, shear and spacing from the anchor's approval",
            Name(&plate.name)
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
        share,
        most_loaded: worst.1.anchor.clone(),
        most_loaded_in: worst.0.case.clone(),
        most_loaded_n: (worst.1.tension_n, worst.1.shear_n),
        worst_use,
        judged,
        enough: pattern,
        remarks,
        proof,
        proof_lacking,
        proof_too_small,
        proof_not_asked,
        cases: reports,
    })
}

/// By use where there is approval data, else by tension and shear together.
fn most_loaded(cases: &[CaseReport]) -> Option<(&CaseReport, &AnchorUse)> {
    let weight = |anchor: &AnchorUse| {
        anchor.used.map_or_else(|| anchor.tension_n.hypot(anchor.shear_n), |used| used.together)
    };
    cases
        .iter()
        .flat_map(|case| case.anchors.iter().map(move |anchor| (case, anchor)))
        .max_by(|(_, a), (_, b)| weight(a).total_cmp(&weight(b)))
}

fn enough_for(plate: &FixedPlate, allowable: &Allowable, cases: &[Case]) -> Option<Pattern> {
    // A pattern that cannot be worked out is not enough.
    let used = |anchors: &[Anchor], case: &Case| {
        work_out(plate, anchors, case).map_or(f64::INFINITY, |report| {
            report
                .anchors
                .iter()
                .filter_map(|anchor| anchor.used)
                .map(|used| used.together)
                .fold(0.0, f64::max)
        })
    };
    let worst_use =
        |anchors: &[Anchor]| cases.iter().map(|case| used(anchors, case)).fold(0.0, f64::max);
    enough(&plate.anchors, least_anchors(plate.role), allowable.spacing_mm, worst_use)
}

fn say_enough(plate: &str, pattern: Option<Pattern>) -> Sentence {
    let plate = Name(plate);
    match pattern {
        Some(found) => say!(
            "{plate}: {} anchors ({} across, {} down, even over the same extent) would be enough by these figures, use {}",
            found.anchors,
            found.columns,
            found.rows,
            plain(found.worst_use, 2)
        ),
        None => say!(
            "{plate}: no even pattern of up to 24 such anchors within this extent is enough; use a larger plate, a stronger anchor or a shorter arm"
        ),
    }
}

/// No number of anchors is enough by figures that a pull has shown to be wrong here.
fn say_refuted(plate: &str) -> Sentence {
    say!(
        "{}: an anchor slipped under its proof load, so the allowed values entered do not hold in this wall, and how many anchors would be enough is not said: ask the anchor's maker and whoever answers for the wall",
        Name(plate)
    )
}

fn say_unasked(plate: &str) -> Sentence {
    say!(
        "{}: the wall counts as weak, only a proof load tells what an anchor in it holds (common practice, no source), and none is asked for: ask the anchor's maker or whoever answers for the wall for load, time and slip, enter them as proof_load, proof_time and proof_slip, and pull every anchor",
        Name(plate)
    )
}

/// The two anchors that are closest, where they are closer than the allowed values hold for.
pub fn crowding(plate: &FixedPlate) -> Option<Sentence> {
    let allowable = plate.allowable.as_ref()?;
    let (first, second) = pairs(&plate.anchors)
        .min_by(|a, b| spacing_mm(a.0, a.1).total_cmp(&spacing_mm(b.0, b.1)))?;
    let apart_mm = spacing_mm(first, second);
    (apart_mm < allowable.spacing_mm).then(|| {
        say!(
            "{}: anchors {} and {} are {} apart; the allowed values entered hold from {}",
            Name(&plate.name),
            Name(&first.name),
            Name(&second.name),
            Mm(apart_mm).wall(),
            Mm(allowable.spacing_mm).wall()
        )
    })
}

/// Which anchors were not pulled; what a pull showed is said with it.
fn say_lacking(plate: &str, lacking: &[Lacking]) -> Option<Sentence> {
    let open = lacking.iter().filter(|lack| !lack.was_pulled);
    let names: Vec<&str> = open.map(|lack| lack.anchor.as_str()).collect();
    let says = say!(
        "{}: a proof load is asked for and not made yet on {}",
        Name(plate),
        Name(&names.join(", "))
    );
    (!names.is_empty()).then_some(says)
}

fn proof_results(plate: &FixedPlate) -> Result<Vec<ProofResult>, FixingsError> {
    if plate.proof.is_empty() {
        return Ok(Vec::new());
    }
    let wanted = plate
        .proof_wanted
        .ok_or_else(|| FixingsError::ProofUnjudged { plate: plate.name.clone() })?;
    plate
        .proof
        .iter()
        .map(|pull| {
            if plate.anchors.iter().all(|anchor| anchor.name != pull.anchor) {
                return Err(FixingsError::ProofElsewhere {
                    plate: plate.name.clone(),
                    anchor: pull.anchor.clone(),
                });
            }
            Ok(judge(pull, wanted, plate.allowable.as_ref())?)
        })
        .collect()
}
