//! `square`: how far the image is from its rectangle, and what to turn first.

use crate::keeping::section;
use crate::lengths::Lengths;
use crate::offline::{Asked, Files};
use crate::outcome::Outcome;
use crate::page::taping::{NAMES, Taping};
use crate::page::{self, Pages, desk};
use crate::report;
use crate::shell::Mode;
use anyhow::{Context, bail};
use skimgauge_jobfile::JobFile;
use skimgauge_quantity::Mm;
use skimgauge_site::square::quadrilateral::{CORNERS, Span};
use skimgauge_site::square::tape::TapeReading;
use skimgauge_site::square::{Measured, SquareInput, SquareReport, square};
use skimgauge_system::input;
use std::io::Write;

/// Standard uncertainty of one taped length where the job does not say it, mm: common practice, no
/// source.
const TAPE_U_MM: f64 = 1.0;

/// How far the image is from its rectangle, by tape or by its corners, and what to turn first.
///
/// A job that has both corners and tape has them compared: where they cannot both be right, nothing
/// is to be turned. How far a corner may be off, by one fault or by all together, is `square` in
/// `[limits]`. A tape alone tells shape and size: where the image lies on the board, and without a level
/// how it is turned there, is then said not to be measured.
///
/// Exit status: 0 the image is square, 1 something is to be turned or stays that is more than may
/// remain, 3 tape or corners contradict one another, nothing checks the tape, or the measure is too
/// coarse to tell, 2 an error. `verdict` in the JSON says the same: `within`, `outside`, `unsure`.
/// `not_measured` is what no measure told, null where everything was measured.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    asked: Asked,
    /// Which measures count where the job has both; the corners without this.
    #[arg(long, value_enum)]
    by: Option<By>,
    /// Enter measures anew, line by line, and see the rest move: `top 2024.5`, `falling 94 1/8
    /// in`, `top left 2 -1`, `quit`.
    #[arg(long, conflicts_with = "page")]
    live: bool,
    /// Tape the image with a page on the board that shows where, one length after another; they are
    /// entered on a phone, at the board's keyboard or here, and the rest moves. `quit` ends.
    #[command(flatten)]
    page: page::Args,
}

/// How corners were measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum By {
    /// Lengths between corners.
    Tape,
    /// Corners against their marks.
    Corners,
}

/// Judges the image.
///
/// # Errors
/// The job file has no measures, or they fit no image.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let asked = &args.asked;
    let opened = asked.open()?;
    if let Some(pages) =
        args.page.open_for(mode(asked.json), &asked.job, asked.record.as_deref())?
    {
        return taped(asked, &opened, pages, units);
    }
    let mut input = input(&opened.0, args.by)?;
    let mut report = square(&input)?;
    show(&args.asked, &report, args.live, units)?;
    if args.live {
        for line in input::lines(std::io::stdin().lock()) {
            if matches!(line.trim(), "quit" | "q") {
                break;
            }
            if line.trim().is_empty() {
                continue;
            }
            match anew(&input, &line).and_then(|changed| Ok((square(&changed)?, changed))) {
                Ok((judged, changed)) => {
                    (report, input) = (judged, changed);
                    show(&args.asked, &report, true, units)?;
                }
                Err(error) => eprintln!("{error:#}"),
            }
        }
    }
    end(&args.asked, &opened, &report)
}

/// Lines at the terminal, or for programs.
fn mode(json: bool) -> Mode {
    if json { Mode::Json } else { Mode::Plain }
}

/// With a page that shows where to tape.
fn taped(asked: &Asked, opened: &(JobFile, String), pages: Pages, units: Lengths) -> Outcome {
    let job = &opened.0;
    let (measured, bows) = match &job.tape {
        Some(taped) => (taped.measured.clone(), taped.bows.clone()),
        None => (Measured::Tape { readings: Vec::new(), u_mm: TAPE_U_MM, rise: None }, Vec::new()),
    };
    let beside = job.corners.clone();
    let may_remain = job.limits.square;
    let input = SquareInput { image: job.image, measured, beside, may_remain, bows };
    let mut taping = Taping::new(&job.about.name, input, units);
    desk::run(pages, &mut taping)?;
    let report = taping.end()?;
    show(asked, &report, false, units)?;
    end(asked, opened, &report)
}

fn end(asked: &Asked, opened: &(JobFile, String), report: &SquareReport) -> Outcome {
    asked.say_where(Files::default(), asked.keep(opened, section::square(report)))?;
    Ok(report.verdict.into())
}

fn show(asked: &Asked, report: &SquareReport, live: bool, units: Lengths) -> anyhow::Result<()> {
    asked.show("skimgauge.square", report, || {
        if live {
            report::square::short(report, units)
        } else {
            report::square::text(report, units)
        }
    })?;
    if live && !asked.json {
        print!("measure anew (mm unless a unit is given; quit ends): ");
        std::io::stdout().flush()?;
    }
    Ok(())
}

fn input(job: &JobFile, by: Option<By>) -> anyhow::Result<SquareInput> {
    let bows = job.tape.as_ref().map(|taped| taped.bows.clone()).unwrap_or_default();
    let taped = job.tape.as_ref().map(|taped| taped.measured.clone());
    let corners = job.corners.clone();
    let (measured, beside) = match by {
        Some(By::Tape) => (taped, corners),
        Some(By::Corners) => (corners, taped),
        None if corners.is_some() => (corners, taped),
        None => (taped, None),
    };
    let Some(measured) = measured else {
        let section = match by {
            Some(By::Tape) => "[tape] section",
            Some(By::Corners) => "[corners] section",
            None => "[tape] or [corners] section",
        };
        bail!(
            "The job file has no {section} with the image's measures. A file that `skimgauge jobs new` wrote has it to fill in: take the # away from its lines."
        );
    };
    let may_remain = job.limits.square;
    Ok(SquareInput { image: job.image, measured, beside, may_remain, bows })
}

