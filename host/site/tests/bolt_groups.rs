//! Published bolt-group examples through the elastic in-plane method, and two published answers
//! that are wrong.
//!
//! Sources of the published column:
//! - B1: Shigley, Mechanical Engineering Design, Ex. 8-7 (statement read at askfilo.com; figures
//!   from memory, and reproduced by numpy and PyPI ezbolt 0.3.0).
//! - B2: Segui, Steel Design, P8.2-1 (solution page at bartleby.com).
//! - B3: examination item at interviewmania.com/discussion/96141.
//! - B4: R. Abbott, AA-SM-004, unequal areas (vdocuments.mx).
//! - B5: steelcalculator.app UK bolt-group example: names the relieved side as critical.

use std::collections::BTreeMap;

use skimgauge_site::fixings::group::{Anchor, Load, centroid_mm, in_plane};

struct Row {
    anchor: Anchor,
    load: Load,
    published: Option<f64>,
    computed: [f64; 3],
}

fn cases() -> BTreeMap<String, Vec<Row>> {
    let mut cases: BTreeMap<String, Vec<Row>> = BTreeMap::new();
    let text = include_str!("data/bolt_groups.csv");
    for line in text.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let field: Vec<&str> = line.split(',').collect();
        let at = |index: usize| field[index].parse::<f64>().unwrap();
        cases.entry(field[0].to_owned()).or_default().push(Row {
            anchor: Anchor { name: field[6].to_owned(), x_mm: at(7), y_mm: at(8), area: at(9) },
            load: Load { fx_n: at(3), fy_n: at(4), mz_n_mm: at(5), ..Load::default() },
            published: field[10].parse().ok(),
            computed: [at(11), at(12), at(13)],
        });
    }
    cases
}

fn shears(rows: &[Row]) -> Vec<[f64; 3]> {
    let anchors: Vec<Anchor> = rows.iter().map(|row| row.anchor.clone()).collect();
    in_plane(&anchors, rows[0].load)
        .into_iter()
        .map(|s| [s.fx_n, s.fy_n, s.resultant_n()])
        .collect()
}

#[test]
fn every_bolt_agrees_with_the_independent_computation() {
    let cases = cases();
    assert_eq!(cases.len(), 5);
    for (name, rows) in &cases {
        for (row, found) in rows.iter().zip(shears(rows)) {
            for (found, expected) in found.into_iter().zip(row.computed) {
                let scale = rows[0].load.fy_n.abs();
                assert!(
                    (found - expected).abs() < 2e-7 * scale,
                    "{name} bolt {}: {found} {expected}",
                    row.anchor.name
                );
            }
        }
    }
}

#[test]
fn published_resultants_are_reproduced() {
    let mut compared = 0;
    for (name, rows) in &cases() {
        for (row, found) in rows.iter().zip(shears(rows)) {
            if let Some(published) = row.published {
                // Published to three or four figures.
                assert!(
                    (found[2] / published - 1.0).abs() < 2.5e-3,
                    "{name} bolt {}",
                    row.anchor.name
                );
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 13);
}

/// B4: centroid (2.6, 2.4) as published.
#[test]
fn unequal_areas_move_the_centroid() {
    let anchors: Vec<Anchor> = cases()["B4"].iter().map(|row| row.anchor.clone()).collect();
    let (x, y) = centroid_mm(&anchors);
    assert!((x - 2.6).abs() < 0.05 && (y - 2.4).abs() < 0.05, "{x} {y}");
}

/// A page's solution of B1 shares 16 kN equally (4 kN each): the moment is left out.
#[test]
fn an_equal_split_is_not_the_answer() {
    assert!(shears(&cases()["B1"]).iter().all(|found| (found[2] - 4.0).abs() > 10.0));
}

/// B5: the page calls 70.1 kN critical; that is the relieved side, and the true maximum is 86.185
/// kN.
#[test]
fn the_critical_bolt_is_on_the_loaded_side() {
    let rows = &cases()["B5"];
    let found = shears(rows);
    let (worst, most) = found.iter().enumerate().max_by(|a, b| a.1[2].total_cmp(&b.1[2])).unwrap();
    assert!(rows[worst].anchor.x_mm > 0.0);
    assert!((most[2] - 86.185).abs() < 5e-4);
    assert!(most[2] > 70.1 * 1.2);
}
