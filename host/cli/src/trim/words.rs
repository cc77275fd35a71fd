//! A trim in the words of the person on the ladder. Pure: results in, sentences out.

use crate::console::screen::words as screen;
use crate::watch::stations::{place_name, remedy_words};
use skimgauge_metrology::assess::Assessment;
use skimgauge_metrology::plane::Plane;
use skimgauge_metrology::plane::board::ControlPoint;
use skimgauge_metrology::plane::consistency::Odd;
use skimgauge_metrology::plane::fit::{Agreement, PlaneFit};
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::report::Feasibility;
use skimgauge_metrology::trim::solve::{Hold, Setting};
use skimgauge_metrology::verdict::{BoardVerdict, JudgedPoint, Remedy};
use skimgauge_model::Image;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Mm, Side};

/// Slopes that make less than this over the image, mm, are not told.
const LEAST_SLOPE_MM: f64 = 0.05;
/// So near to an edge, a corner or the middle a place has its name, mm.
const NAMED_MM: f64 = 30.0;

/// What everybody reads before a screw is turned.
pub const CAUTION: &str = "Invisible light: follow the emitter's label. Ladder: three points of contact. Turn gently, \
                           never past the first resistance; the emitter's maker says what may be turned.";

/// A place on the image: `top left corner`, `middle of the left edge`, or in millimetres.
pub fn place(x_mm: f64, y_mm: f64, image: Image) -> String {
    let near = |value: f64, to: f64| (value - to).abs() <= NAMED_MM;
    let across = match x_mm {
        x if near(x, -image.width.0 / 2.0) => Some("left"),
        x if near(x, image.width.0 / 2.0) => Some("right"),
        x if near(x, 0.0) => Some(""),
        _ => None,
    };
    let down = match y_mm {
        y if near(y, 0.0) => Some("top"),
        y if near(y, -image.height.0) => Some("bottom"),
        y if near(y, -image.height.0 / 2.0) => Some(""),
        _ => None,
    };
    match (down, across) {
        (Some(""), Some("")) => "middle of the image".to_owned(),
        (Some(""), Some(edge)) | (Some(edge), Some("")) => format!("middle of the {edge} edge"),
        (Some(down), Some(across)) => format!("{down} {across} corner"),
        _ => place_name(x_mm, y_mm),
    }
}

/// Where the light is high and low over the image.
pub fn plane(plane: &Plane, image: Image) -> String {
    let (right_mm, down_mm) =
        (plane.p_mm_per_m * image.width.0 / 1000.0, -plane.q_mm_per_m * image.height.0 / 1000.0);
    let slope = |from: &str, to: &str, by_mm: f64| {
        if by_mm.abs() < LEAST_SLOPE_MM {
            format!("from {from} to {to} it keeps its distance")
        } else {
            let way = if by_mm > 0.0 { "farther off" } else { "nearer" };
            format!("from {from} to {to} it comes {:.2} mm {way}", by_mm.abs())
        }
    };
    format!(
        "In the middle of the top edge the light stands {:.2} mm over the board; {}; {}.",
        plane.c_mm,
        slope("left", "right", right_mm),
        slope("top", "bottom", down_mm)
    )
}

/// How a place of a table is read again.
pub const AGAIN_IN_TABLE: &str =
    "lift the head, clip it on there anew, and give both readings, a line each";

/// How well the readings go together.
pub fn agreement(fit: &PlaneFit, observations: &Observations) -> String {
    let worst = fit.worst().and_then(|worst| {
        let gap = observations.gaps.get(worst.index)?;
        let name = gap.station.clone().unwrap_or_else(|| place_name(gap.x_mm, gap.y_mm));
        Some(format!(
            "{name} by {:+.2} mm ({:.1} times its uncertainty)",
            worst.residual_mm,
            worst.normalized?.abs()
        ))
    });
    let worst = worst.map_or(String::new(), |worst| format!(" Worst: {worst}."));
    let numbers = format!("chi-square {:.1} for {} degrees of freedom", fit.chi_square, fit.dof);
    match fit.agreement {
        Agreement::Untested => {
            "As many readings as unknowns: they fit one plane whatever they are.".to_owned()
        }
        Agreement::Agrees => format!("The readings agree with one plane ({numbers}).{worst}"),
        Agreement::Strained => format!(
            "The readings agree badly ({numbers}); every uncertainty is widened {:.1} times for it.{worst}",
            fit.widening
        ),
        Agreement::Contradicts => {
            let odd = fit
                .contradiction()
                .map(|odd| screen::contradiction(odd, AGAIN_IN_TABLE))
                .unwrap_or_default();
            format!(
                "The readings CONTRADICT one another ({numbers}). Nothing is promised on them: no verdict, no turns. {}.",
                capital(&odd)
            )
        }
    }
}

