//! From a job's history to what the handover says.

mod board;
mod brief;
mod client;
mod closing;
mod instrument;
mod job;
mod job_file;
mod practice;
mod section;
mod steps;
mod work;

use std::collections::BTreeMap;

use skimgauge_jobfile::JobFile;
use skimgauge_model::Point;
use skimgauge_quantity::{Figure, Mm, Style};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Body, Judged, Phase, Take, Verdict};
use skimgauge_record::section::Said;
use skimgauge_record::takes::CurrentTake;
use skimgauge_record::{Event, JobHistory};
use skimgauge_steps::{Standing, State, Step, standings};

use crate::document::{Block, Cell, Document, Section};
use crate::plain;
#[cfg(feature = "pdf")]
pub(crate) use brief::BRIEFS;
pub(crate) use brief::Brief;
use practice::Practice;

/// Everything that the parts look up.
#[derive(Debug)]
struct Reading<'a> {
    history: &'a JobHistory,
    /// How quantities are shown.
    style: Style,
    /// Attached files that may be shown, by their hashes.
    photos: &'a [(Hash, Vec<u8>)],
    /// The job file in force from each event on, or what is wrong with it.
    jobs: Vec<(u32, Result<JobFile, String>)>,
    takes: Vec<CurrentTake<'a>>,
    standings: Vec<Standing>,
    /// The event of the last verdict, and why it no longer holds, where something came that undoes it.
    no_longer: Option<(u32, String)>,
    /// Whether anything was read of a simulated head, and whether that is all there is.
    practice: Practice,
}

/// A station's takes of one phase, as one number.
#[derive(Debug, Clone, PartialEq)]
struct StationGap {
    at: Point,
    /// Mean of the takes that stand.
    gap: Mm,
    takes: usize,
    /// Of the last of them.
    verdict: Option<Verdict>,
}

/// A station is written to the record as its place is; so near it is the same.
const SAME_PLACE: Mm = Mm(0.5);

impl<'a> Reading<'a> {
    fn new(
        history: &'a JobHistory,
        style: Style,
        photos: &'a [(Hash, Vec<u8>)],
        practice: Practice,
    ) -> Self {
        let jobs = history
            .events
            .iter()
            .filter_map(|event| match &event.body {
                Body::JobOpened(opened) => Some((event.seq, opened.job_file.as_str())),
                Body::JobRevised(revised) => Some((event.seq, revised.job_file.as_str())),
                _ => None,
            })
            .map(|(seq, text)| {
                (seq, JobFile::read("job file", text).map_err(|errors| errors.to_string()))
            })
            .collect();
        let standings = standings(&history.events);
        let trim = standings.iter().find(|standing| standing.step == Step::Trim);
        let no_longer = match trim.map(|standing| &standing.state) {
            // What was found or done since is told with its step; the verdict was one of its day.
            Some(State::Stale { done, by: Some(by), why })
                if by.kind == "job revised" || by.kind == "touched" =>
            {
                Some((done.event, why.clone()))
            }
            _ => None,
        };
        let takes = history.current_takes();
        Self { history, style, photos, jobs, takes, standings, no_longer, practice }
    }

    /// The job as last recorded, if its file can be read.
    fn job(&self) -> Option<&JobFile> {
        self.jobs.last().and_then(|(_, job)| job.as_ref().ok())
    }

    /// The job that was in force when an event was recorded.
    fn job_at(&self, seq: u32) -> Option<&JobFile> {
        self.jobs.iter().rev().find(|(from, _)| *from <= seq).and_then(|(_, job)| job.as_ref().ok())
    }

    fn events<'b, T: 'a>(
        &'b self,
        pick: impl Fn(&'a Body) -> Option<&'a T> + 'b,
    ) -> impl Iterator<Item = (&'a Event, &'a T)> + 'b {
        self.history.events.iter().filter_map(move |event| Some((event, pick(&event.body)?)))
    }

    /// The last verdict of a phase, with its event; as left only one that still holds: nothing was
    /// turned after it, and it stands by what the job file says now.
    fn judged(&self, phase: Phase) -> Option<(&'a Event, &'a Judged)> {
        let found = self.history.events.iter().rev().find_map(|event| match &event.body {
            Body::Judged(judged) if judged.phase == phase => Some((event, judged)),
            _ => None,
        });
        found.filter(|(event, _)| {
            phase != Phase::AsLeft
                || event.seq > self.history.last_turn()
                    && self.no_longer.as_ref().is_none_or(|(undone, _)| *undone != event.seq)
        })
    }

    /// The gaps of a phase by station, in the order in which stations were first taken.
    fn stations(&self, phase: Phase) -> Vec<(&'a str, StationGap)> {
        let mut order: Vec<&str> = Vec::new();
        let mut found: BTreeMap<&str, StationGap> = BTreeMap::new();
        for CurrentTake { event, take } in self.history.standing(phase) {
            let gap = found.entry(take.station.as_str()).or_insert_with(|| {
                order.push(take.station.as_str());
                let at = Point { x: take.x, y: take.y };
                StationGap { at, gap: Mm::ZERO, takes: 0, verdict: None }
            });
            gap.takes += 1;
            gap.gap += (take.gap - gap.gap) / gap.takes as f64;
            gap.verdict = self.told(phase, event, take);
        }
        order.into_iter().filter_map(|name| found.remove(name).map(|gap| (name, gap))).collect()
    }

