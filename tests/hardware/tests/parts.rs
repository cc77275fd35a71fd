//! Parts list, guide, bring-up sheet and harness against schematic and prints; and each kind of
//! fault, put in on purpose.

use skimgauge_hardware::figures::Body;
use skimgauge_hardware::netlist::Netlist;
use skimgauge_hardware::parts::{self, Row};
use skimgauge_hardware::{guide, path, shape, source};
use skimgauge_shared::calibration::{CODE_UV, STAND_OFF_CODES};
use std::collections::BTreeMap;

const NOTHING: Vec<String> = Vec::new();

fn netlist() -> Netlist {
    Netlist::parse(&source("hardware/schematic/head.xml")).unwrap()
}

fn list() -> Vec<Row> {
    parts::read(&source("hardware/parts.csv")).unwrap()
}

/// The guide's pages by their number.
fn pages() -> BTreeMap<String, String> {
    let mut pages = BTreeMap::new();
    for entry in std::fs::read_dir(path("hardware/assembly")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if let (Some((number, _)), true) = (name.split_once('-'), name.ends_with(".md")) {
            pages.insert(number.to_owned(), std::fs::read_to_string(&path).unwrap());
        }
    }
    assert_eq!(pages.len(), 7);
    pages
}

#[test]
fn the_parts_list_holds_the_schematic_the_prints_and_the_guide_both_ways() {
    let list = list();
    assert_eq!(parts::against_schematic(&list, &netlist()), NOTHING);
    assert_eq!(parts::against_prints(&list, shape::PRINTED), NOTHING);
    assert_eq!(parts::against_guide(&list, &pages()), NOTHING);
    for row in &list {
        assert!(row.alternates.0 != row.alternates.1, "{}: one alternate twice", row.part);
    }
}

#[test]
fn a_missing_a_wrong_and_a_spare_part_are_found() {
    let (list, netlist, pages) = (list(), netlist(), pages());
    let find = |list: &[Row], name: &str| list.iter().position(|row| row.part == name).unwrap();
    let mut missing = list.clone();
    missing.remove(find(&list, "clamp diodes"));
    let said = parts::against_schematic(&missing, &netlist);
    assert!(said.len() == 2 && said[0].contains("D3 is in the schematic"), "{said:?}");
    assert!(
        parts::against_guide(&missing, &pages)[0].contains("`clamp diodes`, which is not listed")
    );
    let mut wrong = list.clone();
    wrong[find(&list, "resistor 14.7 k")].value = "17.4 k, 0.1 %".into();
    assert_eq!(parts::against_schematic(&wrong, &netlist).len(), 1);
    let mut spare = list.clone();
    spare.push(Row { part: "a second eye".into(), refs: vec!["U9".into()], ..list[0].clone() });
    assert_eq!(parts::against_schematic(&spare, &netlist).len(), 1);
    assert!(!parts::against_guide(&spare, &pages).is_empty());
    let mut gone = list.clone();
    gone[0].status = "no longer made".into();
    assert!(parts::against_guide(&gone, &pages)[0].contains("nothing replaces it"));
    let mut unprinted = list.clone();
    unprinted.remove(find(&list, "jaw"));
    assert_eq!(parts::against_prints(&unprinted, shape::PRINTED).len(), 1);
    let text = source("hardware/parts.csv");
    for (a, b) in [(";b;", ";x;"), ("part;refs", "parts;refs"), (";1;", ";one;")] {
        assert!(parts::read(&text.replacen(a, b, 1)).is_err(), "{b}");
    }
}

/// Stated in hardware/README.md.
#[test]
fn cost_and_weight_are_as_stated() {
    let (low, high, _) = parts::totals(&list());
    let readme = source("hardware/README.md");
    let round = |euro: f64| (euro / 10.0).round() * 10.0;
    let said = format!("{} to {} euro", round(low), round(high));
    assert!(readme.contains(&said), "{said}");
    let head = list().into_iter().filter(|row| {
        !row.pages.contains(&"7".to_owned())
            && !["USB cable", "tether"].contains(&row.part.as_str())
    });
    let grams = parts::totals(&head.collect::<Vec<_>>()).2;
    let said = format!("{} g", round(grams));
    assert!(readme.contains(&said), "{said}");
}

