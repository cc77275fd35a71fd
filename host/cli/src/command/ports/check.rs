//! `ports --check`: a head's first start, walked through, and its birth certificate.

use super::Args;
use crate::head::link::Link;
use crate::jobs;
use crate::lengths::Lengths;
use crate::outcome::{Ended, Outcome};
use crate::report::birth::{self, Written};
use crate::shell::{Mode, Shell, Source};
use crate::written::{BIRTH, BIRTH_PAGE};
use anyhow::Context;
use skimgauge_procedure::birth::{Begin, Birth, Certificate, Found, Step};
use skimgauge_session::{Refused, Trouble};
use skimgauge_system::access::account;
use skimgauge_system::output::{Outputs, Refused as NotWritten, Replace};
use skimgauge_system::terminal::{shown_json, shown_lines};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// So many certificates a head has on a day at most.
const NUMBERS: u32 = 1_000;

/// A step that is left out, and why.
pub(super) type LeftOut = (Step, String);

/// Reads `light=no halogen lamp here`.
pub(super) fn left_out(text: &str) -> Result<LeftOut, String> {
    let steps = || {
        let names: Vec<&str> = Step::ALL.iter().map(|step| step.key()).collect();
        names[1..].join(", ")
    };
    let (step, why) = text.split_once('=').unwrap_or((text, ""));
    let step = Step::to_leave_out(step.trim())
        .ok_or_else(|| format!("there is no such step to leave out; there are {}", steps()))?;
    match why.trim() {
        "" => Err(format!("say why, as in {}=\"no lamp here\"", step.key())),
        why => Ok((step, why.to_owned())),
    }
}

/// Walks, and writes down what was found.
///
/// # Errors
/// No head answers, or the certificate cannot be written.
pub(super) fn run(args: &Args, port: &str, units: Lengths) -> Outcome {
    let mut outputs = Outputs::new(Replace::Never);
    if let Some(out) = &args.out {
        let [json, page] = files(out, 1);
        outputs.check_all([(json.as_path(), BIRTH), (page.as_path(), BIRTH_PAGE)])?;
    }
    let mode = Mode::of(args.plain, args.json);
    let begin = Begin { port: port.to_owned(), today: jobs::today(), left_out: args.skip.clone() };
    if mode == Mode::Plain {
        println!(
            "Do what each step asks for. Enter or the head's button goes on; a tilt that is held goes on by itself. \
             `skip REASON` leaves a step out, `back` makes the one before anew, `quit` ends without a certificate."
        );
    }
    let shell = Shell {
        source: Source::Live(Link::open(port, None, None)?),
        store: None,
        mode,
        style: units.style(),
        person: None,
        pages: None,
        plain_every: Duration::from_secs(1),
    };
    // It keeps nothing itself.
    let walk = shell.run(Birth::new(begin)).map_err(hinted)?.procedure;
    let certificate = walk.certificate();
    if walk.is_over() {
        let by = args.by.clone().or_else(account);
        let by = by.filter(|by| !by.trim().is_empty()).unwrap_or_else(|| "not named".to_owned());
        let written = Written { date: jobs::today().to_string(), by };
        let json = birth::json(&certificate, &written);
        let page = birth::page(&certificate, &written, units.style().units);
        let named =
            write(args.out.as_deref(), &certificate, &written, &mut outputs, [&json, &page]);
        tell(mode, &certificate, &json, units, named.as_ref().ok())?;
        named?;
    } else {
        let written = Written { date: jobs::today().to_string(), by: String::new() };
        tell(mode, &certificate, &birth::json(&certificate, &written), units, None)?;
        if mode != Mode::Json {
            println!("It was ended before its end: no certificate was written.");
        }
    }
    Ok(match certificate.verdict {
        Found::AsItShouldBe => Ended::Well,
        Found::Fault => Ended::Outside,
        Found::NotSeen => Ended::Unsure,
    })
}

/// What answers nothing may be wired wrong before USB: where to look.
fn hinted(error: anyhow::Error) -> anyhow::Error {
    match error.downcast_ref::<Trouble>() {
        Some(Trouble::Refused { why: Refused::Silent, .. }) => {
            let says = error.to_string();
            anyhow::anyhow!(
                "{says} A head that was built just now: the image copied to its end, USB's two data wires from D1 to the pads under the \
                 RP2040 board not swapped (D-, D+), loop TP1 to TP3 4.5 to 5.5 V, TP2 to TP3 3.2 to 3.4 V."
            )
        }
        _ => error,
    }
}

/// Certificate and page, by the name without an ending; another number where they are taken.
fn files(name: &Path, number: u32) -> [PathBuf; 2] {
    let with = |ending: &str| {
        let mut file = name.as_os_str().to_owned();
        if number > 1 {
            file.push(format!("-{number}"));
        }
        file.push(ending);
        PathBuf::from(file)
    };
    [with(".json"), with(".html")]
}

const NO_CERTIFICATE: &str = "No certificate was written.";

/// Writes both, over nothing; as which.
fn write(
    out: Option<&Path>,
    certificate: &Certificate,
    written: &Written,
    outputs: &mut Outputs,
    [json, page]: [&str; 2],
) -> anyhow::Result<[PathBuf; 2]> {
    let head = certificate.head.as_deref().unwrap_or("without-a-number");
    let own = PathBuf::from(format!("birth-{head}-{}", written.date));
    let name = out.unwrap_or(&own);
    let last = if out.is_some() { 1 } else { NUMBERS };
    for number in 1..=last {
        let [to_json, to_page] = files(name, number);
        match outputs.check_all([(to_json.as_path(), BIRTH), (to_page.as_path(), BIRTH_PAGE)]) {
            Err(NotWritten::Exists { .. } | NotWritten::OtherKind { .. }) if out.is_none() => {
                continue;
            }
            free => free.context(NO_CERTIFICATE)?,
        }
        outputs.write(&to_json, BIRTH, json.as_bytes()).context(NO_CERTIFICATE)?;
        outputs.write(&to_page, BIRTH_PAGE, page.as_bytes()).with_context(|| {
            format!("Of the certificate only {} was written.", to_json.display())
        })?;
        return Ok([to_json, to_page]);
    }
    anyhow::bail!("No certificate was written: {NUMBERS} of this head and day are here already.")
}

/// What was found, and where it is written.
fn tell(
    mode: Mode,
    certificate: &Certificate,
    json: &str,
    units: Lengths,
    named: Option<&[PathBuf; 2]>,
) -> anyhow::Result<()> {
    if mode == Mode::Json {
        let line: serde_json::Value = serde_json::from_str(json)?;
        println!("{}", shown_json(&line.to_string()));
        return Ok(());
    }
    print!("{}", shown_lines(&birth::text(certificate, units.style())));
    if let Some([json, page]) = named {
        println!("Birth certificate: {} and {}", json.display(), page.display());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_left_out_with_a_reason_only() {
        assert_eq!(left_out("light=no lamp"), Ok((Step::Light, "no lamp".to_owned())));
        assert!(left_out("light").unwrap_err().contains("say why"));
        assert!(left_out("light= ").unwrap_err().contains("say why"));
        let unknown = left_out("parts=why not").unwrap_err();
        assert!(unknown.contains("there are rest, left"), "{unknown}");
    }

    #[test]
    fn a_name_that_is_taken_gets_a_number() {
        let [json, page] = files(Path::new("a.b"), 1);
        assert_eq!((json, page), (PathBuf::from("a.b.json"), PathBuf::from("a.b.html")));
        assert_eq!(files(Path::new("head"), 2)[0], PathBuf::from("head-2.json"));
    }
}
