//! The PDF read back by general tools (poppler's `pdftotext` and `pdfinfo`).
#![cfg(feature = "pdf")]

mod common;

use std::process::Command;

use skimgauge_handover::{Options, Paper, Units, pdf, pdf_on};
use skimgauge_record::JobHistory;
use skimgauge_record::event::Phase;

/// What poppler 22.12 says of `/Suspects false`, which ISO 32000-1 (table 321) has as a boolean: it
/// knows only `true`.
const SUSPECTS_IS_FALSE: &str = "Syntax Error: Suspects object is wrong type (boolean)";

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
    let wrong = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{wrong}");
    let wrong: Vec<&str> =
        wrong.lines().filter(|line| !line.is_empty() && *line != SUSPECTS_IS_FALSE).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    String::from_utf8(output.stdout).unwrap()
}

fn bytes(history: &JobHistory, units: Units) -> Vec<u8> {
    pdf(history, &Options { units }).unwrap()
}

#[test]
fn it_says_what_the_record_says() {
    let history = common::library_read();
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
    let history = common::library_read();
    let options = Options::default();
    let a4 = tool("pdfinfo", &[], &pdf_on(&history, &options, Paper::A4).unwrap());
    assert!(a4.contains("595.28 x 841.89 pts (A4)"), "{a4}");
    assert!(a4.contains("Handover: practice wall"), "{a4}");
    let letter = tool("pdfinfo", &[], &bytes(&history, Units::Inch));
    assert!(letter.contains("612 x 792 pts (letter)"), "{letter}");
}

#[test]
fn odd_jobs_make_files_that_open() {
    let empty = tool("pdftotext", &[], &bytes(&common::empty_read(), Units::Mm));
    assert!(empty.contains("Nothing has been measured"));
    let hostile = tool("pdftotext", &[], &bytes(&common::hostile_read(), Units::Mm));
    assert!(hostile.contains("<script>alert"), "shown as the text that it is");
    let many = tool("pdftotext", &["-layout"], &bytes(&common::many_read(), Units::Mm));
    assert!(many.contains("grid 24-9") && many.contains("500 takes"));
}

#[test]
fn letters_that_the_font_lacks_are_said() {
    let bench = common::Bench::new("\u{56f3}\u{66f8}\u{9928}", skimgauge_jobfile::demo_job());
    let text = tool("pdftotext", &[], &bytes(&bench.history(), Units::Mm));
    assert!(text.contains("Some letters are not in the font"), "{text}");
}

/// The document library refuses to write what PDF/UA-1 does not allow; that it is there, poppler says.
#[test]
fn it_can_be_read_out_in_its_order() {
    let history = common::library_read();
    let file = bytes(&history, Units::Mm);
    assert!(tool("pdfinfo", &[], &file).contains("Tagged:          yes"));
    let told = tool("pdfinfo", &["-struct-text"], &file);
    // A kind that has attributes stands with a colon.
    let kinds: Vec<&str> = told
        .lines()
        .filter_map(|line| line.split_whitespace().next())
        .map(|kind| kind.trim_end_matches(':'))
        .collect();
    let count = |kind: &str| kinds.iter().filter(|known| **known == kind).count();
    assert_eq!(count("H1"), 1, "{told}");
    assert!(count("H2") >= 10 && count("Table") >= 5 && count("LI") >= 5, "{told}");
    let takes = history.current_takes().len();
    assert!(count("TH") >= 20 && count("TD") >= 5 * takes, "{}", count("TD"));
    let at = |words: &str| told.find(words).unwrap_or_else(|| panic!("{words} in {told}"));
    let order = ["Larch Lane Library", "In short", "Open points", "How to look after it"]
        .into_iter()
        .chain(["Whom to call", "Take care", "Signatures", "Appendix", "Every take"]);
    let places: Vec<usize> = order.map(at).collect();
    assert!(places.is_sorted(), "{places:?}");
    // What is drawn is told in words (poppler does not print them: the file has them as UTF-16), and
    // what is there for the eye alone is not told.
    let map: String = "Map of the board, gaps by station"
        .encode_utf16()
        .map(|unit| format!("{unit:04X}"))
        .collect();
    let alt = format!("/Alt<FEFF{map}").into_bytes();
    assert!(file.windows(alt.len()).any(|part| part == alt), "the map says nothing");
    assert!(!told.contains("fingerprint begins"), "feet of sheets are no part of the text");
}

/// Sheets as poppler finds them, the client's apart from the appendix.
fn sheets(history: &JobHistory, units: Units, paper: Paper) -> (Vec<String>, Vec<String>) {
    let file = pdf_on(history, &Options { units }, paper).unwrap();
    let told = tool("pdfinfo", &[], &file);
    let count: usize = told
        .lines()
        .find_map(|line| line.strip_prefix("Pages:"))
        .and_then(|count| count.trim().parse().ok())
        .unwrap_or_else(|| panic!("{told}"));
    let text = tool("pdftotext", &["-layout"], &file);
    let mut all: Vec<String> = text.split('\u{c}').take(count).map(str::to_owned).collect();
    assert_eq!(all.len(), count);
    let begins = all.iter().position(|sheet| sheet.contains("Appendix: the measurement"));
    let appendix = all.split_off(begins.expect("an appendix"));
    (all, appendix)
}

