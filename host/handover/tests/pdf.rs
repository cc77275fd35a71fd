//! The PDF read back by general tools (poppler's `pdftotext` and `pdfinfo`).
#![cfg(feature = "pdf")]

mod common;

use std::process::Command;

use skimgauge_handover::{Options, Paper, Units, pdf, pdf_on};
use skimgauge_record::JobHistory;
use skimgauge_record::event::Phase;

/// What one of poppler's tools prints about a file.
fn tool(name: &str, arguments: &[&str], bytes: &[u8]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("handover.pdf");
    std::fs::write(&path, bytes).unwrap();
    let mut command = Command::new(name);
    command.args(arguments).arg(&path);
    if name == "pdftotext" {
        command.arg("-");
    }
    let output =
        command.output().unwrap_or_else(|_| panic!("{name} is needed: install poppler-utils"));
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn bytes(history: &JobHistory, units: Units) -> Vec<u8> {
    pdf(history, &Options { units }).unwrap()
}

#[test]
fn it_says_what_the_record_says() {
    let history = common::library().history();
    let text = tool("pdftotext", &["-layout"], &bytes(&history, Units::Mm));
    for current in history.current_takes() {
        let take = current.take;
        let shown = format!("{:.2}", take.gap.0);
        let found = text.lines().any(|line| line.contains(&take.station) && line.contains(&shown));
        assert!(found || take.phase == Phase::Between, "{} {shown}", take.station);
    }
    for words in [
        "Handover",
        "Larch Lane Library",
        "too close to call",
        "SG-0007",
        "Take care",
        "Signature",
        "pen tray",
    ] {
        assert!(text.contains(words), "{words}");
    }
    let hash = history.summary.head_hash.to_string();
    assert!(text.contains(&hash), "the whole fingerprint on one line");
    assert!(text.contains("ISO 14253-1"));
}

#[test]
fn paper_is_a4_or_letter() {
    let history = common::library().history();
    let options = Options::default();
    let a4 = tool("pdfinfo", &[], &pdf_on(&history, &options, Paper::A4).unwrap());
    assert!(a4.contains("595.28 x 841.89 pts (A4)"), "{a4}");
    assert!(a4.contains("Handover: practice wall"), "{a4}");
    let letter = tool("pdfinfo", &[], &bytes(&history, Units::Inch));
    assert!(letter.contains("612 x 792 pts (letter)"), "{letter}");
}

#[test]
fn odd_jobs_make_files_that_open() {
    let empty = tool("pdftotext", &[], &bytes(&common::empty().history(), Units::Mm));
    assert!(empty.contains("Nothing has been measured"));
    let hostile = tool("pdftotext", &[], &bytes(&common::hostile().history(), Units::Mm));
    assert!(hostile.contains("<script>alert"), "shown as the text that it is");
    let many = tool("pdftotext", &["-layout"], &bytes(&common::many(500).history(), Units::Mm));
    assert!(many.contains("grid 24-9") && many.contains("500 takes"));
}

#[test]
fn letters_that_the_font_lacks_are_said() {
    let bench = common::Bench::new("\u{56f3}\u{66f8}\u{9928}", skimgauge_jobfile::demo_job());
    let text = tool("pdftotext", &[], &bytes(&bench.history(), Units::Mm));
    assert!(text.contains("Some letters are not in the font"), "{text}");
}
