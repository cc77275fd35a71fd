//! What is shown in inches holds no length in millimetres, and every name as it was written.

use crate::bench::{Bench, told};
use std::process::{Command, Stdio};

/// What a person may call a plate, a rail or a station.
const SHELF: &str = "shelf at 100 mm";

/// Lines that say `mm`, `N` or `kg`, other than in this name.
fn lines_in_mm<'a>(text: &'a str, name: &str) -> Vec<&'a str> {
    let says_mm = |line: &&str| {
        let line = if name.is_empty() { (*line).to_owned() } else { line.replace(name, "") };
        let mut words = line.split(|c: char| !(c.is_alphanumeric() || c == '_'));
        words.any(|word| ["mm", "N", "kN", "kg"].contains(&word))
    };
    text.lines().filter(says_mm).collect()
}

/// The text of a page and of its drawings as a person reads it: each piece between tags a line.
fn read(page: &str) -> String {
    let body = &page[page.find("<body").unwrap()..];
    let drawings = body.split("src=\"data:image/svg+xml,").skip(1);
    let drawings = drawings.map(|rest| drawing(&rest[..rest.find('"').unwrap()]));
    let pages: Vec<String> = std::iter::once(body.to_owned()).chain(drawings).collect();
    let pieces = pages.iter().flat_map(|page| page.split('<')).filter_map(|p| p.split_once('>'));
    let read = pieces.filter(|(tag, _)| *tag != "style").map(|(_, text)| text.trim());
    read.filter(|text| !text.is_empty()).collect::<Vec<_>>().join("\n").replace('\u{a0}', " ")
}

/// A drawing out of the address that a page holds it in (RFC 3986, 2.1).
fn drawing(address: &str) -> String {
    let mut parts = address.split('%');
    let mut bytes = parts.next().unwrap().as_bytes().to_vec();
    for part in parts {
        bytes.push(u8::from_str_radix(&part[..2], 16).unwrap());
        bytes.extend(&part.as_bytes()[2..]);
    }
    String::from_utf8(bytes).unwrap()
}

fn survey_points(bench: &Bench) {
    std::fs::write(
        bench.folder.join("points.csv"),
        "x_mm,y_mm,z_mm\n-1000,0,1\n1000,0,0\n1000,-1200,1\n-1000,-1200,0\n0,-600,2\n0,0,0\n0,-1200,0\n",
    )
    .unwrap();
    // Broken off: what is left open names a place.
    std::fs::write(
        bench.folder.join("part.csv"),
        "x_mm,y_mm,z_mm\n-1000,0,1\n-400,0,0\n-400,-500,1\n-1000,-500,0\n-700,-200,0\n-700,0,0\n",
    )
    .unwrap();
}

/// The program's own words in inches hold no length in millimetres; JSON stays as it was.
#[test]
fn in_inches_no_length_is_left_in_millimetres() {
    let bench = Bench::new("inches");
    survey_points(&bench);
    for words in [
        &["setout"][..],
        &["fixings"],
        &["square"],
        &["square", "--by", "tape"],
        &["survey"],
        &["survey", "--from", "points.csv"],
        &["survey", "--from", "part.csv"],
    ] {
        let inch = [words, &["--units", "inch", "--no-record"]].concat();
        let (status, out, err) = bench.run(&inch);
        let (same_status, mm, _) = bench.run(&[words, &["--no-record"]].concat());
        assert_eq!(status, same_status, "{words:?}: {err}");
        assert!(
            !mm.contains(" in,") && mm.contains(" mm") || words == ["fixings"],
            "{words:?}: {mm}"
        );
        let left = lines_in_mm(&out, "");
        assert!(left.is_empty(), "{words:?}: {left:#?}");
        let json = bench.json(&[words, &["--units", "inch"]].concat());
        assert_eq!(json, bench.json(words), "{words:?}");
    }
    assert!(bench.run(&["fixings", "--units", "inch", "--no-record"]).1.contains("lbf"));
    let readings = "station,x_mm,y_mm,gap_mm,u_mm\na,-900,0,5.08,0.05\nb,900,0,2.54,0.05\nc,0,-1100,2.54,0.05\nd,0,0,3.81,0.05\n";
    std::fs::write(bench.folder.join("readings.csv"), readings).unwrap();
    let (_, out, err) = bench.run(&["trim", "--from", "readings.csv", "--flat", "--units", "inch"]);
    assert!(
        out.contains("band 0.039 to 0.157 in") && out.contains("the light stands 0.150 in"),
        "{out}{err}"
    );
    assert!(!out.contains(" mm"), "{out}");
    let (status, _, err) = bench.run(&["square", "--units", "feet", "--no-record"]);
    assert_eq!(status, 2);
    assert!(err.contains("write mm or inch"), "{err}");
}

/// A name that reads like a length stays as it was written, on the terminal and on the page; what
/// the program says beside it, and draws, is in inches.
#[test]
fn names_stay_and_the_page_is_in_inches_with_its_drawings() {
    let bench = Bench::new("named");
    let job = bench.job().replace("\"centre plate\"", &format!("\"{SHELF}\""));
    // Everything that is said where something is in the way, too far off or pulled out.
    let job = job.replacen("bottom = \"300 mm\"", "bottom = \"900 mm\"", 1);
    let job = job.replacen("top = \"380 mm\"", "top = \"980 mm\"", 1);
    let job = job.replacen("right = \"680 mm\"", "right = \"1680 mm\"", 1);
    std::fs::write(bench.folder.join("job.toml"), job).unwrap();
    survey_points(&bench);
    for words in [&["setout"][..], &["fixings"], &["square"], &["survey", "--from", "points.csv"]] {
        let (status, out, err) =
            bench.run(&[words, &["--units", "inch", "--record", "r.db"]].concat());
        assert_ne!(status, 2, "{words:?}: {err}");
        assert_eq!(out.contains(SHELF), matches!(words[0], "setout" | "fixings"), "{out}");
        let left = lines_in_mm(&out, SHELF);
        assert!(left.is_empty(), "{words:?}: {left:#?}");
    }
    for (units, is_mm) in [("inch", false), ("mm", true)] {
        let file = format!("{units}.html");
        let mut page = Command::new(env!("CARGO_BIN_EXE_skimgauge"));
        page.current_dir(&bench.folder)
            .args(["handover", "--job", "job.toml", "--record", "r.db", "--units", units])
            .args(["--out", &file])
            .stdin(Stdio::null());
        let (status, _, err) = told(&page.output().unwrap());
        assert_ne!(status, 2, "{err}");
        let text = read(&bench.read(&file));
        assert!(text.contains(SHELF) && text.contains("Dimensions in"), "{text}");
        let left = lines_in_mm(&text, SHELF);
        assert_eq!(left.is_empty(), !is_mm, "{units}: {left:#?}");
    }
}
