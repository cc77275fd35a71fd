//! Led at the board.

use super::Args;
use crate::jobs::{self, Opened};
use crate::keeping::{Keeping, record_path};
use crate::lengths::Lengths;
use crate::outcome::Outcome;
use crate::report;
use crate::shell::{Mode, Ran, Shell, Source};
use crate::storing::Book;
use crate::storing::at_work::AtWorkMark;
use crate::written;
use anyhow::Context;
use skimgauge_model::Verdict;
use skimgauge_procedure::emitter_off::EmitterOff;
use skimgauge_procedure::takes::Begin;
use skimgauge_procedure::trim::{Trim, says};
use skimgauge_system::output::Replace;
use std::time::Duration;

/// Led at the board.
pub(super) fn guided(args: &Args, opened: Opened, units: Lengths) -> Outcome {
    let Opened { job, text, board, survey } = opened;
    jobs::can_be_read(&args.job, &job, &text)?;
    let port = args.head.clone().context("Say where the head is: --head PORT.")?;
    let mode = Mode::of(args.plain, args.json);
    let path = record_path(args.record.as_deref())?;
    let _alone = AtWorkMark::leave(&path, &job.about.name)?;
    let mut keeping = Keeping::open(&path, &job, &text, None, &args.same_job)?;
    keeping.set_survey(survey);
    let mut outputs = written::outputs(Replace::Never, &args.job, &job, Some(&path));
    if let Some(survey) = &args.survey {
        outputs = outputs.sparing(survey, "the survey");
    }
    let source = Source::Live(crate::head::link::open_kept(&port, args.keep.as_deref(), outputs)?);
    let saw = keeping.saw_with_emitter_off()?;
    let begin = keeping.goes_on(Begin::new(job, board, jobs::today(), &port))?;
    let trim = Trim::new(begin).context("The job does not name three adjusters.")?;
    if mode == Mode::Plain {
        println!("{}", report::line(&says::caution().text(units.style())));
    }
    let style = units.style();
    let shell = Shell {
        source,
        store: Some(Box::new(Book::new(keeping))),
        mode,
        style,
        person: None,
        pages: args.page.open_for(mode, &args.job, args.record.as_deref())?,
        plain_every: Duration::from_secs(2),
    };
    let Ran { procedure, view, kept } = shell.run(EmitterOff::before(trim, saw))?;
    let trim = procedure.then();
    let amid_turns = report::is_amid_turns(&view);
    if mode != Mode::Json {
        if amid_turns {
            println!("{}", report::BEFORE_THE_TURNS);
        }
        println!("{}", report::whole(&view, style));
    }
    kept?;
    if mode != Mode::Json {
        println!("Kept in {}", path.display());
    }
    let verdict = trim.takes().whole().verdict;
    // What was turned since the takes is not in it: it is no word on how the board is left.
    Ok(if amid_turns { Verdict::Unsure } else { verdict }.into())
}
