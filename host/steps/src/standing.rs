//! How each step stands, from the events of the job in their order.

use crate::gate;
use crate::says::{self, Says, found};
use crate::stands_by::{Part, changed};
use crate::state::{By, Standing, State, is_practice};
use crate::step::{ClosedBy, Step};
use crate::undoing::{Cause, undoings};
use crate::undone;
use skimgauge_jobfile::JobFile;
use skimgauge_model::Verdict;
use skimgauge_record::Event;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{AsLeft, Body, StepUndone};
use skimgauge_record::practice::{self, Heads};
use skimgauge_record::section::{SaidHow, Section, StepSaid};
use std::collections::BTreeMap;

/// Every step of the job, in the trade's order, from the job's events in theirs.
pub fn standings(events: &[Event]) -> Vec<Standing> {
    read(events, None)
}

/// The same, the job file being this text now: what stands by something that is another there is
/// stale, though no event tells of it yet.
pub fn standings_by(events: &[Event], file: &str) -> Vec<Standing> {
    read(events, Some(file))
}

/// The table of the board's shape that the job file names, as it is now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// There is no such file.
    Gone,
    /// It cannot be read as one.
    Unread,
    /// Its heights, by SHA-256.
    Is(Hash),
}

/// Neither the survey nor a verdict over it stands where its table was changed or taken away since.
/// A record that does not have the table's hash says nothing of that.
pub fn table_is(standings: &mut [Standing], events: &[Event], now: Table) {
    for Standing { step, state } in standings {
        let Some(done) = state.closed().cloned() else { continue };
        let by = events.iter().find(|event| event.seq == done.event).map(|event| &event.body);
        let (kept, which) = match (*step, by) {
            (Step::Survey, Some(Body::Section(Section::Survey(survey)))) => {
                (survey.table_sha256, "the one kept")
            }
            (Step::Trim, Some(Body::Judged(judged))) => {
                (judged.survey_sha256, "the one that was judged over")
            }
            _ => continue,
        };
        let Some(kept) = kept else { continue };
        let what = match now {
            Table::Is(now) if now == kept => continue,
            Table::Is(_) => format!("is another than {which}"),
            Table::Gone => "is gone".to_owned(),
            Table::Unread => "cannot be read".to_owned(),
        };
        let why = format!("the table that [survey] names {what}");
        *state = State::Stale { done, by: None, why };
    }
}

fn read(events: &[Event], file: Option<&str>) -> Vec<Standing> {
    let simulated = practice::simulated(events);
    let real = practice::heads(events) == Heads::Real;
    let mut reading = Reading::default();
    let words = undone::words(events);
    for (event, simulated) in events.iter().zip(&simulated) {
        // As if it had not been said.
        if words.contains_key(&event.hash) {
            continue;
        }
        if let Body::StepUndone(said) = &event.body {
            let done_at = said.said.iter().filter_map(|hash| words.get(hash)?.done_at).min();
            reading.undone(said, done_at, event);
            continue;
        }
        reading.simulated = *simulated;
        if *simulated && real {
            reading.practised(event);
        } else {
            reading.hear(event);
        }
    }
    reading.job_file_is(file);
    reading.hangs_by_its_fixings();
    reading.standings()
}

/// A job file that was in force from some event on, or that is there now.
struct File<'a> {
    text: &'a str,
    /// `None` where this version cannot read it.
    job: Option<JobFile>,
    since: Option<By>,
}

impl<'a> File<'a> {
    fn new(text: &'a str, since: Option<By>) -> Self {
        Self { text, job: JobFile::read("job file", text).ok(), since }
    }

    /// What is another here than in the one that a step was done by; `None` where nothing is.
    fn undoes(&self, step: Step, kept: &Self) -> Option<String> {
        if self.text == kept.text || crate::stands_by::stands_by(step).is_empty() {
            return None;
        }
        let (Some(kept), Some(now)) = (&kept.job, &self.job) else {
            return Some("the job file was changed since, and cannot be compared".to_owned());
        };
        let changed = changed(step, kept, now);
        let named: Vec<&str> = changed.iter().copied().map(Part::named).collect();
        (!named.is_empty()).then(|| format!("the job file was changed since: {}", named.join(", ")))
    }
}