/// Why no turn is told while takes contradict one another, for the guided trim.
pub fn no_turns(odd: &Odd) -> String {
    let odd = screen::contradiction(odd, "lift the head, clip it on there anew and take");
    format!("the takes contradict one another, so there are no turns: {odd}")
}

/// Which places nothing checks, and the station that would; `None` where all are checked, and where
/// the readings contradict one another anyway.
pub fn unchecked(fit: &PlaneFit, one_more: Option<&str>) -> Option<String> {
    let names: Vec<&str> = fit.consistency.unchecked().map(|place| place.name.as_str()).collect();
    if names.is_empty() || fit.contradiction().is_some() {
        return None;
    }
    let names = if names.len() > MOST_NAMED {
        "any of them".to_owned()
    } else {
        screen::list(&names, "or")
    };
    let one_more = one_more.map_or_else(String::new, |name| format!(", {name} for one"));
    Some(format!(
        "A wrong reading at {names} would not show, so there is no verdict of within: take one more station{one_more}."
    ))
}

/// Places named one by one up to so many.
const MOST_NAMED: usize = 4;

fn capital(text: &str) -> String {
    let mut rest = text.chars();
    rest.next().map_or_else(String::new, |first| first.to_uppercase().chain(rest).collect())
}

/// One judged point, for a verdict's reason.
pub fn point(judged: &JudgedPoint, band: Band<Mm>, image: Image) -> String {
    let name = place(judged.point.x_mm, judged.point.y_mm, image);
    stands(&name, judged.gap.gap_mm, judged.expanded_mm, band)
}

fn stands(name: &str, gap_mm: f64, expanded_mm: f64, band: Band<Mm>) -> String {
    let inside_mm = band.inside(Mm(gap_mm)).0;
    let stands = match band.side(Mm(gap_mm)) {
        Some(Side::Below) => format!("{:.2} mm below the band", -inside_mm),
        Some(Side::Above) => format!("{:.2} mm above the band", -inside_mm),
        _ => format!("{inside_mm:.2} mm inside the band"),
    };
    format!("{name}: {gap_mm:.2} mm ± {expanded_mm:.2}, {stands}")
}

/// The verdict over the board with what limits it, and what would settle it.
pub fn verdict(judged: &BoardVerdict, band: Band<Mm>, image: Image) -> String {
    let at_point = judged.limiting.and_then(|at| judged.points.get(at));
    // A place's own readings may decide where the plane does not.
    let by_readings = judged.places.iter().filter(|place| place.verdict == judged.verdict);
    let worst = by_readings.min_by(|a, b| a.room_mm(band).total_cmp(&b.room_mm(band)));
    let limit = match (at_point, worst) {
        _ if judged.remedy == Some(Remedy::OneMoreStation) => None,
        (Some(p), Some(read)) if p.verdict != judged.verdict => Some(stands(
            &format!("the reading at {}", read.name),
            read.gap_mm,
            read.expanded_mm,
            band,
        )),
        (None, Some(read)) if judged.verdict == Verdict::Outside => Some(stands(
            &format!("the reading at {}", read.name),
            read.gap_mm,
            read.expanded_mm,
            band,
        )),
        (point_there, _) => point_there.map(|p| point(p, band, image)),
    };
    let remedy = match &judged.remedy {
        // What to do then is said with the readings.
        Some(Remedy::Retake) => ": the readings contradict one another".to_owned(),
        Some(Remedy::SurveyBoard) if limit.is_none() => {
            ": the readings contradict one another".to_owned()
        }
        Some(remedy) => format!("; {}", remedy_words(remedy)),
        None => String::new(),
    };
    let word = format!(
        "{} {}",
        screen::shape(judged.verdict),
        screen::verdict_at(judged.verdict, &judged.judged_at)
    );
    match limit {
        Some(limit) => format!("{word}. What limits it: {limit}{remedy}."),
        None => format!("{word}{remedy}."),
    }
}