#[test]
fn every_page_has_what_a_stranger_needs_and_its_pictures_are_there() {
    for (name, text) in &pages() {
        let is_there = |target: &str| path(&format!("hardware/assembly/{target}")).is_file();
        assert_eq!(guide::page(name, text, is_there), NOTHING);
        let said = guide::page(name, &text.replace("## Steps", "## Stories"), is_there);
        assert_eq!(said.len(), 1);
        assert!(!guide::page(name, &format!("{text}![](lost.svg)"), is_there).is_empty());
    }
    for document in
        ["README.md", "pins.md", "wiring.md", "sums.md", "optics.md", "window.md", "read-cold.md"]
            .into_iter()
            .chain(["test/bring-up.md", "assembly/README.md"])
    {
        let folder = path(&format!("hardware/{document}")).parent().unwrap().to_owned();
        for target in guide::links(&source(&format!("hardware/{document}"))) {
            assert!(folder.join(&target).exists(), "{document} points to {target}");
        }
    }
}

#[test]
fn every_test_point_is_measured_and_every_measured_one_is_there() {
    let sheet = source("hardware/test/bring-up.md");
    assert_eq!(guide::points(&sheet, &netlist()), NOTHING);
    assert_eq!(guide::points(&sheet.replace("TP14", "TP15"), &netlist()).len(), 2);
}

#[test]
fn the_eyes_lead_joins_what_the_schematic_joins_and_a_swapped_wire_is_found() {
    let harness = source("hardware/harness/head.yml");
    assert_eq!(guide::eyes_lead(&harness, &netlist()), NOTHING);
    let swapped = harness.replace("{U6: [1, 2, 3, 4, 5, 6]}", "{U6: [1, 2, 4, 3, 5, 6]}");
    assert_eq!(guide::eyes_lead(&swapped, &netlist()).len(), 2);
}

/// The licence of the hardware is named, apart from the code's, and its text is there.
#[test]
fn the_hardwares_licence_is_its_own() {
    let licence = source("hardware/LICENSE-CERN-OHL-P");
    assert!(licence.contains("CERN Open Hardware Licence Version 2 - Permissive"));
    assert!(source("hardware/README.md").contains("CERN-OHL-P-2.0"));
    assert!(source("hardware/schematic/head.xml").contains("CERN-OHL-P-2.0"));
}

/// Directions in words, against the driver's and the simulation's.
#[test]
fn the_axes_of_the_guide_are_the_drivers() {
    for page in ["hardware/wiring.md", "hardware/assembly/3-circuit.md"] {
        let text = source(page).replace('\n', " ").replace("**", "");
        assert!(text.contains("X right, Y into the board, Z up"), "{page}");
    }
    let scene = source("firmware/bench/src/scene/mod.rs").replace("\n//!", "");
    assert!(scene.contains("positive: right side high") && scene.contains("top toward the viewer"));
    let start = source("hardware/assembly/6-first-start.md");
    assert!(start.contains("lift its **right** side by a finger: level must rise"));
    assert!(start.contains("lean its top **toward** you: lean must rise"));
}

/// What a reader found wrong in words: kept to the figures and the code.
#[test]
fn what_the_pages_say_in_figures_is_so() {
    let body = Body::parse(&source("hardware/body/params.toml")).unwrap();
    let list = list();
    let row = |name: &str| list.iter().find(|row| row.part == name).unwrap();
    // The converter's range as the code takes it, in volts.
    let volts = |code: i16| f64::from(code) * f64::from(CODE_UV) * 1e-6;
    let (low, high) = (volts(*STAND_OFF_CODES.start()), volts(*STAND_OFF_CODES.end()));
    let said = format!("is {low:.2} V to {high:.3} V at the converter");
    assert!(source("hardware/wiring.md").contains(&said), "{said}");
    // The filter is as high as the highest pixel of a line as bought.
    let filter = row("filter").value.split(' ').nth(2).unwrap().parse::<f64>().unwrap();
    let top = body.get("line_end") + 255.0 * body.get("pixel_pitch") / 1e3;
    assert!(filter > top + 0.1 && filter < body.get("line_length"), "{filter}, {top}");
    // Plugs fit the perfboard's holes.
    for name in ["plug of the sensor", "plug of the eye"] {
        assert!(row(name).must.contains("2.54 mm"), "{name}");
    }
    // Nothing that wants the image is measured before it is loaded.
    let sheet = source("hardware/test/bring-up.md");
    let rows: Vec<&str> = sheet.lines().filter(|line| line.starts_with("| ")).collect();
    let first = rows.iter().position(|row| row.contains("image running")).unwrap();
    assert!(rows[first].starts_with("| 15 |"), "{}", rows[first]);
    assert!(rows[..first].iter().any(|row| row.contains("no image")));
    assert!(!rows[first..].iter().any(|row| row.contains("no image")));
    let start = source("hardware/assembly/6-first-start.md");
    let loads = start.find("copy `skimgauge-head.uf2` onto the drive").unwrap();
    assert!(start.find("filled in to line 14").unwrap() < loads);
    assert!(start.find("Then lines 15 to 19").unwrap() > loads);
}