#[derive(Default)]
struct Reading<'a> {
    states: BTreeMap<Step, State>,
    /// What was only practised in a job that real heads measured.
    practised: BTreeMap<Step, By>,
    /// Every job file so far.
    files: Vec<File<'a>>,
    /// By which of them a step was done.
    done_by: BTreeMap<Step, usize>,
    /// The last section of each word, to see whether another result is another.
    sections: BTreeMap<&'a str, &'a Section>,
    /// What was held level or plumb: of each thing and line the last verdict.
    levelled: BTreeMap<(&'a str, &'static str), Verdict>,
    /// The place of each take and tilt, and of the last turn.
    taken: BTreeMap<Hash, u32>,
    turned: Option<u32>,
    constants: Option<Hash>,
    /// Whether the event that is heard was read of a simulated head.
    simulated: bool,
}

impl<'a> Reading<'a> {
    fn hear(&mut self, event: &'a Event) {
        match &event.body {
            Body::JobOpened(opened) => self.files.push(File::new(&opened.job_file, None)),
            Body::JobRevised(revised) => {
                self.files.push(File::new(&revised.job_file, Some(By::of(event))));
            }
            Body::CalibrationUsed(used) => {
                let constants = used.head.calibration_sha256;
                let before = std::mem::replace(&mut self.constants, constants);
                if before.is_some() && before != constants {
                    self.undo(Cause::ZeroedAnew, event);
                }
            }
            Body::Take(_) | Body::EmitterTilt(_) => {
                self.taken.insert(event.hash, event.seq);
            }
            Body::TurnObserved(_) => {
                self.turned = Some(event.seq);
                self.undo(Cause::Turned, event);
            }
            Body::Touched(_) => self.undo(Cause::Touched, event),
            Body::Closed(_) => self.say(Step::Handover, Says::Done, event),
            Body::Signed(_) => self.say(Step::Signature, Says::Done, event),
            Body::Section(section) => self.section(section, event),
            measured => {
                if let Some((step, says)) = self.measured(measured) {
                    self.say(step, says, event);
                }
            }
        }
    }

    /// What the head found, beside the sections.
    fn measured(&self, body: &Body) -> Option<(Step, Says)> {
        Some(match body {
            Body::Judged(judged) => (Step::Trim, says::of_verdict(judged.verdict)),
            // On this board it was found, or was found to hold.
            Body::Calibrated(found) if found.after.is_some() => (Step::Zero, Says::Done),
            Body::ZeroChecked(checked) => {
                let says = match checked.verdict {
                    Verdict::Outside => found("it does not hold: zero the head"),
                    verdict => says::of_verdict(verdict),
                };
                (Step::Zero, says)
            }
            Body::AsLeft(left) => (Step::AsLeft, self.left(left)),
            _ => return None,
        })
    }

    /// Only what was taken after the last turn shows how it is left.
    fn left(&self, left: &AsLeft) -> Says {
        let Some(turned) = self.turned else { return Says::Done };
        let all = || left.takes.iter().chain(&left.tilt);
        let before = all().filter(|hash| self.taken.get(hash).is_none_or(|seq| *seq < turned));
        match before.count() {
            0 => Says::Done,
            1 if all().count() == 1 => found("its take is from before the last turn"),
            before => Says::Found(format!(
                "{before} of its {} takes are from before the last turn",
                all().count()
            )),
        }
    }

    fn section(&mut self, section: &'a Section, event: &Event) {
        let before = match section {
            // Each thing and each step has its own.
            Section::Level(_) | Section::Step(_) => None,
            _ => self.sections.insert(section.word(), section),
        };
        let Some((step, says)) = self.said(section) else { return };
        if before == Some(section) && self.holds_by_word(step, &says) {
            return;
        }
        // A word changes nothing on the wall.
        let did = !matches!(says, Says::LeftOut(_) | Says::Said(_));
        let wanting = step == Step::Fixings && matches!(says, Says::Found(_) | Says::Unproved(_));
        self.say(step, says, event);
        if wanting {
            self.undo(Cause::AnchorsWanting, event);
        }
        if did && before != Some(section) {
            self.undo(Cause::Did(step), event);
        }
    }

