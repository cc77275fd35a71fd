//! `next`: how the job stands, step by step, and the one command for what comes next.

use crate::jobs;
use crate::keeping::{Keeping, SameJob, record_path};
use crate::outcome::{Ended, Outcome};
use crate::report;
use crate::shape::Shape;
use crate::steps::{self, Named};
use anyhow::{Context, bail, ensure};
use serde::Serialize;
use skimgauge_jobfile::JobFile;
use skimgauge_record::Event;
use skimgauge_record::event::{Body, StepUndone};
use skimgauge_record::section::{SaidHow, Section, StepSaid};
use skimgauge_steps::state::{self, By, Standing, State};
use skimgauge_steps::{ClosedBy, Step, Typed, by_name, gate, standings};
use skimgauge_system::terminal::{shown_json, shown_lines};
use std::io::{BufRead, IsTerminal, Write};
use std::path::PathBuf;

/// Say how the job stands, step by step, each from its record, and the one command for what comes
/// next; or close a step that no measurement closes.
///
/// Done is what was measured on this board, and what no measurement closes. A step is stale where
/// something came after it, or the job file was changed in what it stands by. Said is what a
/// measurement would close and somebody's word did (zero, fixings); simulated is what a simulated
/// head read.
///
/// Exit status: 0 everything that other steps lean on is done or left out, 3 something is not, or
/// only said or simulated, or every step was left out, 2 an error.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The job file.
    #[arg(long, value_name = "FILE")]
    job: PathBuf,
    /// The record; without this, the platform's place.
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
    /// Whether the job of that name in the record is this one.
    #[command(flatten)]
    same_job: SameJob,
    /// This step is done: for steps that no measurement closes, once those that it leans on are done
    /// or left out. Said, not measured, with your name, is then the zero; so are the fixings, with
    /// --why, where nothing is wanting but a proof load that nobody made. Every other step that a
    /// measurement closes refuses a word.
    #[arg(long, value_name = "STEP", value_parser = step, conflicts_with = "leave_out")]
    done: Option<Step>,
    /// With --done: every point that comes before the step was gone through. Without it they are
    /// shown, and you are asked.
    #[arg(long, requires = "done")]
    checked: bool,
    /// This step is not done on this job; --why says why not.
    #[arg(long, value_name = "STEP", value_parser = step, requires = "why")]
    leave_out: Option<Step>,
    /// What was said of this step by --done or --leave-out was wrong, and counts no more; --why says
    /// why. It stays in the record, and what was done since and leans on it is stale.
    #[arg(long, value_name = "STEP", value_parser = step, requires = "why", conflicts_with_all = ["done", "leave_out"])]
    undo: Option<Step>,
    /// Why a step is left out or undone, or what else is to be kept of it.
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
    /// Who says so; the job's or the account's name without it.
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

fn step(word: &str) -> Result<Step, String> {
    Step::from_word(word).ok_or_else(|| {
        let words: Vec<&str> = Step::all().map(Step::word).collect();
        format!("no step has that word. The steps: {}", words.join(", "))
    })
}

/// Shows the steps.
///
/// # Errors
/// The job file or the record cannot be read; a step cannot be closed so.
pub fn run(args: Args) -> Outcome {
    let (job, text) = jobs::read_early(&args.job)?;
    let path = record_path(args.record.as_deref())?;
    let named = Named::new(&args.job, &job.about.name, args.record.as_deref());
    if let Some(step) = args.done {
        let events = steps::events(&path, &job, &text, &args.same_job)?;
        may_be_said(step, &args, (&job, &events), &named)?;
        let standings = steps::standings_now(&args.job, &job, &text, &events);
        stands_first(step, &standings, &named)?;
    }
    let body: Option<Body> = match args.undo {
        Some(step) => {
            let events = steps::events(&path, &job, &text, &args.same_job)?;
            Some(undone(&args, step, &named, &events)?.into())
        }
        None => said(&args)?.map(|said| Section::from(said).into()),
    };
    if let Some(body) = body {
        let mut keeping = Keeping::open(&path, &job, &text, None, &args.same_job)?;
        if let Some(by) = &args.by {
            keeping.set_who(by);
        }
        keeping.append(body)?;
        eprintln!("Kept in {}", path.display());
    } else {
        ensure!(
            args.why.is_none() && args.by.is_none(),
            "Say of which step, with --done, --leave-out or --undo."
        );
        // Said once, it stands for this job file from now on.
        if steps::is_said_anew(&path, &job, &text, &args.same_job)? {
            Keeping::open(&path, &job, &text, None, &args.same_job)?;
            eprintln!("Kept in {}", path.display());
        }
    }
    let events = steps::events(&path, &job, &text, &args.same_job)?;
    let standings = steps::standings_now(&args.job, &job, &text, &events);
    let shape = Shape::of(&args.job, &job, &events, &standings);
    let open = state::open_points(&events);
    let told = report::next::text(&named.typed(), &standings, &shape, open);
    let sample = report::untouched::sections(&text);
    show(&args, &named.typed(), (&standings, &shape), told, sample)?;
    let unsure = state::holds_others_up(&standings) || state::is_all_left_out(&standings);
    Ok(if unsure { Ended::Unsure } else { Ended::Well })
}

