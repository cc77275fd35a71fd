//! The verdict over everything as the record keeps it. Pure.

use skimgauge_metrology::plane::fit::{self, PlaneFit, Prediction};
use skimgauge_metrology::plane::observation::{Observations, SharedError};
use skimgauge_metrology::verdict::{BoardVerdict, JudgedAt};
use skimgauge_model::{self as model, Image, Verdict};
use skimgauge_procedure::takes::{TiltVerdict, Undecided, Whole};
use skimgauge_quantity::{Band, Deg, Mm, MmPerM, Style};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{
    self, Agreement, BudgetLine, Detail, Judged, JudgedPoint, Phase, Plane, Point, Residual,
    Station, Tilt,
};
use skimgauge_record::section::Said;

/// The decision rule, for the record.
const DECISION_RULE: &str = "within: the whole 95 % interval lies in the band; outside: all of it lies beyond; else too close to call (after ISO 14253-1); between the places read, the chance that the board strays out of the band by itself is bounded (after JCGM 106)";

/// The verdict with what it rests on: the plane, every point, what the plane leaves of the takes,
/// and the budget of the gap at the place that decided; `simulated`: it was read of a simulated head;
/// `survey`: by its heights, the table that the board is known from.
pub(super) fn judged(
    whole: &Whole,
    phase: Phase,
    (band, image): (Band<Mm>, Image),
    simulated: bool,
    survey: Option<Hash>,
) -> Judged {
    let worst = worst(whole, band, image);
    Judged {
        verdict: whole.verdict,
        phase,
        worst_gap: worst.as_ref().map(|worst| worst.gap),
        margin: worst.as_ref().map(|worst| worst.margin),
        expanded_u: worst.as_ref().map(|worst| worst.expanded),
        worst: worst.map(|worst| worst.place),
        decision_rule: match whole.unseen_says() {
            Some(unseen) => format!("{DECISION_RULE}; {}", unseen.text(Style::default())),
            None => DECISION_RULE.to_owned(),
        },
        would_settle: (whole.verdict == Verdict::Unsure)
            .then(|| Said::of(&whole.because(band, image))),
        judged_at: Some(match &whole.judged_at {
            JudgedAt::Places(names) => event::JudgedAt::Places(names.clone()),
            JudgedAt::Board(_) => event::JudgedAt::Board,
        }),
        detail: detail(whole, image),
        simulated,
        survey_sha256: survey,
    }
}

/// The place that decided, with its numbers.
struct Worst {
    place: Station,
    gap: Mm,
    margin: Mm,
    expanded: Mm,
}

fn worst(whole: &Whole, band: Band<Mm>, image: Image) -> Option<Worst> {
    let (_, judged) = whole.board.as_ref().ok()?;
    if let Some(point) = judged.limiting.and_then(|at| judged.points.get(at)) {
        let (x_mm, y_mm) = (point.point.x_mm, point.point.y_mm);
        return Some(Worst {
            place: station(place(x_mm, y_mm, image), x_mm, y_mm),
            gap: Mm(point.gap.gap_mm),
            margin: Mm(point.inside_mm(band)),
            expanded: Mm(point.expanded_mm),
        });
    }
    // A reading that is out by itself, where no point that is worked out is.
    let read = judged.limiting_place(band).filter(|read| read.verdict == Verdict::Outside)?;
    Some(Worst {
        place: station(read.name.clone(), read.x_mm, read.y_mm),
        gap: Mm(read.gap_mm),
        margin: Mm(read.inside_mm(band)),
        expanded: Mm(read.expanded_mm),
    })
}

fn station(name: String, x_mm: f64, y_mm: f64) -> Station {
    Station { name, at: Point { x: Mm(x_mm), y: Mm(y_mm) } }
}

