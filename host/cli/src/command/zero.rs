//! `zero`: find a head's constants, or check on one block that they still hold.

use crate::head::link::Link;
use crate::jobs;
use crate::keeping::record_path;
use crate::lengths::Lengths;
use crate::outcome::Ended::{Outside, Unsure, Well};
use crate::outcome::Outcome;
use crate::shell::{Mode, Shell, Source};
use crate::storing::{PutAside, begin_or_go_on};
use crate::written::ZEROING;
use anyhow::{Context, bail, ensure};
use skimgauge_metrology::measure::Limits;
use skimgauge_metrology::zero::{Checked, Light, Session};
use skimgauge_procedure::zero::{Begin, Block, Ended, Zero};
use skimgauge_shared::message::Capabilities;
use skimgauge_system::output;
use std::path::PathBuf;
use std::time::Duration;

/// Find a head's constants on gauge blocks, by rolling the slide through the light, and by
/// reversal.
///
/// The rig: a flat plate with a light at a known height over it (the emitter's own, set on gauge
/// blocks, is best). The head stands on the plate; a block under the laser's spot makes the gap.
/// Nothing is written to the head before the end, and then only after you say so. `quit` puts the
/// zeroing aside; the same command takes it up again.
///
/// The emitter's light is invisible: do not look into it, nor into the laser, with the naked eye or
/// through glass; follow both makers' instructions.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The head's port; `skimgauge ports` shows it.
    #[arg(long)]
    head: String,
    /// Height of the light's middle over the plate, mm. Without it the scale is found and the zero
    /// stays.
    #[arg(long, value_name = "MM")]
    light: Option<f64>,
    /// Standard uncertainty of that height, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.01)]
    light_u: f64,
    /// The light is the emitter's own, where the head will measure: the eye's scale found in it
    /// holds there.
    #[arg(long)]
    on_the_spot: bool,
    /// The blocks, mm, each with `:U` if its certificate differs from --certificate: 1,2:0.004,5.
    /// 0 is no block.
    #[arg(long, value_name = "LIST", value_delimiter = ',', default_value = "1,2,3,4,5,6")]
    blocks: Vec<String>,
    /// What the blocks' certificates state, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.006)]
    certificate: f64,
    /// The coverage factor of that statement.
    #[arg(long, value_name = "K", default_value_t = 2.0)]
    coverage: f64,
    /// How many times to go through the blocks, the head seated anew each time.
    #[arg(long, value_name = "N", default_value_t = 2)]
    rounds: usize,
    /// How the head's feet seat again and again, standard uncertainty, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.05)]
    seat_u: f64,
    /// Check on one block instead: still good, or not.
    #[arg(long, value_name = "MM", requires = "light")]
    check: Option<String>,
    /// Who does it; without this, the account's name.
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
}

/// Zeroes or checks.
///
/// # Errors
/// The rig cannot be as said, no head answers, or nothing could be made of what was read.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let positive = |value: f64, what: &str| -> anyhow::Result<f64> {
        ensure!(
            value.is_finite() && value > 0.0 && value < 1000.0,
            "{what} must be above 0 mm, not {value}."
        );
        Ok(value)
    };
    let blocks = args
        .blocks
        .iter()
        .map(|text| block(text, args.certificate, args.coverage))
        .collect::<Result<Vec<_>, _>>()?;
    let light = match args.light {
        Some(height_mm) => Some(Light {
            height_mm: positive(height_mm, "The light's height (--light)")?,
            u_mm: positive(args.light_u, "Its uncertainty (--light-u)")?,
            on_the_spot: args.on_the_spot,
        }),
        None => None,
    };
    positive(args.seat_u, "--seat-u")?;
    ensure!((1..=20).contains(&args.rounds), "--rounds must be 1 to 20, not {}.", args.rounds);
    if let Some(light) = light
        && let Some(high) = blocks.iter().find(|b| b.mm >= light.height_mm)
    {
        bail!(
            "The {} mm block is as high as the light ({} mm) or higher: no light would be left over it.",
            high.mm,
            light.height_mm
        );
    }
    let check = match (&args.check, light) {
        (None, _) => None,
        (Some(_), None) => bail!("A check needs the light's height: --light."),
        (Some(text), Some(light)) => {
            let block = block(text, args.certificate, args.coverage)?;
            ensure!(
                light.height_mm > block.mm,
                "The {} mm block is as high as the light: no gap is left.",
                block.mm
            );
            Some((block, light))
        }
    };
    zero(&args, units, blocks, light, check)
}