    /// Whether somebody said why no proof load is made, and the same was found again since.
    fn holds_by_word(&self, step: Step, says: &Says) -> bool {
        let said = matches!(self.states.get(&step), Some(State::Said { .. }));
        let by = self.done_by.get(&step).and_then(|at| self.files.get(*at));
        let same =
            by.zip(self.files.last()).is_some_and(|(by, now)| now.undoes(step, by).is_none());
        matches!(says, Says::Unproved(_)) && said && same
    }

    /// Of which step a section speaks, and what.
    fn said(&mut self, section: &'a Section) -> Option<(Step, Says)> {
        Some(match section {
            Section::SetOut(set_out) => (Step::SetOut, says::of_set_out(set_out)),
            Section::Fixings(fixings) => {
                let job = self.files.last().and_then(|file| file.job.as_ref());
                (Step::Fixings, says::of_fixings(fixings, job))
            }
            Section::Square(square) => (Step::Square, says::of_square(square)),
            Section::Survey(survey) => (Step::Survey, says::of_survey(survey)),
            Section::Level(level) => {
                let line = level.line.shown();
                self.levelled.insert((level.of.as_str(), line), level.verdict);
                let any = |verdict| self.levelled.values().any(|found| *found == verdict);
                let worst = [Verdict::Outside, Verdict::Unsure].into_iter().find(|v| any(*v));
                (Step::Bracket, says::of_verdict(worst.unwrap_or(Verdict::Within)))
            }
            Section::Touch(touch) => (Step::Proof, says::of_verdict(touch.verdict)),
            Section::Step(said) => (Step::from_word(&said.step)?, by_word(said)?),
            Section::Prove(_) | Section::Other(_) => return None,
        })
    }

    fn say(&mut self, step: Step, says: Says, event: &Event) {
        let by = By::of(event);
        if matches!(says, Says::Done | Says::Said(_)) {
            self.done_by.insert(step, self.files.len().saturating_sub(1));
        }
        let state = match says {
            Says::Done if self.simulated => State::Simulated(by),
            Says::Done => State::Done(by),
            Says::Said(why) => State::Said { by, why },
            Says::Found(found) | Says::Unproved(found) if self.simulated => {
                State::Open { found: Some((by, format!("{found}, by a simulated head"))) }
            }
            Says::Found(found) | Says::Unproved(found) => State::Open { found: Some((by, found)) },
            Says::LeftOut(why) => State::LeftOut { by, why },
        };
        self.states.insert(step, state);
    }

    /// An event of a simulated head in a job that real ones measured: it closes nothing and undoes
    /// nothing.
    fn practised(&mut self, event: &'a Event) {
        let said = match &event.body {
            Body::Section(Section::Level(_)) => Some((Step::Bracket, Says::Done)),
            Body::Section(Section::Survey(survey)) => Some((Step::Survey, says::of_survey(survey))),
            Body::AsLeft(_) => Some((Step::AsLeft, Says::Done)),
            body => self.measured(body),
        };
        if let Some((step, Says::Done)) = said {
            self.practised.insert(step, By::of(event));
        }
    }

    fn undo(&mut self, cause: Cause, event: &Event) {
        for undoing in undoings(cause) {
            for step in undoing.undoes {
                if let Some(done) = self.states.get(step).and_then(State::closed) {
                    let (done, by) = (done.clone(), Some(By::of(event)));
                    let state = State::Stale { done, by, why: undoing.why.to_owned() };
                    self.states.insert(*step, state);
                }
            }
        }
    }

