//! `trim`: which adjuster, which way, how far; from a table of readings or guided at the board.

mod guided;
mod remarks;
pub(crate) mod rounds;

use crate::jobs::{self, Opened};
use crate::keeping::SameJob;
use crate::lengths::Lengths;
use crate::outcome::Outcome;
use crate::page;
use crate::report::trim::Worked;
use crate::tables::{self, Rounds};
use anyhow::{Context, bail};
use guided::guided;
use rounds::{Contradiction, Tables};
use serde::Serialize;
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::{
    Assessment, Earlier, MEASURABLE, Question, SMALLEST_TURN, Unread, assess, watched,
};
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::consistency::best_check;
use skimgauge_metrology::plane::observation::SharedError;
use skimgauge_metrology::report::Report;
use skimgauge_metrology::trim::rounds::Learner;
use skimgauge_model::Station;
use skimgauge_procedure::trim::says;
use skimgauge_quantity::Sentence;
use skimgauge_system::terminal::{shown_json, shown_lines};
use skimgauge_tables::Readings;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Standard uncertainty of a reading that gives none, mm.
const U_MM: f64 = 0.06;

/// Say which adjuster to turn, which way and how far, so that the touch plane comes into its band.
///
/// At the board (--head): it says where to clip the head on and when to take, shows where the light
/// stands high and low, then names at most one turn of each adjuster a round: its sense, how far,
/// and the gap that the live reading should come to, or that it is counted; after each round it
/// looks what came of it. Any step can be taken back. Without a screen lines typed are obeyed: take,
/// next, back, station NAME, begin, ready, told, turned TURNS, undo, wrong, stuck, help, quit.
///
/// From a table (--from): station,x_mm,y_mm,gap_mm,u_mm (station and u_mm may be left out), x to
/// the right of the image's middle, y above its top edge; as a spreadsheet saves it, with commas,
/// semicolons or tabs, a point or a comma for decimals. Exit status: 0 within, 1 outside, 3 too
/// close to call, 2 an error.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The job file.
    #[arg(long, value_name = "FILE")]
    job: PathBuf,
    /// Work it out from this table of readings; `-` reads it from standard input.
    #[arg(long, value_name = "READINGS.csv", conflicts_with = "head")]
    from: Option<PathBuf>,
    /// With --from: earlier rounds and what was turned after each, a table
    /// round,station,x_mm,y_mm,gap_mm,u_mm,adjuster,turns,before_mm,after_mm: a reading or a turn a
    /// row, and what was noticed of a turn in one more column, noticed. What the turns did is learnt from it as at the board.
    #[arg(long, value_name = "ROUNDS.csv", requires = "from")]
    rounds: Option<PathBuf>,
    /// Be guided at the board, with the head at this port; `skimgauge ports` shows it.
    #[arg(long, value_name = "PORT", required_unless_present = "from", value_hint = clap::ValueHint::FilePath)]
    head: Option<String>,
    /// With --head: record what the head sends, byte by byte, to replay it with `watch
    /// --from`.
    #[arg(long, value_name = "RECORDING", requires = "head")]
    keep: Option<PathBuf>,
    /// With --head: the record; without this, the platform's place.
    #[arg(long, value_name = "FILE", requires = "head")]
    record: Option<PathBuf>,
    #[command(flatten)]
    same_job: SameJob,
    /// With --head: print lines instead of the screen.
    #[arg(long, conflicts_with = "json")]
    plain: bool,
    /// The board's own shape, a table x_mm,y_mm,z_mm; overrides the job's own survey.
    #[arg(long, value_name = "POINTS.csv")]
    survey: Option<PathBuf>,
    /// Take the board as flat, without doubt.
    #[arg(long, conflicts_with = "survey")]
    flat: bool,
    /// Standard uncertainty of a reading that gives none, mm.
    #[arg(long, value_name = "MM", default_value_t = U_MM)]
    u_mm: f64,
    /// Standard uncertainty that all readings share (the head's zero), mm.
    #[arg(long, value_name = "MM", default_value_t = 0.0)]
    u_shared_mm: f64,
    /// Has no effect any more: light that meets the board on the way harms nothing.
    #[arg(long, value_name = "MM", hide = true)]
    guard_mm: Option<f64>,
    /// Ask for turns in whole steps of this, turns.
    #[arg(long, value_name = "TURNS")]
    smallest_turn: Option<f64>,
    /// Print one JSON object instead of text; with --head, an object a line instead of the screen.
    #[arg(long)]
    json: bool,
    /// Whether it is shown in a browser.
    #[command(flatten)]
    page: page::Args,
}