fn zero(
    args: &Args,
    units: Lengths,
    blocks: Vec<Block>,
    light: Option<Light>,
    check: Option<(Block, Light)>,
) -> Outcome {
    let link = Link::open(&args.head, None, None)?;
    let head = link.await_head(&args.head)?;
    let Some(serial) = head.hello.serial.map(|serial| serial.to_string()) else {
        bail!(
            "This head's memory does not answer, so constants could not be kept in it. Unplug it and plug it in again."
        );
    };
    let who =
        args.by.clone().or_else(|| std::env::var("USER").ok()).filter(|w| !w.trim().is_empty());
    let who = who.unwrap_or_else(|| "not named".to_owned());
    let record = record_path(args.record.as_deref())?;
    let path = match &args.session {
        Some(path) => path.clone(),
        None => record.with_file_name(format!("zero-{serial}.json")),
    };
    // A head on a plate that lies or stands anyhow is seated.
    let mut limits = Limits { seat_u_mm: args.seat_u, ..Limits::default() };
    limits.board.tolerance_deg = 60.0;
    let fresh = Session {
        head: serial,
        eye: head.hello.capabilities.has(Capabilities::EYE),
        light,
        seat_u_mm: args.seat_u,
        sight_u_mm: limits.sight_u_mm,
        ..Session::default()
    };
    let (session, going_on) = if check.is_some() {
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
        blocks,
        rounds: args.rounds,
        put_aside: path.display().to_string(),
        record: record.display().to_string(),
        check,
    };
    let put_aside = PutAside { path: path.clone(), record, who };
    worked(args, units, link, Zero::new(begin), put_aside)
}

/// With the user at the rig, to its end.
fn worked(args: &Args, units: Lengths, link: Link, zero: Zero, put_aside: PutAside) -> Outcome {
    let mode = Mode::of(args.plain, args.json);
    if mode == Mode::Plain {
        println!(
            "Enter or the head's button goes on; `skip` leaves a step out, `next` and `back` go to another; \
             `quit` puts the zeroing aside."
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
    let (zero, _) = shell.run(zero)?;
    // What lines said already, a screen that is given back does not show.
    if mode == Mode::Screen && !zero.closing().is_empty() {
        println!("{}", zero.closing().text(units.style()));
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

/// `3`, or `3:0.004` with its own certificate.
fn block(text: &str, certificate_mm: f64, coverage: f64) -> anyhow::Result<Block> {
    let (height, stated) = match text.split_once(':') {
        Some((height, stated)) => (height, Some(stated)),
        None => (text, None),
    };
    let number = |text: &str| {
        text.trim().trim_end_matches("mm").trim().parse::<f64>().ok().filter(|v| v.is_finite())
    };
    let mm = number(height).filter(|mm| (0.0..100.0).contains(mm));
    let stated = match stated {
        Some(stated) => number(stated),
        None => Some(certificate_mm),
    };
    match (mm, stated) {
        (Some(mm), Some(stated))
            if (0.0..1.0).contains(&stated) && (1.0..=10.0).contains(&coverage) =>
        {
            Ok(Block { mm, u_mm: stated / coverage })
        }
        _ => bail!(
            "`{text}` is no block. Write its height in mm, and if its certificate differs that too: 3 or 3:0.004 (coverage factor 1 to 10)."
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_are_read_with_their_certificates() {
        assert_eq!(block("3", 0.006, 2.0).unwrap(), Block { mm: 3.0, u_mm: 0.003 });
        assert_eq!(block(" 2.5mm:0.004 ", 0.006, 2.0).unwrap(), Block { mm: 2.5, u_mm: 0.002 });
        for wrong in ["", "x", "-1", "3:", "3:-1", "3:2", "nan", "1e9"] {
            let said = block(wrong, 0.006, 2.0).unwrap_err().to_string();
            assert!(said.contains("is no block"), "{wrong}: {said}");
        }
    }
}
