//! `zero`: find a head's constants, or check on one block that they still hold.

use crate::jobs;
use crate::keeping::{hash_of, open_record, record_path, stamp};
use crate::lengths::Lengths;
use crate::outcome::{Ended, Outcome};
use crate::written::ZEROING;
use crate::zeroing::steps::{Block, Kept, Walked, walk};
use crate::zeroing::talk::{Talk, Word};
use crate::zeroing::text;
use anyhow::{Context, bail, ensure};
use skimgauge_metrology::budget::Budget;
use skimgauge_metrology::measure::{Limits, NotTaken};
use skimgauge_metrology::zero::{Check, Checked, Light, Session};
use skimgauge_quantity::Sentence;
use skimgauge_record::event::{BudgetLine, Calibrated, Head};
use skimgauge_record::{JobId, RecordError};
use skimgauge_shared::calibration::{Calibration, Date};
use skimgauge_shared::message::{CalibrationCheck, Capabilities};
use skimgauge_system::output;
use std::path::PathBuf;

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
    // A head on a plate that lies or stands anyhow is seated.
    let mut limits = Limits { seat_u_mm: args.seat_u, ..Limits::default() };
    limits.board.tolerance_deg = 60.0;
    let mut talk = Talk::open(&args.head, limits, jobs::today())?;
    talk.units = units;
    let serial = talk.head.hello.serial.map(|s| s.to_string());
    let Some(serial) = serial else {
        bail!(
            "This head's memory does not answer, so constants could not be kept in it. Unplug it and plug it in again."
        );
    };
    let before = &talk.head.calibration;
    println!(
        "Head {serial}, firmware {}, {}.",
        talk.head.hello.firmware,
        said_of(before.check, &before.calibration)
    );
    if let Some(doubt) = doubtful_date(before.check, &before.calibration, jobs::today()) {
        println!("{doubt}");
    }
    if let Some(text) = &args.check {
        let light = light.context("A check needs the light's height: --light.")?;
        return check(&mut talk, block(text, args.certificate, args.coverage)?, light);
    }
    zero(&args, &mut talk, &serial, &blocks, light)
}

fn zero(
    args: &Args,
    talk: &mut Talk,
    serial: &str,
    blocks: &[Block],
    light: Option<Light>,
) -> Outcome {
    let who =
        args.by.clone().or_else(|| std::env::var("USER").ok()).filter(|w| !w.trim().is_empty());
    let who = who.unwrap_or_else(|| "not named".to_owned());
    let record = record_path(args.record.as_deref())?;
    let path = match &args.session {
        Some(path) => path.clone(),
        None => record.with_file_name(format!("zero-{serial}.json")),
    };
    let fresh = Session {
        head: serial.to_owned(),
        eye: talk.head.hello.capabilities.has(Capabilities::EYE),
        light,
        seat_u_mm: args.seat_u,
        sight_u_mm: Limits::default().sight_u_mm,
        ..Session::default()
    };
    if args.anew {
        output::remove(&path, ZEROING)?;
    }
    let (mut kept, found) = Kept::open(&path, &record, fresh)?;
    if found {
        println!(
            "Going on with the zeroing put aside in {} ({} blocks read). --anew begins again.",
            path.display(),
            kept.session.blocks.len()
        );
    }
    if let Some(k_per_min) = talk.live().warming_k_per_min
        && k_per_min.abs() > 0.3
    {
        println!(
            "The head still changes by {k_per_min:+.1} K a minute: better wait until it has warmed up."
        );
    }
    if walk(talk, &mut kept, blocks, args.rounds)? == Walked::PutAside {
        println!("Put aside in {}. Nothing was written to the head.", kept.path().display());
        return Ok(Ended::Unsure);
    }
    let before = talk.head.calibration.clone();
    let outcome =
        kept.session.finish(&before.calibration, jobs::today(), &who).with_context(|| {
            format!(
                "Nothing was written to the head; what was read stays in {} (--anew begins again).",
                kept.path().display()
            )
        })?;
    println!("\n{}", text::outcome(&outcome, talk.units));
    loop {
        let asked = "Write these constants to the head, dated today? Type `yes`; `quit` leaves it as it is and puts the zeroing aside.";
        match talk.prompt(asked, &|_| Sentence::new())? {
            Word::Other(word) if word.eq_ignore_ascii_case("yes") => break,
            Word::Quit | Word::End => {
                println!(
                    "Put aside in {}. Nothing was written to the head.",
                    kept.path().display()
                );
                return Ok(Ended::Unsure);
            }
            Word::Go | Word::Other(_) => (),
        }
    }
    talk.write(&outcome.calibration)?;
    println!("Written to head {serial} and read back the same.");
    let budget = outcome.budget.as_ref().map_or_else(Vec::new, lines);
    let reference = reference(blocks, light);
    let kept_in_record = head_of(talk, serial).and_then(|head| {
        keep(&record, &who, head, &before.calibration, &outcome.calibration, reference, budget)
    });
    match kept_in_record {
        Ok(()) => println!("Kept in {}.", record.display()),
        Err(why) => {
            println!(
                "The head has its new constants, but they could not be recorded: {why} What was read stays in {}.",
                kept.path().display()
            );
            return Ok(Ended::Unsure);
        }
    }
    kept.forget().context("The zeroing that was put aside could not be removed.")?;
    Ok(Ended::Well)
}

