//! A trim worked out from a table of readings, as text.

use super::{columns, listed, said};
use crate::command::trim::rounds::Contradiction;
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::{Assessment, Question};
use skimgauge_metrology::report::Report;
use skimgauge_metrology::verdict::whole::WholeVerdict;
use skimgauge_metrology::verdict::{JudgedPoint, decide};
use skimgauge_model::{Point, Verdict};
use skimgauge_procedure::takes;
use skimgauge_procedure::trim::says;
use skimgauge_quantity::{Mm, Name, Sentence, Style, Turns, count, plain, say};

/// Contradictions listed in text.
const MOST_CONTRADICTIONS: usize = 5;
/// Readings listed in text.
const MOST_READINGS: usize = 40;
/// Control points listed in text: corners, edges and middle.
const MOST_POINTS: usize = 9;

/// What was asked and what came of it.
pub(crate) struct Worked<'a> {
    pub(crate) job: &'a Job,
    pub(crate) question: &'a Question<'a>,
    pub(crate) answer: &'a Assessment,
    pub(crate) report: &'a Report,
    /// Places to survey where that would settle the verdict, and that in words.
    pub(crate) survey: Option<&'a (Sentence, Vec<(f64, f64)>)>,
    /// The station that would check the others, where an error in one of them would not show.
    pub(crate) one_more: Option<&'a str>,
    /// What earlier rounds, or two readings of one place, say against one another.
    pub(crate) contradictions: &'a [Contradiction],
    /// What the person should look at again.
    pub(crate) remarks: &'a [Sentence],
}

