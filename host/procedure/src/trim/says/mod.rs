//! A trim in the words of the person on the ladder: results in, sentences out.

mod feasible;
mod promised;

pub use feasible::feasibility;
pub use promised::{promise, promised};

use crate::adopt;
use crate::takes::{self, AGAIN, TAKE_U_MM};
use skimgauge_metrology::assess::{Assessment, Question};
use skimgauge_metrology::plane::Plane;
use skimgauge_metrology::plane::between::BetweenPlace;
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::consistency::Odd;
use skimgauge_metrology::plane::fit::{Agreement, PlaneFit};
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::trim::response::Finding;
use skimgauge_metrology::verdict::{BoardVerdict, JudgedAt, JudgedPoint, Remedy};
use skimgauge_model::Image;
use skimgauge_model::Verdict;
use skimgauge_quantity::{
    Band, Mm, Name, Sentence, Side, Turns, count, counted, in_ten, percent, plain, say,
};

/// Slopes that make less than this over the image are not told.
const LEAST_SLOPE: Mm = Mm(0.05);
/// Places named one by one up to so many.
const MOST_NAMED: usize = 4;

const LIGHT_AND_LADDER: &str =
    "Invisible light: follow the emitter's label. Ladder: three points of contact.";
const GENTLY: &str =
    "Turn gently, never past the first resistance; the emitter's maker says what may be turned.";

/// What everybody reads before an adjuster is turned.
pub fn caution() -> Sentence {
    say!("{LIGHT_AND_LADDER} {GENTLY}")
}

/// The same while one is turned: a small screen shows the beginning alone.
pub(super) fn caution_at_adjuster() -> Sentence {
    say!("{GENTLY} {LIGHT_AND_LADDER}")
}

/// How a place of a table is read again.
pub const AGAIN_IN_TABLE: &str =
    "lift the head, clip it on there anew, and give both readings, a line each";

/// Where the light is high and low over the board: over its top edge from end to end, and over the
/// middle of the image from top to bottom.
pub fn light(plane: &Plane, board: &Board, image: Image) -> Sentence {
    let (half, down) = (image.width.0 / 2.0, -image.height.0);
    let height = |x_mm: f64, y_mm: f64| board.height_mm(x_mm, y_mm);
    let middle = height(0.0, 0.0);
    let right = (height(half, 0.0) - height(-half, 0.0)) / image.width.0;
    let up = (middle - height(0.0, down)) / image.height.0;
    let over = Plane {
        c_mm: plane.c_mm - middle,
        p_mm_per_m: plane.p_mm_per_m - 1000.0 * right,
        q_mm_per_m: plane.q_mm_per_m - 1000.0 * up,
    };
    self::plane(&over, image)
}

/// The same over a flat board.
fn plane(plane: &Plane, image: Image) -> Sentence {
    let right = Mm(plane.p_mm_per_m * image.width.0 / 1000.0);
    let down = Mm(-plane.q_mm_per_m * image.height.0 / 1000.0);
    let slope = |from: &'static str, to: &'static str, by: Mm| {
        if by.abs() < LEAST_SLOPE {
            return say!("from {from} to {to} it keeps its distance");
        }
        let way = if by > Mm::ZERO { "farther off" } else { "nearer" };
        say!("from {from} to {to} it comes {} {way}", by.abs().gap())
    };
    say!(
        "In the middle of the top edge the light stands {} over the board; {}; {}.",
        Mm(plane.c_mm).gap(),
        slope("left", "right", right),
        slope("top", "bottom", down)
    )
}

/// How well the readings go together.
pub fn agreement(fit: &PlaneFit, observations: &Observations, image: Image) -> Sentence {
    let worst = fit.worst().and_then(|worst| {
        let gap = observations.gaps.get(worst.index)?;
        let name = match &gap.station {
            Some(name) => say!("{}", Name(name)),
            None => image.whereabouts(adopt::point(gap.x_mm, gap.y_mm)),
        };
        Some(say!(
            " Worst: {name} by {} ({} times its uncertainty).",
            Mm(worst.residual_mm).gap().signed(),
            plain(worst.normalized?.abs(), 1)
        ))
    });
    let worst = worst.unwrap_or_default();
    let numbers = say!(
        "chi-square {} for {}",
        plain(fit.chi_square, 1),
        counted(fit.dof, "degree of freedom", "degrees of freedom")
    );
    match fit.agreement {
        Agreement::Untested => {
            say!("As many readings as unknowns: they fit one plane whatever they are.")
        }
        Agreement::Agrees => say!("The readings agree with one plane ({numbers}).{worst}"),
        Agreement::Strained => say!(
            "The readings agree badly ({numbers}); every uncertainty is widened {} times for it.{worst}",
            plain(fit.widening, 1)
        ),
        Agreement::Contradicts => {
            let odd = fit.contradiction().map(|odd| takes::contradiction(odd, AGAIN_IN_TABLE));
            say!(
                "The readings CONTRADICT one another ({numbers}). Nothing is promised on them: no verdict, no turns. {}.",
                odd.unwrap_or_default().capital()
            )
        }
    }
}