/// Without blanks and ends of lines: lines break where there is room.
fn bare(text: &str) -> String {
    text.chars().filter(|letter| !letter.is_whitespace()).collect()
}

#[test]
fn the_client_has_two_pages_and_the_measurement_stands_behind() {
    for (bench, what) in [
        (common::library(), "library"),
        (common::few(), "few"),
        (common::long(), "long"),
        (common::many(500), "many"),
        (common::empty(), "empty"),
        (common::hostile(), "hostile"),
    ] {
        let history = bench.history();
        for paper in [Paper::A4, Paper::Letter] {
            for units in [Units::Mm, Units::Inch] {
                let (client, appendix) = sheets(&history, units, paper);
                assert_eq!(client.len(), 2, "{what} {paper:?} {units:?}");
                let [first, second] = [&client[0], &client[1]];
                for words in ["In short", "Open points", "The work, step by step"] {
                    assert!(first.contains(words), "{what} {paper:?} {units:?}: {words}");
                }
                for words in [
                    "How to look after it",
                    "When touch goes wrong",
                    "Whom to call",
                    "Take care",
                    "Signature",
                ] {
                    assert!(second.contains(words), "{what} {paper:?} {units:?}: {words}");
                }
                let all = appendix.concat();
                for words in ["The job in full", "The job, step by step", "Take care at work on it"]
                {
                    assert!(all.contains(words), "{what}: {words}");
                }
            }
        }
    }
}

/// A job of which nothing is short: what the two pages have no room for they send to the appendix, and
/// there it stands, letter by letter.
#[test]
fn what_has_no_room_on_the_clients_pages_stands_whole_in_the_appendix() {
    let history = common::long().history();
    let closed = history.events.iter().find_map(|event| match &event.body {
        skimgauge_record::Body::Closed(closed) => Some(closed.open_points.clone()),
        _ => None,
    });
    let points = closed.unwrap();
    assert_eq!(points.len(), 30);
    for paper in [Paper::A4, Paper::Letter] {
        let (client, appendix) = sheets(&history, Units::Mm, paper);
        let [client, appendix] = [client.concat(), appendix.concat()];
        assert!(client.contains("see appendix"), "{client}");
        let appendix = bare(&appendix);
        for point in &points {
            let end = bare(&point[point.len().saturating_sub(60).max(1)..]);
            assert!(appendix.contains(&end) && appendix.contains(&bare(&point[1..15])), "{point}");
        }
        // Each of the steps stands on the client's page all the same, and in the appendix with whom.
        for words in ["The projector lifted onto its bracket", "left out", "done"] {
            assert!(bare(&client).contains(&bare(words)), "{words} in {client}");
        }
        // The step that hands over is closed by the closing itself.
        for n in (0..17).filter(|n| *n != 15) {
            let who = format!("Quartermaine-Hart{n:02}");
            assert!(appendix.contains(&who), "{who}");
            assert!(bare(&client).contains(&who), "{paper:?}: {who} in {client}");
        }
    }
}

/// Of an ordinary job everything that the client has to know stands on the two pages themselves.
#[test]
fn the_steps_stand_on_the_clients_page_with_who_and_when() {
    for paper in [Paper::A4, Paper::Letter] {
        let (client, _) = sheets(&common::few().history(), Units::Mm, paper);
        let text = bare(&client[0]);
        for words in [
            // Its person stands on a line of its own, beside the step in the other column.
            "left out The board's own shape: the board is new and flat",
            "done The projector lifted onto its bracket (1)",
            "open Touch proved on the display",
            "Closed by (1) R. Oakes, 25 November 2026.",
        ] {
            let words = bare(words).replace('\'', "");
            assert!(text.replace(['\'', '\u{2019}'], "").contains(&words), "{words} in {text}");
        }
        // Beside each of the four steps, and below them.
        assert_eq!(text.matches("(1)").count(), 5, "{text}");
        assert!(!client.concat().contains("appendix"));
    }
}

/// An attribute of an element, as poppler writes them.
fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    let from = element.find(&format!(" {name}=\""))? + name.len() + 3;
    element[from..].split('"').next()
}

/// Nothing that the client reads is smaller than 9 pt, but the foot of the sheets.
#[test]
fn no_letter_on_the_clients_pages_is_too_small_to_read() {
    for bench in [common::library(), common::long(), common::few()] {
        let file = bytes(&bench.history(), Units::Inch);
        // Thirds of a point, in whole numbers: 9 pt are 27, the foot has 23.
        let told = tool("pdftohtml", &["-xml", "-stdout", "-i", "-zoom", "3", "-l", "2"], &file);
        let number = |element: &str, name: &str| -> f64 {
            attribute(element, name).and_then(|text| text.parse().ok()).unwrap_or(f64::NAN)
        };
        let fonts: std::collections::HashMap<&str, f64> = told
            .lines()
            .filter(|line| line.trim_start().starts_with("<fontspec"))
            .map(|line| (attribute(line, "id").unwrap(), number(line, "size")))
            .collect();
        let mut seen = 0;
        for line in told.lines().filter(|line| line.starts_with("<text")) {
            let size = fonts[attribute(line, "font").unwrap()];
            let foot = number(line, "top") > 0.94 * 2376.0;
            assert!(size >= 27.0 || foot, "{size}: {line}");
            seen += 1;
        }
        assert!(seen > 60, "{seen} in {told}");
    }
}
