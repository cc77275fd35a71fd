//! What `skimgauge ports --check` says of the wiring, against the schematic, the pin table and the
//! bring-up sheet: parts, pins, test points, limits.

use skimgauge_hardware::figures::Body;
use skimgauge_hardware::interval::written;
use skimgauge_hardware::netlist::Netlist;
use skimgauge_hardware::{pins, source};
use skimgauge_procedure::birth::limits::{
    DARK, EYE_DIVIDER, Limit, STAND_OFF, STAND_OFF_NOISE, SUPPLY,
};
use skimgauge_procedure::birth::wiring::{PINS, POINTS, WIRES};
use skimgauge_procedure::birth::{Step, Wire};
use std::collections::BTreeMap;

fn netlist() -> Netlist {
    Netlist::parse(&source("hardware/schematic/head.xml")).unwrap()
}

/// The bring-up sheet's rows of a point: their limits.
fn limits(sheet: &str, point: &str) -> Vec<String> {
    let rows = sheet.lines().filter(|line| line.starts_with('|'));
    let cells = rows.map(|row| row.trim_matches('|').split('|').map(str::trim).collect::<Vec<_>>());
    cells
        .filter(|cells| {
            let points = cells.get(2).copied().unwrap_or_default();
            points.split(", ").any(|named| named == point)
        })
        .map(|cells| cells[3].to_owned())
        .collect()
}

/// What is wrong with a fault's words, by the schematic.
fn wrong(wire: &Wire, netlist: &Netlist) -> Vec<String> {
    let joins = |net: &str| {
        let ends = netlist.nets.get(net);
        ends.is_some_and(|ends| ends.iter().any(|end| wire.parts.contains(&end.part.as_str())))
    };
    let mut said = Vec::new();
    for part in wire.parts {
        if !netlist.parts.contains_key(*part) {
            said.push(format!("{part} is not in the schematic"));
        }
    }
    for pin in wire.pins {
        if !joins(pin) {
            said.push(format!("{pin} joins none of {:?}", wire.parts));
        }
    }
    for point in wire.points {
        let net = netlist.net_of(point, "1").unwrap_or_default();
        if !joins(net) {
            said.push(format!("{point} ({net}) is at none of {:?}", wire.parts));
        }
    }
    said
}

#[test]
fn every_part_pin_and_point_that_is_named_is_where_it_is_said_to_be() {
    let netlist = netlist();
    for wire in WIRES {
        assert_eq!(wrong(wire, &netlist), Vec::<String>::new(), "{}", wire.says);
    }
    // The check finds what it is for.
    let wire = Wire { says: "", parts: &["U4", "X9"], pins: &["pixel_clock"], points: &["TP7"] };
    assert_eq!(wrong(&wire, &netlist).len(), 3);
}

#[test]
fn pins_are_those_of_the_pin_table_and_all_of_them() {
    let named: BTreeMap<String, (u8, u8)> =
        PINS.iter().map(|(name, gpio, board)| ((*name).to_owned(), (*gpio, *board))).collect();
    assert_eq!(named, pins::of_the_document(&source("hardware/pins.md")));
}

#[test]
fn what_is_to_be_measured_is_what_the_bring_up_sheet_allows() {
    let sheet = source("hardware/test/bring-up.md");
    for (point, limit) in POINTS {
        let rows = limits(&sheet, point);
        let is_there = rows.iter().any(|row| row.starts_with(limit));
        assert!(is_there, "{point}: {limit} is not on the bring-up sheet: {rows:?}");
    }
    assert!(limits(&sheet, "TP99").is_empty());
}

fn range(text: &str) -> (f64, f64) {
    let numbers: Vec<f64> = text.split([' ', ',']).filter_map(|word| word.parse().ok()).collect();
    (numbers[0], numbers[1])
}

fn ends(limit: Limit) -> (f64, f64) {
    (limit.low.unwrap(), limit.high.unwrap())
}

#[test]
fn limits_are_those_of_the_documents() {
    let sheet = source("hardware/test/bring-up.md");
    let of = |point: &str| range(&limits(&sheet, point)[0]);
    assert_eq!(ends(SUPPLY), of("TP1"));
    assert_eq!(ends(DARK), of("TP7"));
    let body = Body::parse(&source("hardware/body/params.toml")).unwrap();
    let stand_off = body.made("laser_standoff");
    let (low, high) = ends(STAND_OFF);
    assert!(low < stand_off.low && stand_off.high < high, "{stand_off:?}");
    assert!((low + high - stand_off.low - stand_off.high).abs() < 1e-9, "centred on the body's");
    let start = source("hardware/assembly/6-first-start.md");
    assert!(start.contains("steady to a few hundredths"));
    assert!(STAND_OFF_NOISE.high.is_some_and(|mm| (0.02..0.06).contains(&mm)));
    // The divider between the eye's plug and the converter, as drawn.
    let netlist = netlist();
    let ohm = |part: &str| {
        let value = written(&netlist.parts[part].value).unwrap();
        f64::midpoint(value.low, value.high)
    };
    let drawn = ohm("R23") / (ohm("R22") + ohm("R23"));
    assert!((EYE_DIVIDER - drawn).abs() < 1e-9, "{drawn}");
}

/// The guide's first start and the walk go through the same things.
#[test]
fn the_guide_and_the_walk_agree() {
    let start = source("hardware/assembly/6-first-start.md");
    assert!(start.contains("skimgauge ports --check"), "the guide names the walk");
    for word in ["level", "lean", "paper", "lamp", "card", "zero"] {
        assert!(start.contains(word), "{word}");
    }
    let asked: String =
        Step::ALL.iter().map(|step| step.asks().text(Default::default()) + "\n").collect();
    for word in ["left side", "away from you", "white paper", "warm lamp", "card's edge", "button"]
    {
        assert!(asked.contains(word), "{word}");
    }
}