/// Why no turn is told while takes contradict one another, for the guided trim.
pub(crate) fn no_turns(odd: &Odd) -> Sentence {
    say!(
        "the takes contradict one another, so there are no turns: {}",
        takes::contradiction(odd, AGAIN)
    )
}

/// Which places nothing checks, and the station that would; `None` where all are checked, and where
/// the readings contradict one another anyway.
pub fn unchecked(fit: &PlaneFit, one_more: Option<&str>) -> Option<Sentence> {
    let names: Vec<Name<'_>> =
        fit.consistency.unchecked().map(|place| Name(place.name.as_str())).collect();
    if names.is_empty() || fit.contradiction().is_some() {
        return None;
    }
    let names =
        if names.len() > MOST_NAMED { say!("any of them") } else { Sentence::list(names, "or") };
    let one_more = one_more.map_or_else(Sentence::new, |name| say!(", {} for one", Name(name)));
    Some(say!(
        "A wrong reading at {names} would not show, so there is no verdict of within: take one more station{one_more}."
    ))
}

/// One judged point, for a verdict's reason.
fn point(judged: &JudgedPoint, band: Band<Mm>, image: Image) -> Sentence {
    let name = image.whereabouts(adopt::of_control(&judged.point));
    stands(&name, judged.gap.gap_mm, judged.expanded_mm, band)
}

fn stands(name: &Sentence, gap_mm: f64, expanded_mm: f64, band: Band<Mm>) -> Sentence {
    let gap = Mm(gap_mm);
    let stands = match band.side(gap) {
        Some(Side::Below) => say!("{} below the band", band.beyond(gap).gap()),
        Some(Side::Above) => say!("{} above the band", band.beyond(gap).gap()),
        _ => say!("{} inside the band", band.inside(gap).gap()),
    };
    say!("{name}: {}, {stands}", gap.gap().give_or_take(Mm(expanded_mm).uncertainty()))
}

/// A verdict with its shape and what it speaks of.
fn headline(verdict: Verdict, at: &JudgedAt) -> Sentence {
    let shape = verdict.shape();
    say!("{shape} {}", takes::headline(verdict, at))
}

/// The verdict over the whole board: at the places read, and between them.
pub fn whole_verdict(answer: &Assessment, band: Band<Mm>, image: Image) -> Sentence {
    if answer.contradicted && !answer.contradicts() && answer.word() == Verdict::Unsure {
        let word = headline(Verdict::Unsure, &answer.verdict.judged_at);
        return say!("{word}: what was read and turned does not go together.");
    }
    if answer.gap_alone {
        let word = headline(Verdict::Unsure, &answer.verdict.judged_at);
        let of_gap = takes::headline(Verdict::Within, &answer.verdict.judged_at);
        return say!("{word}, for the job judges more than the gap. The gap is {of_gap}.");
    }
    let Some(whole) = &answer.whole else { return verdict(&answer.verdict, band, image) };
    if whole.verdict == whole.at_places.verdict {
        return verdict(&whole.at_places, band, image);
    }
    let word = headline(whole.verdict, &whole.at_places.judged_at);
    let worst = whole.between.worst_place();
    let at = |place: &BetweenPlace| image.whereabouts(adopt::point(place.x_mm, place.y_mm));
    match (whole.verdict, worst) {
        (Verdict::Outside, Some(place)) => {
            say!("{word}. What limits it: the {}: {}", at(place), Mm(place.gap_mm).gap())
        }
        (_, Some(place)) => say!(
            "{word}: between the places read a board may stray too far, most of all: {}.",
            at(place)
        ),
        (_, None) => say!("{word}."),
    }
}

