//! `watch --level`: the head as a level.

use super::Args;
use crate::head::link::Link;
use crate::jobs;
use crate::keeping::{Keeping, record_path};
use crate::lengths::Lengths;
use crate::outcome::{Ended, Outcome};
use crate::shell::{Mode, Shell, Source};
use crate::storing::at_work::AtWorkMark;
use crate::storing::{Book, Store};
use anyhow::{Context, ensure};
use skimgauge_model::Verdict;
use skimgauge_procedure::level::{Level, Thing};
use skimgauge_procedure::view::level::Line;
use skimgauge_quantity::{Band, Deg};
use skimgauge_system::terminal::shown_lines;
use std::path::Path;
use std::time::Duration;

/// A target is no wider than this, degrees.
const WIDEST: Deg = Deg(45.0);

/// Shows level and lean until the user has enough; with a job, what is found is kept in its record.
///
/// # Errors
/// No head answers, or it is gone; the record cannot be written.
pub(super) fn run(args: &Args, units: Lengths) -> Outcome {
    let port = args.head.as_deref().context("A level needs the head's port: --head.")?;
    let target = args.target.map(band).transpose()?;
    let named = !args.thing.is_empty() || !args.plumb.is_empty();
    ensure!(
        args.job.is_none() || (named && target.is_some()),
        "What is kept needs a name and how far it may be off: --thing or --plumb NAME, and --target DEG."
    );
    let thing = |name: &String, line| Thing { name: name.clone(), line, target };
    let level = args.thing.iter().map(|name| thing(name, Line::Level));
    let plumb = args.plumb.iter().map(|name| thing(name, Line::Plumb));
    let mut things: Vec<Thing> = level.chain(plumb).collect();
    if things.is_empty() && target.is_some() {
        things.push(thing(&"level".to_owned(), Line::Level));
    }
    let mode = Mode::of(args.plain, args.json);
    let mut record = None;
    let (title, store, _alone) = match &args.job {
        None => ("level".to_owned(), None, None),
        Some(path) => {
            let (job, text) = jobs::read(path)?;
            let path = record_path(args.record.as_deref())?;
            let alone = AtWorkMark::leave(&path, &job.about.name)?;
            let phase = args.phase.map(Into::into);
            let keeping = Keeping::open(&path, &job, &text, phase, &args.same_job)?;
            record = Some(path);
            let store: Box<dyn Store> = Box::new(Book::new(keeping));
            (job.about.name, Some(store), Some(alone))
        }
    };
    if mode == Mode::Plain {
        println!(
            "Enter or the head's button marks a reading; turn the head end for end on the same spot and mark again: \
             tilt without the head's own offset. Where two marks do not show that it was turned, that is asked: `yes`. \
             `clear` forgets the mark, `quit` ends."
        );
    }
    let shell = Shell {
        source: Source::Live(Link::open(port, None, None)?),
        store,
        mode,
        style: units.style(),
        person: None,
        pages: match &args.job {
            Some(job) => args.page.open_for(mode, job, args.record.as_deref())?,
            None => args.page.open(mode)?,
        },
        plain_every: Duration::from_secs(1),
    };
    let ran = shell.run(Level::new(&title, things, jobs::today(), port))?;
    let level = ran.procedure;
    if mode == Mode::Screen {
        // The screen is gone, and with it what stood there.
        for found in level.found() {
            println!("{}", shown_lines(&found.says.text(units.style())));
        }
    }
    ran.kept?;
    if mode != Mode::Json {
        println!("{}", what_was_kept(level.found().len(), record.as_deref()));
    }
    let verdicts = level.found().iter().filter_map(|found| found.axis().verdict);
    Ok(if target.is_none() || level.found().is_empty() {
        Ended::Well
    } else {
        Verdict::of_all(verdicts).into()
    })
}

/// What became of so many readings found.
fn what_was_kept(found: usize, record: Option<&Path>) -> String {
    match record {
        _ if found == 0 => "Nothing was kept: nothing was found by two marks.".to_owned(),
        None => "Nothing was kept: --job keeps what is found in the job's record.".to_owned(),
        Some(record) => format!("Kept in {}", record.display()),
    }
}

/// From zero by so much, either way.
fn band(most: Deg) -> anyhow::Result<Band<Deg>> {
    Band::new(-most, most).filter(|_| most <= WIDEST).with_context(|| {
        format!("--target is {}; expected degrees, above 0 and at most {}.", most.0, WIDEST.0)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_that_is_ended_says_what_was_kept() {
        let record = Path::new("r.sqlite");
        assert!(what_was_kept(0, Some(record)).starts_with("Nothing was kept"));
        assert!(what_was_kept(2, None).starts_with("Nothing was kept"));
        assert_eq!(what_was_kept(2, Some(record)), "Kept in r.sqlite");
    }
}