impl Worked<'_> {
    /// All of it.
    pub(crate) fn text(&self, style: Style) -> String {
        let (answer, question) = (self.answer, self.question);
        let (site_image, band) = (self.job.image, question.band);
        let name = |adjuster: usize| self.job.adjusters[adjuster].name.clone();
        let head = say!(
            "TRIM  {}, {}, band {}",
            Name(&self.job.about.name),
            count(question.observations.gaps.len(), "reading"),
            band.low.limit().to(band.high.limit())
        );
        let mut text = head.text(style) + "\n";
        if !answer.contradicts() {
            text += &said("  ", &says::light(&answer.fit.plane, question.board, site_image), style);
        }
        let agreement = says::agreement(&answer.fit, question.observations, site_image);
        text += &said("  ", &agreement, style);
        if let Some(says) = says::unchecked(&answer.fit, self.one_more) {
            text += &said("  ! ", &says, style);
        }
        text += &self.contradictions(style);
        text += "\n";
        text += &if answer.contradicts() { self.readings(style) } else { self.gaps(style) };
        text += "\n";
        text += &said("  ", &says::whole_verdict(answer, band, site_image), style);
        if let Some((says, places)) = self.survey {
            text += &said("  ! ", says, style);
            let number = |mm: f64| Mm(mm).wall().cell(style);
            let at =
                places.iter().map(|(x_mm, y_mm)| format!("{}, {}", number(*x_mm), number(*y_mm)));
            let at = at.collect::<Vec<_>>().join("; ");
            let listed = say!(
                "Places, right of the middle and above the top edge, in {}: {}.",
                style.units.word(),
                Name(&at)
            );
            text += &said("    ", &listed, style);
        }
        if let Some(says) = says::feasibility(answer, question.points, &name, site_image) {
            text += "\n";
            text += &said("  ! ", &says, style);
        }
        if answer.promises() {
            text += &self.turns(style);
        }
        text += &listed("Look at", self.remarks.iter().map(|remark| remark.text(style)));
        if !self.report.turns.is_empty() {
            text += "\n";
            text += &said("  ", &says::caution(), style);
        }
        text
    }

    /// What is contradictory, and that nothing is promised on it.
    fn contradictions(&self, style: Style) -> String {
        if self.contradictions.is_empty() {
            return String::new();
        }
        let mut text = "\n".to_owned();
        for contradiction in self.contradictions.iter().take(MOST_CONTRADICTIONS) {
            text += &said("  ! ", &contradiction.says, style);
        }
        if self.contradictions.len() > MOST_CONTRADICTIONS {
            let more = self.contradictions.len() - MOST_CONTRADICTIONS;
            text += &format!("  and {more} more; --json lists them\n");
        }
        if self.answer.contradicts() {
            return text;
        }
        let nothing = say!(
            "These CONTRADICT one another. Nothing is promised on them: no turns, no verdict of within."
        );
        text + &said("  ! ", &nothing, style)
    }

    /// The places read with their verdicts, then what is worked out where nothing was read.
    fn gaps(&self, style: Style) -> String {
        // Inside by its own figures, and not called within: nothing checks it, or something speaks against it.
        let judged_so = |verdict: Verdict, gap_mm: f64, expanded_mm: f64| {
            let by_itself = decide(Mm(gap_mm), Mm(expanded_mm), self.question.band);
            match (verdict, by_itself) {
                (Verdict::Unsure, Verdict::Within) => "inside by itself".to_owned(),
                (verdict, _) => say!("{verdict}").text(style),
            }
        };
        let row = |name: String, gap_mm: f64, expanded_mm: f64, says: String| {
            vec![
                name,
                Mm(gap_mm).gap().cell(style),
                Mm(expanded_mm).uncertainty().cell(style),
                says,
            ]
        };
        let judged = &self.answer.verdict;
        let rows: Vec<Vec<String>> = judged
            .places
            .iter()
            .take(MOST_READINGS)
            .map(|place| {
                let says = judged_so(place.verdict, place.gap_mm, place.expanded_mm);
                let name = self.place(&place.name, place.x_mm, place.y_mm, style);
                row(name, place.gap_mm, place.expanded_mm, says)
            })
            .collect();
        let mut text = columns(&["read at", style.units.sign(), "±", ""], &rows, &[1, 2]);
        if judged.places.len() > MOST_READINGS {
            let more = judged.places.len() - MOST_READINGS;
            text += &format!("  and at {more} more; --json lists them\n");
        }
        let not_read = |point: &&JudgedPoint| self.answer.fit.surveyed || !point.looked_at;
        let rows: Vec<Vec<String>> = judged
            .points
            .iter()
            .take(MOST_POINTS)
            .filter(not_read)
            .map(|point| {
                let at = Point { x: Mm(point.point.x_mm), y: Mm(point.point.y_mm) };
                let judged_so = |verdict| judged_so(verdict, point.gap.gap_mm, point.expanded_mm);
                let says = point.said().map_or_else(|| "not read".to_owned(), judged_so);
                let name = self.job.image.whereabouts(at).text(style);
                row(name, point.gap.gap_mm, point.expanded_mm, says)
            })
            .collect();
        if !rows.is_empty() {
            let head = ["worked out at the", style.units.sign(), "±", ""];
            text += &format!("\n{}", columns(&head, &rows, &[1, 2]));
        }
        if judged.points.len() > MOST_POINTS {
            let more = judged.points.len() - MOST_POINTS;
            text += &format!("  and at {more} surveyed places; --json lists them\n");
        }
        text
    }

    /// A place by the name that its reading has, else by where it is.
    fn place(&self, name: &str, x_mm: f64, y_mm: f64, style: Style) -> String {
        let mut named = self.question.observations.gaps.iter();
        if named.any(|gap| gap.station.as_deref() == Some(name)) {
            return name.to_owned();
        }
        self.job.image.whereabouts(Point { x: Mm(x_mm), y: Mm(y_mm) }).text(style)
    }

    /// Readings that contradict one another, with what the others say where one may be odd.
    fn readings(&self, style: Style) -> String {
        let fit = &self.answer.fit;
        let suspects = || fit.contradiction().into_iter().flat_map(|odd| &odd.suspects);
        let alone = suspects().count() == 1;
        let rows: Vec<Vec<String>> = fit
            .consistency
            .places
            .iter()
            .map(|place| {
                let odd = suspects().find(|suspect| suspect.name == place.name);
                let expected = odd.and_then(|odd| odd.expected_mm);
                let expected = expected.map(|mm| Mm(mm).gap().cell(style));
                vec![
                    self.place(&place.name, place.x_mm, place.y_mm, style),
                    Mm(place.gap_mm).gap().cell(style),
                    expected.unwrap_or_default(),
                    match odd {
                        Some(odd) if odd.came_back => "came back the same".to_owned(),
                        Some(_) if alone => "odd: read it again".to_owned(),
                        Some(_) => "may be odd: read it again".to_owned(),
                        None => String::new(),
                    },
                ]
            })
            .take(MOST_READINGS)
            .collect();
        columns(&["read at", style.units.sign(), "the others say", ""], &rows, &[1, 2])
    }

    fn turns(&self, style: Style) -> String {
        let report = self.report;
        if report.turns.is_empty() {
            let steps =
                self.question.smallest_turn.filter(|_| self.answer.word() != Verdict::Within);
            let says = match steps {
                Some(step) => {
                    say!("No whole steps of {} bring it further inside.", Turns(step).figure())
                }
                None => say!("Nothing to turn."),
            };
            return format!("\n{}", said("  ", &says, style));
        }
        let rows: Vec<Vec<String>> = report
            .turns
            .iter()
            .enumerate()
            .map(|(at, turn)| {
                let signed = if turn.sense == "clockwise" { turn.turns } else { -turn.turns };
                let reads = match (turn.dial_to_mm, turn.then_to_mm) {
                    (Some(mm), _) if turn.outside_band => Mm(mm).gap().text(style) + ", meant",
                    (Some(mm), _) | (None, Some(mm)) => Mm(mm).gap().text(style),
                    (None, None) => "by count".to_owned(),
                };
                let watched = turn.at_station.as_ref().or(turn.then_at_station.as_ref());
                vec![
                    (at + 1).to_string(),
                    turn.adjuster.clone(),
                    says::sense(signed).to_owned(),
                    plain(turn.turns, told_to(turn.turns)).text(style),
                    in_words(turn.turns, style),
                    reads,
                    watched.cloned().unwrap_or_default(),
                ]
            })
            .collect();
        let first = if self.answer.word() == Verdict::Within || self.answer.gap_alone {
            "It is within: nothing has to be turned. These turns would only bring it further inside the band:"
        } else if self.surveys_first() {
            "If you turn without that survey, turn in this order: by the count first, then until the live gap at the \
             station reads what stands here. The reading wins."
        } else {
            "Turn in this order: by the count first, then until the live gap at the station reads what stands here. \
             The reading wins."
        };
        let head = ["", "adjuster", "sense", "turns", "about", "until it reads", "at"];
        let mut text = "\n".to_owned();
        text += &said("  ", &first.into(), style);
        text += &columns(&head, &rows, &[0, 3, 5]);
        text += &self.before_the_first(style);
        for says in self.afterwards() {
            text += &said("  ", &says, style);
        }
        text
    }

    /// Whether a survey is offered before the turns.
    fn surveys_first(&self) -> bool {
        let now = self.answer.whole.as_ref().is_some_and(WholeVerdict::only_between);
        !now && self.survey.is_some()
    }

    /// What the head's seat is read by, before the first turn.
    fn before_the_first(&self, style: Style) -> String {
        let first = self.report.turns.first();
        let watched = first.and_then(|turn| turn.at_station.as_ref().zip(turn.dial_from_mm));
        let Some((station, from_mm)) = watched else { return String::new() };
        let (at, from) = (Name(station), Mm(from_mm).gap());
        let says = say!(
            "Before anything is turned {at} should read {from}. If it reads more, or less, come to as much more, or less, \
             at {at}."
        );
        said("  ", &says, style)
    }

    /// What the turns come to.
    fn afterwards(&self) -> Vec<Sentence> {
        let report = self.report;
        let mut says = Vec::new();
        says.extend(report.promise.as_ref().map(says::promise));
        if report.turns.iter().any(|turn| turn.then_to_mm.is_some()) {
            says.push(say!(
                "The last one is counted first. Then clip the head on there, and turn until it reads so."
            ));
        }
        if report.turns.iter().any(|turn| turn.outside_band) {
            says.push(say!("A reading outside the band is meant: the turns after it bring it in."));
        }
        if let Some(seconds) = report.seconds {
            says.push(say!("The turns take {}.", takes::about(seconds)));
        }
        says
    }
}

/// Digits after the point that a turn is told to: a third where whole steps of what a hand can make
/// have it.
fn told_to(turns: f64) -> u8 {
    let hundredths = 100.0 * turns;
    if (hundredths - hundredths.round()).abs() < 1e-6 { 2 } else { 3 }
}

/// How much, in words that fit a column.
fn in_words(turns: f64, style: Style) -> String {
    let words = Turns(turns).amount().text(style);
    words.strip_suffix(" of a turn").map(str::to_owned).unwrap_or(words)
}