fn check(talk: &mut Talk, block: Block, light: Light) -> Outcome {
    let known_mm = light.height_mm - block.mm;
    ensure!(known_mm > 0.0, "The {} mm block is as high as the light: no gap is left.", block.mm);
    loop {
        let asked = format!(
            "Put the {} mm block under the laser's spot, seat the head, roll the slide to the light.",
            block.mm
        );
        match talk.prompt(&asked, &text::eye)? {
            Word::Go => (),
            Word::Quit | Word::End => return Ok(Ended::Unsure),
            Word::Other(word) => {
                println!("`{word}` is not known here: Enter or quit.");
                continue;
            }
        }
        let mut taken = None;
        talk.until(10.0, |talk| {
            let now_s = talk.now_s();
            taken = Some(talk.observer().take(now_s));
            matches!(taken, Some(Ok(_)))
        })?;
        match taken {
            Some(Ok(take)) => {
                let check = Check::of(&take, known_mm, light.u_mm.hypot(block.u_mm));
                println!("{}", check.sentence().text(talk.units.style()));
                return Ok(match check.checked {
                    Checked::StillGood => Ended::Well,
                    Checked::NotGood => Ended::Outside,
                    Checked::CannotTell => Ended::Unsure,
                });
            }
            Some(Err(NotTaken::Fault { fault })) => {
                println!("{} {}", fault.sentence(), fault.remedy());
            }
            Some(Err(why)) => println!("{why}"),
            None => println!("No reading came."),
        }
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

/// A zeroing dated after today: one of the two dates is wrong, and a new zeroing would carry this
/// computer's.
fn doubtful_date(
    check: CalibrationCheck,
    calibration: &Calibration,
    today: Date,
) -> Option<String> {
    let date = |date: Date| (date.year, date.month, date.day);
    let after = check == CalibrationCheck::Good && date(calibration.date) > date(today);
    after.then(|| {
        format!(
            "This zeroing is dated {}, and this computer says that today is {today}. If the computer is wrong, end here (quit) \
             and set its date: a new zeroing would carry it.",
            calibration.date
        )
    })
}

fn said_of(check: CalibrationCheck, calibration: &Calibration) -> String {
    match check {
        CalibrationCheck::Good => format!("zeroed on {} by {}", calibration.date, calibration.by),
        CalibrationCheck::Missing => "never zeroed".to_owned(),
        CalibrationCheck::Damaged => "its constants are damaged".to_owned(),
        CalibrationCheck::OtherHead => "with the constants of another head".to_owned(),
        CalibrationCheck::Unreadable => "its memory does not answer".to_owned(),
    }
}

fn reference(blocks: &[Block], light: Option<Light>) -> String {
    let blocks: Vec<String> =
        blocks.iter().map(|b| format!("{} mm (u {} mm)", b.mm, b.u_mm)).collect();
    let light = light.map_or("no light of known height".to_owned(), |l| {
        format!("light at {} mm (u {} mm)", l.height_mm, l.u_mm)
    });
    format!("blocks {}; {light}", blocks.join(", "))
}

fn head_of(talk: &Talk, serial: &str) -> Result<Head, RecordError> {
    let state = &talk.head.calibration;
    let good = state.check == CalibrationCheck::Good;
    Ok(Head {
        serial: serial.to_owned(),
        firmware: talk.head.hello.firmware.to_string(),
        calibration_date: good.then(|| state.calibration.date.to_string()),
        calibration_sha256: Some(hash_of(&state.calibration)?),
    })
}

fn lines(budget: &Budget) -> Vec<BudgetLine> {
    let line = |entry: &skimgauge_metrology::budget::Entry| BudgetLine {
        source: entry.source.clone(),
        value: entry.stated,
        unit: budget.unit.clone(),
        distribution: entry.distribution.name().to_owned(),
        divisor: entry.distribution.divisor(),
        sensitivity: entry.sensitivity,
        contribution: entry.contribution(),
        dof: entry.dof,
        share: budget.share(entry),
    };
    budget.entries.iter().map(line).collect()
}

/// The head's own history is a job of its own in the record.
fn keep(
    path: &std::path::Path,
    who: &str,
    head: Head,
    before: &Calibration,
    after: &Calibration,
    reference: String,
    budget: Vec<BudgetLine>,
) -> Result<(), RecordError> {
    let mut record = open_record(path)?;
    let job = format!("head {}", head.serial);
    let stamp = stamp(who)?;
    let id = JobId::random()?;
    let id = match record.open_job(id, &job, "", &stamp) {
        Ok(_) => id,
        // Of several, read in from other records, the one last gone on with.
        Err(RecordError::JobExists(_)) => {
            record.jobs()?.into_iter().find(|known| known.name == job).map_or(id, |known| known.id)
        }
        Err(error) => return Err(error),
    };
    let value = |c: &Calibration| {
        serde_json::to_value(c).map_err(|error| RecordError::BadEvent(error.to_string()))
    };
    let body = Calibrated {
        head,
        before: Some(value(before)?),
        after: Some(value(after)?),
        reference,
        budget,
    };
    record.append(&id.to_string(), &stamp, body)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_zeroing_dated_after_today_is_said_before_another_is_made() {
        let today = Date { year: 2026, month: 6, day: 1 };
        let dated = |year, month, day| {
            let head = skimgauge_shared::message::SerialNumber([1; 16]);
            let date = Date { year, month, day };
            doubtful_date(
                CalibrationCheck::Good,
                &Calibration { date, ..Calibration::nominal(head) },
                today,
            )
        };
        assert_eq!((dated(2026, 6, 1), dated(2025, 12, 31)), (None, None));
        for (year, month, day) in [(2026, 6, 2), (2026, 7, 1), (2027, 1, 1)] {
            assert!(
                dated(year, month, day).is_some_and(
                    |said| said.contains("2026-06-01") && said.contains("set its date")
                )
            );
        }
    }

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
