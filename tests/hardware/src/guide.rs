//! The guide's pages, the bring-up sheet and the harness, as text.

use crate::netlist::Netlist;
use std::collections::{BTreeMap, BTreeSet};

/// Every part of a page that a stranger needs: components, tools, steps, and what to do when it
/// goes wrong.
const SECTIONS: &[&str] = &["## Tools", "## Steps", "## If it does not"];

/// What a page lacks, and pictures that are not there.
pub fn page(name: &str, text: &str, is_there: impl Fn(&str) -> bool) -> Vec<String> {
    let lacks = SECTIONS.iter().filter(|section| !text.lines().any(|line| line == **section));
    let mut said: Vec<String> =
        lacks.map(|section| format!("page {name} has no `{section}`")).collect();
    for target in links(text).into_iter().filter(|target| !is_there(target)) {
        said.push(format!("page {name} points to {target}, which is not there"));
    }
    said
}

/// Files that a page points to.
pub fn links(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for rest in text.split("](").skip(1) {
        let target = rest.split(')').next().unwrap_or_default();
        let target = target.split('#').next().unwrap_or_default();
        if !target.is_empty() && !target.contains("://") {
            found.push(target.to_owned());
        }
    }
    found
}

/// Test points of the schematic and of the bring-up sheet, both ways.
pub fn points(sheet: &str, netlist: &Netlist) -> Vec<String> {
    let is_point = |word: &str| {
        word.strip_prefix("TP")
            .is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
    };
    let rows = sheet.lines().filter(|line| line.starts_with('|')).flat_map(|line| {
        line.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| is_point(word))
    });
    let measured: BTreeSet<&str> = rows.collect();
    let drawn: BTreeSet<&str> =
        netlist.parts.keys().map(String::as_str).filter(|part| is_point(part)).collect();
    let only = |a: &BTreeSet<&str>, b: &BTreeSet<&str>, says: &str| {
        a.difference(b).map(|point| format!("{point} is {says}")).collect::<Vec<_>>()
    };
    let mut said = only(&measured, &drawn, "on the bring-up sheet, and not in the schematic");
    said.extend(only(&drawn, &measured, "in the schematic, and not on the bring-up sheet"));
    said
}

/// The eye's lead, wire by wire: `[{J3: [..]}, {W1: [..]}, {U6: [..]}]` joins the same nets as the
/// schematic. `harness` is the text of `harness/head.yml`.
pub fn eyes_lead(harness: &str, netlist: &Netlist) -> Vec<String> {
    let pads: BTreeMap<usize, &str> = {
        let labels = harness.lines().find(|line| line.trim_start().starts_with("U6:"));
        let labels = labels.and_then(|line| line.split_once("pinlabels: [")).map(|(_, rest)| rest);
        let labels = labels.and_then(|rest| rest.split(']').next()).unwrap_or_default();
        labels.split(',').map(str::trim).enumerate().map(|(n, pad)| (n + 1, pad)).collect()
    };
    let numbers = |line: &str, name: &str| -> Vec<usize> {
        let list = line.split_once(&format!("{{{name}: [")).map(|(_, rest)| rest);
        let list = list.and_then(|rest| rest.split(']').next()).unwrap_or_default();
        list.split(',').filter_map(|n| n.trim().parse().ok()).collect()
    };
    let Some(line) =
        harness.lines().find(|line| line.contains("{J3: [") && line.contains("{U6: ["))
    else {
        return vec!["the harness has no lead from J3 to U6".to_owned()];
    };
    let (plug, eye) = (numbers(line, "J3"), numbers(line, "U6"));
    if plug.len() != 6 || plug.len() != eye.len() {
        return vec!["the eye's lead has not six wires".to_owned()];
    }
    let mut said = Vec::new();
    for (from, to) in plug.iter().zip(&eye) {
        let pad = pads.get(to).copied().unwrap_or("nothing");
        let here = netlist.net_of("J3", &from.to_string());
        let there = netlist.net_of("U6", pad);
        if here.is_none() || here != there {
            said.push(format!("wire {from}: J3 has {here:?}, the eye's {pad} {there:?}"));
        }
    }
    said
}