/// Where a survey would settle a verdict, now or once the turns are made, and how long it takes;
/// `None` where it would not. Places and time are those that `skimgauge survey` keeps to.
pub fn survey(
    question: &Question<'_>,
    answer: &Assessment,
    image: Image,
) -> Option<(Sentence, Vec<(f64, f64)>)> {
    let whole = answer.whole.as_ref()?;
    let now = whole.only_between();
    let look = answer.survey(question, TAKE_U_MM).filter(|look| look.settles)?;
    let proposed = crate::survey::points(question.board, image, look.places.len())?;
    let many = proposed.len();
    let places = count(many, "place");
    // What hardly ever helps is not offered.
    let helps = Some(answer.survey_helps(now)?).filter(|helps| *helps >= 0.05);
    let chance = helps.map(in_ten)?;
    let time = takes::about(question.person.survey_s(many));
    let how = say!("skimgauge survey --job FILE --head PORT --next {many} --points NEW.csv");
    let says = if now {
        say!("A survey of {places} may settle it ({time}; it does {chance}): {how}.")
    } else {
        say!(
            "The best setting alone would be too close to call, for nobody knows the board between the places read. \
             Survey {places} before you turn ({time}; it helps {chance}): {how}."
        )
    };
    Some((says, proposed.iter().map(|point| (point.x_mm, point.y_mm)).collect()))
}

/// The verdict over the board with what limits it, and what would settle it.
pub fn verdict(judged: &BoardVerdict, band: Band<Mm>, image: Image) -> Sentence {
    let at_point = judged.limiting.and_then(|at| judged.points.get(at));
    // A place's own readings may decide where the plane does not.
    let by_readings = judged.places.iter().filter(|place| place.verdict == judged.verdict);
    let worst = by_readings.min_by(|a, b| a.room_mm(band).total_cmp(&b.room_mm(band)));
    let of_reading = |read: &skimgauge_metrology::verdict::JudgedPlace| {
        let name = say!("the reading at {}", Name(&read.name));
        stands(&name, read.gap_mm, read.expanded_mm, band)
    };
    let limit = match (at_point, worst) {
        _ if judged.remedy == Some(Remedy::OneMoreStation) => None,
        (Some(p), Some(read)) if p.verdict != judged.verdict => Some(of_reading(read)),
        (None, Some(read)) if judged.verdict == Verdict::Outside => Some(of_reading(read)),
        (point_there, _) => point_there.map(|p| point(p, band, image)),
    };
    let remedy = match &judged.remedy {
        // What to do then is said with the readings.
        Some(Remedy::Retake) => say!(": the readings contradict one another"),
        Some(Remedy::SurveyBoard) if limit.is_none() => {
            say!(": the readings contradict one another")
        }
        Some(remedy) => say!("; {}", takes::remedy(remedy)),
        None => Sentence::new(),
    };
    let word = headline(judged.verdict, &judged.judged_at);
    match limit {
        Some(limit) => say!("{word}. What limits it: {limit}{remedy}."),
        None => say!("{word}{remedy}."),
    }
}

/// What an answer to a turn means, and what to do.
pub fn finding(adjuster: &str, finding: Finding) -> Sentence {
    let name = Name(adjuster);
    match finding {
        Finding::AsPredicted => say!("the {name} adjuster answered as predicted"),
        Finding::Reversed => say!(
            "the {name} adjuster works the other way round: the gap went the opposite way; its sense in the job is \
             turned about from here on"
        ),
        Finding::Slipping { share } => say!(
            "the {name} adjuster slips: the plane followed by {} of the turn; look for a loose lock nut or a worn \
             thread before turning further",
            percent(share)
        ),
        Finding::Bottomed { share } => say!(
            "the {name} adjuster has reached the end of its travel after {} of the turn; do not force it, turn it back \
             a little and move the emitter's mount instead",
            percent(share.max(0.0))
        ),
        Finding::Moved { unexplained_mm } => say!(
            "the gap changed by {} that no turn of the {name} adjuster explains: the head or the \
             emitter moved; seat the head again and retake this station",
            Mm(unexplained_mm).gap().signed()
        ),
    }
}

/// That a turn of an adjuster does another part of what the job file says, with its pitch.
pub fn pitch(adjuster: &str, share: f64, pitch: Mm) -> Sentence {
    let near = |of: f64| (share / of - 1.0).abs() < 0.1;
    let does = match share {
        _ if near(0.5) => say!("half of"),
        _ if near(2.0) => say!("twice"),
        _ => say!("{} times", plain(share, 2)),
    };
    say!(
        "a turn of {} does {does} what the job file says, round after round: it is planned with that. Its pitch seems \
         to be {}: look at the screw, and mend it in the job file",
        Name(adjuster),
        pitch.gap()
    )
}