/// As `page` leads: lines at the terminal, everything else in the browser.
///
/// # Errors
/// As [`run`].
pub(super) fn paged(
    job: PathBuf,
    head: String,
    record: Option<PathBuf>,
    same_job: SameJob,
    page: page::Args,
    units: Lengths,
) -> Outcome {
    let args = Args {
        job,
        from: None,
        rounds: None,
        head: Some(head),
        keep: None,
        record,
        same_job,
        plain: true,
        survey: None,
        flat: false,
        u_mm: U_MM,
        u_shared_mm: 0.0,
        guard_mm: None,
        smallest_turn: None,
        json: false,
        page,
    };
    run(args, units)
}

/// Works it out.
///
/// # Errors
/// Job file, survey or readings cannot be read, or cannot be right; the readings do not decide a
/// plane.
pub fn run(args: Args, units: Lengths) -> Outcome {
    for (flag, value, least) in [
        ("--u-mm", args.u_mm, f64::MIN_POSITIVE),
        ("--u-shared-mm", args.u_shared_mm, 0.0),
        ("--guard-mm", args.guard_mm.unwrap_or(0.0), 0.0),
    ] {
        if !(value >= least && value <= 50.0) {
            bail!(
                "{flag} is {value}; expected millimetres, {} and at most 50.",
                if least > 0.0 { "above 0" } else { "0 or more" }
            );
        }
    }
    if let Some(turns) = args.smallest_turn.filter(|turns| !(*turns >= 0.001 && *turns <= 1.0)) {
        bail!("--smallest-turn is {turns}; expected 0.001 to 1 turns: a hand makes about 0.03.");
    }
    let opened = open(&args.job, args.survey.as_deref(), args.flat)?;
    opened.job.three_adjusters()?;
    let Some(from) = &args.from else { return guided(&args, opened, units) };
    let Opened { job, board, .. } = opened;
    let readings = tables::readings(from, &job)?;
    let mut remarks = remarks::of_readings(&readings);
    if args.u_shared_mm == 0.0 {
        remarks.push(
            "no error that all readings share is counted; --u-shared-mm says one (the head's zero)"
                .into(),
        );
    }
    if args.guard_mm.is_some() {
        remarks.push(
            "--guard-mm has no effect any more: light that meets the board on the way harms nothing"
                .into(),
        );
    }
    let named = stations(&readings);
    // The job's own stations may all be watched and are taken again, whichever of them were read.
    let is_known = |one: &Station| job.stations.iter().any(|station| station.name == one.name);
    let of_the_job = named.iter().all(is_known);
    let shared = SharedError::even("zero", args.u_shared_mm, f64::INFINITY);
    let shared = Vec::from_iter((args.u_shared_mm > 0.0).then_some(shared));
    let before = match &args.rounds {
        Some(path) => tables::rounds(path, &job, &readings, args.u_mm, &shared)?,
        None => Rounds::default(),
    };
    let rounds_from = args.rounds.as_ref().map_or_else(String::new, |at| at.display().to_string());
    remarks.extend(remarks::copies_of_rounds(&rounds_from, &before));
    let lines = readings.rows.iter().map(|row| row.line).collect();
    let observations = tables::observations(readings, args.u_mm, shared);
    let points = board.control_points(job.image.width.0, job.image.height.0);
    let both = Tables {
        from: from.display().to_string(),
        observations: &observations,
        lines,
        rounds_from,
        rounds: before.rounds,
    };
    let (learnt, contradictions) = both.learnt(&job, &board)?;
    let adjusters = match &learnt {
        Some(learnt) => learnt.learner.adjusters().to_vec(),
        None => job.adjusters.clone(),
    };
    remarks.extend(remarks::reversed(&job, &adjusters));
    remarks.extend(remarks::pitches(&job, &adjusters));
    // A job that says what its hands can make asks for steps of that, too.
    let by_job = job.limits.smallest_turn.0;
    let smallest_turn = args.smallest_turn.or((by_job != SMALLEST_TURN).then_some(by_job));
    let not_judged = job.bands.besides_gap();
    let live = if of_the_job { &job.stations } else { &named };
    let held = job.image.held(live);
    let question = Question {
        observations: &observations,
        board: &board,
        adjusters: &adjusters,
        band: job.bands.gap,
        points: &points,
        live,
        held: &held,
        measurable: watched(MEASURABLE),
        smallest_turn,
        seat_u_mm: job.limits.seat.0,
        came_back: &[],
        unread: (!args.flat).then(|| Unread {
            size_mm: [job.image.width.0, job.image.height.0],
            expected: job.board.expected(),
            looks: 1,
        }),
        person: job.limits.person,
        earlier: learnt.as_ref().map(|of| Earlier { learner: &of.learner, made: of.made }),
        contradicted: !contradictions.is_empty(),
        more_is_judged: !not_judged.is_empty(),
    };
    let answer = assess(&question).with_context(|| from.display().to_string())?;
    let report = answer.report(&question);
    remarks.extend(remarks::of_the_rest(&not_judged));
    let verdict = report.verdict;
    let one_more = one_more(&job, &answer, args.u_mm);
    let survey = says::survey(&question, &answer, job.image);
    let learnt = learnt.as_ref().map(|of| Taught::of(&of.learner)).unwrap_or_default();
    let (one_more, remarks) = (one_more.as_deref(), remarks.as_slice());
    let mut out = std::io::stdout().lock();
    let done = if args.json {
        let contradictions = &contradictions;
        let (report, not_judged) = (&report, &*not_judged);
        let survey = survey.map(|(_, places)| places);
        let told = Told { report, not_judged, one_more, survey, learnt, contradictions, remarks };
        let json = serde_json::to_string_pretty(&told)?;
        writeln!(out, "{}", shown_json(&json))
    } else {
        let worked = Worked {
            job: &job,
            question: &question,
            answer: &answer,
            report: &report,
            survey: survey.as_ref(),
            one_more,
            contradictions: &contradictions,
            remarks,
        };
        let text = worked.text(units.style());
        out.write_all(shown_lines(&text).as_bytes())
    };
    done.and_then(|()| out.flush()).context("The output cannot be written.")?;
    Ok(verdict.into())
}