fn detail(whole: &Whole, image: Image) -> Detail {
    let tilt = |tilt: &Option<Result<TiltVerdict, Undecided>>| {
        tilt.as_ref().and_then(|tilt| tilt.as_ref().ok()).map(|tilt| Tilt {
            emitter: Deg(tilt.emitter_deg),
            board: Deg(tilt.board_deg),
            value: Deg(tilt.value_deg),
            expanded: Deg(tilt.expanded_deg),
            verdict: tilt.verdict,
        })
    };
    let (level, lean) = (tilt(&whole.level), tilt(&whole.lean));
    let Ok((fit, judged)) = &whole.board else {
        return Detail { level, lean, ..Detail::default() };
    };
    let limiting = judged.limiting.and_then(|at| judged.points.get(at));
    let covariance: [[f64; 3]; 3] = fit.covariance();
    Detail {
        level,
        lean,
        plane: Some(Plane {
            c: Mm(fit.plane.c_mm),
            p: MmPerM(fit.plane.p_mm_per_m),
            q: MmPerM(fit.plane.q_mm_per_m),
        }),
        covariance: Some(covariance),
        points: points(judged),
        residuals: residuals(fit, &whole.observations, image),
        agreement: Some(agreement(fit.agreement)),
        budget: limiting
            .map(|point| budget(&point.gap, &whole.observations.shared))
            .unwrap_or_else(Vec::new),
        ..Detail::default()
    }
}

fn points(judged: &BoardVerdict) -> Vec<JudgedPoint> {
    let point = |point: &skimgauge_metrology::verdict::JudgedPoint| JudgedPoint {
        x: Mm(point.point.x_mm),
        y: Mm(point.point.y_mm),
        gap: Mm(point.gap.gap_mm),
        u: Mm(point.gap.u_mm),
        expanded: Mm(point.expanded_mm),
        verdict: point.said(),
    };
    judged.points.iter().map(point).collect()
}

/// A place on the image as a person finds it.
fn place(x_mm: f64, y_mm: f64, image: Image) -> String {
    image.whereabouts(model::Point { x: Mm(x_mm), y: Mm(y_mm) }).text(Style::default())
}

/// What the plane leaves of each take.
fn residuals(fit: &PlaneFit, observations: &Observations, image: Image) -> Vec<Residual> {
    let of =
        fit.residuals.iter().filter_map(|left| Some((left, observations.gaps.get(left.index)?)));
    of.map(|(left, gap)| Residual {
        station: gap.station.clone().unwrap_or_else(|| place(gap.x_mm, gap.y_mm, image)),
        residual: Mm(left.residual_mm),
        normalized: left.normalized.filter(|normalized| normalized.is_finite()),
    })
    .collect()
}

fn agreement(agreement: fit::Agreement) -> Agreement {
    match agreement {
        fit::Agreement::Untested => Agreement::Untested,
        fit::Agreement::Agrees => Agreement::Agrees,
        fit::Agreement::Strained => Agreement::Strained,
        fit::Agreement::Contradicts => Agreement::Contradicts,
    }
}

/// Where the uncertainty of a predicted gap comes from; the lines' squares add up to its variance.
fn budget(gap: &Prediction, shared: &[SharedError]) -> Vec<BudgetLine> {
    let shared = shared
        .iter()
        .map(|error| (format!("{}, shared by all", error.name), error.effect_mm(gap.gap_mm).abs()));
    let own = [
        ("the takes themselves".to_owned(), gap.u_takes_mm),
        ("board between the stations".to_owned(), gap.u_board_mm),
    ];
    own.into_iter()
        .chain(shared)
        .filter(|(_, u_mm)| *u_mm > 0.0)
        .map(|(source, u_mm)| BudgetLine {
            source,
            value: u_mm,
            unit: "mm".to_owned(),
            distribution: "normal".to_owned(),
            divisor: 1.0,
            sensitivity: 1.0,
            contribution: u_mm,
            dof: None,
            share: (u_mm / gap.u_mm).powi(2),
        })
        .collect()
}