/// A word closes what no measurement closes. A name closes the fixings, too, where nothing but a proof
/// load is wanting, and says why there is none.
fn may_be_said(
    step: Step,
    args: &Args,
    (job, events): (&JobFile, &[Event]),
    named: &Named,
) -> anyhow::Result<()> {
    let ClosedBy::Command(_) = step.closed_by() else { return Ok(()) };
    let (word, command) = (step.word(), step.command(&named.typed()));
    if step != Step::Fixings {
        bail!(
            "{word} is closed by its own command, not by a word: `{command}`. To go on without it: --leave-out {word} --why TEXT."
        );
    }
    let missing = by_name::only_unproved(events, job).with_context(|| {
        format!(
            "{word} is closed by its own command, not by a word: `{command}`. Where it then wants nothing but a proof load, a word with --why closes it. To go on without it: --leave-out {word} --why TEXT."
        )
    })?;
    ensure!(
        args.why.as_deref().is_some_and(is_reason),
        "Nothing was kept: {missing}. Say with --why who answers for it that none is made, and why: it stands on the client's page with your name. The anchor maker's instructions and local codes come first."
    );
    Ok(())
}

/// Nothing that a person does is said done before what it leans on: a hand or a head may be below it.
fn stands_first(step: Step, standings: &[Standing], named: &Named) -> anyhow::Result<()> {
    let missing = match step.closed_by() {
        ClosedBy::Person(_) => gate::missing(step, standings),
        ClosedBy::Command(_) => Vec::new(),
    };
    if missing.is_empty() {
        return Ok(());
    }
    let why: Vec<String> =
        missing.iter().map(|first| format!("{} ({})", first.step.word(), first.why)).collect();
    let of_the_anchors =
        step == Step::Hanging && missing.iter().any(|first| first.step == Step::Fixings);
    let way = if of_the_anchors { named.typed().anchors() } else { String::new() };
    bail!(
        "Nothing was kept: {} comes after what it leans on, and this is not done: {}. `{}` says how each is done; what this job does without: --leave-out STEP --why TEXT.{way}",
        step.word(),
        why.join("; "),
        named.typed().next()
    )
}

/// A dot or a picture gives no reason.
fn is_reason(why: &str) -> bool {
    why.chars().any(char::is_alphabetic)
}

/// What undoes the word by which the step stands.
fn undone(args: &Args, step: Step, named: &Named, events: &[Event]) -> anyhow::Result<StepUndone> {
    let why = args.why.as_deref().map(str::trim).filter(|why| is_reason(why));
    let why = why.context("Say why with --why: it stays in the record.")?;
    let (word, standings) = (step.word(), standings(events));
    let state = standings.iter().find(|standing| standing.step == step).map(|s| &s.state);
    let Some(stands_by) = state.and_then(State::closer) else {
        bail!("Nothing was kept: {word} is open, so there is nothing to undo.")
    };
    let undone = skimgauge_steps::undone::undo(events, step, why);
    let by = events.iter().find(|event| event.seq == stands_by.event).map(|event| event.hash);
    let Some(undone) = undone.filter(|undone| undone.said.iter().any(|hash| Some(*hash) == by))
    else {
        bail!(
            "Nothing was kept: no word closed {word}, but event {} ({}). Done again it is judged anew: {}",
            stands_by.event,
            stands_by.kind,
            step.command(&named.typed())
        )
    };
    Ok(undone)
}

