//! `prove`: touch shown to work, by taps and strokes on the display itself.

mod again;

use crate::jobs;
use crate::keeping::{Keeping, SameJob, record_path, section};
use crate::lengths::Lengths;
use crate::outcome::{Ended, Outcome};
use crate::page::proof;
use crate::report;
use crate::steps;
use crate::written::{self, PROOF};
use again::{FromFile, again};
use anyhow::{Context, bail};
use skimgauge_jobfile::JobFile;
use skimgauge_model::Station;
use skimgauge_procedure::proof::{Begin, Made};
use skimgauge_proof::finger::{Ailment, Display, Finger, Hand, begun, played};
use skimgauge_proof::judge::{Judged, judge};
use skimgauge_proof::limits::{Limits, Tool};
use skimgauge_proof::marks;
use skimgauge_proof::plan::Ask;
use skimgauge_proof::raw::{Gap, HeadGap, Proof};
use skimgauge_quantity::{Mm, Style};
use skimgauge_record::event::{Body, Section};
use skimgauge_steps::{Standing, State, Step};
use skimgauge_system::output::{Outputs, Replace};
use skimgauge_system::terminal::{shown_json, shown_lines};
use std::io::Write;
use std::net::IpAddr;
use std::path::{Path, PathBuf};

/// Version of the JSON that is printed.
const VERSION: u32 = 1;
/// So many stations have leaves laid.
const LEAF_STATIONS: usize = 5;

/// Prove that touch works: marks are tapped, lines drawn, hands kept off, on the display itself.
///
/// Opens a page for the computer that the display's touch is plugged into, full screen; a few
/// minutes later there is a verdict with its reason, in the record. With --from a proof is judged
/// again from its file, which is said with it: anybody can write a file. While the gap's verdict in the record is not within, or older than the last
/// turn, a proof may run but is never within. Exit status: 0 within, 1 outside, 3 too close to
/// call, 2 an error.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The job file.
    #[arg(long, value_name = "FILE", required_unless_present = "from")]
    job: Option<PathBuf>,
    /// Judge the proof in this file again, as it was made; nothing is kept. With --job by what the
    /// job file allows now, without it by what was allowed when it was made.
    #[arg(long, value_name = "PROOF.json", conflicts_with_all = ["practice", "record", "lan", "tool", "leave_out", "leaf", "save", "replace", "same_job", "page_port"])]
    from: Option<PathBuf>,
    /// What touches: `finger`, or `rod`, a 10 mm rod with a flat end held square to the board.
    #[arg(long, value_name = "TOOL", value_parser = tool, default_value = "finger")]
    tool: Tool,
    /// A mark that is out of reach, such as "top left"; may be given again.
    #[arg(long, value_name = "MARK", value_parser = mark)]
    leave_out: Vec<u8>,
    /// A leaf of this thickness, such as "1.5 mm", to be laid at the stations; may be given again.
    #[arg(long, value_name = "THICKNESS", value_parser = thickness)]
    leaf: Vec<Mm>,
    /// Practice: a simulated finger on a display with this ailment: well, offset, scale, bend,
    /// jitter, ghosts, shadow, high or moved. Kept, as simulated, in the record that --record names;
    /// without it nowhere.
    #[arg(long, value_name = "AILMENT", value_parser = ailment, conflicts_with_all = ["lan", "page_port"])]
    practice: Option<Ailment>,
    /// With --practice: which simulated hand.
    #[arg(long, default_value_t = 11, requires = "practice")]
    seed: u64,
    /// The record; without this, the platform's place.
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
    #[command(flatten)]
    same_job: SameJob,
    /// Keep nothing in the record; the gap is then not known, and the proof never within.
    #[arg(long, conflicts_with = "record")]
    no_record: bool,
    /// Write the proof as it was made to this file, to be judged again with --from.
    #[arg(long, value_name = "PROOF.json")]
    save: Option<PathBuf>,
    /// With --save: write it anew where an earlier one is.
    #[arg(long, requires = "save")]
    replace: bool,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
    /// Phones and other computers in the local network may open the page, at one address of this
    /// computer; report rates cannot be measured there.
    #[arg(long)]
    lan: bool,
    /// With --lan: at this address of this computer; without it, the one by which it is in its
    /// network.
    #[arg(long, value_name = "ADDRESS", requires = "lan")]
    at: Option<IpAddr>,
    /// The page's port; 0: any that is free.
    #[arg(long, value_name = "PORT", default_value_t = 0)]
    page_port: u16,
}

fn tool(text: &str) -> Result<Tool, String> {
    [Tool::Finger, Tool::Rod]
        .into_iter()
        .find(|tool| tool.word() == text)
        .ok_or_else(|| "finger or rod".to_owned())
}

fn mark(text: &str) -> Result<u8, String> {
    marks::named(text.trim()).ok_or_else(|| format!("one of {}", marks::NAMES.join(", ")))
}