/// Whether any setting passes, by how much, and what is in the way. `None` where one surely does,
/// with nothing to say.
pub fn feasibility(
    answer: &Assessment,
    points: &[ControlPoint],
    names: &dyn Fn(usize) -> String,
    image: Image,
) -> Option<String> {
    let margin_mm = answer.setting.margin_mm;
    let expanded_mm = crate::watch::stations::expanded(answer.margin_u_mm, None);
    let held = held(&answer.setting, points, names, image);
    match answer.feasibility() {
        _ if answer.contradicts() => Some(
            "Whether a setting passes cannot be said while the readings contradict one another."
                .to_owned(),
        ),
        Feasibility::Yes => None,
        Feasibility::No => Some(format!(
            "NO setting of the screws passes: the best still leaves {:.2} mm ± {expanded_mm:.2} too much. {held} Mend that \
             first, or agree on a wider band; the best setting follows.",
            -margin_mm
        )),
        Feasibility::Unsure if margin_mm < 0.0 => Some(format!(
            "As best known NO setting passes: {:.2} mm ± {expanded_mm:.2} too much. {held} The board's shape is not known well \
             enough to be sure: survey it, or take more stations, before turning.",
            -margin_mm
        )),
        Feasibility::Unsure => Some(format!(
            "As best known a setting passes, with {margin_mm:.2} mm ± {expanded_mm:.2} to spare: too close to be sure before \
             the board is surveyed or more stations are taken. {held}"
        )),
    }
}

/// What holds the margin down, in one sentence; empty where nothing does.
pub fn held(
    setting: &Setting,
    points: &[ControlPoint],
    names: &dyn Fn(usize) -> String,
    image: Image,
) -> String {
    let spot = |at: usize| points.get(at).map(|p| place(p.x_mm, p.y_mm, image)).unwrap_or_default();
    let (mut near, mut far, mut ends) = (Vec::new(), Vec::new(), Vec::new());
    for (hold, _) in &setting.holds {
        match hold {
            Hold::Low { spot: at } => near.push(spot(*at)),
            Hold::High { spot: at } => far.push(spot(*at)),
            Hold::TravelClockwise { adjuster } => {
                ends.push(format!("{} clockwise", names(*adjuster)));
            }
            Hold::TravelAnticlockwise { adjuster } => {
                ends.push(format!("{} anticlockwise", names(*adjuster)));
            }
        }
    }
    let mut parts = Vec::new();
    if !near.is_empty() {
        parts.push(format!(
            "the board comes too near to the light at the {}",
            near.join(" and the ")
        ));
    }
    if !far.is_empty() {
        parts.push(format!("falls too far back from it at the {}", far.join(" and the ")));
    }
    if !ends.is_empty() {
        parts.push(format!("the travel ends of {}", ends.join(" and ")));
    }
    if parts.is_empty() {
        String::new()
    } else {
        format!("What is in the way: {}.", parts.join(", "))
    }
}

/// A turn's sense with its arrow, as seen from the screw's head.
pub fn sense(turns: f64) -> &'static str {
    if turns > 0.0 { "clockwise ↻" } else { "anticlockwise ↺" }
}

/// An amount of turning as a hand makes it: whole turns and twelfths, as on a clock's face.
pub fn amount(turns: f64) -> String {
    let turns = turns.abs();
    let twelfths = (turns * 12.0).round() as u64;
    let (whole, hours) = (twelfths / 12, twelfths % 12);
    let words = match (whole, hours) {
        (0, 0) => "a touch".to_owned(),
        (0, hours) => format!("{hours} h on a clock's face"),
        (whole, 0) => format!("{whole} whole"),
        (whole, hours) => format!("{whole} whole and {hours} h on a clock's face"),
    };
    format!("{turns:.2} turn{} ({words})", if (turns * 100.0).round() == 100.0 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;

    const IMAGE: Image = Image::mm(2000.0, 1200.0);

    #[test]
    fn places_have_the_names_a_person_uses() {
        for (x, y, name) in [
            (-1000.0, 0.0, "top left corner"),
            (0.0, -1190.0, "middle of the bottom edge"),
            (990.0, -600.0, "middle of the right edge"),
            (0.0, -600.0, "middle of the image"),
            (300.0, -200.0, "300 mm right of the middle, 200 mm down"),
        ] {
            assert_eq!(place(x, y, IMAGE), name);
        }
    }

    #[test]
    fn the_plane_is_told_by_its_slopes_over_the_image() {
        let told = plane(&Plane { c_mm: 3.0, p_mm_per_m: -0.5, q_mm_per_m: -2.0 }, IMAGE);
        assert_eq!(
            told,
            "In the middle of the top edge the light stands 3.00 mm over the board; from left to right it comes 1.00 mm \
             nearer; from top to bottom it comes 2.40 mm farther off."
        );
    }

    #[test]
    fn turns_are_said_as_a_hand_makes_them() {
        assert_eq!(amount(-0.25), "0.25 turns (3 h on a clock's face)");
        assert_eq!(amount(1.0), "1.00 turn (1 whole)");
        assert_eq!(amount(0.01), "0.01 turns (a touch)");
    }
}
