//! `trim`: which screw, which way, how far; from a table of readings or guided at the board.

use crate::console::screen::words as screen;
use crate::jobs::{self, Opened};
use crate::keeping::{Keeping, SameJob, record_path};
use crate::lengths::Lengths;
use crate::outcome::Outcome;
use crate::report::{columns, listed, paragraph};
use crate::storing::Book;
use crate::storing::at_work::AtWorkMark;
use crate::tables;
use crate::trim::at_work::AtWork;
use crate::trim::guide::Guide;
use crate::trim::words;
use crate::watch::Watch;
use crate::watching::{Mode, Source, Watching};
use crate::written;
use anyhow::{Context, bail};
use serde::Serialize;
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::{Assessment, MEASURABLE, Question, assess};
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::consistency::best_check;
use skimgauge_metrology::plane::observation::{Observations, SharedError};
use skimgauge_metrology::report::Report;
use skimgauge_metrology::verdict::JudgedPoint;
use skimgauge_model::Image;
use skimgauge_model::{Station, Verdict};
use skimgauge_record::event::Phase;
use skimgauge_system::output::Replace;
use skimgauge_system::terminal::{shown_json, shown_lines};
use skimgauge_tables::Readings;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Readings that repeat one another are named up to so many.
const MOST_REPEATS: usize = 5;

/// Say which screw to turn, which way and how far, so that the touch plane comes into its band.
///
/// At the board (--head): it says where to clip the head on and when to take, shows where the light
/// stands high and low, then names one screw at a time, its sense, and the gap that the live
/// reading should come to; after each turn it looks what came of it. Without a screen lines typed
/// are obeyed: take, next, back, station NAME, begin, ready, told, turned TURNS, quit.
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
    /// Be guided at the board, with the head at this port; `skimgauge ports` shows it.
    #[arg(long, value_name = "PORT", required_unless_present = "from")]
    head: Option<String>,
    /// With --head: record what the head sends, byte by byte, to hear it again with `watch
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
    /// The board's own shape, a table x_mm,y_mm,z_mm; goes before the job's own survey.
    #[arg(long, value_name = "POINTS.csv")]
    survey: Option<PathBuf>,
    /// Take the board as flat, without doubt.
    #[arg(long, conflicts_with = "survey")]
    flat: bool,
    /// Standard uncertainty of a reading that gives none, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.06)]
    u_mm: f64,
    /// Standard uncertainty that all readings share (the head's zero), mm.
    #[arg(long, value_name = "MM", default_value_t = 0.0)]
    u_shared_mm: f64,
    /// Gap below which the plane must not come to the board while screws are turned, mm.
    #[arg(long, value_name = "MM", default_value_t = crate::trim::GUARD_MM)]
    guard_mm: f64,
    /// Ask for a setting in whole steps of this as well, turns.
    #[arg(long, value_name = "TURNS")]
    smallest_turn: Option<f64>,
    /// Print one JSON object instead of text; with --head, an object a line instead of the screen.
    #[arg(long)]
    json: bool,
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
        ("--guard-mm", args.guard_mm, 0.0),
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
    let mut remarks = remarks(&readings);
    if args.u_shared_mm == 0.0 {
        remarks.push(
            "no error that all readings share is counted; --u-shared-mm says one (the head's zero)"
                .to_owned(),
        );
    }
    let named = stations(&readings);
    let shared =
        SharedError { name: "zero".to_owned(), u_mm: args.u_shared_mm, dof: f64::INFINITY };
    let shared = Vec::from_iter((args.u_shared_mm > 0.0).then_some(shared));
    let observations = tables::observations(readings, args.u_mm, shared);
    let points = board.control_points(job.image.width.0, job.image.height.0);
    let question = Question {
        observations: &observations,
        board: &board,
        adjusters: &job.adjusters,
        band: job.bands.gap,
        points: &points,
        live: if named.is_empty() { &job.stations } else { &named },
        guard_mm: args.guard_mm,
        measurable: MEASURABLE,
        smallest_turn: args.smallest_turn,
        came_back: &[],
    };
    let answer = assess(&question).with_context(|| from.display().to_string())?;
    let report = answer.report(&question);
    let verdict = report.verdict;
    let told =
        Told { report: &report, one_more: one_more(&job, &answer, args.u_mm), remarks: &remarks };
    let mut out = std::io::stdout().lock();
    let done = if args.json {
        let json = serde_json::to_string_pretty(&told)?;
        writeln!(out, "{}", shown_json(&json))
    } else {
        let text = text(&job, &observations, &question, &answer, &told, units);
        out.write_all(shown_lines(&text).as_bytes())
    };
    done.and_then(|()| out.flush()).context("The output cannot be written.")?;
    Ok(verdict.into())
}