    /// A word on a step counts no more. What it had undone stands again as it did; what was done
    /// since, and would be undone by the step done now, is undone by its being open too.
    fn undone(&mut self, said: &StepUndone, done_at: Option<u32>, event: &Event) {
        let Some(step) = Step::from_word(&said.step) else { return };
        let since = done_at.unwrap_or(u32::MAX);
        for undone in undoings(Cause::Did(step)).flat_map(|undoing| undoing.undoes) {
            let done = self.states.get(undone).and_then(State::closed);
            let Some(done) = done.filter(|done| done.event > since).cloned() else { continue };
            let why = format!("what was said of the step {} is undone since", step.word());
            self.states.insert(*undone, State::Stale { done, by: Some(By::of(event)), why });
        }
        self.states.entry(step).or_insert_with(|| {
            let found = format!("what was said of it is undone: {}", said.why);
            State::Open { found: Some((By::of(event), found)) }
        });
    }

    /// What was done by another job file than the one that is there now, as far as it stands by
    /// what was changed.
    fn job_file_is(&mut self, now: Option<&'a str>) {
        if let Some(now) = now.filter(|now| self.files.last().is_some_and(|last| last.text != *now))
        {
            self.files.push(File::new(now, None));
        }
        let Some((now, _)) = self.files.split_last() else { return };
        for (step, at) in &self.done_by {
            let Some(done) = self.states.get(step).and_then(State::closed) else { continue };
            let Some(why) = self.files.get(*at).and_then(|kept| now.undoes(*step, kept)) else {
                continue;
            };
            // Since the first file from which on it is another.
            let kept = &self.files[*at];
            let later = self.files[*at + 1..].iter().rev();
            let since = later.take_while(|file| file.undoes(*step, kept).is_some()).last();
            let by = since.and_then(|file| file.since.clone());
            let state = State::Stale { done: done.clone(), by, why };
            self.states.insert(*step, state);
        }
    }

    /// What hangs stands no better than what it hangs on, whatever undid that.
    fn hangs_by_its_fixings(&mut self) {
        let Some(done) = self.states.get(&Step::Hanging).and_then(State::closed) else { return };
        let open = State::Open { found: None };
        let fixings = self.states.get(&Step::Fixings).unwrap_or(&open);
        let Some(why) = gate::not_proved(fixings) else { return };
        if gate::closed_as_hung(&self.states) {
            return;
        }
        let by = match fixings {
            State::Open { found: Some((by, _)) } | State::LeftOut { by, .. } => Some(by.clone()),
            State::Stale { by, .. } => by.clone(),
            _ => None,
        };
        let why = format!("its anchors are not proved: {why}");
        let state = State::Stale { done: done.clone(), by, why };
        self.states.insert(Step::Hanging, state);
    }

    fn standings(mut self) -> Vec<Standing> {
        let standing = |step| {
            let practised = self.practised.remove(&step);
            let found = practised.map(|by| {
                (by, "practised with a simulated head, and not done on this board".to_owned())
            });
            let state = self.states.remove(&step).unwrap_or(State::Open { found });
            Standing { step, state }
        };
        let mut standings: Vec<Standing> = Step::all().map(standing).collect();
        if is_practice(&standings) {
            // A practice that is closed and signed is a practice still.
            for standing in &mut standings {
                let ends = matches!(standing.step, Step::Handover | Step::Signature);
                if let (true, State::Done(by)) = (ends, &standing.state) {
                    standing.state = State::Simulated(by.clone());
                }
            }
        }
        standings
    }
}

/// What a person says of a step; of one that this program closes by what it finds, it is no more
/// than a word.
fn by_word(said: &StepSaid) -> Option<Says> {
    let step = Step::from_word(&said.step)?;
    Some(match (said.how, step.closed_by()) {
        (SaidHow::LeftOut, _) => Says::LeftOut(said.why.clone().unwrap_or_default()),
        (SaidHow::Done, ClosedBy::Person(None)) => Says::Done,
        (SaidHow::Done, ClosedBy::Command(_) | ClosedBy::Person(Some(_))) => {
            Says::Said(said.why.clone())
        }
    })
}