/// The job with its board: as surveyed in `survey`, flat, or as the job says.
fn open(job: &Path, survey: Option<&Path>, flat: bool) -> anyhow::Result<Opened> {
    if !flat && survey.is_none() {
        return jobs::open(job);
    }
    let (job, text) = jobs::read(job)?;
    let (board, survey) = match survey {
        Some(survey) => jobs::surveyed(survey, &job)?,
        None => (Board::flat(), None),
    };
    Ok(Opened { job, text, board, survey })
}

/// The readings' own stations, each once, in their order.
fn stations(readings: &Readings) -> Vec<Station> {
    let mut seen = std::collections::HashSet::new();
    let rows = readings.rows.iter().filter_map(|row| Some((row.station.as_ref()?, row)));
    rows.filter(|(name, _)| seen.insert(name.as_str()))
        .map(|(name, row)| Station { name: name.clone(), at: row.at })
        .collect()
}

/// The job's station that would best check the readings, where an error in one of them would not
/// show.
fn one_more(job: &Job, answer: &Assessment, u_mm: f64) -> Option<String> {
    let consistency = &answer.fit.consistency;
    let read =
        |station: &&Station| consistency.places.iter().any(|place| place.name == station.name);
    let left: Vec<&Station> = job.stations.iter().filter(|station| !read(station)).collect();
    let places: Vec<(f64, f64)> =
        left.iter().map(|station| (station.at.x.0, station.at.y.0)).collect();
    let best =
        (!consistency.is_checked()).then(|| best_check(consistency, &places, u_mm)).flatten()?;
    Some(left[best].name.clone())
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    report: &'a Report,
    /// What the job's bands judge and the readings say nothing of; with any, the whole is not
    /// within.
    not_judged: &'a [&'static str],
    /// The job's station to take besides, where an error in one of the readings would not show.
    one_more: Option<&'a str>,
    /// Places to survey, mm, where that would settle the verdict.
    survey: Option<Vec<(f64, f64)>>,
    /// What earlier rounds taught of each adjuster; empty without any.
    learnt: Vec<Taught>,
    /// What earlier rounds, or two readings of one place, say against one another; nothing is
    /// promised then.
    contradictions: &'a [Contradiction],
    /// What the person should look at again.
    remarks: &'a [Sentence],
}

/// What was learnt of an adjuster.
#[derive(Serialize)]
struct Taught {
    adjuster: String,
    /// What one clockwise turn does to the light there.
    mm_per_turn: f64,
}

impl Taught {
    fn of(learner: &Learner) -> Vec<Self> {
        let influence = learner.influence();
        let each = learner.adjusters().iter().enumerate();
        each.map(|(at, adjuster)| Self {
            adjuster: adjuster.name.clone(),
            mm_per_turn: influence.effect(adjuster.at.x.0, adjuster.at.y.0)[at],
        })
        .collect()
    }
}