    /// How the place of a take stands under the verdict on the whole that was given after it, which
    /// knows more than the take alone did; without one, as the take was judged by itself. Where the
    /// takes contradict one another, no more than the verdict on the whole says.
    fn told(&self, phase: Phase, event: &Event, take: &Take) -> Option<Verdict> {
        let Some((given, whole)) = self.judged(phase) else { return take.verdict };
        if board::contradicts(whole) {
            return take
                .verdict
                .map(|own| if own == whole.verdict { own } else { Verdict::Unsure });
        }
        let at = Point { x: take.x, y: take.y };
        let mut points = whole.detail.points.iter();
        match points.find(|point| at.apart(Point { x: point.x, y: point.y }) < SAME_PLACE) {
            _ if given.seq < event.seq => take.verdict,
            Some(point) => point.verdict,
            // Within it is only where every place that was read is.
            None if whole.verdict == Verdict::Within => Some(Verdict::Within),
            None => take.verdict,
        }
    }

    /// Whether what is recorded may be relied on.
    fn sound(&self) -> bool {
        self.history.broken.is_none()
    }

    /// The unit of lengths, for the head of a column.
    fn sign(&self) -> &'static str {
        self.style.units.sign()
    }

    /// The unit of lengths in a sentence, behind the word "in".
    fn unit_word(&self) -> &'static str {
        self.style.units.word()
    }

    /// A figure as it stands by itself.
    fn fact(&self, value: f64, figure: Figure) -> Cell {
        Cell::number(value, |_| figure.text(self.style))
    }

    /// A figure as it stands in a column whose head has its unit.
    fn cell(&self, value: f64, figure: Figure) -> Cell {
        Cell::number(value, |_| figure.cell(self.style))
    }

    /// A gap in a column.
    fn gap(&self, gap: Option<Mm>) -> Cell {
        gap.map_or(Cell::None, |gap| self.cell(gap.0, gap.gap()))
    }

    /// A sentence out of the record, as a sentence of the page.
    fn said(&self, said: &Said) -> String {
        plain::line(&said.0.clone().capital().ended().text(self.style))
    }
}

/// What the handover of this job says, with so much of it on the client's pages.
pub(crate) fn document(
    history: &JobHistory,
    style: Style,
    photos: &[(Hash, Vec<u8>)],
    brief: Brief,
) -> Document {
    let practice = Practice::of(history);
    // What a real head read is the job; what was practised beside it is not on its page.
    let counted = (practice == Practice::Beside).then(|| history.clone().without_practice());
    let reading = Reading::new(counted.as_ref().unwrap_or(history), style, photos, practice);
    // Two pages that the client reads and signs, the first of this job; whatever else there is
    // stands behind them.
    let sections = [
        job::in_short(&reading, brief),
        client::proof(&reading, brief),
        closing::open_points(&reading, brief),
        steps::in_short(&reading, brief),
        client::care(),
        client::call(&reading, brief),
        client::cautions(),
        closing::sign(&reading, brief),
        client::appendix(),
        job::in_full(&reading, brief),
        closing::open_points_in_full(&reading, brief),
        steps::steps(&reading),
        board::pictures(&reading),
        board::verdicts(&reading),
        board::gaps(&reading),
        work::turns(&reading),
        work::notes(&reading),
        work::saved(&reading),
        instrument::measured_with(&reading),
        board::agreement(&reading),
        section::sections(&reading),
        closing::cautions(),
        closing::signatures(&reading),
        closing::check(&reading),
        work::every_take(&reading),
    ];
    let document = Document {
        kind: "Handover",
        made_by: "skimgauge",
        word: None,
        title: plain::line(&history.summary.name),
        under: job::under(&reading).into_iter().filter_map(|text| brief.line(text)).collect(),
        verdict: reading
            .judged(Phase::AsLeft)
            .map(|(_, judged)| judged.verdict)
            .filter(|_| reading.sound() && history.unknown() == 0),
        lead: job::lead(&reading),
        warnings: closing::warnings(&reading),
        sections: sections
            .into_iter()
            .flatten()
            .filter(|section| !section.blocks.is_empty())
            .collect(),
        foot: closing::foot(&reading),
    };
    if practice == Practice::All { practice::labelled(document) } else { document }
}

fn section(id: &'static str, title: &str, blocks: Vec<Block>) -> Option<Section> {
    Some(Section { id, title: title.to_owned(), blocks })
}

/// A phase as a title: `As found`.
fn phase_title(phase: Phase) -> &'static str {
    match phase {
        Phase::AsFound => "As found",
        Phase::Between => "In between",
        Phase::AsLeft => "As left",
    }
}