/// Led at the board.
fn guided(args: &Args, opened: Opened, units: Lengths) -> Outcome {
    let Opened { job, text, board } = opened;
    let port = args.head.clone().context("Say where the head is: --head PORT.")?;
    let mode = Mode::of(args.plain, args.json);
    let guide = Guide::new(&job, &board).context("The job does not name three adjusters.")?;
    let path = record_path(args.record.as_deref())?;
    let _alone = AtWorkMark::leave(&path, &job.about.name)?;
    let mut keeping = Keeping::open(&path, &job, &text, None, &args.same_job)?;
    if keeping.round() > 1 {
        // Something was taken before: these are no longer the takes as found.
        keeping.set_phase(Phase::Between);
    }
    let mut outputs = written::outputs(Replace::Never, &args.job, &job, Some(&path));
    if let Some(survey) = &args.survey {
        outputs = outputs.sparing(survey, "the survey");
    }
    let source = Source::Live(crate::head::link::open_kept(&port, args.keep.as_deref(), outputs)?);
    let mut watch = Watch::new(job, board, jobs::today(), &port);
    if let Some(at) = keeping.stood_at()? {
        watch.stood(at);
    }
    watch.units = units;
    if mode == Mode::Plain {
        println!("{}", words::CAUTION);
    }
    let mut work = AtWork::new(guide, mode);
    let watching = Watching {
        source,
        watch,
        store: Some(Box::new(Book::new(keeping))),
        mode,
        hands: Some(&mut work),
        plain_every: Duration::from_secs(2),
        until_taken: false,
    };
    let watch = watching.run()?;
    let whole = watch.whole();
    if mode != Mode::Json {
        let because = whole.because(watch.job.bands.gap);
        let because = if because.is_empty() { because } else { format!(": {because}") };
        println!(
            "{} {}{}",
            screen::shape(whole.verdict),
            whole.headline(),
            units.sentence(&because)
        );
        println!("Kept in {}", path.display());
    }
    Ok(whole.verdict.into())
}

/// The job with its board: as surveyed in `survey`, flat, or as the job says.
fn open(job: &Path, survey: Option<&Path>, flat: bool) -> anyhow::Result<Opened> {
    if !flat && survey.is_none() {
        return jobs::open(job);
    }
    let (job, text) = jobs::read(job)?;
    let board = match survey {
        Some(survey) => jobs::surveyed(survey, &job)?,
        None => Board::flat(),
    };
    Ok(Opened { job, text, board })
}

/// The readings' own stations, each once, in their order.
fn stations(readings: &Readings) -> Vec<Station> {
    let mut seen = std::collections::HashSet::new();
    let rows = readings.rows.iter().filter_map(|row| Some((row.station.as_ref()?, row)));
    rows.filter(|(name, _)| seen.insert(name.as_str()))
        .map(|(name, row)| Station { name: name.clone(), at: row.at })
        .collect()
}

/// What the person should look at again.
fn remarks(readings: &Readings) -> Vec<String> {
    let mut remarks = Vec::new();
    for (first, again) in readings.repeated.iter().take(MOST_REPEATS) {
        remarks.push(format!(
            "lines {first} and {again} are the same: two takes, or one pasted twice? Both count"
        ));
    }
    if readings.repeated.len() > MOST_REPEATS {
        remarks.push(format!(
            "{} further lines repeat earlier ones",
            readings.repeated.len() - MOST_REPEATS
        ));
    }
    if let Some(moved) = readings.moved.first() {
        let (line, station, apart_mm) = (moved.line, &moved.station, moved.apart.0);
        remarks
            .push(format!("line {line}: {station} is {apart_mm:.0} mm from where the job has it"));
    }
    remarks
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
    /// The job's station to take besides, where an error in one of the readings would not show.
    one_more: Option<String>,
    /// What the person should look at again.
    remarks: &'a [String],
}