/// The measures with one of them entered anew.
fn anew(input: &SquareInput, line: &str) -> anyhow::Result<SquareInput> {
    let mut input = input.clone();
    match &mut input.measured {
        Measured::Tape { readings, .. } => {
            let (name, length) = line
                .trim()
                .split_once(' ')
                .context("Type a length's name and its value: top 2024.5")?;
            let index = NAMES.iter().position(|known| *known == name);
            let Some(index) = index else {
                bail!("\"{name}\" is not a length; type one of {}", NAMES.join(", "));
            };
            let (span, length_mm) = (Span::ALL[index], length_mm(length)?);
            readings.retain(|reading| reading.span != span);
            readings.push(TapeReading { span, length_mm });
        }
        Measured::Offsets { corners, .. } => {
            let Some((name, rest)) =
                CORNERS.iter().find_map(|name| Some((*name, line.trim().strip_prefix(name)?)))
            else {
                bail!(
                    "Type a corner, then how far right and how far up of its mark: top left 2 -1"
                );
            };
            let both: Vec<&str> = rest.split_whitespace().collect();
            let [right, up] = both[..] else {
                bail!("Type two lengths after the corner, right and up: {name} 2 -1")
            };
            let (right_mm, up_mm) = (length_mm(right)?, length_mm(up)?);
            for corner in corners.iter_mut().filter(|corner| corner.corner == name) {
                (corner.right_mm, corner.up_mm) = (right_mm, up_mm);
            }
        }
    }
    Ok(input)
}

/// Millimetres, unless a unit is given.
fn length_mm(text: &str) -> anyhow::Result<f64> {
    let text = text.trim();
    let length = Mm::read_bare(text).map_err(|unread| {
        anyhow::anyhow!(
            "\"{text}\" is no length ({}): type millimetres, or a number with its unit",
            unread.fault()
        )
    })?;
    Ok(length.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_model::{Image, Verdict};
    use skimgauge_site::square::{CornerOffset, MAY_REMAIN};

    fn taped() -> SquareInput {
        let image = Image::mm(2000.0, 1250.0);
        let diagonal_mm = image.diagonal().0;
        let lengths = [2000.0, 1250.0, 2000.0, 1250.0, diagonal_mm, diagonal_mm];
        let readings = Span::ALL
            .into_iter()
            .zip(lengths)
            .map(|(span, length_mm)| TapeReading { span, length_mm })
            .collect();
        SquareInput {
            image,
            measured: Measured::Tape { readings, u_mm: 1.0, rise: None },
            beside: None,
            may_remain: MAY_REMAIN,
            bows: Vec::new(),
        }
    }

    #[test]
    fn a_length_entered_anew_moves_the_rest() {
        let before = square(&taped()).unwrap();
        let after = square(&anew(&taped(), "top 1994").unwrap()).unwrap();
        assert!(before.turnable.vertical_trapezoid_mm.value.abs() < 1e-6);
        assert!(after.turnable.vertical_trapezoid_mm.value < -2.0);
        let inch = anew(&taped(), "top 78 1/2 in").unwrap();
        let Measured::Tape { readings, .. } = inch.measured else { panic!() };
        assert!(readings.iter().any(|reading| reading.length_mm == 78.5 * 25.4));
    }

    /// One diagonal cannot be: no turn follows from it, and it is named.
    #[test]
    fn lengths_that_contradict_one_another_give_no_turns() {
        let square_to_the_tape = square(&taped()).unwrap();
        assert_eq!(square_to_the_tape.verdict, Verdict::Within);
        let off = square(&anew(&anew(&taped(), "top 1990").unwrap(), "bottom 2010").unwrap());
        assert_eq!(off.unwrap().verdict, Verdict::Outside);
        let wrong = square(&anew(&taped(), "falling 2400").unwrap()).unwrap();
        assert_eq!(wrong.verdict, Verdict::Unsure);
        assert!(wrong.corrections.is_empty(), "{:?}", wrong.corrections);
        let text = report::square::text(&wrong, Lengths(skimgauge_quantity::Units::Mm));
        assert!(text.contains("contradict one another: measure the diagonal"), "{text}");
        assert!(text.contains("Turn nothing"), "{text}");
        assert!(!text.contains("remains") && !text.contains("trapezoid"), "{text}");
    }

    #[test]
    fn what_cannot_be_understood_is_said() {
        for (line, expected) in
            [("middle 3", "not a length"), ("top", "name and its value"), ("top x", "x")]
        {
            let said = anew(&taped(), line).unwrap_err().to_string();
            assert!(said.contains(expected), "{said}");
        }
    }

    #[test]
    fn a_corner_entered_anew_is_taken() {
        let corners = CORNERS
            .map(|corner| CornerOffset { corner: corner.to_owned(), right_mm: 0.0, up_mm: 0.0 })
            .to_vec();
        let input = SquareInput { measured: Measured::Offsets { corners, u_mm: 0.5 }, ..taped() };
        let Measured::Offsets { corners, .. } = anew(&input, "bottom right 4 -2").unwrap().measured
        else {
            panic!()
        };
        assert_eq!((corners[2].right_mm, corners[2].up_mm), (4.0, -2.0));
        assert!(anew(&input, "bottom right 4").is_err());
    }
}