fn thickness(text: &str) -> Result<Mm, String> {
    let length = Mm::read_bare(text).map_err(|unread| unread.fault().to_string())?;
    if (0.05..=50.0).contains(&length.0) {
        Ok(length)
    } else {
        Err("a leaf is 0.05 to 50 mm thick".to_owned())
    }
}

fn ailment(text: &str) -> Result<Ailment, String> {
    let words = || Ailment::ALL.map(|(word, _)| word).join(", ");
    Ailment::named(text).ok_or_else(|| format!("one of {}", words()))
}

/// Proves, or judges a proof again.
///
/// # Errors
/// Job file, proof or record cannot be read, or the page cannot be served.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let (from, made) = match (&args.from, &args.practice) {
        (Some(from), _) => {
            let (made, from) = again(from, args.job.as_deref())?;
            (Some(from), Some(made))
        }
        (None, Some(ailment)) => (None, Some(practised(&args, *ailment)?)),
        (None, None) => (None, live(&args, units)?),
    };
    let Some(made) = made else { return Ok(Ended::Unsure) };
    let mut out = std::io::stdout().lock();
    let done = if args.json {
        let judged = &made.judged;
        let found = Versioned { schema: "skimgauge.proof", version: VERSION, from, judged };
        writeln!(out, "{}", shown_json(&serde_json::to_string_pretty(&found)?))
    } else {
        let from = from.as_ref().map(FromFile::says).unwrap_or_default();
        let text = format!("{from}{}", report::proof::text(&made.judged, units));
        out.write_all(shown_lines(&text).as_bytes())
    };
    done.and_then(|()| out.flush()).context("The output cannot be written.")?;
    Ok(made.judged.verdict.into())
}

#[derive(serde::Serialize)]
struct Versioned<'a> {
    schema: &'static str,
    version: u32,
    /// The file that it was judged from, where nobody touched for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<FromFile>,
    #[serde(flatten)]
    judged: &'a Judged,
}

fn judged(proof: Proof) -> anyhow::Result<Made> {
    let judged = judge(&proof)
        .map_err(|why| anyhow::anyhow!("{}", why.capital().ended().text(Style::default())))?;
    Ok(Made { proof, judged })
}

fn practised(args: &Args, ailment: Ailment) -> anyhow::Result<Made> {
    let (file, job, text) = args.opened()?;
    if let Some(path) = &args.save {
        args.outputs(&job).check_all([(path.as_path(), PROOF)])?;
    }
    // The usual record is no place for what was practised: one is kept where it is named.
    let mut keeping = match &args.record {
        Some(path) => Some((Keeping::open(path, &job, &text, None, &args.same_job)?, path)),
        None => None,
    };
    let stands = match &keeping {
        None => Gap::Within,
        Some((keeping, _)) => {
            let steps = steps::standings_now(file, &job, &text, &keeping.events()?);
            match gap(keeping, steps)? {
                // A practice goes on with a practice.
                Gap::Simulated => Gap::Within,
                stands => stands,
            }
        }
    };
    let limits = job.touch.unwrap_or_default();
    let allowed = limits.of(args.tool);
    let mut proof = begun(job.image, args.tool, limits, stands);
    proof.left_out.clone_from(&args.leave_out);
    let mut display = Display::with(ailment, allowed);
    let stations = args.leaf_stations(&job);
    display.gaps_mm = stations.iter().map(|station| (station.name.clone(), 2.0)).collect();
    let gaps = stations.iter().map(|station| HeadGap {
        station: station.name.clone(),
        gap: Mm(2.0),
        u: Mm(0.05),
    });
    let mut finger = Finger::new(display, Hand::with(args.tool), args.seed).biased(allowed);
    let made = judged(played(&mut finger, proof, &args.leaves(&stations), gaps.collect()))?;
    if let Some((keeping, path)) = &mut keeping {
        keeping.append(Section::from(section::touch(&made.proof, &made.judged)?))?;
        eprintln!("Kept in {}, as simulated", path.display());
    }
    args.save_file(&job, &made)?;
    Ok(made)
}

/// `None` where the page was not opened.
fn live(args: &Args, units: Lengths) -> anyhow::Result<Option<Made>> {
    let (file, job, text) = args.opened()?;
    // Said before the work, not after it.
    if let Some(path) = &args.save {
        args.outputs(&job).check_all([(path.as_path(), PROOF)])?;
    }
    let mut keeping = match args.no_record {
        true => None,
        false => {
            let path = record_path(args.record.as_deref())?;
            Some((Keeping::open(&path, &job, &text, None, &args.same_job)?, path))
        }
    };
    let stations = args.leaf_stations(&job);
    let (gap, gaps) = match &keeping {
        None => (Gap::NotJudged, Vec::new()),
        Some((keeping, _)) => {
            let steps = steps::standings_now(file, &job, &text, &keeping.events()?);
            (gap(keeping, steps)?, gaps(keeping, &stations)?)
        }
    };
    let begin = Begin {
        title: job.about.name.clone(),
        image: job.image,
        tool: args.tool,
        limits: job.touch.unwrap_or_else(Limits::default),
        gap,
        left_out: args.leave_out.clone(),
        leaves: args.leaves(&stations),
        gaps,
    };
    let served = proof::Served { lan: args.lan, at: args.at, port: args.page_port };
    let kept = |made: &Made| -> anyhow::Result<()> {
        if let Some((keeping, path)) = &mut keeping {
            keeping.append(Section::from(section::touch(&made.proof, &made.judged)?))?;
            eprintln!("Kept in {}", path.display());
        }
        args.save_file(&job, made)
    };
    proof::run(begin, served, units, args.json, kept)
}

