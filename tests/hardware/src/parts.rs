//! The parts list against schematic, printed parts and guide, both ways.

use crate::netlist::Netlist;
use std::collections::{BTreeMap, BTreeSet};

/// A row of `hardware/parts.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its name in guide and list.
    pub part: String,
    /// References in the schematic; none for what it does not show.
    pub refs: Vec<String>,
    /// How many.
    pub count: usize,
    /// Value in the schematic, or what it is.
    pub value: String,
    /// What it must be.
    pub must: String,
    /// Two families of different makers, or two ways to have it.
    pub alternates: (String, String),
    /// Price class: a (below 1), b (1 to 5), c (5 to 20), d (20 to 100), e (above 100), in euro each.
    pub price: char,
    /// Grams each.
    pub grams: f64,
    /// The pages of the guide that use it.
    pub pages: Vec<String>,
    /// `made`, `check`, `no longer made: ...`, `printed`, `stock`.
    pub status: String,
}

const HEAD: &str = "part;refs;count;value;must;alternate 1;alternate 2;price;grams;used in;status";

/// Reads the list: semicolons, one row a line.
///
/// # Errors
/// What cannot be read.
pub fn read(text: &str) -> Result<Vec<Row>, String> {
    let mut lines = text.lines();
    if lines.next() != Some(HEAD) {
        return Err(format!("its head is not `{HEAD}`"));
    }
    lines.map(row).collect()
}

fn row(line: &str) -> Result<Row, String> {
    let cells: Vec<&str> = line.split(';').map(str::trim).collect();
    let [part, refs, count, value, must, one, two, price, grams, pages, status] = cells[..] else {
        return Err(format!("{} cells, not 11: {line}", cells.len()));
    };
    let mut letters = price.chars();
    let (Some(price @ 'a'..='e'), None) = (letters.next(), letters.next()) else {
        return Err(format!("{part}: no price class"));
    };
    if [part, must, one, two, status].iter().any(|cell| cell.is_empty()) {
        return Err(format!("{part}: an empty cell"));
    }
    let words = |cell: &str| cell.split_whitespace().map(str::to_owned).collect();
    Ok(Row {
        part: part.to_owned(),
        refs: words(refs),
        count: count.parse().map_err(|_| format!("{part}: no count"))?,
        value: value.to_owned(),
        must: must.to_owned(),
        alternates: (one.to_owned(), two.to_owned()),
        price,
        grams: grams.parse().map_err(|_| format!("{part}: no weight"))?,
        pages: words(pages),
        status: status.to_owned(),
    })
}

/// Whether a reference is of something that is put in: test points are places on the perfboard.
fn is_part(reference: &str) -> bool {
    !reference.starts_with("TP")
}

/// List against schematic.
pub fn against_schematic(rows: &[Row], netlist: &Netlist) -> Vec<String> {
    let mut said = Vec::new();
    let mut listed: BTreeMap<&str, &Row> = BTreeMap::new();
    for row in rows {
        if !row.refs.is_empty() && row.refs.len() != row.count {
            said.push(format!("{}: {} references, count {}", row.part, row.refs.len(), row.count));
        }
        for reference in &row.refs {
            if listed.insert(reference, row).is_some() {
                said.push(format!("{reference} is listed twice"));
            }
            match netlist.parts.get(reference) {
                None => said.push(format!("{reference} is listed, and not in the schematic")),
                Some(part) if part.value != row.value => said.push(format!(
                    "{reference} is `{}` in the schematic, `{}` in the list",
                    part.value, row.value
                )),
                Some(_) => (),
            }
        }
    }
    let missing = netlist.parts.keys().filter(|reference| is_part(reference));
    for reference in missing.filter(|reference| !listed.contains_key(reference.as_str())) {
        said.push(format!("{reference} is in the schematic, and not listed"));
    }
    said
}

/// Names between backticks in the lists under `## Components` of a page of the guide.
pub fn components(page: &str) -> BTreeSet<String> {
    let mut inside = false;
    let mut found = BTreeSet::new();
    for line in page.lines() {
        if line.starts_with('#') {
            inside = line.trim_start_matches('#').trim() == "Components";
        } else if inside && line.starts_with('-') {
            found.extend(line.split('`').skip(1).step_by(2).map(str::to_owned));
        }
    }
    found
}

/// List against the guide's pages, by the first word of their file names.
pub fn against_guide(rows: &[Row], pages: &BTreeMap<String, String>) -> Vec<String> {
    let mut said = Vec::new();
    for (name, text) in pages {
        let used = components(text);
        for part in &used {
            let row = rows.iter().find(|row| row.part == *part);
            match row {
                None => said.push(format!("page {name} uses `{part}`, which is not listed")),
                Some(row) if !row.pages.contains(name) => {
                    said.push(format!("page {name} uses `{part}`: the list does not say so"));
                }
                Some(_) => (),
            }
        }
        for row in rows.iter().filter(|row| row.pages.contains(name) && !used.contains(&row.part)) {
            said.push(format!("`{}` is listed for page {name}, which does not use it", row.part));
        }
    }
    for row in rows {
        if row.pages.is_empty() {
            said.push(format!("`{}` is used nowhere", row.part));
        }
        for page in row.pages.iter().filter(|page| !pages.contains_key(*page)) {
            said.push(format!("`{}` is listed for page {page}, which is not there", row.part));
        }
        if row.status.starts_with("no longer made") && !row.status.contains("replaced by") {
            said.push(format!("`{}` is no longer made, and nothing replaces it", row.part));
        }
    }
    said
}

/// List against what is printed.
pub fn against_prints(rows: &[Row], printed: &[&str]) -> Vec<String> {
    let listed: BTreeSet<&str> =
        rows.iter().filter(|row| row.status == "printed").map(|row| row.part.as_str()).collect();
    let printed: BTreeSet<&str> = printed.iter().copied().collect();
    listed
        .symmetric_difference(&printed)
        .map(|part| format!("`{part}` is printed or listed, not both"))
        .collect()
}

/// Least and most that everything costs, euro, by price classes; and the weight, g.
pub fn totals(rows: &[Row]) -> (f64, f64, f64) {
    let class = |price| match price {
        'a' => (0.02, 1.0),
        'b' => (1.0, 5.0),
        'c' => (5.0, 20.0),
        'd' => (20.0, 100.0),
        _ => (100.0, 350.0),
    };
    rows.iter().fold((0.0, 0.0, 0.0), |(low, high, grams), row| {
        let (n, (a, b)) = (row.count as f64, class(row.price));
        (low + n * a, high + n * b, grams + n * row.grams)
    })
}