/// What the person says, for the record.
fn said(args: &Args) -> anyhow::Result<Option<StepSaid>> {
    let why = args.why.as_deref().map(str::trim).filter(|why| !why.is_empty());
    if let Some(step) = args.leave_out {
        let why = why.filter(|why| is_reason(why)).context(
            "Nothing was kept: say why, in words, with --why: it stands on the client's page.",
        )?;
        return Ok(Some(StepSaid {
            step: step.word().to_owned(),
            how: SaidHow::LeftOut,
            why: Some(why.to_owned()),
            checked: Vec::new(),
        }));
    }
    let Some(step) = args.done else { return Ok(None) };
    if !args.checked && !step.first().is_empty() {
        gone_through(step)?;
    }
    Ok(Some(StepSaid {
        step: step.word().to_owned(),
        how: SaidHow::Done,
        why: why.map(str::to_owned),
        checked: step.first().iter().map(|&point| point.to_owned()).collect(),
    }))
}

/// Shows what comes before a step, and asks whether it was gone through.
fn gone_through(step: Step) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    write!(out, "{}", report::next::points(step))?;
    if !std::io::stdin().is_terminal() {
        bail!("Nothing was kept. Once every point has been gone through, say so with --checked.");
    }
    write!(out, "Every point gone through? Type yes: ")?;
    out.flush()?;
    let mut answer = String::new();
    std::io::stdin().lock().read_line(&mut answer)?;
    ensure!(answer.trim().eq_ignore_ascii_case("yes"), "Nothing was kept.");
    Ok(())
}

#[derive(Serialize)]
struct Told<'a> {
    schema: &'static str,
    version: u32,
    job: &'a str,
    next: Option<Step>,
    /// Whether the job is closed: nothing is added to it any more but signatures.
    closed: bool,
    /// Whether something of it was read of a simulated head.
    simulated: bool,
    /// Sections of the job file whose measures are all as `jobs new` writes them.
    #[serde(skip_serializing_if = "Option::is_none")]
    as_in_sample: Option<String>,
    /// What is to be done at once: a load hangs on anchors that are not proved.
    #[serde(skip_serializing_if = "Option::is_none")]
    danger: Option<String>,
    steps: Vec<ToldStep<'a>>,
}

#[derive(Serialize)]
struct ToldStep<'a> {
    step: Step,
    says: &'static str,
    state: &'static str,
    /// The event that brought it there; of a stale one, the event that had closed it.
    by: Option<&'a By>,
    /// The event that made it stale.
    undone_by: Option<&'a By>,
    why: Option<&'a str>,
    /// Of one that was closed without a measurement of this board: that, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    not_measured: Option<String>,
    /// Steps that it leans on, which were said to be done where a measurement would have told.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    leans_on_said: Vec<Step>,
    command: String,
}

fn show(
    args: &Args,
    job: &Typed<'_>,
    (standings, shape): (&[Standing], &Shape),
    mut text: String,
    sample: Option<String>,
) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    let sample = sample.filter(|_| state::closed(standings).is_none());
    let done = if args.json {
        let told = Told {
            schema: "skimgauge.next",
            version: 1,
            job: job.name,
            simulated: state::is_practice(standings),
            danger: gate::hangs_unproved(standings),
            next: state::next(standings).map(|standing| standing.step),
            closed: state::closed(standings).is_some(),
            as_in_sample: sample,
            steps: standings
                .iter()
                .map(|standing| told(standing, (standings, shape), job))
                .collect(),
        };
        writeln!(out, "{}", shown_json(&serde_json::to_string_pretty(&told)?))
    } else {
        if let Some(sample) = sample {
            let asks = format!(
                "As in the sample that `jobs new` writes: {sample}. Are these your board's values?"
            );
            text += &format!("\n{}", report::paragraph("", &asks));
        }
        out.write_all(shown_lines(&text).as_bytes())
    };
    done.and_then(|()| out.flush()).context("The output cannot be written.")
}

fn told<'a>(
    Standing { step, state }: &'a Standing,
    (all, shape): (&[Standing], &Shape),
    job: &Typed<'_>,
) -> ToldStep<'a> {
    let (undone_by, why) = match state {
        State::Open { found } => (None, found.as_ref().map(|(_, found)| found.as_str())),
        State::Done(_) | State::Simulated(_) => (None, None),
        State::Said { why, .. } => (None, why.as_deref()),
        State::Stale { by, why, .. } => (by.as_ref(), Some(why.as_str())),
        State::LeftOut { why, .. } => (None, Some(why.as_str())),
    };
    ToldStep {
        step: *step,
        says: step.says(),
        state: state.word(),
        by: state.by(),
        undone_by,
        why,
        not_measured: state.not_measured(),
        leans_on_said: report::next::leans_on_said(*step, state, all),
        command: report::next::command(*step, job, shape),
    }
}
