//! A survey as text.

use super::{columns, said};
use crate::lengths::Lengths;
use crate::survey::Survey;
use skimgauge_model::Verdict;
use skimgauge_procedure::trim::says::promised;
use skimgauge_quantity::{Mm, at_most, count, say};
use skimgauge_site::survey::Proposed;
use skimgauge_steps::Typed;

/// The points to begin with, as text.
pub fn proposal(points: &[Proposed], job: &Typed<'_>, units: Lengths) -> String {
    let mut text = format!(
        "SURVEY  points to begin with, {} from the middle of the image's top edge; the first six find bow and twist\n",
        units.sign()
    );
    text += &places(points, units);
    text + &format!(
        "\nSurvey them with the head: {}\n\
         or write their heights beside them as a table x_mm,y_mm,z_mm (millimetres): {}\n",
        job.filled("survey --job {job} --head PORT --points POINTS.csv"),
        job.filled("survey --job {job} --from POINTS.csv")
    )
}

fn places(points: &[Proposed], units: Lengths) -> String {
    let rows: Vec<Vec<String>> = points
        .iter()
        .map(|p| {
            vec![
                p.order.to_string(),
                units.length_number(p.x_mm, 0),
                units.length_number(p.y_mm, 0),
                p.why.text(units.style()),
            ]
        })
        .collect();
    columns(&["", "x", "y", "for"], &rows, &[0, 1, 2])
}

/// The whole survey as text.
pub fn text(survey: &Survey, units: Lengths) -> String {
    let mut text = format!("SURVEY  {}\n", count(survey.points, "point"));
    if survey.simulated {
        text += "  PRACTICE: read of a simulated head. Nothing was measured.\n";
    }
    let proved =
        if survey.flatness_is_proved { "proved by its touching places" } else { "not proved" };
    let mut rows = vec![
        vec![
            if survey.unlooked.is_some() {
                "flatness of the places surveyed, minimum zone".to_owned()
            } else {
                "flatness, minimum zone".to_owned()
            },
            units.fine_number(survey.flatness_mm),
            proved.to_owned(),
        ],
        vec![
            "flatness, least squares".to_owned(),
            units.fine_number(survey.least_squares_flatness_mm),
            String::new(),
        ],
    ];
    for (name, value) in [
        ("bow across, middle out of left and right", survey.bow_across_mm),
        ("bow down, middle out of top and bottom", survey.bow_down_mm),
        ("twist, top right out", survey.twist_mm),
    ] {
        rows.push(vec![
            name.to_owned(),
            value.map_or("not known".to_owned(), |mm| units.fine_change_number(mm)),
            String::new(),
        ]);
    }
    text += &columns(&["", units.sign(), ""], &rows, &[1]);
    let band = &survey.band;
    let allowed = Mm(band.low_mm).limit().to(Mm(band.high_mm).limit());
    let needed = Mm(band.needed_mm).gap();
    let left = Mm(band.margin_mm).gap().give_or_take(Mm(band.margin_expanded_mm).uncertainty());
    let says = match band.verdict {
        Verdict::Within => say!(
            "The gap's band {allowed} can be met over this board: it takes {needed} of it at the places surveyed, {left} are left on each side there."
        ),
        Verdict::Outside => say!(
            "NO setting of the touch plane keeps the band {allowed} over this board: it takes {needed}. The places below make it so."
        ),
        Verdict::Unsure if survey.unlooked.is_some() => say!(
            "Whether the gap's band {allowed} can be met over this board is NOT KNOWN: nobody looked at a part of the image. The places surveyed take {needed} of it."
        ),
        Verdict::Unsure => say!(
            "TOO CLOSE TO CALL whether the gap's band {allowed} can be met over this board: it takes {needed} of it at the places surveyed, {left} are left on each side there."
        ),
    };
    text += &said("  ", &says, units.style());
    if let Some(between) = &band.between {
        let says = say!(
            "With what the board may do between them, the best setting leaves the worst place {} (95 %). With the chance \
             of a bump or dent that nobody has met, {} that some place is out.",
            promised(&between.room),
            at_most(between.chance)
        );
        text += &said("  ", &says, units.style());
    }
    for (heading, list) in
        [("Farthest from the plane", &survey.worst), ("Bumps and dents", &survey.bumps)]
    {
        if !list.is_empty() {
            let rows: Vec<Vec<String>> = list
                .iter()
                .map(|p| {
                    vec![
                        units.length_number(p.x_mm, 0),
                        units.length_number(p.y_mm, 0),
                        units.fine_change_number(p.z_mm),
                    ]
                })
                .collect();
            text += &format!(
                "\n{heading}, {}\n{}",
                units.sign(),
                columns(&["x", "y", "z"], &rows, &[0, 1, 2])
            );
        }
    }
    if !survey.next.is_empty() {
        // Where it is met already nobody has to climb for more.
        let when = match band.verdict {
            Verdict::Within => " only if trim asks",
            Verdict::Outside | Verdict::Unsure => "",
        };
        text += &format!(
            "\nWhere to look next{when}, {}\n{}",
            units.sign(),
            places(&survey.next, units)
        );
    }
    for remark in &survey.remarks {
        text += &said("  - ", remark, units.style());
    }
    text
}