/// A turn's sense with its arrow, as seen from the adjuster's head.
pub fn sense(turns: f64) -> &'static str {
    if turns > 0.0 { "clockwise ↻" } else { "anticlockwise ↺" }
}

/// The trim is over: what is left to do, beside what the verdict says.
pub(crate) fn over(whole: &takes::Whole, all_read: bool) -> Sentence {
    match whole.verdict {
        Verdict::Within => say!("done: nothing more to turn"),
        _ if !all_read => say!("nothing more to turn; what was not read stays too close to call"),
        _ if whole.settles.is_some() => {
            say!("nothing more to turn: what would settle it is said with the verdict")
        }
        _ => say!("nothing more to turn: the adjusters bring it no further into the band"),
    }
}

/// A turn as a hand makes it, with its number.
fn amount(turns: f64) -> Sentence {
    say!("{} ({})", Turns(turns.abs()).amount(), Turns(turns.abs()).figure())
}

/// What to do, in one line: until the gap there reads so much.
pub(crate) fn turn(
    adjuster: &str,
    turns: f64,
    (station, dial_to_mm): (&str, f64),
    outside_band: bool,
    held: bool,
) -> Sentence {
    let meant = if outside_band { " (outside the band, and meant)" } else { "" };
    let then = if held { ", then say that it is made" } else { "" };
    say!(
        "turn {} {}, {}, until {} reads {}{meant}{then}",
        Name(adjuster),
        sense(turns),
        amount(turns),
        Name(station),
        Mm(dial_to_mm).gap()
    )
}

/// The same of one that was said to be made and is not: on, to whichever side is left.
pub(crate) fn turn_on(adjuster: &str, left: f64, (station, dial_to_mm): (&str, f64)) -> Sentence {
    say!(
        "turn {} on {}, until {} reads {}, or say once more that it is made",
        Name(adjuster),
        sense(left),
        Name(station),
        Mm(dial_to_mm).gap()
    )
}

/// The same by count; `in_all`: some of it may be made already. `then`: where the head sees the light
/// once it is made, and what the gap there should read.
pub(crate) fn turn_by_count(
    adjuster: &str,
    turns: f64,
    then: Option<(&str, f64)>,
    in_all: bool,
) -> Sentence {
    let from = if in_all { " in all from where it stood" } else { "" };
    let then = then.map(|(station, to_mm)| {
        say!("; {} should then read about {}", Name(station), Mm(to_mm).gap())
    });
    say!(
        "turn {} {}, {}{from}, by count, then say that it is made{}",
        Name(adjuster),
        sense(turns),
        amount(turns),
        then.unwrap_or_default()
    )
}

/// The one that was turned in its place goes back first.
pub(crate) fn turn_back(watched: Option<(&str, f64)>) -> Sentence {
    match watched {
        Some((station, gap_mm)) => say!(
            "turn back the one that you turned, until {} reads {}, then say so",
            Name(station),
            Mm(gap_mm).gap()
        ),
        None => say!("turn back the one that you turned, by as much, then say so"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_quantity::{Style, Units};

    const IMAGE: Image = Image::mm(2000.0, 1200.0);

    #[test]
    fn the_plane_is_told_by_its_slopes_over_the_image() {
        let told = plane(&Plane { c_mm: 3.0, p_mm_per_m: -0.5, q_mm_per_m: -2.0 }, IMAGE);
        assert_eq!(
            told.text(Style::default()),
            "In the middle of the top edge the light stands 3.00 mm over the board; from left to right it comes 1.00 mm \
             nearer; from top to bottom it comes 2.40 mm farther off."
        );
    }

    /// By count first, then by what the head reads once it sees the light again.
    #[test]
    fn a_counted_turn_says_what_is_read_after_it() {
        let said = turn_by_count("left", 0.5, Some(("top", 2.841)), false);
        assert_eq!(
            said.text(Style::default()),
            "turn left clockwise ↻, half a turn (0.5 turns), by count, then say that it is made; top should then read \
             about 2.84 mm"
        );
        assert!(!turn_by_count("left", 0.5, None, false).text(Style::default()).contains("read"));
    }

    /// A name stays as it was written, whatever is in it.
    #[test]
    fn a_turn_is_said_as_a_hand_makes_it() {
        let said = turn("left", -0.25, ("shelf at 100 mm", 2.54), false, false);
        assert_eq!(
            said.text(Style::typed(Units::Inch)),
            "turn left anticlockwise ↺, a quarter of a turn (0.25 turns), until shelf at 100 mm reads 0.100 in"
        );
    }
}