/// How the gap stands by the record: its last verdict, unless an adjuster was turned after it or it
/// no longer stands by what the job file says, and the survey that it names.
fn gap(keeping: &Keeping, steps: Vec<Standing>) -> anyhow::Result<Gap> {
    let last = keeping.last(|body| match body {
        Body::Judged(judged) => Some(Gap::of(Some(judged.verdict), false)),
        Body::TurnAdvised(_) | Body::TurnObserved(_) => Some(Gap::OlderThanTurn),
        _ => None,
    })?;
    let trim = steps.into_iter().find(|standing| standing.step == Step::Trim);
    Ok(match (last, trim.map(|standing| standing.state)) {
        (Some(Gap::Within), Some(State::Simulated(_))) => Gap::Simulated,
        (Some(Gap::Within), Some(State::Stale { .. })) => Gap::NotJudged,
        (last, _) => last.unwrap_or(Gap::NotJudged),
    })
}

/// The head's last gap at each of these stations.
fn gaps(keeping: &Keeping, stations: &[Station]) -> anyhow::Result<Vec<HeadGap>> {
    let mut found = Vec::new();
    for station in stations {
        let last = keeping.last(|body| match body {
            Body::Take(take) if take.station == station.name => Some((take.gap, take.u_gap)),
            _ => None,
        })?;
        found.extend(last.map(|(gap, u)| HeadGap { station: station.name.clone(), gap, u }));
    }
    Ok(found)
}

impl Args {
    fn opened(&self) -> anyhow::Result<(&Path, JobFile, String)> {
        let Some(file) = &self.job else { bail!("Which job? --job FILE says it.") };
        let (job, text) = jobs::read_early(file)?;
        Ok((file, job, text))
    }

    /// The first stations on the image.
    fn leaf_stations(&self, job: &JobFile) -> Vec<Station> {
        let near = |station: &&Station| job.image.contains(station.at, Mm(50.0));
        let stations = job.stations.iter().filter(near).take(LEAF_STATIONS);
        if self.leaf.is_empty() { Vec::new() } else { stations.cloned().collect() }
    }

    fn leaves(&self, stations: &[Station]) -> Vec<Ask> {
        let mut leaves = self.leaf.clone();
        leaves.sort_by(Mm::total_cmp);
        let at = |station: &Station, thickness: Mm| Ask::Leaf {
            station: station.name.clone(),
            x: station.at.x,
            y: station.at.y,
            thickness,
        };
        let of = |station| leaves.iter().map(move |thickness| at(station, *thickness));
        stations.iter().flat_map(of).collect()
    }

    fn outputs(&self, job: &JobFile) -> Outputs {
        let record = record_path(self.record.as_deref()).ok();
        let named = self.job.as_deref().unwrap_or(Path::new(""));
        written::outputs(Replace::flag(self.replace), named, job, record.as_deref())
    }

    fn save_file(&self, job: &JobFile, made: &Made) -> anyhow::Result<()> {
        let Some(path) = &self.save else { return Ok(()) };
        let text = serde_json::to_vec(&made.proof)?;
        self.outputs(job).write(path, PROOF, &text)?;
        eprintln!("Written: {}", path.display());
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    #[derive(Debug, clap::Parser)]
    struct Line {
        #[command(flatten)]
        _args: Args,
    }

    /// What a proof was made with stands in its file.
    #[test]
    fn what_a_proof_that_was_made_cannot_hear_is_refused() {
        let refused = |words: &[&str]| {
            let line = [&["prove"], words].concat();
            Line::try_parse_from(line).err().map(|error| error.to_string())
        };
        let from = ["--from", "proof.json"];
        assert_eq!(refused(&from), None);
        assert_eq!(refused(&[&from[..], &["--job", "b.toml", "--json"]].concat()), None);
        for (flag, value) in [
            ("--tool", Some("finger")),
            ("--leave-out", Some("centre")),
            ("--leaf", Some("1.5 mm")),
            ("--save", Some("again.json")),
            ("--replace", None),
            ("--same-job", None),
            ("--page-port", Some("8080")),
        ] {
            let words: Vec<&str> = from.into_iter().chain([flag]).chain(value).collect();
            let why = refused(&words).expect(flag);
            assert!(why.contains("'--from <PROOF.json>' cannot be used with"), "{why}");
            assert!(why.contains(flag), "{why}");
        }
    }
}
