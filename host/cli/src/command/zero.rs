//! `zero`: find a head's constants on the gauge, or check there that they still hold.

use crate::head::link::Link;
use crate::jobs;
use crate::keeping::{self, Keeping, SameJob, record_path};
use crate::lengths::Lengths;
use crate::outcome::Ended::{Outside, Unsure, Well};
use crate::outcome::Outcome;
use crate::shell::{Mode, Shell, Source};
use crate::storing::{PutAside, begin_or_go_on};
use crate::written::ZEROING;
use anyhow::{Context, bail, ensure};
use skimgauge_metrology::measure::Limits;
use skimgauge_metrology::zero::{Checked, Gauge, Lamp, Session};
use skimgauge_procedure::zero::{Begin, Ended, Zero};
use skimgauge_system::access::account;
use skimgauge_system::output;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Heights that a slit before the eye can have, mm.
const SLIT_MM: core::ops::RangeInclusive<f64> = 1.0..=15.5;
/// Two slits are farther apart than this, mm.
const APART_MM: f64 = 2.0;

/// Find a head's constants on the gauge: zero, scale of the stand-off, level, and how unequal the
/// eye's pixels are.
///
/// The gauge stands on the board that will be measured, before the head's eye: two walls with a slit
/// in line at each of two heights, lit from behind by the gauge's own lamp, so that the emitter need
/// not be set; or by the emitter's light. The heights are on its label: --light 3.002,9.004. Then the
/// head is seated a few times, and lifted on something flat. Lean is not found: it would want a stand
/// with two faces.
///
/// Any step can be left out, gone back to or taken back. Nothing is written to the head before the
/// end, and then only after you say so and press its button. `quit` puts the zeroing aside; the same
/// command takes it up again.
///
/// The emitter's light is invisible: do not look into it, nor into the laser or the gauge's lamp, with
/// the naked eye or through glass; follow the makers' instructions.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The head's port; `skimgauge ports` shows it.
    #[arg(long, value_hint = clap::ValueHint::FilePath)]
    head: String,
    /// Heights of the gauge's slits over the board, mm, as on its label: 3.002,9.004. Without it only
    /// level and the pixels are found.
    #[arg(long, value_name = "LOW,HIGH", value_delimiter = ',')]
    light: Vec<String>,
    /// Standard uncertainty of those heights, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.006)]
    light_u: f64,
    /// The slits are lit by the emitter, not by the gauge's lamp: its sheet's slope counts.
    #[arg(long, alias = "on-the-spot")]
    by_emitter: bool,
    /// How many times the head is seated anew on the board.
    #[arg(long, value_name = "N", default_value_t = 3)]
    rounds: usize,
    /// How many times it is lifted, each time by something else; 0 keeps the former scale.
    #[arg(long, value_name = "N", default_value_t = 2)]
    lifts: usize,
    /// How a seat's lean moves the eye against the laser's spot, standard uncertainty, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.012)]
    seat_u: f64,
    /// Check instead, in ten seconds: the zero holds (exit 0), does not (1), or it is too close to
    /// call (3).
    #[arg(long, num_args = 0..=1, default_missing_value = "", value_name = "")]
    check: Option<String>,
    /// Nobody is at the head: write without a press of its button.
    #[arg(long)]
    unattended: bool,
    /// The job on whose board it is done: its record then knows that this zero was found, or holds, on
    /// this material. Without it the material of another board is counted there.
    #[arg(long, value_name = "FILE")]
    job: Option<PathBuf>,
    /// Whether the job of that name in the record is this one.
    #[command(flatten)]
    same_job: SameJob,
    /// Who does it; without this, as the job says, or the account's name.
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// Where the zeroing is put aside; without this, beside the record.
    #[arg(long, value_name = "FILE")]
    session: Option<PathBuf>,
    /// Forget what was put aside and begin anew.
    #[arg(long)]
    anew: bool,
    /// The record; without this, the platform's place.
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
    /// Lines instead of the screen.
    #[arg(long)]
    plain: bool,
    /// JSON lines instead of the screen.
    #[arg(long, conflicts_with = "plain")]
    json: bool,
    /// Of heads with a slide, which were zeroed on gauge blocks.
    #[arg(long, hide = true, num_args = 1)]
    blocks: Option<String>,
    /// See above.
    #[arg(long, hide = true, num_args = 1)]
    certificate: Option<String>,
    /// See above.
    #[arg(long, hide = true, num_args = 1)]
    coverage: Option<String>,
}

