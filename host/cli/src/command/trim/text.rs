//! What was worked out from a table, as text.

use super::Told;
use crate::lengths::Lengths;
use crate::report::{columns, listed, paragraph};
use skimgauge_job::Job;
use skimgauge_metrology::assess::{Assessment, Question};
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::report::Report;
use skimgauge_metrology::verdict::JudgedPoint;
use skimgauge_model::{self as model, Verdict};
use skimgauge_procedure::takes::expanded;
use skimgauge_procedure::trim::says;
use skimgauge_quantity::{Mm, Sentence, Turns, plain, say};
use skimgauge_site::image::Image;

pub(super) fn text(
    job: &Job,
    observations: &Observations,
    question: &Question<'_>,
    answer: &Assessment,
    told: &Told<'_>,
    units: Lengths,
) -> String {
    let style = units.style();
    let (image, band) = (job.image, question.band);
    let name = |adjuster: usize| job.adjusters[adjuster].name.clone();
    let (low, high) = (units.gap_number(band.low.0), units.gap(band.high.0));
    let mut text = format!(
        "TRIM  {}, {} readings, band {low} to {high}\n",
        job.about.name,
        observations.gaps.len()
    );
    if !answer.contradicts() {
        text += &paragraph("  ", &says::plane(&answer.fit.plane, image).text(style));
    }
    text += &paragraph("  ", &says::agreement(&answer.fit, observations, image).text(style));
    if let Some(says) = says::unchecked(&answer.fit, told.one_more.as_deref()) {
        text += &paragraph("  ! ", &says.text(style));
    }
    text += "\n";
    text += &if answer.contradicts() {
        readings_text(answer, units)
    } else {
        gaps_text(answer, image, units)
    };
    text +=
        &format!("\n{}", paragraph("  ", &says::verdict(&answer.verdict, band, image).text(style)));
    if let Some(says) = says::feasibility(answer, question.points, &name, image) {
        text += &format!("\n{}", paragraph("  ! ", &says.text(style)));
    }
    text += &if answer.contradicts() { String::new() } else { turns(told.report, units) };
    text += &listed("Look at", told.remarks.iter().map(|says| says.text(style)));
    if !told.report.turns.is_empty() {
        text += &format!("\n{}", paragraph("  ", says::CAUTION));
    }
    text
}

/// The places read with their verdicts, then what is worked out where nobody looked.
fn gaps_text(answer: &Assessment, image: Image, units: Lengths) -> String {
    let verdict = |verdict: Verdict| format!("{} {}", verdict.shape(), verdict.shown());
    let row = |name: &str, gap_mm: f64, expanded_mm: f64, says: String| {
        vec![name.to_owned(), units.gap_number(gap_mm), units.gap_number(expanded_mm), says]
    };
    let judged = &answer.verdict;
    let places = judged.places.iter().take(MOST_READINGS);
    let rows: Vec<Vec<String>> = places
        .map(|place| row(&place.name, place.gap_mm, place.expanded_mm, verdict(place.verdict)))
        .collect();
    let mut text = columns(&["read at", units.sign(), "±", ""], &rows, &[1, 2]);
    if judged.places.len() > MOST_READINGS {
        text +=
            &format!("  and at {} more; --json lists them\n", judged.places.len() - MOST_READINGS);
    }
    let not_read = |point: &&JudgedPoint| answer.fit.surveyed || !point.looked_at;
    let points = judged.points.iter().take(MOST_POINTS).filter(not_read);
    let rows: Vec<Vec<String>> = points
        .map(|point| {
            let name = whereabouts(point, image).text(units.style());
            let says = point.said().map_or_else(|| "nobody looked".to_owned(), verdict);
            row(&name, point.gap.gap_mm, point.expanded_mm, says)
        })
        .collect();
    if !rows.is_empty() {
        text += &format!(
            "\n{}",
            columns(&["worked out at the", units.sign(), "±", ""], &rows, &[1, 2])
        );
    }
    if judged.points.len() > MOST_POINTS {
        text += &format!(
            "  and at {} surveyed places; --json lists them\n",
            judged.points.len() - MOST_POINTS
        );
    }
    text
}