fn text(
    job: &Job,
    observations: &Observations,
    question: &Question<'_>,
    answer: &Assessment,
    told: &Told<'_>,
    units: Lengths,
) -> String {
    let paragraph = |first: &str, says: &str| paragraph(first, &units.sentence(says));
    let (image, band) = (job.image, question.band);
    let name = |adjuster: usize| job.adjusters[adjuster].name.clone();
    let (low, high) = (units.gap_number(band.low.0), units.gap(band.high.0));
    let mut text = format!(
        "TRIM  {}, {} readings, band {low} to {high}\n",
        job.about.name,
        observations.gaps.len()
    );
    if !answer.contradicts() {
        text += &paragraph("  ", &words::plane(&answer.fit.plane, image));
    }
    text += &paragraph("  ", &words::agreement(&answer.fit, observations));
    if let Some(says) = words::unchecked(&answer.fit, told.one_more.as_deref()) {
        text += &paragraph("  ! ", &says);
    }
    text += "\n";
    text += &if answer.contradicts() {
        readings_text(answer, units)
    } else {
        gaps_text(answer, image, units)
    };
    text += &format!("\n{}", paragraph("  ", &words::verdict(&answer.verdict, band, image)));
    if let Some(says) = words::feasibility(answer, question.points, &name, image) {
        text += &format!("\n{}", paragraph("  ! ", &says));
    }
    text += &if answer.contradicts() { String::new() } else { turns(told.report, units) };
    text += &listed("Look at", told.remarks.iter().map(|says| units.sentence(says)));
    if !told.report.turns.is_empty() {
        text += &format!("\n{}", paragraph("  ", words::CAUTION));
    }
    text
}

/// The places read with their verdicts, then what is worked out where nobody looked.
fn gaps_text(answer: &Assessment, image: Image, units: Lengths) -> String {
    let verdict =
        |verdict: Verdict| format!("{} {}", screen::shape(verdict), screen::verdict(verdict));
    let row = |name: &str, gap_mm: f64, expanded_mm: f64, says: String| {
        vec![units.sentence(name), units.gap_number(gap_mm), units.gap_number(expanded_mm), says]
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
            let name = words::place(point.point.x_mm, point.point.y_mm, image);
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
                units.sentence(&place.name),
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
    let paragraph = |first: &str, says: &str| paragraph(first, &units.sentence(says));
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
                words::sense(signed).to_owned(),
                words::amount(turn.turns),
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
    if let (true, true, Some(margin_mm), Some(u_mm)) =
        (report.feasible, report.checked, report.margin_mm, report.margin_u_mm)
    {
        let expanded_mm = crate::watch::stations::expanded(u_mm, None);
        text += &paragraph(
            "  ",
            &format!(
                "Then every point is at least {margin_mm:.2} mm ± {expanded_mm:.2} inside the band, as far as the board is known."
            ),
        );
    }
    if let Some(by_hand) = &report.by_hand {
        let [a, b, c] = by_hand.turns;
        text += &paragraph(
            "  ",
            &format!(
                "In whole steps, in the job's order, clockwise positive: {a:+.3}, {b:+.3}, {c:+.3} turns; that leaves {:.2} mm inside the band.",
                by_hand.margin_mm
            ),
        );
    }
    if let Some(least_mm) = report.least_gap_mm {
        text += &paragraph(
            "  ",
            &if report.clear {
                format!(
                    "On the way the light keeps clear of the board, {least_mm:.2} mm at the least."
                )
            } else {
                format!(
                    "CAREFUL: on the way the light comes within {least_mm:.2} mm of the board. Turn slowly, and watch it there."
                )
            },
        );
    }
    text
}