/// Zeroes or checks.
///
/// # Errors
/// The gauge cannot be as said, no head answers, or nothing could be made of what was read.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let positive = |value: f64, what: &str| -> anyhow::Result<()> {
        ensure!(
            value.is_finite() && value > 0.0 && value < 1.0,
            "{what} must be above 0 and below 1 mm, not {value}."
        );
        Ok(())
    };
    let old = [
        ("--blocks", &args.blocks),
        ("--certificate", &args.certificate),
        ("--coverage", &args.coverage),
    ];
    if let Some((flag, _)) = old.iter().find(|(_, given)| given.is_some()) {
        bail!(
            "{flag} belongs to heads with a slide, which were zeroed on gauge blocks. This head is zeroed on the gauge with two slits: say the heights on its label, as in --light 3.002,9.004."
        );
    }
    positive(args.light_u, "The uncertainty of the gauge's heights (--light-u)")?;
    positive(args.seat_u, "--seat-u")?;
    ensure!((1..=20).contains(&args.rounds), "--rounds must be 1 to 20, not {}.", args.rounds);
    ensure!(args.lifts <= 20, "--lifts must be 0 to 20, not {}.", args.lifts);
    let gauge = if args.light.is_empty() { None } else { Some(gauge(&args)?) };
    if let Some(value) = &args.check {
        ensure!(
            value.is_empty(),
            "--check takes no value ({value}): it is made on the gauge, whose heights --light says, as in --check --light 3.002,9.004."
        );
        ensure!(
            gauge.is_some(),
            "A check wants the gauge. Say the heights on its label, lower slit first, as in --check --light 3.002,9.004."
        );
    }
    zero(&args, units, gauge)
}

/// The gauge as it was said.
fn gauge(args: &Args) -> anyhow::Result<Gauge> {
    let said = args.light.join(",");
    let height = |text: &String| {
        let text = text.trim();
        let number = text.strip_suffix("mm").unwrap_or(text).trim().parse::<f64>();
        number.ok().filter(|mm| SLIT_MM.contains(mm))
    };
    let heights: Option<Vec<f64>> = args.light.iter().map(height).collect();
    match heights {
        Some(mut heights_mm) if heights_mm.len() <= 2 => {
            heights_mm.sort_by(f64::total_cmp);
            ensure!(
                heights_mm.windows(2).all(|pair| pair[1] - pair[0] >= APART_MM),
                "--light {said}: the gauge's two slits are at least {APART_MM} mm apart. Look at its label again."
            );
            let lamp = if args.by_emitter { Lamp::Emitter } else { Lamp::Own };
            Ok(Gauge { heights_mm, u_mm: args.light_u, lamp })
        }
        _ => bail!(
            "--light {said} is no gauge. Write the heights of its two slits as on its label, in mm over the board ({} to {}): --light 3.002,9.004.",
            SLIT_MM.start(),
            SLIT_MM.end()
        ),
    }
}

fn zero(args: &Args, units: Lengths, gauge: Option<Gauge>) -> Outcome {
    // Said before anything is done at the board.
    let job = args.job.as_deref().map(jobs::read_early).transpose()?;
    let link = Link::open(&args.head, None, None)?;
    let head = link.await_head(&args.head)?;
    let Some(serial) = head.hello.serial.map(|serial| serial.to_string()) else {
        bail!(
            "This head's memory does not answer, so constants could not be kept in it. Unplug it and plug it in again."
        );
    };
    let by_job = job.as_ref().map(|(job, _)| keeping::who(job));
    let who = args.by.clone().or(by_job).or_else(account).filter(|w| !w.trim().is_empty());
    let who = who.unwrap_or_else(|| "not named".to_owned());
    let record = record_path(args.record.as_deref())?;
    let job = match job {
        Some((job, text)) => {
            let mut keeping = Keeping::open(&record, &job, &text, None, &args.same_job)?;
            keeping.set_who(&who);
            Some(keeping)
        }
        None => None,
    };
    let path = match &args.session {
        Some(path) => path.clone(),
        None => record.with_file_name(format!("zero-{serial}.json")),
    };
    // A head on a board that lies or stands anyhow is seated.
    let mut limits = Limits::default();
    limits.board.tolerance_deg = 60.0;
    let fresh = Session { head: serial, gauge, seat_u_mm: args.seat_u, ..Session::default() };
    let check = args.check.is_some();
    let (session, going_on) = if check {
        (fresh, false)
    } else {
        if args.anew {
            output::remove(&path, ZEROING)?;
        }
        begin_or_go_on(&path, fresh)?
    };
    let begin = Begin {
        head,
        port: args.head.clone(),
        limits,
        today: jobs::today(),
        by: who.clone(),
        session,
        going_on,
        seats: args.rounds,
        lifts: args.lifts,
        put_aside: path.display().to_string(),
        record: record.display().to_string(),
        check,
        nobody_at_head: args.unattended,
    };
    let put_aside = PutAside { path: path.clone(), record, who, job };
    worked(args, units, link, Zero::new(begin), put_aside)
}