/// Readings that contradict one another, with what the others say where one may be odd.
fn readings_text(answer: &Assessment, units: Lengths) -> String {
    let suspects = || answer.fit.contradiction().into_iter().flat_map(|odd| &odd.suspects);
    let rows: Vec<Vec<String>> = answer
        .fit
        .consistency
        .places
        .iter()
        .map(|place| {
            let odd = suspects().find(|suspect| suspect.name == place.name);
            vec![
                place.name.clone(),
                units.gap_number(place.gap_mm),
                odd.map(|odd| units.gap_number(odd.expected_mm)).unwrap_or_default(),
                match odd {
                    Some(odd) if odd.came_back => "came back the same".to_owned(),
                    Some(_) => "odd: read it again".to_owned(),
                    None => String::new(),
                },
            ]
        })
        .take(MOST_READINGS)
        .collect();
    columns(&["read at", units.sign(), "the others say", ""], &rows, &[1, 2])
}

/// Readings listed in text.
const MOST_READINGS: usize = 40;

/// Control points listed in text: corners, edges and middle.
const MOST_POINTS: usize = 9;

fn turns(report: &Report, units: Lengths) -> String {
    let style = units.style();
    if report.turns.is_empty() {
        return "\n  Nothing to turn.\n".to_owned();
    }
    let rows: Vec<Vec<String>> = report
        .turns
        .iter()
        .enumerate()
        .map(|(at, turn)| {
            let signed = if turn.sense == "clockwise" { turn.turns } else { -turn.turns };
            vec![
                (at + 1).to_string(),
                turn.adjuster.clone(),
                says::sense(signed).to_owned(),
                Turns(turn.turns.abs()).amount().text(style),
                units.gap(turn.dial_to_mm),
                turn.at_station.clone(),
            ]
        })
        .collect();
    let first = if report.verdict == Verdict::Within {
        "\n  It is within: nothing must be turned. These turns would only bring it to the middle of the band:\n"
    } else {
        "\n  Turn in this order, each until the live gap at its station has come to what stands here:\n"
    };
    let mut text = first.to_owned()
        + &columns(&["", "adjuster", "sense", "about", "dial to", "watched at"], &rows, &[0, 4]);
    for says in beside_turns(report) {
        text += &paragraph("  ", &says.text(style));
    }
    text
}

/// What is to be known of the turns besides.
fn beside_turns(report: &Report) -> Vec<Sentence> {
    let mut all = Vec::new();
    if let (true, true, Some(margin_mm), Some(u_mm)) =
        (report.feasible, report.checked, report.margin_mm, report.margin_u_mm)
    {
        let margin = Mm(margin_mm).gap().give_or_take(Mm(expanded(u_mm, None)).gap());
        all.push(say!(
            "Then every point is at least {margin} inside the band, as far as the board is known."
        ));
    }
    if let Some(by_hand) = &report.by_hand {
        let [a, b, c] = by_hand.turns.map(|turns| plain(turns, 3).signed());
        all.push(say!(
            "In whole steps, in the job's order, clockwise positive: {a}, {b}, {c} turns; that leaves {} inside the band.",
            Mm(by_hand.margin_mm).gap()
        ));
    }
    if let Some(least_mm) = report.least_gap_mm {
        let least = Mm(least_mm).gap();
        all.push(if report.clear {
            say!("On the way the light keeps clear of the board, {least} at the least.")
        } else {
            say!(
                "CAREFUL: on the way the light comes within {least} of the board. Turn slowly, and watch it there."
            )
        });
    }
    all
}

/// A point on the image as a person finds it.
fn whereabouts(point: &JudgedPoint, image: Image) -> Sentence {
    let image = model::Image { width: Mm(image.width_mm), height: Mm(image.height_mm) };
    image.whereabouts(model::Point { x: Mm(point.point.x_mm), y: Mm(point.point.y_mm) })
}