/// With the user at the gauge, to its end.
fn worked(args: &Args, units: Lengths, link: Link, zero: Zero, put_aside: PutAside) -> Outcome {
    let mode = Mode::of(args.plain, args.json);
    if mode == Mode::Plain {
        println!(
            "Enter or the head's button goes on; `skip` leaves a step out, `next` and `back` go to another, \
             `clear` takes back; `quit` puts the zeroing aside."
        );
    }
    let path = put_aside.path.clone();
    let shell = Shell {
        source: Source::Live(link),
        store: Some(Box::new(put_aside)),
        mode,
        style: units.style(),
        person: None,
        pages: None,
        plain_every: Duration::from_secs(1),
    };
    let ran = shell.run(zero)?;
    let zero = ran.procedure;
    // What lines said already, a screen that is given back does not show.
    if mode == Mode::Screen && !zero.closing().is_empty() {
        println!("{}", zero.closing().text(units.style()));
    }
    ran.kept?;
    if mode != Mode::Json && matches!(zero.ended(), None | Some(Ended::PutAside)) {
        println!("{}", left_off(args.check.is_some(), &path));
    }
    match zero.ended() {
        Some(Ended::Written) => {
            output::remove(&path, ZEROING)
                .context("The zeroing that was put aside could not be removed.")?;
            Ok(Well)
        }
        Some(Ended::Checked(Checked::StillGood)) => Ok(Well),
        Some(Ended::Checked(Checked::NotGood)) => Ok(Outside),
        Some(Ended::Failed(why)) => bail!("{}", why.text(units.style())),
        _ => Ok(Unsure),
    }
}

/// What is left of one that was not ended.
fn left_off(check: bool, path: &Path) -> String {
    match !check && path.exists() {
        true => format!(
            "Put aside in {}: the same command goes on with it. Nothing was written to the head.",
            path.display()
        ),
        false => "Nothing was kept, and nothing was written to the head.".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    #[derive(Parser)]
    struct Typed {
        #[command(flatten)]
        args: Args,
    }

    fn typed(line: &str) -> Args {
        let words = ["zero", "--head", "no-such-port"].into_iter().chain(line.split_whitespace());
        Typed::try_parse_from(words).unwrap().args
    }

    #[test]
    fn the_label_is_read_in_any_order_and_with_its_unit() {
        let heights = |line: &str| gauge(&typed(line)).unwrap().heights_mm;
        assert_eq!(heights("--light 3.002,9.004"), [3.002, 9.004]);
        assert_eq!(heights("--light 9.004mm,3.002mm"), [3.002, 9.004]);
        assert_eq!(heights("--light 3"), [3.0]);
        assert_eq!(gauge(&typed("--light 3 --on-the-spot")).unwrap().lamp, Lamp::Emitter);
    }

    #[test]
    fn one_that_was_not_ended_says_what_is_left_of_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("zero-SG-0007.json");
        assert!(left_off(false, &path).starts_with("Nothing was kept"));
        std::fs::write(&path, "{}").unwrap();
        assert!(left_off(false, &path).contains("zero-SG-0007.json"));
        // What an earlier zeroing put aside is none of the check's.
        assert!(left_off(true, &path).starts_with("Nothing was kept"));
    }

    /// In words, before any head is asked: what is wrong and what to write.
    #[test]
    fn what_is_missing_or_wrong_is_said_in_words() {
        for (line, expected) in [
            ("--check", "A check wants the gauge"),
            ("--check 3 --light 3,9", "--check takes no value (3)"),
            ("--blocks 1,2,3", "zeroed on the gauge with two slits"),
            ("--light 3,4", "at least 2 mm apart"),
            ("--light x", "is no gauge"),
            ("--light 3,9,12", "is no gauge"),
            ("--light 0.2,9", "is no gauge"),
            ("--light nan,9", "is no gauge"),
            ("--light 3,9 --light-u 0", "(--light-u) must be above 0"),
            ("--light 3,9 --rounds 0", "--rounds must be"),
            ("--light 3,9 --seat-u -1", "--seat-u must be"),
        ] {
            let line = line.replace("--seat-u -1", "--seat-u=-1");
            let said = match run(typed(&line), Lengths::default()) {
                Err(error) => error.to_string(),
                Ok(_) => panic!("{line}"),
            };
            assert!(said.contains(expected), "{line}: {said}");
        }
    }
}
